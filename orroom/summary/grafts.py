"""Grafts and hairs by size and in all, the accounts of each lot and size, and whether they add up.

A record adds up where each account of each lot and size does, lots and zones come to the whole, and no
mismatch is open. An account below 0 never adds up: more was taken than had come. Only missing may be below
0, found beyond the tally; that is a mismatch until it is explained.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Annotated, Final, get_args

from pydantic import Field

from orroom.case.drawing import lots_oldest_first
from orroom.case.mismatches import open_mismatches
from orroom.case.state import ENDS, SOURCES, CaseState
from orroom.case.terms import SIZE_KEYS, Account
from orroom.figures import counts
from orroom.figures.counts import SizeCount, hairs_per_graft
from orroom.figures.quality import division_losses
from orroom.summary.fields import Grafts, Hairs, HairsPerGraft, Label, Lot, Part, Size, unit_of
from orroom.summary.zones import ZoneSummary

ACCOUNTS: Final[tuple[Account, ...]] = get_args(Account)


class Accounts(Part):
    """Where grafts came from and where they are.

    They add up when ``cut + divided_in = dish + bench + placed + discarded + divided_out + missing``, none
    but ``missing`` is below 0, and no hand count is left to explain.
    """

    cut: Grafts = Field(description="grafts cut in all, spoilt ones included")
    divided_in: Grafts = Field(description="pieces from dividing")
    dish: Grafts = Field(description="grafts in dishes")
    bench: Grafts = Field(description="grafts on the bench")
    placed: Grafts = Field(description="grafts placed")
    discarded: Grafts = Field(description="grafts discarded")
    divided_out: Grafts = Field(description="grafts divided")
    missing: Grafts = Field(description="grafts not found by hand count; negative: more found than tallied")
    adds_up: bool = Field(
        description="whether every graft is accounted for, no count is below 0, and no mismatch is open"
    )


class LotAccounts(Accounts):
    """The accounts of one size of one lot."""

    lot: Lot
    size: Size


class Counts(Accounts):
    """Accounts beside the plan, in grafts and hairs. Usable: in dishes, on the bench or placed."""

    planned: Grafts = Field(description="grafts by the plan in force")
    owed: Grafts = Field(description="grafts still to be placed by the plan")
    hairs_planned: Hairs = Field(description="hairs by the plan")
    hairs_usable: Hairs = Field(description="hairs in dishes, on the bench or placed")
    hairs_placed: Hairs = Field(description="hairs placed")


#: What is counted in hairs, in words: a row on every page, an observation in FHIR.
HAIR_COUNTS: Final = {
    name: name.replace("_", " ") for name, field in Counts.model_fields.items() if unit_of(field) == "hairs"
}


class SizeCounts(Counts):
    """The counts of one size."""

    size: Size
    label: Label
    hairs_per_graft: HairsPerGraft = Field(description="hairs of a graft of this size; a mean for M")


class AllCounts(Counts):
    """The counts of all sizes together, and mean hairs per graft.

    ``hairs_lost_dividing`` is ``None`` once a multi-unit graft was divided: its hairs are only a mean.
    """

    hairs_per_graft_planned: HairsPerGraft = Field(description="mean by the plan")
    hairs_per_graft_usable: HairsPerGraft = Field(description="mean of the usable grafts")
    hairs_per_graft_placed: HairsPerGraft = Field(description="mean of the placed grafts")
    hairs_lost_dividing: Annotated[Hairs | None, "hairs"] = Field(
        description="hairs lost by dividing, in none of the pieces"
    )


def lot_accounts(state: CaseState) -> tuple[LotAccounts, ...]:
    """The accounts of each lot and size that has any, the oldest lot first."""
    having = {(key.lot, key.size) for key in state.tally.stock}
    disputed = {each.key for each in open_mismatches(state)}
    found = []
    for lot in lots_oldest_first(state.tally):
        for size in SIZE_KEYS:
            if (lot, size) in having:
                held = {name: state.tally.held(name, size, lot) for name in ACCOUNTS}
                right = balanced(held) and not below_0(held) and f"counted:{size}:{lot}" not in disputed
                found.append(LotAccounts(lot=lot, size=size, adds_up=right, **held))
    return tuple(found)


def balanced(held: Mapping[Account, int]) -> bool:
    """Whether what came is what there is."""
    return sum(held[name] for name in SOURCES) == sum(held[name] for name in ENDS)


def below_0(held: Mapping[Account, int]) -> list[Account]:
    """The accounts from which more was taken than had come."""
    return [name for name, count in held.items() if count < 0 and name != "missing"]


def by_size(state: CaseState, accounts: Sequence[LotAccounts]) -> tuple[SizeCounts, ...]:
    """The counts of each size of the plan."""
    found = []
    for key, count in counts.by_size(state).items():
        size = state.plan.size_by_key[key]
        mine = _counts(count, [each for each in accounts if each.size == key])
        found.append(SizeCounts(size=key, label=size.label, hairs_per_graft=size.hairs, **dict(mine)))
    return tuple(found)


def in_all(state: CaseState, sizes: Sequence[SizeCounts]) -> AllCounts:
    """The counts of all sizes together."""
    count = counts.total(counts.by_size(state))
    lost = [each.hairs_lost for each in division_losses(state)]
    return AllCounts(
        hairs_per_graft_planned=hairs_per_graft(count.hairs_planned, count.planned),
        hairs_per_graft_usable=hairs_per_graft(count.hairs_usable, count.usable),
        hairs_per_graft_placed=hairs_per_graft(count.hairs_placed, count.placed),
        hairs_lost_dividing=None if None in lost else sum(each for each in lost if each is not None),
        **dict(_counts(count, sizes)),
    )


def _counts(count: SizeCount, parts: Iterable[Accounts]) -> Counts:
    """What is counted; it adds up if all of its parts do."""
    held: dict[Account, int] = {name: getattr(count, name) for name in ACCOUNTS}
    return Counts(
        adds_up=balanced(held) and all(each.adds_up for each in parts),
        planned=count.planned,
        owed=count.owed,
        hairs_planned=count.hairs_planned,
        hairs_usable=count.hairs_usable,
        hairs_placed=count.hairs_placed,
        **held,
    )


def adds_up(
    state: CaseState,
    accounts: Iterable[LotAccounts],
    sizes: Iterable[SizeCounts],
    whole: AllCounts,
    zones: Iterable[ZoneSummary],
) -> bool:
    """Whether all of it does."""
    by_lot, in_zones = list(accounts), list(zones)
    return (
        all(each.adds_up for each in by_lot)
        and all(getattr(whole, name) == sum(getattr(each, name) for each in by_lot) for name in ACCOUNTS)
        and all(size.placed == sum(zone.placed.get(size.size, 0) for zone in in_zones) for size in sizes)
        and not open_mismatches(state)
    )
