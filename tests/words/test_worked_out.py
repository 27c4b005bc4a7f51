"""How the figures on the screens are worked out, in numbers that add up."""

from __future__ import annotations

from cases import case_under_way

from orroom.case import commands as c
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
