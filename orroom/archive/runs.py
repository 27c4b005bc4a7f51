"""What a row of values in order of time shows that chance alone seldom does: the rules of run charts.

R. J. Perla, L. P. Provost, S. K. Murray, The run chart: a simple analytical tool for learning from variation
in healthcare processes, BMJ Qual Saf 2011;20:46-51 (the rules as others cite them, not read): a shift, a
trend, and too few or too many runs about the median. Critical numbers of runs: F. S. Swed, C. Eisenhart, Ann
Math Statist 1943;14:66-87. Each value counts once, whatever it is made of.
"""

from collections.abc import Iterator, Sequence
from itertools import groupby, pairwise
from math import comb, sqrt
from statistics import median
from typing import Final, NamedTuple

from msgspec import Struct

#: So many values in a row on one side of the median are a shift; those on it neither count nor break it.
SHIFT: Final = 6
#: So many values in a row that each are above, or each below, the one before are a trend; of equal ones the
#: first counts.
TREND: Final = 5
#: From so many values off the median on their runs are counted.
FEWEST_FOR_RUNS: Final = 10
#: The chance beyond each critical number of runs.
TAIL: Final = 0.025


class Stretch(NamedTuple):
    """Values from ``first`` to ``last`` (places from 0), higher or lower than before or than the median."""

    first: int
    last: int
    up: bool


class Signals(Struct, frozen=True):
    """The median, how many values are off it, in how many runs, and what chance alone seldom does.

    ``runs_by_chance`` is the fewest and most runs that chance explains; ``None`` for too few values.
    """

    median: float
    off_median: int
    runs: int
    runs_by_chance: tuple[int, int] | None
    shifts: tuple[Stretch, ...]
    trends: tuple[Stretch, ...]


def signals(values: Sequence[float]) -> Signals:
    """What the rules find in values in order of time, one at least."""
    middle = median(values)
    sides = [(place, value > middle) for place, value in enumerate(values) if value != middle]
    runs = [[place for place, _ in mine] for _, mine in groupby(sides, key=lambda each: each[1])]
    above = sum(up for _, up in sides)
    return Signals(
        median=middle,
        off_median=len(sides),
        runs=len(runs),
        runs_by_chance=runs_by_chance(above, len(sides) - above),
        shifts=tuple(
            Stretch(run[0], run[-1], up=values[run[0]] > middle) for run in runs if len(run) >= SHIFT
        ),
        trends=tuple(_trends(values)),
    )


def _trends(values: Sequence[float]) -> Iterator[Stretch]:
    """Stretches that go on up or down, equal neighbours taken as one."""
    unlike = [place for place, value in enumerate(values) if not place or value != values[place - 1]]
    steps = [(later, values[later] > values[earlier]) for earlier, later in pairwise(unlike)]
    begun = 0
    for up, mine in groupby(steps, key=lambda each: each[1]):
        places = [place for place, _ in mine]
        if len(places) >= TREND - 1:
            yield Stretch(begun, places[-1], up)
        begun = places[-1]


def runs_by_chance(above: int, below: int) -> tuple[int, int] | None:
    """The fewest and the most runs of so many values above and below that are not significant.

    Exact: that many runs or fewer, or that many or more, come by chance in more than ``TAIL`` of all orders.
    ``None`` where all are on one side, or below ``FEWEST_FOR_RUNS``.
    """
    n = above + below
    if not above or not below or n < FEWEST_FOR_RUNS:
        return None
    ways = [_ways(above, below, runs) for runs in range(n + 1)]
    tail = TAIL * comb(n, above)
    fewest = next(runs for runs in range(n + 1) if sum(ways[: runs + 1]) > tail)
    most = next(runs for runs in range(n, -1, -1) if sum(ways[runs:]) > tail)
    return fewest, most


def _ways(above: int, below: int, runs: int) -> int:
    """In how many orders of these values there are so many runs."""
    half = runs // 2
    if runs < 2:
        return 0
    if runs % 2 == 0:
        return 2 * comb(above - 1, half - 1) * comb(below - 1, half - 1)
    return comb(above - 1, half) * comb(below - 1, half - 1) + comb(above - 1, half - 1) * comb(
        below - 1, half
    )


def control_limits(share: float, cases: int) -> tuple[float, float]:
    """Between which a share of so many cases lies but for 3 in 1,000 groups, if ``share`` is that of all.

    p ± 3·√(p·(1 − p)/n), cut off at 0 and 1: the p chart, NIST/SEMATECH e-Handbook, section 6.3.3.2. Of few
    cases the chance is only near that.
    """
    half = 3 * sqrt(share * (1 - share) / cases)
    return max(0.0, share - half), min(1.0, share + half)
