"""Time out of the body: against a library, a published worked example, and cases worked by hand."""

from __future__ import annotations

import random
import warnings

import pytest
from cases import MINUTE_MS, MORNING_MS, Record, case_under_way, opened_case, records
from hypothesis import given, settings
from hypothesis import strategies as st

from orroom.case import commands as c
from orroom.figures.holding import harvest_ages, oldest_out
from orroom.figures.out_of_body import out_of_body
from orroom.figures.survival import (
    SURVIVAL_REFERENCE,
    Between,
    Observation,
    kaplan_meier,
    median_out_ms,
    quantile_ms,
)
from orroom.formats.summary_formats import to_markdown
from orroom.summary.summary import summarise

# The curve.

SIX_MP = (
    *((6, 1), (6, 1), (6, 1), (6, 0), (7, 1), (9, 0), (10, 1), (10, 0), (11, 0), (13, 1), (16, 1)),
    *((17, 0), (19, 0), (20, 0), (22, 1), (23, 1), (25, 0), (32, 0), (32, 0), (34, 0), (35, 0)),
)
PLACEBO = (1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23)


def test_curve_of_a_published_worked_example():
    """Weeks in remission under 6-MP and placebo: E. J. Freireich et al., Blood 1963;21:699-716, worked out in
    D. G. Kleinbaum, M. Klein, Survival Analysis, chapter 2 (both from memory, page not known)."""
    curve = kaplan_meier(Observation(week, 1, bool(ended)) for week, ended in SIX_MP)
    assert [(week, round(share, 4)) for week, share in curve] == [
        (6, 0.8571), (7, 0.8067), (10, 0.7529), (13, 0.6902), (16, 0.6275), (22, 0.5378), (23, 0.4482),
    ]  # fmt: skip
    assert quantile_ms(curve, 0.5) == 23
    assert quantile_ms(curve, 0.75) is None
    placebo = kaplan_meier(Observation(week, 1, placed=True) for week in PLACEBO)
    assert quantile_ms(placebo, 0.5) == 8
    assert placebo[-1] == (23, 0)


OBSERVED = st.lists(
    st.builds(Observation, st.integers(1, 40), st.integers(1, 30), st.booleans()), min_size=1, max_size=40
)


@settings(max_examples=30)
@given(OBSERVED)
def test_curve_and_quartiles_are_those_of_a_library(observations: list[Observation]):
    """Reference: lifelines ``KaplanMeierFitter`` with weights."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from lifelines import KaplanMeierFitter

        fitted = KaplanMeierFitter().fit(
            [each.out_ms for each in observations],
            [each.placed for each in observations],
            weights=[each.grafts for each in observations],
        )
    curve = kaplan_meier(observations)
    for out_ms, share in curve:
        assert share == pytest.approx(fitted.predict(out_ms), abs=1e-9)
    for part in (0.25, 0.5, 0.75):
        theirs = next(
            (float(t) for t, s in fitted.survival_function_["KM_estimate"].items() if s <= 1 - part + 1e-9),
            None,
        )
        assert quantile_ms(curve, part) == theirs


@given(OBSERVED, st.randoms(use_true_random=False))
def test_order_changes_no_curve(observations: list[Observation], rng: random.Random):
    curve = kaplan_meier(observations)
    rng.shuffle(observations)
    assert kaplan_meier(observations) == curve


def test_with_nothing_waiting_the_median_is_the_plain_one():
    times = [Observation(out, 1, placed=True) for out in (5, 1, 9, 3, 7)]
    assert quantile_ms(kaplan_meier(times), 0.5) == 5


# Harvests.


def mixed() -> Record:
    """Two harvests of ten twos each, in minutes: A out at 0, B at 60; 5 placed at 100, 10 at 120; now 180.

    Threes come from A alone: four, placed at 100.
    """
    record = opened_case()

    def at(minute: float, command: c.Command) -> None:
        record.enter(command, at_ms=MORNING_MS + round(minute * MINUTE_MS))

    at(0, c.StartHarvest(harvest="A"))
    at(30, c.CutGrafts(harvest="A", size="2", count=10))
    at(30, c.CutGrafts(harvest="A", size="3", count=4))
    at(60, c.StartHarvest(harvest="B"))
    at(90, c.CutGrafts(harvest="B", size="2", count=10))
    at(100, c.PlaceGrafts(zone="FRONT", size="2", count=5))
    at(100, c.PlaceGrafts(zone="FRONT", size="3", count=4))
    at(120, c.PlaceGrafts(zone="FRONT", size="2", count=10))
    at(180, c.AddNote(text="now"))
    return record


def test_harvests_that_mix_are_told_between_bounds():
    """By hand. A first: A 5 twos at 100 and 5 at 120 min, B 5 at 60, 5 wait since 120 min.
    B first: B 5 at 40 and 5 at 60, A 5 at 120, 5 wait since 180 min. The threes, A at 100, are exact.

    A, soonest: 9 at 100, 5 at 120: half (7 of 14) by 100. Latest: 4 at 100, 5 at 120, 5 waiting:
    4/14 by 100, 9/14 by 120: half by 120.
    """
    record = mixed()
    (_, a), (_, b), (_, whole) = found = out_of_body(record.state, record.now_ms)
    assert [harvest for harvest, _ in found] == ["A", "B", None]
    assert (a.placed, a.waiting) == (Between(9, 14), Between(0, 5))
    assert a.quartiles_ms[1] == Between(100 * MINUTE_MS, 120 * MINUTE_MS)
    assert b.quartiles_ms[1] == Between(40 * MINUTE_MS, 60 * MINUTE_MS)
    # B may be placed only at 100 min, 5 of the 15 twos, and A's ten at 120
    assert b.longest_placed_ms == Between(40 * MINUTE_MS, 60 * MINUTE_MS)
    assert whole.placed == Between(19, 19)
    # graft-hours in all are the same in both: 9×100 + 5×120 + 5×60 + 5×120 =
    # 4×100 + 5×40 + 5×60 + 5×120 + 5×180 = 2,400 min
    assert whole.graft_hours == Between(40, 40)
    assert b.share_over == (Between(0, 0), Between(0, 0), Between(0, 0))
    assert a.share_over[0] == Between(0, 5 / 14)
    assert median_out_ms(record.state, record.now_ms) == {"A": 100 * MINUTE_MS, "B": 60 * MINUTE_MS}


def test_one_harvest_is_exact():
    record = case_under_way()
    record.wait(30)
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=40))
    (_, only), (_, whole) = out_of_body(record.state, record.now_ms)
    for found in (only, whole):
        figures = [
            found.placed,
            found.waiting,
            *found.quartiles_ms,
            found.longest_placed_ms,
            found.graft_hours,
        ]
        assert all(each.low == each.high for each in [*figures, *found.share_over])
    assert only.quartiles_ms[2] == Between(None, None)


def test_a_size_that_one_harvest_alone_gave_is_exact_where_others_mix():
    record = opened_case()
    record.enter(c.StartHarvest(harvest="A", minutes_ago=60))
    record.enter(c.StartHarvest(harvest="B"))
    for harvest, size in (("A", "3"), ("B", "2")):
        record.enter(c.CutGrafts(harvest=harvest, size=size, count=4))
        record.enter(c.PlaceGrafts(zone="MID", size=size, count=3))
    for _, found in out_of_body(record.state, record.now_ms):
        figures = [
            found.placed,
            found.waiting,
            *found.quartiles_ms,
            found.longest_placed_ms,
            found.graft_hours,
        ]
        assert all(each.low == each.high for each in [*figures, *found.share_over])


def test_nothing_harvested_is_no_data():
    record = opened_case()
    assert out_of_body(record.state, record.now_ms) == ()
    record.enter(c.CutGrafts(harvest="A", size="2", count=3))  # cut, but nobody said when it left the body
    assert out_of_body(record.state, record.now_ms) == ()


@settings(max_examples=40)
@given(records())
def test_any_record_is_told_between_bounds_and_all_harvests_have_what_was_placed(record: Record):
    for harvest, found in out_of_body(record.state, record.now_ms):
        for figure in (
            *(found.placed, found.waiting, *found.quartiles_ms, found.longest_placed_ms),
            *(found.graft_hours, *found.share_over),
        ):
            assert figure.low is None or figure.high is None or 0 <= figure.low <= figure.high
        if harvest is None:
            assert found.placed == Between(record.held("placed"), record.held("placed"))


@settings(max_examples=30)
@given(records(), st.floats(0, 240))
def test_adding_a_harvest_never_lowers_the_oldest_age(record: Record, minutes: float):
    before = oldest_out(harvest_ages(record.state, record.now_ms))
    record.ask(c.StartHarvest(harvest="B", minutes_ago=minutes), at_ms=record.now_ms)
    after = oldest_out(harvest_ages(record.state, record.now_ms))
    if before is not None and before.harvest != "B":
        assert after is not None
        assert (after.out_ms or 0) >= (before.out_ms or 0)


@settings(max_examples=30)
@given(st.permutations([("1", 5), ("2", 7), ("3", 4), ("M", 2)]))
def test_order_of_entries_of_one_moment_changes_nothing(batches: list[tuple[str, int]]):
    def told(order: list[tuple[str, int]]) -> object:
        record = case_under_way()
        now = record.now_ms + 30 * MINUTE_MS
        for size, count in order:
            record.enter(c.PlaceGrafts(zone="MID", size=size, count=count), at_ms=now)
        return out_of_body(record.state, now)

    assert told(batches) == told(sorted(batches))


def test_summary_tells_bounds_and_the_published_series_as_a_reference():
    """Limmer's series, 95, 90, 79 and 54 % at 2, 4, 24 and 48 h: second-hand, citation from memory."""
    page = to_markdown(summarise(mixed().state))
    assert "## Time out of the body" in page
    assert "1:40–2:00" in page
    flat = " ".join(page.split())
    assert (
        "Reference, not a prediction: of grafts kept in chilled saline at 4 °C, 95 % survived after 2 h"
        in flat
    )
    for words in (
        "90 % after 4 h",
        "79 % after 24 h",
        "54 % after 48 h",
        "6 h and 8 h are omitted",
    ):
        assert words in SURVIVAL_REFERENCE
    assert not any(figure in SURVIVAL_REFERENCE for figure in ("86 %", "88 %", "83 %"))


def test_the_first_lines_say_that_half_is_not_placed_yet():
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=10))
    page = to_markdown(summarise(record.state))
    assert "Out of the body: less than half placed so far, the longest 1:00." in page
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=30))
    record.enter(c.PlaceGrafts(zone="FRONT", size="3", count=20))
    assert "Out of the body: half placed by 1:00, the longest 1:00." in to_markdown(summarise(record.state))
