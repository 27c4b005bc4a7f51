"""Grafts and hairs by size and in all, the accounts of each harvest and size, and whether they add up.

A record adds up where each account of each harvest and size does, harvests and zones add up to the whole, and
no mismatch is open. An account below 0 never adds up: more was taken than had come. Only ``not_found`` may be
below 0, found beyond the tally; that is a mismatch until it is explained.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import Annotated, Final, get_args

from pydantic import Field

from orroom.case.drawing import harvests_oldest_first
from orroom.case.mismatches import open_mismatches
from orroom.case.state import ENDS, SOURCES, CaseState
from orroom.case.terms import SIZE_KEYS, Account
from orroom.figures import counts
from orroom.figures.counts import SizeCount, hairs_per_graft
from orroom.figures.quality import division_losses
from orroom.summary.fields import Grafts, Hairs, HairsPerGraft, Harvest, Label, Part, Size, unit_of
from orroom.summary.zones import ZoneSummary

ACCOUNTS: Final[tuple[Account, ...]] = get_args(Account)


class Accounts(Part):
    """Where grafts came from and where they are.

    They add up when ``kept_before + cut_in_all + divided_in = dish + with_placers + placed + discarded +
    divided_out + not_found + left_at_end``, none but ``not_found`` is below 0, and no hand count is left to
    explain.
    """

    kept_before: Grafts = Field(description="grafts kept from an earlier case for this one")
    cut_in_all: Grafts = Field(description="grafts cut in all, spoilt ones included")
    divided_in: Grafts = Field(description="pieces from dividing")
    dish: Grafts = Field(description="grafts in dishes")
    with_placers: Grafts = Field(description="grafts with the placers")
    placed: Grafts = Field(description="grafts placed")
    discarded: Grafts = Field(description="grafts discarded")
    divided_out: Grafts = Field(description="grafts divided")
    not_found: Grafts = Field(description="grafts not found by hand count; negative: more found than tallied")
    left_at_end: Grafts = Field(description="grafts left at the end, with their fate entered")
    adds_up: bool = Field(
        description="whether every graft is accounted for, no count is below 0, and no mismatch is open"
    )


class HarvestAccounts(Accounts):
    """The accounts of one size of one harvest."""

    harvest: Harvest
    size: Size


class Counts(Accounts):
    """Accounts next to the plan, in grafts and hairs. Usable: in dishes, with the placers or placed."""

    planned: Grafts = Field(description="grafts by the plan in force")
    owed: Grafts = Field(description="grafts still to be placed by the plan")
    hairs_planned: Hairs = Field(description="hairs by the plan")
    hairs_usable: Hairs = Field(description="hairs in dishes, with the placers or placed")
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


def harvest_accounts(state: CaseState) -> tuple[HarvestAccounts, ...]:
    """The accounts of each harvest and size that has any, the oldest harvest first."""
    having = {(key.harvest, key.size) for key in state.tally.stock}
    disputed = {each.key for each in open_mismatches(state)}
    found = []
    for harvest in harvests_oldest_first(state.tally):
        for size in SIZE_KEYS:
            if (harvest, size) in having:
                held = {name: state.tally.held(name, size, harvest) for name in ACCOUNTS}
                right = balanced(held) and not below_0(held) and f"counted:{size}:{harvest}" not in disputed
                fields = {counts.FIELDS[name]: count for name, count in held.items()}
                found.append(HarvestAccounts(harvest=harvest, size=size, adds_up=right, **fields))
    return tuple(found)


def held_by(count: SizeCount | Accounts) -> dict[Account, int]:
    """What each account of the tally has."""
    return {name: getattr(count, field) for name, field in counts.FIELDS.items()}


def balanced(held: Mapping[Account, int]) -> bool:
    """Whether what came is what there is."""
    return sum(held[name] for name in SOURCES) == sum(held[name] for name in ENDS)


def below_0(held: Mapping[Account, int]) -> list[Account]:
    """The accounts from which more was taken than had come."""
    return [name for name, count in held.items() if count < 0 and name != "missing"]


def by_size(state: CaseState, accounts: Sequence[HarvestAccounts]) -> tuple[SizeCounts, ...]:
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
    return Counts.read_off(count, adds_up=balanced(held_by(count)) and all(each.adds_up for each in parts))


def adds_up(
    state: CaseState,
    accounts: Iterable[HarvestAccounts],
    sizes: Iterable[SizeCounts],
    whole: AllCounts,
    zones: Iterable[ZoneSummary],
) -> bool:
    """Whether all of it does."""
    by_harvest, in_zones = list(accounts), list(zones)
    return (
        all(each.adds_up for each in by_harvest)
        and all(
            getattr(whole, name) == sum(getattr(each, name) for each in by_harvest)
            for name in counts.FIELDS.values()
        )
        and all(size.placed == sum(zone.placed.get(size.size, 0) for zone in in_zones) for size in sizes)
        and not open_mismatches(state)
    )
