"""Which zone could be placed and what cut next, by the plan's order and by what waits. Suggestions only."""

from itertools import pairwise

from msgspec import Struct

from orroom.case.state import CaseState, once
from orroom.figures.counts import ZoneCount, by_size, by_zone
from orroom.figures.lanes import held_in
from orroom.figures.wording import several

#: One graft of a size in a sentence, and more of them.
NAMES = {
    "1": ("one", "ones"),
    "2": ("two", "twos"),
    "3": ("three", "threes"),
    "4": ("four", "fours"),
    "M": ("multi-unit", "multi-units"),
}
_SIDES = {"left", "right"}


def sized(count: int, size: str) -> str:
    """Grafts of a size in a sentence: ``44 ones``, ``1 multi-unit``."""
    return several(count, *NAMES[size])


class NextZone(Struct, frozen=True):
    """A zone's number in placing order (from 0) and key, the size of which most can go in, and why."""

    number: int
    zone: str
    size: str
    reason: str


def next_zone(
    state: CaseState, lane: str | None = None, others: frozenset[str] = frozenset()
) -> NextZone | None:
    """The first zone in placing order that is owed a size of which grafts wait in dishes or with the placers.

    A zone whose sites are entered must have free ones. Of a left and right pair that can both be placed, the
    one of which less is placed (as a share of its plan) goes first, so that both are kept level. ``None``
    where nothing that is owed can go in. Common practice, no source.

    For a ``lane`` what waits is in a dish or in that lane, and zones where ``others`` place are left to them
    as long as there is another one.
    """
    waiting = _waiting(state, lane)
    zones = by_zone(state)
    can = {number: _size(zone, waiting) for number, zone in enumerate(zones)}
    sizes = {number: size for number, size in can.items() if size is not None}
    alone = {number: size for number, size in sizes.items() if zones[number].zone.key not in others}
    sizes = alone or sizes
    if not sizes:
        return None
    first = min(sizes)
    chosen = _other_side(zones).get(first, first)
    if chosen not in sizes or _share(zones[chosen]) >= _share(zones[first]):
        chosen = first
    behind = "" if chosen == first else f", behind {zones[first].zone.label}"
    return NextZone(
        number=chosen,
        zone=zones[chosen].zone.key,
        size=sizes[chosen],
        reason=_reason(zones[chosen], sizes[chosen], waiting) + behind,
    )


class Wanted(Struct, frozen=True):
    """The size that zones will lack first: a zone's key, grafts it is owed, and how many it will ``lack``."""

    zone: str
    size: str
    owed: int
    lack: int


@once
def wanted_next(state: CaseState) -> Wanted | None:
    """What to cut next: what the first zone in placing order lacks most that waiting grafts do not fill.

    What waits goes to the zones in the order in which ``next_zone`` suggests them. ``None`` where enough of
    every size waits, or nothing is owed. Common practice, no source.
    """
    left = _waiting(state, None)
    for zone in by_zone(state):
        lacking = {size: owed - max(0, left[size]) for size, owed in zone.owed.items()}
        size = max(lacking, key=lambda each: lacking[each], default="")
        if size and lacking[size] > 0:
            return Wanted(zone.zone.key, size, zone.owed[size], lacking[size])
        for each, owed in zone.owed.items():
            left[each] -= owed
    return None


def _waiting(state: CaseState, lane: str | None) -> dict[str, int]:
    """Grafts by size that could be placed: in dishes, and with the placers or in one ``lane``."""
    counts = by_size(state)
    if lane is None:
        return {size: count.waiting for size, count in counts.items()}
    held = held_in(state, lane)
    return {size: count.dish + held.get(size, 0) for size, count in counts.items()}


def _size(zone: ZoneCount, waiting: dict[str, int]) -> str | None:
    """The size of which most can go into a zone now, the plan's first of equals; ``None`` if none can."""
    if zone.sites_free is not None and zone.sites_free <= 0:
        return None
    can = {size: min(owed, waiting[size]) for size, owed in zone.owed.items()}
    most = max(can, key=lambda size: can[size])
    return most if can[most] > 0 else None


def _other_side(zones: tuple[ZoneCount, ...]) -> dict[int, int]:
    """Of each zone of a pair the number of the other: left and right of one kind, next to each other."""
    pairs: dict[int, int] = {}
    for (number, one), (_, other) in pairwise(enumerate(zones)):
        sides = {one.zone.side, other.zone.side}
        if sides == _SIDES and one.zone.kind == other.zone.kind and number not in pairs:
            pairs |= {number: number + 1, number + 1: number}
    return pairs


def _share(zone: ZoneCount) -> float:
    """How much of a zone's plan is placed; one without a plan is done."""
    return zone.within_plan / zone.planned_total if zone.planned_total else 1.0


def _reason(zone: ZoneCount, size: str, waiting: dict[str, int]) -> str:
    """``second line left, 60 ones owed and 75 wait, 63 sites free``."""
    verb = "waits" if waiting[size] == 1 else "wait"
    words = f"{zone.zone.label}, {sized(zone.owed[size], size)} owed and {waiting[size]:,} {verb}"
    return words if zone.sites_free is None else f"{words}, {several(zone.sites_free, 'site')} free"
