"""What is still open when a case is to be signed off. Each needs a reason, and somebody who was informed."""

from collections.abc import Iterator
from typing import Final

from msgspec import Struct

from orroom.case.final_count import (
    all_counts,
    left_by_group,
    moved_since,
    open_differences,
    person_counts,
    waiting_by_group,
)
from orroom.case.limits import LIMIT_KINDS, unanswered_limits
from orroom.case.mismatches import open_mismatches, taken_beyond_tally
from orroom.case.state import CaseState, once
from orroom.case.terms import PLACES

#: The key of a missing final count; a difference has ``difference:PLACE:SIZE:HARVEST``, a mismatch and a
#: broken limit their own key.
NO_COUNT: Final = "no-count"
NO_FATE: Final = "no-fate"
#: What is open besides mismatches, without the words of a plan, by the word that its key begins with.
OPEN_KINDS: Final[dict[str, str]] = {
    NO_COUNT: "no final count by two people",
    NO_FATE: "grafts left whose fate is not entered",
    "difference": "a difference in the final count",
    **LIMIT_KINDS,
}


class StillOpen(Struct, frozen=True):
    """One thing that is open: the key that names it, and a sentence without a full stop."""

    key: str
    sentence: str


@once
def open_at_sign_off(state: CaseState) -> tuple[StillOpen, ...]:
    """Everything that is open, each thing once: the final count, its differences, mismatches, broken limits.

    An account below nothing stays open although its mismatch has been explained: the grafts do not add up.
    """
    below_nothing = {each.key: each.sentence for each in taken_beyond_tally(state)}
    mismatches = {each.key: each.sentence for each in open_mismatches(state)}
    return (
        *_missing_count(state),
        *_differences(state),
        *_without_fate(state),
        *(StillOpen(*each) for each in (below_nothing | mismatches).items()),
        *(
            StillOpen(each.key, f"limit broken, nobody said what was done: {each.sentence}")
            for each in unanswered_limits(state)
        ),
    )


def _missing_count(state: CaseState) -> Iterator[StillOpen]:
    """There are no valid counts by two people; where no graft was ever entered there is nothing to count."""
    counts = person_counts(state)
    if len(counts) == 2 or not state.tally.stock:
        return
    why = ""
    if counts:
        why = f": only {counts[0].who} has counted"
    elif (made := all_counts(state)) and (moved := moved_since(state, made[-1].seq)) is not None:
        why = f": grafts moved after the last one (entry {moved.seq})"
    yield StillOpen(NO_COUNT, f"{OPEN_KINDS[NO_COUNT]}{why}")


def _without_fate(state: CaseState) -> Iterator[StillOpen]:
    """Grafts are left, and nobody has said what becomes of them."""
    waiting = sum(max(0, count) for count in waiting_by_group(state.tally).values())
    if waiting:
        left = (
            "1 graft is left, and what becomes of it"
            if waiting == 1
            else (f"{waiting:,} grafts are left, and what becomes of them")
        )
        yield StillOpen(NO_FATE, f"{left} is not entered")


def _differences(state: CaseState) -> Iterator[StillOpen]:
    left = left_by_group(state.tally)
    for group in open_differences(state):
        first, second = person_counts(state)
        held = left.get(group, 0)
        found = ", ".join(f"{each.who} counted {each.found.get(group, 0):,}" for each in (first, second))
        yield StillOpen(
            f"difference:{group.place}:{group.size}:{group.harvest}",
            f"size {group.size} of harvest {group.harvest}, {PLACES[group.place]}: {found}, the tally "
            f"has {held:,}",
        )
