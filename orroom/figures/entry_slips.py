"""Slips of single entries that would explain a difference of the final count, and how likely each is."""

from collections import Counter
from collections.abc import Iterable, Iterator
from statistics import median
from typing import Final, NamedTuple

from orroom.case.events import Entry, GraftsCut, GraftsPlaced
from orroom.figures.differences import BOTH, Explanation, Found, GroupCount
from orroom.figures.wording import grafts, several

#: The same entry twice within this time may be one that was entered twice. Common practice, no source.
DOUBLED_MS: Final = 10_000
#: Like entries beyond this many are work one by one, not slips. Common practice, no source.
ONE_BY_ONE: Final = 4
#: Of more entries than this that are equally likely only the number is shown. Common practice, no source.
FEW: Final = 3
#: Of an entry: entered twice; its number mistyped; its size wrong; of a placing: forgotten. Common practice,
#: no source; only their ratios count.
DOUBLED, MISTYPED, WRONG_SIZE, FORGOTTEN = 0.001, 0.002, 0.001, 0.002


def entered_twice(found: Found, row: GroupCount, off: int) -> Iterator[Explanation]:
    """The same entry twice within 10 s from one station, which moved the group by what it is off.

    Where many such follow each other, as when grafts are tapped one by one, only those that came at least
    twice as fast as usual. The faster than usual, the likelier.
    """
    moving = {entry.seq for entry in found.moving(row.group, -off)}
    before: dict[str, Entry] = {}
    pairs: list[tuple[int, int, int]] = []
    waits: list[int] = []
    for entry, _ in found.moves:
        earlier = before.get(entry.stamp.station)
        before[entry.stamp.station] = entry
        if entry.seq in moving and earlier is not None:
            apart = abs(entry.stamp.at_ms - earlier.stamp.at_ms)
            waits.append(apart)
            if apart <= DOUBLED_MS and _what(earlier) == _what(entry):
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
        weight = DOUBLED * (1 + median(waits) / (1000 + apart)) * len(pairs)
        yield Explanation("documentation", "entered_twice", sentence, (one, other), weight)


def wrong_size_entered(found: Found, row: GroupCount, off: int) -> Iterator[Explanation]:
    """Grafts were placed or cut as one size, of which another is off by the same number the other way."""
    for other in found.other_sizes(row.group):
        if -off not in found.off(other):
            continue
        over, short = (row.group, other) if off > 0 else (other, row.group)
        for kind, did, entered, by in ((GraftsPlaced, "placed", over, -1), (GraftsCut, "cut", short, 1)):
            really = other if entered == row.group else row.group
            batch = f"{grafts(abs(off))} of size {entered.size}"
            candidates = []
            for entry in found.moving(entered, by * abs(off)):
                if isinstance(entry.event, kind):
                    zone = getattr(entry.event, "zone", None)
                    fit = 1.0 if zone is None else _fit(found, zone, entered.size, really.size)
                    into = "" if zone is None else f" into {zone}"
                    sentence = f"{did} {batch}{into}: were they of size {really.size}?"
                    candidates.append(_Candidate(WRONG_SIZE * BOTH * fit, entry.seq, sentence))
            many = f"{did} {batch} each: were those of one of size {really.size}?"
            yield from _pointed_at("wrong_size_entered", candidates, many)


def _fit(found: Found, zone: str, entered: str, really: str) -> float:
    """How much likelier a zone makes it that a size was entered for another: by the sizes that it takes."""
    takes = found.state.plan.zone_by_key[zone].takes
    return (1.0 if takes(entered) else 10.0) * (1.0 if takes(really) else 0.1)


def placing_not_entered(found: Found, row: GroupCount, off: int) -> Iterator[Explanation]:
    """Fewer are there than the tally has, as many as were placed at a time before; a zone is owed so many.

    The likelier, the oftener so many of this size were placed at a time, or else of any size.
    """
    own: Counter[int] = Counter()
    of_any: Counter[int] = Counter()
    zones: Counter[str] = Counter()
    for entry, moved in found.moves:
        if isinstance(entry.event, GraftsPlaced):
            of_any[entry.event.count] += 1
            if (count := -moved.get(row.group, 0)) > 0:
                own[count] += 1
                zones[entry.event.zone] += 1 + 100 * (count == -off)
    plan, placed = found.state.plan, found.state.tally.placed
    owed = [
        zone
        for zone in sorted(plan.zone_by_key, key=lambda each: -zones[each])
        if plan.planned(row.group.size, zone) - placed.get((zone, row.group.size), 0) >= -off
    ]
    if off > 0 or not owed or not of_any[-off]:
        return
    where = " or ".join(owed[:2])
    did = "were" if own[-off] else "of other sizes were"
    sentence = f"{grafts(-off)} at a time {did} placed before: was one such batch into {where} not entered?"
    chance = (own[-off] + 2 * of_any[-off] / of_any.total()) / (own.total() + 2)
    weight = FORGOTTEN * (own.total() + 1) * chance
    yield Explanation("documentation", "placing_not_entered", sentence, weight=weight)


def wrong_number_entered(found: Found, row: GroupCount, off: int) -> Iterator[Explanation]:
    """An entry's number is a slip of the keys away from what would explain the count: 10 for 1, 12 for 21.

    The likelier, the more such entries have the number that it would really be, and the fewer the one it has.
    Single grafts do not count: they are tapped, not typed.
    """
    numbers = Counter(
        (entry.event.kind, abs(moved[row.group])) for entry, moved in found.moves if moved.get(row.group)
    )
    slips: list[_Candidate] = []
    for entry, moved in found.moves:
        by = moved.get(row.group, 0)
        really = by + off
        if by * really > 0 and (slip := _slip(abs(by), abs(really))):
            kind = entry.event.kind
            usual = numbers[kind, abs(really)] if abs(really) > 1 else 0
            weight = MISTYPED * slip * max(usual, 0.1) / max(numbers[kind, abs(by)] - 1, 0.1)
            sentence = f"moved {grafts(abs(by))}: was it {grafts(abs(really))}?"
            slips.append(_Candidate(weight, entry.seq, sentence))
    many = "may have a mistyped number: a digit too many, too few, or two changed over?"
    yield from _pointed_at("wrong_number_entered", slips, many)


def _slip(entered: int, really: int) -> float:
    """How likely a number is typed so: a digit left out, doubled or added, or two changed over; else 0."""
    one, other = str(really), str(entered)
    if len(one) == len(other):
        places = [place for place in range(len(one)) if one[place] != other[place]]
        turned = len(places) == 2 and sorted(one) == sorted(other) and places[1] - places[0] == 1
        return 0.3 / (len(one) - 1) if turned else 0.0
    short, long = sorted((one, other), key=len)
    places = [place for place in range(len(long)) if long[:place] + long[place + 1 :] == short]
    if not places:
        return 0.0
    if len(one) > len(other):
        return 0.35 * len(places) / len(one)
    return 0.25 / len(one) if len(places) > 1 else 0.1 / (10 * len(other))


class _Candidate(NamedTuple):
    """An entry that may be wrong: how likely, its number, and what is asked of it."""

    weight: float
    seq: int
    sentence: str


def _pointed_at(rule: str, candidates: Iterable[_Candidate], many: str) -> Iterator[Explanation]:
    """The likeliest entries, each by itself; those that are as likely as each other in one sentence."""
    left = sorted(candidates, key=lambda each: (-each.weight, each.seq))
    while left:
        alike = [each for each in left if each.weight > 0.9 * left[0].weight]
        entries = tuple(each.seq for each in alike)
        named = f"{', '.join(map(str, entries[:-1]))} or {entries[-1]}" if len(alike) > 1 else f"{entries[0]}"
        which = f"entry {named}" if len(alike) <= FEW else f"{len(alike)} entries"
        asks = alike[0].sentence if len({each.sentence for each in alike}) == 1 else many
        weight = sum(each.weight for each in alike)
        yield Explanation("documentation", rule, f"{which} {asks}", entries, weight)
        left = left[len(alike) :]


def _what(entry: Entry) -> tuple[object, ...]:
    """What is alike in an entry that is entered twice; what it drew on may differ."""
    found = (
        getattr(entry.event, name, None) for name in ("harvest", "size", "zone", "count", "into", "reason")
    )
    return (entry.stamp.who, entry.event.kind, *found)
