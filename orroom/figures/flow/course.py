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


def course(ahead: Ahead, until: float, *, while_cut: bool = False) -> Course:
    """How the days go until a time or until nothing is owed, or all is cut where ``idle`` alone is wanted."""
    # Days are the last axis here: sums over the others then go along the memory, several times as fast.
    waiting, owed = _days_last(ahead.waiting), _days_last(ahead.owed)
    batch, wishes = _days_last(ahead.batch), _days_last(ahead.wishes)
    sizes, days = waiting.shape
    begins, ends, rates = _harvests(ahead)
    turns = np.concatenate([begins, ends, np.full((1, days), ahead.all_place)])
    all_cut = ends.max(axis=0, initial=0.0)
    last = np.minimum(until, all_cut) if while_cut else np.full(days, until)
    at, idle = np.zeros(days), np.zeros(days)
    dry_at = np.full((sizes, days), np.inf)
    enough = batch + ahead.least_owed
    path = [(0.0, tuple(waiting[:, 0].tolist()))]
    with np.errstate(divide="ignore", invalid="ignore"):
        for _ in range(MOST_EVENTS):
            owed_now = owed.sum(axis=0)
            goes_on = (at < last - NOTHING) & owed_now.any(axis=0)
            if not goes_on.any():
                break
            comes = (rates * ((begins <= at + NOTHING) & (at + NOTHING < ends))[:, None]).sum(axis=0)
            pace = np.where(at + NOTHING >= ahead.all_place, ahead.placing, ahead.meanwhile)
            placed, asked_for = _placed(waiting, owed, comes, pace, wishes, ahead.placers)
            leaves = placed.sum(axis=0)
            net = comes - leaves
            dry = asked_for & (owed_now > enough) & (waiting <= batch) & (goes_on & (pace > 0))
            dry_at[dry] = np.minimum(dry_at, at)[dry]
            step = np.where(placed > NOTHING, owed / placed, np.inf).min(axis=(0, 1))
            emptied = np.where((net < -NOTHING) & (waiting > 0), waiting / -net, np.inf).min(axis=0)
            turned = np.where(turns > at + NOTHING, turns - at, np.inf).min(axis=0)
            step = np.minimum(np.minimum(step, emptied), np.minimum(turned, last - at))
            step = np.where(goes_on, np.maximum(step, 0.0), 0.0)
            used = np.where(pace > 0, leaves.sum(axis=0) / pace, 1.0)
            idle += step * np.maximum(0.0, 1 - used) * (at < all_cut - NOTHING)
            reaches = np.where((net < 0) & (waiting > batch), (waiting - batch) / -net, np.inf)
            used_up = (reaches <= step + NOTHING) & (owed_now - leaves * reaches > enough)
            used_up &= at + reaches < until
            dry_at[used_up] = np.minimum(dry_at, at + reaches)[used_up]
            owed -= placed * step
            waiting += net * step
            owed[owed < NOTHING] = 0.0
            waiting[waiting < NOTHING] = 0.0
            at += step
            if step[0]:
                path.append((float(at[0]), tuple(waiting[:, 0].tolist())))
    return Course(dry_at.T, idle, path)


def _days_last(numbers: Numbers) -> Numbers:
    return np.moveaxis(numbers, 0, -1).copy()


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
            gives.append(np.where(cut, supply.grafts.T / total * ahead.cutting, 0.0))
        begun.append(start)
        done.append(np.where(cut, free, start))
    if not begun:
        return np.zeros((0, days)), np.zeros((0, days)), np.zeros((0, sizes, days))
    return np.stack(begun), np.stack(done), np.stack(gives)


def _placed(
    waiting: Numbers, owed: Numbers, comes: Numbers, pace: Numbers, wishes: Numbers, placers: int
) -> tuple[Numbers, NDArray[np.bool_]]:
    """Grafts a minute by zone, size and day; and the sizes that zones are owed where placers should be."""
    there, is_owed = waiting > 0, owed > 0
    owes = is_owed.any(axis=1)
    wanted = owes & (owes.cumsum(axis=0) <= placers)
    can = owed * (there * wishes)
    in_zone = can.sum(axis=1)
    active = in_zone > 0
    active &= active.cumsum(axis=0) <= placers
    working = active.sum(axis=0)
    later = np.maximum.accumulate(active[::-1], axis=0)[::-1]
    reached = wanted | later | (working < placers)
    waits_for_it = is_owed & reached[:, None] & ~there
    at_once = comes * waits_for_it.any(axis=0)
    in_all = at_once.sum(axis=0)
    at_once *= np.minimum(1.0, pace / np.maximum(in_all, NOTHING))
    share = np.maximum(0.0, pace - in_all) / np.maximum(working, 1)
    placed = can * (active * share / np.maximum(in_zone, 1e-300))[:, None]
    sizes, days = np.ogrid[: waiting.shape[0], : waiting.shape[1]]
    placed[waits_for_it.argmax(axis=0), sizes, days] += at_once
    asked_for: NDArray[np.bool_] = np.any(is_owed & wanted[:, None], axis=0)
    return placed, asked_for
