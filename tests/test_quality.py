"""Shares with their limits: against libraries, published tables and a day worked by hand."""

from __future__ import annotations

import pytest
from cases import Record, case_under_way, opened_case, records
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binomtest
from statsmodels.stats.proportion import proportion_confint

from orroom.case import commands as c
from orroom.figures.counts import hairs_per_graft
from orroom.figures.quality import Proportion, exact_limits, proportion, quality, wilson_limits
from orroom.reports.csv_text import to_csv
from orroom.reports.markdown import to_markdown
from orroom.reports.summary import summarise

COUNTS = st.integers(1, 3000).flatmap(lambda of: st.tuples(st.integers(0, of), st.just(of)))


@given(COUNTS, st.sampled_from((0.8, 0.95, 0.99)))
def test_limits_are_those_of_two_libraries(counts: tuple[int, int], level: float):
    """References: statsmodels ``proportion_confint`` and scipy ``binomtest``."""
    count, of = counts
    mine = wilson_limits(count, of, level), exact_limits(count, of, level)
    for limits, theirs, ours in zip(mine, ("wilson", "beta"), ("wilson", "exact"), strict=True):
        low, high = proportion_confint(count, of, alpha=1 - level, method=theirs)
        assert (limits.low, limits.high) == pytest.approx((low, high), abs=1e-9)
        interval = binomtest(count, of).proportion_ci(level, method=ours)
        assert (limits.low, limits.high) == pytest.approx((interval.low, interval.high), abs=1e-9)


@pytest.mark.parametrize(
    ("count", "of", "wilson", "exact"),
    [
        (81, 263, (0.2553, 0.3662), (0.2527, 0.3676)),
        (15, 148, (0.0624, 0.1605), (0.0578, 0.1617)),
        (0, 20, (0.0000, 0.1611), (0.0000, 0.1684)),
        (1, 29, (0.0061, 0.1718), (0.0009, 0.1776)),
    ],
)
def test_limits_are_those_of_a_published_table(
    count: int, of: int, wilson: tuple[float, float], exact: tuple[float, float]
):
    """R. G. Newcombe, Statistics in Medicine 1998;17:857-872, table I (from memory)."""
    told = proportion(count, of)
    assert told is not None
    assert told.wilson is not None
    assert told.exact is not None
    assert (round(told.wilson.low, 4), round(told.wilson.high, 4)) == wilson
    assert (round(told.exact.low, 4), round(told.exact.high, 4)) == exact


@pytest.mark.parametrize(
    ("count", "of", "per_cent"),
    [
        (71, 72, 98.61),  # printed 98.6 %: Nakatsui, Wong, Groot, Dermatol Surg 2008;34(8):1016-1025 (read)
        (22, 23, 95.65),  # printed truncated, 95.6: the same paper (read)
        (
            3,
            9,
            33.33,
        ),  # transected of all follicles in (1,1), (3,0), (2,2): notation as published, second-hand
        (19, 148, 12.84),  # Greenberg et al., Ann Surg 2008;248:337-341, printed 12.8 % (read)
    ],
)
def test_published_shares(count: int, of: int, per_cent: float):
    told = proportion(count, of)
    assert told is not None
    assert round(told.share * 100, 2) == per_cent


def test_transected_follicles_as_published():
    """(1,1), (3,0), (2,2): 3 of 9 transected, 6 left in 3 grafts: 2.0 of 3.0 hairs a graft (second-hand).

    749 follicles in 271 grafts, Cooley & Vogel 1999 (second-hand): 2.76 a graft (arithmetic).
    """
    intact, transected = (1, 3, 2), (1, 0, 2)
    told = proportion(sum(transected), sum(intact) + sum(transected))
    assert told is not None
    assert round(told.share, 3) == 0.333
    assert hairs_per_graft(sum(intact), 3) == 2.0
    assert hairs_per_graft(sum(intact) + sum(transected), 3) == 3.0
    assert round(hairs_per_graft(749, 271) or 0, 2) == 2.76


def test_below_one_observation_is_no_data():
    assert proportion(0, 0) is None
    assert proportion(1, 0) is None


def test_more_than_one_for_each_has_a_share_and_no_limits():
    assert proportion(3, 2) == Proportion(3, 2, 1.5, None, None)


@given(st.integers(0, 50), st.integers(1, 50), st.integers(2, 20))
def test_limits_hold_the_share_and_shrink_as_evidence_grows(count: int, more: int, times: int):
    few, many = proportion(count, count + more), proportion(count * times, (count + more) * times)
    assert few is not None
    assert many is not None
    for told in (few, many):
        for limits in (told.wilson, told.exact):
            assert limits is not None
            assert 0 <= limits.low <= told.share <= limits.high <= 1
    for wide, narrow in ((few.wilson, many.wilson), (few.exact, many.exact)):
        assert wide is not None
        assert narrow is not None
        assert narrow.high - narrow.low <= wide.high - wide.low


def day_of_checks() -> Record:
    """95 grafts cut by AB; then, by arithmetic:

    - AB spoils 3 transected and 1 crushed in cutting: 4 of 99; CD cuts 9 twos and spoils 1: 1 of 10
    - AB divides a three into 1 + 2: 95 + 9 + 5 = 109 cut, 2 divided in, 111 in all; CD drops one: 6 discarded
    - CD places 20 and reseats 2; EF looks at 10 placed, 1 faulty, and at 5, none faulty
    """
    record = case_under_way()
    record.enter(c.DiscardGrafts(lot="A", size="2", reason="transected", count=3), "AB")
    record.enter(c.DiscardGrafts(lot="A", size="2", reason="crushed"), "AB")
    record.enter(c.CutGrafts(lot="A", size="2", count=9), "CD")
    record.enter(c.DiscardGrafts(lot="A", size="2", reason="transected"), "CD")
    record.enter(c.DivideGrafts(size="3", into=("1", "2")), "AB")
    record.enter(c.DiscardGrafts(size="2", reason="dropped"), "CD")
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=20), "CD")
    record.enter(c.ReseatGraft(zone="LINE", count=2), "CD")
    record.enter(c.CheckSpot(subject="placing", looked_at=10, faulty=1, fault="too deep"), "EF")
    record.enter(c.CheckSpot(subject="placing", looked_at=5, faulty=0), "EF")
    return record


def test_quality_of_a_day_worked_by_hand():
    told = {
        (each.measure, each.who): (each.proportion.count, each.proportion.of)
        for each in quality(day_of_checks().state)
    }
    assert told == {
        ("transected in cutting", None): (4, 109),
        ("spoilt in cutting", None): (5, 109),
        ("discarded", None): (6, 111),
        ("discarded, transected", None): (4, 111),
        ("discarded, crushed", None): (1, 111),
        ("discarded, dropped", None): (1, 111),
        ("divided", None): (1, 111),
        ("reseated", None): (2, 20),
        ("spot check, placing", None): (1, 15),
        ("transected in cutting", "AB"): (3, 99),
        ("transected in cutting", "CD"): (1, 10),
        ("spoilt in cutting", "AB"): (4, 99),
        ("spoilt in cutting", "CD"): (1, 10),
        ("reseated", "CD"): (2, 20),
        ("spot check, placing", "EF"): (1, 15),
    }


def test_what_was_taken_back_is_in_no_share():
    record = case_under_way()
    record.enter(c.DiscardGrafts(lot="A", size="2", reason="transected", count=3), "AB")
    record.enter(c.TakeBack(role="cutting"), "AB")
    spoilt = next(each for each in quality(record.state) if each.measure == "spoilt in cutting")
    assert (spoilt.proportion.count, spoilt.proportion.of) == (0, 95)


def test_quality_is_told_in_the_summary():
    told = summarise(day_of_checks().state)
    page = to_markdown(told)
    assert "## Quality" in page
    # 2 of 20: Wilson 2.8–30.1 %, exact 1.2–31.7 % (statsmodels)
    row = next(each for each in page.splitlines() if each.startswith("| reseated "))
    assert " ".join(row.split()) == "| reseated | 2 of 20 | 10.0 % | 2.8–30.1 | 1.2–31.7 |"
    assert "quality,reseated,,share,0.1,share" in to_csv(told)
    assert "## Quality" not in to_markdown(summarise(opened_case().state))


@settings(max_examples=30)
@given(records())
def test_people_add_up_to_the_whole(record: Record):
    told = quality(record.state)
    for whole in (each for each in told if each.who is None):
        mine = [each.proportion for each in told if each.measure == whole.measure and each.who is not None]
        if mine:
            assert sum(each.count for each in mine) <= whole.proportion.count
            assert sum(each.of for each in mine) == whole.proportion.of
