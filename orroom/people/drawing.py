"""Each person's share drawn to the team: the fewer grafts were looked at, the further.

Somebody with 3 of 20 is most likely not three times as bad as a team with 5 %: small numbers are extreme by
chance. So the team's share counts too, with a weight that the team itself shows: where people differ little,
all are drawn nearly to the middle, where they differ much, hardly at all.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from msgspec import Struct

from orroom.figures.distributions import beta_quantile, log_beta
from orroom.figures.shares import exact_range

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Numbers = NDArray[np.float64]

#: How many weights of the team are gone through.
WEIGHTS: Final = 60
#: The team's weight times its share is at least this: people are not taken to differ by more than about 1.4
#: times the team's share. Common practice (Jeffreys' prior has it), no source.
LEAST: Final = 0.5
#: Beforehand people are believed to differ rather than not. Tried on simulated teams.
DIFFER: Final = 1.0


class Drawn(Struct, frozen=True):
    """A person's share, drawn to the team, and its 95 % range."""

    share: float
    low: float
    high: float


def drawn_to_team(parts: Sequence[tuple[float, float]], team: float) -> tuple[Drawn, ...]:
    """For each person, given as how many of how many, the share drawn to the ``team``'s, with its range.

    Empirical Bayes with a beta-binomial: B. Efron, C. Morris, J Am Stat Assoc 1975;70:311–319. Shares of
    people are a beta distribution with the team's mean and a weight m; every m counts by how likely it makes
    the team's counts, and beforehand by (1 − m/(m + n))^``DIFFER``, n the middle person's whole: of the kind
    in M. J. Daniels, Can J Stat 1999;27:567–578. The range is that of a beta with the mean and variance of
    the mixture, as in H. Tak, J. Kelly, C. Morris, J Stat Softw 2017;78(5), doubt about the team's mean
    included (all from memory). Where the team has none, or nothing but, shares are as counted, their ranges
    exact. Raises ``ValueError`` unless every whole is above 0.
    """
    import numpy as np

    if not all(0 <= count <= of and of > 0 for count, of in parts):
        raise ValueError("a share needs a count from 0 to a whole above 0")
    if not 0 < team < 1:
        ranges = [exact_range(count, of) for count, of in parts]
        return tuple(
            Drawn(count / of, each.low, each.high) for (count, of), each in zip(parts, ranges, strict=True)
        )
    counts, wholes = np.asarray(parts, dtype=np.float64).T
    weights = team_weights(wholes, team)[:, None]
    chance = likelihood(counts, wholes, team, weights)
    means = (weights * team + counts) / (weights + wholes)
    share = chance @ means
    part = wholes / wholes.sum()
    doubt = team * (1 - team) * ((part**2) * (1 / wholes + (1 - 1 / wholes) / (weights + 1))).sum(axis=1)
    spread = means * (1 - means) / (weights + wholes + 1)
    spread += (weights / (weights + wholes)) ** 2 * np.maximum(doubt, 0)[:, None] + (means - share) ** 2
    seen = share * (1 - share) / (chance @ spread) - 1
    return tuple(
        Drawn(middle, *(beta_quantile(middle * grafts, (1 - middle) * grafts, end) for end in (0.025, 0.975)))
        for middle, grafts in zip(share.tolist(), seen.tolist(), strict=True)
    )


def team_weights(wholes: "Numbers", team: float) -> "Numbers":
    """The weights that are gone through, in grafts: none above some hundred times the middle person's."""
    import numpy as np

    part = _parts()
    weights: Numbers = LEAST / min(team, 1 - team) + np.median(wholes) * part / (1 - part)
    return weights


def likelihood(counts: "Numbers", wholes: "Numbers", team: float, weights: "Numbers") -> "Numbers":
    """How likely each weight (a row each) is, given all counts together, as shares of 1."""
    import numpy as np

    a, b = weights * team, weights * (1 - team)
    likely = (log_beta(a + counts, b + wholes - counts) - log_beta(a, b)).sum(axis=1)
    likely += DIFFER * np.log(1 - _parts())
    chance = np.exp(likely - likely.max())
    found: Numbers = chance / chance.sum()
    return found


def _parts() -> "Numbers":
    """By what part the middle person is drawn, weight by weight, but for the least weight."""
    import numpy as np

    return (np.arange(WEIGHTS) + 0.5) / WEIGHTS
