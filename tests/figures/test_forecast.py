"""The rest of a counted work as a distribution, against reference libraries, chance and published rates."""

from __future__ import annotations

import random
from statistics import median

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from orroom.figures.pace.forecast import (
    DISCOUNTS,
    SLOW_END,
    UNFORESEEN,
    Block,
    Gamma,
    Rest,
    _believed,
    forecast,
    mean_pace,
    quantile,
    slowings,
)

BLOCKS = st.lists(st.builds(Block, st.integers(0, 90), st.floats(5, 20)), min_size=2, max_size=20).filter(
    lambda blocks: any(block.done for block in blocks)
)


#: Half done: what may slow down the rest.
HALF = slowings(1200, 1200)


def minutes_of(rest: Rest, level: float) -> float:
    """The hand-minutes within which the rest is done with probability ``level``."""
    return quantile(rest.probability, level, 0.0, rest.typical_minutes)


def certain(left: float, shape: float, rate: float, scatter: float = 1.0) -> Rest:
    return Rest(left, scatter, (Gamma(1.0, shape, rate),), HALF)


@pytest.mark.parametrize(
    ("left", "shape", "rate", "scatter"), [(300, 40, 12, 1), (1200, 900, 250, 3), (5, 2, 1, 1)]
)
def test_the_time_of_the_rest_is_beta_prime(left: float, shape: float, rate: float, scatter: float):
    from scipy import stats

    # Gamma(left)/Gamma(shape) scaled: scipy.stats.betaprime; unforeseen slowing is a mixture of the same.
    known = stats.betaprime(left / scatter, shape, scale=rate * scatter)
    rest = certain(left, shape, rate, scatter)
    for minutes in (0.3, 0.8, 1.0, 1.3, 2.5):
        at = minutes * rest.typical_minutes
        mixed = sum(chance * known.cdf(at * slower) for chance, slower in HALF)
        assert rest.probability(at) == pytest.approx(mixed, abs=1e-9)


def test_less_than_a_batch_is_left_as_one_thing_to_do():
    from scipy import stats

    # Batches of 30: 12 grafts left are one gamma variable of shape 1, so beta-prime with 1 (scipy).
    known = stats.betaprime(1, 40, scale=12 * 12)
    rest = certain(12, 40, 12, 30)
    for minutes in (0.3, 1.0, 2.5):
        at = minutes * rest.typical_minutes
        mixed = sum(chance * known.cdf(at * slower) for chance, slower in HALF)
        assert rest.probability(at) == pytest.approx(mixed, abs=1e-9)


def test_quantiles_are_those_of_many_drawn_days():
    # Monte Carlo: draw a pace, then how long Poisson arrivals at that pace take, then what nobody foresaw.
    chance = random.Random(7)
    left, shape, rate = 400, 60, 15
    chances, slower = zip(*HALF, strict=True)
    drawn = []
    for _ in range(40_000):
        pace = chance.gammavariate(shape, 1 / rate) * chance.choices(slower, chances)[0]
        drawn.append(chance.gammavariate(left, 1 / pace))
    drawn.sort()
    rest = certain(left, shape, rate)
    for level in (0.1, 0.5, 0.9):
        assert minutes_of(rest, level) == pytest.approx(drawn[int(level * len(drawn))], rel=0.02)


def test_a_slow_end_weighs_the_more_the_nearer_it_is():
    """A last fifth at 0.55 of the pace. Of 2,400 with 600 left, 480 take as long as 873: 600 as 993.

    With 1,800 left as 2,193; with 300 left all of it is slow.
    """
    for done, left, pace in ((600, 1800, 1800 / 2192.7), (1800, 600, 600 / 992.7), (2100, 300, 0.55)):
        *others, (chance, slower) = slowings(done, left)
        assert (chance, round(slower, 4)) == (SLOW_END[0], round(pace, 4))
        assert tuple(others[1:]) == UNFORESEEN
        assert sum(each for each, _ in slowings(done, left)) == pytest.approx(1)
    rests = [forecast([Block(30, 10)] * 40, left) for left in (3600, 400)]
    late, early = (rest and minutes_of(rest, 0.9) / minutes_of(rest, 0.5) for rest in rests[::-1])
    assert late is not None
    assert early is not None
    assert late > 1.25 > early


def test_a_clinics_own_slow_end_is_not_allowed_for_twice():
    assert sum(chance for chance, pace in slowings(1800, 600, end_known=True) if pace < 1) == pytest.approx(
        sum(chance for chance, _ in UNFORESEEN)
    )
    plain, own = (forecast([Block(30, 10)] * 10, 100, end_known=known) for known in (False, True))
    assert plain is not None
    assert own is not None
    assert minutes_of(own, 0.9) < minutes_of(plain, 0.9)


@pytest.mark.parametrize("doubt", [0.1, 0.3])
def test_doubt_of_what_is_left_is_in_the_time_it_takes(doubt: float):
    # Monte Carlo: draw what is left (gamma with this coefficient of variation), then the time of so many.
    chance = random.Random(8)
    blocks = [Block(30, 10), Block(27, 10), Block(31, 10), Block(29, 10)] * 6
    sure, unsure = forecast(blocks, 400), forecast(blocks, 400, doubt)
    assert sure is not None
    assert unsure is not None
    shape = 1 / doubt**2
    drawn = [chance.gammavariate(shape, 400 / shape) for _ in range(300)]
    for level in (0.1, 0.5, 0.9):
        at = minutes_of(unsure, level)
        mixed = sum(replace(sure, left=left).probability(at) for left in drawn) / len(drawn)
        assert mixed == pytest.approx(level, abs=0.05)
    assert minutes_of(unsure, 0.9) / minutes_of(unsure, 0.1) > minutes_of(sure, 0.9) / minutes_of(sure, 0.1)


def test_each_block_is_foretold_as_a_negative_binomial():
    from scipy import stats

    # With scatter 1 the predictive of a block's count is negative binomial: scipy.stats.nbinom.
    blocks = [Block(30, 10), Block(26, 10), Block(33, 9)]
    likelihood, shape, rate = _believed(blocks, 1.0, 1.0)
    expected, a, b = 0.0, 1.0 + 30, 10 / 30 + 10
    for block in blocks[1:]:
        expected += stats.nbinom(a, b / (b + block.minutes)).logpmf(block.done)
        a, b = a + block.done, b + block.minutes
    assert likelihood == pytest.approx(expected)
    assert (shape, rate) == pytest.approx((a, b))


def test_three_placers_at_400_an_hour_place_2400_in_two_hours():
    # 400 FU an hour and placer, 2400/(3 × 400) = 2.0 h: Tykocinski & Shapiro, in Hair Transplantation,
    # 5th ed. 2010 (read).
    rest = forecast([Block(100, 15)] * 12, 2400)
    assert rest is not None
    assert rest.typical_minutes / 3 / 60 == pytest.approx(2.0, rel=0.01)
    assert minutes_of(rest, 0.1) / 180 < 2.0 < minutes_of(rest, 0.9) / 180


def test_before_any_work_there_is_no_telling():
    assert forecast([], 100) is None
    assert forecast([Block(0, 10), Block(0, 10)], 100) is None
    assert forecast([Block(30, 10)], 100) is None  # one block says nothing of how blocks differ


def test_nothing_left_takes_no_time():
    assert forecast([Block(30, 10)] * 2, 0).probability(0) == 1.0  # type: ignore[union-attr]


@given(BLOCKS, st.integers(1, 4000))
def test_quantiles_are_in_order_and_probability_rises(blocks: list[Block], left: int):
    rest = forecast(blocks, left)
    assert rest is not None
    low, middle, high = (minutes_of(rest, level) for level in (0.1, 0.5, 0.9))
    assert 0 < low < middle < high
    assert sum(pace.weight for pace in rest.paces) == pytest.approx(1)
    assert rest.probability(middle) == pytest.approx(0.5, abs=1e-3)


@given(st.integers(2, 8), st.integers(5, 40))
def test_more_of_the_same_makes_surer(blocks: int, done: int):
    def width(number: int) -> float:
        rest = forecast([Block(done, 10)] * number, 1000)
        assert rest is not None
        return (minutes_of(rest, 0.9) - minutes_of(rest, 0.1)) / minutes_of(rest, 0.5)

    assert width(blocks + 4) < width(blocks)


def test_a_pace_that_has_changed_is_followed():
    slow_then_fast = [Block(20, 10)] * 8 + [Block(40, 10)] * 8
    rest = forecast(slow_then_fast, 1000)
    assert rest is not None
    assert mean_pace(rest.paces) == pytest.approx(4.0, rel=0.05)
    steady = forecast([Block(30, 10)] * 16, 1000)
    assert steady is not None
    assert mean_pace(steady.paces) == pytest.approx(3.0, rel=0.02)
    weights = dict(zip(DISCOUNTS, (pace.weight for pace in rest.paces), strict=True))
    assert weights[0.7] > weights[1.0]


def test_hours_are_as_good_as_minutes():
    minutes = forecast([Block(30, 10), Block(36, 10), Block(25, 10)], 500)
    hours = forecast([Block(30, 10 / 60), Block(36, 10 / 60), Block(25, 10 / 60)], 500)
    assert minutes is not None
    assert hours is not None
    assert minutes_of(hours, 0.9) * 60 == pytest.approx(minutes_of(minutes, 0.9), rel=1e-6)


def test_a_quantile_is_found_wherever_it_lies():
    assert quantile(lambda at: min(1.0, at / 1e6), 0.5, 0.0, 1.0) == pytest.approx(5e5)
    assert median([1.0, 2.0, 3.0]) == pytest.approx(quantile(lambda at: float(at >= 2.0), 0.5, 0.0, 0.1))
