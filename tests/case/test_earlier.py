"""A case that goes on where an earlier one ended: three days worked out by hand, and what is always true."""

from __future__ import annotations

from collections import Counter

import pytest
from cases import MORNING_MS, Asking, Record, askings, records, small_plan, told, up_to
from hypothesis import given, settings
from msgspec.structs import replace
from three_days import DAY_MS, day_1, day_2, day_3, plan_after, signed

from orroom.case import commands as c
from orroom.case.care import first_harvest_ms
from orroom.case.closing import open_at_sign_off
from orroom.case.drawing import harvest_in_hand
from orroom.case.evolve import fold
from orroom.case.fates import giving
from orroom.case.final_count import groups_to_count, waiting_by_group
from orroom.case.state import ENDS, SOURCES
from orroom.figures.counts import by_size, total
from orroom.figures.donor import expected_grafts
from orroom.figures.earlier import before_by_zone, kept_by_size, still_expected, still_expected_by_size
from orroom.figures.holding import harvest_ages, times_out_at_placing
from orroom.figures.out_of_body import out_of_body
from orroom.figures.quality import quality
from orroom.figures.yields import yields
from orroom.formats.summary_formats import to_markdown
from orroom.summary.summary import summarise

HOUR_MS = 3_600_000


@pytest.fixture(scope="module")
def first() -> Record:
    return day_1()


@pytest.fixture(scope="module")
def second(first: Record) -> Record:
    return day_2(first.state)


def test_day_1_ends_with_every_graft_placed_or_with_its_fate(first: Record):
    whole = total(by_size(first.state))
    assert (whole.usable, whole.placed, whole.left_at_end, whole.waiting) == (90, 67, 23, 0)
    kept = Counter[str]()
    for (size, _, _, fate), count in first.tally.fates.items():
        kept[size] += count if fate == "kept" else 0
    assert +kept == {"1": 5, "2": 8}


def test_day_2_opens_with_what_day_1_kept_and_its_old_clock(first: Record, second: Record):
    opened = fold(second.state.log[:1])
    assert {key: opened.tally.held("dish", *key) for key in (("1", "K1"), ("2", "K1"))} == {
        ("1", "K1"): 5,
        ("2", "K1"): 8,
    }
    [session] = opened.plan.sessions
    assert (session.case, session.entries, session.seal) == ("P7-1", first.state.seq, "ab" * 32)
    assert kept_by_size(opened.plan) == {"1": 5, "2": 8}
    [age] = harvest_ages(opened, MORNING_MS + DAY_MS)
    assert (age.harvest, age.out_ms, age.waiting) == ("K1", DAY_MS, 13)
    assert first_harvest_ms(opened.tally) == opened.log[0].stamp.at_ms  # care begins with the case
    assert harvest_in_hand(opened.tally) == "A"
    assert {group.harvest for group in groups_to_count(opened)} == {"K1"}


def test_kept_grafts_wait_in_the_times_out_of_the_body_before_any_is_placed(second: Record):
    found = out_of_body(fold(second.state.log[:1]), MORNING_MS + DAY_MS)
    assert [each.harvest for each in found] == ["K1", None]
    for each in found:
        assert each.times.waiting == (13, 13)
        assert each.times.graft_hours == (13 * 24.0, 13 * 24.0)


def test_grafts_kept_are_open_until_they_were_counted_again_and_what_is_missing_is_named(second: Record):
    opened = fold(second.state.log[:1])
    found = {each.key: each.sentence for each in open_at_sign_off(opened)}
    assert found["kept:2:K1"] == "harvest K1: 8 twos kept, not counted again in this case"
    assert "kept:1:K1" in found
    counted = {each.key: each.sentence for each in open_at_sign_off(fold(second.state.log[:3]))}
    assert not {key for key in counted if key.startswith("kept")}
    assert counted["counted:2:K1"] == "harvest K1: 1 two kept but not found in a hand count"
    assert "counted:1:K1" not in counted


def test_day_2_ends_with_every_graft_of_both_days_accounted_for(second: Record):
    whole = total(by_size(second.state))
    assert (whole.kept_before, whole.cut_in_all, whole.not_found) == (13, 10, 1)
    assert (whole.placed, whole.left_at_end, whole.waiting, whole.usable) == (11, 11, 0, 22)
    assert second.held("placed", harvest="K1") == 11
    assert {each.harvest: each.out_ms for each in harvest_ages(second.state, second.now_ms)}["K1"] is None
    [out] = times_out_at_placing(second.state)
    assert out.harvest == "K1"
    assert out.grafts == 11
    assert out.longest_ms == DAY_MS + 1000  # the second placing, a second after the first
    shares = {each.measure: (each.proportion.count, each.proportion.of) for each in quality(second.state)}
    assert shares["discarded"] == (0, 23)


def test_what_was_placed_before_is_next_to_the_plan_and_taken_off_the_donor_estimate(second: Record):
    before = before_by_zone(second.state.plan)
    assert {key: (each.grafts, each.hairs) for key, each in before.items()} == {
        "LINE": (25, 25.0),
        "FRONT": (40, 90.0),
        "MID": (2, 4.0),
    }
    plan = second.state.plan
    assert expected_grafts(plan.donor) == 187.5  # 6 × 0.5 cm² × 62.5
    assert still_expected(plan) == 97.5  # less 30 + 40 + 20
    assert still_expected_by_size(plan) == {"1": 26.25, "2": 53.75, "3": 17.5}  # of 56.25, 93.75, 37.5
    after = replace(plan, donor=replace(plan.donor, after_earlier=True))
    assert still_expected(after) == 187.5


def test_the_summary_of_day_2_has_both_days(second: Record):
    shown = summarise(second.state)
    zones = {each.zone: each for each in shown.zones}
    assert (zones["LINE"].before_grafts_per_cm2, zones["LINE"].together_grafts_per_cm2) == (6.25, 7.5)
    assert (zones["FRONT"].before_hairs_per_cm2, zones["FRONT"].together_hairs_per_cm2) == (9.0, 10.2)
    [case] = shown.earlier_cases
    assert (case.earlier_case, case.grafts_placed, case.hairs_placed, case.grafts_taken) == (
        "P7-1",
        67,
        119,
        90,
    )
    assert [(each.size, each.grafts, each.counted_again, each.not_found) for each in shown.kept_grafts] == [
        ("1", 5, True, 0),
        ("2", 8, True, 1),
    ]
    assert {each.out_since for each in shown.kept_grafts} == {MORNING_MS}
    assert (shown.donor.expected, shown.donor.taken_before, shown.donor.usable) == (97.5, 90, 10)
    assert (shown.in_all.kept_before, shown.in_all.cut_in_all) == (13, 10)
    page = to_markdown(shown)
    assert "Earlier cases placed 67 grafts and 119 hairs; with these 78 grafts and 136 hairs." in page
    assert "22 usable**: 10 cut + 13 kept from an earlier case − 1 not found by hand count." in page
    assert "| frontal   |            40 |           90 |  4.0 → 4.6 | 9.0 → 10.2 |" in page
    assert "| K1, kept from harvest A | 2    |    8 |         1 |      2026-01-05 07:30 |" in page


def test_day_3_has_both_earlier_days_and_the_kept_grafts_of_the_second_alone(second: Record):
    third = day_3(second.state)
    assert [each.case for each in third.state.plan.sessions] == ["P7-1", "P7-2"]
    assert third.state.plan.sessions[0].kept == ()  # what became of it is in the second
    [kept] = third.state.plan.kept.values()
    began = second.tally.harvests["A"].started_at_ms
    assert (kept.key, kept.of, kept.started_at_ms, kept.grafts) == ("K1", "A", began, {"2": 10})
    before = before_by_zone(third.state.plan)
    assert (before["LINE"].grafts, before["FRONT"].grafts, before["FRONT"].hairs) == (30, 46, 102.0)
    assert still_expected(third.state.plan) == 87.5  # 187.5 less 90 and 10
    assert third.held("kept_before") == third.held("dish") == 10


def test_what_is_kept_twice_keeps_its_first_clock_and_its_first_name(first: Record):
    second = Record(now_ms=MORNING_MS + DAY_MS)
    second.enter(c.OpenCase(plan=plan_after(first.state, small_plan(case="P7-2"))))
    second.enter(c.StartHarvest(harvest="A", minutes_ago=0))
    second.enter(c.CutGrafts(harvest="A", size="3", count=4))
    for group, count in waiting_by_group(second.tally).items():
        for fate in giving(second.tally, group, count, fate="kept"):
            second.enter(fate)
    third = day_3(signed(second).state)
    kept = third.state.plan.kept
    assert [(key, each.of, each.label, each.grafts) for key, each in kept.items()] == [
        ("K1", "A", "K1, kept from harvest A", {"1": 5, "2": 8}),
        ("K2", "A", "K2, kept from harvest A", {"3": 4}),
    ]
    assert kept["K1"].started_at_ms == MORNING_MS
    assert kept["K2"].started_at_ms == second.tally.harvests["A"].started_at_ms


def test_kept_grafts_are_in_the_yield_and_nothing_is_cut_of_their_harvest(first: Record):
    record = Record(now_ms=MORNING_MS + DAY_MS)
    record.enter(c.OpenCase(plan=plan_after(first.state, small_plan(case="P7-2"))))
    found = {each.harvest: each for each in yields(record.state, 80).harvests}
    assert found["K1"].projected.grafts == 13
    for command in (
        c.CutGrafts(harvest="K1", size="2", count=1),
        c.DiscardGrafts(harvest="K1", size="2", count=1, reason="dried"),
        c.FinishSegment(harvest="K1"),
        c.EndHarvest(harvest="K1"),
    ):
        assert record.refusal(command).rule == "refuse_cutting_what_was_kept"
    assert record.refusal(c.StartHarvest(harvest="K1", minutes_ago=0)).rule == "refuse_second_harvest"
    record.enter(c.DivideGrafts(size="2", into=("1", "1"), count=1, harvest="K1"))
    assert record.held("dish", "1", "K1") == 7


def test_a_revised_plan_may_take_an_earlier_case_in_later_and_not_leave_it_out(first: Record):
    record = Record(now_ms=MORNING_MS + DAY_MS)
    record.enter(c.OpenCase(plan=small_plan(case="P7-2")))
    taken = plan_after(first.state, small_plan(case="P7-2"))
    record.enter(c.RevisePlan(plan=taken, reason="the first day was forgotten"))
    assert record.held("dish") == record.held("kept_before") == 13
    record.enter(c.RevisePlan(plan=replace(taken, title="again"), reason="a title"))
    assert record.held("kept_before") == 13
    forgets = c.RevisePlan(plan=small_plan(case="P7-2"), reason="without it")
    assert record.refusal(forgets).rule == "refuse_other_earlier_cases"
    assert fold(record.state.log) == record.state


def everything_fated(record: Record, fates: list[str]) -> None:
    for number, (group, count) in enumerate(waiting_by_group(record.tally).items()):
        if count > 0 and group.size in record.state.plan.size_by_key:
            fate = fates[number % len(fates)]
            zone = next(iter(record.state.plan.zone_by_key)) if fate == "placed extra" else None
            for each in giving(record.tally, group, count, fate=fate, into_zone=zone):
                record.ask(each, "EF", "overview-1")


FATES = ["kept", "placed extra", "kept", "left over", "returned to donor", "discarded"]


@given(records(), up_to(25, askings()))
@settings(max_examples=100)
def test_what_day_1_kept_is_what_day_2_begins_with_and_both_days_add_up(record: Record, later: list[Asking]):
    record.ask(c.ReopenCase(reason="one more"))
    everything_fated(record, FATES)
    kept = Counter[str]()
    for (size, _, _, fate), count in record.tally.fates.items():
        kept[size] += count if fate == "kept" else 0
    assert kept_by_size(plan_after(record.state, small_plan())) == +kept
    next_day = Record(now_ms=record.now_ms + DAY_MS)
    next_day.enter(c.OpenCase(plan=plan_after(record.state, small_plan(case="SMALL-2"))))
    assert {size: next_day.held("dish", size) for size in kept} == kept
    told(next_day, later)
    next_day.ask(c.ReopenCase(reason="one more"))
    everything_fated(next_day, FATES[1:])
    assert fold(next_day.state.log) == next_day.state
    for size in {key.size for key in next_day.tally.stock}:
        for harvest in {key.harvest for key in next_day.tally.stock}:
            came = sum(next_day.held(name, size, harvest) for name in SOURCES)
            assert came == sum(next_day.held(name, size, harvest) for name in ENDS)
    assert {size: next_day.held("kept_before", size) for size in kept} == kept
    placed, before = Counter[str](), Counter[str]()
    for zone in before_by_zone(next_day.state.plan).values():
        before.update(zone.placed)
    for (_, size), count in record.tally.placed.items():
        placed[size] += max(0, count)
    assert before == +placed
