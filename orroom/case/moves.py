"""What an entry moves: counts of the tally, and grafts to the placers or from them."""

from collections.abc import Callable, Mapping
from functools import cache
from operator import attrgetter
from types import MappingProxyType
from typing import Any

from msgspec import Struct

from orroom.case import events as e
from orroom.case.state import PlacersMove, Stock, add
from orroom.case.terms import Account, Fate, Place
from orroom.case.traits import Trait, fields_with

_NOTHING: Mapping[Any, int] = MappingProxyType({})


class Moved(Struct, frozen=True):
    """What an entry adds to the counts of a tally; the same with a minus sign takes it back."""

    stock: Mapping[Stock, int] = _NOTHING
    placed: Mapping[tuple[str, str], int] = _NOTHING
    sites: Mapping[str, int] = _NOTHING
    reseated: Mapping[str, int] = _NOTHING
    done: Mapping[tuple[str, str, str], int] = _NOTHING
    settled: Mapping[tuple[str, str], int] = _NOTHING
    hand_counts: Mapping[tuple[str, str, Place], int] = _NOTHING
    fates: Mapping[tuple[str, str, Place, Fate], int] = _NOTHING
    extra: Mapping[tuple[str, str], int] = _NOTHING


@cache
def _size_and_drawn(kind: type[e.Event]) -> Callable[[e.Event], tuple[str, tuple[e.Drawn, ...]]]:
    """How the size of an event of this kind is read, and the grafts that it drew on."""
    return attrgetter(*(fields_with(kind, trait)[0].name for trait in (Trait.SIZE, Trait.DRAWN)))


def _brought(event: e.Event, instead: Account | None = None) -> dict[Stock, int]:
    """Drawn grafts leave where they were and arrive where such an event brings them, in the same harvest.

    Or ``instead`` in another account.
    """
    moves: dict[Stock, int] = {}
    if (to := instead or event.does.brings_to) is not None:
        size, drawn = _size_and_drawn(type(event))(event)
        for part in drawn:
            add(moves, {Stock(size, part.harvest, part.place): -part.count})
            add(moves, {Stock(size, part.harvest, to): part.count})
    return moves


def moved_by(who: str, event: e.Event) -> Moved:
    """The counts that an event of ``MOVING`` moves when ``who`` made it; an event of another kind none."""
    match event:
        case e.GraftsCut(size=size, harvest=harvest, count=count):
            stock = {Stock(size, harvest, "cut"): count, Stock(size, harvest, "dish"): count}
            return Moved(stock=stock, done={(who, "cut", size): count})
        case e.GraftsDiscarded(size=size, count=count, harvest=str(harvest)):
            stock = {Stock(size, harvest, "cut"): count, Stock(size, harvest, "discarded"): count}
            return Moved(stock=stock, done={(who, "discarded cutting", size): count})
        case e.GraftsDiscarded(size=size, count=count):
            return Moved(stock=_brought(event), done={(event.by or who, "discarded", size): count})
        case e.GraftsDivided(size=size, into=into, count=count, drawn=drawn):
            stock = _brought(event)
            for part in drawn:
                for piece in into:
                    add(stock, {Stock(piece, part.harvest, "divided_in"): part.count})
                    add(stock, {Stock(piece, part.harvest, "dish"): part.count})
            return Moved(stock=stock, done={(who, "divided", size): count})
        case e.GraftsPlaced(zone=zone, size=size, count=count):
            placed = {(zone, size): count}
            return Moved(
                stock=_brought(event), placed=placed, done={(event.by or who, "placed", size): count}
            )
        case e.PlacingMoved(from_zone=before, zone=zone, size=size, count=count):
            placed = {(before, size): -count}
            add(placed, {(zone, size): count})
            return Moved(placed=placed)
        case e.DishCounted(size=size, harvest=harvest, place=place, tallied=tallied, found=found):
            more = found - tallied
            stock = {Stock(size, harvest, place): more, Stock(size, harvest, "missing"): -more}
            settled = {(size, harvest): -tallied} if tallied < 0 else _NOTHING
            return Moved(stock=stock, settled=settled, hand_counts={(size, harvest, place): 1})
        case e.FateGiven(size=size, fate=fate, drawn=drawn):
            fates = {(size, part.harvest, part.place, fate): part.count for part in drawn}
            if event.into_zone is None:
                return Moved(stock=_brought(event), fates=fates)
            placed = {(event.into_zone, size): event.count}
            done = {(event.by or who, "placed", size): event.count}
            return Moved(stock=_brought(event, "placed"), placed=placed, done=done, fates=fates, extra=placed)
        case e.SitesMade(zone=zone, count=count):
            return Moved(sites={zone: count})
        case e.GraftReseated(zone=zone, count=count):
            return Moved(reseated={zone: count})
    return Moved(stock=_brought(event))


def placers_moves_of(entry: e.Entry) -> list[PlacersMove]:
    """What an entry of ``AT_PLACERS`` brought to the placers or took from it."""
    seq, at_ms, event = entry.seq, entry.stamp.at_ms, entry.event
    if isinstance(event, e.DishCounted):
        more = event.found - event.tallied if event.place == "bench" else 0
        return [PlacersMove(seq, at_ms, event.size, event.harvest, more)] if more else []
    size, drawn = _size_and_drawn(type(event))(event)
    lane = event.lane if isinstance(event, e.BY_HAND) and not isinstance(event, e.SitesMade) else None
    moves = [
        PlacersMove(seq, at_ms, size, part.harvest, -part.count, lane)
        for part in drawn
        if part.place == "bench"
    ]
    if event.does.brings_to == "bench":
        moves += [PlacersMove(seq, at_ms, size, part.harvest, part.count, lane) for part in drawn]
    return moves
