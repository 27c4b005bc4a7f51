"""What a reader must know first: about the record and its clock."""

from typing import Final

from orroom.case.events import StationJoined
from orroom.case.state import CaseState
from orroom.case.terms import CAUTIONS
from orroom.figures.wording import hours

#: A clock that is behind by less harms no figure. Common practice, no source.
MOST_BEHIND_MS: Final = 60_000


def cautions(state: CaseState, not_intact: str | None) -> tuple[str, ...]:
    """All of them: of the record first, then the product's own and those of the plan."""
    return (*warnings(not_intact), *clock_warnings(state), *CAUTIONS, *state.plan.cautions)


def warnings(not_intact: str | None) -> tuple[str, ...]:
    """The caution before all others where the record is not intact."""
    return () if not_intact is None else (f"THE RECORD IS NOT INTACT. {not_intact}",)


def clock_warnings(state: CaseState) -> tuple[str, ...]:
    """A caution for each time that the clock was behind what had been entered already.

    So it may be after a new start of the machine: the case's time then goes on from the last entry, or where
    time is not steady, falls back: a station joins earlier. A rescued tap keeps its earlier time too, but is
    not a reason: it joins nothing.
    """
    found = [
        f"THE CLOCK WAS BEHIND after a restart of the machine (entry {step.seq:,}): time continued from the "
        "last entry, and durations over that gap are too short by the off time."
        for step in state.tally.clock_steps
        if step.at_start
    ]
    latest_ms = state.log[0].stamp.at_ms
    for entry in state.log:
        behind_ms = latest_ms - entry.stamp.at_ms
        if isinstance(entry.event, StationJoined) and behind_ms >= MOST_BEHIND_MS:
            found.append(
                f"THE CLOCK WAS BEHIND. {entry.stamp.station} joined (entry {entry.seq:,}) "
                f"{hours(behind_ms)} before the last entry: durations over that gap are wrong."
            )
        latest_ms = max(latest_ms, entry.stamp.at_ms)
    return tuple(found)
