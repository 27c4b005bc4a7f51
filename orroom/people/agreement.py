"""How far two checkers agree who looked at the same grafts without knowing each other's verdict."""

from math import inf
from statistics import NormalDist

from msgspec import Struct

from orroom.figures.shares import LEVEL


class Pair(Struct, frozen=True):
    """Grafts that both called faulty, one of the two alone, and neither."""

    both: int
    first: int
    second: int
    neither: int

    @property
    def of(self) -> int:
        """Grafts looked at."""
        return self.both + self.first + self.second + self.neither

    @property
    def same(self) -> int:
        """Grafts with the same verdict."""
        return self.both + self.neither


class Kappa(Struct, frozen=True):
    """Agreement beyond chance: 1 is always, 0 what chance does; with its 95 % range."""

    kappa: float
    low: float
    high: float


def kappa(pair: Pair) -> Kappa | None:
    """Kappa of two checkers, ``None`` where all or none were called faulty: then chance explains it all.

    The intraclass kappa, of two checkers the same as Fleiss's: J. L. Fleiss, Psychol Bull 1971;76:378–382.
    Its range are the values that the counts do not contradict (goodness of fit): A. Donner, M. Eliasziw, Stat
    Med 1992;11:1511–1519 (both from memory). With few faults it is wide, where the usual standard error may
    be 0.
    """
    p = (2 * pair.both + pair.first + pair.second) / (2 * pair.of) if pair.of else 0.0
    if not 0 < p < 1:
        return None
    least = -min(p / (1 - p), (1 - p) / p)
    found = max(least, 1 - (pair.of - pair.same) / (pair.of * 2 * p * (1 - p)))
    return Kappa(found, _end(pair, p, found, least), _end(pair, p, found, 1.0))


def _end(pair: Pair, p: float, inside: float, outside: float) -> float:
    """The value between the two up to which the counts do not contradict kappa."""
    most = NormalDist().inv_cdf((1 + LEVEL) / 2) ** 2
    if _contradiction(pair, p, outside) <= most:
        return outside
    for _ in range(50):
        middle = (inside + outside) / 2
        inside, outside = (middle, outside) if _contradiction(pair, p, middle) <= most else (inside, middle)
    return inside


def _contradiction(pair: Pair, p: float, value: float) -> float:
    """Pearson's χ² of the counts, if this were kappa."""
    q, mixed = 1 - p, p * (1 - p) * (1 - value)
    expected = (p * p + value * p * q, 2 * mixed, q * q + value * p * q)
    seen = (pair.both, pair.first + pair.second, pair.neither)
    found = 0.0
    for count, part in zip(seen, expected, strict=True):
        mean = pair.of * part
        if mean > 1e-12:
            found += (count - mean) ** 2 / mean
        elif count:
            return inf
    return found
