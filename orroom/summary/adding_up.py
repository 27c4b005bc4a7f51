"""Where a summary does not add up, in words."""

from collections.abc import Iterable
from typing import Final

from orroom.case.state import ENDS, SOURCES
from orroom.figures.wording import grafts
from orroom.summary.grafts import HarvestAccounts, balanced, below_0, held_by
from orroom.summary.summary import Summary

#: What an account is called where it is below 0.
_PLACES: Final = {
    "dish": "{more} more taken from the dishes than put in",
    "bench": "{more} more taken from the placers than put in",
}


def where_not(summary: Summary) -> tuple[str, ...]:
    """Where a summary does not add up, a phrase each; empty if it does."""
    if summary.adds_up:
        return ()
    found = [
        f"harvest {each.harvest}, size {each.size}: {words}"
        for each in summary.accounts
        for words in _wrong(each)
    ]
    found += [
        each.sentence
        for each in summary.mismatches
        if each.explanation is None and not each.mismatch.startswith("short:")  # said by its account
    ]
    return tuple(found) or ("the harvests or the zones do not add up to the total",)


def _wrong(account: HarvestAccounts) -> Iterable[str]:
    held = held_by(account)
    for name in below_0(held):
        yield _PLACES.get(name, "{name} is −{more}").format(name=name, more=grafts(-held[name]))
    if not balanced(held):
        came, there = (sum(held[name] for name in names) for names in (SOURCES, ENDS))
        yield f"{grafts(came)} came in, {grafts(there)} are accounted for"
