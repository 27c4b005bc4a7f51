"""The normal, Student's and beta distribution: how much of each lies below a value, and which value that is.

Written out, since scipy, which has them, is as large as all else that is installed together, and mpmath,
which is small, takes 30 ms for one value of a beta distribution of 2,400 grafts where a summary asks for
thousands. They are compared with scipy and with printed tables in ``tests/outside/test_distributions.py``.
"""

from __future__ import annotations

from functools import cache, lru_cache
from itertools import count
from math import erfc, exp, inf, lgamma, log, log1p, pi, sqrt
from statistics import NormalDist
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Numbers = NDArray[np.float64]

#: The normal distribution is worked out once, at so many places for each standard deviation, so far out.
PLACES: Final = 128
FAR: Final = 9
#: So many values at a time stay in the processor's own memory: three times as fast as all at once.
AT_A_TIME: Final = 8192


def normal_below(at: Numbers) -> Numbers:
    """The part of a standard normal distribution below each of these, to 13 decimals.

    Taylor's series around the nearest of the places where it is known: a forecast asks for many thousands.
    """
    import numpy as np

    below, density = _normal()
    found = np.clip(at, -FAR, FAR).ravel()
    for start in range(0, found.size, AT_A_TIME):
        some = found[start : start + AT_A_TIME]
        place = np.rint(some * PLACES)
        near, index = place / PLACES, place.astype(np.intp) + FAR * PLACES
        off, square = some - near, near * near
        series = off * (1 - off * (near / 2 - off * ((square - 1) / 6 - off * near * (square - 3) / 24)))
        some[:] = below[index] + density[index] * series
    return found.reshape(at.shape)


def normal_quantiles(parts: Numbers) -> Numbers:
    """The values below which these parts of a standard normal distribution lie, each above 0 and below 1."""
    import numpy as np

    found = map(NormalDist().inv_cdf, parts.ravel().tolist())
    return np.fromiter(found, np.float64, parts.size).reshape(parts.shape)


def t_below(degrees: float, at: float) -> float:
    """The part of Student's t distribution below ``at``. Raises ``ValueError`` unless degrees are above 0."""
    whole = degrees + at * at
    outside = _beta_below(degrees / 2, 0.5, degrees / whole, at * at / whole)
    return outside / 2 if at < 0 else 1 - outside / 2


def t_within(degrees: float, part: float) -> float:
    """The t on both sides of which that ``part`` of Student's distribution lies. Raises as ``t_below``."""
    y = beta_quantile(0.5, degrees / 2, part)
    return sqrt(degrees * y / (1 - y)) if y < 1 else inf


def beta_below(a: float, b: float, at: float) -> float:
    """The part of a beta distribution below ``at``, from 0 to 1: the regularised incomplete beta function.

    Raises ``ValueError`` unless ``a`` and ``b`` are above 0.
    """
    return _beta_below(a, b, at, 1 - at)


@lru_cache(maxsize=1_000)
def beta_quantile(a: float, b: float, part: float) -> float:
    """The value below which that ``part`` of a beta distribution lies.

    Newton's steps, or halves where one would leave what is known. Raises as ``beta_below``.
    """
    if part <= 0 or part >= 1:
        return float(part > 0)
    low, high, at = 0.0, 1.0, a / (a + b)
    while high - low > 1e-15 * high:
        off = beta_below(a, b, at) - part
        low, high = (low, at) if off > 0 else (at, high)
        slope = _density(a, b, at, 1 - at) / (at * (1 - at))
        step = off / slope if slope else inf
        if not low < at - step < high:
            at = (low + high) / 2
            continue
        at -= step
        if abs(step) <= 1e-8 * min(at, 1 - at):  # the next would be far below what a float can show
            break
    return at


def log_beta(a: Numbers | float, b: Numbers | float) -> Numbers:
    """The logarithm of the beta function of each pair."""
    return log_gamma(a) + log_gamma(b) - log_gamma(a + b)


def log_gamma(of: Numbers | float) -> Numbers:
    """The logarithm of the gamma function of each of these, all above 0."""
    import numpy as np

    many = np.asarray(of, dtype=np.float64)
    return np.fromiter(map(lgamma, many.ravel().tolist()), np.float64, many.size).reshape(many.shape)


def _beta_below(a: float, b: float, x: float, y: float) -> float:
    """``beta_below`` at x, where y = 1 − x is given too: it may be too small to be found from x.

    A continued fraction, on the side where it is short, by Lentz's way: NIST Digital Library of Mathematical
    Functions, 8.17.22 and 3.10(iii) (from memory).
    """
    if not (a > 0 and b > 0 and 0 <= x <= 1):
        raise ValueError(f"no beta distribution of {a:g} and {b:g} at {x:g}")
    if x == 0 or y == 0:
        return float(y == 0)
    if x > (a + 1) / (a + b + 2):
        return 1 - _beta_below(b, a, y, x)
    over = 1.0
    under = 1 / (1 - (a + b) * x / (a + 1))
    found = under
    for m in count(1):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        under, over = 1 / (1 + even * under), 1 + even / over
        found *= under * over
        under, over = 1 / (1 + odd * under), 1 + odd / over
        found *= under * over
        if abs(under * over - 1) <= 1e-15:
            break
    return _density(a, b, x, y) / a * found


def _density(a: float, b: float, x: float, y: float) -> float:
    """x^a·y^b/B(a, b), also where each of these alone would be too small or too inexact.

    Gamma functions by Stirling's formula and what it leaves: C. Loader, Fast and Accurate Computation of
    Binomial Probabilities, 2000 (from memory).
    """
    whole = a + b
    away = x * b - y * a
    left = _left_by_stirling(whole) - _left_by_stirling(a) - _left_by_stirling(b)
    powers = a * _log_of(x * whole / a, away / a) + b * _log_of(y * whole / b, -away / b)
    return sqrt(a * b / (2 * pi * whole)) * exp(left + powers)


def _log_of(ratio: float, above: float) -> float:
    """The logarithm of a ratio that is so much above 1, from that which is more exact."""
    return log1p(above) if abs(above) < 0.5 else log(ratio)


def _left_by_stirling(of: float) -> float:
    """The logarithm of the gamma function less Stirling's formula: NIST's Digital Library, 5.11.1."""
    if of < 16:
        return lgamma(of) - ((of - 0.5) * log(of) - of + log(2 * pi) / 2)
    square = 1 / (of * of)
    return (1 / 12 - (1 / 360 - (1 / 1260 - (1 / 1680 - square / 1188) * square) * square) * square) / of


@cache
def _normal() -> tuple[Numbers, Numbers]:
    """The part below each place of a standard normal distribution, and its density there."""
    import numpy as np

    places = np.arange(-FAR * PLACES, FAR * PLACES + 1) / PLACES
    below = np.array([erfc(-each * sqrt(0.5)) / 2 for each in places.tolist()])
    return below, np.exp(-places * places / 2) / sqrt(2 * pi)
