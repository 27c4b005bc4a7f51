"""When a care round is due, by the plan and by what was given last."""

from __future__ import annotations

from typing import Literal

from orroom.case.plan import CareRound
from orroom.case.state import CareClock, Tally
from orroom.case.terms import PLACERS_CARE


def first_harvest_ms(tally: Tally) -> int | None:
    """When the first tissue left the body, UTC ms, or ``None``: before that nothing needs care."""
    return min(
        (clock.started_at_ms for clock in tally.harvests.values() if clock.started_at_ms), default=None
    )


def due_at_ms(tally: Tally, care: str) -> int | None:
    """When the round is due next, UTC ms: an interval after it was last given, or after the first harvest.

    A pause moves it to the pause's end if that is later. Grafts with the placers are due when the oldest of
    them has been there for the plan's limit. ``None`` before the first harvest, without grafts with the
    placers, and for a round that the plan in force does not have.
    """
    if care == PLACERS_CARE:
        since = with_placers_since_ms(tally)
        limit = tally.plan.limits.with_placers_seconds if tally.plan else 0
        return None if since is None else since + limit * 1000
    round_ = tally.plan.care_by_key.get(care) if tally.plan else None
    start = first_harvest_ms(tally)
    if round_ is None or start is None:
        return None
    clock = tally.care.get(care, CareClock())
    due = max(start, clock.given_at_ms or 0) + interval_ms(round_, clock.reading_c)
    return max(due, clock.paused_until_ms or 0)


def interval_ms(round_: CareRound, reading_c: float | None) -> int:
    """How long after its last reading a round is due again, ms: sooner after one outside the band.

    Only if the plan says how soon, and that is sooner than always.
    """
    minutes = round_.every_minutes
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
    """Since when the oldest graft that may still be with the placers dries, UTC ms; ``None`` without any.

    Which batch of its size a graft was taken from, nobody enters. So the first that came since the placers
    had none may still be there, and the time is never too short. Wetting those grafts starts it again.
    """
    wetted = tally.care.get(PLACERS_CARE, CareClock()).given_at_ms or 0
    there: dict[str, int] = {}
    for key, count in tally.stock.items():
        if key.account == "bench":
            there[key.size] = there.get(key.size, 0) + count
    there = {size: count for size, count in there.items() if count > 0}
    since: int | None = None
    for move in reversed(tally.placers_moves):  # back to when none of the size lay there
        if move.size in there:
            if move.grafts > 0:
                came_ms = max(move.at_ms, wetted)
                since = came_ms if since is None else min(since, came_ms)  # a rescued one comes late
            there[move.size] -= move.grafts
            if there[move.size] <= 0:
                del there[move.size]
        if not there:
            break
    return since
