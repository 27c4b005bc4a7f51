"""How many must be looked at to say anything."""

from itertools import count
from typing import Final

from orroom.figures.distributions import beta_below

#: How often a real difference shall be noticed, where the number is right. Common practice, no source.
POWER: Final = 0.8


def not_excluded(of: float) -> float:
    """The highest share that finding none in ``of`` does not exclude: 5 % of such looks find none of it.

    1 − 0.05^(1/n); the rule of three, 3/n, is near it from some 30 on. J. A. Hanley, A. Lippman-Hand, JAMA
    1983;249:1743–1745 (from memory).
    """
    return 1 - float(0.05 ** (1 / of))


def doubled_odds(share: float) -> float:
    """The share with twice the odds: of 3 % it is 5.8 %."""
    return 2 * share / (1 + share)


def needed(share: float, higher: float, tail: float = 0.025, power: float = POWER) -> int:
    """The fewest independent grafts in which a ``higher`` share is seen to be above ``share``.

    There is a count that ``share`` reaches with a chance of ``tail`` at the most, and ``higher`` with one of
    ``power`` at least. An exact single-stage design: R. P. A'Hern, Stat Med 2001;20:859–866 (from memory).
    Raises ``ValueError`` unless 0 < share < higher < 1.
    """
    if not 0 < share < higher < 1:
        raise ValueError(f"{higher:g} is not a share above {share:g}")
    for least in count(1):
        of = _enough(least, higher, power)
        if _reached(least, of, share) <= tail:
            return of
    raise AssertionError  # never: the loop has no end


def _reached(least: int, of: int, share: float) -> float:
    """The chance of ``least`` or more among ``of``."""
    return beta_below(least, of - least + 1, share)


def _enough(least: int, share: float, power: float) -> int:
    """The fewest grafts among which ``least`` or more have a chance of ``power``."""
    low = high = least
    while _reached(least, high, share) < power:
        low, high = high + 1, 2 * high
    while low < high:
        middle = (low + high) // 2
        low, high = (middle + 1, high) if _reached(least, middle, share) < power else (low, middle)
    return low
