"""When a care round is due, by the plan and by what was given last."""

from typing import Final, Literal

from orroom.case.plan import CareRound
from orroom.case.state import CareClock, Tally
from orroom.case.terms import PLACERS_CARE

DAY_MS: Final = 86_400_000
#: A time of day that had passed by no more than this when the case was opened is of that day: somebody was
#: late. An earlier one is of the next day: somebody opened the case the evening before.
OPENED_LATE_MS: Final = 3_600_000


def first_harvest_ms(tally: Tally) -> int | None:
    """When the first tissue left the body, UTC ms, or ``None``: before that nothing needs care.

    Care of grafts that were kept from an earlier case begins when this one is opened.
    """
    kept = tally.plan.kept if tally.plan else {}
    starts = [
        (tally.opened_at_ms or clock.started_at_ms) if harvest in kept else clock.started_at_ms
        for harvest, clock in tally.harvests.items()
        if clock.started_at_ms or harvest in kept
    ]
    return min((each for each in starts if each), default=None)


def due_at_ms(tally: Tally, care: str, lane: str | None = None) -> int | None:
    """When the round is due next, UTC ms: an interval after it was last given, or after ``starts_at_ms``.

    A pause moves it to the pause's end if that is later. Grafts with the placers are due when the oldest of
    them has been there for the plan's limit; with ``lane`` only its grafts count. ``None`` before the round
    starts, without grafts with the placers, for a reminder that comes once and was answered, and for a round
    that the plan in force does not have.
    """
    if care == PLACERS_CARE:
        since = since_by_lane_ms(tally).get(lane) if lane else with_placers_since_ms(tally)
        limit = tally.plan.limits.with_placers_seconds if tally.plan else 0
        return None if since is None else since + limit * 1000
    round_ = tally.plan.care_by_key.get(care) if tally.plan else None
    start = None if round_ is None else starts_at_ms(tally, round_)
    if round_ is None or start is None:
        return None
    clock = tally.care.get(care, CareClock())
    if round_.once and clock.given_at_ms is not None:
        return None
    due = max(start, clock.given_at_ms or 0) + interval_ms(round_, clock.reading_c)
    return max(due, clock.paused_until_ms or 0)


def starts_at_ms(tally: Tally, round_: CareRound) -> int | None:
    """From when a round's interval counts while it was not given, UTC ms: the first harvest or the opening.

    Of a reminder at a time of day, an interval before that time, on the clock of the case. ``None`` before
    the first harvest if it counts from there, and before the case is opened.
    """
    if round_.starts == "opening":
        return tally.opened_at_ms
    if round_.at is None:
        return first_harvest_ms(tally)
    if tally.opened_at_ms is None:
        return None
    hour, minute = map(int, round_.at.split(":"))
    offset_ms = tally.utc_offset_minutes * 60_000
    earliest_ms = tally.opened_at_ms - OPENED_LATE_MS
    of_day_ms = (hour * 60 + minute) * 60_000 - offset_ms
    first_ms = earliest_ms + (of_day_ms - earliest_ms) % DAY_MS
    return first_ms - interval_ms(round_, None)


def interval_ms(round_: CareRound, reading_c: float | None) -> int:
    """How long after its last reading a round is due again, ms: sooner outside the band, if planned so.

    0 for a reminder without an interval.
    """
    minutes = round_.every_minutes or 0
    outside = reading_c is not None and against_band(reading_c, round_.low_c, round_.high_c) != "in"
    if outside and round_.outside_minutes is not None:
        minutes = min(minutes, round_.outside_minutes)
    return round(minutes * 60_000)


def against_band(
    reading_c: float, low_c: float | None, high_c: float | None
) -> Literal["below", "in", "above"]:
    """A reading against its band in °C, both ends included."""
    if low_c is not None and reading_c < low_c:
        return "below"
    if high_c is not None and reading_c > high_c:
        return "above"
    return "in"


def with_placers_since_ms(tally: Tally) -> int | None:
    """Since when the oldest graft that may still be with the placers dries, UTC ms; ``None`` without any."""
    return min(since_by_lane_ms(tally).values(), default=None)


def since_by_lane_ms(tally: Tally) -> dict[str | None, int]:
    """By lane with grafts in it, since when the oldest that may still be there dries, UTC ms.

    ``None`` is the lane of grafts that were handed out without one. Which batch of its size a graft was taken
    from, nobody enters. So the first that came since the lane had none may still be there, and the time is
    never too short. Wetting a lane's grafts, or all that are with the placers, starts it again.
    """
    all_wetted_ms = tally.care.get(PLACERS_CARE, CareClock()).given_at_ms or 0
    there: dict[tuple[str | None, str], int] = {}
    for move in tally.placers_moves:
        there[move.lane, move.size] = there.get((move.lane, move.size), 0) + move.grafts
    there = {which: count for which, count in there.items() if count > 0}
    since: dict[str | None, int] = {}
    for move in reversed(tally.placers_moves):  # back to when none of the size lay there
        which = move.lane, move.size
        if which in there:
            if move.grafts > 0:
                lane = tally.lanes.get(move.lane) if move.lane else None
                came_ms = max(move.at_ms, all_wetted_ms, lane.wetted_at_ms if lane else 0)
                since[move.lane] = min(since.get(move.lane, came_ms), came_ms)  # a rescued one comes late
            there[which] -= move.grafts
            if there[which] <= 0:
                del there[which]
        if not there:
            break
    return since


def in_lane(tally: Tally, lane: str | None) -> dict[tuple[str, str], int]:
    """Grafts in a lane by size and harvest, or with the placers in none of them; empty ones left out."""
    found: dict[tuple[str, str], int] = {}
    for move in tally.placers_moves:
        if move.lane == lane:
            which = move.size, move.harvest
            found[which] = found.get(which, 0) + move.grafts
    return {which: count for which, count in found.items() if count}
