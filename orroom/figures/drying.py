"""How long grafts lay on the bench without being wetted."""

from __future__ import annotations

from collections import Counter, deque
from dataclasses import dataclass

from orroom.case.events import (
    CareGiven,
    DishCounted,
    GraftsDiscarded,
    GraftsIssued,
    GraftsPlaced,
    GraftsReturned,
)
from orroom.case.state import CaseState
from orroom.case.terms import BENCH_CARE


@dataclass(frozen=True, slots=True)
class Dried:
    """So many grafts of a size and lot: their longest time on the bench without being wetted (ms)."""

    size: str
    lot: str
    grafts: int
    longest_ms: int
    still_there: bool


@dataclass(frozen=True, slots=True)
class Drying:
    """All grafts that were on the bench: how many, the longest drying (ms), how many over the limit."""

    grafts: int
    longest_ms: int
    over_limit: int
    share_over_limit: float


@dataclass(slots=True)
class _Batch:
    grafts: int
    since_ms: int
    longest_ms: int = 0

    def dried_ms(self, at_ms: int) -> int:
        return max(self.longest_ms, at_ms - self.since_ms)


def dried(state: CaseState, now_ms: int) -> tuple[Dried, ...]:
    """Every batch that was on the bench, in the order it left; then what still lies there at ``now_ms``.

    Grafts of one size and lot leave the bench in the order they came. Wetting the bench starts their time
    anew. Grafts that are said to have left before anybody said that they came are not there when they come.
    """
    bench: dict[tuple[str, str], deque[_Batch]] = {}
    owed: Counter[tuple[str, str]] = Counter()
    found: list[Dried] = []

    def came(size: str, lot: str, count: int, at_ms: int) -> None:
        gone = min(count, owed[size, lot])
        owed[size, lot] -= gone
        if count > gone:
            bench.setdefault((size, lot), deque()).append(_Batch(count - gone, at_ms))

    def left(size: str, lot: str, count: int, at_ms: int) -> None:
        batches = bench.get((size, lot), deque())
        while count > 0 and batches:
            first = batches[0]
            gone = min(count, first.grafts)
            found.append(Dried(size, lot, gone, first.dried_ms(at_ms), still_there=False))
            first.grafts -= gone
            count -= gone
            if not first.grafts:
                batches.popleft()
        owed[size, lot] += max(0, count)

    for entry in state.standing():
        at = entry.stamp.at_ms
        match entry.event:
            case GraftsIssued(size=size, drawn=drawn):
                for part in drawn:
                    came(size, part.lot, part.count, at)
            case (
                GraftsPlaced(size=size, drawn=drawn)
                | GraftsReturned(size=size, drawn=drawn)
                | GraftsDiscarded(size=size, drawn=drawn)
            ):
                for part in drawn:
                    if part.place == "bench":
                        left(size, part.lot, part.count, at)
            case DishCounted(size=size, lot=lot, place="bench", tallied=tallied, found=counted):
                left(size, lot, tallied - counted, at)
                came(size, lot, counted - tallied, at)
            case CareGiven(care=care) if care == BENCH_CARE:
                for batch in (each for batches in bench.values() for each in batches):
                    batch.longest_ms = batch.dried_ms(at)
                    batch.since_ms = at
    for (size, lot), batches in bench.items():
        found += [Dried(size, lot, each.grafts, each.dried_ms(now_ms), still_there=True) for each in batches]
    return tuple(found)


def drying(state: CaseState, now_ms: int) -> Drying | None:
    """All drying times against the plan's limit in force, or ``None`` if no graft was ever on the bench."""
    batches = [each for each in dried(state, now_ms) if each.grafts > 0]
    grafts = sum(each.grafts for each in batches)
    if not grafts:
        return None
    limit_ms = state.plan.limits.bench_seconds * 1000
    over = sum(each.grafts for each in batches if each.longest_ms > limit_ms)
    return Drying(grafts, max(each.longest_ms for each in batches), over, over / grafts)
