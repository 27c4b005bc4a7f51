"""How many grafts the strip will give, told from the segments that are finished and in hand.

Segments are taken as begun in random order. If the ends of a strip give less than its middle and are cut
last, the projection is too high.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from math import sqrt
from typing import Final, Literal, final

from msgspec import Struct
from msgspec.structs import replace

from orroom.case.events import GraftsCut, HandedOver, SegmentCut
from orroom.case.state import CaseState, once
from orroom.figures.clusters import ClusterTotal, cluster_total, part_total, ratio_total, t_quantile

Level = Literal[80, 95]  # two-sided, in per cent

#: So many segments of each lot must be finished before a projection changes anything: two may agree by
#: chance. Common practice, no source.
FEWEST_TO_ACT: Final = 3


@final
class Projection(Struct, frozen=True):
    """Usable grafts in the end: the best guess and its range. All three are the count once all is cut.

    ``error`` is the standard error of the guess, with so many degrees of freedom; 0 once all is cut.
    """

    grafts: float
    low: float
    high: float
    error: float = 0.0
    degrees: float = 0.0


class LotYield(Struct, frozen=True):
    """One lot: usable grafts now and projected, by size and in all; ``None`` where there is no telling."""

    lot: str
    segments: int | None
    finished: int
    usable: int
    projected: Projection | None
    usable_by_size: dict[str, int]
    projected_by_size: dict[str, Projection | None]


class Yield(Struct, frozen=True):
    """All lots of the plan together, by size and in all. ``None`` while any lot cannot be projected."""

    level: Level
    usable: int
    projected: Projection | None
    usable_by_size: dict[str, int]
    projected_by_size: dict[str, Projection | None]
    lots: tuple[LotYield, ...]

    @property
    def enough(self) -> bool:
        """Whether so many segments of every lot are finished that something may be done about it."""
        return all(
            lot.segments is not None and lot.finished >= min(FEWEST_TO_ACT, lot.segments) for lot in self.lots
        )


_Segments = tuple[Mapping[str, tuple[Counter[str], ...]], tuple[tuple[str, Counter[str]], ...]]


@once
def segment_grafts(state: CaseState) -> _Segments:
    """By lot, the grafts of each finished segment by size; then, with their lots, those of segments in hand.

    A finished segment has what the person who finished it cut from the lot since finishing one before. Who
    takes a station over takes over the segment in hand. If somebody finishes a segment of a lot who has cut
    nothing of it, it has what everybody had cut. What was spoilt while cutting does not count.
    """
    in_hand: dict[tuple[str, str], Counter[str]] = {}
    found: dict[str, list[Counter[str]]] = {}
    for entry in state.standing():
        who = entry.stamp.who
        match entry.event:
            case GraftsCut(lot=lot, size=size, count=count):
                in_hand.setdefault((lot, who), Counter())[size] += count
            case HandedOver(left=left):
                for lot in [lot for lot, whose in in_hand if whose == left]:
                    in_hand.setdefault((lot, who), Counter()).update(in_hand.pop((lot, left)))
            case SegmentCut(lot=lot):
                mine = [(lot, who)] if (lot, who) in in_hand else [key for key in in_hand if key[0] == lot]
                found.setdefault(lot, []).append(sum((in_hand.pop(key) for key in mine), Counter()))
    finished = {lot: tuple(segments) for lot, segments in found.items()}
    return finished, tuple((lot, grafts) for (lot, _), grafts in in_hand.items())


def segment_lengths(state: CaseState) -> dict[str, tuple[float | None, ...]]:
    """By lot, the lengths of its finished segments in mm, in the order of ``segment_grafts``."""
    found: dict[str, list[float | None]] = {}
    for entry in state.standing():
        if isinstance(entry.event, SegmentCut):
            found.setdefault(entry.event.lot, []).append(entry.event.length_mm)
    return {lot: tuple(lengths) for lot, lengths in found.items()}


def yields(state: CaseState, level: Level) -> Yield:
    """What the lots of the plan will have given in the end, with t ranges at ``level``.

    By the length of its segments where the plan gives the lot a length and every finished segment has one
    (``ratio_total``), else by their number (``cluster_total``), each size by its share of all that is cut
    (``part_total``). Lengths beyond the plan's make the strip as long as they are.

    Usable as on the screens: in dishes, on the bench or placed. What was divided, given up or missed so far
    is added to what the segments give; what may still be is not foreseen. Lots are added as strata:
    variances add up, with Satterthwaite's degrees of freedom. No projection is below what is usable already.
    """
    segments, in_hand = segment_grafts(state)
    lengths = segment_lengths(state)
    cut: Counter[tuple[str, str]] = Counter()
    for lot, segment in [*((lot, each) for lot, mine in segments.items() for each in mine), *in_hand]:
        for size, count in segment.items():
            cut[lot, size] += count
    usable: Counter[tuple[str, str]] = Counter()
    for key, count in state.tally.stock.items():
        if key.account in {"dish", "bench", "placed"}:
            usable[key.lot, key.size] += count
    sizes = tuple(state.plan.size_by_key)

    def whole(lot: str, chosen: Sequence[str]) -> tuple[int, ClusterTotal | None]:
        now = sum(usable[lot, size] for size in chosen)
        strip, mine = state.plan.lot_by_key[lot], segments.get(lot, ())
        if strip.segments is None:
            return now, None
        if len(mine) >= strip.segments:
            return now, ClusterTotal(now, 0.0, 0, strip.segments)
        given = [sum(each[size] for size in chosen) for each in mine]
        so_far = sum(cut[lot, size] for size in chosen)
        long = [length for length in lengths.get(lot, ()) if length is not None]
        estimate: ClusterTotal | None
        if strip.strip_length_mm is not None and len(long) == len(mine):
            whole_mm = max(strip.strip_length_mm, sum(long))
            estimate = ratio_total(given, long, strip.segments, whole_mm)
        else:
            open_ones = [each.total() for where, each in in_hand if where == lot]
            estimate = cluster_total([each.total() for each in mine], strip.segments, open_ones)
            if estimate is not None and len(chosen) < len(sizes):
                all_cut = sum(count for (where, _), count in cut.items() if where == lot)
                estimate = part_total(estimate, given, so_far / all_cut if all_cut else 0.0, strip.segments)
        if estimate is None:
            return now, None
        return now, replace(estimate, total=estimate.total + now - so_far)

    def projected(chosen: Sequence[str], lots: Sequence[str]) -> tuple[int, Projection | None]:
        each = [whole(lot, chosen) for lot in lots]
        now = sum(count for count, _ in each)
        known = [estimate for _, estimate in each if estimate is not None]
        return now, _with_range(known, now, level) if len(known) == len(each) else None

    def by_size(lots: Sequence[str]) -> tuple[dict[str, int], dict[str, Projection | None]]:
        told = {size: projected([size], lots) for size in sizes}
        return {size: now for size, (now, _) in told.items()}, {
            size: then for size, (_, then) in told.items()
        }

    every = tuple(state.plan.lot_by_key)
    lots = tuple(
        LotYield(
            lot,
            state.plan.lot_by_key[lot].segments,
            len(segments.get(lot, ())),
            *projected(sizes, [lot]),
            *by_size([lot]),
        )
        for lot in every
    )
    return Yield(level, *projected(sizes, every), *by_size(every), lots)


def _with_range(estimates: Sequence[ClusterTotal], usable: int, level: Level) -> Projection:
    """Estimates of lots added up.

    Degrees of freedom (Σv)² / Σ(v²/degrees): Satterthwaite, Biometrics Bull 1946;2:110–114 (from memory).
    """
    total = sum(each.total for each in estimates)
    variance = sum(each.variance for each in estimates)
    error, degrees, half = sqrt(variance), 0.0, 0.0
    if variance > 0:
        degrees = variance**2 / sum(each.variance**2 / each.degrees for each in estimates if each.degrees)
        half = t_quantile(level, degrees) * error
    low, high = max(usable, total - half), max(usable, total + half)
    return Projection(max(usable, total), low, high, error, degrees)
