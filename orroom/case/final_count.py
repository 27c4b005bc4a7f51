"""The final count as the record holds it: two people's counts of all that is left, and whether they hold.

Two people count, the same two throughout, each all of it (IFPN Guideline 1002, Surgical Counts). A count
holds until grafts move again; a newer one of the same person replaces it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple, get_args

from msgspec import Struct

from orroom.case.events import Entry, EntryCorrected, Event, FinalCounted, FinalCountGivenUp
from orroom.case.state import CaseState, CountBegun, Stock, once
from orroom.case.terms import Place


class Pile(NamedTuple):
    """Grafts of one size and lot in one place."""

    size: str
    lot: str
    place: Place


class PersonCount(Struct, frozen=True):
    """One person's whole count: by which entry, when (UTC ms), who, what was found.

    It is ``blind`` unless two counts held when it was made: those had been shown beside the tally.
    """

    seq: int
    at_ms: int
    who: str
    found: dict[Pile, int]
    blind: bool = True


def piles_to_count(state: CaseState) -> tuple[Pile, ...]:
    """Every pile there may be, whatever the tally says: each size of each lot, in dishes and on the bench."""
    cut = {key.lot for key in state.tally.stock if key.account in {"cut", "divided_in"}}
    lots = [lot for lot in state.plan.lot_by_key if lot in cut] or list(state.plan.lot_by_key)
    return tuple(
        Pile(size, lot, place) for lot in lots for place in get_args(Place) for size in state.plan.size_by_key
    )


def filled_once(state: CaseState) -> frozenset[Pile]:
    """The piles that ever held a graft by the record, whatever they hold now: nothing of how many."""
    in_dishes = {Pile(key.size, key.lot, "dish") for key in state.tally.stock}
    brought = {Pile(each.size, each.lot, "bench") for each in state.tally.bench_moves if each.grafts > 0}
    drawn = {Pile(key.size, key.lot, "bench") for key in state.tally.stock if key.account == "bench"}
    return frozenset(in_dishes | brought | drawn)


class CountRunning(Struct, frozen=True):
    """A final count that is not over: counts ``under_way``, and a ``first`` one that waits for a second."""

    under_way: tuple[CountBegun, ...]
    first: PersonCount | None

    @property
    def entries(self) -> tuple[int, ...]:
        """The entries by which it can be given up."""
        return (*(each.seq for each in self.under_way), *(() if self.first is None else (self.first.seq,)))

    @property
    def since_ms(self) -> int:
        """When the newest step of it was made (UTC ms)."""
        first = () if self.first is None else (self.first.at_ms,)
        return max(*(each.at_ms for each in self.under_way), *first, 0)


def count_running(state: CaseState) -> CountRunning | None:
    """The final count that is being made, ``None`` if none is: until then no screen shows what is there.

    It goes on while anybody counts, and between the first and the second count.
    """
    tally = state.tally
    if tally.signed_off or not (tally.counting or tally.counted):
        return None
    return _count_running(state)


@once
def _count_running(state: CaseState) -> CountRunning | None:
    counts = person_counts(state)
    under_way = tuple(sorted(state.tally.counting.values()))
    first = counts[0] if len(counts) == 1 else None
    return CountRunning(under_way, first) if under_way or first is not None else None


def person_counts(state: CaseState) -> tuple[PersonCount, ...]:
    """The counts that hold, at most the newest two, by different people, in the order they were made."""
    return _newest_of_each(_counts_since_moves(state))[-2:]


def replaced_counts(state: CaseState) -> tuple[PersonCount, ...]:
    """Counts of the grafts as they still are that newer ones have replaced: nobody compares them any more."""
    made = _counts_since_moves(state)
    hold = {each.seq for each in _newest_of_each(made)[-2:]}
    return tuple(each for each in made if each.seq not in hold)


def _counts_since_moves(state: CaseState) -> tuple[PersonCount, ...]:
    """Every count since grafts moved last that was not given up, in the order they were made."""
    made: list[PersonCount] = []
    for entry in state.standing():
        event = entry.event
        if _moved_grafts(state, entry):
            made.clear()
        elif isinstance(event, FinalCountGivenUp):
            made = [each for each in made if each.seq != event.begun]
        elif isinstance(event, FinalCounted):
            blind = len({each.who for each in made}) < 2
            found = found_in(state, event)
            made.append(PersonCount(entry.seq, entry.stamp.at_ms, entry.stamp.who, found, blind))
    return tuple(made)


def found_in(state: CaseState, count: FinalCounted) -> dict[Pile, int]:
    """What a count found in every pile: of a recount what the count before had, where it did not count."""
    found = {Pile(each.size, each.lot, each.place): each.found for each in count.piles}
    before = state.entry(count.recount_of or 0)
    while before is not None and isinstance(before.event, FinalCounted):
        found = {Pile(each.size, each.lot, each.place): each.found for each in before.event.piles} | found
        earlier = before.event.recount_of or 0
        before = state.entry(earlier) if earlier < before.seq else None
    return found


def _newest_of_each(made: tuple[PersonCount, ...]) -> tuple[PersonCount, ...]:
    """Of each person the newest count, in the order they were made."""
    newest: dict[str, PersonCount] = {}
    for each in made:
        newest.pop(each.who, None)
        newest[each.who] = each
    return tuple(newest.values())


def moved_since(state: CaseState, seq: int) -> Entry | None:
    """The newest entry after ``seq`` that moved grafts, or took such a move back."""
    for entry in reversed(state.log[seq:] if seq else list(state.log)):
        if _moved_grafts(state, entry):
            return entry
    return None


def all_counts(state: CaseState) -> tuple[Entry, ...]:
    """Every count that anybody has made, whether it still holds or not."""
    return tuple(entry for entry in state.standing() if isinstance(entry.event, FinalCounted))


def open_differences(state: CaseState) -> tuple[Pile, ...]:
    """The piles where the two counts that hold, or they and the tally, do not agree; empty without two."""
    counts = person_counts(state)
    if len(counts) < 2:
        return ()
    first, second = (each.found for each in counts)
    return tuple(pile for pile in _all_piles(state, first, second) if not _agrees(state, first, second, pile))


def _agrees(state: CaseState, first: dict[Pile, int], second: dict[Pile, int], pile: Pile) -> bool:
    held = state.tally.stock.get(Stock(pile.size, pile.lot, pile.place), 0)
    return first.get(pile) == second.get(pile) == held


def _all_piles(state: CaseState, *counts: dict[Pile, int]) -> Iterator[Pile]:
    held = (
        Pile(key.size, key.lot, place)
        for place in get_args(Place)
        for key in state.tally.stock
        if key.account == place
    )
    yield from dict.fromkeys([*piles_to_count(state), *held, *(pile for count in counts for pile in count)])


def _moved_grafts(state: CaseState, entry: Entry) -> bool:
    """Whether an entry moved grafts, or cancelled one that had: a count made before no longer holds."""
    event: Event | None = entry.event
    if isinstance(event, EntryCorrected):
        wrong = state.entry(event.entry)
        event = None if wrong is None else wrong.event
    return event is not None and event.does.moves == "grafts"
