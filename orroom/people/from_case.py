"""What is taken from a closed case: how many of how many, by person and measure, and no other word of it."""

from collections import Counter
from typing import Final

from msgspec import Struct

from orroom.case import events as e
from orroom.case.state import CaseState
from orroom.case.terms import CheckSubject
from orroom.figures.quality import SPOILT, TRANSECTED, quality

#: The measures of cutting, of the grafts that somebody cut.
OF_CUTTING: Final = (TRANSECTED, SPOILT)
#: A fault is kept under these words and its own.
CHECKED: Final[dict[CheckSubject, str]] = {
    "cutting": "faults in cutting, found by checks",
    "placing": "faults in placing, found by checks",
}


class Figure(Struct, frozen=True):
    """Of one person in one case: ``count`` out of ``of``; ``fault`` is the kind, where checks found one."""

    who: str
    measure: str
    fault: str
    count: int
    of: int


def figures_of(state: CaseState) -> tuple[Figure, ...]:
    """Everybody's figures of a case: transected and spoilt in cutting, faults that somebody else found.

    A measure of which nothing was entered in the whole case is left out: that is not a zero. So are checks
    of nobody's work in particular, and those of one's own work.
    """
    found = [
        Figure(each.who, each.measure, "", each.proportion.count, each.proportion.of)
        for each in quality(state)
        if each.who is not None and each.measure in OF_CUTTING and each.proportion.count <= each.proportion.of
    ]
    looked_at: Counter[tuple[str, CheckSubject]] = Counter()
    faulty: Counter[tuple[str, CheckSubject, str]] = Counter()
    for entry in state.standing():
        match entry.event:
            case e.SpotChecked(subject=subject, whose=str(whose)) as check if whose != entry.stamp.who:
                looked_at[whose, subject] += check.looked_at
                faulty[whose, subject, ""] += check.faulty
                for each in check.by_fault:
                    faulty[whose, subject, each.fault] += each.count
    found += [
        Figure(who, CHECKED[subject], fault, count, looked_at[who, subject])
        for (who, subject, fault), count in sorted(faulty.items())
        if 0 <= count <= looked_at[who, subject] > 0
    ]
    return tuple(found)
