"""When a care round is due, by the plan and by what was given last."""

from __future__ import annotations

from orroom.case.state import CareClock, Tally


def first_harvest_ms(tally: Tally) -> int | None:
    """When the first tissue left the body, UTC ms, or ``None``: before that nothing needs care."""
    return min((clock.started_at_ms for clock in tally.lots.values() if clock.started_at_ms), default=None)


def due_at_ms(tally: Tally, care: str) -> int | None:
    """When the round is due next, UTC ms: an interval after it was last given, or after the first harvest.

    A pause moves it to the pause's end if that is later. ``None`` before the first harvest and for a round
    that the plan in force does not have.
    """
    round_ = tally.plan.care_by_key.get(care) if tally.plan else None
    start = first_harvest_ms(tally)
    if round_ is None or start is None:
        return None
    clock = tally.care.get(care, CareClock())
    due = max(start, clock.given_at_ms or 0) + round(round_.every_minutes * 60_000)
    return max(due, clock.paused_until_ms or 0)
