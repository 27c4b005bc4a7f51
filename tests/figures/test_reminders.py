"""Reminders of the clinic's own: when they are due, worked out by hand and held against a simple clock."""

from __future__ import annotations

import json
from typing import Any

import pytest
from cases import MINUTE_MS, MORNING_MS, Record, small_plan
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from orroom.archive.case_row import case_row
from orroom.case import commands as c
from orroom.case.care import due_at_ms
from orroom.case.plan import CareRound
from orroom.figures.prompts import prompts
from orroom.figures.punctuality import CarePunctuality, care_given, punctuality
from orroom.formats.csv_tables import to_csv_tables
from orroom.formats.fhir.bundle import to_fhir
from orroom.formats.json_text import to_json
from orroom.formats.summary_formats import to_html, to_markdown
from orroom.record.encoding import body_of, event_of
from orroom.screens.stations.views.prompting import prompt_lines
from orroom.screens.terminal.painting import text_of
from orroom.summary.sharing import shared
from orroom.summary.summary import summarise

WET = CareRound(key="wet", label="wet the dishes", kind="wet", every_minutes=15)


def reminder(**fields: Any) -> CareRound:
    return CareRound(**({"key": "ours", "label": "our own", "kind": "reminder"} | fields))


class Day(Record):
    """A case opened at 07:30; its entries are made at minutes after that."""

    def __init__(self, *care: CareRound, offset_minutes: int = 0) -> None:
        super().__init__()
        plan = small_plan(care=care)
        opening = c.OpenCase(plan=plan, utc_offset_minutes=offset_minutes)
        self.enter(opening, "EF", at_ms=MORNING_MS)

    def at(self, minute: float, command: c.Command) -> None:
        self.enter(command, at_ms=MORNING_MS + round(minute * MINUTE_MS))

    def answer(self, *minutes: float) -> None:
        for minute in minutes:
            self.at(minute, c.GiveCare(care="ours"))

    @property
    def due(self) -> float | None:
        """When the reminder is due, in minutes after the opening."""
        due_ms = due_at_ms(self.tally, "ours")
        return None if due_ms is None else (due_ms - MORNING_MS) / MINUTE_MS

    def ends(self, minute: float) -> CarePunctuality:
        """How the last round of the plan went up to an entry of work at this minute."""
        self.at(minute, c.CutGrafts(harvest="A", size="1"))
        return punctuality(self.state)[-1]


def counts(care_punctuality: CarePunctuality) -> tuple[int, int, int, int, int]:
    """Due, given, on time, missed, missed at the end."""
    return (
        care_punctuality.due,
        care_punctuality.given,
        care_punctuality.on_time,
        care_punctuality.missed,
        care_punctuality.missed_at_end,
    )


# Worked out by hand; the case is opened at 07:30. The rules are our own, no source.


def test_from_the_opening_it_is_due_before_any_harvest():
    """Every 60 from 07:30: at 08:30; answered at 08:35, again at 09:35. The harvest moves nothing."""
    day = Day(reminder(every_minutes=60, starts="opening"))
    assert day.due == 60
    day.at(40, c.StartHarvest(harvest="A"))
    assert day.due == 60
    day.answer(65)
    assert day.due == 125


@pytest.mark.parametrize("starts", [None, "first harvest"])
def test_from_the_first_harvest_it_waits_for_that(starts: Any):
    """Every 60 from the harvest of 08:10: at 09:10. An answer before the harvest counts for nothing."""
    day = Day(reminder(every_minutes=60, starts=starts))
    day.answer(20)
    assert day.due is None
    day.at(40, c.StartHarvest(harvest="A"))
    assert day.due == 100


@pytest.mark.parametrize(
    ("answered", "due"),
    [((), 120), ((130,), 175), ((110,), 155), ((1,), 120), ((74,), 120), ((76,), 121)],
)
def test_at_a_time_of_day_and_then_every_so_often(answered: tuple[int, ...], due: int):
    """At 09:30 (minute 120), then every 45. Answered at 09:20, due at 10:05; at 07:31, still at 09:30."""
    day = Day(reminder(at="09:30", every_minutes=45))
    day.answer(*answered)
    assert day.due == due


@pytest.mark.parametrize(
    ("at", "offset_minutes", "due"),
    [
        ("07:30", 0, 0),
        ("07:31", 0, 1),
        ("07:00", 0, -30),  # somebody was late
        ("06:30", 0, -60),
        ("06:29", 0, 23 * 60 - 1),  # the next day
        ("00:00", 0, 16 * 60 + 30),
        ("09:30", 120, 0),  # 07:30 UTC
        ("02:00", -330, 0),  # 07:30 UTC, five and a half hours behind it
        ("23:59", 14 * 60, 2 * 60 + 29),  # 21:30 there
    ],
)
def test_a_time_of_day_is_on_the_clock_of_the_case(at: str, offset_minutes: int, due: int):
    assert Day(reminder(at=at, once=True), offset_minutes=offset_minutes).due == due


def test_once_it_is_gone_after_it_was_answered_and_back_if_that_is_cancelled():
    day = Day(reminder(at="12:00", once=True))
    assert day.due == 270
    day.answer(275)
    assert day.due is None
    assert prompts(day.state, day.now_ms) == ()
    day.enter(c.CorrectEntry(entry=day.state.seq, reason="wrong one"))
    assert day.due == 270


def test_once_so_many_minutes_after_its_start():
    assert Day(reminder(every_minutes=30, once=True, starts="opening")).due == 30
    day = Day(reminder(every_minutes=30, once=True))
    day.at(10, c.StartHarvest(harvest="A"))
    assert day.due == 40


def test_once_it_is_due_once_and_missed_if_never_answered():
    """Due at 08:00 with 2 min of grace: on time at 08:02, missed from 08:02:01 on, and never missed twice."""
    never = reminder(at="08:00", once=True)
    assert counts(Day(never).ends(32)) == (0, 0, 0, 0, 0)
    for end in (32.1, 60, 300):
        assert counts(Day(never).ends(end)) == (1, 0, 0, 1, 1)
    page = to_markdown(summarise((day := Day(WET, never)).state))
    day.ends(300)
    page = to_markdown(summarise(day.state))
    assert "- **No care round was given**; fell due: our own 1 time." in page
    for answered, on_time in ((20, 1), (32, 1), (33, 0), (90, 0)):
        day = Day(never)
        day.answer(answered)
        summary = day.ends(300)
        assert counts(summary) == (1, 1, on_time, 0, 0)
        assert (summary.longest_gap_ms, summary.since_last_ms) == (None, None)


def test_once_after_an_interval_is_missed_once_however_long_nobody_answers():
    """Once, 30 min after the opening, never answered until 12:30: missed once, not at each half hour."""
    found = Day(reminder(every_minutes=30, once=True, starts="opening")).ends(300)
    assert counts(found) == (1, 0, 0, 1, 1)


def test_an_archive_counts_no_reminders_among_its_care():
    """Wetting due at 07:55 and missed, the reminder at 08:30 too: the archive has the first alone."""
    day = Day(WET, reminder(every_minutes=60, starts="opening"))
    day.at(10, c.StartHarvest(harvest="A"))
    assert [each.missed for each in (day.ends(39), *punctuality(day.state))] == [0, 1, 0]
    day.ends(70)
    summary = summarise(day.state)
    assert [each.missed for each in summary.care] == [4, 1]
    row = case_row(day.state, "id", "mark", keep_dates=False)
    assert (row["care_due"], row["care_missed"]) == (4, 4)


def test_once_a_pause_only_moves_it():
    """Due at 08:00, paused at 08:20 until 08:40: answered then, it was on time; else missed once."""
    day = Day(reminder(at="08:00", once=True))
    day.at(50, c.PausePrompt(care="ours", minutes=20))
    assert day.due == 70
    assert counts(day.ends(100)) == (1, 0, 0, 1, 1)
    day.answer(71)
    day.at(110, c.CutGrafts(harvest="A", size="1"))
    assert counts(punctuality(day.state)[0]) == (1, 1, 1, 0, 0)


def test_every_so_often_what_was_not_answered_is_missed():
    """Every 60 from the opening, answered at 08:35 (5 late): due at 09:35, 10:35, 11:35 until 12:00."""
    day = Day(reminder(every_minutes=60, starts="opening"))
    day.answer(65)
    summary = day.ends(270)
    assert counts(summary) == (4, 1, 0, 3, 3)
    assert (summary.longest_gap_ms, summary.since_last_ms) == (205 * MINUTE_MS, 205 * MINUTE_MS)
    assert "**our own: not answered for 3:25 at the end**; 3 of 4 rounds due missed" in to_markdown(
        summarise(day.state)
    )


def test_a_time_that_a_later_plan_brings_is_kept_if_it_is_still_to_come():
    """The plan of 08:30 asks for 09:00 and for 08:00, every 60: the one due at 09:00, the other at 08:30."""
    for at, due in (("09:00", 90), ("08:00", 60)):
        day = Day(WET)
        later = replace(day.state.plan, care=(WET, reminder(at=at, every_minutes=60)))
        day.at(60, c.RevisePlan(plan=later, reason="our own"))
        day.answer(95)
        (row,) = care_given(day.state)
        assert (row.due_at_ms or 0) - MORNING_MS == due * MINUTE_MS


def test_before_the_harvest_a_reminder_does_not_hide_that_the_other_prompts_wait_for_it():
    day = Day(WET, reminder(every_minutes=60, starts="opening"))
    for minutes, rows, shown in (
        (1, 3, ["our own in 59 min", "prompts start when the harvest is entered (h)"]),
        (1, 1, ["prompts start when the harvest is entered (h)"]),
        (60, 1, ["our own DUE NOW"]),
    ):
        lines = prompt_lines(day.state, MORNING_MS + minutes * MINUTE_MS, 80, rows)
        assert len(lines) == len(shown)
        assert all(words in text_of(line) for words, line in zip(shown, lines, strict=True))


def test_where_nothing_is_due_after_the_harvest_the_line_does_not_ask_for_one():
    day = Day(reminder(at="08:00", once=True))
    day.at(1, c.StartHarvest(harvest="A"))
    day.answer(30)
    (line,) = prompt_lines(day.state, day.now_ms, 80, 3)
    assert text_of(line) == " no prompts"


# What is written.


def test_a_plan_without_reminders_is_recorded_as_before_and_one_with_them_reads_back():
    day = Day(WET, reminder(at="08:00", once=True))
    body = body_of(day.state.log[0].event)
    wet, ours = body["plan"]["care"]
    assert list(wet) == ["key", "label", "kind", "every_minutes", "grace_minutes", "low_c", "high_c"]
    assert ours["at"] == "08:00"
    assert "every_minutes" not in ours
    assert event_of("case_opened", json.dumps(body)) == day.state.log[0].event


def test_at_both_levels_of_sharing_its_name_is_left_out_everywhere():
    day = Day(WET, reminder(key="zebra", label="the zebrafish", every_minutes=30, starts="opening"))
    day.at(31, c.GiveCare(care="zebra"))
    day.at(40, c.PausePrompt(care="zebra", minutes=30))
    day.at(200, c.CutGrafts(harvest="A", size="1"))
    summary = summarise(day.state)
    for level in ("roles", "anonymous"):
        found = shared(summary, level)  # type: ignore[arg-type]
        pages = [
            to_markdown(found),
            to_html(found),
            to_json(found),
            "\n".join(to_csv_tables(found).values()),
            to_fhir(found, "r5"),
        ]
        for page in pages:
            assert "reminder 2" in page
            assert "zebra" not in page.lower()
    assert "the zebrafish" in to_markdown(summary)
    assert "the zebrafish" in to_fhir(summary, "r5")


# What holds for any reminder.


@given(
    st.sampled_from(("opening", "first harvest", "at")),
    st.integers(1, 40),
    st.booleans(),
    st.integers(0, 60),
    st.integers(0, 90),
    st.lists(st.integers(1, 30), max_size=6),
)
def test_it_is_due_when_a_simple_clock_says_so(
    start: str, every: int, once: bool, harvest: int, at: int, waits: list[int]
):
    """Minute by minute: it is due when its interval is past since its start and since the last answer."""
    fields: dict[str, Any] = {"at": f"{7 + (30 + at) // 60:02}:{(30 + at) % 60:02}"}
    if start != "at":
        fields = {"starts": start}
    round_ = reminder(every_minutes=every, once=once or None, **fields)
    day, answers = Day(round_), [sum(waits[: number + 1]) for number in range(len(waits))]
    answered: list[int] = []
    for minute in range(1, 200):
        if minute == max(1, harvest):
            day.at(minute, c.StartHarvest(harvest="A"))
        if minute in answers:
            day.answer(minute)
            answered.append(minute)
        begun = {"opening": 0, "first harvest": max(1, harvest), "at": at}[start]
        since_answer = minute - answered[-1] if answered else 1_000
        if once and answered:
            rings = False
        elif start == "at":
            rings = minute >= at and since_answer >= every
        else:
            rings = minute - begun >= every and since_answer >= every
        due = day.due
        assert (due is not None and due <= minute) == rings, minute


@given(st.integers(1, 40), st.lists(st.integers(1, 200), max_size=8), st.integers(0, 200))
def test_what_was_missed_is_what_such_a_clock_rang_in_vain(every: int, waits: list[int], rest: int):
    """From the opening, minute by minute: it rings when due and each interval later until it is answered."""
    day, at = Day(reminder(every_minutes=every, starts="opening")), 0
    on_time = late = missed = 0
    for wait, given_then in [*((each, True) for each in waits), (rest, False)]:
        rang = [minute for minute in range(1, wait + 1) if minute % every == 0]
        overdue = bool(rang) and wait - rang[0] > 2
        if given_then:
            on_time, late = on_time + (not overdue), late + overdue
        if overdue:
            missed += len(rang) - given_then
        at += wait
        day.at(at, c.GiveCare(care="ours") if given_then else c.CutGrafts(harvest="A", size="1"))
    found = punctuality(day.state)[0]
    assert (found.on_time, found.given - found.on_time, found.missed) == (on_time, late, missed)
