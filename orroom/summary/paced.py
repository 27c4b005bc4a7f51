"""What is told of how fast the works went, and, while the work goes on, of when they will be finished."""

from __future__ import annotations

from orroom.case.state import CaseState
from orroom.case.terms import WORK_NAMES, WORKS
from orroom.figures.pace.finish import outlook
from orroom.figures.pace.rates import pace
from orroom.figures.pace.work import end_of_work_ms, work_done, work_goes_on
from orroom.figures.yields import yields
from orroom.summary import figure_parts as part


def paced(state: CaseState) -> tuple[part.PaceSummary, ...]:
    """Each work of which anything was done, at the end of the work."""
    told, goes_on = outlook(state, yields(state, 80), end_of_work_ms(state)), work_goes_on(state)
    found = []
    for each in told.works:
        done = each.pace
        if not done.done:
            continue
        low, middle, high = each.finish if each.finish is not None and goes_on else (None, None, None)
        found.append(
            part.PaceSummary(
                work=WORK_NAMES[each.work],
                done=done.done,
                left=each.left,
                as_it_went=done.over_case is not None,
                working_hours=done.working_hours,
                person_hours=done.hand_hours,
                per_hour=done.over_case,
                per_person_hour=done.per_hand,
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
            work=WORK_NAMES[work],
            done=person.done,
            hours=person.hours,
            per_hour=person.per_hour,
        )
        for work in WORKS
        for person in pace(work_done(state, work, end_of_work_ms(state))).people
    )
