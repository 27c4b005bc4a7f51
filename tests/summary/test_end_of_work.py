"""Every figure of a summary is of the work: counts, notes and signing after it change none."""

from __future__ import annotations

from typing import Any

import pytest
from cases import MINUTE_MS, MORNING_MS, UNCOUNTED, Record, case_under_way, opened_case, records
from hypothesis import given, settings

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.closing import open_at_sign_off
from orroom.case.events import Stamp
from orroom.case.mismatches import open_mismatches
from orroom.case.terms import CAUTIONS
from orroom.errors import OrroomError
from orroom.figures.holding import harvest_ages, oldest_out
from orroom.formats.json_text import summary_schema
from orroom.formats.summary_formats import to_html, to_markdown
from orroom.summary.summary import Summary, summarise

DAY_MS = 86_400_000
PAPERWORK = (
    c.ReopenCase(reason="one more dish looked into"),
    c.JoinStation(role="overview"),
    c.AddNote(text="nothing was in it"),
    c.CheckSpot(subject="cutting", looked_at=3, faulty=0),
    c.SetKeysAside(cause="held", keys=("2", "2"), counted=False),
    c.LeaveStation(),
)
#: What depends on the time that the work took, and not on when the papers were done.
OF_THE_WORK = (
    *("end_of_work", "sizes", "in_all", "zones", "harvests", "out_of_body", "waiting_curve", "drying"),
    *("progress", "pace", "pace_by_person", "care", "care_given"),
)


def of_the_work(summary: Summary) -> dict[str, Any]:
    return {name: getattr(summary, name) for name in OF_THE_WORK}


def signed(record: Record, minutes: float) -> Summary:
    later = Record(record.state, record.now_ms)
    later.taps = record.taps.copy()
    later.wait(minutes)
    if not later.tally.signed_off:
        said = {"open_because": "never found", "informed": "RS"} if open_at_sign_off(later.state) else {}
        later.enter(c.SignOff(second="GH", **said), "EF", station="desk")
    first = summarise(later.state)
    for command in PAPERWORK:
        later.wait(60)
        later.enter(command, "EF", station="desk")
        assert of_the_work(summarise(later.state)) == of_the_work(first)  # also while it is open again
    said = {"open_because": "never found", "informed": "RS"} if open_at_sign_off(later.state) else {}
    later.wait(2 * 24 * 60)
    later.enter(c.SignOff(second="GH", **said), "EF", station="desk")
    assert of_the_work(summarise(later.state)) == of_the_work(first)
    return summarise(later.state)


@settings(max_examples=25, deadline=None)
@given(records())
def test_no_figure_of_the_work_depends_on_when_the_papers_were_done(record: Record) -> None:
    assert of_the_work(signed(record, 1)) == of_the_work(signed(record, 72 * 60))


def test_the_work_of_a_signed_case_ends_with_its_last_entry_of_work() -> None:
    record = case_under_way()
    placed = record.enter(c.PlaceGrafts(zone="LINE", size="1", count=20), "CD", station="placing-1")
    record.wait(30)
    record.enter(c.AddNote(text="all done"))
    assert summarise(record.state).end_of_work == record.now_ms  # open: the last entry, whatever it is
    record.wait(30)
    record.enter(c.SignOff(second="CD", **UNCOUNTED), "EF")
    assert summarise(record.state).end_of_work == placed.stamp.at_ms
    record.enter(c.ReopenCase(reason="one more"), "EF")
    record.wait(60)
    again = record.enter(c.PlaceGrafts(zone="LINE", size="1", count=1), "CD", station="placing-1")
    assert summarise(record.state).end_of_work == again.stamp.at_ms


def test_care_is_work_too() -> None:
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=20), "CD", station="placing-1")
    record.wait(30)
    wetted = record.enter(c.GiveCare(care="wet"), "EF", station="overview-1")
    record.wait(30)
    record.enter(c.SignOff(second="CD", **UNCOUNTED), "EF")
    summary = summarise(record.state)
    assert summary.end_of_work == summary.care_until == wetted.stamp.at_ms
    assert summary.harvests[0].waiting_out_ms == wetted.stamp.at_ms - (
        summary.harvests[0].harvest_started or 0
    )


def test_nothing_of_a_closed_case_grows_older() -> None:
    record = case_under_way()
    record.enter(c.SignOff(second="CD", **UNCOUNTED), "EF")
    work_ms = summarise(record.state).end_of_work
    record.wait(3 * 24 * 60)
    assert harvest_ages(record.state, record.now_ms) == harvest_ages(record.state, work_ms)
    record.enter(c.ReopenCase(reason="one more"), "EF")
    record.enter(c.CutGrafts(harvest="A", size="2"))
    oldest = oldest_out(harvest_ages(record.state, record.now_ms))
    assert oldest is not None
    assert (oldest.out_ms or 0) > 3 * 24 * 60 * MINUTE_MS


def test_a_clock_that_was_behind_when_a_station_joined_is_the_first_caution() -> None:
    record = case_under_way()
    assert summarise(record.state).cautions[0] == CAUTIONS[0]
    now_ms = record.now_ms
    record.enter(c.JoinStation(role="placing"), at_ms=now_ms - 59_000, station="placing-2")
    assert summarise(record.state).cautions[0] == CAUTIONS[0]
    joined = record.enter(c.JoinStation(role="cutting"), at_ms=now_ms - 65 * MINUTE_MS, station="cutting-2")
    first, *rest = summarise(record.state).cautions
    assert first == (
        f"THE CLOCK WAS BEHIND. cutting-2 joined (entry {joined.seq}) 1 h 05 before the last entry: "
        "durations over that gap are wrong."
    )
    assert rest[0] == CAUTIONS[0]


def test_a_clock_that_was_behind_after_a_restart_is_the_first_caution() -> None:
    record = case_under_way()
    step = record.enter(c.TellClockStep(by_ms=-3 * 60 * MINUTE_MS, at_start=True))
    first, second, *_ = summarise(record.state).cautions
    assert first == (
        f"THE CLOCK WAS BEHIND after a restart of the machine (entry {step.seq}): time continued from the "
        "last entry, and durations over that gap are too short by the off time."
    )
    assert second == CAUTIONS[0]
    assert any(
        "the time the machine was off is not counted" in each.sentence
        for each in open_mismatches(record.state)
    )


def test_a_rescued_tap_that_is_taken_last_makes_nothing_out_for_less_long() -> None:
    entered = [
        (c.PlaceGrafts(zone="FRONT", size="2", count=5), "placing-1", MORNING_MS + 60 * MINUTE_MS),
        (c.PlaceGrafts(zone="LINE", size="1", count=20), "placing-2", MORNING_MS + 120 * MINUTE_MS),
    ]
    found = []
    for order in (entered, entered[::-1]):  # a rescued tap keeps its time
        record = case_under_way()
        for command, station, at_ms in order:
            record.enter(command, "CD", station=station, at_ms=at_ms)
        summary = summarise(record.state)
        assert all(span.duration_ms >= 0 for span in summary.times)
        found.append({**of_the_work(summary), "times": summary.times})
        found[-1].pop("progress")  # steps in the order of the entries
    assert found[1] == found[0]


def test_a_rescued_round_of_care_makes_no_gap_that_was_not_there() -> None:
    record = opened_case()
    record.enter(c.StartHarvest(harvest="A", minutes_ago=0), at_ms=MORNING_MS)
    for minute in (15, 45, 30):  # the last was rescued
        record.enter(c.GiveCare(care="wet"), at_ms=MORNING_MS + minute * MINUTE_MS)
    wet = next(each for each in summarise(record.state).care if each.care == "wet")
    assert (wet.longest_gap_ms, wet.since_last_ms) == (15 * MINUTE_MS, 0)


def test_what_happened_on_another_day_says_on_which() -> None:
    found = signed(case_under_way(), 1)
    page = to_markdown(found)
    assert "Signed off before by EF and GH, 2026-01-05 " in page
    assert "Reopened 2026-01-05 " in page
    assert "| whole record | 2026-01-05 07:30 | 2026-01-07 " in page


@pytest.mark.parametrize("far", [253_402_300_800_000, -62_135_596_800_001])
@pytest.mark.parametrize("what", ["stamp", "harvest"])
def test_a_time_in_no_calendar_is_one_clear_error(what: str, far: int) -> None:
    """The first millisecond of the year 10000 and the last before the year 1."""
    record = case_under_way()
    event = e.NoteAdded(text="x") if what == "stamp" else e.HarvestStarted(harvest="B", started_at_ms=far)
    record.take(event, Stamp(far if what == "stamp" else record.now_ms, "desk", 1, "AB"))
    with pytest.raises(OrroomError, match="outside any calendar"):
        summarise(record.state)


def test_cut_says_where_spoilt_grafts_are_left_out() -> None:
    record = case_under_way()
    record.enter(c.DiscardGrafts(size="1", reason="transected", count=4, harvest="A"))
    summary = summarise(record.state)
    assert (summary.in_all.cut_in_all, summary.progress[-1].cut_spoilt_left_out) == (99, 95)
    assert sum(summary.people[0].cut_spoilt_left_out.values()) == 95
    assert "spoilt left out 95" in to_html(summary)
    assert "spoilt grafts left out" in to_markdown(summary)
    fields = summary_schema()["$defs"]
    for part, name in (
        ("Progress", "cut_spoilt_left_out"),
        ("PersonSummary", "cut_spoilt_left_out"),
        ("PaceSummary", "done"),
    ):
        assert "spoilt ones left out" in fields[part]["properties"][name]["description"]


def test_care_given_late_is_told_with_its_count_first() -> None:
    record = opened_case()
    record.enter(c.StartHarvest(harvest="A", minutes_ago=20))
    record.enter(c.GiveCare(care="wet"))  # due 5 min and a second ago, less than the interval of 15
    page = to_markdown(summarise(record.state))
    assert "- wet the dishes: 1 of 1 round given late, the latest by 5 min 01 s." in page
