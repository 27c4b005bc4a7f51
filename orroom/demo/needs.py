"""The totals of a simulated day: how much is placed, cut, divided and left over, and what goes wrong.

All of it is settled at the outset, so that in the end every zone has what the plan gives it.
"""

from collections import Counter, deque
from typing import Final, NamedTuple

from msgspec import Struct

from orroom.case.plan import Plan
from orroom.case.state import Stock
from orroom.demo.room import Room

#: By how much one zone is placed over plan, and how many grafts are cut without a tap.
SLIP: Final = 2
#: A size or zone of fewer grafts than this has nothing special happen to it.
ENOUGH: Final = 20
#: So much more is cut of a size that the plan allows to be divided.
TO_DIVIDE: Final = 0.05
SEGMENT_GRAFTS: Final = 90  #: cut at a time where the plan names no segments
BATCH: Final = (15, 25)
#: What the lead leaves in a dish that is still being filled.
RESERVE: Final = 3
DIVISIONS: Final = (("2", ("1", "1")), ("3", ("1", "2")), ("4", ("2", "2")), ("M", ("2", "2")))


class Division(NamedTuple):
    """Larger grafts that will be divided to make up for a shortage of smaller ones."""

    size: str
    into: tuple[str, ...]
    grafts: int


class Segment(NamedTuple):
    """A piece of a harvest, and the sizes that will be cut from it in turn."""

    harvest: str
    sizes: tuple[str, ...]
    entered: bool  #: whether its finish is entered: only where the plan names segments


class Batch(Struct, frozen=True):
    """Grafts of one size for one zone, with the placers together."""

    zone: str
    size: str
    grafts: int


class Needs:
    """What is still to be cut, divided and placed."""

    def __init__(self, room: Room) -> None:
        plan = room.plan
        self._room = room
        self.owed = Counter({(zone.key, size): n for zone in plan.zones for size, n in zone.planned.items()})
        self.in_hand: Counter[tuple[str, str]] = Counter()
        self.divisions = _divisions(room)
        self.untapped: Counter[str] = Counter(dict.fromkeys(_miscounted(plan, self.divisions), SLIP))
        if over := next((key for key, n in self.owed.items() if n >= ENOUGH), None):
            self.owed[over] += SLIP
        self.total = self.owed.total()
        self.uncut: Counter[str] = Counter({size: self._to_cut(size) for size in plan.size_by_key})
        self.segments = deque(_segments(room, self.uncut))
        self.segments_in_all = len(self.segments)

    def _to_cut(self, size: str) -> int:
        owed = self._owed(size)
        if not owed:
            return 0
        left_over = 0 if self.untapped[size] else 1 + round(owed * self._room.between(0.007, 0.018))
        if self._room.plan.size_by_key[size].divided_into:
            left_over += round(owed * TO_DIVIDE)
        return owed + left_over - self._from_divisions(size) - self.untapped[size]

    def _owed(self, size: str) -> int:
        return sum(n for (_, each), n in self.owed.items() if each == size)

    def _from_divisions(self, size: str) -> int:
        """What the divisions still to come add to a size, or take from it."""
        return sum(d.grafts * (d.into.count(size) - (d.size == size)) for d in self.divisions)

    @property
    def all_cut(self) -> bool:
        """Whether nothing is left to cut."""
        return not self.segments and not self.uncut.total()

    @property
    def all_placed(self) -> bool:
        """Whether every zone has what it was to get."""
        return not self.owed.total()

    @property
    def all_in_hand(self) -> bool:
        """Whether the placers have everything that is still to be placed."""
        return self.owed.total() == self.in_hand.total()

    @property
    def placed_share(self) -> float:
        """Which share of all grafts is placed."""
        return 1 - self.owed.total() / self.total if self.total else 1

    def on_hand(self, size: str) -> int:
        """What one can take from the dishes of a size."""
        tallied = self._room.state.tally.held("dish", size)
        return tallied + self.untapped[size] if self.all_cut else tallied - RESERVE

    def spare(self, size: str) -> int:
        """How many grafts of a size may still be lost without a zone going short."""
        tally = self._room.state.tally
        waiting = tally.held("dish", size) + tally.held("bench", size) + self.untapped[size]
        return waiting + self.uncut[size] + self._from_divisions(size) - self._owed(size)

    def next_batch(self) -> Batch | None:
        """What the lead hands out next: for the first zone in placing order, rather where nobody works."""
        busy = {zone for (zone, _), n in self.in_hand.items() if n}
        for zone in sorted(self._room.plan.zones, key=lambda zone: zone.key in busy):
            for size in zone.planned:
                grafts = self._batch_of(zone.key, size)
                if grafts:
                    return Batch(zone.key, size, grafts)
        return None

    def _batch_of(self, zone: str, size: str) -> int:
        """How many a batch would hold now, 0 while dish or sites do not allow a whole one."""
        left = self.owed[zone, size] - self.in_hand[zone, size]
        low, high = BATCH
        if left <= high:
            wanted = left
        elif left < low + high:
            wanted = -(-left // 2)
        else:
            wanted = self._room.rng.randint(low, high)
        grafts = min(wanted, self.on_hand(size), self._free_sites(zone))
        return grafts if grafts >= min(low, wanted) else 0

    def _free_sites(self, zone: str) -> int:
        tally = self._room.state.tally
        filled = sum(n for (each, _), n in tally.placed.items() if each == zone)
        taken = sum(n for (each, _), n in self.in_hand.items() if each == zone)
        return tally.sites.get(zone, 0) - filled - taken


def in_dish(room: Room, size: str, harvest: str) -> int:
    """What the tally has in the dish of a size and harvest."""
    return room.state.tally.stock.get(Stock(size, harvest, "dish"), 0)


def _divisions(room: Room) -> list[Division]:
    """A few single divisions of the first two kinds that the plan's sizes allow."""
    plan, kinds = room.plan, []
    for size, into in DIVISIONS:
        if all(each in plan.size_by_key and plan.planned(each) >= ENOUGH for each in (size, *into)):
            kinds.append((size, into))
    return [Division(size, into, room.rng.randint(1, 2)) for size, into in (kinds[:1] * 2 + kinds[1:2])]


def _miscounted(plan: Plan, divisions: list[Division]) -> list[str]:
    """The one size of which two taps are forgotten: the rarest, rather one that no division touches."""
    touched = {each for d in divisions for each in (d.size, *d.into)}
    sizes = [size for size in plan.size_by_key if plan.planned(size) >= ENOUGH]
    return sorted(sizes, key=lambda size: (size in touched, plan.planned(size)))[:1]


def _segments(room: Room, to_cut: Counter[str]) -> list[Segment]:
    """Everything to cut, in a natural mix, over all segments of all harvests in turn."""
    sizes = list(to_cut.elements())
    room.rng.shuffle(sizes)
    harvests = room.plan.harvests
    shares = (
        [harvest.segments or 1 for harvest in harvests]
        if all(harvest.segments for harvest in harvests)
        else [1] * len(harvests)
    )
    found = []
    for harvest, grafts in zip(harvests, _parts(room, sizes, shares, 0), strict=True):
        pieces = harvest.segments or max(1, round(len(grafts) / SEGMENT_GRAFTS))
        parts = _parts(room, grafts, [1] * pieces, 0.12)
        found += [Segment(harvest.key, tuple(part), harvest.segments is not None) for part in parts]
    return found


def _parts(room: Room, sizes: list[str], shares: list[int], varied: float) -> list[list[str]]:
    """``sizes`` cut into parts of about these shares."""
    weights = [share * room.between(1 - varied, 1 + varied) for share in shares]
    parts, start, reached = [], 0, 0.0
    for weight in weights:
        reached += weight
        end = round(len(sizes) * reached / sum(weights))
        parts.append(sizes[start:end])
        start = end
    return parts
