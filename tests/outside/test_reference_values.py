"""Published values that a figure must give or a plan must allow, where no other test has them.

Each is held against the figure that the product uses. "Read", "second-hand" and "from memory" say how far the
value was seen in its source; "arithmetic" follows from others.
"""

from __future__ import annotations

from math import sqrt
from typing import Any, get_args

import pytest
from cases import MINUTE_MS, Record, opened_case, small_plan

from orroom.case import commands as c
from orroom.case.care import against_band
from orroom.case.plan import Donor, Harvest, Limits, Size, Zone
from orroom.figures.checks import CHECKS, advice_on
from orroom.figures.clusters import cluster_total
from orroom.figures.counts import by_size, hairs_per_graft, total
from orroom.figures.differences import Cause
from orroom.figures.donor import expected_grafts, expected_range
from orroom.figures.prompts import prompts
from orroom.figures.punctuality import care_given
from orroom.figures.shares import proportion
from orroom.files.plan_file import plan_from_raw

# Sizes of sessions: realistic ones pass, large ones too.

#: First-session follicular units by Norwood class, without and with crown: a published table, read.
#: Reference ranges only: nothing in a plan is measured against them.
FIRST_SESSIONS = {
    "III": (1000, 1600),
    "IV": (1600, 2200),
    "IV with crown": (2200, 2600),
    "V": (2000, 2500),
    "V with crown": (2500, 2800),
    "VI": (2400, 3000),
    "VI with crown": (2800, 3400),
    "VII": (2500, 3200),
    "VII with crown": (3000, 3600),
}
#: Means of a 2025 society census, first and later sessions (second-hand, as quoted); then 6,000 and more.
SESSIONS = sorted({2347, 1637, 6000, 8500, 12_000}.union(*FIRST_SESSIONS.values()))


def session(grafts: int) -> dict[str, Any]:
    """A plan of so many twos over two zones, at 25 a cm²."""
    halves = grafts // 2, grafts - grafts // 2
    return {
        "case": "REF-1",
        "sizes": [{"key": "2", "label": "twos", "hairs": 2}],
        "zones": [
            {"key": f"Z{place}", "label": f"zone {place}", "area_cm2": half / 25, "targets": {"2": half}}
            for place, half in enumerate(halves)
        ],
    }


@pytest.mark.parametrize("grafts", SESSIONS)
def test_published_sessions_are_plans_like_any_other(grafts: int):
    plan = plan_from_raw(session(grafts), "plan.toml")
    assert plan.planned() == grafts
    assert [check.name for check in CHECKS if any(each.rule == check.name for each in advice_on(plan))] == []


@pytest.mark.parametrize("grafts", [6000, 8500, 12_000])
def test_large_sessions_are_counted_to_the_last_graft(grafts: int):
    record = opened_case(plan_from_raw(session(grafts), "plan.toml"))
    record.enter(c.StartHarvest(harvest="A"))
    for zone in record.state.plan.zones:
        record.enter(c.CutGrafts(harvest="A", size="2", count=zone.planned["2"]))
        record.enter(c.PlaceGrafts(zone=zone.key, size="2", count=zone.planned["2"]), "CD")
    whole = total(by_size(record.state))
    assert (whole.cut_in_all, whole.placed, whole.owed, whole.hairs_placed) == (grafts, grafts, 0, 2 * grafts)
    assert record.mismatches() == {}


# Shares and ratios, computed and never copied.


@pytest.mark.parametrize(
    ("count", "of", "per_cent"),
    [
        (455, 544, 83.6),  # 2009 meeting abstract, second-hand: printed 82; arithmetic
        (17, 29, 58.6),  # misplaced, printed 59: Greenberg et al., Ann Surg 2008;248:337-341 (read)
        (11, 29, 37.9),  # documentation, printed 38: the same
        (1, 29, 3.4),  # miscount, printed 3: the same
    ],
)
def test_published_shares_are_computed(count: int, of: int, per_cent: float):
    found = proportion(count, of)
    assert found is not None
    assert round(found.share * 100, 1) == per_cent


def test_the_three_published_causes_of_a_difference_are_the_ones_told():
    # 17 + 11 + 1 of 29: Greenberg et al., Ann Surg 2008;248:337-341 (read)
    assert get_args(Cause) == ("misplaced", "documentation", "miscount")


@pytest.mark.parametrize(("grown", "of"), [(113, 100), (133, 100), (133, 103)])
def test_growth_above_the_whole_is_not_clamped(grown: int, of: int):
    # 89 vs 113, 103 vs 133 per cent: Seager 1997; Beehner, Hair Transplant Forum Int 2010;20(1) (read)
    found = proportion(grown, of)
    assert found is not None
    assert found.share == grown / of > 1
    assert (found.wilson, found.exact) == (None, None)


def test_published_ratio_of_densities():
    # 143.33 hairs / 74.36 units = 1.9275, beside a mean of 1.9233: Plast Aesthet Res 2017;4:150-154 (read)
    assert round(hairs_per_graft(143.33, 74.36) or 0, 4) == 1.9275
    units = {1: 2838, 2: 5262, 3: 1748, 4: 130, 5: 21}
    hairs = sum(size * count for size, count in units.items())
    assert sum(units.values()) == 9999
    assert round(hairs_per_graft(hairs, sum(units.values())) or 0, 4) == 1.9233


def test_a_report_that_contradicts_itself_is_counted_anew():
    # Printed "1512 one-hair grafts (1212 hairs)", 1920 of two, 283 of three: 6201 hairs (read; arithmetic)
    sizes = tuple(Size(key=key, label=key, hairs=int(key)) for key in "123")
    zone = Zone(key="ALL", label="all", area_cm2=100, targets={"1": 1})
    record = opened_case(small_plan(sizes=sizes, zones=(zone,), harvests=(Harvest(key="A", label="strip"),)))
    for size, count in (("1", 1512), ("2", 1920), ("3", 283)):
        record.enter(c.CutGrafts(harvest="A", size=size, count=count))
    whole = total(by_size(record.state))
    assert (whole.usable, whole.hairs_usable) == (3715, 6201)
    assert by_size(record.state)["1"].hairs_usable == 1512


# Temperature and the bench.


@pytest.mark.parametrize(("reading", "band"), [(1.9, "below"), (2.0, "in"), (8.0, "in"), (8.1, "above")])
def test_published_band_holds_both_its_ends(reading: float, band: str):
    # 4 °C: Beehner, Hair Transplant Forum Int 2021;31(5):165-173 (read); the band 2-8 °C second-hand
    assert against_band(reading, 2, 8) == band
    record = opened_case()
    record.enter(c.StartHarvest(harvest="A"))
    record.enter(c.GiveCare(care="cold", temperature_c=reading))
    assert [each.band for each in care_given(record.state)] == [band]
    remark = next(each.reading_remark for each in prompts(record.state, record.now_ms) if each.care == "cold")
    assert remark == {"in": None, "below": "last 1.9 °C, too cold", "above": "last 8.1 °C, too warm"}[band]


def on_the_bench(record: Record, seconds: float) -> str:
    """How the prompt for the bench stands so many seconds after grafts came there."""
    entry = record.enter(c.IssueGrafts(size="1", count=5), "CD")
    at = entry.stamp.at_ms + round(seconds * 1000)
    return next(each.status for each in prompts(record.state, at) if each.care == "bench")


@pytest.mark.parametrize(
    ("seconds", "status"), [(149, "waiting"), (150, "due"), (179, "due"), (181, "overdue")]
)
def test_the_bench_prompts_before_three_minutes_of_drying(seconds: float, status: str):
    # 3 min of drying on a glove did major damage: Dermatol Surg 2000;26(1):25-31 (read). Limits not given.
    record = opened_case(small_plan(limits=Limits()))
    record.enter(c.StartHarvest(harvest="A"))
    record.enter(c.CutGrafts(harvest="A", size="1", count=9))
    assert on_the_bench(record, seconds) == status


def test_what_is_paused_ends_by_itself_and_what_is_answered_comes_again():
    # IEC 60601-1-8, 6.8, as quoted (second-hand)
    record = opened_case()
    record.enter(c.StartHarvest(harvest="A", minutes_ago=20))
    wet = {each.care: each.status for each in prompts(record.state, record.now_ms)}
    assert wet["wet"] == "overdue"
    record.enter(c.PausePrompt(care="wet", minutes=10))

    def after(minutes: float) -> str:
        found = prompts(record.state, record.now_ms + round(minutes * MINUTE_MS))
        return next(each.status for each in found if each.care == "wet")

    assert (after(9.9), after(10)) == ("paused", "due")
    record.enter(c.GiveCare(care="wet"))
    assert (after(0), after(15)) == ("waiting", "due")


# Means and deviations: NIST Statistical Reference Datasets, univariate, certified values from memory.

NUM_ACC = {
    "NumAcc1": ([10_000_001.0, 10_000_003.0, 10_000_002.0], 10_000_002.0, 1.0),
    "NumAcc2": ([1.2, *[1.1, 1.3] * 500], 1.2, 0.1),
    "NumAcc3": ([1_000_000.2, *[1_000_000.1, 1_000_000.3] * 500], 1_000_000.2, 0.1),
    "NumAcc4": ([10_000_000.2, *[10_000_000.1, 10_000_000.3] * 500], 10_000_000.2, 0.1),
}

#: Michelson's 100 readings of the speed of light of 1879, in thousands of km/s less 299, in hundredths.
MICHELSON = (
    "85 74 90 107 93 85 95 98 98 88 100 98 93 65 76 81 100 100 96 96 96 94 96 94 88 "
    "80 85 88 90 84 83 79 81 88 88 83 80 79 76 80 88 88 88 86 72 72 62 86 97 95 "
    "88 91 85 87 84 84 85 84 84 84 89 81 81 82 80 77 76 74 75 76 91 92 89 86 88 "
    "72 84 85 85 78 89 84 78 81 76 81 79 81 82 85 87 87 81 74 81 94 95 80 81 87"
)


@pytest.mark.parametrize(("readings", "mean", "deviation"), NUM_ACC.values(), ids=NUM_ACC)
def test_certified_means_and_deviations_of_a_projection(readings: list[float], mean: float, deviation: float):
    """Twice as many segments as readings: total 2n·mean, variance (2n)²·½·s²/n = 2n·s²."""
    n = len(readings)
    found = cluster_total(readings, 2 * n, belief=0)
    assert found is not None
    assert found.total / (2 * n) == pytest.approx(mean, rel=1e-14)
    assert sqrt(found.variance / (2 * n)) == pytest.approx(deviation, rel=1e-7)


@pytest.mark.parametrize(
    ("readings", "mean", "deviation"),
    [
        NUM_ACC["NumAcc2"],
        ([299 + int(each) / 100 for each in MICHELSON.split()], 299.8524, 0.0790105478190518),
    ],
    ids=["NumAcc2", "Michelso"],
)
def test_certified_means_and_deviations_of_a_donor(readings: list[float], mean: float, deviation: float):
    from scipy import stats

    n = len(readings)
    donor = Donor(strip_length_cm=10, strip_width_cm=1, grafts_per_cm2=tuple(readings), mix={"2": 1})
    interval = expected_range(donor)
    assert interval is not None
    assert expected_grafts(donor) == pytest.approx(10 * mean, rel=1e-14)
    half = (interval.high - interval.low) / 2 / 10
    assert half / stats.t.ppf(0.975, n - 1) * sqrt(n) == pytest.approx(deviation, rel=1e-9)
