"""What a whole strip gives, estimated from part of its segments. Pure numbers.

Two things would make an estimate from few segments wrong or too sure. Where several people cut, small
segments are finished first: so those in hand count too, with at least what is cut of them. Two segments may
give the same by chance: so their spread is drawn towards what such counts scatter by.
"""

from collections.abc import Sequence
from math import erfc, exp, pi, sqrt
from typing import Final

from msgspec import Struct

from orroom.figures.distributions import t_within

#: Segments differ by so much of their mean beyond counting scatter. Common practice, no source.
SEGMENTS_DIFFER: Final = 0.25
#: That belief weighs as much as this many segments. Tried on simulated strips (``test_yields.py``).
BELIEF: Final = 1.0


def t_quantile(level: float, degrees: float) -> float:
    """Student's two-sided t at ``level`` per cent. Raises ``ValueError`` unless ``degrees`` are above 0."""
    if degrees <= 0:
        raise ValueError(f"no t quantile for {degrees:g} degrees of freedom")
    return t_within(degrees, level / 100)


class ClusterTotal(Struct, frozen=True):
    """An estimated total, its variance, the degrees of freedom of that, and how many segments it rests on."""

    total: float
    variance: float
    degrees: float
    known: float


def cluster_total(
    sampled: Sequence[float], clusters: int, in_hand: Sequence[float] = (), belief: float = BELIEF
) -> ClusterTotal | None:
    """The total over ``clusters`` from those ``sampled`` and what is cut ``in_hand``; ``None`` below 2.

    N·m with variance N²·(1 − n/N)·s²/n: W. G. Cochran, Sampling Techniques, 3rd ed. 1977, chapter 2. One
    in hand is a normal variable known to lie beyond what is cut of it. It has what may be expected of it
    (J. Schmee, G. J. Hahn, Technometrics 1979;21:417–432) and counts as that part of a segment which it shows
    of the mean. s² is moderated (``_drawn``). All from memory.
    """
    n = len(sampled)
    if n < 2:
        return None
    open_ones = sorted(in_hand, reverse=True)[: max(0, clusters - n)]
    mean = sum(sampled) / n
    spread = _drawn(mean, sum((each - mean) ** 2 for each in sampled), n, belief)
    found = 0.0
    for _ in range(100):
        expected = [_beyond(least, mean, sqrt(spread)) for least in open_ones]
        found = sum(part for _, part in expected)
        before, mean = mean, (sum(sampled) + sum(each for each, _ in expected)) / (n + len(open_ones))
        squares = sum((each - mean) ** 2 for each in sampled)
        squares += sum((each - mean) ** 2 + spread * (1 - part) for each, part in expected)
        spread = _drawn(mean, squares, n + len(open_ones), belief)
        if abs(mean - before) <= 1e-9 * mean:
            break
    return _total(clusters * mean, spread, n + found, clusters, belief)


def part_total(whole: ClusterTotal, sampled: Sequence[float], share: float, clusters: int) -> ClusterTotal:
    """The total of a size with a ``share`` of the whole, of which the finished segments gave ``sampled``."""
    mean = sum(sampled) / len(sampled)
    squares = sum((each - mean) ** 2 for each in sampled)
    total = share * whole.total
    spread = _drawn(total / clusters, squares, len(sampled), BELIEF)
    return _total(total, spread, whole.known, clusters, BELIEF)


def ratio_total(
    sampled: Sequence[float],
    lengths: Sequence[float],
    clusters: int,
    whole: float,
    belief: float = BELIEF,
) -> ClusterTotal | None:
    """The total over ``clusters`` of ``whole`` length from those ``sampled`` and their ``lengths``.

    R·X with R = Σy/Σx and variance N²·(1 − n/N)·Σ(y − R·x)²/(n − 1)/n; ``None`` below two of them. Better
    than N·ȳ where longer segments give more; its bias is of the order 1/n. W. G. Cochran, Sampling
    Techniques, 3rd ed. 1977, chapter 6 (from memory). The spread is drawn towards counting scatter alone:
    the lengths say how else segments differ. Raises ``ValueError`` unless every length is above 0.
    """
    if len(lengths) != len(sampled) or any(not each > 0 for each in (whole, *lengths)):
        raise ValueError(f"{len(sampled)} clusters need one length each and one of the whole, all above 0")
    n = len(sampled)
    if n < 2:
        return None
    ratio = sum(sampled) / sum(lengths)
    squares = sum((y - ratio * x) ** 2 for y, x in zip(sampled, lengths, strict=True))
    spread = _drawn(ratio * whole / clusters, squares, n, belief, differ=0.0)
    return _total(ratio * whole, spread, n, clusters, belief)


def _total(total: float, spread: float, known: float, clusters: int, belief: float) -> ClusterTotal:
    variance = spread * clusters * max(0.0, clusters - known) / known
    return ClusterTotal(total, variance, known - 1 + belief, known)


def _drawn(mean: float, squares: float, n: int, belief: float, differ: float = SEGMENTS_DIFFER) -> float:
    """The variance between segments from their squared deviations, drawn to what such counts scatter by.

    A moderated variance: G. K. Smyth, Stat Appl Genet Mol Biol 2004;3:3. What it is drawn to is that of a
    negative binomial count, m + (differ·m)². Where no graft was seen, half a one was: Jeffreys' prior of a
    Poisson rate (A. Gelman et al., Bayesian Data Analysis, 3rd ed. 2013, section 2.8). Both from memory.
    """
    least = mean or 0.5 / n
    return (belief * (least + (differ * least) ** 2) + squares) / (belief + n - 1)


def _beyond(least: float, mean: float, spread: float) -> tuple[float, float]:
    """What a segment with ``least`` cut is expected to have, and what part of one it adds to the mean.

    The mean of a normal variable beyond a point, and 1 less its share of the variance: N. L. Johnson et al.,
    Continuous Univariate Distributions 1, 2nd ed. 1994, section 13.10 (from memory).
    """
    at = (least - mean) / spread
    hazard = at + 1 / at if at > 30 else exp(-at * at / 2) / sqrt(2 * pi) / (erfc(at / sqrt(2)) / 2)
    return mean + spread * hazard, min(1.0, hazard * (hazard - at))
