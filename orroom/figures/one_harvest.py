"""The times out of the body of one harvest, right whichever harvest each graft really came from.

A graft that left the dishes was of a harvest that had one of its size there. The most that this harvest may
have had placed by any time is found by taking from it first, the least by taking from the others first; and
so what may be left of it by then, and be placed later or wait. Tests try every way of small cases.
"""

from collections.abc import Callable, Iterable, Sequence
from itertools import accumulate, pairwise
from math import inf
from typing import NamedTuple

from msgspec import Struct

from orroom.figures.streams import Came, Stream
from orroom.figures.survival import CLOSE, HOUR_MS, HOURS, QUARTILES, Between, Times


class _Moment(NamedTuple):
    """What may be after an entry (UTC ms): grafts placed by then, and placed later or waiting now."""

    at_ms: int
    most_placed: int
    fewest_later: int
    fewest_placed: int
    most_later: int


class _OneSize(Struct):
    """What one harvest may have given of one size.

    ``moments`` begin before the first entry. When the last must have been placed at the earliest, if one
    must; when the first may have been, and the last, if any may.
    """

    moments: Sequence[_Moment]
    placed: Between[int]
    waiting: Between[int]
    forced_ms: int | None
    first_ms: int | None
    latest_ms: int | None


def of_one_harvest(
    streams: Sequence[Stream], harvest: int, since_ms: int, now_ms: int, hours_out: Sequence[float] = HOURS
) -> Times | None:
    """The times of a harvest that left the body then, by its number; ``None`` if it gave no graft.

    Shares are those out for longer than each of ``hours_out``.
    """
    sizes = [_one_size(stream, harvest) for stream in streams if harvest in stream.may_be]
    moments = _together([size.moments for size in sizes])
    if not moments or not moments[0].most_later:
        return None
    out_ms = max(0, now_ms - since_ms)

    def out(at_ms: int | None) -> int | None:
        return None if at_ms is None else max(0, at_ms - since_ms)

    def quartile(share: float) -> Between[int | None]:
        soonest = (each.at_ms for each in moments if _reached(each.most_placed, each.fewest_later, share))
        latest = (each.at_ms for each in moments if _reached(each.fewest_placed, each.most_later, share))
        return Between(out(next(soonest, None)), out(next(latest, None)))

    def over(after_ms: int) -> Between[float]:
        if out_ms <= after_ms:
            return Between(0.0, 0.0)
        then = [moments[0], *(each for each in moments[1:] if each.at_ms - since_ms <= after_ms)][-1]
        return Between(
            _share(then.fewest_later, then.most_placed), _share(then.most_later, then.fewest_placed)
        )

    def hours(later: Callable[[_Moment], int]) -> float:
        """Grafts that are neither placed nor lost, from the harvest on."""
        times = [0, *(max(0, each.at_ms - since_ms) for each in moments[1:]), out_ms]
        return (
            sum(
                (end - start) * later(each)
                for each, (start, end) in zip(moments, pairwise(times), strict=True)
            )
            / HOUR_MS
        )

    forced, first, latest = (
        [at for size in sizes if (at := getattr(size, name)) is not None]
        for name in ("forced_ms", "first_ms", "latest_ms")
    )
    return Times(
        placed=_sum(size.placed for size in sizes),
        waiting=_sum(size.waiting for size in sizes),
        quartiles_ms=tuple(quartile(share) for share in QUARTILES),
        longest_placed_ms=Between(
            out(max(forced, default=min(first, default=None))), out(max(latest, default=None))
        ),
        graft_hours=Between(hours(lambda each: each.fewest_later), hours(lambda each: each.most_later)),
        share_over=tuple(over(round(each * HOUR_MS)) for each in hours_out),
    )


def _reached(placed: int, later: int, share: float) -> bool:
    return placed > 0 and placed >= share * (placed + later) - CLOSE


def _share(later: int, placed: int) -> float:
    return later / (later + placed) if later else 0.0


def _sum(bounds: Iterable[Between[int]]) -> Between[int]:
    lows, highs = zip(*bounds, strict=True)
    return Between(sum(lows), sum(highs))


def _together(sizes: Sequence[Sequence[_Moment]]) -> list[_Moment]:
    """The moments of several sizes as those of all: each entry changes what was before it by as much."""
    changes = [
        _Moment(now[0], now[1] - was[1], now[2] - was[2], now[3] - was[3], now[4] - was[4])
        for moments in sizes
        for was, now in pairwise(moments)
    ]
    begun = [0, *(sum(each) for each in zip(*(moments[0][1:] for moments in sizes), strict=True))]
    changes = [_Moment(*begun), *sorted(changes)] if sizes else []
    return list(
        accumulate(
            changes,
            lambda was, by: _Moment(by[0], was[1] + by[1], was[2] + by[2], was[3] + by[3], was[4] + by[4]),
        )
    )


class _Dishes(Struct):
    """Grafts of one size in the dishes: of the harvest in question, and of others."""

    mine: int = 0
    others: int = 0

    def mine_first(self, grafts: int) -> int:
        """Takes grafts, of this harvest first; how many are of it."""
        taken = min(grafts, self.mine)
        self.mine -= taken
        self.others -= grafts - taken
        return taken

    def others_first(self, grafts: int) -> int:
        """Takes grafts, of other harvests first; how many are of this."""
        taken = max(0, grafts - self.others)
        self.mine -= taken
        self.others -= grafts - taken
        return taken


class _After(NamedTuple):
    """What is there after an entry: of all; of this harvest at least and at most; what was placed of it."""

    there: int
    fewest: int
    most: int
    fewest_placed: int
    most_placed: int


def _one_size(stream: Stream, harvest: int) -> _OneSize:
    """Grafts that may be of this harvest count as of it for what it gave at most, and not for the least."""
    soon, late, stays, goes = _Dishes(), _Dishes(), _Dishes(), _Dishes()
    came, after = [], [_After(0, 0, 0, 0, 0)]
    placed_soon = placed_late = 0
    first = latest = None
    for new, left in zip(stream.before, (*stream.left, None), strict=True):
        mine, maybe, theirs = _shared_out(new, harvest)
        came.append((mine, mine + maybe))
        for dishes in (soon, stays):
            dishes.mine += mine + maybe
            dishes.others += theirs
        for dishes in (late, goes):
            dishes.mine += mine
            dishes.others += theirs + maybe
        if left is None:
            break
        if left.placed:
            first = left.at_ms if first is None and soon.mine else first
            latest = left.at_ms if stays.mine else latest
            placed_soon += soon.mine_first(left.grafts)
            placed_late += late.others_first(left.grafts)
        else:
            soon.others_first(left.grafts)
            late.mine_first(left.grafts)
        stays.others_first(left.grafts)
        goes.mine_first(left.grafts)
        after.append(_After(goes.mine + goes.others, goes.mine, stays.mine, placed_late, placed_soon))
    return _OneSize(
        moments=_moments(stream, came, after),
        placed=Between(placed_late, placed_soon),
        waiting=Between(goes.mine, stays.mine),
        forced_ms=_last_forced_ms(stream, came, after),
        first_ms=first,
        latest_ms=latest,
    )


def _shared_out(came: Iterable[Came], harvest: int) -> tuple[int, int, int]:
    """Grafts that are, may be, and are not of a harvest."""
    mine = maybe = theirs = 0
    for oldest, newest, grafts in came:
        if not oldest <= harvest <= newest:
            theirs += grafts
        elif oldest == newest:
            mine += grafts
        else:
            maybe += grafts
    return mine, maybe, theirs


def _moments(stream: Stream, came: Sequence[tuple[int, int]], after: Sequence[_After]) -> list[_Moment]:
    """What may be after each entry, from the last to the first, so that what is lost later is known.

    Of n grafts of the harvest, min(n + least, most) can be lost later, if placings spare it and losses do
    not; max(n - spared, forced) must be, if it is the other way round. Both follow step by step.
    """
    least = most = forced = later = maybe_later = 0
    spared = inf
    found = []
    for place in range(len(stream.left), -1, -1):
        new, maybe_new = came[place]
        least, spared = min(least + new, most), spared - maybe_new
        later, maybe_later = later + new, maybe_later + maybe_new
        now = after[place]
        found.append(
            _Moment(
                at_ms=stream.left[place - 1].at_ms if place else 0,
                most_placed=now.most_placed,
                fewest_later=now.fewest + later - min(now.fewest + least, most),
                fewest_placed=now.fewest_placed,
                most_later=now.most + maybe_later - round(max(now.most - spared, forced)),
            )
        )
        if place:
            _, grafts, placed = stream.left[place - 1]
            if placed:
                most = min(most, now.there + least)
                spared, forced = spared + grafts, round(max(forced, -spared))
            else:
                most += grafts
                spared = min(spared, now.there - forced)
    return found[::-1]


def _last_forced_ms(stream: Stream, came: Sequence[tuple[int, int]], after: Sequence[_After]) -> int | None:
    """When one of it must still have been placed (UTC ms): after that, others may serve all placings."""
    needed, later = 0, None
    for place in range(len(stream.left), 0, -1):
        left, others = stream.left[place - 1], after[place].there - after[place].fewest
        if others < needed:
            return later
        later = left.at_ms
        arrived = sum(each.grafts for each in stream.before[place - 1]) - came[place - 1][0]
        needed = max(0, needed + (left.grafts if left.placed else 0) - arrived)
    return later if needed else None
