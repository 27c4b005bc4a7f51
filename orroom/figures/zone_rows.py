"""How zones lie: rows from front to back. A plan has no coordinates: kind, side and order say it."""

from collections.abc import Sequence
from typing import Final, Generic, NamedTuple, Protocol, TypeVar, get_args

from orroom.case.terms import Side, ZoneKind

KINDS: Final[tuple[str, ...]] = get_args(ZoneKind)
#: Zones that lie to the outside of the row in front of which they come.
LATERAL: Final = ("temporal", "lateral-hump")
SIDES: Final[tuple[Side, ...]] = get_args(Side)


class _Zone(Protocol):
    @property
    def kind(self) -> ZoneKind | None: ...
    @property
    def side(self) -> Side | None: ...


AnyZone = TypeVar("AnyZone", bound=_Zone)


class Spot(NamedTuple, Generic[AnyZone]):
    """A zone, its number in placing order, and where it lies in its row, from 0 on the left to 2."""

    number: int
    zone: AnyZone
    column: int


Row = list[Spot[AnyZone]]


def rows_of(zones: Sequence[AnyZone], most_loose: int = 3) -> tuple[list[Row[AnyZone]], list[Row[AnyZone]]]:
    """Zones in placing order as rows by kind and order; then those without a side, so many to a row.

    A zone without a kind lies where the one placed before it does. A row is full when its side is taken, and
    a centre zone that comes after both sides lies behind them.
    """
    placed, rank = [], 0
    for number, zone in enumerate(zones, 1):
        rank = rank if zone.kind is None else KINDS.index(zone.kind)
        placed.append((rank, number, zone))
    rows: list[Row[AnyZone]] = []
    last_rank = -1
    for rank, number, zone in sorted(placed, key=lambda each: each[:2]):
        if zone.side is None:
            continue
        spot = Spot(number, zone, SIDES.index(zone.side))
        taken = {each.column for each in rows[-1]} if rows else set()
        if rank != last_rank or spot.column in taken or (spot.column == 1 and 2 in taken):
            rows.append([])
        rows[-1].append(spot)
        last_rank = rank
    loose = [(number, zone) for _, number, zone in placed if zone.side is None]
    in_rows = [loose[first : first + most_loose] for first in range(0, len(loose), most_loose)]
    return rows, [[Spot(*each, column) for column, each in enumerate(row)] for row in in_rows]


def with_lateral(rows: Sequence[Row[AnyZone]]) -> list[Row[AnyZone]]:
    """Rows of zones that lie to the sides join the row before them, on its outside."""
    found: list[Row[AnyZone]] = []
    for row in rows:
        beside = all(spot.zone.kind in LATERAL and spot.column != 1 for spot in row)
        if (
            found
            and beside
            and len(found[-1]) <= 2
            and all(each.zone.kind not in LATERAL for each in found[-1])
        ):
            left = [spot for spot in row if spot.column == 0]
            right = [spot for spot in row if spot.column == 2]
            found[-1] = [*left, *found[-1], *right]
        else:
            found.append(sorted(row, key=lambda spot: spot.column))
    return found
