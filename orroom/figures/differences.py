"""A difference of the final count: a group with what was found in it, and where that may come from."""

from collections.abc import Callable, Iterator, Mapping
from typing import Final, Literal

from msgspec import Struct

from orroom.case.events import Entry
from orroom.case.final_count import Group
from orroom.case.state import CaseState
from orroom.case.terms import SIZE_KEYS
from orroom.figures.wording import grafts

#: What differences came from in 29 of 148 operations: 17 misplaced, 11 documentation, 1 miscount (Greenberg
#: et al., Ann Surg 2008;248:337–341, read).
Cause = Literal["misplaced", "documentation", "miscount"]

#: What explains two groups that are off by the same number spares a second cause for the other group.
BOTH: Final = 100.0


class Explanation(Struct, frozen=True):
    """Where a difference may come from: a cause, the rule that found it, a sentence, the entries it names.

    ``weight`` says how likely it is compared with others.
    """

    cause: Cause
    rule: str
    sentence: str
    entries: tuple[int, ...] = ()
    weight: float = 1.0


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


class Found(Struct, frozen=True):
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


#: What may explain that a group is off by this many grafts; nothing if the rule finds nothing.
Rule = Callable[[Found, GroupCount, int], Iterator[Explanation]]


def amiss(off: int) -> str:
    """By how many a group is off: ``3 too many``, ``3 too few``."""
    return f"{grafts(abs(off))} too {'many' if off > 0 else 'few'}"
