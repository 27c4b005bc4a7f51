"""What is told of how fast the works went, and, while the case is open, of when they will be finished."""

from __future__ import annotations

from orroom.case.state import CaseState
from orroom.case.terms import WORK_NAMES
from orroom.figures.finish import Outlook, outlook
from orroom.figures.yields import yields
from orroom.reports import figure_parts as part


def paced(state: CaseState) -> tuple[part.PaceSummary, ...]:
    """Each work of which anything was done, at the last entry."""
    told = _told(state)
    found = []
    for each in told.works:
        pace = each.pace
        if not pace.done:
            continue
        low, middle, high = each.finish if each.finish is not None and _open(state) else (None, None, None)
        found.append(
            part.PaceSummary(
                work=WORK_NAMES[each.work],
                done=pace.done,
                left=each.left,
                working_hours=pace.working_hours,
                person_hours=pace.hand_hours,
                per_hour=pace.over_case,
                per_person_hour=pace.per_hand,
                finish_low=low,
                finish=middle,
                finish_high=high,
            )
        )
    return tuple(found)


def paced_by_person(state: CaseState) -> tuple[part.PersonPace, ...]:
    """Everybody's own pace at each work whose entries are their own."""
    return tuple(
        part.PersonPace(
            who=person.who,
            work=WORK_NAMES[each.work],
            done=person.done,
            hours=person.hours,
            per_hour=person.per_hour,
        )
        for each in _told(state).works
        for person in each.pace.people
    )


def _told(state: CaseState) -> Outlook:
    return outlook(state, yields(state, 80), state.log[-1].stamp.at_ms)


def _open(state: CaseState) -> bool:
    return not state.tally.signed_off
