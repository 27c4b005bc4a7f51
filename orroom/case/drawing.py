"""Where the tally takes grafts from when somebody places, issues, returns, divides or discards them.

The bench before the dishes where both may serve, the oldest lot first. What the tally does not hold is drawn
all the same, since it did happen: the last place in question goes below zero, and the case has a mismatch.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from orroom.case.events import Drawn, GraftsCut, HarvestStarted
from orroom.case.state import CaseState, LotClock, Stock, Tally
from orroom.case.terms import Place


def lots_oldest_first(tally: Tally) -> tuple[str, ...]:
    """All lots of plan and record: those with a known harvest by its time, then the others by key."""
    keys = set(tally.lots) | {key.lot for key in tally.stock}
    if tally.plan is not None:
        keys |= set(tally.plan.lot_by_key)

    def age(lot: str) -> tuple[bool, int, str]:
        started = tally.lots.get(lot, LotClock()).started_at_ms
        return (started is None, started or 0, lot)

    return tuple(sorted(keys, key=age))


def lot_in_hand(tally: Tally) -> str:
    """The lot that is being cut, by the record: the latest one harvested, else the plan's first."""
    started = [lot for lot in lots_oldest_first(tally) if tally.lots.get(lot, LotClock()).started_at_ms]
    if started:
        return started[-1]
    return tally.plan.lots[0].key if tally.plan else "A"


def lot_cut_by(state: CaseState, who: str) -> str:
    """The lot that somebody goes on cutting: the one they cut last, unless a harvest was entered since."""
    for entry in reversed(state.standing()):
        match entry.event:
            case GraftsCut(lot=lot) if entry.stamp.who == who:
                return lot
            case HarvestStarted():
                break
    return lot_in_hand(state.tally)


def draw(tally: Tally, size: str, count: int, lot: str | None, places: Sequence[Place]) -> tuple[Drawn, ...]:
    """``count`` grafts of ``size`` from ``places`` in turn, of ``lot`` or of any lot, oldest first."""
    lots = (lot,) if lot is not None else lots_oldest_first(tally)
    parts: list[Drawn] = []
    left = count
    for place in places:
        for each in lots:
            taken = min(left, max(0, tally.stock.get(Stock(size, each, place), 0)))
            if taken > 0:
                parts.append(Drawn(lot=each, place=place, count=taken))
                left -= taken
    if left > 0:
        short = Drawn(lot=lot or _likeliest_lot(tally, size), place=places[-1], count=left)
        parts.append(short)
    return _merged(parts)


def _likeliest_lot(tally: Tally, size: str) -> str:
    """The lot an uncounted graft most likely came from: the latest one that has this size."""
    having = {key.lot for key in tally.stock if key.size == size and key.account == "cut"}
    for lot in reversed(lots_oldest_first(tally)):
        if lot in having:
            return lot
    return lot_in_hand(tally)


def _merged(parts: Iterable[Drawn]) -> tuple[Drawn, ...]:
    counts: dict[tuple[str, Place], int] = {}
    for part in parts:
        counts[part.lot, part.place] = counts.get((part.lot, part.place), 0) + part.count
    return tuple(Drawn(lot=lot, place=place, count=count) for (lot, place), count in counts.items())
