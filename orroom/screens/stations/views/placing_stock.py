"""What waits by size on a placing screen: in dishes, with the placers, owed; whether a number fits it."""

from collections.abc import Callable, Mapping
from typing import NamedTuple

from orroom.case.state import CaseState
from orroom.case.terms import lane_name
from orroom.figures.counts import SizeCount, ZoneCount, by_size, total
from orroom.figures.lanes import held_in
from orroom.figures.next_zone import sized
from orroom.figures.wording import grafts, marked
from orroom.screens.stations.views.frame import NO_LANE, Glance
from orroom.screens.terminal.painting import Tone


class Amount(NamedTuple):
    """Grafts in words, and by how many a count in them is below zero."""

    text: str
    short: int = 0


class Stock(NamedTuple):
    """A row of what waits or is owed: its name, also in fewer words; by size, then in all."""

    names: tuple[str, ...]
    cells: list[Amount]
    whole: Amount
    tone: Tone = "plain"


def what_waits(counts: Mapping[str, SizeCount], *, one_row: bool) -> list[Stock]:
    """What is in dishes, what the placers have, what is owed; in ``one_row`` the first two as ``293+35``."""
    sizes, whole = list(counts.values()), total(counts)

    def row(names: tuple[str, ...], amount: Callable[[SizeCount], Amount], tone: Tone = "plain") -> Stock:
        return Stock(names, [amount(each) for each in sizes], amount(whole), tone)

    dishes = row(("in dishes",), lambda each: Amount(grafts(each.dish), each.dish_short))
    placers = row(
        ("with the placers",), lambda each: Amount(grafts(each.with_placers), each.with_placers_short)
    )
    both = row(
        ("in dishes + with the placers", "in dishes + placers", "dishes+placers"),
        lambda each: Amount(
            grafts(each.dish) + (f"{each.with_placers:+,}".replace("-", "−") if each.with_placers else ""),
            each.short,
        ),
    )
    owed = row(("still owed",), lambda each: Amount(grafts(each.owed)), "owed")
    return [both, owed] if one_row else [dishes, placers, owed]


class InHands(NamedTuple):
    """Grafts by size that entries of this station take before those in dishes: ``where`` they are."""

    where: str
    held: Mapping[str, int]


def in_hands(state: CaseState, glance: Glance) -> InHands:
    """What is in the chosen lane, or in none; without lanes all that the placers have."""
    if not state.tally.lanes:
        held = {size: count.with_placers for size, count in by_size(state).items()}
        return InHands("with the placers", held)
    lane = None if glance.lane in {"", NO_LANE} else glance.lane
    return InHands("in no lane" if lane is None else f"in {lane_name(lane)}", held_in(state, lane))


def too_many(typed: int, count: SizeCount, hands: InHands, zone: ZoneCount, size: str) -> tuple[str, ...]:
    """Why ``typed`` grafts placed in a zone would not add up, in words and in fewer of them, or nothing.

    There are fewer in dishes and in ``hands``, or the zone is owed fewer.
    """
    dishes, owed = count.dish + count.dish_short, zone.owed[size]  # less than nothing is nothing
    held = hands.held.get(size, 0)
    there = dishes + max(0, held)
    if typed > there:
        more = f"? {grafts(typed - there)} too many"
        each = f"{more}: {marked(count.dish, count.dish_short)} in dishes, {grafts(held)} {hands.where}"
        return each, f"{more}: {sized(there, size)} there", more
    if typed > owed:
        over = f"▲ {grafts(typed - owed)} over plan"
        return f"{over}: {sized(owed, size)} owed here", f"{over}: {grafts(owed)} owed", over
    return ()
