"""How long grafts have been out of the body, by lot."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from msgspec import Struct

from orroom.case.drawing import lots_oldest_first
from orroom.case.events import GraftsPlaced
from orroom.case.state import Account, CaseState, LotClock


class LotAge(Struct, frozen=True):
    """One lot: when it left the body, what of it waits, and how long that has been out (ms).

    ``out_ms`` is ``None`` while the harvest has no start, and once nothing of the lot waits any more.
    """

    lot: str
    started_at_ms: int | None
    ended_at_ms: int | None
    cut: int
    waiting: int
    segments_done: int
    segments: int | None
    out_ms: int | None


def lot_ages(state: CaseState, now_ms: int) -> tuple[LotAge, ...]:
    """All lots that left the body or were cut from, oldest first.

    Every graft of a lot left the body with it, so the oldest waiting graft of a lot is as old as the lot.
    A lot that is not fully cut waits too: as tissue. In a closed case nothing waits after the work ended.
    """
    now_ms = counted_to_ms(state, now_ms)
    ages, held = [], state.once(_by_lot)
    for lot in lots_oldest_first(state.tally):
        clock = state.tally.lots.get(lot, LotClock())
        cut = held[lot, "cut"]
        if clock.started_at_ms is None and not cut:
            continue
        planned = state.plan.lot_by_key.get(lot)
        segments = planned.segments if planned else None
        waiting = held[lot, "dish"] + held[lot, "bench"]
        uncut = not cut or (segments is not None and len(clock.segments) < segments)
        out = None
        if clock.started_at_ms is not None and (waiting > 0 or uncut):
            out = now_ms - clock.started_at_ms
        ages.append(
            LotAge(
                lot=lot,
                started_at_ms=clock.started_at_ms,
                ended_at_ms=clock.ended_at_ms,
                cut=cut,
                waiting=waiting,
                segments_done=len(clock.segments),
                segments=segments,
                out_ms=out,
            )
        )
    return tuple(ages)


def counted_to_ms(state: CaseState, now_ms: int) -> int:
    """Until when time out of the body is counted (ms): now; once the case is closed, the end of the work."""
    if not state.tally.signed_off:
        return now_ms
    from orroom.figures.work import end_of_work_ms  # no station needs it before

    return min(now_ms, end_of_work_ms(state))


def _by_lot(state: CaseState) -> Counter[tuple[str, Account]]:
    held: Counter[tuple[str, Account]] = Counter()
    for stock, count in state.tally.stock.items():
        held[stock.lot, stock.account] += count
    return held


def oldest_out(ages: Sequence[LotAge]) -> LotAge | None:
    """The lot whose waiting grafts have been out longest, or ``None`` when nothing waits."""
    return max((age for age in ages if age.out_ms is not None), key=lambda age: age.out_ms or 0, default=None)


def lots_without_harvest(ages: Sequence[LotAge]) -> tuple[str, ...]:
    """The lots of which grafts or tissue wait though no harvest was entered: how long is not known."""
    return tuple(
        age.lot
        for age in ages
        if age.started_at_ms is None and (age.waiting or age.segments_done < (age.segments or 0))
    )


class TimeOut(Struct, frozen=True):
    """How long the placed grafts of a lot had been out of the body when they were placed (ms)."""

    lot: str
    grafts: int
    mean_ms: float
    longest_ms: int


def times_out_at_placing(state: CaseState) -> tuple[TimeOut, ...]:
    """By lot with a known harvest, oldest lot first; the tally's own drawing says which lot was placed."""
    placed: dict[str, list[tuple[int, int]]] = {}
    for entry in state.standing():
        if isinstance(entry.event, GraftsPlaced):
            for part in entry.event.drawn:
                started = state.tally.lots.get(part.lot, LotClock()).started_at_ms
                if started is not None:
                    placed.setdefault(part.lot, []).append((entry.stamp.at_ms - started, part.count))
    result = []
    for lot in lots_oldest_first(state.tally):
        if times := placed.get(lot):
            count = sum(each for _, each in times)
            mean = sum(out * each for out, each in times) / count
            result.append(TimeOut(lot, count, mean, max(out for out, _ in times)))
    return tuple(result)
