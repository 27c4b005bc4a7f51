"""Shares fair to small numbers: against published examples, libraries, and simulated teams."""

from __future__ import annotations

from math import log

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from orroom.figures.shares import BELIEF, CORRELATION
from orroom.people import funnel
from orroom.people.agreement import Kappa, Pair, kappa
from orroom.people.alike import MOST, correlation, worth
from orroom.people.drawing import DIFFER, Drawn, drawn_to_team, likelihood, team_weights
from orroom.people.enough import doubled_odds, needed, not_excluded
from orroom.people.running import FALSE_ALARM, average_run, limit_for, running, transitions

#: Hits in 45 at bats, and the share in the rest of the season, of 18 batters. B. Efron, C. Morris, J Am Stat
#: Assoc 1975;70:311–319, table 1, as in a public copy of their 1977 paper's data (read; not the paper).
HITS = (18, 17, 16, 15, 14, 14, 13, 12, 11, 11, 10, 10, 10, 10, 10, 9, 8, 7)
REST = (
    *(0.346, 0.298, 0.276, 0.222, 0.273, 0.270, 0.263, 0.210, 0.269),
    *(0.230, 0.264, 0.256, 0.303, 0.264, 0.226, 0.285, 0.316, 0.200),
)
#: Estimates of that paper, from memory: Stein's, by what each batter hit.
STEIN = (
    *(0.290, 0.286, 0.281, 0.277, 0.273, 0.273, 0.268, 0.264, 0.259),
    *(0.259, 0.254, 0.254, 0.254, 0.254, 0.254, 0.249, 0.244, 0.239),
)

PARTS = st.lists(
    st.integers(1, 500).flatmap(lambda of: st.tuples(st.integers(0, of), st.just(of))), min_size=3, max_size=9
)


def drawn(parts: list[tuple[int, int]]) -> tuple[Drawn, ...]:
    return drawn_to_team(parts, sum(count for count, _ in parts) / sum(of for _, of in parts))


def test_batters_are_predicted_three_times_better_as_published():
    """Errors .077 and .022 (ratio 3.50) in the paper, from memory."""
    shares = [each.share for each in drawn([(hits, 45) for hits in HITS])]
    raw = sum((hits / 45 - rest) ** 2 for hits, rest in zip(HITS, REST, strict=True))
    better = sum((share - rest) ** 2 for share, rest in zip(shares, REST, strict=True))
    assert raw == pytest.approx(0.077, abs=0.002)
    assert better == pytest.approx(0.022, abs=0.002)
    assert raw / better > 3.2
    assert shares == pytest.approx(STEIN, abs=0.02)


def test_ranges_of_batters_have_the_rest_of_their_season():
    ranges = drawn([(hits, 45) for hits in HITS])
    within = [each.low <= rest <= each.high for each, rest in zip(ranges, REST, strict=True)]
    assert sum(within) >= 17


@settings(max_examples=25)
@given(PARTS.filter(lambda parts: 0 < sum(count for count, _ in parts) < sum(of for _, of in parts)))
def test_the_weight_of_the_team_is_that_of_a_beta_binomial(parts: list[tuple[int, int]]):
    """Reference: ``scipy.stats.betabinom``."""
    from scipy.stats import betabinom

    counts, wholes = np.asarray(parts).T
    team = counts.sum() / wholes.sum()
    weights = team_weights(wholes.astype(float), team)
    theirs = np.array(
        [betabinom.logpmf(counts, wholes, team * each, (1 - team) * each).sum() for each in weights]
    )
    part = (np.arange(len(weights)) + 0.5) / len(weights)
    theirs = np.exp(theirs - theirs.max()) * (1 - part) ** DIFFER
    mine = likelihood(counts.astype(float), wholes.astype(float), team, weights[:, None])
    assert mine == pytest.approx(theirs / theirs.sum(), rel=1e-6, abs=1e-12)


def test_a_team_whose_weight_is_known_draws_as_the_published_example():
    """4 of 14 where the others show α 1.4, β 8.6: then 5.4, 18.6, mean .223. A. Gelman et al., Bayesian Data
    Analysis, section 5.1 (rat tumours; the numbers read in a package's manual)."""
    weight, team = np.array([[10.0]]), 0.14
    assert float((weight * team + 4)[0, 0]) == pytest.approx(5.4)
    many = [(14, 100)] * 30
    near = drawn_to_team([*many, (4, 14)], 0.14)[-1]
    assert 0.14 < near.share < 0.223  # thirty alike draw closer than those who differ did


@given(PARTS)
def test_a_drawn_share_is_between_the_own_and_the_teams(parts: list[tuple[int, int]]):
    team = sum(count for count, _ in parts) / sum(of for _, of in parts)
    for (count, of), each in zip(parts, drawn(parts), strict=True):
        low, high = sorted((count / of, team))
        assert low - 1e-12 <= each.share <= high + 1e-12
        assert 0 <= each.low <= each.share <= each.high <= 1


@given(st.integers(1, 9), st.integers(10, 40), st.integers(20, 60))
def test_ranges_shrink_with_more_grafts(count: int, of: int, times: int):
    team = [(3, 60), (5, 90), (4, 70), (2, 50)]
    few = drawn([*team, (count, of)])[-1]
    many = drawn([*((c * times, n * times) for c, n in team), (count * times, of * times)])[-1]
    assert many.high - many.low < few.high - few.low


def test_three_of_twenty_is_not_three_times_as_bad_as_the_team():
    team = [(10, 200), (11, 220), (9, 180), (10, 200)]
    some, many = drawn([*team, (3, 20)])[-1], drawn([*team, (150, 1000)])[-1]
    assert some.share < 0.10
    assert many.share > 0.13
    assert some.low < 0.05 < some.high


def test_two_of_twenty_where_four_others_had_none_are_drawn_by_more_than_half():
    """Few and rare ones cannot show that people differ wildly."""
    assert drawn([(0, 20)] * 4 + [(2, 20)])[-1].share < 0.05


@pytest.mark.parametrize(
    ("people", "share", "weight", "error"),
    [(4, 0.05, 20, 1.1), (4, 0.05, 1e6, 0.4), (8, 0.05, 40, 0.8), (12, 0.2, 10, 1.0)],
)
def test_ranges_have_the_true_shares_of_simulated_teams(
    people: int, share: float, weight: float, error: float
):
    """95 % ranges of teams that differ much, little, not at all; and errors against the counted shares."""
    random = np.random.default_rng(16)
    within, better, raw = [], 0.0, 0.0
    for _ in range(150):
        of = random.integers(15, 400, people)
        true = random.beta(share * weight, (1 - share) * weight, people)
        counts = random.binomial(of, true)
        found = drawn(list(zip(map(int, counts), map(int, of), strict=True)))
        within += [each.low <= p <= each.high for each, p in zip(found, true, strict=True)]
        better += sum((each.share - p) ** 2 for each, p in zip(found, true, strict=True))
        raw += float(((counts / of - true) ** 2).sum())
    assert 0.90 <= np.mean(within) <= 0.999
    assert better < error * raw


def test_where_nobody_has_any_ranges_are_exact():
    assert drawn([(0, 20), (0, 50), (0, 10)])[0] == Drawn(0, 0, pytest.approx(0.1684, abs=1e-4))


def test_a_share_of_nothing_is_refused():
    with pytest.raises(ValueError, match="above 0"):
        drawn_to_team([(0, 0)], 0.1)


# Grafts of one case are alike.


@pytest.mark.parametrize("alike", [0.0, 0.02, 0.15])
def test_how_alike_grafts_are_is_found_in_simulated_cases(alike: float):
    random = np.random.default_rng(5)
    team = []
    for share in (0.03, 0.05, 0.08, 0.12):
        weight = (1 / alike - 1) if alike else 1e9
        of = random.integers(50, 400, 60)
        counts = random.binomial(of, random.beta(share * weight, (1 - share) * weight, 60))
        team.append(list(zip(map(int, counts), map(int, of), strict=True)))
    assert correlation(team) == pytest.approx(alike, abs=0.004 + 0.25 * alike)


def test_without_cases_the_belief_about_alike_grafts_is_used():
    assert correlation([[(3, 40)], [(0, 20), (0, 20)]]) == CORRELATION
    steps = [(0, 100), (20, 100)]  # one degree of freedom, against what the belief weighs
    shown = (2 * 200 - 0.09 * 200) / (0.09 * 2 * 100 * 99)
    assert correlation([steps]) == pytest.approx((BELIEF * CORRELATION + shown) / (BELIEF + 1))


@given(PARTS, st.floats(0, MOST))
def test_counts_are_worth_no_more_than_they_are(parts: list[tuple[int, int]], alike: float):
    count, of = worth(parts, alike)
    assert of <= sum(n for _, n in parts) + 1e-9
    assert count / of == pytest.approx(sum(c for c, _ in parts) / sum(n for _, n in parts))
    assert of >= 0.999


# The funnel.


@given(
    st.integers(1, 400),
    st.floats(0.005, 0.6),
    st.sampled_from((funnel.INNER, funnel.OUTER)),
)
def test_funnel_limits_are_the_exact_binomial_ones_interpolated(of: int, share: float, level: float):
    """Reference: ``scipy.stats.binom``; r, and how far below it, as D. J. Spiegelhalter, Stat Med
    2005;24:1185, appendix A.1.1 (from memory), writes them."""
    from scipy.stats import binom

    for found, tail in zip(funnel.limits(share, of, level), ((1 - level) / 2, (1 + level) / 2), strict=True):
        r = binom.ppf(tail, of, share)
        at, below = binom.cdf(r, of, share), binom.cdf(r - 1, of, share)
        expected = (r - (at - tail) / (at - below)) / of
        assert found == pytest.approx(min(1, max(0, expected)), abs=1e-7)


@given(st.integers(1, 400), st.floats(0.005, 0.6), st.sampled_from((funnel.INNER, funnel.OUTER)))
def test_funnel_limits_are_less_than_a_count_below_those_of_a_published_program(
    of: int, share: float, level: float
):
    """``fundata(method='exact')`` of R's funnelR 0.1.0 (M. Kumar, CRAN 2018; its source read), of which 0.95
    and 0.998 are the defaults: ``qbinom(tail, n, share) / n``, whole counts."""
    from scipy.stats import binom

    for found, tail in zip(funnel.limits(share, of, level), ((1 - level) / 2, (1 + level) / 2), strict=True):
        published = binom.ppf(tail, of, share) / of
        assert max(0, published - 1 / of) - 1e-7 <= found <= published + 1e-7


def test_funnel_limits_are_about_two_and_three_deviations_as_published():
    """D. J. Spiegelhalter, Qual Saf Health Care 2002;11:390–391 (read in part): around 7.4 % of patients
    readmitted, exact 95 and 99.9 % limits "essentially corresponding to 2 and 3 standard deviations"."""
    for level, deviations in ((0.95, 2), (0.999, 3)):
        for of in (500, 2_000, 8_000):
            low, high = funnel.limits(0.074, of, level)
            assert (high - low) / 2 == pytest.approx(deviations * (0.074 * 0.926 / of) ** 0.5, rel=0.1)


def test_a_funnel_leaves_the_share_outside_that_it_says():
    """The chance of a count outside the limits, a count on the edge counting in part, is 5 and 0.2 %."""
    from scipy.stats import binom

    for level in (funnel.INNER, funnel.OUTER):
        low, high = (each * 200 for each in funnel.limits(0.3, 200, level))
        outside = binom.cdf(np.floor(low), 200, 0.3) + binom.sf(np.floor(high), 200, 0.3)
        assert outside == pytest.approx(1 - level, rel=0.35)


@given(st.floats(0.01, 0.5), st.floats(5, 300))
def test_a_funnel_has_the_share_within_and_narrows(share: float, of: float):
    low, high = funnel.limits(share, of, funnel.INNER)
    outer = funnel.limits(share, of, funnel.OUTER)
    assert 0 <= outer[0] <= low <= share <= high <= outer[1] <= 1
    wide = funnel.limits(share, 8 * of, funnel.INNER)
    assert wide[1] - wide[0] < high - low


def test_a_team_without_any_has_no_funnel():
    assert funnel.limits(0.0, 20, funnel.INNER) == (0, 0)


# The running chart.


def normal(mean: float) -> tuple[np.ndarray, np.ndarray]:
    """Moves of a sum of normal values less a reference value of .5."""
    from scipy.stats import norm

    edges = np.linspace(-9, 9, 3002)
    return (edges[1:] + edges[:-1]) / 2 - 0.5, np.diff(norm.cdf(edges, loc=mean))


@pytest.mark.parametrize(
    ("mean", "limit", "published"),
    [(0.0, 3.0, 117.59), (1.5, 3.0, 3.75), (-0.5, 3.0, 1963), (0.5, 3.0, 17.35)],
)
def test_average_runs_are_the_published_ones(mean: float, limit: float, published: float):
    """D. Brook, D. A. Evans, Biometrika 1972;59:539–549, section 4.3, and Waldmann 1986, as the manual of a
    package on control charts quotes them."""
    assert average_run(*normal(mean), limit) == pytest.approx(published, rel=0.01)


def test_average_runs_of_single_grafts_are_those_of_the_exact_chain():
    """A fault adds 9, a graft without takes 1 off: then all states are whole numbers and the chain is exact
    (M. R. Reynolds, Z. G. Stoumbos, J Qual Technol 1999;31:87–108; from memory)."""
    limit, share = 40, 0.06
    stays = np.zeros((limit, limit))
    for state in range(limit):
        stays[state, max(0, state - 1)] += 1 - share
        if state + 9 < limit:
            stays[state, state + 9] += share
    exact = np.linalg.solve(np.eye(limit) - stays, np.ones(limit))[0]
    found = average_run(np.array([-1.0, 9.0]), np.array([1 - share, share]), float(limit), states=40)
    assert found == pytest.approx(exact, rel=0.01)


def test_false_alarms_are_as_rare_as_said_in_a_simulation():
    """Cases of 20 to 40 grafts, alike by .05; with the odds doubled, the chart is as fast as said."""
    random = np.random.default_rng(3)
    share, alike = 0.05, 0.05
    sizes = (20, 25, 30, 40)
    chart = running([(1, of) for of in sizes], share, alike)
    assert chart is not None
    assert FALSE_ALARM <= chart.between_false < 1.05 * FALSE_ALARM
    for odds_share, said in ((share, chart.between_false), (doubled_odds(share), chart.to_notice)):
        says = {of: scores(of, share, alike) for of in sizes}
        sums, ages = np.zeros(2000), np.zeros(2000)
        weight = 1 / alike - 1
        alive = np.ones(2000, dtype=bool)
        for _ in range(1400):
            of = random.choice(sizes, 2000)
            counts = random.binomial(of, random.beta(odds_share * weight, (1 - odds_share) * weight, 2000))
            moves = np.select([of == each for each in sizes], [says[n][np.minimum(counts, n)] for n in sizes])
            sums = np.maximum(0, sums + moves)
            ages += alive
            alive &= sums < chart.limit
        assert ages.mean() == pytest.approx(said, rel=0.08)


def scores(of: int, share: float, alike: float) -> np.ndarray:
    """Reference: ``scipy.stats.betabinom``."""
    from scipy.stats import betabinom

    weight, counts = 1 / alike - 1, np.arange(of + 1)
    found = [betabinom.logpmf(counts, of, p * weight, (1 - p) * weight) for p in (doubled_odds(share), share)]
    return found[0] - found[1]


def test_a_sum_is_that_of_the_paper_for_single_grafts():
    """S. H. Steiner et al., Biostatistics 2000;1:441 (summary read): each adds log of the odds ratio R over
    1 − p + R·p if faulty, and else log of 1 over that; never below 0."""
    p, total, expected = 0.05, 0.0, []
    steps = [(0, 1), (1, 1), (0, 1), (1, 1), (1, 1), (0, 1)]
    for faulty, _ in steps:
        total = max(0.0, total + (log(2) if faulty else 0) - log(1 - p + 2 * p))
        expected.append(total)
    chart = running(steps, p, 0.0)
    assert chart is not None
    assert chart.sums == pytest.approx(expected)


def test_a_rise_reaches_the_limit_and_chance_hardly_does():
    risen = running([(12, 60)] * 8, 0.05, 0.02)
    quiet = running([(3, 60)] * 8, 0.05, 0.02)
    assert risen is not None
    assert quiet is not None
    assert risen.reached
    assert quiet.reached == ()
    assert 0 < quiet.so_far < 0.05
    assert quiet.so_far < risen.between_false
    assert quiet.to_notice < quiet.between_false / 5


def test_the_chance_of_a_false_alarm_so_far_is_that_of_the_chain():
    values, chances = np.array([-0.5, 1.0]), np.array([0.8, 0.2])
    stays = transitions(values, chances, 2.0, 4)
    left = np.linalg.matrix_power(stays, 2)[0].sum()
    assert left == pytest.approx(1 - 0.2**2)  # two faults in a row are at 2


def test_a_limit_is_the_lowest_that_is_rare_enough():
    values, chances = normal(0.0)
    limit = limit_for(117, values, chances)
    assert limit == pytest.approx(3.0, abs=0.03)


@pytest.mark.parametrize("share", [0.0, 1.0])
def test_there_is_no_chart_without_a_share_to_compare_with(share: float):
    assert running([(0, 20)], share, 0.05) is None


# How many must be looked at.


def test_none_of_twenty_excludes_no_more_than_some_fifteen_per_cent():
    """The rule of three says 15 %, the exact value is 13.9 %: 0.861²⁰ is 0.05. J. A. Hanley, A. Lippman-Hand,
    JAMA 1983;249:1743–1745 (as E. Eypasch et al., BMJ 1995;311:619, quote it; that read)."""
    assert not_excluded(20) == pytest.approx(0.139, abs=5e-4)
    assert (1 - not_excluded(20)) ** 20 == pytest.approx(0.05)
    assert not_excluded(100) == pytest.approx(3 / 100, rel=0.02)


@pytest.mark.parametrize(("share", "higher", "of"), [(0.05, 0.25, 16), (0.05, 0.20, 27), (0.10, 0.30, 25)])
def test_how_many_are_needed_is_as_published(share: float, higher: float, of: int):
    """R. P. A'Hern, Stat Med 2001;20:859–866, 5 % and 80 % (from memory)."""
    assert needed(share, higher, tail=0.05, power=0.8) == of


@given(st.floats(0.01, 0.3))
def test_the_number_needed_notices_four_of_five_and_one_less_does_not(share: float):
    """Reference: ``scipy.stats.binom``."""
    from scipy.stats import binom

    higher = doubled_odds(share)
    of = needed(share, higher)
    enough = [
        binom.sf(binom.isf(0.025, n, share), n, higher) >= 0.8 - 1e-9 for n in range(max(1, of - 3), of + 1)
    ]
    assert enough[-1]
    assert not all(enough[:-1])


def test_doubled_odds():
    assert doubled_odds(0.2) / (1 - doubled_odds(0.2)) == pytest.approx(2 * 0.25)
    with pytest.raises(ValueError, match="not a share above"):
        needed(0.2, 0.1)


# Two checkers.


def test_kappa_is_that_of_a_published_example_and_of_a_library():
    """.6737 of 58, 4, 12 and 31: Fleiss & Paik 2003 by way of a package's manual, whose large-sample range is
    .527 to .820; and ``statsmodels``."""
    from statsmodels.stats.inter_rater import fleiss_kappa

    found = kappa(Pair(58, 4, 12, 31))
    assert found is not None
    assert found.kappa == pytest.approx(0.6736597, abs=1e-7)
    assert (found.low, found.high) == pytest.approx((0.527, 0.820), abs=0.03)
    table = [[0, 2]] * 58 + [[1, 1]] * 16 + [[2, 0]] * 31
    assert found.kappa == pytest.approx(fleiss_kappa(np.array(table)))


def test_one_fault_that_both_saw_is_no_proof_of_agreement():
    """The usual standard error is 0 here."""
    found = kappa(Pair(1, 0, 0, 19))
    assert found == Kappa(1, pytest.approx(0.207, abs=0.001), 1)


@pytest.mark.parametrize("pair", [Pair(0, 0, 0, 20), Pair(9, 0, 0, 0), Pair(0, 0, 0, 0)])
def test_there_is_no_kappa_where_chance_explains_all(pair: Pair):
    assert kappa(pair) is None


@given(*[st.integers(0, 60)] * 4)
def test_the_range_of_kappa_has_it_and_is_possible(both: int, first: int, second: int, neither: int):
    found = kappa(Pair(both, first, second, neither))
    if found is not None:
        assert -1 <= found.low <= found.kappa <= found.high <= 1
    other = kappa(Pair(neither, second, first, both))
    assert (found and found.kappa) == pytest.approx(other and other.kappa)


@pytest.mark.parametrize(("true", "p", "of"), [(0.6, 0.1, 60), (0.3, 0.3, 40), (0.8, 0.2, 100)])
def test_ranges_of_kappa_have_the_true_one(true: float, p: float, of: int):
    random = np.random.default_rng(12)
    mixed = p * (1 - p) * (1 - true)
    chances = [p * p + true * p * (1 - p), 2 * mixed, (1 - p) ** 2 + true * p * (1 - p)]
    within = []
    for both, apart, neither in random.multinomial(of, chances, 400):
        if (found := kappa(Pair(int(both), int(apart), 0, int(neither)))) is not None:
            within.append(found.low <= true <= found.high)
    assert 0.90 <= np.mean(within) <= 0.99
