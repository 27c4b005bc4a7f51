"""How the figures on the screens are worked out, in numbers that add up."""

from __future__ import annotations

from cases import Record, case_under_way, opened_case, small_plan

from orroom.case import commands as c
from orroom.figures.pace.rest_of_day import foretold
from orroom.words.explanation import Asked
from orroom.words.worked_out import worked_out


def test_left_to_place_is_what_is_planned_less_placed_and_what_is_over_plan():
    """180 planned; of 13 ones in the frontal zone, which wants 10, three pay for no other size."""
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="FRONT", size="1", count=13))
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=25))
    asked = Asked(record.state, record.now_ms, "AB", "A", "FRONT", None)
    left = {each.name: each for each in worked_out("overview", asked)}["LEFT TO PLACE"]
    assert (left.value, left.numbers) == ("145", "180 planned − 38 placed + 3 over plan")


def test_the_oldest_harvest_has_the_time_of_its_harvest_by_the_clock_in_the_room():
    """07:30 UTC is 09:30 where the case is; the harvest began an hour before."""
    record = Record()
    record.enter(c.OpenCase(plan=small_plan(), utc_offset_minutes=120))
    record.enter(c.StartHarvest(harvest="A", minutes_ago=60))
    record.enter(c.CutGrafts(harvest="A", size="1", count=5))
    asked = Asked(record.state, record.now_ms, "AB", "A", "FRONT", None)
    oldest = {each.name: each for each in worked_out("overview", asked)}["OLDEST OUT"]
    assert oldest.numbers == "harvest A, 08:30; 5 waiting"


def test_a_pace_is_told_for_the_team_and_for_each_person():
    """Three and one a minute for an hour: 240 in 1 h of work, 2 person-hours, so 120 an hour each."""
    record = opened_case()
    for _ in range(60):
        record.wait(1)
        for who, count in (("AB", 3), ("CD", 1)):
            record.enter(c.CutGrafts(harvest="A", size="2", count=count), who, at_ms=record.now_ms)
    asked = Asked(record.state, record.now_ms, "AB", "A", "FRONT", foretold(record.state, record.now_ms))
    cutting = {each.name: each for each in worked_out("overview", asked)}["cutting"]
    assert cutting.numbers.startswith(
        "240 in 1.0 h of work, 2.0 person-hours (120 an hour each); 0 left; 2 at work"
    )
