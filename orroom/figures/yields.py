"""How many grafts the strip will give, projected from the segments that are finished and in hand.

Segments are taken as begun in random order. If the ends of a strip give less than its middle and are cut
last, the projection is too high.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from math import sqrt
from typing import Final, Literal, final

from msgspec import Struct
from msgspec.structs import replace

from orroom.case.events import GraftsCut, HandedOver, SegmentCut
from orroom.case.state import CaseState, once
from orroom.figures.clusters import ClusterTotal, cluster_total, part_total, ratio_total, t_quantile
from orroom.figures.counts import USABLE

Level = Literal[80, 95]  # two-sided, in per cent

#: This many segments of each harvest must be finished before a projection changes anything: two may agree by
#: chance. Common practice, no source.
FEWEST_TO_ACT: Final = 3


@final
class Projection(Struct, frozen=True):
    """Usable grafts in the end: the best guess and its range. All three are the count once all is cut.

    ``error`` is the standard error of the guess, with this many degrees of freedom; 0 once all is cut.
    """

    grafts: float
    low: float
    high: float
    error: float = 0.0
    degrees: float = 0.0


class HarvestYield(Struct, frozen=True):
    """One harvest: usable grafts now and projected, by size and in all; ``None`` where not known.

    Grafts that were kept from an earlier case have no segments: 0.
    """

    harvest: str
    segments: int | None
    finished: int
    usable: int
    projected: Projection | None
    usable_by_size: dict[str, int]
    projected_by_size: dict[str, Projection | None]


class Yield(Struct, frozen=True):
    """All harvests of the plan together, by size and in all. ``None`` while one cannot be projected."""

    level: Level
    usable: int
    projected: Projection | None
    usable_by_size: dict[str, int]
    projected_by_size: dict[str, Projection | None]
    harvests: tuple[HarvestYield, ...]

    @property
    def enough(self) -> bool:
        """Whether enough segments of every harvest are finished for something to be done about it."""
        return all(
            harvest.segments is not None and harvest.finished >= min(FEWEST_TO_ACT, harvest.segments)
            for harvest in self.harvests
        )


_Segments = tuple[Mapping[str, tuple[Counter[str], ...]], tuple[tuple[str, Counter[str]], ...]]


@once
def segment_grafts(state: CaseState) -> _Segments:
    """By harvest, the grafts by size of each finished segment; then those of segments in hand.

    A finished segment has what the person who finished it cut from the harvest since finishing one before.
    A new person at a station takes over the segment in hand. A segment finished by somebody who has cut
    nothing of its harvest has what everybody had cut. What was spoilt while cutting does not count.
    """
    in_hand: dict[tuple[str, str], Counter[str]] = {}
    found: dict[str, list[Counter[str]]] = {}
    for entry in state.standing():
        who = entry.stamp.who
        match entry.event:
            case GraftsCut(harvest=harvest, size=size, count=count):
                if (harvest, who) not in in_hand:
                    in_hand[harvest, who] = Counter()
                in_hand[harvest, who][size] += count
            case HandedOver(left=left):
                for harvest in [harvest for harvest, whose in in_hand if whose == left]:
                    in_hand.setdefault((harvest, who), Counter()).update(in_hand.pop((harvest, left)))
            case SegmentCut(harvest=harvest):
                mine = (
                    [(harvest, who)]
                    if (harvest, who) in in_hand
                    else [key for key in in_hand if key[0] == harvest]
                )
                found.setdefault(harvest, []).append(sum((in_hand.pop(key) for key in mine), Counter()))
    finished = {harvest: tuple(segments) for harvest, segments in found.items()}
    return finished, tuple((harvest, grafts) for (harvest, _), grafts in in_hand.items())


def segment_lengths(state: CaseState) -> dict[str, tuple[float | None, ...]]:
    """By harvest, the lengths of its finished segments in mm, in the order of ``segment_grafts``."""
    found: dict[str, list[float | None]] = {}
    for entry in state.standing():
        if isinstance(entry.event, SegmentCut):
            found.setdefault(entry.event.harvest, []).append(entry.event.length_mm)
    return {harvest: tuple(lengths) for harvest, lengths in found.items()}


def yields(state: CaseState, level: Level, *, by_size: bool = True) -> Yield:
    """What the harvests of the plan will have given in the end, with t ranges at ``level``.

    Without ``by_size`` only in all: most of the work is in the sizes.

    By the length of its segments where the plan gives the harvest a length and every finished segment has one
    (``ratio_total``), else by their number (``cluster_total``), each size by its share of all that is cut
    (``part_total``). Lengths beyond the plan's make the strip as long as they are.

    Usable as on the screens: in dishes, with the placers or placed. What was divided, discarded or missed so
    far is added to what the segments give; what may still be is not foreseen. Harvests are added as strata:
    variances add up, with Satterthwaite's degrees of freedom. No projection is below what is usable already.
    """
    segments, in_hand = segment_grafts(state)
    lengths = segment_lengths(state)
    cut: Counter[tuple[str, str]] = Counter()
    for harvest, segment in [
        *((harvest, each) for harvest, mine in segments.items() for each in mine),
        *in_hand,
    ]:
        for size, count in segment.items():
            cut[harvest, size] += count
    usable: Counter[tuple[str, str]] = Counter()
    for key, count in state.tally.stock.items():
        if key.account in USABLE:
            usable[key.harvest, key.size] += count
    sizes = tuple(state.plan.size_by_key)
    shown = sizes if by_size else ()

    def whole(harvest: str, chosen: Sequence[str]) -> tuple[int, ClusterTotal | None]:
        now = sum(usable[harvest, size] for size in chosen)
        strip, mine = state.plan.harvest_by_key[harvest], segments.get(harvest, ())
        if harvest in state.plan.kept:  # cut before this case: nothing more comes
            return now, ClusterTotal(now, 0.0, 0, 0)
        if strip.segments is None:
            return now, None
        if len(mine) >= strip.segments:
            return now, ClusterTotal(now, 0.0, 0, strip.segments)
        given = [sum(each[size] for size in chosen) for each in mine]
        so_far = sum(cut[harvest, size] for size in chosen)
        long = [length for length in lengths.get(harvest, ()) if length is not None]
        estimate: ClusterTotal | None
        if strip.strip_length_mm is not None and len(long) == len(mine):
            whole_mm = max(strip.strip_length_mm, sum(long))
            estimate = ratio_total(given, long, strip.segments, whole_mm)
        else:
            open_ones = [each.total() for where, each in in_hand if where == harvest]
            estimate = cluster_total([each.total() for each in mine], strip.segments, open_ones)
            if estimate is not None and len(chosen) < len(sizes):
                all_cut = sum(count for (where, _), count in cut.items() if where == harvest)
                estimate = part_total(estimate, given, so_far / all_cut if all_cut else 0.0, strip.segments)
        if estimate is None:
            return now, None
        return now, replace(estimate, total=estimate.total + now - so_far)

    def projected(chosen: Sequence[str], harvests: Sequence[str]) -> tuple[int, Projection | None]:
        each = [whole(harvest, chosen) for harvest in harvests]
        now = sum(count for count, _ in each)
        known = [estimate for _, estimate in each if estimate is not None]
        return now, _with_range(known, now, level) if len(known) == len(each) else None

    def each_size(harvests: Sequence[str]) -> tuple[dict[str, int], dict[str, Projection | None]]:
        found = {size: projected([size], harvests) for size in shown}
        return {size: now for size, (now, _) in found.items()}, {
            size: then for size, (_, then) in found.items()
        }

    every = tuple(state.plan.harvest_by_key)
    harvests = tuple(
        HarvestYield(
            harvest,
            0 if harvest in state.plan.kept else state.plan.harvest_by_key[harvest].segments,
            len(segments.get(harvest, ())),
            *projected(sizes, [harvest]),
            *each_size([harvest]),
        )
        for harvest in every
    )
    return Yield(level, *projected(sizes, every), *each_size(every), harvests)


def _with_range(estimates: Sequence[ClusterTotal], usable: int, level: Level) -> Projection:
    """Estimates of harvests added up.

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
