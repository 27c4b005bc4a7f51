"""Who it is: asked wherever an entry is by somebody else than the person who sits at the station."""

from __future__ import annotations

from collections.abc import Generator
from typing import Any

from orroom.case.plan import Plan
from orroom.case.terms import is_initials
from orroom.screens.asking import Choice, Option, Step, Words


def person(
    plan: Plan, ask: str, not_by: tuple[str, ...] = (), also: tuple[Option, ...] = ()
) -> Generator[Step, Any, str]:
    """Somebody of the plan's staff with one key or click, or initials typed; nobody of ``not_by``.

    Options that may be chosen ``also`` have texts that are no initials.
    """
    staff = [each.initials for each in plan.staff if each.initials not in not_by][:9]
    if staff or also:
        named = [Option(str(number), initials, initials) for number, initials in enumerate(staff, 1)]
        chosen: str = yield Choice(ask, (*named, Option("0", "somebody else", ""), *also))
        if chosen:
            return chosen
        ask = f"{ask} Initials:"
    return (yield from _typed(ask, not_by))


def _typed(ask: str, not_by: tuple[str, ...]) -> Generator[Step, Any, str]:
    first = ask
    while True:
        initials: str = yield Words(ask, capitals=True)
        if is_initials(initials) and initials not in not_by:
            return initials
        why = "has done so already" if initials in not_by else "are no initials"
        ask = f"{initials[:8]} {why}. {first}"
