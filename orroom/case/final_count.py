"""The final count in the record: two people's counts of all that is left, and whether they are valid.

Two people count, the same two throughout, each all of it (IFPN Guideline 1002, Surgical Counts). A count
is valid until grafts move again; a newer one of the same person replaces it.
"""

from collections.abc import Iterator
from typing import NamedTuple, get_args

from msgspec import Struct

from orroom.case.events import Entry, EntryCorrected, Event, FinalCounted, FinalCountGivenUp
from orroom.case.state import SOURCES, CaseState, CountBegun, Tally, once
from orroom.case.terms import Place


class Group(NamedTuple):
    """Grafts of one size and harvest in one place."""

    size: str
    harvest: str
    place: Place


class PersonCount(Struct, frozen=True):
    """One person's whole count: by which entry, when (UTC ms), who, what was found.

    It is ``blind`` unless two counts were valid when it was made: those had been shown next to the tally.
    """

    seq: int
    at_ms: int
    who: str
    found: dict[Group, int]
    blind: bool = True


def groups_to_count(state: CaseState) -> tuple[Group, ...]:
    """Every group there may be: each size of each harvest, in dishes and with the placers."""
    came = {key.harvest for key in state.tally.stock if key.account in SOURCES}
    harvests = [harvest for harvest in state.plan.harvest_by_key if harvest in came] or list(
        state.plan.harvest_by_key
    )
    return tuple(
        Group(size, harvest, place)
        for harvest in harvests
        for place in get_args(Place)
        for size in state.plan.size_by_key
    )


def filled_once(state: CaseState) -> frozenset[Group]:
    """The groups that ever held a graft by the record, whatever they hold now: nothing of how many."""
    in_dishes = {Group(key.size, key.harvest, "dish") for key in state.tally.stock}
    brought = {
        Group(each.size, each.harvest, "bench") for each in state.tally.placers_moves if each.grafts > 0
    }
    drawn = {Group(key.size, key.harvest, "bench") for key in state.tally.stock if key.account == "bench"}
    return frozenset(in_dishes | brought | drawn)


class CountRunning(Struct, frozen=True):
    """A final count that is not over: counts ``under_way``, and a ``first`` one that waits for a second."""

    under_way: tuple[CountBegun, ...]
    first: PersonCount | None

    @property
    def entries(self) -> tuple[int, ...]:
        """The entries by which it can be cancelled."""
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
    """The valid counts, at most the newest two, by different people, in the order they were made."""
    return _newest_of_each(_counts_since_moves(state))[-2:]


def replaced_counts(state: CaseState) -> tuple[PersonCount, ...]:
    """Counts of the grafts as they still are that newer ones have replaced: nobody compares them any more."""
    made = _counts_since_moves(state)
    hold = {each.seq for each in _newest_of_each(made)[-2:]}
    return tuple(each for each in made if each.seq not in hold)


@once
def _counts_since_moves(state: CaseState) -> tuple[PersonCount, ...]:
    """Every count since grafts moved last that was not cancelled, in the order they were made."""
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


def found_in(state: CaseState, count: FinalCounted) -> dict[Group, int]:
    """What a count found in every group: of a recount what the count before had, where it did not count."""
    found = {Group(each.size, each.harvest, each.place): each.found for each in count.groups}
    before = state.entry(count.recount_of or 0)
    while before is not None and isinstance(before.event, FinalCounted):
        found = {
            Group(each.size, each.harvest, each.place): each.found for each in before.event.groups
        } | found
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
    """Every count that anybody has made, still valid or not."""
    return tuple(entry for entry in state.standing() if isinstance(entry.event, FinalCounted))


def open_differences(state: CaseState) -> tuple[Group, ...]:
    """The groups where the two valid counts, or they and the tally, do not agree; empty without two."""
    counts = person_counts(state)
    if len(counts) < 2:
        return ()
    first, second = (each.found for each in counts)
    left = left_by_group(state.tally)
    return tuple(
        group for group in _all_groups(state, first, second) if not _agrees(left, first, second, group)
    )


def waiting_by_group(tally: Tally) -> dict[Group, int]:
    """What waits in dishes and with the placers, group by group; groups of none left out."""
    return {
        Group(key.size, key.harvest, place): count
        for place in get_args(Place)
        for key, count in tally.stock.items()
        if key.account == place and count
    }


def left_by_group(tally: Tally) -> dict[Group, int]:
    """What was left to be counted, group by group: what waits, and what has been given its fate since."""
    left = waiting_by_group(tally)
    for (size, harvest, place, _), count in tally.fates.items():
        group = Group(size, harvest, place)
        left[group] = left.get(group, 0) + count
    return left


def _agrees(left: dict[Group, int], first: dict[Group, int], second: dict[Group, int], group: Group) -> bool:
    return first.get(group) == second.get(group) == left.get(group, 0)


def _all_groups(state: CaseState, *counts: dict[Group, int]) -> Iterator[Group]:
    held = (
        Group(key.size, key.harvest, place)
        for place in get_args(Place)
        for key in state.tally.stock
        if key.account == place
    )
    yield from dict.fromkeys(
        [*groups_to_count(state), *held, *(group for count in counts for group in count)]
    )


def _moved_grafts(state: CaseState, entry: Entry) -> bool:
    """Whether an entry moved grafts, or cancelled one that had: a count made before is no longer valid."""
    event: Event | None = entry.event
    if isinstance(event, EntryCorrected):
        wrong = state.entry(event.entry)
        event = None if wrong is None else wrong.event
    return event is not None and event.does.moves == "grafts"
