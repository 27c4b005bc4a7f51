"""The placers at work: whose lane it is, where they are, what they have with them and since when."""

from collections.abc import Mapping

from msgspec import Struct

from orroom.case.care import in_lane, since_by_lane_ms
from orroom.case.events import GraftsIssued, GraftsPlaced, LaneOpened
from orroom.case.placings import zone_of
from orroom.case.state import CaseState, once
from orroom.figures.counts import by_zone


class LaneNow(Struct, frozen=True):
    """An open lane: ``zone`` and ``size`` are the keys of those last entered for it, ``None`` before that.

    The zone is ``None`` too where grafts of another size were handed out since, which the plan has not there.
    ``held`` are the grafts in it by size; ``since_ms`` (UTC) is when the oldest of them began to dry.
    ``lane`` and ``by`` are ``None`` for grafts that are with the placers in none of the open lanes.
    """

    lane: str | None
    by: str | None
    zone: str | None
    size: str | None
    held: Mapping[str, int]
    since_ms: int | None

    @property
    def grafts(self) -> int:
        """How many grafts are in it."""
        return sum(self.held.values())


def held_in(state: CaseState, lane: str | None) -> dict[str, int]:
    """Grafts in a lane by size, or with the placers in none; none of what is below zero."""
    held: dict[str, int] = {}
    for (size, _), count in in_lane(state.tally, lane).items():
        held[size] = held.get(size, 0) + count
    return {size: count for size, count in held.items() if count > 0}


@once
def lanes_now(state: CaseState) -> tuple[LaneNow, ...]:
    """The open lanes in the order in which they were opened; last, if any, what is in no lane."""
    found = [_lane_now(state, lane) for lane in state.tally.lanes]
    loose = held_in(state, None)
    if found and loose:
        since = since_by_lane_ms(state.tally).get(None)
        found.append(LaneNow(lane=None, by=None, zone=None, size=None, held=loose, since_ms=since))
    return tuple(found)


def _lane_now(state: CaseState, lane: str) -> LaneNow:
    """A lane as it is now. Its zone and size are looked for back to where it was opened."""
    zone = size = None
    for entry in reversed(state.log):
        event = entry.event
        if not state.stands(entry) or getattr(event, "lane", None) != lane:
            continue
        if isinstance(event, GraftsPlaced | GraftsIssued):
            size = size or event.size
            if isinstance(event, GraftsPlaced):
                zone = zone_of(state, entry)
                break
        elif isinstance(event, LaneOpened):
            break
    if zone in state.plan.zone_by_key and size and not state.plan.planned(size, zone):
        zone = None
    since = since_by_lane_ms(state.tally).get(lane)
    by = state.tally.lanes[lane].by
    return LaneNow(lane=lane, by=by, zone=zone, size=size, held=held_in(state, lane), since_ms=since)


def not_needed(state: CaseState, lane: LaneNow) -> tuple[str, ...]:
    """Sizes in a lane of which its zone is owed none; without a zone, those of which no zone is."""
    zones = [each for each in by_zone(state) if lane.zone in {None, each.zone.key}]
    return tuple(size for size in lane.held if not any(each.owed.get(size) for each in zones))


def most_pressing(lanes: tuple[LaneNow, ...]) -> LaneNow | None:
    """The lane of which grafts have been out of solution for longest; ``None`` if no lane has any."""
    out = [each for each in lanes if each.since_ms is not None]
    return min(out, key=lambda each: each.since_ms or 0, default=None)
