"""Each distribution against scipy's, and against printed tables."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import special

from orroom.figures.distributions import (
    beta_below,
    beta_quantile,
    log_beta,
    log_gamma,
    normal_below,
    normal_quantiles,
    t_below,
    t_within,
)

#: From a part of a graft to a hundred thousand of them.
PARAMETERS = st.floats(-1, 5).map(lambda each: 10.0**each)
PARTS = st.floats(0.001, 0.999)
DEGREES = st.floats(0, 5).map(lambda each: 10.0**each)


def exactly(value: float) -> object:
    return pytest.approx(float(value), rel=1e-10, abs=1e-14)


@given(PARAMETERS, PARAMETERS, PARTS)
def test_a_beta_distribution_is_scipys(a: float, b: float, part: float):
    """``betainc`` at places all over the distribution and in its far tails; its quantile is one of them."""
    at = float(special.betaincinv(a, b, part))
    assume(1e-250 < at < 1 - 1e-9)
    assert beta_quantile(a, b, part) == pytest.approx(at, rel=1e-9)
    for place in (at, at / 3, (1 + at) / 2):
        assert beta_below(a, b, place) == exactly(special.betainc(a, b, place))


@given(DEGREES, st.floats(-40, 40), PARTS)
def test_students_t_is_scipys(degrees: float, at: float, part: float):
    """``stdtr`` and ``stdtrit``."""
    assert t_below(degrees, at) == exactly(special.stdtr(degrees, at))
    assert t_within(degrees, part) == pytest.approx(special.stdtrit(degrees, 0.5 + part / 2), rel=1e-9)


def test_a_normal_distribution_is_scipys():
    """``ndtr`` and ``ndtri``, in rows and columns however they lie in memory."""
    at = np.linspace(-12, 12, 60_000).reshape(200, 300)
    assert np.abs(normal_below(at) - special.ndtr(at)).max() < 1e-13
    assert np.array_equal(normal_below(at.T), normal_below(at).T)
    parts = np.concatenate((np.linspace(1e-9, 1 - 1e-9, 1000), 10.0 ** -np.arange(1, 10)))
    assert normal_quantiles(parts) == pytest.approx(special.ndtri(parts), rel=1e-12, abs=1e-14)


def test_logarithms_of_gamma_and_beta_functions_are_scipys():
    """``gammaln`` and ``betaln``."""
    some = 10.0 ** np.linspace(-1, 5, 500)
    assert log_gamma(some) == pytest.approx(special.gammaln(some), rel=1e-12, abs=1e-14)
    assert log_gamma(7) == pytest.approx(np.log(720))
    some = 10.0 ** np.linspace(-1, 4, 200)
    assert log_beta(some[:, None], some) == pytest.approx(
        special.betaln(some[:, None], some), rel=1e-12, abs=1e-10
    )


def test_quantiles_are_those_of_printed_tables():
    """Student's t, two sides of 5 %: 12.706, 2.228, 1.984 at 1, 10, 100 degrees. Clopper and Pearson's 95 %
    range of 10 in 100: 4.90 % to 17.62 %. The normal distribution below 1.96: 0.975. As printed in any
    handbook (from memory).
    """
    assert [round(t_within(each, 0.95), 3) for each in (1, 10, 100)] == [12.706, 2.228, 1.984]
    assert round(beta_quantile(10, 91, 0.025), 4) == 0.0490
    assert round(beta_quantile(11, 90, 0.975), 4) == 0.1762
    assert normal_below(np.array([1.959964]))[0] == pytest.approx(0.975, abs=1e-7)


def test_the_ends_are_the_ends():
    assert (beta_below(3, 4, 0), beta_below(3, 4, 1)) == (0, 1)
    assert (beta_quantile(3, 4, 0), beta_quantile(3, 4, 1)) == (0, 1)
    assert t_below(3, 0) == 0.5
    for a, b, at in ((0, 1, 0.5), (1, -1, 0.5), (1, 1, 1.5), (float("nan"), 1, 0.5)):
        with pytest.raises(ValueError, match="no beta distribution"):
            beta_below(a, b, at)
