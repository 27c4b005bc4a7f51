"""How grafts come into the dishes and leave them from now on, as a flow. Pure numbers, many days at once.

Between two events every rate stays as it is; an event is a size that runs out, a zone that has all of a size,
a harvest that begins or ends. Each simulated day goes from one of its events to the next. Times are minutes.

The placers are in the first zones in placing order, one in each. A zone gets its sizes in proportion to what
it is owed of them. Where a size is dry, placers go on with what there is, in that zone or in later ones; what
is cut of it is placed as it comes. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import numpy as np
from msgspec import Struct

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Numbers = NDArray[np.float64]

#: Less than this, in grafts or minutes, is taken for 0.
NOTHING: Final = 1e-6
#: No day has as many events: a guard.
MOST_EVENTS: Final = 1_000


class Supply(Struct, frozen=True):
    """Grafts of one harvest to come: from when they can be cut (by day), how many (by day and size)."""

    begins: Numbers
    grafts: Numbers


class Ahead(Struct, frozen=True):
    """The days that are simulated.

    ``waiting`` and ``wishes`` are by day and size, ``owed`` by day, zone in the order of placing, and size;
    ``cutting`` and ``placing`` are grafts a minute by day. What is wished more of a size is placed sooner.
    Until all placers are back, at ``all_place``, placing goes at ``meanwhile``. Harvests are cut one after
    the other. A size is dry once no more than ``batch`` of it wait (by day and size); but not one of which
    zones are owed ``least_owed`` or fewer beside those.
    """

    waiting: Numbers
    owed: Numbers
    supplies: Sequence[Supply]
    cutting: Numbers
    placing: Numbers
    wishes: Numbers
    placers: int
    batch: Numbers
    meanwhile: float = 0.0
    all_place: float = 0.0
    least_owed: float = 0.0

    def often(self, times: int) -> Ahead:
        """One day so many times, each of its own."""
        return Ahead(
            waiting=self.waiting.repeat(times, axis=0),
            owed=self.owed.repeat(times, axis=0),
            supplies=[
                Supply(each.begins.repeat(times), each.grafts.repeat(times, axis=0)) for each in self.supplies
            ],
            cutting=self.cutting.repeat(times),
            placing=self.placing.repeat(times),
            wishes=self.wishes.repeat(times, axis=0),
            placers=self.placers,
            batch=self.batch.repeat(times, axis=0),
            meanwhile=self.meanwhile,
            all_place=self.all_place,
            least_owed=self.least_owed,
        )


class Course(Struct, frozen=True):
    """What came of each day up to its end: ``dry_at`` is when a size was first dry, ``inf`` if never.

    A size is dry once the last graft beyond a batch is placed and a zone is owed more, and while no more than
    a batch waits and a zone where a placer should be is owed it. ``idle`` are minutes
    of the placers' time without a graft to place although some were still to come. ``path`` is how many of
    each size wait on the first day, at each of its events.
    """

    dry_at: Numbers
    idle: Numbers
    path: list[tuple[float, tuple[float, ...]]]


def course(ahead: Ahead, until: float) -> Course:
    """How the days go until a time, or until nothing is owed."""
    waiting, owed = ahead.waiting.copy(), ahead.owed.copy()
    days, sizes = waiting.shape
    begins, ends, rates = _harvests(ahead)
    turns = np.concatenate([begins, ends, np.full((days, 1), ahead.all_place)], axis=1)
    all_cut = ends.max(axis=1, initial=0.0)
    at, idle = np.zeros(days), np.zeros(days)
    dry_at = np.full((days, sizes), np.inf)
    enough = ahead.batch + ahead.least_owed
    path = [(0.0, tuple(waiting[0].tolist()))]
    for _ in range(MOST_EVENTS):
        goes_on = (at < until - NOTHING) & (owed.sum(axis=(1, 2)) > 0)
        if not goes_on.any():
            break
        now = at[:, None]
        comes = (rates * ((begins <= now + NOTHING) & (now + NOTHING < ends))[:, :, None]).sum(axis=1)
        pace = np.where(at + NOTHING >= ahead.all_place, ahead.placing, ahead.meanwhile)
        placed, wanted = _placed(waiting, owed, comes, pace, ahead)
        owed_now, leaves = owed.sum(axis=1), placed.sum(axis=1)
        counts = owed_now > enough
        dry = (
            counts
            & (waiting <= ahead.batch)
            & ((owed * wanted[:, :, None]).sum(axis=1) > 0)
            & goes_on[:, None]
        )
        dry_at = np.where(dry & ~np.isfinite(dry_at) & (pace > 0)[:, None], now, dry_at)
        net = comes - leaves
        with np.errstate(divide="ignore", invalid="ignore"):
            filled = np.where(placed > NOTHING, owed / placed, np.inf).min(axis=(1, 2))
            emptied = np.where((net < -NOTHING) & (waiting > 0), waiting / -net, np.inf).min(axis=1)
            used = np.where(pace > 0, leaves.sum(axis=1) / pace, 1.0)
        turned = np.where(turns > now + NOTHING, turns - now, np.inf).min(axis=1)
        step = np.minimum.reduce([filled, emptied, turned, until - at])
        step = np.where(goes_on, np.maximum(step, 0.0), 0.0)
        idle += step * np.maximum(0.0, 1 - used) * (at < all_cut - NOTHING)
        with np.errstate(divide="ignore", invalid="ignore"):
            reaches = np.where((net < 0) & (waiting > ahead.batch), (waiting - ahead.batch) / -net, np.inf)
            late = reaches > step[:, None] + NOTHING
            used_up = ~late & (owed_now - leaves * reaches > enough) & (now + reaches < until)
        dry_at = np.where(used_up, np.minimum(dry_at, now + reaches), dry_at)
        owed -= placed * step[:, None, None]
        waiting += net * step[:, None]
        owed[owed < NOTHING] = 0.0
        waiting[waiting < NOTHING] = 0.0
        at = at + step
        if step[0]:
            path.append((float(at[0]), tuple(waiting[0].tolist())))
    return Course(dry_at, idle, path)


def _harvests(ahead: Ahead) -> tuple[Numbers, Numbers, Numbers]:
    """When each harvest is begun to be cut and has been, and how many of each size a minute that gives."""
    days, sizes = ahead.waiting.shape
    free = np.zeros(days)
    begun, done, gives = [], [], []
    for supply in ahead.supplies:
        total = supply.grafts.sum(axis=1)
        cut = (total > 0) & (ahead.cutting > 0)
        start = np.maximum(free, supply.begins)
        with np.errstate(divide="ignore", invalid="ignore"):
            free = np.where(cut, start + total / ahead.cutting, free)
            gives.append(np.where(cut[:, None], supply.grafts / total[:, None] * ahead.cutting[:, None], 0.0))
        begun.append(start)
        done.append(np.where(cut, free, start))
    if not begun:
        return np.zeros((days, 0)), np.zeros((days, 0)), np.zeros((days, 0, sizes))
    return np.stack(begun, axis=1), np.stack(done, axis=1), np.stack(gives, axis=1)


def _placed(
    waiting: Numbers, owed: Numbers, comes: Numbers, pace: Numbers, ahead: Ahead
) -> tuple[Numbers, NDArray[np.bool_]]:
    """Grafts a minute by day, zone and size; and the zones where the placers should be."""
    there = waiting > 0
    owes = owed.sum(axis=2) > 0
    wanted = owes & (owes.cumsum(axis=1) <= ahead.placers)
    can = owed * (there * ahead.wishes)[:, None, :]
    in_zone = can.sum(axis=2)
    active = in_zone > 0
    active &= active.cumsum(axis=1) <= ahead.placers
    working = active.sum(axis=1)
    later = np.flip(np.maximum.accumulate(np.flip(active, 1), axis=1), 1)
    reached = wanted | later | (working < ahead.placers)[:, None]
    waits_for_it = (owed > 0) & reached[:, :, None] & ~there[:, None, :]
    first = waits_for_it & (waits_for_it.cumsum(axis=1) == 1)
    at_once = first * comes[:, None, :]
    in_all = at_once.sum(axis=(1, 2))
    at_once *= np.minimum(1.0, pace / np.maximum(in_all, NOTHING))[:, None, None]
    rest = np.maximum(0.0, pace - in_all)
    share = rest / np.maximum(working, 1)
    each = np.where(active, share[:, None] / np.maximum(in_zone, 1e-300), 0.0)
    return at_once + can * each[:, :, None], wanted
