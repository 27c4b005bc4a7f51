"""The only reader of the wall clock: what time it is for a case, in UTC milliseconds."""

import time
from contextlib import suppress
from pathlib import Path
from typing import Protocol

from msgspec import Struct


class Clock(Protocol):
    """Knows the case's time and the local offset it is shown in."""

    def now_ms(self) -> int:
        """UTC milliseconds since 1970."""
        ...


class WallClock:
    """The machine's own time."""

    def now_ms(self) -> int:
        """UTC milliseconds since 1970."""
        return time.time_ns() // 1_000_000


class SteadyClock(Struct, frozen=True):
    """Case time that goes on evenly, whatever is done to the machine's clock.

    Counted from one moment of this start of the machine (``boot_id``), when the machine's clock said
    ``wall_ms`` and the time since its start was ``boot_ms``. All stations of a case share that moment.

    A machine may come back from a power cut with its clock in the past. The case's time then goes on from its
    last entry, and ``behind_ms`` says how far behind it the machine's clock was.
    """

    boot_id: str
    boot_ms: int
    wall_ms: int
    behind_ms: int = 0

    def now_ms(self) -> int:
        """UTC milliseconds since 1970, by the machine's clock as it was at the shared moment."""
        return self.wall_ms + _boot_ms() - self.boot_ms

    def stepped_ms(self) -> int:
        """By how much the machine's clock has been set since the shared moment, ms."""
        return WallClock().now_ms() - self.now_ms()


def steady_clock(after_ms: int = 0) -> SteadyClock | None:
    """A steady clock from this moment on, which is later than ``after_ms`` (UTC).

    ``None`` where the machine cannot count through a suspend.
    """
    boot_id, wall_ms = this_boot(), WallClock().now_ms()
    begun_ms = max(wall_ms, after_ms + 1)
    return None if boot_id is None else SteadyClock(boot_id, _boot_ms(), begun_ms, begun_ms - wall_ms)


def this_boot() -> str | None:
    """The name of this start of the machine, different for each, or ``None`` where nothing does."""
    if not hasattr(time, "CLOCK_BOOTTIME"):
        return None
    with suppress(OSError):
        return Path("/proc/sys/kernel/random/boot_id").read_text("ascii").strip()
    return None


def _boot_ms() -> int:
    """Milliseconds since the machine started; unlike a monotonic clock this counts while it is suspended."""
    return time.clock_gettime_ns(time.CLOCK_BOOTTIME) // 1_000_000


#: A fast clock goes no further than this.
LONGEST_DAY_MS = 24 * 3_600_000


class FastClock(Struct, frozen=True):
    """Case time that runs ``speed`` times as fast as the wall clock, for the demo and practice.

    It stands still after a day, so that a demo that is opened next week is not in the next century.
    ``case_origin_ms`` is the case's time at the wall time ``real_origin_ms``; both in UTC milliseconds.
    """

    real_origin_ms: int
    case_origin_ms: int
    speed: float

    def now_ms(self) -> int:
        """UTC milliseconds since 1970, in the case's own faster time."""
        gone_ms = round((WallClock().now_ms() - self.real_origin_ms) * self.speed)
        return self.case_origin_ms + min(gone_ms, LONGEST_DAY_MS)


def utc_offset_minutes() -> int:
    """The machine's present offset from UTC, in minutes east."""
    return (time.localtime().tm_gmtoff or 0) // 60
