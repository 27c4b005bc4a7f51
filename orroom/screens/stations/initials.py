"""Who it is: asked wherever an entry is by somebody else than the person who sits at the station."""

from collections.abc import Generator
from typing import Any, Final

from orroom.case.events import HandedOver
from orroom.case.state import CaseState
from orroom.case.terms import StaffRole, is_initials
from orroom.screens.terminal.asking import Choice, Option, Step, Words

#: Each has a digit; 0 is for somebody else.
OFFERED: Final = 9


def person(
    state: CaseState,
    ask: str,
    not_by: tuple[str, ...] = (),
    also: tuple[Option, ...] = (),
    *,
    role: StaffRole | None = None,
    why_not: str = "has already counted",
) -> Generator[Step, Any, str]:
    """Somebody at the case with one key or click, or initials typed; nobody of ``not_by``, and ``why_not``.

    Options that may be chosen ``also`` have texts that are not initials. With a ``role`` only the plan's
    staff of that role is offered.
    """
    if role is None:
        people = _at_the_case(state, not_by)
    else:
        staff = [each.initials for each in state.plan.staff if each.role == role]
        people = [who for who in staff if who not in not_by][:OFFERED]
    if people or also:
        named = [Option(str(number), initials, initials) for number, initials in enumerate(people, 1)]
        chosen: str = yield Choice(ask, (*named, Option("0", "somebody else", ""), *also))
        if chosen:
            return chosen
        ask = f"{ask} Initials:"
    return (yield from _typed(ask, not_by, why_not))


def _at_the_case(state: CaseState, not_by: tuple[str, ...]) -> list[str]:
    """As many as have a digit: the plan's staff, and who took a station over that is not among them."""
    staff = [each.initials for each in state.plan.staff]
    came = dict.fromkeys(each.stamp.who for each in state.standing() if isinstance(each.event, HandedOver))
    others = [who for who in came if who not in (*staff, *not_by)][-OFFERED:]
    return [*[who for who in staff if who not in not_by][: OFFERED - len(others)], *others]


def _typed(ask: str, not_by: tuple[str, ...], why_not: str) -> Generator[Step, Any, str]:
    first = ask
    while True:
        initials: str = yield Words(ask, capitals=True)
        if is_initials(initials) and initials not in not_by:
            return initials
        why = why_not if initials in not_by else "are not initials"
        ask = f"{initials[:8]} {why}. {first}"
