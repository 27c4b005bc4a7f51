"""Which limits were broken, what was done about each, and when it is asked again. Checked by arithmetic.

Limits and what is done about them: the surgeon's own, common practice, no source. The small case wants 2 to
8 °C, and with the placers 2:00 and 0:30 of grace: 150 s. A second goes by with everything asked.
"""

from __future__ import annotations

import pytest
from cases import Record, askings, case_under_way, opened_case, small_plan, told, up_to
from hypothesis import given

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.closing import open_at_sign_off
from orroom.case.evolve import fold
from orroom.case.limits import broken_limits, unanswered_limits
from orroom.case.plan import Limits

MINUTE_MS = 60_000


def read(record: Record, reading: float) -> None:
    record.wait(5)
    record.enter(c.GiveCare(care="cold", temperature_c=reading), "EF")


def open_now(record: Record) -> list[str]:
    return [each.sentence for each in unanswered_limits(record.state, record.now_ms)]


def done(record: Record) -> list[tuple[str, str | None]]:
    return [
        (each.sentence, each.answer and f"{each.answer.done} {each.answer.who}")
        for each in broken_limits(record.state, record.now_ms)
    ]


def limit_of(record: Record) -> str:
    return unanswered_limits(record.state, record.now_ms)[0].key


def test_a_temperature_outside_its_band_stays_open_although_the_next_is_inside():
    record = case_under_way()
    for reading in (5.0, 8.0, 9.4, 4.0):
        read(record, reading)
    assert open_now(record) == ["holding solution 9.4 °C, too warm (limit 2 to 8 °C)"]
    record.enter(c.AnswerLimit(limit=limit_of(record), done=" ice added "), "EF")
    assert open_now(record) == []
    assert done(record) == [("holding solution 9.4 °C, too warm (limit 2 to 8 °C)", "ice added EF")]


def test_readings_that_go_on_outside_are_of_one_break_and_a_later_one_is_asked_again():
    record = case_under_way()
    for reading in (9.4, 11.0):
        read(record, reading)
    record.enter(c.AnswerLimit(limit=limit_of(record), done="ice added"), "EF")
    read(record, 8.6)  # still warm, but falling
    said = "holding solution 8.6 to 11 °C in 3 readings, too warm (limit 2 to 8 °C)"
    assert done(record) == [(said, "ice added EF")]
    read(record, 4.0)
    read(record, 1.5)
    assert open_now(record) == ["holding solution 1.5 °C, too cold (limit 2 to 8 °C)"]
    assert len(done(record)) == 2


def test_what_was_done_can_be_undone_and_is_asked_again():
    record = case_under_way()
    read(record, 9.4)
    answer = record.enter(c.AnswerLimit(limit=limit_of(record), done="ice added"))
    record.enter(c.CorrectEntry(entry=answer.seq, reason="wrong dish"))
    assert len(open_now(record)) == 1


@pytest.mark.parametrize(("seconds", "broken"), [(149, False), (150, True)])
def test_grafts_that_leave_the_placers_past_limit_and_grace_break_it(seconds: int, broken: bool):
    record = case_under_way()
    record.enter(c.IssueGrafts(size="2", count=10))
    record.wait(seconds / 60)
    assert open_now(record) == []  # the prompt says so while they are there
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=10))
    said = ["with the placers 2:31 without wetting, limit 2:00 and 0:30 grace"]
    assert open_now(record) == (said if broken else [])


def test_a_late_wetting_says_itself_what_was_done():
    record = case_under_way()
    record.enter(c.IssueGrafts(size="2", count=10))
    record.wait(5)
    record.enter(c.GiveCare(care="bench"))
    record.wait(1)
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=10))
    assert open_now(record) == []


def test_wetting_one_lane_is_not_wetting_the_other():
    record = case_under_way()
    for lane, by in (("a", "GH"), ("d", "JK")):
        record.enter(c.OpenLane(lane=lane, by=by))
        record.enter(c.IssueGrafts(size="2", count=10, lane=lane))
    record.wait(2)
    record.enter(c.GiveCare(care="bench", lane="a"))
    record.wait(1.5)
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=10, lane="a"))
    assert open_now(record) == []
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=10, lane="d"))
    assert open_now(record) == ["with the placers 3:33 without wetting, limit 2:00 and 0:30 grace"]


def test_the_oldest_leave_first_so_that_nobody_is_blamed_for_what_may_not_have_been():
    record = case_under_way()
    record.enter(c.IssueGrafts(size="2", count=10))
    record.wait(1.5)
    record.enter(c.IssueGrafts(size="2", count=10))
    record.wait(0.5)
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=10))  # 2:02 at least, 0:31 if the newer ones
    record.wait(1.5)
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=10))  # 2:02 at least, 3:33 if the older ones
    assert open_now(record) == []


def test_one_answer_is_about_all_that_broke_the_limit_until_then():
    record = case_under_way()
    for minutes in (4, 6):
        record.enter(c.IssueGrafts(size="2", count=10))
        record.wait(minutes)
        record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=10))
    said = "with the placers 6:01 without wetting, 2 times, limit 2:00 and 0:30 grace"
    assert open_now(record) == [said]
    record.enter(c.AnswerLimit(limit="with-placers", done="smaller batches"))
    assert done(record) == [(said, "smaller batches AB")]


def out_for(minutes: float) -> Record:
    """A case with a limit of 2 h out of the body; its harvest left the body at the opening."""
    record = opened_case(small_plan(limits=Limits(out_of_body_hours=2)))
    record.enter(c.StartHarvest(harvest="A"))
    record.enter(c.CutGrafts(harvest="A", size="2", count=20))
    record.wait(minutes)
    return record


def test_grafts_that_wait_past_the_limit_out_of_the_body_break_it_once():
    assert open_now(out_for(119)) == []
    record = out_for(121)
    assert open_now(record) == ["harvest A: grafts out of the body for more than 2 h"]
    record.enter(c.AnswerLimit(limit="out-of-body:A", done="surgeon informed"), "RS")
    record.wait(60)
    assert done(record) == [("harvest A: grafts out of the body for more than 2 h", "surgeon informed RS")]


def test_grafts_placed_past_the_limit_have_broken_it_also_when_none_waits_any_more():
    record = out_for(121)
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=20))
    record.wait(600)
    assert len(open_now(record)) == 1
    early = out_for(110)
    early.enter(c.PlaceGrafts(zone="FRONT", size="2", count=20))
    early.wait(600)
    assert open_now(early) == []


def test_a_broken_limit_is_open_at_sign_off_and_stops_no_fact():
    record = case_under_way()
    read(record, 9.4)
    sentence = "limit broken, nobody said what was done: holding solution 9.4 °C, too warm (limit 2 to 8 °C)"
    assert sentence in [each.sentence for each in open_at_sign_off(record.state)]
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=5))
    record.enter(c.AnswerLimit(limit=limit_of(record), done="ice added"))
    assert sentence not in [each.sentence for each in open_at_sign_off(record.state)]


@given(up_to(40, askings()))
def test_every_broken_limit_can_be_answered_and_none_comes_of_answering(asked: list):
    record = told(case_under_way(), asked)
    if record.tally.signed_off:
        return
    before = [each.sentence for each in broken_limits(record.state, record.now_ms)]
    for each in unanswered_limits(record.state, record.now_ms):
        answer = record.ask(c.AnswerLimit(limit=each.key, done="seen to"))
        assert isinstance(answer.event, e.LimitAnswered)
    assert unanswered_limits(record.state, record.now_ms) == ()
    assert [each.sentence for each in broken_limits(record.state, record.now_ms)] == before
    assert broken_limits(fold(record.state.log), record.now_ms) == broken_limits(record.state, record.now_ms)
