"""Which moment of a record somebody means who types a time."""

import re
from typing import Final

from orroom.case.replay import Replay

#: Hours, minutes and perhaps seconds; or minutes since the start of the record.
CLOCK: Final = re.compile(r"([0-9]{1,2}):([0-9]{2})(?::([0-9]{2}))?")
MINUTES: Final = re.compile(r"\+?([0-9]{1,5})")
DAY_MS: Final = 24 * 3_600_000


def time_meant(text: str, replay: Replay) -> int | str:
    """The time meant (UTC ms), or a sentence why there is none.

    ``10:42``: the first time at which the case's clock shows it; ``95``: so many minutes after the start.
    """
    if minutes := MINUTES.fullmatch(text):
        at_ms = replay.start_ms + int(minutes[1]) * 60_000
    elif clock := CLOCK.fullmatch(text):
        hours, minute, seconds = (int(each or 0) for each in clock.groups())
        if hours > 23 or minute > 59 or seconds > 59:
            return f"{text} is not a time of day"
        at_ms = _first_after(replay, ((hours * 60 + minute) * 60 + seconds) * 1000, whole=clock[3] is None)
    else:
        return f"{text[:12]} is not a time (10:42) or minutes (95)"
    return at_ms if at_ms <= replay.end_ms else f"{text} is not in this record"


def _first_after(replay: Replay, wanted_ms: int, *, whole: bool) -> int:
    """The first time of the record at which the clock shows so much since midnight.

    ``whole``: the minute is meant, so that the one in which the record begins is its beginning.
    """
    offset_ms = replay.newest.tally.utc_offset_minutes * 60_000
    start = replay.start_ms + offset_ms
    at_ms = start - start % DAY_MS + wanted_ms - offset_ms
    if whole and at_ms < replay.start_ms < at_ms + 60_000:
        return replay.start_ms
    return at_ms if at_ms >= replay.start_ms else at_ms + DAY_MS
