"""When somebody was at work, by the times of their entries."""

from collections.abc import Sequence
from itertools import pairwise
from statistics import median
from typing import Final

#: Somebody silent for longer than this, and than this many of their usual waits, was not at work.
#: Common practice, no source.
SILENT_MS: Final = 12 * 60_000
SILENT_WAITS: Final = 8
#: However far apart the entries are, nobody is at work so long without one. Common practice, no source.
LONGEST_SILENCE_MS: Final = 2 * 3_600_000


def usual_wait_ms(times: Sequence[int]) -> int:
    """The usual wait between entries (times in order, UTC ms), 0 where none follows another in time."""
    waits = [wait for earlier, later in pairwise(times) if (wait := later - earlier) <= LONGEST_SILENCE_MS]
    return round(median(waits)) if waits else 0


def longest_wait_ms(usual_ms: int) -> int:
    """How long a wait for the next entry still is work, where the usual one is so long."""
    return min(max(SILENT_MS, SILENT_WAITS * usual_ms), LONGEST_SILENCE_MS)


def spans(times: Sequence[int], numbers: Sequence[int], begun_ms: int, now_ms: int) -> list[tuple[int, int]]:
    """From the first entry to ``now_ms`` without the silences that were too long to be work.

    ``numbers`` is how much each entry says was done. What the first entry of a span says was done before it:
    each span begins a usual wait earlier, or as much earlier as so many took so far, but not before
    ``begun_ms``, nor before the end of the one before. So what is entered late for half an hour keeps that
    time, and what follows a break does not take the break's.
    """
    if len(times) < 2:  # how long the first took nobody knows
        return []
    usual = usual_wait_ms(times)
    limit = longest_wait_ms(usual)
    found: list[tuple[int, int]] = []
    begins, worked, done = max(times[0] - usual, min(begun_ms, times[0])), 0, 0
    for (earlier, later), number in zip(pairwise(times), numbers[1:], strict=True):
        if later - earlier > limit:
            found.append((begins, earlier))
            took = number * worked // done if done else 0
            begins = max(later - max(usual, took), earlier)
        else:
            worked, done = worked + later - earlier, done + number
    end = now_ms if now_ms - times[-1] <= limit else times[-1]
    found.append((begins, max(end, times[-1])))
    return found


def without(spans: Sequence[tuple[int, int]], start: int, end: int) -> list[tuple[int, int]]:
    """The spans less the time from ``start`` to ``end``."""
    left = []
    for first, last in spans:
        if first < min(last, start):
            left.append((first, min(last, start)))
        if max(first, end) < last:
            left.append((max(first, end), last))
    return left
