"""Hours at work: never more than the record has, and a pace only where entries were made as the work went."""

from __future__ import annotations

import json

import pytest
from cases import MINUTE_MS, Record, opened_case, records
from hypothesis import given, settings
from hypothesis import strategies as st
from larger_cases import big_plan
from tables import figures_in
from two_lots import two_lots

from orroom.archive.case_row import case_row
from orroom.case import commands as c
from orroom.case.evolve import fold
from orroom.case.harvests import out_since_ms
from orroom.case.terms import WORKS
from orroom.figures.pace.finish import outlook
from orroom.figures.pace.rates import Pace, pace
from orroom.figures.pace.spans import spans
from orroom.figures.pace.work import work_done
from orroom.figures.yields import yields
from orroom.formats.fhir.bundle import to_fhir
from orroom.formats.summary_formats import to_markdown
from orroom.summary.summary import summarise

HOUR_MS = 60 * MINUTE_MS


def paced(record: Record, later_minutes: float = 0) -> Pace:
    return pace(work_done(record.state, "cutting", record.now_ms + round(later_minutes * MINUTE_MS)))


def batches(number: int, minutes: float, grafts: int, record: Record | None = None) -> Record:
    """So many entries of so many grafts each, so long apart."""
    record = record or opened_case(big_plan())
    for _ in range(number):
        record.wait(minutes)
        record.enter(c.CutGrafts(harvest="A", size="2", count=grafts), at_ms=record.now_ms)
    return record


@settings(max_examples=150)
@given(records(), st.floats(0, 600))
def test_hours_at_work_are_never_more_than_the_record_has(record: Record, later: float):
    now = max(entry.stamp.at_ms for entry in record.state.log) + round(later * MINUTE_MS)
    opened = record.state.log[0].stamp.at_ms
    harvests = out_since_ms(record.state).values()
    for work in WORKS:
        done = work_done(record.state, work, now)
        found = pace(done)
        assert 0 <= (found.working_hours or 0) <= (now - opened) / HOUR_MS
        assert all(0 <= (person.hours or 0) <= (now - opened) / HOUR_MS for person in found.people)
        first = min((mark.at_ms for mark in done.marks), default=opened)
        begun = opened if work == "sites" else max(opened, min(harvests, default=opened))
        assert all(min(begun, first) <= stint.start_ms <= stint.end_ms <= now for stint in done.stints)


def test_what_the_first_entry_says_was_not_done_before_the_harvest():
    """Entries 30 min apart, the first 10 min after the harvest: a usual wait earlier nothing was out yet."""
    record = opened_case(big_plan())
    record.wait(60)
    record.enter(c.StartHarvest(harvest="A"), at_ms=record.now_ms)
    record.wait(10)
    record.enter(c.CutGrafts(harvest="A", size="2", count=60), at_ms=record.now_ms)
    batches(4, 30, 60, record)
    assert paced(record).working_hours == pytest.approx(130 / 60)


def test_nobody_works_before_the_case_is_opened():
    record = opened_case(big_plan())
    record.wait(5)
    record.enter(c.CutGrafts(harvest="A", size="2", count=60), at_ms=record.now_ms)
    batches(2, 60, 60, record)
    assert paced(record).working_hours == pytest.approx((125 * MINUTE_MS + 1000 - 1000) / HOUR_MS)


def test_finished_work_ends_at_its_last_entry_however_late_it_is_asked():
    record = batches(8, 15, 60)
    assert {paced(record, later).working_hours for later in (0, 60, 120, 180, 600)} == {2.0}
    assert {paced(record, later).over_case for later in (0, 60, 120, 180, 600)} == {240.0}


def test_one_graft_on_the_day_after_adds_no_day_of_work():
    record = batches(60, 1, 4)
    before = paced(record).working_hours
    batches(1, 24 * 60, 1, record)
    after = paced(record).working_hours
    assert before is not None
    assert after is not None
    assert after - before <= 2 / 60  # a usual wait before it
    two_entries = batches(2, 24 * 60, 1)
    assert paced(two_entries).working_hours is None


@pytest.mark.parametrize(("silence", "hours"), [(70, 170 / 60), (90, 110 / 60)])
def test_a_silence_is_work_up_to_eight_usual_waits(silence: float, hours: float):
    """Six entries 10 min apart before the silence and five after: 8 waits of 10 min are 80."""
    record = batches(6, 10, 40)
    batches(1, silence, 40, record)
    batches(4, 10, 40, record)
    assert paced(record).working_hours == pytest.approx(hours)


def test_no_silence_of_hours_is_work_however_far_apart_entries_are():
    def worked(*minutes: int) -> list[tuple[int, int]]:
        found = spans([each * MINUTE_MS for each in minutes], [1] * len(minutes), 0, minutes[-1] * MINUTE_MS)
        return [(start // MINUTE_MS, end // MINUTE_MS) for start, end in found]

    assert worked(0, 60, 120, 240, 300) == [(0, 300)]
    assert worked(0, 60, 120, 241, 301) == [(0, 120), (181, 301)]


def test_what_is_entered_late_after_a_silence_keeps_its_time():
    """Ten grafts every 5 min, none for 50, then so many: 10 take 5 min, 60 take 30, 200 the whole silence."""
    for number, begins in ((1, 95), (10, 95), (60, 70), (200, 50)):
        times = [*range(0, 51, 5), 100, 105]
        numbers = [10] * 11 + [number, 10]
        found = spans([each * MINUTE_MS for each in times], numbers, 0, 105 * MINUTE_MS)
        assert found == [(0, 50 * MINUTE_MS), (begins * MINUTE_MS, 105 * MINUTE_MS)]


@pytest.mark.parametrize("grafts", [1, 10, 300])
def test_entries_made_in_one_go_are_no_pace(grafts: int):
    for found in (paced(batches(2, 1 / 60, grafts)), paced(batches(20, 1 / 60, grafts))):
        assert (found.working_hours, found.hand_hours, found.now) == (None, None, None)
        assert (found.over_case, found.per_hand) == (None, None)
        assert [(each.hours, each.per_hour) for each in found.people] == [(None, None)]


def test_more_than_hands_can_do_is_no_pace():
    """3,600 an hour is one every second: 61 a minute were entered afterwards, 59 were not."""
    assert paced(batches(30, 1, 61)).per_hand is None
    assert paced(batches(30, 1, 59)).per_hand == pytest.approx(59 * 60)


def test_no_finish_is_foretold_from_entries_made_in_one_go():
    record = batches(30, 1, 61)
    assert outlook(record.state, yields(record.state, 80), record.now_ms).finish is None


def test_sites_entered_in_one_go_set_no_finish():
    record = batches(30, 1, 4)
    for _ in range(30):
        record.wait(1)
        record.enter(c.PlaceGrafts(zone="MID", size="2", count=4), "CD", at_ms=record.now_ms)
        record.enter(c.CutGrafts(harvest="A", size="2", count=4), at_ms=record.now_ms)
    without_sites = outlook(record.state, yields(record.state, 80), record.now_ms).finish
    assert without_sites is not None
    record.enter(c.MakeSites(zone="MID", count=800), "CD", at_ms=record.now_ms)
    assert outlook(record.state, yields(record.state, 80), record.now_ms).finish == without_sites


def test_a_pace_now_is_that_of_whole_batches():
    """60 every 15 minutes are 240 an hour, whenever it is asked until the next one is late."""
    record = batches(8, 15, 60)
    assert {paced(record, later).now for later in range(16)} == {240.0}
    late = paced(record, 30).now
    assert late == pytest.approx(160)  # two batches in 30 minutes, and 15 more without one


def test_every_format_says_that_sites_were_entered_in_one_go():
    """The day of two harvests: 400 sites in three entries a minute apart."""
    state = fold(two_lots())
    summary = summarise(state)
    page = to_markdown(summary)
    assert "8,000" not in page
    assert "No pace of making sites: entered in one go, or less than 10 minutes\nof work." in page
    sites = next(each for each in summary.pace if each.work == "making sites")
    assert (sites.as_it_went, sites.working_hours, sites.person_hours) == (False, None, None)
    assert (sites.per_hour, sites.per_person_hour) == (None, None)
    assert ("pace", "making sites", "", "per_hour", "", "1/h") in figures_in(summary)
    found = [
        {part["code"]["text"] for part in each["resource"]["component"]}
        for each in json.loads(to_fhir(summary, "r4b"))["entry"]
        if each["resource"].get("code", {}).get("text") == "pace of making sites"
    ]
    assert found == [{"done", "still to do", "pace not known because"}]
    assert case_row(state, "x", "y", keep_dates=False)["sites_person_hours"] is None


def test_who_makes_something_is_back_from_a_break_whose_end_nobody_entered():
    """Ten entries 5 min apart, a break, and from 30 min later on ten more."""
    record = batches(10, 5, 6)
    left = record.enter(c.StartBreak(), "AB").stamp.at_ms
    record.wait(25)
    batches(1, 5, 6, record)
    back = record.now_ms
    assert not work_done(record.state, "cutting", back).ahead
    batches(9, 5, 6, record)
    done = work_done(record.state, "cutting", record.now_ms)
    assert max(stint.end_ms for stint in done.stints) == record.now_ms
    assert not any(stint.start_ms < back and stint.end_ms > left for stint in done.stints)
