"""The final count: what two people find, blind to the tally and to each other, compared with the tally.

Compared group by group, never only in total: of cases with a retained item 88 % had a count that was called
correct (Gawande et al., N Engl J Med 2003;348:229–235, second-hand). Grafts at the wrong place make totals
that agree.
"""

from collections.abc import Callable, Iterator, Mapping
from statistics import median
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from orroom.case.events import DishCounted, Entry, GraftsDiscarded, GraftsIssued, GraftsPlaced
from orroom.case.evolve import fold
from orroom.case.final_count import Group, left_by_group, person_counts
from orroom.case.state import CaseState
from orroom.case.terms import SIZE_KEYS
from orroom.figures.wording import grafts, minutes_seconds, several

#: What differences came from in 29 of 148 operations: 17 misplaced, 11 documentation, 1 miscount (Greenberg
#: et al., Ann Surg 2008;248:337–341, read).
Cause = Literal["misplaced", "documentation", "miscount"]

#: The same entry twice within this time may be one that was entered twice. Common practice, no source.
DOUBLED_MS = 10_000
#: A discard so short a time before the count may be in both, or in neither. Common practice, no source.
JUST_BEFORE_MS = 10 * 60_000
#: Like entries beyond this many are work one by one, not slips. Common practice, no source.
ONE_BY_ONE = 4
#: More entries than this that may each have a wrong number point at nothing. Common practice, no source.
FEW = 3


Counted = Mapping[Group, int]


class Explanation(Struct, frozen=True):
    """Where a difference may come from: a cause, the rule that found it, a sentence, the entries it names."""

    cause: Cause
    rule: str
    sentence: str
    entries: tuple[int, ...] = ()


class GroupCount(Struct, frozen=True):
    """One group: what the tally holds and what each counter found, ``None`` where one has not counted it."""

    group: Group
    expected: int
    first: int | None
    second: int | None
    explanations: tuple[Explanation, ...] = ()

    @property
    def off(self) -> tuple[int, ...]:
        """How many more than expected were found, least first; without counters that found as expected."""
        found = {each for each in (self.first, self.second) if each is not None}
        return tuple(sorted(each - self.expected for each in found if each != self.expected))

    @property
    def counters_agree(self) -> bool:
        """Whether both have counted it and found the same."""
        return self.first is not None and self.first == self.second

    @property
    def agrees(self) -> bool:
        """Whether both have counted it and found what the tally holds."""
        return self.counters_agree and self.first == self.expected


class Recount(Struct, frozen=True):
    """Two counts next to the tally: every group, the smallest size first."""

    groups: tuple[GroupCount, ...]

    @property
    def differences(self) -> tuple[GroupCount, ...]:
        """The groups where the three do not agree, or that somebody has not counted."""
        return tuple(each for each in self.groups if not each.agrees)

    @property
    def agrees(self) -> bool:
        """Whether both found in every group what the tally holds."""
        return not self.differences


def expected(state: CaseState) -> dict[Group, int]:
    """What the tally holds in dishes and with the placers, group by group; empty groups left out."""
    return left_by_group(state.tally)


def recount(state: CaseState, first: Counted, second: Counted) -> Recount:
    """Two blind counts of all that is left next to the tally, each difference with what may explain it.

    A group that a counter has not got is not counted by that one, which is another thing than 0. Exchanging
    the two counters exchanges ``first`` and ``second`` and changes nothing else.
    """
    held = expected(state)
    order = {size: position for position, size in enumerate(SIZE_KEYS)}
    groups = sorted({*held, *first, *second}, key=lambda each: (order.get(each.size, len(order)), *each))
    rows = {
        group: GroupCount(group, held.get(group, 0), first.get(group), second.get(group)) for group in groups
    }
    found = _Found(state, rows, tuple((entry, expected(fold([entry]))) for entry in state.standing()))
    told = tuple(
        row if row.agrees else replace(row, explanations=tuple(_explained(found, row)))
        for row in rows.values()
    )
    return Recount(told)


class _Found(Struct, frozen=True):
    """What explanations are looked for in: the record, the counts, and what each entry moved."""

    state: CaseState
    rows: Mapping[Group, GroupCount]
    moves: tuple[tuple[Entry, Mapping[Group, int]], ...]

    def moving(self, group: Group, by: int) -> Iterator[Entry]:
        """The entries that changed a group by this many grafts."""
        return (entry for entry, moved in self.moves if moved.get(group, 0) == by)

    def off(self, group: Group) -> tuple[int, ...]:
        """How many more than expected were found in a group."""
        row = self.rows.get(group)
        return () if row is None else row.off

    def other_sizes(self, group: Group) -> Iterator[Group]:
        """The groups of the plan's other sizes, of the same harvest and place, the most alike first."""
        here = SIZE_KEYS.index(group.size) if group.size in SIZE_KEYS else 0
        sizes = [size for size in SIZE_KEYS if size in self.state.plan.size_by_key and size != group.size]
        for size in sorted(sizes, key=lambda each: abs(SIZE_KEYS.index(each) - here)):
            yield group._replace(size=size)


Rule = Callable[[_Found, GroupCount, int], Iterator[Explanation]]


def _explained(found: _Found, row: GroupCount) -> Iterator[Explanation]:
    """All that may explain a group: why the two counts differ, then why either differs from the tally."""
    if row.first is not None and row.second is not None and row.first != row.second:
        apart = several(abs(row.first - row.second), "graft")
        yield Explanation("miscount", "counters_apart", f"the two counts are {apart} apart: count again")
    for off in row.off:
        for rule in EXPLANATIONS:
            yield from rule(found, row, off)


def entered_twice(found: _Found, row: GroupCount, off: int) -> Iterator[Explanation]:
    """The same entry twice within 10 s from one station, which moved the group by what it is off.

    Where many such follow each other, as when grafts are tapped one by one, only those that came at least
    twice as fast as usual.
    """
    moving = {entry.seq for entry in found.moving(row.group, -off)}
    before: dict[str, Entry] = {}
    pairs: list[tuple[int, int, int]] = []
    for entry, _ in found.moves:
        earlier = before.get(entry.stamp.station)
        before[entry.stamp.station] = entry
        if entry.seq in moving and earlier is not None and _what(earlier) == _what(entry):
            apart = abs(entry.stamp.at_ms - earlier.stamp.at_ms)
            if apart <= DOUBLED_MS:
                pairs.append((apart, earlier.seq, entry.seq))
    if len(pairs) > ONE_BY_ONE:
        usual = median(apart for apart, _, _ in pairs)
        pairs = [each for each in pairs if 2 * each[0] <= usual]
    if pairs:
        apart, one, other = min(pairs)
        more = f"; {several(len(pairs) - 1, 'more such pair')}" if len(pairs) > 1 else ""
        sentence = (
            f"entries {one} and {other} are identical and {apart / 1000:.1f} s apart: entered twice?{more}"
        )
        yield Explanation("documentation", "entered_twice", sentence, (one, other))


def wrong_size_placed(found: _Found, row: GroupCount, off: int) -> Iterator[Explanation]:
    """A batch was placed as one size, of which the same number is over as another size is short."""
    for other in found.other_sizes(row.group):
        if -off not in found.off(other):
            continue
        entered, really = (row.group, other) if off > 0 else (other, row.group)
        for entry in found.moving(entered, -abs(off)):
            if isinstance(entry.event, GraftsPlaced):
                batch = f"{grafts(abs(off))} of size {entered.size} into {entry.event.zone}"
                sentence = f"entry {entry.seq} placed {batch}: were they of size {really.size}?"
                yield Explanation("documentation", "wrong_size_placed", sentence, (entry.seq,))


def placed_past_the_placers(found: _Found, row: GroupCount, off: int) -> Iterator[Explanation]:
    """Placings drew from a dish that was never issued, while others were, and it has more than the tally."""
    size, harvest, place = row.group
    issued = [entry.event for entry, _ in found.moves if isinstance(entry.event, GraftsIssued)]
    if place != "dish" or off < 0 or not issued:
        return
    if any(part.harvest == harvest for event in issued if event.size == size for part in event.drawn):
        return
    placed = [(entry, moved) for entry, moved in found.moves if isinstance(entry.event, GraftsPlaced)]
    drew = {entry.seq: -moved[row.group] for entry, moved in placed if row.group in moved}
    if sum(drew.values()) >= off:
        taken = grafts(sum(drew.values()))
        sentence = f"{taken} were placed from this dish, none handed out of it: were they from another one?"
        yield Explanation("documentation", "placed_past_the_placers", sentence, tuple(drew))


def drawn_from_another_harvest(found: _Found, row: GroupCount, off: int) -> Iterator[Explanation]:
    """Another harvest's group of this size is off by the same number the other way: the tally guessed."""
    for other in found.rows:
        same = (other.size, other.place) == (
            row.group.size,
            row.group.place,
        ) and other.harvest != row.group.harvest
        if same and -off in found.off(other):
            amiss = f"harvest {other.harvest} has {_amiss(-off)}"
            sentence = f"{amiss}: the record takes the oldest harvest first, were these of the other?"
            yield Explanation("documentation", "drawn_from_another_harvest", sentence)


def in_another_group(found: _Found, row: GroupCount, off: int) -> Iterator[Explanation]:
    """Another size, or the same size at the other place, is off by the same number the other way."""
    for other in found.other_sizes(row.group):
        if -off in found.off(other):
            sentence = f"size {other.size} has {_amiss(-off)}: are they in each other's dish?"
            yield Explanation("misplaced", "in_another_group", sentence)
    elsewhere = row.group._replace(place="bench" if row.group.place == "dish" else "dish")
    if -off in found.off(elsewhere):
        where = "the dish has" if elsewhere.place == "dish" else "the placers have"
        sentence = f"{where} {_amiss(-off)}: moved without an entry?"
        yield Explanation("misplaced", "in_another_group", sentence)


def placing_not_entered(found: _Found, row: GroupCount, off: int) -> Iterator[Explanation]:
    """The number missing was placed at once before, into a zone that is still owed that many."""
    events = [entry.event for entry in found.moving(row.group, off)]
    zones = dict.fromkeys(event.zone for event in events[::-1] if isinstance(event, GraftsPlaced))
    for zone in zones:
        owed = found.state.plan.planned(row.group.size, zone)
        owed -= found.state.tally.placed.get((zone, row.group.size), 0)
        if owed >= -off:
            sentence = f"{grafts(-off)} at a time were placed into {zone}: was one such batch not entered?"
            yield Explanation("documentation", "placing_not_entered", sentence)


def wrong_number_entered(found: _Found, row: GroupCount, off: int) -> Iterator[Explanation]:
    """An entry's number is a slip of the keys away from what would explain the count: 10 for 1, 12 for 21."""
    slips = []
    for entry, moved in found.moves:
        by = moved.get(row.group, 0)
        really = by + off
        if by * really > 0 and _slip(abs(by), abs(really)):
            slips.append((entry.seq, abs(by), abs(really)))
    if len(slips) <= FEW:
        for seq, entered, really in slips:
            sentence = f"entry {seq} moved {grafts(entered)}: was it {grafts(really)}?"
            yield Explanation("documentation", "wrong_number_entered", sentence, (seq,))


def _slip(entered: int, really: int) -> bool:
    """Whether one number is the other with a digit too many or too few, or with two digits changed over."""
    one, other = sorted((str(entered), str(really)), key=len)
    if len(one) == len(other):
        places = [place for place in range(len(one)) if one[place] != other[place]]
        return len(places) == 2 and sorted(one) == sorted(other) and places[1] - places[0] == 1
    return any(other[:place] + other[place + 1 :] == one for place in range(len(other)))


def discarded_just_before(found: _Found, row: GroupCount, off: int) -> Iterator[Explanation]:
    """Grafts of this size were discarded minutes before the count: still in the dish, or taken from here."""
    counts = person_counts(found.state)
    for entry, moved in found.moves:
        event = entry.event
        if not isinstance(event, GraftsDiscarded) or event.size != row.group.size or event.count < abs(off):
            continue
        before_ms = counts[0].at_ms - entry.stamp.at_ms if counts else 0
        if before_ms > JUST_BEFORE_MS or (row.group in moved) is not (off > 0):
            continue
        which = f"{grafts(event.count)} discarded {minutes_seconds(before_ms)} before the count"
        asks = "still in the dish?" if off > 0 else "taken from here?"
        cause: Cause = "misplaced" if off > 0 else "documentation"
        sentence = f"{which} (entry {entry.seq}): {asks}"
        yield Explanation(cause, "discarded_just_before", sentence, (entry.seq,))


def counted_wrong_before(found: _Found, row: GroupCount, off: int) -> Iterator[Explanation]:
    """An earlier hand count changed the group by the same number the other way."""
    for entry in found.moving(row.group, -off):
        if isinstance(entry.event, DishCounted):
            change = f"{'−' if off > 0 else '+'}{abs(off):,}"
            sentence = f"the hand count of entry {entry.seq} changed this by {change}: was it wrong?"
            yield Explanation("miscount", "counted_wrong_before", sentence, (entry.seq,))


#: In the order of how often such causes were found.
EXPLANATIONS: tuple[Rule, ...] = (
    discarded_just_before,
    in_another_group,
    entered_twice,
    wrong_number_entered,
    wrong_size_placed,
    placing_not_entered,
    placed_past_the_placers,
    drawn_from_another_harvest,
    counted_wrong_before,
)


def _amiss(off: int) -> str:
    """By how many a group is off: ``3 too many``, ``3 too few``."""
    return f"{grafts(abs(off))} too {'many' if off > 0 else 'few'}"


def _what(entry: Entry) -> tuple[object, ...]:
    """What is alike in an entry that is entered twice; what it drew on may differ."""
    told = (
        getattr(entry.event, name, None) for name in ("harvest", "size", "zone", "count", "into", "reason")
    )
    return (entry.stamp.who, entry.event.kind, *told)
