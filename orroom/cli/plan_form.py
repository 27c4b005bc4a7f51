"""Verbs that open the form for a plan."""

from __future__ import annotations

import sys
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

import click

from orroom.cli.common import PATH, record, state_of
from orroom.errors import OrroomError

if TYPE_CHECKING:
    from orroom.case.plan import Plan
    from orroom.case.state import CaseState
    from orroom.screens.plan_form.screen import Outcome


@click.command()
@click.argument("plan", type=PATH, required=False)
def plan(plan: Path | None) -> None:
    """Write or change a PLAN in a form.

    PLAN is a plan file, a new one, a draft, or an earlier case whose plan is copied (it is only read).
    """
    from orroom.screens.plan_form.screen import filled_in
    from orroom.screens.stations.sitting import paint_at_once

    paint_at_once()
    outcome = filled_in(plan)
    tell_draft(outcome)
    if outcome.file is not None:
        lost = "" if outcome.comments_kept else " Its comments could not be kept."
        click.echo(f"{outcome.file}: the plan is saved.{lost}\nNext: orroom new {outcome.file} --who AB")


def tell_draft(outcome: Outcome) -> None:
    """Say where a draft is; end with the exit code of a form that was ended."""
    if outcome.draft is not None:
        found = f"{outcome.draft}: draft saved.\nContinue it: orroom plan {outcome.draft}"
        with suppress(OSError):  # the terminal may be what has gone
            click.echo(found, err=True)
    if outcome.code:
        sys.exit(outcome.code)


def revised_in_form(case: Path, who: str, reason: str | None = None) -> str:
    """Change the plan of a CASE in the form and record it; answers in a sentence what came of it.

    Without ``reason`` the form's own is recorded. What cannot be recorded after all is kept as a draft.
    Raises ``OrroomError`` if the case cannot be read, is signed off, or has another plan by then.
    """
    from orroom.case.commands import RevisePlan
    from orroom.files.plan_draft import draft_of
    from orroom.files.plan_saving import PlanFile
    from orroom.record.earlier import kept_as_taken
    from orroom.record.opening import find
    from orroom.screens.plan_form.screen import changed_in
    from orroom.screens.stations.sitting import paint_at_once

    paint_at_once()
    state, folder = state_of(case), find(case).parent
    if state.tally.signed_off:
        raise OrroomError(f"{case} is signed off.", "Reopen it with a reason first: orroom reopen CASE …")

    def whole(plan: Plan) -> Plan:
        return kept_as_taken(plan, state.plan)

    outcome = changed_in(state.plan, folder, lambda plan: refused(state, whole(plan), who))
    if outcome.code:
        tell_draft(outcome)
    if outcome.plan is None:
        kept = f" Draft saved: {outcome.draft}" if outcome.draft is not None else ""
        return f"{case}: the plan stays as it is.{kept}"
    try:
        if state_of(case).plan != state.plan:
            raise OrroomError(
                f"The plan of {case} has been changed by someone else.", "Look at it, then change that one."
            )
        record(case, RevisePlan(plan=whole(outcome.plan), reason=reason or outcome.reason), who)
    except OrroomError as problem:
        draft = PlanFile(folder).keep_draft(draft_of(outcome.plan))
        problem.hint = f"{problem.hint} What you typed is saved: {draft}".strip()
        raise
    return f"{case}: plan revised by {who}, {outcome.plan.planned():,} grafts planned."


def refused(state: CaseState, plan: Plan, who: str) -> str | None:
    """Why the record would not take a plan, such as that it forgets what is placed; ``None`` if it would."""
    from orroom.case.commands import RevisePlan
    from orroom.case.decide import decide
    from orroom.case.events import Stamp
    from orroom.case.rules import Refusal

    asked = Stamp(at_ms=state.log[-1].stamp.at_ms, station="desk", tap=len(state.log) + 1, who=who)
    answer = decide(state, RevisePlan(plan=plan, reason="not given yet"), asked)
    return str(answer) if isinstance(answer, Refusal) else None
