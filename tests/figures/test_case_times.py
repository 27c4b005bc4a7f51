"""A time that is not on the day of the work says on which day it is; a case of one day shows no day."""

from __future__ import annotations

import re

import pytest
from cases import MINUTE_MS, MORNING_MS, Record, case_under_way, opened_case
from painted import said
from two_days import two_days

from orroom.case import commands as c
from orroom.case.evolve import fold
from orroom.case.terms import Role
from orroom.figures.case_times import case_times
from orroom.figures.pace.work import start_of_work_ms
from orroom.figures.wording import Times, clock_time, clock_time_with_seconds, hours_minutes, late
from orroom.formats.summary_formats import to_html, to_markdown
from orroom.summary.sharing import shared
from orroom.summary.summary import summarise
from orroom.words.status import present, status_at, text

HOUR_MS = 60 * MINUTE_MS
DAY = re.compile(r"day (?:before|\d+) \d\d:\d\d")


@pytest.mark.parametrize(
    ("hours", "offset_minutes", "said_as"),
    [
        (0, 0, "07:30"),
        (16.49, 0, "23:59"),
        (16.5, 0, "day 2 00:00"),
        (15.5, 60, "day 2 00:00"),  # an hour further east midnight is an hour earlier
        (0.25, -480, "23:45"),  # in the far west it is the evening before
        (23, -480, "day 2 22:30"),
        (26, 0, "day 2 09:30"),
        (41, 0, "day 3 00:30"),
        (-8, 0, "day before 23:30"),
        (-32, 0, "2 days before 23:30"),
    ],
)
def test_a_time_of_another_day_says_which(hours: float, offset_minutes: int, said_as: str):
    times = Times(offset_minutes, work_began_ms=MORNING_MS)
    at_ms = MORNING_MS + round(hours * HOUR_MS)
    assert clock_time(at_ms, times) == said_as
    assert clock_time_with_seconds(at_ms, times)[:-3] == said_as
    assert not DAY.search(clock_time(at_ms, Times(offset_minutes)))  # no work, no day


@pytest.mark.parametrize(
    ("minutes", "said_as"),
    [(23 * 60 + 59, "23:59"), (24 * 60, "24 h 00"), (26 * 60 + 10, "26 h 10"), (-26 * 60, "−26 h 00")],
)
def test_a_duration_over_a_day_cannot_be_read_as_a_time(minutes: int, said_as: str):
    assert hours_minutes(minutes * MINUTE_MS) == said_as


def test_what_was_hours_late_is_said_in_hours():
    assert (late(59 * MINUTE_MS), late(1199 * MINUTE_MS)) == ("59 min 00 s", "19 h 59")


def test_days_count_from_the_first_work_that_was_not_undone():
    record = opened_case()
    record.wait(12 * 60)
    record.enter(c.AddNote(text="instruments laid out"))
    record.enter(c.GiveCare(care="renew"))  # no work yet either
    assert case_times(record.state) == Times(0)
    record.wait(12 * 60)  # the next morning
    mistake = record.enter(c.CutGrafts(harvest="A", size="2"))
    record.wait(24 * 60)
    record.enter(c.CorrectEntry(entry=mistake.seq, reason="a slip"))
    assert case_times(record.state) == Times(0)
    record.enter(c.StartHarvest(harvest="A", minutes_ago=30))
    assert case_times(record.state) == Times(0, record.now_ms - 30 * MINUTE_MS)
    assert case_times(record.state).work_began_ms == start_of_work_ms(record.state)


@pytest.mark.parametrize("role", ["cutting", "placing"])
@pytest.mark.parametrize(("width", "height"), [(80, 24), (40, 12), (120, 40)])
def test_on_the_second_day_every_time_on_a_screen_says_so(role: Role, width: int, height: int):
    entries = two_days()
    record = Record(fold(entries[: len(entries) // 2 + 40]))
    record.now_ms = record.state.log[-1].stamp.at_ms + MINUTE_MS
    first_day = {clock_time(each.stamp.at_ms, Times(60)) for each in entries[: len(entries) // 2]}
    screen = said(record, role, width=width, height=height)
    assert bool(re.search(r"day 2 \d\d:\d\d $", screen.splitlines()[0])) == (width < 60)  # else with seconds
    assert bool(re.search(r"day 2 \d\d:\d\d:\d\d $", screen.splitlines()[0])) == (width >= 60)
    for found in re.finditer(r"(?<!day \d )(?<![:\d])(\d\d:\d\d)", screen):
        assert found[1] in first_day, found
    assert all(len(row) <= width for row in screen.splitlines())


@pytest.mark.parametrize("width", [80, 40])
def test_a_long_entry_of_the_second_day_still_ends_at_the_edge(width: int):
    record = case_under_way()
    record.wait(20 * 60)
    record.enter(c.AddNote(text="a longer remark, " * 6))
    screen = said(record, "cutting", width=width, height=24)
    [row] = [each for each in screen.splitlines() if "note: " in each]
    assert "day 2 03:30" in row
    assert "…" in row
    assert len(row) <= width


def test_a_finish_on_the_second_day_says_so_once_above_its_digits():
    entries = two_days()
    record = Record(fold(entries[: len(entries) // 2 + 40]))
    record.now_ms = record.state.log[-1].stamp.at_ms + MINUTE_MS
    screen = said(record, "overview", width=80, height=24)
    assert "FINISH DAY 2" in screen
    assert re.search(r"\d\d:\d\d to \d\d:\d\d", screen)
    assert "done ~day 2 " in said(record, "overview", width=120, height=40)


def test_status_and_summary_of_two_days_name_the_day():
    state = fold(two_days())
    now = status_at(state, state.log[-1].stamp.at_ms)
    assert all(text(each, now, plain=True).startswith("day 2 ") for each in present(now))
    summary = summarise(state)
    page = to_markdown(summary)
    assert "day 1 is 2026-03-05, durations in hours:minutes" in page
    assert re.search(r"with the placers 20 h \d\d without wetting", page)
    assert re.search(r"\| cutting +\| +\d\d:\d\d \| +day 2 \d\d:\d\d \| +2\d h \d\d \|", page)
    assert "day 1 12:00" in to_html(summary)
    assert "day 2 06:00" in to_html(summary)


def test_a_case_shared_without_dates_still_counts_its_days():
    page = to_markdown(shared(summarise(fold(two_days())), "anonymous"))
    assert "day 2 0" in page
    assert "2026" not in page


def test_a_case_of_one_day_shows_no_day():
    record = case_under_way()
    record.wait(60)
    now = status_at(record.state, record.now_ms)
    words = [*(text(each, now, plain=True) for each in present(now)), to_markdown(summarise(record.state))]
    assert not re.search(r"\bday \d", "\n".join(words))
