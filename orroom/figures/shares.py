"""A share of what was done, with its 95 % ranges: of things that are independent, or alike in clusters.

Both ranges are given: Wilson's, close to 95 % on average, and the exact one of Clopper and Pearson, never
below, if each graft is as likely to be spoilt as the next. Of clusters, such as segments, it is not. There
the ranges are those of the number of independent grafts that would be as sure.
"""

from collections.abc import Collection, Iterable
from math import sqrt
from statistics import NormalDist
from typing import Final, final

from msgspec import Struct

from orroom.figures.clusters import t_quantile
from orroom.figures.distributions import beta_quantile

LEVEL = 0.95
#: The correlation of grafts within a cluster that is believed before clusters show theirs. Common practice,
#: no source.
CORRELATION: Final = 0.05
#: That belief weighs as much as this many clusters. Tried on simulated days (``test_shares.py``).
BELIEF: Final = 8.0


@final
class Range(Struct, frozen=True):
    """Lower and upper end of the range of a share, 0 to 1."""

    low: float
    high: float


@final
class Proportion(Struct, frozen=True):
    """``count`` out of ``of``. More than one for each is not a share of a whole and has no range.

    ``effective`` is how many independent ones would be as sure; ``of`` itself where they are independent.
    """

    count: int
    of: int
    share: float
    wilson: Range | None
    exact: Range | None
    effective: float


def proportion(count: int, of: int, effective: float | None = None) -> Proportion | None:
    """A share with its two-sided range, or ``None`` below one observation."""
    if of < 1:
        return None
    share, sure = count / of, of if effective is None else effective
    if not 0 <= count <= of:
        return Proportion(count, of, share, None, None, sure)
    seen = count if effective is None else share * sure
    return Proportion(count, of, share, wilson_range(seen, sure), exact_range(seen, sure), sure)


def clustered(parts: Iterable[tuple[int, int]]) -> Proportion | None:
    """The share of all clusters together, each given as how many of how many; ``None`` below one.

    The effective number is of/D. D is the variance of the share between clusters as a multiple of that of
    independent ones, drawn towards the design effect of ``CORRELATION``, times (t/z)² for the degrees of
    freedom behind it; E. L. Korn, B. I. Graubard, Survey Methodology 1998;24:193–201 (method read in the
    manual of a statistical package; Wilson's range takes the same number there). The variance is that of a
    ratio: W. G. Cochran, Sampling Techniques, 3rd ed. 1977, chapter 6 (from memory).
    """
    given = [each for each in parts if each != (0, 0)]
    count, of = sum(each for each, _ in given), sum(each for _, each in given)
    if of < 1 or not 0 <= count <= of:
        return proportion(count, of)
    sizes, k = [each for _, each in given], len(given)
    share, believed = count / of, design_effect(sizes)
    squares, independent = sum((c - share * n) ** 2 for c, n in given), share * (1 - share) * of
    shown = k / (k - 1) * squares / independent if k > 1 and independent else believed
    degrees = BELIEF + k - 1
    effect = max(1.0, (BELIEF * believed + (k - 1) * shown) / degrees)
    unsure = (t_quantile(100 * LEVEL, degrees) / NormalDist().inv_cdf((1 + LEVEL) / 2)) ** 2
    alone = of / sum(each * each for each in sizes)  # 1 where each is a cluster of its own: none are alike
    return proportion(count, of, of / (1 + (effect * unsure - 1) * (1 - alone)))


def design_effect(sizes: Collection[int], correlation: float = CORRELATION) -> float:
    """How much wider clusters of these sizes make a variance: 1 + (m − 1)·ρ, m their size as a graft sees it.

    L. Kish, Survey Sampling, 1965; A. Donner, N. Klar, Design and Analysis of Cluster Randomization Trials,
    2000 (both from memory).
    """
    of = sum(sizes)
    return 1 + (sum(each * each for each in sizes) / of - 1) * correlation if of else 1.0


def wilson_range(count: float, of: float, level: float = LEVEL) -> Range:
    """Wilson's score range: the shares p with (count/of − p)² = z² p (1 − p) / of.

    E. B. Wilson, J Am Stat Assoc 1927;22:209–212 (from memory).
    """
    z = NormalDist().inv_cdf((1 + level) / 2)
    share = count / of
    middle = share + z * z / (2 * of)
    half = z * sqrt(share * (1 - share) / of + z * z / (4 * of * of))
    whole = 1 + z * z / of
    low = 0.0 if count == 0 else (middle - half) / whole
    high = 1.0 if count == of else (middle + half) / whole
    return Range(low, high)


def exact_range(count: float, of: float, level: float = LEVEL) -> Range:
    """Clopper and Pearson's range: shares at which this many, or so few, have a chance of (1 − level)/2.

    They are quantiles of beta distributions. C. J. Clopper, E. S. Pearson, Biometrika 1934;26:404–413 (from
    memory).
    """
    tail = (1 - level) / 2
    low = 0.0 if count == 0 else beta_quantile(count, of - count + 1, tail)
    high = 1.0 if count == of else beta_quantile(count + 1, of - count, 1 - tail)
    return Range(low, high)
