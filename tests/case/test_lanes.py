"""Lanes: whose hands grafts are in, for how long, and whose work it was."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from cases import MINUTE_MS, Record, case_under_way, records
from hypothesis import given, settings
from hypothesis import strategies as st

from orroom.case import commands as c
from orroom.case.care import in_lane, since_by_lane_ms, with_placers_since_ms
from orroom.case.evolve import fold
from orroom.case.terms import PLACERS_CARE
from orroom.figures.counts import done_by
from orroom.figures.drying import drying
from orroom.figures.lanes import held_in, lanes_now
from orroom.figures.prompts import prompts
from orroom.summary.summary import summarise


@pytest.fixture
def two() -> Record:
    """A case under way with two placers at work: GH in lane a, JK in lane d."""
    record = case_under_way()
    record.enter(c.OpenLane(lane="a", by="GH"))
    record.enter(c.OpenLane(lane="d", by="JK"))
    return record


def labels(record: Record) -> list[tuple[str | None, int]]:
    """The lane of each prompt for grafts with placers, and in how many seconds it is due."""
    found = [each for each in prompts(record.state, record.now_ms) if each.care == PLACERS_CARE]
    return [(each.lane, -each.late_ms // 1000) for each in found]


def test_a_prompt_names_the_lane_what_is_in_it_and_whose_it_is(two: Record):
    two.enter(c.IssueGrafts(size="2", count=20, lane="d"))
    assert next(each.label for each in prompts(two.state, two.now_ms)) == "wet lane d's 20 twos (JK)"
    two.enter(c.IssueGrafts(size="1", count=5, lane="d"))
    assert next(each.label for each in prompts(two.state, two.now_ms)) == "wet lane d's 25 grafts (JK)"


def test_a_lane_never_shows_fewer_than_no_grafts(two: Record):
    issued = two.enter(c.IssueGrafts(size="2", count=5, lane="a"))
    two.enter(c.IssueGrafts(size="1", count=2, lane="a"))
    two.enter(c.PlaceGrafts(zone="FRONT", size="2", count=5, lane="a"))
    two.enter(c.CorrectEntry(entry=issued.seq, reason="from another dish"))
    assert in_lane(two.tally, "a") == {("2", "A"): -5, ("1", "A"): 2}
    assert held_in(two.state, "a") == {"1": 2}
    assert [each.grafts for each in lanes_now(two.state)] == [2, 0]


def test_two_placers_with_the_same_size_in_hand_are_each_prompted_in_time(two: Record):
    """GH gets 20 twos, JK 20 a minute and 40 s later and places them at once: GH's are the older ones."""
    began = two.now_ms
    two.enter(c.IssueGrafts(size="2", count=20, lane="a"))
    two.wait(100 / 60)
    two.enter(c.IssueGrafts(size="2", count=20, lane="d"))
    two.wait(6 / 60)
    two.enter(c.PlaceGrafts(zone="FRONT", size="2", count=20, lane="d"))
    [(lane, seconds)] = labels(two)
    assert lane == "a"
    limit_ms = two.state.plan.limits.with_placers_seconds * 1000
    assert limit_ms <= 180_000
    assert two.now_ms + seconds * 1000 == pytest.approx(began + limit_ms, abs=1000)


def test_one_lead_who_enters_for_two_placers_without_lanes_is_prompted_in_time():
    """Twelve go out, twelve more 76 s later, twelve are placed: the older twelve may be those still out."""
    record = case_under_way()
    began = record.now_ms
    record.enter(c.IssueGrafts(size="2", count=12))
    record.wait(76 / 60)
    record.enter(c.IssueGrafts(size="2", count=12))
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=12))
    assert with_placers_since_ms(record.tally) == pytest.approx(began, abs=3000)


def test_wetting_one_lane_resets_that_lane_alone_and_wetting_all_resets_all(two: Record):
    two.enter(c.IssueGrafts(size="2", count=5, lane="a"))
    two.wait(1)
    two.enter(c.IssueGrafts(size="1", count=5, lane="d"))
    two.wait(1)
    before = since_by_lane_ms(two.tally)
    two.enter(c.GiveCare(care=PLACERS_CARE, lane="a"))
    after = since_by_lane_ms(two.tally)
    assert after["a"] > before["a"]
    assert after["d"] == before["d"]
    two.wait(1)
    two.enter(c.GiveCare(care=PLACERS_CARE))
    assert all(two.now_ms - since < MINUTE_MS / 2 for since in since_by_lane_ms(two.tally).values())


def test_a_placing_takes_from_its_own_lane_then_from_the_dish_and_never_from_another_hand(two: Record):
    two.enter(c.IssueGrafts(size="2", count=10, lane="a"))
    two.enter(c.IssueGrafts(size="2", count=10, lane="d"))
    two.enter(c.PlaceGrafts(zone="FRONT", size="2", count=12, lane="a"))
    assert in_lane(two.tally, "a") == {}
    assert in_lane(two.tally, "d") == {("2", "A"): 10}
    assert two.held("dish", "2") == 40 - 20 - 2
    two.enter(c.PlaceGrafts(zone="FRONT", size="2", count=3))  # nobody's lane: out of the dish
    assert in_lane(two.tally, "d") == {("2", "A"): 10}
    assert two.held("dish", "2") == 15


def test_what_a_lane_places_and_puts_back_is_its_placers_work_whoever_enters_it(two: Record):
    two.enter(c.PlaceGrafts(zone="FRONT", size="2", count=10, lane="a"), "EF")
    two.enter(c.PlaceGrafts(zone="FRONT", size="2", count=4, lane="d"), "EF")
    two.enter(c.ReseatGraft(zone="FRONT", count=2, lane="d"), "EF")
    two.enter(c.MakeSites(zone="FRONT", count=30, by="RS"), "EF")
    assert [done_by(two.tally, who, "placed") for who in ("GH", "JK", "EF")] == [{"2": 10}, {"2": 4}, {}]
    summary = summarise(two.state)
    placed = {each.who: sum(each.placed.values()) for each in summary.people}
    assert (placed["GH"], placed["JK"], placed["EF"]) == (10, 4, 0)
    assert sum(placed.values()) == summary.in_all.placed
    made = {(each.work, each.who): each.done for each in summary.pace_by_person}
    assert made["making sites", "RS"] == 30
    assert made["placing", "GH"] == 10
    reseated = {each.who: (each.count, each.of) for each in summary.quality_by_person if each.count}
    assert reseated == {"JK": (2, 4)}


def test_a_lane_handed_over_keeps_its_grafts_and_their_clock(two: Record):
    two.enter(c.IssueGrafts(size="2", count=6, lane="a"))
    two.wait(1)
    two.enter(c.GiveCare(care=PLACERS_CARE, lane="a"))
    since = since_by_lane_ms(two.tally)["a"]
    two.wait(1)
    two.enter(c.HandOverLane(lane="a", by="MN"))
    assert two.tally.lanes["a"].by == "MN"
    assert since_by_lane_ms(two.tally)["a"] == since
    two.enter(c.PlaceGrafts(zone="FRONT", size="2", count=6, lane="a"))
    assert done_by(two.tally, "MN", "placed") == {"2": 6}
    assert done_by(two.tally, "GH", "placed") == {}


def test_an_opening_that_is_cancelled_takes_the_lane_away_and_its_grafts_are_with_nobody_in_particular():
    record = case_under_way()
    opened = record.enter(c.OpenLane(lane="a", by="GH"))
    record.enter(c.IssueGrafts(size="2", count=6, lane="a"))
    record.enter(c.CorrectEntry(entry=opened.seq, reason="wrong letter"))
    assert record.tally.lanes == {}
    assert since_by_lane_ms(record.tally).keys() == {"a"}  # still out, and still prompted for
    assert next(each.label for each in prompts(record.state, record.now_ms)) == "wet lane a's 6 twos"


@given(records())
@settings(max_examples=150)
def test_what_is_with_the_placers_is_in_some_lane_or_in_none(record: Record):
    tally = fold(record.state.log).tally
    lanes = {move.lane for move in tally.placers_moves}
    for size in {key.size for key in tally.stock}:
        held = sum(n for lane in lanes for (each, _), n in in_lane(tally, lane).items() if each == size)
        assert held == tally.held("bench", size)


WHAT = ("to", "placed", "back", "wet", "handed over", "closed")
MOVES = st.lists(st.tuples(st.sampled_from("ad"), st.sampled_from(WHAT), st.integers(1, 3)), max_size=9)


def drawings(batches: list[int], count: int) -> Iterator[list[int]]:
    """Every way to take ``count`` grafts out of batches, each given by when its grafts came."""
    if count == 0 or not batches:
        yield batches
        return
    for place in range(len(batches)):
        yield from drawings(batches[:place] + batches[place + 1 :], count - 1)


@given(MOVES)
@settings(max_examples=60, deadline=None)
def test_the_clock_of_a_lane_is_the_oldest_graft_of_any_drawing(moves: list[tuple[str, str, int]]):
    record = case_under_way()
    for lane, who in (("a", "GH"), ("d", "JK")):
        record.enter(c.OpenLane(lane=lane, by=who))
    may_be: dict[str, list[list[int]]] = {"a": [[]], "d": [[]]}  # for each drawing when each graft came
    for lane, what, count in moves:
        record.wait(1)
        if what == "wet":
            at = record.enter(c.GiveCare(care=PLACERS_CARE, lane=lane)).stamp.at_ms
            may_be[lane] = [[at] * len(each) for each in may_be[lane]]
        elif what == "to" and len(may_be[lane][0]) + count <= 6:
            at = record.enter(c.IssueGrafts(size="2", count=count, lane=lane)).stamp.at_ms
            may_be[lane] = [each + [at] * count for each in may_be[lane]]
        elif what == "handed over":  # whoever has it, the grafts in it and their time are the same
            record.enter(c.HandOverLane(lane=lane, by=f"{lane.upper()}{record.state.seq}"))
        elif what == "closed" and not may_be[lane][0]:
            record.enter(c.CloseLane(lane=lane))
            record.enter(c.OpenLane(lane=lane, by=f"{lane.upper()}{record.state.seq}"))
        elif what in {"placed", "back"} and count <= len(may_be[lane][0]):
            if what == "placed":
                record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=count, lane=lane))
            else:
                record.enter(c.ReturnGrafts(size="2", count=count, lane=lane))
            ways = {tuple(sorted(left)) for each in may_be[lane] for left in drawings(each, count)}
            may_be[lane] = [list(each) for each in ways]
    oldest = {lane: min(min(each) for each in ways if each) for lane, ways in may_be.items() if any(ways)}
    assert since_by_lane_ms(record.tally) == oldest


def test_drying_is_worked_out_lane_by_lane(two: Record):
    """GH's ten lie for 4 min, JK's ten, handed out after 2 min, for 1 min: no longest time but these two."""
    two.enter(c.IssueGrafts(size="2", count=10, lane="a"))
    two.wait(2)
    two.enter(c.IssueGrafts(size="2", count=10, lane="d"))
    two.wait(1)
    two.enter(c.PlaceGrafts(zone="FRONT", size="2", count=10, lane="d"))
    two.wait(1)
    two.enter(c.PlaceGrafts(zone="FRONT", size="2", count=10, lane="a"))
    found = drying(two.state, two.now_ms)
    assert found is not None
    assert found.longest_ms.low == found.longest_ms.high
    assert found.over_limit.low == found.over_limit.high == 10
