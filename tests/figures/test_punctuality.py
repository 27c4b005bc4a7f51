"""Care that was due, given on time, late and missed: worked out by hand, and what holds for any record."""

from __future__ import annotations

from typing import Any

import pytest
from cases import MINUTE_MS, MORNING_MS, Record, opened_case, records, small_plan
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from orroom.case import commands as c
from orroom.case.plan import CareRound, Limits
from orroom.case.terms import PLACERS_CARE
from orroom.figures.prompts import prompts
from orroom.figures.punctuality import CarePunctuality, care_given, care_until_ms, punctuality
from orroom.formats.summary_formats import to_html, to_markdown
from orroom.summary.summary import summarise

#: Every 15 min, 2 min of grace.
WET = CareRound(key="wet", label="wet the dishes", kind="wet", every_minutes=15)


class Day(Record):
    """A case whose entries are made at minutes after its opening; the harvest begins at minute 0."""

    def __init__(self, *care: CareRound, **limits: Any) -> None:
        super().__init__()
        plan = small_plan(care=care or (WET,), limits=Limits(with_placers_seconds=120, **limits))
        self.enter(c.OpenCase(plan=plan), "EF", at_ms=MORNING_MS)
        self.at(0, c.StartHarvest(harvest="A"))

    def at(self, minute: float, command: c.Command) -> None:
        self.enter(command, at_ms=MORNING_MS + round(minute * MINUTE_MS))

    def wet(self, *minutes: float) -> None:
        for minute in minutes:
            self.at(minute, c.GiveCare(care="wet"))

    def ends(self, minute: float) -> CarePunctuality:
        """How wetting went up to an entry of work at this minute, by hours of work or nothing in between."""
        for each in range(60, int(minute), 60):  # a case at which somebody works
            self.at(each, c.CutGrafts(harvest="A", size="1"))
        self.at(minute, c.CutGrafts(harvest="A", size="1"))
        return punctuality(self.state)[0]


def counts(care_punctuality: CarePunctuality) -> tuple[int, int, int, int, int]:
    """Due, given, on time, missed, missed at the end."""
    return (
        care_punctuality.due,
        care_punctuality.given,
        care_punctuality.on_time,
        care_punctuality.missed,
        care_punctuality.missed_at_end,
    )


def missed_at(care_punctuality: CarePunctuality) -> list[float]:
    """The minutes at which the missed rounds fell due."""
    return [(at_ms - MORNING_MS) / MINUTE_MS for at_ms in care_punctuality.missed_ms]


def minutes(milliseconds: int | None) -> float | None:
    return None if milliseconds is None else milliseconds / MINUTE_MS


# Worked out by hand. The rules are common practice, no source.


def test_care_given_once_and_then_never_again_was_missed_ever_after():
    """Given at 15, then due at 30, 45 … 360: (361 − 15) / 15 = 23.07, so 23 times in the last 346 min."""
    day = Day()
    day.wet(15)
    summary = day.ends(361)
    assert counts(summary) == (24, 1, 1, 23, 23)
    assert (minutes(summary.longest_gap_ms), minutes(summary.since_last_ms)) == (346, 346)
    assert missed_at(summary) == [*range(30, 361, 15)]
    page = to_markdown(summarise(day.state))
    assert "- **wet the dishes: not given for 5:46 at the end**; 23 of 24 rounds due missed." in page


def test_care_never_given_is_said_first():
    """Due at 15, 30, 45, 60, 75, 90 of 100 minutes."""
    day = Day()
    assert counts(day.ends(100)) == (6, 0, 0, 6, 6)
    assert "- **No care round was given**; fell due: wet the dishes 6 times." in to_markdown(
        summarise(day.state)
    )


def test_a_round_given_late_answers_the_first_time_it_fell_due():
    """Due at 15, again at 30 and 45: given at 50 it is 35 min late and two were missed. Next due at 65."""
    day = Day()
    day.wet(50, 65)
    summary = day.ends(70)
    assert counts(summary) == (4, 2, 1, 2, 0)
    assert (minutes(summary.latest_ms), minutes(summary.longest_gap_ms), minutes(summary.since_last_ms)) == (
        35,
        50,
        5,
    )
    assert missed_at(summary) == [30, 45]
    page = to_markdown(summarise(day.state))
    line = "- **wet the dishes: not given for 0:50 once**; 2 of 4 rounds due missed; 1 late"
    assert f"{line}, the latest by 35 min 00 s." in page


@pytest.mark.parametrize(("given_at", "on_time"), [(10, 1), (15, 1), (17, 1), (17.01, 0)])
def test_on_time_is_early_or_within_the_grace(given_at: float, on_time: int):
    day = Day()
    day.wet(given_at)
    summary = day.ends(20)
    assert counts(summary) == (1, 1, on_time, 0, 0)
    (row,) = care_given(day.state)
    assert (row.on_time, minutes((row.due_at_ms or 0) - MORNING_MS)) == (bool(on_time), 15)
    told_late = "| on time" if on_time else "| **late** 2 min 00 s"
    assert told_late in to_markdown(summarise(day.state))
    status = prompts_when(given_at)
    assert (status == "overdue") is not bool(on_time)  # the word on the screen at that moment


def prompts_when(minute: float) -> str:
    return prompts(Day().state, MORNING_MS + round(minute * MINUTE_MS))[0].status


@pytest.mark.parametrize(("end", "missed"), [(14, 0), (15, 0), (17, 0), (17.01, 1), (30, 2), (44.9, 2)])
def test_what_is_within_its_grace_at_the_end_is_not_missed(end: float, missed: int):
    assert counts(Day().ends(end)) == (missed, 0, 0, missed, missed)


def test_a_pause_moves_the_round_to_its_end_and_undoes_no_miss():
    """Paused in time at 15 till 60: nothing missed. Paused at 100, due since 75: 75 and 90 were missed."""
    day = Day()
    day.at(15, c.PausePrompt(care="wet", minutes=45))
    day.wet(60)
    day.at(100, c.PausePrompt(care="wet", minutes=30))
    day.wet(130)
    summary = day.ends(131)
    assert counts(summary) == (4, 2, 2, 2, 0)
    assert minutes(summary.longest_gap_ms) == 70  # 60 to 130
    assert missed_at(summary) == [75, 90]
    assert "- **wet the dishes, missed**: due 08:45, 09:00." in to_markdown(summarise(day.state))


@pytest.mark.parametrize(("outside_minutes", "missed"), [(None, 1), (10.0, 5), (60.0, 1)])
def test_a_reading_outside_the_band_is_due_again_as_soon_as_the_plan_says(
    outside_minutes: float | None, missed: int
):
    """9 °C at 10, band 2–8, every 30: due at 40; with 10 min outside it at 20, 30, … 60, with 60 no later."""
    cold = CareRound(key="cold", label="cold", kind="temperature", every_minutes=30, low_c=2, high_c=8)
    day = Day(replace(cold, outside_minutes=outside_minutes))
    day.at(10, c.GiveCare(care="cold", temperature_c=9.0))
    assert day.ends(65).missed == missed


def test_a_round_paused_all_day_was_not_given_all_the_same():
    day = Day()
    for minute in range(10, 390, 30):
        day.at(minute, c.PausePrompt(care="wet", minutes=30))
    assert counts(day.ends(389)) == (0, 0, 0, 0, 0)
    assert "- **No care round was given**; none fell due, paused 13 times." in to_markdown(
        summarise(day.state)
    )


def test_a_round_not_yet_due_is_not_said_to_be_missing_but_one_that_was_only_paused_is():
    """Every 15 and every 60 min, 40 min of work: the second was not due; paused at 50 till 110, not given."""
    renew = CareRound(key="renew", label="renew solution", kind="renew", every_minutes=60)
    day = Day(WET, renew)
    day.wet(15, 30)
    day.ends(40)
    assert "- Care rounds: all 2 were on time." in to_markdown(summarise(day.state))
    day.wet(45)
    day.at(50, c.PausePrompt(care="renew", minutes=60))
    day.wet(60)
    assert "- **renew solution: paused and never given**." in to_markdown(summarise(day.state))


def test_care_ends_with_the_last_graft_if_none_is_owed():
    plan = replace(small_plan(care=(WET,)), zones=(small_plan().zones[0],))  # 40 ones
    for until, last, missed in ((None, 60, 3), ("last graft", 60, 3), ("end of work", 120, 7)):
        record = Record()
        record.enter(c.OpenCase(plan=replace(plan, limits=Limits(care_until=until))), "EF", at_ms=MORNING_MS)
        record.enter(c.StartHarvest(harvest="A"), at_ms=MORNING_MS)
        record.enter(c.CutGrafts(harvest="A", size="1", count=45), at_ms=MORNING_MS + 5 * MINUTE_MS)
        record.enter(c.GiveCare(care="wet"), at_ms=MORNING_MS + 10 * MINUTE_MS)
        record.enter(c.PlaceGrafts(zone="LINE", size="1", count=39), at_ms=MORNING_MS + 50 * MINUTE_MS)
        assert care_until_ms(record.state) == record.now_ms  # one is owed
        record.enter(c.PlaceGrafts(zone="LINE", size="1", count=1), at_ms=MORNING_MS + 60 * MINUTE_MS)
        record.enter(c.ReseatGraft(zone="LINE"), at_ms=MORNING_MS + 120 * MINUTE_MS)
        assert care_until_ms(record.state) == MORNING_MS + last * MINUTE_MS
        found = punctuality(record.state)[0]
        assert (found.missed, minutes(found.longest_gap_ms)) == (missed, last - 10)  # due at 25, 40, 55 …
        record.enter(c.GiveCare(care="wet"), at_ms=MORNING_MS + 130 * MINUTE_MS)
        # late: it was due at 25; until 60 that is 25, 40 and 55, until 130 those and 70 … 130
        assert counts(punctuality(record.state)[0]) == ((4, 2, 1, 2, 0) if last == 60 else (9, 2, 1, 7, 0))


def test_what_comes_once_care_has_ended_is_neither_late_nor_moves_anything():
    """The last graft is placed at 60; given at 50, it would be due at 65. Paused at 61, given at 90."""
    day = Day()
    day.at(1, c.RevisePlan(plan=replace(day.state.plan, zones=(small_plan().zones[0],)), reason="one zone"))
    day.at(5, c.CutGrafts(harvest="A", size="1", count=40))
    day.at(60, c.PlaceGrafts(zone="LINE", size="1", count=40))
    day.at(61, c.PausePrompt(care="wet", minutes=5))
    assert counts(punctuality(day.state)[0]) == (4, 0, 0, 4, 4)  # 15, 30, 45, 60
    day.wet(90)
    assert counts(punctuality(day.state)[0]) == (4, 1, 0, 3, 0)
    day.wet(150)
    given = care_given(day.state)
    assert [each.on_time for each in given] == [False, True]
    assert given[1].due_at_ms is None
    found = punctuality(day.state)[0]
    assert (minutes(found.longest_gap_ms), minutes(found.since_last_ms)) == (60, 60)


def test_a_round_before_the_harvest_was_not_due():
    record = opened_case(small_plan(care=(WET,)))
    record.enter(c.GiveCare(care="wet"))
    record.wait(20)
    record.enter(c.StartHarvest(harvest="A", minutes_ago=0))
    record.wait(15)
    record.enter(c.GiveCare(care="wet"))
    first, second = care_given(record.state)
    assert (first.due_at_ms, first.late_ms, first.on_time) == (None, None, True)
    assert (second.late_ms, second.on_time) == (1000, True)


def test_a_rescued_round_counts_at_its_own_time():
    """Given at 15, 30 and 45; that of 30 comes into the record last."""
    day = Day()
    day.wet(15, 45, 30)
    assert [each.on_time for each in care_given(day.state)] == [True, True, True]
    assert [minutes((each.due_at_ms or 0) - MORNING_MS) for each in care_given(day.state)] == [15, 45, 30]


def test_a_cancelled_round_was_not_given():
    """Due at 15: the round entered at 15 is cancelled, so that of 31 was 16 min late and 30 was missed."""
    day = Day()
    day.wet(15)
    day.enter(c.CorrectEntry(entry=day.state.seq, reason="not wetted"))
    day.wet(31)
    summary = day.ends(32)
    assert counts(summary) == (2, 1, 0, 1, 0)
    assert minutes(summary.latest_ms) == 16


def test_a_round_that_a_later_plan_brings_is_due_from_then_on():
    """The plan of minute 60 brings a round every 30 min: due at 90, not at 30."""
    day = Day()
    cold = CareRound(key="cold", label="temperature", kind="temperature", every_minutes=30)
    day.at(60, c.RevisePlan(plan=replace(day.state.plan, care=(WET, cold)), reason="warm room"))
    day.at(90, c.GiveCare(care="cold", temperature_c=4))
    day.at(100, c.CutGrafts(harvest="A", size="1"))
    found = punctuality(day.state)[1]
    assert counts(found) == (1, 1, 1, 0, 0)
    assert minutes(found.longest_gap_ms) == 30


def test_a_round_does_not_run_through_a_night_without_an_entry():
    """Given at 15; work until 60, then nothing for 10 h: due at 30, 45 and 60."""
    day = Day()
    day.wet(15)
    day.at(60, c.CutGrafts(harvest="A", size="1"))
    day.at(660, c.CutGrafts(harvest="A", size="1"))
    assert counts(punctuality(day.state)[0]) == (4, 1, 1, 3, 3)


def test_wetting_the_bench_is_marked_late_as_a_round_is():
    """With the placers since minute 10, limit 120 s, 30 s of grace: wetted at 12.4 on time, at 15 late."""
    day = Day()
    day.at(5, c.CutGrafts(harvest="A", size="1", count=10))
    day.at(10, c.IssueGrafts(size="1", count=10))
    day.at(12.4, c.GiveCare(care=PLACERS_CARE))
    day.at(15, c.GiveCare(care=PLACERS_CARE))  # due at 14.4: 36 s late
    assert [each.on_time for each in care_given(day.state)] == [True, False]
    assert "wet the grafts with the placers: 2 times, **1 late**, the latest by 0 min 36 s." in to_markdown(
        summarise(day.state)
    )


def test_care_that_was_all_on_time_is_said_so():
    day = Day()
    day.wet(15, 30, 44)
    day.ends(50)
    page = to_markdown(summarise(day.state))
    assert "- Care rounds: all 3 were on time." in page
    assert "missed" not in page[: page.index("## Grafts")]
    assert "Time since the last, at 08:20: wet the dishes 0:06." in page


def test_nothing_is_said_of_care_before_there_is_anything_to_care_for():
    page = to_markdown(summarise(opened_case().state))
    assert "care" not in page[page.index("## In short") : page.index("## Grafts")].lower()


def test_grafts_cut_without_care_are_told_of_also_without_a_harvest():
    record = opened_case()
    record.enter(c.CutGrafts(harvest="A", size="1"))
    assert "- **No care round was given**; none fell due." in to_markdown(summarise(record.state))


# What holds for any record.


@given(records())
def test_every_round_due_was_on_time_late_or_missed(record: Record):
    summary = summarise(record.state)
    for each in summary.care:
        late = sum(row.care == each.care and not row.on_time for row in summary.care_given)
        assert each.due == each.on_time + late + each.missed
        assert each.given == sum(row.care == each.care for row in summary.care_given)
        assert min(each.on_time, late, each.missed_at_end, each.missed - each.missed_at_end) >= 0
        assert (each.since_last_ms or 0) <= (each.longest_gap_ms or 0)
    to_html(summary)


@given(st.integers(1, 40), st.lists(st.floats(-5, 2), min_size=0, max_size=30), st.floats(0, 17))
def test_perfect_care_misses_nothing(every: int, delays: list[float], rest: float):
    """Each round is given within its grace of when it is due, or up to 5 min early, to the end."""
    day, at = Day(CareRound(key="wet", label="w", kind="wet", every_minutes=every)), 0.0
    for delay in delays:
        at = max(at, at + every + delay)
        day.wet(at)
    day.at(at + min(rest, every + 2), c.CutGrafts(harvest="A", size="1"))
    found = punctuality(day.state)[0]
    assert counts(found) == (len(delays), len(delays), len(delays), 0, 0)


@given(st.integers(1, 40), st.lists(st.integers(1, 200), max_size=8), st.integers(0, 200))
def test_due_is_as_often_as_a_clock_that_is_answered_late_would_ring(every: int, waits: list[int], rest: int):
    """Minute by minute: it rings when due, and each interval later, until it is given or the day ends."""
    day, at = Day(CareRound(key="wet", label="w", kind="wet", every_minutes=every)), 0
    on_time = late = missed = 0
    for wait, given_then in [*((each, True) for each in waits), (rest, False)]:
        rang = [minute for minute in range(1, wait + 1) if minute % every == 0]
        overdue = bool(rang) and wait - rang[0] > 2
        if given_then:
            on_time, late = on_time + (not overdue), late + overdue
            missed += len(rang) - 1 if overdue else 0
        elif overdue:
            missed += len(rang)
        at += wait
        day.at(at, c.GiveCare(care="wet") if given_then else c.CutGrafts(harvest="A", size="1"))
    found = punctuality(day.state)[0]
    assert (found.on_time, found.given - found.on_time, found.missed) == (on_time, late, missed)
