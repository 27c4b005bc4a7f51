"""Where a summary does not add up, in words."""

from collections.abc import Iterable
from typing import Final

from orroom.case.state import ENDS, SOURCES
from orroom.case.terms import size_named
from orroom.figures.wording import grafts
from orroom.summary.grafts import HarvestAccounts, balanced, below_0, held_by
from orroom.summary.summary import Summary

#: What an account is called where it is below 0.
_PLACES: Final = {
    "dish": "{more} {named} too many taken from the dishes",
    "bench": "{more} {named} too many taken from the placers",
}


def where_not(summary: Summary) -> tuple[str, ...]:
    """Where a summary does not add up, a phrase each; empty if it does."""
    if summary.adds_up:
        return ()
    found = [f"harvest {each.harvest}: {words}" for each in summary.accounts for words in _wrong(each)]
    found += [
        each.sentence
        for each in summary.mismatches
        if each.explanation is None and not each.mismatch.startswith("short:")  # said by its account
    ]
    return tuple(found) or ("the harvests or the zones do not add up to the total",)


def _wrong(account: HarvestAccounts) -> Iterable[str]:
    held = held_by(account)
    for name in below_0(held):
        named = size_named(account.size, more := -held[name])
        words = _PLACES.get(name, "size {size}: {name} is −{more}")
        yield words.format(name=name, size=account.size, named=named, more=grafts(more))
    if not balanced(held):
        came, there = (sum(held[name] for name in names) for names in (SOURCES, ENDS))
        yield f"{grafts(came)} {size_named(account.size, came)} came in, {grafts(there)} are accounted for"
