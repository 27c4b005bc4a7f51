"""How many grafts the strip will give, told from the segments that are finished.

Finished segments are taken as a simple random sample, without replacement, of all segments of the lot. If
the ends of a strip give less than its middle and are cut last, the projection is too high.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from orroom.case.events import GraftsCut, SegmentCut, ShiftChanged
from orroom.case.state import CaseState
from orroom.figures.t_quantiles import Level, t_quantile


@dataclass(frozen=True, slots=True)
class ClusterTotal:
    """An estimated total, its variance and the degrees of freedom of that."""

    total: float
    variance: float
    degrees: int


def cluster_total(sampled: Sequence[float], clusters: int) -> ClusterTotal | None:
    """The total over ``clusters`` from those ``sampled``, ``None`` below two of them.

    N·ȳ with variance N²·(1 − n/N)·s²/n. W. G. Cochran, Sampling Techniques, 3rd ed. 1977, chapter 2 (from
    memory).
    """
    n = len(sampled)
    if n < 2:
        return None
    mean = sum(sampled) / n
    spread = sum((each - mean) ** 2 for each in sampled) / (n - 1)
    left = max(0.0, 1 - n / clusters)
    return ClusterTotal(clusters * mean, clusters**2 * left * spread / n, n - 1)


@dataclass(frozen=True, slots=True)
class Projection:
    """Usable grafts in the end: the best guess and its limits. All three are the count once all is cut."""

    grafts: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class LotYield:
    """One lot: usable grafts now and projected, by size and in all; ``None`` where there is no telling."""

    lot: str
    segments: int | None
    finished: int
    usable: int
    projected: Projection | None
    usable_by_size: dict[str, int]
    projected_by_size: dict[str, Projection | None]


@dataclass(frozen=True, slots=True)
class Yield:
    """All lots of the plan together, by size and in all. ``None`` while any lot cannot be projected."""

    level: Level
    usable: int
    projected: Projection | None
    usable_by_size: dict[str, int]
    projected_by_size: dict[str, Projection | None]
    lots: tuple[LotYield, ...]


def segment_grafts(
    state: CaseState,
) -> tuple[dict[str, tuple[Counter[str], ...]], tuple[tuple[str, Counter[str]], ...]]:
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
            case ShiftChanged(left=left):
                for lot in [lot for lot, whose in in_hand if whose == left]:
                    in_hand.setdefault((lot, who), Counter()).update(in_hand.pop((lot, left)))
            case SegmentCut(lot=lot):
                mine = [(lot, who)] if (lot, who) in in_hand else [key for key in in_hand if key[0] == lot]
                found.setdefault(lot, []).append(sum((in_hand.pop(key) for key in mine), Counter()))
    finished = {lot: tuple(segments) for lot, segments in found.items()}
    return finished, tuple((lot, grafts) for (lot, _), grafts in in_hand.items())


def yields(state: CaseState, level: Level) -> Yield:
    """What the lots of the plan will have given in the end, with t limits at ``level``.

    Usable as on the screens: in dishes, on the bench or placed. What was divided, given up or missed so far
    is added to what the segments give; what may still be is not foreseen. Lots are added as strata:
    variances add up, with Satterthwaite's degrees of freedom rounded down. No projection is below what is
    usable already.
    """
    segments, in_hand = segment_grafts(state)
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
        planned, mine = state.plan.lot_by_key[lot].segments, segments.get(lot, ())
        if planned is None:
            return now, None
        if len(mine) >= planned:
            return now, ClusterTotal(now, 0.0, 0)
        estimate = cluster_total([sum(each[size] for size in chosen) for each in mine], planned)
        if estimate is None:
            return now, None
        since = now - sum(cut[lot, size] for size in chosen)
        return now, ClusterTotal(estimate.total + since, estimate.variance, estimate.degrees)

    def projected(chosen: Sequence[str], lots: Sequence[str]) -> tuple[int, Projection | None]:
        each = [whole(lot, chosen) for lot in lots]
        now = sum(count for count, _ in each)
        known = [estimate for _, estimate in each if estimate is not None]
        return now, _with_limits(known, now, level) if len(known) == len(each) else None

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


def _with_limits(estimates: Sequence[ClusterTotal], usable: int, level: Level) -> Projection:
    """Estimates of lots added up.

    Degrees of freedom (Σv)² / Σ(v²/degrees): Satterthwaite, Biometrics Bull 1946;2:110–114 (from memory).
    """
    total = sum(each.total for each in estimates)
    variance = sum(each.variance for each in estimates)
    half = 0.0
    if variance > 0:
        degrees = variance**2 / sum(each.variance**2 / each.degrees for each in estimates if each.degrees)
        half = t_quantile(level, max(1, int(degrees + 1e-9))) * sqrt(variance)
    return Projection(max(usable, total), max(usable, total - half), max(usable, total + half))
