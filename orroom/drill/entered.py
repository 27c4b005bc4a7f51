"""What a drill's record says was entered, as the items of a sheet; corrections are worked in."""

from collections.abc import Iterator

from msgspec import Struct

from orroom.case import events as e
from orroom.case.placings import zone_of
from orroom.case.state import CaseState
from orroom.drill.sheet import Item, Kind, group_order


class Entered(Struct, frozen=True):
    """One item, by which entry of the record and when (UTC ms)."""

    seq: int
    at_ms: int
    item: Item


def entered(state: CaseState, kind: Kind) -> tuple[Entered, ...]:
    """All items in the order of the record, of a count group by group; what was undone is not among them."""
    found = list(_found(state, kind))
    return tuple(sorted(found, key=lambda each: group_order(each.item)) if kind == "count" else found)


def set_right(state: CaseState) -> int:
    """How many entries were undone, cancelled or moved by who made them."""
    kinds = (e.EntryCorrected, e.PlacingMoved)
    return sum(isinstance(each.event, kinds) for each in state.standing())


def _found(state: CaseState, kind: Kind) -> Iterator[Entered]:
    counts = 0
    for entry in state.standing():
        match entry.event:
            case e.GraftsCut(size=size, count=count) if kind == "cutting":
                for _ in range(count):  # twelve in one go are twelve
                    yield _of(entry, Item("cut", size))
            case e.GraftsDiscarded(size=size, count=count, reason=reason, harvest=str()) if kind == "cutting":
                for _ in range(count):
                    yield _of(entry, Item("spoilt", size, reason=reason))
            case e.GraftsDiscarded(size=size, count=count, reason=reason, lane=lane) if kind != "count":
                yield _of(entry, Item("discarded", size, count, lane=lane, reason=reason))
            case e.GraftsPlaced(size=size, count=count, lane=lane) if kind == "placing":
                yield _of(entry, Item("placed", size, count, zone_of(state, entry), lane))
            case e.FinalCounted(groups=groups, recount_of=None) if kind == "count":
                counts += 1
                for each in groups:
                    item = Item(
                        "counted", each.size, each.found, harvest=each.harvest, place=each.place, by=counts
                    )
                    yield _of(entry, item)


def _of(entry: e.Entry, item: Item) -> Entered:
    return Entered(entry.seq, entry.stamp.at_ms, item)
