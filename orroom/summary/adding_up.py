"""Whether every graft is accounted for, and where not.

A record adds up where each account of each lot and size does, lots and zones come to the whole, and no
mismatch is open. An account below 0 never adds up: more was taken than had come. Only missing may be below
0, found beyond the tally; that is a mismatch until it is explained.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Final, get_args

from orroom.case.drawing import lots_oldest_first
from orroom.case.mismatches import open_mismatches
from orroom.case.state import ENDS, SOURCES, Account, CaseState
from orroom.case.terms import SIZE_KEYS
from orroom.figures.wording import grafts
from orroom.summary import summary_parts as part

ACCOUNTS: Final[tuple[Account, ...]] = get_args(Account)

#: What an account is called where it is below 0.
_PLACES: Final = {
    "dish": "{more} more taken from the dishes than counted in",
    "bench": "{more} more taken from the bench than counted in",
}


def lot_accounts(state: CaseState) -> tuple[part.LotAccounts, ...]:
    """The accounts of each lot and size that has any, the oldest lot first."""
    having = {(key.lot, key.size) for key in state.tally.stock}
    disputed = {each.key for each in open_mismatches(state)}
    found = []
    for lot in lots_oldest_first(state.tally):
        for size in SIZE_KEYS:
            if (lot, size) in having:
                held = {str(name): state.tally.held(name, size, lot) for name in ACCOUNTS}
                right = balanced(held) and not _below_0(held) and f"counted:{size}:{lot}" not in disputed
                found.append(part.LotAccounts(lot=lot, size=size, adds_up=right, **held))
    return tuple(found)


def balanced(held: Mapping[str, int]) -> bool:
    """Whether what came is what there is."""
    return sum(held[name] for name in SOURCES) == sum(held[name] for name in ENDS)


def adds_up(
    state: CaseState,
    sizes: Iterable[part.SizeCounts],
    in_all: part.AllCounts,
    accounts: Iterable[part.LotAccounts],
    zones: Iterable[part.ZoneSummary],
) -> bool:
    """Whether all of it does."""
    by_lot, in_zones = list(accounts), list(zones)
    return (
        all(each.adds_up for each in by_lot)
        and all(getattr(in_all, name) == sum(getattr(each, name) for each in by_lot) for name in ACCOUNTS)
        and all(size.placed == sum(zone.placed.get(size.size, 0) for zone in in_zones) for size in sizes)
        and not open_mismatches(state)
    )


def where_not(told: part.Summary) -> tuple[str, ...]:
    """Where a summary does not add up, a phrase each; empty if it does."""
    if told.adds_up:
        return ()
    found = [f"lot {each.lot}, size {each.size}: {words}" for each in told.accounts for words in _wrong(each)]
    found += [
        each.sentence
        for each in told.mismatches
        if each.explanation is None and not each.mismatch.startswith("short:")  # said by its account
    ]
    return tuple(found) or ("the lots or the zones differ from the whole",)


def _wrong(account: part.LotAccounts) -> Iterable[str]:
    held = {str(name): getattr(account, name) for name in ACCOUNTS}
    for name in _below_0(held):
        yield _PLACES.get(name, "{name} is −{more}").format(name=name, more=grafts(-held[name]))
    if not balanced(held):
        came, there = (sum(held[name] for name in names) for names in (SOURCES, ENDS))
        yield f"{grafts(came)} came in, {grafts(there)} are accounted for"


def _below_0(held: Mapping[str, int]) -> list[str]:
    return [name for name, count in held.items() if count < 0 and name != "missing"]
