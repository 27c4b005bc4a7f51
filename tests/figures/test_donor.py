"""What the donor area is expected to give, against published worked figures."""

from __future__ import annotations

from pathlib import Path
from statistics import fmean

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from orroom.case.plan import Donor, Plan
from orroom.cli import main
from orroom.figures.counts import hairs_per_graft
from orroom.figures.donor import (
    Range,
    compared,
    elasticity_percent,
    expected_by_size,
    expected_grafts,
    expected_range,
    unassigned_share,
    whole_grafts_by_size,
)
from orroom.files.checker import checked
from orroom.files.plan_file import load_plan
from orroom.words.plan import plan_overview

SAMPLES = Path(__file__).parents[2] / "sample_cases"


def donor(*readings: float, mix: dict[str, float] | None = None, **strip: float) -> Donor:
    """A strip of 15 × 1 cm without loss, unless told otherwise."""
    fields = {"strip_length_cm": 15, "strip_width_cm": 1, **strip}
    made, _ = checked({**fields, "grafts_per_cm2": readings, "mix": mix or {"2": 1}}, Donor)
    assert made is not None
    return made


def interval(given: Donor, confidence: float = 0.95) -> Range:
    found = expected_range(given, confidence)
    assert found is not None
    return found


def test_published_strip_of_1200_units():
    # 15 cm × 1 cm × mean(100, 80, 60) FU/cm² = 1200 FU: a published donor-harvest chapter, read.
    assert expected_grafts(donor(100, 80, 60)) == 1200


def test_published_hairs_per_unit_of_the_same_strip():
    # 260/210/140 hairs/cm² give 2.600/2.625/2.333 hairs/FU; ratio of means 2.542, mean of ratios 2.519: the
    # same chapter, read. What is told as hairs per graft is the ratio of sums, not the mean of ratios.
    pairs = [(260, 100), (210, 80), (140, 60)]
    each = [hairs_per_graft(hairs, units) for hairs, units in pairs]
    assert each == pytest.approx([2.600, 2.625, 2.333], abs=0.0005)
    whole = hairs_per_graft(sum(hairs for hairs, _ in pairs), sum(units for _, units in pairs))
    assert whole == pytest.approx(2.542, abs=0.0005)
    assert fmean(ratio for ratio in each if ratio) == pytest.approx(2.519, abs=0.0005)


def test_published_hairs_per_unit_of_another_series():
    # 61.1 FU/cm² with 111.2 hairs/cm² = 1.820: Dermatol Surg 2017;43(5), read; here over 10 cm².
    assert hairs_per_graft(1112, 611) == pytest.approx(1.820, abs=0.0005)


@pytest.mark.parametrize(
    ("estimated", "actual", "difference", "percent"),
    [(2139.44, 2397.64, 258.20, 12.07), (2277.71, 2296.71, 19.00, 0.83)],
)
def test_published_estimates_beside_what_came(
    estimated: float, actual: float, difference: float, percent: float
):
    # J Drugs Dermatol 2014;13(10):1248-1252, read.
    found = compared(estimated, actual)
    assert found.difference == pytest.approx(difference, abs=0.005)
    assert found.share is not None
    assert found.share * 100 == pytest.approx(percent, abs=0.005)


def test_an_estimate_of_nothing_has_no_share():
    assert compared(0, 12) == (12, None)


@pytest.mark.parametrize(("pressed_mm", "percent"), [(25, 50), (35, 30), (45, 10), (0, 100), (50, 0)])
def test_published_elasticities(pressed_mm: float, percent: float):
    # Mayer & Pauls, Hair Transplant Forum Int 2005;15(4):122-123, second-hand, citation from memory; the ends
    # of the range are arithmetic.
    assert elasticity_percent(pressed_mm) == pytest.approx(percent)


@pytest.mark.parametrize("pressed_mm", [-0.1, 50.1, float("nan"), float("inf")])
def test_elasticity_outside_the_marks_is_an_error(pressed_mm: float):
    # The same source: x outside 0 to 50 is an error.
    with pytest.raises(ValueError, match="give 0 to 50 mm"):
        elasticity_percent(pressed_mm)


def test_a_mix_that_leaves_a_remainder_is_not_rescaled():
    # 45/42/7 % for 1/2/3 hairs, 6 % unaccounted: a Korean occiput study, Springer 2010, 21-22, read.
    given = donor(100, 80, 60, mix={"1": 0.45, "2": 0.42, "3": 0.07})
    assert unassigned_share(given) == pytest.approx(0.06)
    assert expected_by_size(given) == pytest.approx({"1": 540, "2": 504, "3": 84})


# The interval.


def test_interval_worked_by_hand():
    # Readings 100, 80, 60: mean 80, s = 20, s/√3 = 11.547; t(0.975; 2) = 4.303 in printed tables of Student's
    # t (from memory); half 49.68/cm², on 15 cm² 745.3: 1,200 less and more that.
    low, high, confidence = interval(donor(100, 80, 60))
    assert (low, high) == pytest.approx((454.7, 1945.3), abs=0.5)
    assert confidence == 0.95


@given(
    readings=st.lists(st.floats(40, 120), min_size=2, max_size=8).filter(lambda each: len(set(each)) > 1),
    loss=st.floats(0, 0.5),
    confidence=st.floats(0.5, 0.99),
)
@settings(max_examples=50, deadline=None)
def test_interval_against_the_statistics_library(readings: list[float], loss: float, confidence: float):
    from scipy import stats

    # scipy.stats.ttest_1samp's own confidence interval of a mean, on the area that cutting leaves.
    given = donor(*readings, loss=loss)
    low, high, _ = interval(given, confidence)
    if max(readings) - min(readings) > 1e-6:
        reference = stats.ttest_1samp(readings, 0).confidence_interval(confidence)
        area = 15 * (1 - loss)
        assert low == pytest.approx(max(0, reference.low * area), rel=1e-6, abs=1e-6)
        assert high == pytest.approx(reference.high * area, rel=1e-6)
    assert low <= expected_grafts(given) * (1 + 1e-12)
    assert high >= expected_grafts(given) * (1 - 1e-12)


def test_interval_shrinks_with_more_readings_of_the_same_spread():
    widths = [high - low for low, high, _ in map(interval, (donor(*[70, 90] * n) for n in (1, 2, 4, 8)))]
    assert widths == sorted(widths, reverse=True)


def test_readings_that_agree_have_no_interval():
    assert expected_range(donor(80, 80)) is None  # which says nothing of how readings differ


def test_no_interval_below_nothing():
    assert interval(donor(10, 150)).low == 0


def test_one_reading_has_no_interval():
    assert expected_range(donor(80)) is None


# What orroom check says.


def test_check_tells_the_estimate_and_its_interval():
    # Full day: 26 × 1.1 × 89 × 0.95 = 2,418.1; s = 2.582, /√4 = 1.291, × t(0.975; 3) = 3.182: 4.108/cm² on
    # 27.17 cm² = 111.6. Arithmetic; t as in printed tables, from memory.
    text = plan_overview(load_plan(SAMPLES / "frontal-midscalp" / "plan.toml"))
    assert "Donor: 26 × 1.1 cm × 89.0 grafts/cm² (4 readings) less 5 % = 2,418 grafts;" in text
    assert "95 % range 2,307–2,530, from the spread of the readings alone" in text
    assert "elasticity is not included" in text


def test_check_says_that_one_reading_has_no_interval():
    plan: Plan = load_plan(SAMPLES / "hairline" / "plan.toml")
    assert plan.donor
    one = replace(plan, donor=replace(plan.donor, grafts_per_cm2=(84,)))
    assert "(1 reading) less 5 % = 638 grafts;\n  no range from a single reading;" in plan_overview(one)
    same = replace(plan, donor=replace(plan.donor, grafts_per_cm2=(84, 84)))
    assert "= 638 grafts;\n  no range, since all readings are the same;" in plan_overview(same)


def test_check_gives_sizes_that_add_up_to_the_whole():
    # 2,418.1 grafts at 20, 46, 25.8, 4 and 4.2 %: 483.6 + 1,112.3 + 623.9 + 96.7 + 101.6, rounded each for
    # itself 2,419; by largest remainder 2,418.
    plan = load_plan(SAMPLES / "frontal-midscalp" / "plan.toml")
    assert plan.donor
    assert sum(round(each) for each in expected_by_size(plan.donor).values()) == 2419
    assert sum(whole_grafts_by_size(plan.donor).values()) == 2418
    rows = [row.split() for row in plan_overview(plan).splitlines()]
    given = [int(row[-1].replace(",", "")) for row in rows if row and row[0] in {"1", "2", "3", "4", "M"}]
    assert (len(given), sum(given)) == (5, 2418)


@given(
    st.dictionaries(st.sampled_from("1234M"), st.floats(0.01, 0.2), min_size=1),
    st.floats(20, 120),
)
def test_whole_grafts_are_within_one_of_what_is_expected(mix: dict[str, float], reading: float):
    given_donor = donor(reading, mix=mix)
    exact, whole = expected_by_size(given_donor), whole_grafts_by_size(given_donor)
    assert abs(sum(whole.values()) - sum(exact.values())) <= 0.5 + 1e-9  # half a graft may go either way
    assert all(abs(whole[size] - exact[size]) < 1.5 for size in mix)


def test_elasticity_is_said_on_the_command_line():
    assert "if they do not, measure again" in CliRunner().invoke(main, ["elasticity", "0"]).output
    said = CliRunner().invoke(main, ["elasticity", "35"])
    assert (said.exit_code, said.output[:5]) == (0, "30 %:")
    for wrong in ("51", "-1", "nan"):
        assert CliRunner().invoke(main, ["elasticity", "--", wrong]).exit_code == 2
