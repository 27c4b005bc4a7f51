"""How moments, counts by size and ranges of a summary are written in its sections."""

from collections.abc import Callable, Mapping
from typing import TypeVar

from orroom.figures.wording import NO_DATA, Times, clock_time, decimal, grafts, moment
from orroom.summary.summary import Summary

T = TypeVar("T")


def clock(summary: Summary, at_ms: int | None) -> str:
    """Hours and minutes at the case's offset; of another day than the first with that day."""
    return clock_time(at_ms, summary_times(summary))


def summary_times(summary: Summary) -> Times:
    """How the times of the summary are written; without any work days count from the opening."""
    began = summary.opened if summary.start_of_work is None else summary.start_of_work
    return Times(summary.utc_offset_minutes, began)


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
