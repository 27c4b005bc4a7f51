"""How many grafts and hairs there are, by size, zone and person, at each stage."""

from collections import Counter, defaultdict
from collections.abc import Mapping
from typing import Final, get_args

from msgspec import Struct
from msgspec.structs import astuple

from orroom.case.plan import Zone
from orroom.case.state import CaseState, Tally, once
from orroom.case.terms import Account

#: The field of each account of the tally.
FIELDS: Final[dict[Account, str]] = {name: name for name in get_args(Account)} | {
    "cut": "cut_in_all",
    "bench": "with_placers",
    "missing": "not_found",
}

#: Accounts of grafts that were cut, or kept from an earlier case, and not discarded.
USABLE: Final[tuple[Account, ...]] = ("dish", "bench", "placed", "left_at_end")


class SizeCount(Struct, frozen=True):
    """Grafts of one size, or of all sizes, through all stages. Counts are grafts, ``hairs_…`` hairs.

    ``kept_before + cut_in_all + divided_in = dish + with_placers + placed + discarded + divided_out +
    not_found + left_at_end`` holds for each.
    ``owed`` is what zones still lack against plan; what one zone got over plan pays for no other zone.
    ``…_short`` is how many more grafts of some harvest were taken from there than were ever there.
    """

    planned: int
    kept_before: int
    cut_in_all: int
    divided_in: int
    divided_out: int
    discarded: int
    not_found: int
    dish: int
    with_placers: int
    left_at_end: int
    placed: int
    owed: int
    hairs_planned: float
    hairs_placed: float
    hairs_usable: float
    dish_short: int
    with_placers_short: int

    @property
    def short(self) -> int:
        """By how many grafts counts are below zero that ``waiting`` and ``usable`` are sums of."""
        return self.dish_short + self.with_placers_short

    @property
    def usable(self) -> int:
        """Grafts not discarded: in dishes, with the placers, placed, or left at the end."""
        return self.dish + self.with_placers + self.placed + self.left_at_end

    @property
    def waiting(self) -> int:
        """Grafts out of the body and not placed: in dishes or with the placers."""
        return self.dish + self.with_placers


@once
def by_size(state: CaseState) -> Mapping[str, SizeCount]:
    """One ``SizeCount`` for each size of the plan, in the plan's order."""
    held: defaultdict[str, Counter[Account]] = defaultdict(Counter)
    short: defaultdict[str, Counter[Account]] = defaultdict(Counter)
    for stock, count in state.tally.stock.items():
        held[stock.size][stock.account] += count
        short[stock.size][stock.account] += max(0, -count)
    return {
        size.key: _size_count(state, size.key, size.hairs, held[size.key], short[size.key])
        for size in state.plan.sizes
    }


def _size_count(
    state: CaseState, size: str, hairs: float, held: Counter[Account], short: Counter[Account]
) -> SizeCount:
    planned = owed = 0
    for zone in state.plan.zones:
        wanted = zone.planned.get(size, 0)
        planned += wanted
        owed += max(0, wanted - state.tally.placed.get((zone.key, size), 0))
    dish, with_placers, placed = held["dish"], held["bench"], held["placed"]
    left_at_end = held["left_at_end"]
    return SizeCount(
        planned=planned,
        kept_before=held["kept_before"],
        cut_in_all=held["cut"],
        divided_in=held["divided_in"],
        divided_out=held["divided_out"],
        discarded=held["discarded"],
        not_found=held["missing"],
        dish=dish,
        with_placers=with_placers,
        left_at_end=left_at_end,
        placed=placed,
        owed=owed,
        hairs_planned=planned * hairs,
        hairs_placed=placed * hairs,
        hairs_usable=(dish + with_placers + placed + left_at_end) * hairs,
        dish_short=short["dish"],
        with_placers_short=short["bench"],
    )


def total(counts: Mapping[str, SizeCount]) -> SizeCount:
    """All sizes together."""
    return SizeCount(*map(sum, zip(*map(astuple, counts.values()), strict=True)))


def hairs_per_graft(hairs: float, grafts: int) -> float | None:
    """Mean hairs per graft, ``None`` without a graft."""
    return hairs / grafts if grafts else None


class ZoneCount(Struct, frozen=True):
    """One zone: grafts planned, placed and owed by size, and sites.

    ``extra`` are those placed beyond the plan at the end, when they were left.
    """

    zone: Zone
    planned: dict[str, int]
    placed: dict[str, int]
    extra: int
    sites_made: int | None
    reseated: int
    hairs_planned: float
    hairs_placed: float

    @property
    def planned_total(self) -> int:
        """Grafts planned for the zone."""
        return sum(self.planned.values())

    @property
    def placed_total(self) -> int:
        """Grafts placed into the zone."""
        return sum(self.placed.values())

    @property
    def owed(self) -> dict[str, int]:
        """Grafts still owed by size, never below 0."""
        return {size: max(0, self.planned[size] - self.placed[size]) for size in self.planned}

    @property
    def owed_total(self) -> int:
        """Grafts still owed to the zone."""
        return sum(self.owed.values())

    @property
    def within_plan(self) -> int:
        """Grafts placed that the plan wants here, size by size: what is over plan pays for no other size."""
        return self.planned_total - self.owed_total

    @property
    def over_total(self) -> int:
        """Grafts placed over plan, size by size."""
        return sum(max(0, self.placed[size] - self.planned[size]) for size in self.planned)

    @property
    def misplaced(self) -> frozenset[str]:
        """Sizes placed that are not meant to go here."""
        return frozenset(
            size for size, count in self.placed.items() if count > 0 and not self.zone.takes(size)
        )

    @property
    def sites_free(self) -> int | None:
        """Sites made and not yet filled; negative if more were placed than sites entered.

        ``None`` where none are entered, and where placing makes them.
        """
        if self.sites_made is None or self.zone.stick_and_place:
            return None
        return self.sites_made - self.placed_total


@once
def by_zone(state: CaseState) -> tuple[ZoneCount, ...]:
    """One ``ZoneCount`` for each zone, in placing order."""
    return tuple(zone_count(state, zone) for zone in state.plan.zones)


def zone_count(state: CaseState, zone: Zone) -> ZoneCount:
    """The counts of one zone."""
    sizes, tally = state.plan.sizes, state.tally
    planned = {str(size.key): zone.planned.get(size.key, 0) for size in sizes}
    placed = {str(size.key): tally.placed.get((zone.key, size.key), 0) for size in sizes}
    made = tally.sites.get(zone.key)
    return ZoneCount(
        zone=zone,
        planned=planned,
        placed=placed,
        extra=sum(count for (where, _), count in tally.extra.items() if where == zone.key),
        sites_made=max(made or 0, sum(placed.values())) if zone.stick_and_place else made,
        reseated=tally.reseated.get(zone.key, 0),
        hairs_planned=sum(planned[size.key] * size.hairs for size in sizes),
        hairs_placed=sum(placed[size.key] * size.hairs for size in sizes),
    )


def done_by(tally: Tally, who: str, what: str) -> dict[str, int]:
    """What a person did (``cut``, ``placed``, ``divided``, ``discarded``, ``discarded cutting``), by size.

    Sizes in their order, not in that of the tally, which differs between two folds of the same record.
    """
    mine = {
        size: count for (person, kind, size), count in tally.done.items() if (person, kind) == (who, what)
    }
    return dict(sorted(mine.items()))
