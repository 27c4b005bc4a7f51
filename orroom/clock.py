"""The only reader of the wall clock: what time it is for a case, in UTC milliseconds."""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from typing import Protocol


class Clock(Protocol):
    """Tells the case's time and the local offset it is shown in."""

    def now_ms(self) -> int:
        """UTC milliseconds since 1970."""
        ...


class WallClock:
    """The machine's own time."""

    def now_ms(self) -> int:
        """UTC milliseconds since 1970."""
        return time.time_ns() // 1_000_000


@dataclass(frozen=True)
class FastClock:
    """Case time that runs ``speed`` times as fast as the wall clock, for the demo and practice.

    ``case_origin_ms`` is the case's time at the wall time ``real_origin_ms``; both in UTC milliseconds.
    """

    real_origin_ms: int
    case_origin_ms: int
    speed: float

    def now_ms(self) -> int:
        """UTC milliseconds since 1970, in the case's own faster time."""
        return self.case_origin_ms + round((WallClock().now_ms() - self.real_origin_ms) * self.speed)


@dataclass
class SetClock:
    """A clock that stands still until it is moved: for tests and for replaying a record."""

    at_ms: int = field(default=0)

    def now_ms(self) -> int:
        """The time it was last set to, UTC milliseconds."""
        return self.at_ms


def utc_offset_minutes() -> int:
    """The machine's present offset from UTC, in minutes east."""
    return (time.localtime().tm_gmtoff or 0) // 60
