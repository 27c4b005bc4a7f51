"""How the times of a case are written: with their day, where they are not on the day of the work."""

from orroom.case.events import CareGiven
from orroom.case.state import CaseState, once
from orroom.figures.wording import Times


@once
def case_times(state: CaseState) -> Times:
    """The offset of the case, and when its work began: its first harvest, or what else was entered first.

    The same day as ``start_of_work_ms``, but for a rescued tap that was made before all others: painting
    looks no further than the first work.
    """
    first = (
        entry.stamp.at_ms
        for entry in state.log
        if entry.event.does.hands_on and not isinstance(entry.event, CareGiven) and state.stands(entry)
    )
    kept = state.plan.kept if state.tally.plan else {}
    harvests = (each.started_at_ms for key, each in state.tally.harvests.items() if key not in kept)
    began = [at_ms for at_ms in (next(first, None), *harvests) if at_ms is not None]
    opened_ms = state.tally.opened_at_ms if kept else None  # so that grafts kept are of a day before
    return Times(state.tally.utc_offset_minutes, min(began, default=opened_ms))
