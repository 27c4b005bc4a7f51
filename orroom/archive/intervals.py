"""Figures over cases, with 95 % ranges. The case is the unit: grafts of one case are alike, cases are not.

Ranges say how far chance alone, in which cases came, could have moved a figure; they take the cases as a
random sample of such cases. Below ``FEWEST`` cases there are none: a spread seen in fewer is a guess.
"""

from collections.abc import Sequence
from math import exp, log, sqrt
from typing import Final, NamedTuple

from orroom.figures.clusters import t_quantile
from orroom.figures.shares import proportion

LEVEL: Final = 95
FEWEST: Final = 5
#: The fewest cases whose middle half is shown: of fewer its ends are figures of single cases.
FEWEST_HALVED: Final = 12


class Estimate(NamedTuple):
    """A figure and its range, ``None`` where there is none."""

    value: float
    low: float | None = None
    high: float | None = None


def mean_of(values: Sequence[float]) -> Estimate:
    """The mean over cases, one at least, with Student's range x̄ ± t(n − 1)·s/√n.

    Exact for normal figures, close for others from some 30 cases on. W. G. Cochran, Sampling Techniques, 3rd
    ed. 1977, chapter 2 (from memory).
    """
    n = len(values)
    mean = sum(values) / n
    if n < FEWEST:
        return Estimate(mean)
    spread = sum((each - mean) ** 2 for each in values) / (n - 1)
    half = t_quantile(LEVEL, n - 1) * sqrt(spread / n)
    return Estimate(mean, mean - half, mean + half)


def median_of(values: Sequence[float]) -> Estimate:
    """The median over cases, one at least, with a range from the order of the values alone.

    The r-th smallest and r-th largest hold the median unless fewer than r of n lie on one side of it, which
    has the chance of fewer than r heads in n throws; r is the largest for which that is at most 2.5 % on each
    side. The smallest and the largest are not shown: they are single cases that somebody may know. So there
    is no range below 9 cases. W. J. Conover, Practical Nonparametric Statistics, 3rd ed. 1999, chapter 3.2
    (from memory).
    """
    n = len(values)
    ordered = sorted(values)
    middle = (ordered[(n - 1) // 2] + ordered[n // 2]) / 2
    rank, ways, so_far, most = 0, 1, 1, 2**n
    while so_far * 40 <= most:  # so_far/2ⁿ is the chance of at most ``rank`` heads
        rank += 1
        ways = ways * (n - rank + 1) // rank
        so_far += ways
    if rank < 2:
        return Estimate(middle)
    return Estimate(middle, ordered[rank - 1], ordered[-rank])


def pooled_share(counts: Sequence[float], wholes: Sequence[float]) -> Estimate:
    """The share of all grafts of all cases, Σcount/Σwhole, with a range for cases as clusters.

    Grafts of one case share team, tissue and day, so they are not independent trials, and a binomial range
    would be too narrow. R = Σy/Σx is a ratio estimate, its error that of ``_ratio``. The range is R's logit ±
    t(n − 1)·s/(R·(1 − R)), transformed back, so that it stays between 0 and 1: as ``svyciprop`` with
    ``method="xlogit"`` (T. Lumley's survey package, its reference page). Where nothing or everything happened
    the cases show no spread, and there is none.
    """
    n, (share, error) = len(wholes), _ratio(counts, wholes)
    if n < FEWEST or not 0 < share < 1:
        return Estimate(share)
    middle, half = log(share / (1 - share)), t_quantile(LEVEL, n - 1) * error / (share * (1 - share))
    return Estimate(share, 1 / (1 + exp(half - middle)), 1 / (1 + exp(-half - middle)))


def pooled_pace(done: Sequence[float], hours: Sequence[float]) -> Estimate:
    """All that was done by all the hours, R = Σy/Σx, with a range for cases as clusters.

    A mean of each case's own pace would be ruled by one case of few minutes. The range is
    R·exp(± t(n − 1)·s/R), so that it stays above 0; where nothing was done there is none.
    """
    n, (pace, error) = len(hours), _ratio(done, hours)
    if n < FEWEST or not pace:
        return Estimate(pace)
    factor = exp(t_quantile(LEVEL, n - 1) * error / pace)
    return Estimate(pace, pace / factor, pace * factor)


def _ratio(ys: Sequence[float], xs: Sequence[float]) -> tuple[float, float]:
    """R = Σy/Σx and its standard error √(n/(n − 1)·Σ(y − R·x)²)/Σx, which counts cases; 0 for one case.

    Cochran, as above, chapter 6, without finite population correction (from memory).
    """
    n, whole = len(xs), sum(xs)
    ratio = sum(ys) / whole
    spread = sum((y - ratio * x) ** 2 for y, x in zip(ys, xs, strict=True))
    return ratio, sqrt(n / max(n - 1, 1) * spread) / whole


def share_of_cases(happened: Sequence[bool]) -> Estimate:
    """The share of cases in which something happened, with Wilson's range: cases are independent trials."""
    share, found = sum(happened) / len(happened), proportion(sum(happened), len(happened))
    if len(happened) < FEWEST or found is None or found.wilson is None:
        return Estimate(share)
    return Estimate(share, found.wilson.low, found.wilson.high)


def middle_half(values: Sequence[float]) -> tuple[float, float] | None:
    """Between which values the middle half of the cases lies; ``None`` below ``FEWEST_HALVED``."""
    from statistics import quantiles

    if len(values) < FEWEST_HALVED:
        return None
    lower, _, upper = quantiles(values, n=4, method="inclusive")
    return lower, upper
