"""The times out of the body of all harvests together, right whichever harvest each graft really came from.

A graft that left the dishes was of a harvest that had one of its size there. How many may be placed within
some time out, at least or at most, is found by taking, entry by entry, from the harvest that serves best:
what serves now serves no better later, so nothing is gained by sparing it. Tests try every way of small
cases. Quartiles are safe but may be wider than need be while grafts of a newer harvest wait.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import accumulate, chain
from typing import Final, Literal, NamedTuple, get_args

from msgspec import Struct

from orroom.figures.streams import Left, Stream
from orroom.figures.survival import (
    CLOSE,
    HOUR_MS,
    HOURS,
    QUARTILES,
    Between,
    Observation,
    Times,
    kaplan_meier,
    quantile_ms,
)


def of_all_harvests(
    streams: Sequence[Stream], since_ms: Sequence[int], now_ms: int, hours_out: Sequence[float] = HOURS
) -> Times:
    """The times of all harvests, which left the body then, oldest first.

    Shares are those out for longer than each of ``hours_out``.
    """
    sizes = [_Size.of(stream, since_ms, now_ms) for stream in streams]
    placed = sum(left.grafts for size in sizes for left in size.left if left.placed)
    waiting = sum(sum(size.ways["young"].stocks[-1]) for size in sizes)
    whole = placed + waiting
    times = sorted(
        {max(0, left.at_ms - since) for size in sizes for left in size.left for since in size.since_ms}
    )

    def within(out_ms: int, way: Way, worth: float) -> float:
        return sum(size.within(out_ms, way, worth) for size in sizes)

    def between(share: float, grafts: float) -> Between[int | None]:
        """By when so many are placed; a newer harvest that waits may be ``share`` placed by its own time."""
        low = _reached(times, 0, lambda out_ms: within(out_ms, "young", share), grafts)
        high = _reached(times, low, lambda out_ms: within(out_ms, "old", 0), grafts)
        return Between(*(times[place] if place < len(times) else None for place in (low, high)))

    def over(after_ms: int) -> Between[float]:
        return Between(*(1 - within(after_ms, way, 1) / whole for way in WAYS))

    quartiles = [between(share, share * whole) for share in QUARTILES]
    if all(size.certain for size in sizes):
        curve = kaplan_meier(chain.from_iterable(size.drawn("young") for size in sizes))
        quartiles = [Between(*[quantile_ms(curve, share)] * 2) for share in QUARTILES]
    out_ms = (sum(out * grafts for size in sizes for out, grafts, _ in size.drawn(way)) for way in WAYS)
    return Times(
        placed=Between(placed, placed),
        waiting=Between(waiting, waiting),
        quartiles_ms=tuple(quartiles),
        longest_placed_ms=between(0, placed) if placed else Between(None, None),
        graft_hours=Between(*(each / HOUR_MS for each in out_ms)),
        share_over=tuple(over(round(each * HOUR_MS)) for each in hours_out),
    )


def _reached(times: Sequence[int], first: int, within: Callable[[int], float], grafts: float) -> int:
    """The place, from ``first`` on, of the first of these times out within which this many are placed."""
    return bisect_left(times, True, lo=first, key=lambda out_ms: within(out_ms) >= grafts - CLOSE)


#: The two ends of what may be: each graft placed as young as may be, or as old.
Way = Literal["young", "old"]
WAYS: Final[tuple[Way, Way]] = get_args(Way)


class _Way(NamedTuple):
    """Grafts of one size taken oldest harvest first, or newest first.

    ``came``: before each entry, harvests and grafts; where a harvest is not known, the newest that it may
    be, or the oldest. ``stocks``: what was there of each harvest before that, and at last.
    """

    came: Sequence[Sequence[tuple[int, int]]]
    stocks: Sequence[Sequence[int]]


class _Size(Struct, frozen=True):
    """One size of all harvests: its harvests by age, since when each is out, what left, and the two ends."""

    since_ms: Sequence[int]
    now_ms: int
    left: Sequence[Left]
    at_ms: Sequence[int]
    placed_before: Sequence[int]
    ways: Mapping[Way, _Way]

    @classmethod
    def of(cls, stream: Stream, since_ms: Sequence[int], now_ms: int) -> _Size:
        """The size of a stream."""
        harvests = sorted(stream.may_be)
        number = {harvest: place for place, harvest in enumerate(harvests)}
        youngest = [[(number[each.newest], each.grafts) for each in came] for came in stream.before]
        oldest = [[(number[each.oldest], each.grafts) for each in came] for came in stream.before]
        rising = range(len(harvests))
        return cls(
            since_ms=[since_ms[harvest] for harvest in harvests],
            now_ms=now_ms,
            left=stream.left,
            at_ms=[left.at_ms for left in stream.left],
            placed_before=[0, *accumulate(left.grafts if left.placed else 0 for left in stream.left)],
            ways={
                "young": _Way(youngest, list(_stocks(stream.left, youngest, rising))),
                "old": _Way(oldest, list(_stocks(stream.left, oldest, rising[::-1]))),
            },
        )

    @property
    def certain(self) -> bool:
        """Whether there is but one way: each graft's harvest is known."""
        return self.ways["young"] == self.ways["old"]

    def within(self, out_ms: int, way: Way, worth: float) -> float:
        """How many may be placed within so long out of the body: the most (``young``), or the least.

        Those that wait and have been out for no longer count as ``worth`` each.

        A harvest is young until it has been out for so long. For the most, a placing takes the oldest of the
        young harvests, which is not young for long, else the oldest of all; a loss takes the oldest. For the
        least, a placing takes a harvest that is not young, else the newest; a loss takes the newest.
        """
        since, (came, before) = self.since_ms, self.ways[way]
        first = bisect_right(self.at_ms, since[0] + out_ms)
        last = bisect_right(self.at_ms, since[-1] + out_ms)
        young: float = self.placed_before[first]
        stocks, oldest, harvests = list(before[first]), 0, range(len(since))
        lost = harvests if way == "young" else harvests[::-1]
        orders = [
            (*harvests[each:], *harvests[:each])
            if way == "young"
            else (*harvests[:each], *harvests[each:][::-1])
            for each in harvests
        ]
        for place in range(first, last):
            for harvest, grafts in came[place]:
                stocks[harvest] += grafts
            at_ms, grafts, placed = self.left[place]
            while since[oldest] + out_ms < at_ms:
                oldest += 1
            for harvest in orders[oldest] if placed else lost:  # as in _taken, but this is done most often
                if there := stocks[harvest]:
                    taken = grafts if grafts < there else there
                    stocks[harvest] = there - taken
                    if placed and harvest >= oldest:
                        young += taken
                    if not (grafts := grafts - taken):
                        break
        if worth and last == len(self.left):
            for harvest, grafts in came[-1]:
                stocks[harvest] += grafts
            young += worth * sum(
                stock for stock, start in zip(stocks, since, strict=True) if start + out_ms >= self.now_ms
            )
        return young

    def drawn(self, way: Way) -> Iterator[Observation]:
        """What was placed and what waits, all together out of the body the least (``young``) or the most.

        All depends on the harvests of those that were lost: the oldest for the least, the newest for the
        most.
        """
        harvests = range(len(self.since_ms))
        placed, lost = (harvests[::-1], harvests) if way == "young" else (harvests, harvests[::-1])
        stocks = [0] * len(harvests)
        for came, left in zip(self.ways[way].came, (*self.left, None), strict=True):
            for harvest, grafts in came:
                stocks[harvest] += grafts
            if left is not None:
                for harvest, taken in _taken(stocks, placed if left.placed else lost, left.grafts):
                    if left.placed:
                        yield Observation(max(0, left.at_ms - self.since_ms[harvest]), taken, placed=True)
        for stock, start in zip(stocks, self.since_ms, strict=True):
            yield Observation(max(0, self.now_ms - start), stock, placed=False)


def _stocks(
    left: Sequence[Left], came: Sequence[Sequence[tuple[int, int]]], order: Sequence[int]
) -> Iterator[Sequence[int]]:
    """What is there of each harvest before each entry and at last, if grafts are taken in this order."""
    stocks = [0] * len(order)
    for each, gone in zip(came, (*left, None), strict=True):
        yield tuple(stocks)
        for harvest, grafts in each:
            stocks[harvest] += grafts
        if gone is not None:
            for _ in _taken(stocks, order, gone.grafts):
                pass
    yield tuple(stocks)


def _taken(stocks: list[int], order: Iterable[int], grafts: int) -> Iterator[tuple[int, int]]:
    """Takes grafts from the harvests in this order. How many from which."""
    for harvest in order:
        if (taken := min(grafts, stocks[harvest])) > 0:
            stocks[harvest] -= taken
            yield harvest, taken
            grafts -= taken
            if not grafts:
                return
