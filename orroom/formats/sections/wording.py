"""How moments, counts by size and ranges of a summary are written in its sections."""

from collections.abc import Callable, Mapping
from typing import Final, TypeVar

from orroom.figures.wording import NO_DATA, clock_time, decimal, grafts, moment
from orroom.summary.summary import Summary

DAY_MS: Final = 86_400_000
T = TypeVar("T")


def clock(summary: Summary, at_ms: int | None) -> str:
    """Hours and minutes at the case's offset; the date too from a day after the opening on."""
    if at_ms is not None and abs(at_ms - summary.opened) >= DAY_MS:
        return date(summary, at_ms)
    return clock_time(at_ms, summary.utc_offset_minutes)


def date(summary: Summary, at_ms: int) -> str:
    """Date, hours and minutes at the case's offset."""
    return f"{moment(at_ms, summary.utc_offset_minutes):%Y-%m-%d %H:%M}"


def by_size(summary: Summary, counts: Mapping[str, int]) -> list[str]:
    """A cell for each size, a dash for none, then all of them."""
    cells = [grafts(counts[each.size]) if counts.get(each.size) else NO_DATA for each in summary.sizes]
    return [*cells, grafts(sum(counts.values()))]


def between(said: Callable[[T | None], str], low: T | None, high: T | None) -> str:
    """Both ends, or one where they are said alike, or from which on."""
    if high is None:
        return NO_DATA if low is None else f"from {said(low)}"
    return said(low) if said(low) == said(high) else f"{said(low)}–{said(high)}"


def hairs(number: float) -> str:
    """Hairs, with a place after the point only where there is something to say."""
    return decimal(number, 0 if number.is_integer() else 1)


def whole(value: float | None) -> str:
    """A figure without places after the point."""
    return decimal(value, 0)
