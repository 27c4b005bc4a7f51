"""The funnel: how far from the team's share somebody is by chance alone; the fewer grafts, the further."""

from typing import Final

from orroom.figures.distributions import beta_below

#: Of both tails together: 1 of 20 who work like the team is outside the one, 1 of 500 outside the other.
INNER: Final = 0.95
OUTER: Final = 0.998


def limits(share: float, of: float, level: float) -> tuple[float, float]:
    """Between which shares ``level`` of all are who work like a team with ``share``, of ``of`` grafts.

    Exact binomial limits, interpolated between counts: D. J. Spiegelhalter, Stat Med 2005;24:1185–1202,
    appendix A.1.1 (from memory; whole counts as in R's funnelR 0.1.0, its source read). ``of`` need not be
    whole: it may be a number of independent grafts.
    """
    tail = (1 - level) / 2
    return _limit(share, of, tail), _limit(share, of, 1 - tail)


def _limit(share: float, of: float, part: float) -> float:
    """The count below which this part of them is, interpolated, as a share."""
    if not 0 < share < 1:
        return share
    below, at = 0.0, beta_below(of, 1, 1 - share)
    count = 0
    while at < part:
        count += 1
        below, at = at, beta_below(of - count, count + 1, 1 - share) if count < of else 1.0
    return min(1.0, max(0.0, (count - (at - part) / (at - below)) / of))
