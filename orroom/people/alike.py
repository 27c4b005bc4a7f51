"""How alike grafts of one case are, as the team's own cases show, and what counts are worth because of it."""

from collections.abc import Iterable, Sequence
from typing import Final

from orroom.figures.shares import BELIEF, CORRELATION, design_effect

#: How many of how many, of one person in one case.
Step = tuple[int, int]
#: More alike than this, hardly any count says anything.
MOST: Final = 0.5


def correlation(people: Iterable[Sequence[Step]]) -> float:
    """The correlation of grafts of one person in one case, 0 to ``MOST``, from all cases of all people.

    The moment estimator of a beta-binomial: the spread of a person's cases around the person's own share,
    less what chance alone makes of it. It is drawn to ``CORRELATION``, which weighs as much as ``BELIEF``
    cases. J. C. Kleinman, J Am Stat Assoc 1973;68:46–54 (from memory).
    """
    squares = by_chance = pairs = 0.0
    degrees = 0
    for steps in people:
        count, of = sum(each for each, _ in steps), sum(each for _, each in steps)
        if len(steps) < 2 or not 0 < count < of:
            continue
        share = count / of
        free = len(steps) - 1
        spread = share * (1 - share)
        squares += len(steps) / free * sum((c - share * n) ** 2 for c, n in steps)
        by_chance += spread * of
        pairs += spread * sum(n * (n - 1) for _, n in steps)
        degrees += free
    shown = (squares - by_chance) / pairs if pairs else CORRELATION
    drawn = (BELIEF * CORRELATION + degrees * shown) / (BELIEF + degrees)
    return min(MOST, max(0.0, drawn))


def worth(steps: Sequence[Step], alike: float) -> tuple[float, float]:
    """Count and whole of a person as the independent grafts that would be as sure."""
    effect = max(1.0, design_effect([of for _, of in steps], alike))
    return sum(count for count, _ in steps) / effect, sum(of for _, of in steps) / effect
