"""Shares and their ranges: by libraries and published tables; of clusters, by simulation and by hand."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orroom.figures.shares import (
    BELIEF,
    CORRELATION,
    Proportion,
    clustered,
    design_effect,
    exact_range,
    proportion,
    wilson_range,
)

COUNTS = st.integers(1, 3000).flatmap(lambda of: st.tuples(st.integers(0, of), st.just(of)))
#: Clusters: how many of how many.
CLUSTERS = st.lists(
    st.integers(0, 200).flatmap(lambda of: st.tuples(st.integers(0, of), st.just(of))),
    min_size=1,
    max_size=12,
).filter(lambda parts: any(of for _, of in parts))


@given(COUNTS, st.sampled_from((0.8, 0.95, 0.99)))
def test_ranges_are_those_of_two_libraries(counts: tuple[int, int], level: float):
    """References: statsmodels ``proportion_confint`` and scipy ``binomtest``."""
    from scipy.stats import binomtest
    from statsmodels.stats.proportion import proportion_confint

    count, of = counts
    mine = wilson_range(count, of, level), exact_range(count, of, level)
    for found, theirs, ours in zip(mine, ("wilson", "beta"), ("wilson", "exact"), strict=True):
        low, high = proportion_confint(count, of, alpha=1 - level, method=theirs)
        assert (found.low, found.high) == pytest.approx((low, high), abs=1e-9)
        interval = binomtest(count, of).proportion_ci(level, method=ours)
        assert (found.low, found.high) == pytest.approx((interval.low, interval.high), abs=1e-9)


@pytest.mark.parametrize(
    ("count", "of", "wilson", "exact"),
    [
        (81, 263, (0.2553, 0.3662), (0.2527, 0.3676)),
        (15, 148, (0.0624, 0.1605), (0.0578, 0.1617)),
        (0, 20, (0.0000, 0.1611), (0.0000, 0.1684)),
        (1, 29, (0.0061, 0.1718), (0.0009, 0.1776)),
    ],
)
def test_ranges_are_those_of_a_published_table(
    count: int, of: int, wilson: tuple[float, float], exact: tuple[float, float]
):
    """R. G. Newcombe, Statistics in Medicine 1998;17:857-872, table I (from memory)."""
    found = proportion(count, of)
    assert found is not None
    assert found.wilson is not None
    assert found.exact is not None
    assert (round(found.wilson.low, 4), round(found.wilson.high, 4)) == wilson
    assert (round(found.exact.low, 4), round(found.exact.high, 4)) == exact


def test_below_one_observation_is_no_data():
    assert proportion(0, 0) is None
    assert proportion(1, 0) is None


def test_more_than_one_for_each_has_a_share_and_no_ranges():
    assert proportion(3, 2) == Proportion(3, 2, 1.5, None, None, 2)


@given(st.integers(0, 50), st.integers(1, 50), st.integers(2, 20))
def test_ranges_hold_the_share_and_shrink_as_evidence_grows(count: int, more: int, times: int):
    few, many = proportion(count, count + more), proportion(count * times, (count + more) * times)
    assert few is not None
    assert many is not None
    for each_found in (few, many):
        for found in (each_found.wilson, each_found.exact):
            assert found is not None
            assert 0 <= found.low <= each_found.share <= found.high <= 1
    for wide, narrow in ((few.wilson, many.wilson), (few.exact, many.exact)):
        assert wide is not None
        assert narrow is not None
        assert narrow.high - narrow.low <= wide.high - wide.low


# Alike in clusters.


@pytest.mark.parametrize(
    ("alike", "least", "most"), [(0.0, 0.95, 1.0), (0.02, 0.93, 0.99), (0.05, 0.93, 0.97)]
)
def test_ranges_of_clusters_hold_where_grafts_of_a_segment_are_alike(alike: float, least: float, most: float):
    """Beta-binomial counts (numpy), fixed seed: 4 to 20 clusters of 10 to 100 grafts, shares of 3 to 30 %."""
    import numpy as np

    chance = np.random.default_rng(3)
    held = tried = plain = 0
    for clusters, size, share in product((4, 8, 20), (10, 25, 100), (0.03, 0.1, 0.3)):
        pair = np.array([share, 1 - share]) * (1 - alike) / alike if alike else None
        for _ in range(60):
            sizes = np.maximum(1, chance.normal(size, size / 4, clusters).round()).astype(int)
            rates = np.full(clusters, share) if pair is None else chance.beta(*pair, clusters)
            counts = chance.binomial(sizes, rates)
            found = clustered(zip(counts.tolist(), sizes.tolist(), strict=True))
            assert found is not None
            assert found.wilson is not None
            held += found.wilson.low <= share <= found.wilson.high
            alone = exact_range(int(counts.sum()), int(sizes.sum()))
            plain += alone.low <= share <= alone.high
            tried += 1
    assert least <= held / tried <= most
    assert (plain / tried < 0.82) is (alike == 0.05)  # what it is for


@pytest.mark.parametrize(("size", "correlation"), [(10, 0.05), (100, 0.05), (40, 0.2), (2, 0.5)])
def test_the_design_effect_is_that_of_a_beta_binomial(size: int, correlation: float):
    """Reference: the variance of scipy's ``betabinom`` against that of its ``binom``, ρ = 1/(a + b + 1)."""
    from scipy.stats import betabinom, binom

    for share in (0.03, 0.4):
        a, b = (part * (1 / correlation - 1) for part in (share, 1 - share))
        wider = betabinom.var(size, a, b) / binom.var(size, share)
        assert design_effect([size] * 7, correlation) == pytest.approx(wider)


def test_clusters_worked_by_hand():
    """Four segments of 50 with 0, 2, 4 and 6 spoilt: 12 of 200. Between them 4/3 · 20 / (0.06 · 0.94 · 200).

    Believed: 1 + 49 · 0.05 = 3.45. Together (8 · 3.45 + 3 · 2.364)/11, times (t₁₁/z)² = (2.201/1.96)².
    Of that what exceeds 1 counts 1 − 200/10,000.
    """
    found = clustered([(0, 50), (2, 50), (4, 50), (6, 50)])
    assert found is not None
    shown = 4 / 3 * 20 / (0.06 * 0.94 * 200)
    effect = (8 * 3.45 + 3 * shown) / 11 * (2.200985 / 1.959964) ** 2
    assert (BELIEF, CORRELATION) == (8, 0.05)
    assert found.effective == pytest.approx(200 / (1 + (effect - 1) * 0.98), rel=1e-5)
    assert (found.count, found.of, found.share) == (12, 200, 0.06)
    assert found.wilson == wilson_range(0.06 * found.effective, found.effective)
    assert found.exact == exact_range(0.06 * found.effective, found.effective)


def test_each_graft_by_itself_is_independent():
    ones = [(1, 1)] * 3 + [(0, 1)] * 37
    assert clustered(ones) == proportion(3, 40, 40.0)


def test_the_more_clusters_differ_the_wider_the_range():
    even, uneven = clustered([(5, 50)] * 8), clustered([(20, 50), (20, 50), *[(0, 50)] * 6])
    assert even is not None
    assert uneven is not None
    assert even.share == uneven.share
    assert even.effective > 2 * uneven.effective


@given(CLUSTERS, st.integers(2, 5))
def test_ranges_of_clusters_hold_the_share_stay_possible_and_shrink(parts: list[tuple[int, int]], times: int):
    few, many = clustered(parts), clustered(parts * times)
    assert few is not None
    assert many is not None
    assert 0 < few.effective <= few.of
    assert few.effective <= many.effective
    for each_found in (few, many):
        for found in (each_found.wilson, each_found.exact):
            assert found is not None
            assert 0 <= found.low <= each_found.share + 1e-9
            assert each_found.share - 1e-9 <= found.high <= 1


@pytest.mark.parametrize(("parts", "share"), [([], None), ([(1, 0)], None), ([(3, 2), (0, 0)], 1.5)])
def test_clusters_without_a_whole(parts: list[tuple[int, int]], share: float | None):
    found = clustered(parts)
    assert (found and found.share) == share
    assert found is None or found.wilson is None
