"""The work so far in blocks, each from one entry to a later one: what the forecast looks at.

Blocks end at entries, never by the clock: between two batches nothing is entered, though work goes on.
"""

from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

from orroom.figures.pace.rates import merged, strengths
from orroom.figures.pace.work import WorkDone

#: A block lasts at least so long, or this part of the work so far, if that is less, and this many of the
#: usual waits between entries. Tried on simulated days.
LEAST_MS: Final = 6 * 60_000
LEAST_PART: Final = 4
LEAST_WAITS: Final = 3


class Block(NamedTuple):
    """A stretch of work: how much was done in how many hand-minutes; when it ended, in hours of work."""

    done: float
    minutes: float
    hours: float
    ended_ms: int


def blocks(done: WorkDone, worth: Sequence[float]) -> list[Block]:
    """The work up to its last entry in blocks, oldest first; one too short at the end belongs to the last.

    ``worth`` is how much each mark counts. Minutes are hand-minutes of mean strength.
    """
    if not done.stints:
        return []
    strength = strengths(done)
    hands = _Worked([(each.start_ms, each.end_ms, each.hands * strength[each.who]) for each in done.stints])
    clock = _Worked([(start, end, 1.0) for start, end in merged(done.stints)])
    wait = LEAST_WAITS * done.wait_ms
    found: list[Block] = []
    count = spent = began = 0.0
    began_ms = min(each.start_ms for each in done.stints)
    least = float(wait)  # no more is worked than time goes by
    for place, (mark, more) in enumerate(zip(done.marks, worth, strict=True)):
        count += more
        if place + 1 < len(done.marks) and done.marks[place + 1].at_ms == mark.at_ms:
            continue
        if mark.at_ms - began_ms < least and place + 1 < len(done.marks):
            continue
        minutes, elapsed = hands.until(mark.at_ms), clock.until(mark.at_ms)
        long_enough = elapsed - began >= max(min(LEAST_MS, elapsed / LEAST_PART), wait)
        if minutes > spent and (long_enough or place + 1 == len(done.marks)):
            block = Block(count, (minutes - spent) / 60_000, elapsed / 3_600_000, mark.at_ms)
            if not long_enough and found:
                last = found.pop()
                block = block._replace(done=last.done + count, minutes=last.minutes + block.minutes)
            found.append(block)
            count, spent, began, began_ms = 0.0, minutes, elapsed, mark.at_ms
            least = max(min(LEAST_MS, began / LEAST_PART), wait)
    return found


class _Worked:
    """How much was worked until a time, asked in order of time: spans, each so many times its length."""

    def __init__(self, spans: Sequence[tuple[int, int, float]]) -> None:
        turns = [(start, rate) for start, _, rate in spans] + [(end, -rate) for _, end, rate in spans]
        self._turns: Iterator[tuple[int, float]] = iter(sorted(turns))
        self._next = next(self._turns, None)
        self._at_ms, self._rate, self._sum = 0, 0.0, 0.0

    def until(self, at_ms: int) -> float:
        """What was worked until then."""
        while self._next is not None and self._next[0] <= at_ms:
            self._sum += self._rate * (self._next[0] - self._at_ms)
            self._at_ms, self._rate = self._next[0], self._rate + self._next[1]
            self._next = next(self._turns, None)
        return self._sum + self._rate * (at_ms - self._at_ms)
