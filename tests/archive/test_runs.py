"""The rules of run charts and control limits, against published tables, examples and brute force."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise, permutations
from math import comb

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orroom.archive.runs import FEWEST_FOR_RUNS, SHIFT, TREND, control_limits, runs_by_chance, signals

#: Swed and Eisenhart's critical numbers for 2.5 % on each side, as reprinted in table A-10 of Triola's
#: Elementary Statistics (read): so many runs or fewer, so many or more, are significant.
CRITICAL = {
    (5, 5): (2, 10),
    (5, 6): (3, 10),
    (6, 6): (3, 11),
    (7, 7): (3, 13),
    (8, 8): (4, 14),
    (9, 9): (5, 15),
    (10, 10): (6, 16),
    (8, 10): (5, 15),
    (6, 12): (4, 13),
    (5, 20): (5, 12),
}


@pytest.mark.parametrize(("sides", "critical"), CRITICAL.items())
def test_critical_numbers_of_runs_are_swed_and_eisenharts(sides: tuple[int, int], critical: tuple[int, int]):
    low, high = critical
    fewest, most = runs_by_chance(*sides) or (0, 0)
    assert fewest == low + 1
    assert most == min(high - 1, 2 * min(sides) + (sides[0] != sides[1]))  # more runs there cannot be
    assert runs_by_chance(*reversed(sides)) == (fewest, most)


def test_chances_of_so_many_runs_are_the_published_ones():
    """P(V <= v) of the runs test, a printed table of exact chances (A.18, found without its book)."""
    published = {(5, 5): (0.008, 0.040, 0.167, 0.357, 0.643), (6, 6): (0.002, 0.013, 0.067, 0.175, 0.392)}
    from orroom.archive.runs import _ways

    for (above, below), chances in published.items():
        for runs, chance in enumerate(chances, 2):
            ways = sum(_ways(above, below, each) for each in range(runs + 1))
            assert ways / comb(above + below, above) == pytest.approx(chance, abs=5e-4)


def test_numbers_of_runs_are_those_of_all_orders():
    from orroom.archive.runs import _ways

    for above, below in ((5, 5), (4, 6), (1, 5)):
        orders = set(permutations([1] * above + [0] * below)) if above + below < 9 else None
        if orders is None:
            assert sum(_ways(above, below, each) for each in range(above + below + 1)) == comb(10, above)
            continue
        counted = Counter(1 + sum(one != other for one, other in pairwise(order)) for order in orders)
        assert counted == {
            runs: ways for runs in range(above + below + 1) if (ways := _ways(above, below, runs))
        }


def test_a_published_chart_of_16_months_has_too_few_runs():
    """D. Balestracci, Quality Digest, October 2008 (read): seven above, seven below, one above, one below.

    Four runs; 5 to 12 by chance at 5 % on each side, 5 to 13 at our 2.5 %.
    """
    found = signals([11, 12, 13, 14, 15, 16, 17, 5, 4, 3.5, 3.2, 3.1, 3.3, 2, 18, 1])
    assert (found.off_median, found.runs, found.runs_by_chance) == (16, 4, (5, 13))
    assert [each[:2] for each in found.shifts] == [(0, 6), (7, 13)]
    assert [each.up for each in found.shifts] == [True, False]


def test_a_shift_passes_over_values_on_the_median():
    """Perla's rule: values on the median neither count nor break a shift."""
    six = [9, 9.5, 5, 9, 9.2, 9.1, 9.4, 1, 2, 1, 3, 2, 1.5]
    assert signals(six).median == 5
    assert [each[:2] for each in signals(six).shifts] == [(0, 6), (7, 12)]
    five = [9, 9.5, 9, 9.2, 9.1, 5, 1, 2, 1, 3, 2]
    assert signals(five).shifts == ()


def test_a_trend_counts_equal_neighbours_once():
    assert [tuple(each) for each in signals([3, 1, 2, 2, 3, 4, 5, 1]).trends] == [(1, 6, True)]
    assert signals([3, 1, 2, 2, 3, 4, 1, 5]).trends == ()  # four that differ
    assert [tuple(each) for each in signals([9, 8, 7, 6, 5, 6]).trends] == [(0, 4, False)]


@given(st.lists(st.integers(0, 6).map(float), min_size=1, max_size=40))
def test_what_is_pointed_out_keeps_the_rules(values: list[float]):
    found = signals(values)
    assert found.off_median == sum(each != found.median for each in values)
    assert found.runs <= found.off_median
    for each in found.shifts:
        mine = [value for value in values[each.first : each.last + 1] if value != found.median]
        assert len(mine) >= SHIFT
        assert len({value > found.median for value in mine}) == 1
    for each in found.trends:
        mine = values[each.first : each.last + 1]
        assert len(set(mine)) >= TREND
        assert mine == sorted(mine, reverse=not each.up)
    turned = signals([-each for each in values])
    assert [each[:2] for each in turned.shifts] == [each[:2] for each in found.shifts]
    assert [each[:2] for each in turned.trends] == [each[:2] for each in found.trends]
    if found.runs_by_chance is not None:
        assert found.off_median >= FEWEST_FOR_RUNS
        assert 1 <= found.runs_by_chance[0] <= found.runs_by_chance[1] <= found.off_median


def test_control_limits_are_those_of_published_charts():
    """p = 0.2313 of 30 wafers with 50 chips each: 0.0524 to 0.4102 (NIST/SEMATECH e-Handbook, section
    6.3.3.2; limits from memory). 7.14 of 200 a lot: up to 15.01184, by R's qcc 2.7 (rpubs 1407303, read).
    """
    assert control_limits(0.2313, 50) == pytest.approx((0.0524, 0.4102), abs=1e-4)
    low, high = control_limits(0.0357, 200)
    assert (low * 200, high * 200) == (0, pytest.approx(15.01184, abs=1e-5))
    assert control_limits(0, 3) == (0, 0)
    assert control_limits(0.9, 4)[1] == 1
