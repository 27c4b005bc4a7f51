"""Where a difference of the final count may come from: what in the record would explain it, likeliest first.

Each explanation is weighed by how often such a slip is to be expected in a case, times how well it gives just
this difference. Rates are common practice, no source; only their ratios count.
"""

from collections import Counter
from collections.abc import Iterator
from math import inf
from typing import Final

from orroom.case.events import DishCounted, GraftsDiscarded, GraftsIssued, GraftsPlaced
from orroom.case.final_count import person_counts
from orroom.figures.differences import BOTH, Cause, Explanation, Found, GroupCount, Rule, amiss
from orroom.figures.entry_slips import (
    entered_twice,
    placing_not_entered,
    wrong_number_entered,
    wrong_size_entered,
)
from orroom.figures.wording import grafts, minutes_seconds, several

#: So many explanations of a difference are shown, and so many of them by one rule.
MOST: Final = 3
MOST_BY_RULE: Final = 2
#: A discard so short a time before the count may be in both, or in neither. Common practice, no source.
JUST_BEFORE_MS: Final = 10 * 60_000
#: Of a case: some grafts in the dish of another size, each graft more half as likely; two counts written down
#: the wrong way round; grafts moved between dish and placers; another harvest's taken; a hand count wrong.
IN_OTHER_DISH, EXCHANGED, MOVED, OTHER_HARVEST, COUNTED_WRONG = 0.2, 0.05, 0.05, 0.2, 0.05
#: Of a discard minutes before the count: counted as well. Of a dish never handed out of: the wrong dish.
DISCARDED, PAST_THE_PLACERS = 0.05, 0.05


def explained(found: Found, row: GroupCount) -> tuple[Explanation, ...]:
    """What may explain a group: why the two counts differ, then why either differs from the tally.

    The likeliest first, ``MOST`` at most and ``MOST_BY_RULE`` by one rule.
    """
    known = [each for off in row.off for rule in EXPLANATIONS for each in rule(found, row, off)]
    if row.first is not None and row.second is not None and row.first != row.second:
        apart = several(abs(row.first - row.second), "graft")
        sentence = f"the two counts are {apart} apart: count again"
        known.append(Explanation("miscount", "counters_apart", sentence, weight=inf))
    by_rule: Counter[str] = Counter()
    shown: list[Explanation] = []
    for each in sorted(known, key=lambda each: -each.weight):
        by_rule[each.rule] += 1
        if by_rule[each.rule] <= MOST_BY_RULE and len(shown) < MOST:
            shown.append(each)
    return tuple(shown)


def placed_past_the_placers(found: Found, row: GroupCount, off: int) -> Iterator[Explanation]:
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
        weight = PAST_THE_PLACERS
        yield Explanation("documentation", "placed_past_the_placers", sentence, tuple(drew), weight)


def drawn_from_another_harvest(found: Found, row: GroupCount, off: int) -> Iterator[Explanation]:
    """Another harvest's group of this size is off by the same number the other way: the tally guessed."""
    for other in found.rows:
        same = (other.size, other.place) == (row.group.size, row.group.place)
        if same and other.harvest != row.group.harvest and -off in found.off(other):
            sentence = (
                f"harvest {other.harvest} has {amiss(-off)}: the record takes the oldest harvest first,"
                " were these of the other?"
            )
            weight = OTHER_HARVEST * BOTH
            yield Explanation("documentation", "drawn_from_another_harvest", sentence, weight=weight)


def in_another_group(found: Found, row: GroupCount, off: int) -> Iterator[Explanation]:
    """Another size, or the same size at the other place, is off by the same number the other way."""
    for other in found.other_sizes(row.group):
        if -off in found.off(other):
            sentence = f"size {other.size} has {amiss(-off)}: are they in each other's dish?"
            weight = IN_OTHER_DISH * 0.5 ** min(abs(off), 100) * BOTH
            yield Explanation("misplaced", "in_another_group", sentence, weight=weight)
    elsewhere = row.group._replace(place="bench" if row.group.place == "dish" else "dish")
    if -off in found.off(elsewhere):
        where = "the dish has" if elsewhere.place == "dish" else "the placers have"
        sentence = f"{where} {amiss(-off)}: moved without an entry?"
        yield Explanation("misplaced", "in_another_group", sentence, weight=MOVED * BOTH)


def sizes_exchanged(found: Found, row: GroupCount, off: int) -> Iterator[Explanation]:
    """Of another size was found what the tally has of this one, and of this one what it has of the other."""
    for other in found.other_sizes(row.group):
        has = found.rows.get(other)
        if has and -off in has.off and row.expected + off == has.expected:
            sentence = (
                f"size {other.size} has what this one should, and the reverse: written the wrong way round?"
            )
            yield Explanation("miscount", "sizes_exchanged", sentence, weight=EXCHANGED * BOTH)


def discarded_just_before(found: Found, row: GroupCount, off: int) -> Iterator[Explanation]:
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
        weight = DISCARDED if event.count == abs(off) else DISCARDED / 3
        yield Explanation(cause, "discarded_just_before", sentence, (entry.seq,), weight)


def counted_wrong_before(found: Found, row: GroupCount, off: int) -> Iterator[Explanation]:
    """An earlier hand count changed the group by the same number the other way."""
    for entry in found.moving(row.group, -off):
        if isinstance(entry.event, DishCounted):
            change = f"{'−' if off > 0 else '+'}{abs(off):,}"
            sentence = f"the hand count of entry {entry.seq} changed this by {change}: was it wrong?"
            yield Explanation("miscount", "counted_wrong_before", sentence, (entry.seq,), COUNTED_WRONG)


#: Equally likely ones are shown in this order.
EXPLANATIONS: Final[tuple[Rule, ...]] = (
    discarded_just_before,
    in_another_group,
    sizes_exchanged,
    entered_twice,
    wrong_size_entered,
    placing_not_entered,
    wrong_number_entered,
    placed_past_the_placers,
    drawn_from_another_harvest,
    counted_wrong_before,
)
