"""Times out of the body of each lot and of all, between bounds that hold whichever lot each graft was of."""

from __future__ import annotations

from typing import NamedTuple

from orroom.case.drawing import lots_oldest_first
from orroom.case.harvests import out_since_ms
from orroom.case.state import CaseState
from orroom.figures.all_lots import of_all_lots
from orroom.figures.one_lot import of_one_lot
from orroom.figures.streams import streams
from orroom.figures.survival import Times


class OutOfBody(NamedTuple):
    """The times of one lot, or of all together (``lot`` is ``None``).

    Quartiles are of the time out at placing, waiting grafts censored. Shares are of the grafts placed or
    waiting that were or already have been out for longer. Grafts given up or not found are in none of these.
    """

    lot: str | None
    times: Times


def out_of_body(state: CaseState, now_ms: int) -> tuple[OutOfBody, ...]:
    """Each lot whose time out is known and that may have a graft placed or waiting, oldest first; then all.

    All together only where that is known of every lot that may.
    """
    since = out_since_ms(state)
    lots = sorted(lots_oldest_first(state.tally), key=lambda lot: (lot not in since, since.get(lot, 0), lot))
    found = streams(state.standing(), {lot: number for number, lot in enumerate(lots)})
    known = [lot for lot in lots if lot in since]
    told = [
        OutOfBody(lot, times)
        for number, lot in enumerate(known)
        if (times := of_one_lot(found, number, since[lot], now_ms)) is not None
    ]
    if told and all(number < len(known) for stream in found for number in stream.may_be):
        told.append(OutOfBody(None, of_all_lots(found, [since[lot] for lot in known], now_ms)))
    return tuple(told)
