"""Rules about lanes: the placers at work, each with the grafts in their hands."""

import re

from orroom.case.care import in_lane
from orroom.case.events import Event, LaneClosed, LaneHandedOver, LaneOpened, Stamp
from orroom.case.state import CaseState
from orroom.case.terms import LANE_KEY, LANE_LETTERS, lane_name
from orroom.case.traits import Trait, held

MOST_LANES = len(LANE_LETTERS)


def refuse_unknown_lane(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """A lane is a letter, and open before anything is entered for it."""
    for lane in held(event, Trait.LANE):
        if not re.fullmatch(LANE_KEY, lane):
            return f"Use one small letter for a lane, not {lane!r}."
        if not isinstance(event, LaneOpened) and lane not in state.tally.lanes:
            known = ", ".join(sorted(state.tally.lanes)) or "none"
            return f"Lane {lane} is not open; open are: {known}."
    return None


def refuse_lane_that_is_open(state: CaseState, event: LaneOpened, stamp: Stamp) -> str | None:
    """A lane is opened once, for somebody who has none, and there are at most six."""
    lanes = state.tally.lanes
    if event.lane in lanes:
        return f"Lane {event.lane} is {lanes[event.lane].by}'s; hand it over, or close it first."
    if len(lanes) >= MOST_LANES:
        return f"{MOST_LANES} lanes are open; close one first."
    return _has_one(state, event.by)


def refuse_handing_over_to_a_placer(state: CaseState, event: LaneHandedOver, stamp: Stamp) -> str | None:
    """A lane is handed over to somebody who has none."""
    return _has_one(state, event.by)


def refuse_closing_a_lane_with_grafts(state: CaseState, event: LaneClosed, stamp: Stamp) -> str | None:
    """A lane is closed when it is empty."""
    waiting = sum(count for count in in_lane(state.tally, event.lane).values() if count > 0)
    if not waiting:
        return None
    grafts = "1 graft is" if waiting == 1 else f"{waiting:,} grafts are"
    return f"{grafts} in {lane_name(event.lane)}: place or return them, or hand the lane over."


def _has_one(state: CaseState, who: str) -> str | None:
    for key, lane in state.tally.lanes.items():
        if lane.by == who:
            return f"{who} has {lane_name(key)} already."
    return None
