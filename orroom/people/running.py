"""The running chart: case by case, whether somebody's share has risen to twice the team's odds.

Each case adds what it says for twice the odds against the team's own: the logarithm of how much likelier its
count is. The sum never falls below 0, so good cases cannot make up for bad ones. S. H. Steiner, R. J.
Cook, V. T. Farewell, T. Treasure, Biostatistics 2000;1:441–452 (from memory). Where it reaches its limit
somebody should look; the limit is set by how seldom chance alone reaches it.
"""

from collections.abc import Sequence
from math import log, log1p
from typing import TYPE_CHECKING, Final

from msgspec import Struct

from orroom.figures.distributions import log_beta, log_gamma
from orroom.people.alike import Step
from orroom.people.enough import doubled_odds

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Numbers = NDArray[np.float64]

#: In how many cases chance alone reaches the limit once, on average. Common practice, no source.
FALSE_ALARM: Final = 200
#: How fine the states of the sum are.
STATES: Final = 60
#: Of more sizes of cases than this, as many are used, evenly through them.
SIZES: Final = 10


class Running(Struct, frozen=True):
    """The sum after each case, and its limit; what chance does with such a chart.

    ``between_false`` is after how many cases, on average, chance alone reaches the limit; ``to_notice`` the
    same if the odds are doubled; ``so_far`` the chance of a false alarm up to now.
    """

    sums: tuple[float, ...]
    limit: float
    between_false: float
    to_notice: float
    so_far: float

    @property
    def reached(self) -> tuple[int, ...]:
        """The cases, counted from 1, after which the sum was at its limit or above."""
        return tuple(number for number, each in enumerate(self.sums, 1) if each >= self.limit)


def running(steps: Sequence[Step], share: float, alike: float) -> Running | None:
    """The chart of a person's cases, in order, against the team's ``share``; ``None`` if that is 0 or 1.

    Counts are beta-binomial: grafts of one case are ``alike``, which is their correlation.
    """
    higher = doubled_odds(share)
    if not steps or not 0 < share < 1:
        return None
    sums, total = [], 0.0
    for count, of in steps:
        total = max(0.0, total + float(_says(of, share, higher, alike)[count]))
        sums.append(total)
    sizes = sorted(of for _, of in steps)
    if len(sizes) > SIZES:
        sizes = [sizes[(2 * place + 1) * len(sizes) // (2 * SIZES)] for place in range(SIZES)]
    values, by_chance, doubled = _moves(sizes, share, higher, alike)
    limit = limit_for(FALSE_ALARM, values, by_chance)
    stays = transitions(values, by_chance, limit)
    return Running(
        tuple(sums),
        limit,
        average_run(values, by_chance, limit),
        average_run(values, doubled, limit),
        _ended_by(stays, len(steps)),
    )


def _says(of: int, share: float, higher: float, alike: float) -> "Numbers":
    """What each count of ``of`` says for ``higher`` against ``share``: the log of the likelihood ratio."""
    import numpy as np

    counts = np.arange(of + 1, dtype=np.float64)
    found: Numbers = _log_chance(counts, of, higher, alike) - _log_chance(counts, of, share, alike)
    return found


def _log_chance(counts: "Numbers", of: int, share: float, alike: float) -> "Numbers":
    """The logarithm of the beta-binomial chance of each count, but for the number of orders."""
    if alike < 1e-9:
        return counts * log(share) + (of - counts) * log1p(-share)
    a, b = (part * (1 / alike - 1) for part in (share, 1 - share))
    return log_beta(a + counts, b + of - counts) - log_beta(a, b)


def _moves(
    sizes: Sequence[int], share: float, higher: float, alike: float
) -> tuple["Numbers", "Numbers", "Numbers"]:
    """By how much one case may move the sum, with the chance of each at the one share and at the other."""
    import numpy as np

    values, chances, others = [], [], []
    for of in sizes:
        counts = np.arange(of + 1, dtype=np.float64)
        orders = log_gamma(of + 1) - log_gamma(counts + 1) - log_gamma(of - counts + 1)
        values.append(_says(of, share, higher, alike))
        chances.append(np.exp(orders + _log_chance(counts, of, share, alike)) / len(sizes))
        others.append(np.exp(orders + _log_chance(counts, of, higher, alike)) / len(sizes))
    return np.concatenate(values), np.concatenate(chances), np.concatenate(others)


def transitions(values: "Numbers", chances: "Numbers", limit: float, states: int = STATES) -> "Numbers":
    """The chances to go from one state of the sum to another without reaching the limit.

    A Markov chain: D. Brook, D. A. Evans, Biometrika 1972;59:539–549. A move that ends between two states is
    shared between them so that its mean stays, which keeps the figures steady where moves are few: R. A.
    Webster, A. N. Pettitt, Commun Stat Simul Comput 2007;36:471–482 (abstract read).
    """
    import numpy as np

    step = limit / states
    ends = np.arange(states + 1)[:, None] * step + values
    stays = ends < limit
    stays[-1] |= values == 0
    at = np.clip(ends / step, 0, states)
    lower = np.minimum(at.astype(np.int64), states - 1)
    above = at - lower
    weight = np.where(stays, chances, 0.0)
    row = np.arange(states + 1)[:, None] * (states + 1)
    cells = (states + 1) ** 2
    parts = ((lower, weight * (1 - above)), (lower + 1, weight * above))
    square = sum(np.bincount((row + to).ravel(), part.ravel(), cells) for to, part in parts)
    return np.asarray(square, dtype=np.float64).reshape(states + 1, states + 1)


def average_run(values: "Numbers", chances: "Numbers", limit: float, states: int = STATES) -> float:
    """After how many cases, on average, a sum that begins at 0 reaches the limit."""
    import numpy as np

    stays = transitions(values, chances, limit, states)
    return float(np.linalg.solve(np.eye(len(stays)) - stays, np.ones(len(stays)))[0])


def limit_for(cases: float, values: "Numbers", chances: "Numbers") -> float:
    """The lowest limit, to 0.02, that chance alone reaches no more often than once in so many cases."""
    low, high = 0.0, 1.0
    while average_run(values, chances, high) < cases:
        low, high = high, 2 * high
    while high - low > 0.02:
        middle = (low + high) / 2
        low, high = (middle, high) if average_run(values, chances, middle) < cases else (low, middle)
    return high


def _ended_by(stays: "Numbers", cases: int) -> float:
    """The chance that a sum that begins at 0 has reached the limit after so many cases."""
    import numpy as np

    left = np.zeros(len(stays))
    left[0] = 1
    for _ in range(cases):
        left = left @ stays
    return max(0.0, 1 - float(left.sum()))
