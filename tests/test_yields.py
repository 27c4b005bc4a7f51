"""What finished segments say of the whole: against a textbook, a library, a simulation and cases by hand."""

from __future__ import annotations

import random
import sys
from math import sqrt

import pytest
from cases import Record, opened_case, records, small_plan
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm, t
from test_views import said

from orroom.case import commands as c
from orroom.case.plan import Lot
from orroom.figures.t_quantiles import t_quantile
from orroom.figures.yields import Projection, cluster_total, segment_grafts, yields
from orroom.reports.markdown import to_markdown
from orroom.reports.summary import summarise

ONE_LOT = small_plan(lots=(Lot(key="A", label="strip", segments=6),))


@pytest.mark.parametrize("level", [80, 95])
def test_the_table_of_t_is_that_of_a_library(level: int):
    """Reference: ``scipy.stats.t`` to three places; beyond 30 degrees of freedom the normal quantile."""
    for degrees in range(1, 31):
        assert t_quantile(level, degrees) == round(t.ppf(0.5 + level / 200, degrees), 3)
    assert t_quantile(level, 31) == round(norm.ppf(0.5 + level / 200), 3)
    with pytest.raises(ValueError, match="0 degrees"):
        t_quantile(level, 0)


def test_total_of_a_textbook_cluster_sample():
    """Grade points of 5 of 100 suites of four: totals 12.16, 11.36, 8.96, 12.96, 11.08.

    Estimated total 1130.4, variance between suites 2.256, standard error 65.4 to 65.5.
    S. L. Lohr, Sampling: Design and Analysis, example 5.2 (from memory, page not known; figures recomputed).
    """
    told = cluster_total([12.16, 11.36, 8.96, 12.96, 11.08], 100)
    assert told is not None
    assert told.total == pytest.approx(1130.4)
    assert told.variance == pytest.approx(100**2 * 0.95 * 2.25568 / 5, rel=1e-6)
    assert 65.4 < sqrt(told.variance) < 65.5
    assert told.degrees == 4


def test_below_two_segments_is_no_data():
    assert cluster_total([], 6) is None
    assert cluster_total([40], 6) is None


@given(st.lists(st.integers(0, 200), min_size=2, max_size=30))
def test_all_segments_are_the_count_without_doubt(grafts: list[int]):
    told = cluster_total(grafts, len(grafts))
    assert told is not None
    assert told.total == pytest.approx(sum(grafts))
    assert told.variance == 0


@pytest.mark.parametrize(("level", "least", "most"), [(80, 0.77, 0.85), (95, 0.92, 0.975)])
@pytest.mark.parametrize("finished", [3, 8, 18])
def test_limits_hold_the_total_about_as_often_as_they_say(
    level: int, least: float, most: float, finished: int
):
    """2,000 strips of 26 segments, simulated with fixed seeds: 92 grafts each, standard deviation 14."""
    rng = random.Random(26 + finished)
    held = 0
    for _ in range(2000):
        strip = [max(0, round(rng.gauss(92, 14))) for _ in range(26)]
        told = cluster_total(strip[:finished], 26)
        assert told is not None
        held += abs(told.total - sum(strip)) <= t_quantile(level, told.degrees) * sqrt(told.variance)
    assert least <= held / 2000 <= most


def cut_segments(record: Record, *segments: dict[str, int], who: str = "AB", lot: str = "A") -> Record:
    for segment in segments:
        for size, count in segment.items():
            record.enter(c.CutGrafts(lot=lot, size=size, count=count), who)
        record.enter(c.FinishSegment(lot=lot), who)
    return record


def test_projection_worked_by_hand():
    """Three of six segments of 20, 26 and 32 grafts: mean 26, total 156; s² = 36, variance 36·½·36/3 = 216.

    √216 = 14.697; t(2) is 1.886 at 80 %: 27.7 either way; 4.303 at 95 %: 63.2.
    """
    record = cut_segments(opened_case(ONE_LOT), {"1": 10, "2": 10}, {"1": 10, "2": 16}, {"1": 10, "2": 22})
    narrow, wide = yields(record.state, 80), yields(record.state, 95)
    assert narrow.projected is not None
    assert (narrow.usable, narrow.projected.grafts) == (78, 156)
    assert (round(narrow.projected.low, 1), round(narrow.projected.high, 1)) == (128.3, 183.7)
    assert wide.projected is not None
    assert (round(wide.projected.low, 1), round(wide.projected.high, 1)) == (92.8, 219.2)
    assert narrow.projected_by_size["1"] == Projection(60, 60, 60)
    assert narrow.projected_by_size["3"] == Projection(0, 0, 0)


def test_two_cutters_each_finish_what_they_cut():
    record = opened_case(ONE_LOT)
    record.enter(c.CutGrafts(lot="A", size="1", count=10), "AB")
    record.enter(c.CutGrafts(lot="A", size="2", count=7), "CD")
    record.enter(c.FinishSegment(lot="A"), "CD")
    record.enter(c.CutGrafts(lot="A", size="1", count=5), "AB")
    record.enter(c.CutGrafts(lot="A", size="2", count=3), "CD")
    record.enter(c.FinishSegment(lot="A"), "AB")
    finished, in_hand = segment_grafts(record.state)
    assert finished == {"A": ({"2": 7}, {"1": 15})}
    assert in_hand == (("A", {"2": 3}),)


def test_who_takes_over_takes_over_the_segment_in_hand():
    record = opened_case(ONE_LOT)
    record.enter(c.CutGrafts(lot="A", size="1", count=10), "AB")
    record.enter(c.ChangeShift(left="AB"), "CD")
    record.enter(c.CutGrafts(lot="A", size="1", count=4), "CD")
    record.enter(c.FinishSegment(lot="A"), "CD")
    assert segment_grafts(record.state)[0] == {"A": ({"1": 14},)}


def test_a_segment_finished_by_somebody_who_cut_nothing_has_what_everybody_cut():
    record = opened_case(ONE_LOT)
    record.enter(c.CutGrafts(lot="A", size="1", count=10), "AB")
    record.enter(c.FinishSegment(lot="A"), "EF")
    assert segment_grafts(record.state)[0] == {"A": ({"1": 10},)}


def test_what_was_taken_back_or_spoilt_is_in_no_segment():
    record = opened_case(ONE_LOT)
    record.enter(c.CutGrafts(lot="A", size="1", count=10))
    record.enter(c.CutGrafts(lot="A", size="1", count=4))
    record.enter(c.TakeBack(role="cutting"))
    record.enter(c.DiscardGrafts(lot="A", size="1", reason="transected"))
    record.enter(c.FinishSegment(lot="A"))
    assert segment_grafts(record.state)[0] == {"A": ({"1": 10},)}


@settings(max_examples=40)
@given(records())
def test_any_record_is_projected_never_below_what_is_usable(record: Record):
    told = yields(record.state, 80)
    for usable, projected in (
        (told.usable, told.projected),
        *((told.usable_by_size[size], each) for size, each in told.projected_by_size.items()),
    ):
        if projected is not None:
            assert usable <= projected.low <= projected.grafts <= projected.high


def test_after_the_last_segment_it_is_the_count_whatever_came_of_it():
    record = cut_segments(opened_case(ONE_LOT), *({"1": 10 + n, "3": 5} for n in range(6)))
    record.enter(c.DivideGrafts(size="3", into=("1", "2")))
    record.enter(c.DiscardGrafts(size="1", reason="dropped", count=2))
    record.enter(c.CutGrafts(lot="A", size="1", count=1))  # one more after all
    told = yields(record.state, 95)
    assert told.projected == Projection(told.usable, told.usable, told.usable)
    assert told.usable == 75 + 30 + 1 - 2 + 1


def test_what_was_divided_and_given_up_so_far_is_counted():
    record = cut_segments(opened_case(ONE_LOT), {"3": 10}, {"3": 10})
    record.enter(c.DivideGrafts(size="3", into=("1", "2"), count=2))
    record.enter(c.DiscardGrafts(size="3", reason="dropped"))
    told = yields(record.state, 80)
    assert told.projected_by_size["3"] == Projection(57, 57, 57)  # 60 − 2 − 1
    assert told.projected_by_size["1"] == Projection(2, 2, 2)
    assert told.projected == Projection(61, 61, 61)


def test_lots_add_up_as_strata():
    """By hand. A: 10 and 14 of 4 segments: 48, s² = 8, variance 16·½·8/2 = 32. B: 5 and 9 of 3: 21, variance
    9·⅓·8/2 = 12. Together 69, √44 = 6.633; degrees 44²/(32² + 12²) = 1.66, so 1: t = 3.078, 20.4 either way.
    """
    record = cut_segments(opened_case(), {"2": 10}, {"2": 14})
    assert yields(record.state, 80).projected is None
    cut_segments(record, {"2": 5}, {"2": 9}, lot="B")
    told = yields(record.state, 80).projected
    assert told is not None
    assert told.grafts == pytest.approx(69)
    assert (round(told.low, 1), round(told.high, 1)) == (48.6, 89.4)


def test_the_overview_says_where_cutting_is_heading_and_stops_when_all_is_cut():
    segments = [{"1": 10, "2": 10}, {"1": 10, "2": 16}, {"1": 10, "2": 22}]
    record = cut_segments(opened_case(ONE_LOT), segments[0])
    assert "on course" not in said(record, "overview", width=120, height=40)
    cut_segments(record, *segments[1:])
    assert "on course for 156 (80 %: 128–184), plan 180" in said(record, "overview", width=120, height=40)
    small = said(record, "overview", width=80, height=24)
    assert "on course for 156 (128–184)" in small
    assert "80 % limits · plan 180" in small
    cut_segments(record, *segments)
    assert "on course" not in said(record, "overview", width=120, height=40)


def test_the_summary_tells_projected_beside_usable_and_plan():
    record = cut_segments(opened_case(ONE_LOT), {"1": 10, "2": 10}, {"1": 10, "2": 16}, {"1": 10, "2": 22})
    told = summarise(record.state)
    rows = [row.split("|")[1:-1] for row in to_markdown(told).splitlines() if row.startswith("| in all ")]
    assert [cell.strip() for cell in rows[-1]] == ["in all", "180", "78", "156", "128–184", "93–219"]
    assert summarise(opened_case(ONE_LOT).state).projected == ()


def test_a_live_screen_loads_no_library_for_its_limits():
    import subprocess

    code = (
        "import sys; sys.path.insert(0, 'tests')\n"
        "from readme_screens import screens\n"
        "assert 'on course' in screens()['overview']\n"
        "assert not {'scipy', 'numpy'} & set(sys.modules)"
    )
    from readme_screens import ROOT

    subprocess.run([sys.executable, "-c", code], check=True, cwd=ROOT)
