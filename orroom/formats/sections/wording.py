"""How moments, counts by size and ranges of a summary are written in its sections."""

from collections.abc import Mapping

from orroom.figures.wording import (
    NO_DATA,
    Times,
    between,
    clock_time,
    decimal,
    grafts,
    hours_minutes,
    moment,
    percent,
)
from orroom.summary.out_of_body import OutOfBodySummary, TimesOut
from orroom.summary.summary import Summary


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


def half_out(times: TimesOut | OutOfBodySummary | None) -> str:
    """By which time out of the body half is placed."""
    return between(hours_minutes, times.median_low_ms, times.median_high_ms) if times else NO_DATA


def longest_out(times: TimesOut | OutOfBodySummary | None) -> str:
    """The longest time out of the body of a placed graft."""
    if times is None:
        return NO_DATA
    return between(hours_minutes, times.longest_placed_low_ms, times.longest_placed_high_ms)


def beyond_limit(times: TimesOut | OutOfBodySummary | None) -> str:
    """The share out of the body beyond the surgeon's limit."""
    return between(percent, times.over_limit_low, times.over_limit_high) if times else NO_DATA


def hairs(number: float) -> str:
    """Hairs, with a place after the point only where there is something to say."""
    return decimal(number, 0 if number.is_integer() else 1)


def whole(value: float | None) -> str:
    """A figure without places after the point."""
    return decimal(value, 0)


def graft_minutes(low: float | None, high: float | None) -> str:
    """Minutes of all grafts together."""
    return f"{between(decimal, low, high)} graft-minutes"
