"""How numbers, times and shares are written, the same on every screen and in every report."""

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta, timezone
from typing import TypeVar

from msgspec import Struct

from orroom.case.care import DAY_MS

NO_DATA = "—"
#: The mark of what does not fit the rest of the record.
MISMATCH = "≠"
#: The mark of a broken limit, and of nothing else.
BROKEN = "◇"
T = TypeVar("T")


class Times(Struct, frozen=True):
    """How the times of one case are written: their offset from UTC, and when its work began (UTC ms).

    That day is day 1; while there is no work yet, no time has a day.
    """

    offset_minutes: int = 0
    work_began_ms: int | None = None


def moment(at_ms: int, offset_minutes: int) -> datetime:
    """UTC milliseconds as a date and time at the case's offset."""
    return datetime.fromtimestamp(at_ms / 1000, tz=timezone(timedelta(minutes=offset_minutes)))


def day(at_ms: int | None, offset_minutes: int) -> str:
    """The day at the case's offset: ``2026-03-05``."""
    return NO_DATA if at_ms is None else f"{moment(at_ms, offset_minutes):%Y-%m-%d}"


def which_day(at_ms: int, times: Times) -> str:
    """The day of a time that is not on the day on which the work began, with a space: ``day 2 ``.

    No date: it is left out where a case is passed on without dates.
    """
    if times.work_began_ms is None:
        return ""
    offset_ms = times.offset_minutes * 60_000
    days = (at_ms + offset_ms) // DAY_MS - (times.work_began_ms + offset_ms) // DAY_MS
    if days < 0:
        return "day before " if days == -1 else f"{-days} days before "
    return f"day {days + 1} " if days else ""


def clock_time(at_ms: int | None, times: Times) -> str:
    """Hours and minutes, of another day than the first with that day: ``10:42``, ``day 2 06:35``."""
    if at_ms is None:
        return NO_DATA
    return f"{which_day(at_ms, times)}{moment(at_ms, times.offset_minutes):%H:%M}"


def clock_time_with_seconds(at_ms: int, times: Times) -> str:
    """The same with seconds: ``10:42:07``, ``day 2 06:35:12``."""
    return f"{which_day(at_ms, times)}{moment(at_ms, times.offset_minutes):%H:%M:%S}"


def hours_minutes(milliseconds: int | None) -> str:
    """A duration in hours and minutes: ``1:42``; from a day on ``26 h 10``; below zero with a minus sign."""
    if milliseconds is None:
        return NO_DATA
    if abs(milliseconds) >= DAY_MS:
        return hours(milliseconds)
    minutes = abs(milliseconds) // 60_000
    return f"{'−' if milliseconds < 0 else ''}{minutes // 60}:{minutes % 60:02d}"


def hours(milliseconds: int) -> str:
    """A duration in hours and minutes that cannot be read as a clock time: ``2 h 54``, ``0 h 09``."""
    minutes = abs(milliseconds) // 60_000
    return f"{'−' if milliseconds < 0 else ''}{minutes // 60} h {minutes % 60:02d}"


def how_long(milliseconds: int | None) -> str:
    """A duration in words: ``54 min``, from an hour on ``2 h 54``."""
    if milliseconds is None:
        return NO_DATA
    if abs(milliseconds) >= 3_600_000:
        return hours(milliseconds)
    return f"{'−' if milliseconds < 0 else ''}{abs(milliseconds) // 60_000} min"


def minutes_seconds(milliseconds: int) -> str:
    """A short duration to the second: ``45 s``, ``4 min 10 s``; from an hour on ``1 h 04``."""
    minutes, seconds = divmod(abs(milliseconds) // 1000, 60)
    if minutes >= 60:
        return hours(abs(milliseconds))
    return f"{minutes} min {seconds:02d} s" if minutes else f"{seconds} s"


def ago(milliseconds: int) -> str:
    """A duration in one unit: ``45 s``, from a minute on ``4 min``, from an hour on ``1 h 04``."""
    return minutes_seconds(milliseconds) if abs(milliseconds) < 60_000 else how_long(milliseconds)


def when_due(late_ms: int, *, seconds: bool = False) -> str:
    """How far off something due is: ``in 13 min``, ``9 min late``.

    Minutes to go are rounded up and minutes late down, so that the two meet at 0. Below a minute seconds are
    shown, with ``seconds`` below ten: ``in 1 min 20 s``.
    """
    left = -late_ms
    if abs(late_ms) < (600_000 if seconds else 60_000):
        said = minutes_seconds(late_ms if left <= 0 else -(-left // 1000) * 1000)
    else:
        said = how_long(late_ms if left <= 0 else -(-left // 60_000) * 60_000)
    return f"in {said}" if left > 0 else f"{said} late"


def late(milliseconds: int | None) -> str:
    """How late something was: ``6 min 11 s``, from an hour on ``2 h 54``; a dash where nothing was due."""
    if milliseconds is None:
        return NO_DATA
    if milliseconds >= 3_600_000:
        return hours(milliseconds)
    minutes, seconds = divmod(milliseconds // 1000, 60)
    return f"{minutes} min {seconds:02d} s"


def grafts(count: int | None) -> str:
    """A count with thousands marked: ``2,400``."""
    return NO_DATA if count is None else f"{count:,}".replace("-", "−")


def marked(count: int, short: int = 0) -> str:
    """A count, with the mismatch's mark where it, or one it is the sum of, is below zero: ``−4 ≠``.

    ``short`` is by how many grafts counts in it are below zero.
    """
    return f"{grafts(count)} {MISMATCH}" if count < 0 or short else grafts(count)


def decimal(value: float | None, places: int = 1) -> str:
    """A figure with fixed places: ``38.0``."""
    return NO_DATA if value is None else f"{value:,.{places}f}".replace("-", "−")


def percent(share: float | None, places: int = 0) -> str:
    """A share as a percentage: ``92 %``. Less than all is never ``100 %``, more than none never ``0 %``."""
    if share is None:
        return NO_DATA
    exact, step = round(share, 9), 10.0**-places  # a sum of shares may miss 1 by its last digits
    text = f"{share * 100:.{places}f}"
    if exact < 1 and float(text) == 100:
        return f"> {100 - step:.{places}f} %"
    if exact > 0 and float(text) == 0:
        return f"< {step:.{places}f} %"
    return f"{text} %".replace("-", "−")


def over_plan(count: int) -> str:
    """What is over plan, named after what is placed or cut: ``, 2 over plan``; nothing where nothing is."""
    return f", {grafts(count)} over plan" if count else ""


def harvests_listed(harvests: Sequence[str]) -> str:
    """Harvests by name: ``harvest A``, ``harvests A, B``."""
    return f"harvest{'s' * (len(harvests) > 1)} {', '.join(harvests)}"


def segments_done(done: int, of: int | None) -> str:
    """How far a strip is cut, the same everywhere: ``17 of 26 segments done``."""
    return f"{several(done, 'segment')} done" if of is None else f"{done} of {several(of, 'segment')} done"


def several(count: float, one: str, more: str | None = None) -> str:
    """A count with its noun: ``1 graft``, ``2 grafts``."""
    return f"{count:,} {one if count == 1 else more or one + 's'}"


def between(said: Callable[[T | None], str], low: T | None, high: T | None) -> str:
    """Both ends, or one where they are said alike, or from which on."""
    if high is None:
        return NO_DATA if low is None else f"from {said(low)}"
    return said(low) if said(low) == said(high) else f"{said(low)}–{said(high)}"
