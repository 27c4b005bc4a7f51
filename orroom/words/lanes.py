"""A lane in words, the same on every screen: what is in the hands first, then where it goes."""

from collections.abc import Sequence
from typing import Final

from orroom.case.state import CaseState
from orroom.case.terms import lane_name
from orroom.figures.case_times import case_times
from orroom.figures.lanes import LaneNow, not_needed
from orroom.figures.next_zone import NAMES, sized
from orroom.figures.wording import clock_time_with_seconds, several

#: That its zone does not need what is in the hands, or no zone does, in the fewest words. Wetting they need.
WRONG_ZONE: Final = "wrong zone"
NONE_OWED: Final = "none owed"


def held_words(lane: LaneNow) -> tuple[str, ...]:
    """What is in the hands: ``23 threes``, ``10 twos + 3 ones``; then in fewer words."""
    if not lane.held:
        return ("empty",)
    most_first = sorted(lane.held.items(), key=lambda each: -each[1])
    return " + ".join(sized(count, size) for size, count in most_first), several(lane.grafts, "graft")


def sizes_words(sizes: Sequence[str]) -> str:
    """``twos``, ``twos or ones``."""
    return " or ".join(NAMES[size][1] for size in sizes)


def where_words(state: CaseState, lane: LaneNow, zone: str) -> tuple[str, ...]:
    """Where what it holds goes, or that it is not needed there, in words and in fewer of them.

    ``zone`` is what its zone is called, empty where none is known.
    """
    if sizes := not_needed(state, lane):
        what = sizes_words(sizes)
        if not zone:
            return f"no zone needs {what}", NONE_OWED
        return f"{zone} needs no {what}", f"not for {zone}", WRONG_ZONE
    if zone and not lane.held and lane.size in NAMES:
        return f"{zone}, {NAMES[lane.size][1]}", zone
    return (zone,) if zone else ()


def lane_said(state: CaseState, lane: LaneNow, *, still: bool = False, brief: bool = False) -> str:
    """A lane in a sentence: whose, what is in the hands since when, where; ``brief`` without since when.

    ``still`` says that it goes on as the lane of somebody who leaves.
    """
    plan, times = state.plan, case_times(state)
    whose = f"still {lane.by}'s" if still else lane.by
    name = "in no lane" if lane.lane is None else f"{lane_name(lane.lane)}, {whose}"
    zone = plan.zone_by_key[lane.zone].label if lane.zone and lane.zone in plan.zone_by_key else ""
    where = where_words(state, lane, zone)[:1]
    if brief:
        held = held_words(lane)[0] if lane.held else "0"
        return ", ".join([f"{name.removeprefix('lane ')}: {held}", *where])
    since = "" if lane.since_ms is None else f" since {clock_time_with_seconds(lane.since_ms, times)}"
    return ", ".join([f"{name}: {held_words(lane)[0]}{since}", *where])
