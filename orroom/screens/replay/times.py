"""Which moment of a record somebody means who types a time."""

import re
from typing import Final

from orroom.case.care import DAY_MS
from orroom.case.replay import Replay
from orroom.figures.case_times import case_times

#: Perhaps a day, then hours, minutes and perhaps seconds; or minutes since the start of the record.
CLOCK: Final = re.compile(r"(?:(?:day )?([0-9]{1,3}) )?([0-9]{1,2}):([0-9]{2})(?::([0-9]{2}))?")
MINUTES: Final = re.compile(r"\+?([0-9]{1,5})")


def time_meant(text: str, replay: Replay) -> int | str:
    """The time meant (UTC ms), or a sentence why there is none.

    ``10:42``: the first time at which the case's clock shows it; ``day 2 06:35`` or ``2 06:35``: on that day;
    ``95``: so many minutes after the start.
    """
    if minutes := MINUTES.fullmatch(text):
        at_ms = replay.start_ms + int(minutes[1]) * 60_000
    elif clock := CLOCK.fullmatch(text):
        day, hours, minute, seconds = (int(each or 0) for each in clock.groups())
        if hours > 23 or minute > 59 or seconds > 59:
            return f"{text} is not a time of day"
        at_ms = (
            _midnight_ms(replay, day if clock[1] else None) + ((hours * 60 + minute) * 60 + seconds) * 1000
        )
        if clock[4] is None and at_ms < replay.start_ms < at_ms + 60_000:
            at_ms = replay.start_ms  # the minute is meant in which the record begins
        if at_ms < replay.start_ms and not clock[1]:
            at_ms += DAY_MS
    else:
        return f"{text[:12]} is not a time (10:42) or minutes (95)"
    return at_ms if replay.start_ms <= at_ms <= replay.end_ms else f"{text} is not in this record"


def _midnight_ms(replay: Replay, day: int | None) -> int:
    """When a day of the record began (UTC ms); day 1 is that of the first work, ``None`` of its start."""
    times = case_times(replay.newest)
    began_ms = replay.start_ms if day is None or times.work_began_ms is None else times.work_began_ms
    offset_ms = times.offset_minutes * 60_000
    return began_ms - (began_ms + offset_ms) % DAY_MS + ((day or 1) - 1) * DAY_MS
