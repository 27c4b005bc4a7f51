"""What became of the grafts that are left at the end: accounts end at zero, and nothing else moves."""

from __future__ import annotations

from cases import UNCOUNTED, Record, all_fated, case_under_way, records
from hypothesis import given, settings

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.care import in_lane, since_by_lane_ms
from orroom.case.closing import open_at_sign_off
from orroom.case.fates import giving
from orroom.case.final_count import (
    Group,
    groups_to_count,
    open_differences,
    person_counts,
    waiting_by_group,
)
from orroom.case.state import ENDS, SOURCES
from orroom.figures.counts import by_size, by_zone, total
from orroom.figures.quality import quality
from orroom.formats.summary_formats import to_markdown
from orroom.summary.summary import summarise


def counted_by(record: Record, who: str) -> None:
    groups = tuple(
        e.CountedGroup(
            size=group.size,
            harvest=group.harvest,
            place=group.place,
            found=record.held(group.place, group.size, group.harvest),
        )
        for group in groups_to_count(record.state)
    )
    record.enter(c.CountAll(groups=groups, since=record.state.seq), who)


def test_accounts_end_at_zero_and_usable_and_quality_do_not_change():
    record = case_under_way()
    record.enter(c.IssueGrafts(size="2", count=5))
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=3))
    before, shares = total(by_size(record.state)), quality(record.state)
    all_fated(record)
    after = total(by_size(record.state))
    assert (after.dish, after.with_placers) == (0, 0)
    assert after.left_at_end == before.waiting == 92
    assert after.usable == before.usable == 95
    assert after.hairs_usable == before.hairs_usable
    assert quality(record.state) == shares


def test_a_final_count_outlasts_fates_and_shows_no_difference_after_them():
    record = case_under_way()
    for who in ("AB", "CD"):
        counted_by(record, who)
    all_fated(record)
    assert len(person_counts(record.state)) == 2
    assert open_differences(record.state) == ()


def test_what_has_no_fate_is_open_at_the_sign_off_until_it_has_one():
    record = case_under_way()
    [left] = [each for each in open_at_sign_off(record.state) if each.key == "no-fate"]
    assert left.sentence == "95 grafts are left, and what becomes of them is not entered"
    all_fated(record)
    assert "no-fate" not in {each.key for each in open_at_sign_off(record.state)}
    record.enter(c.SignOff(second="CD", **UNCOUNTED))


def test_cancelling_a_fate_puts_the_grafts_back():
    record = case_under_way()
    given_away = record.enter(
        c.GiveFate(size="2", harvest="A", place="dish", count=40, fate="discarded", reason="two days old")
    )
    assert record.held("dish", "2") == 0
    assert [each.grafts for each in summarise(record.state).fates] == [40]
    record.enter(c.CorrectEntry(entry=given_away.seq, reason="wrong size"))
    assert summarise(record.state).fates == ()
    assert (record.held("dish", "2"), record.held("left_at_end")) == (40, 0)
    assert record.tally.fates == {}


def test_the_summary_says_what_became_of_them_and_its_first_line_adds_up():
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=25))
    record.enter(c.GiveFate(size="2", harvest="A", place="dish", count=15, fate="kept"))
    record.enter(
        c.GiveFate(size="1", harvest="A", place="dish", count=30, fate="discarded", reason="two days old")
    )
    summary = summarise(record.state)
    assert [(each.size, each.grafts, each.fate) for each in summary.fates] == [
        ("2", 15, "kept in solution for another day"),
        ("1", 30, "discarded at the end"),
    ]
    page = to_markdown(summary)
    assert "25 placed + 25 left in dishes and with the placers + 45 left at the end = 95 usable" in page
    assert "two days old" in page
    all_fated(record)
    assert "25 placed + 70 left at the end = 95 usable" in to_markdown(summarise(record.state))


@given(records())
@settings(max_examples=150)
def test_what_came_is_what_there_is_with_fates_too(record: Record):
    for size in {key.size for key in record.tally.stock}:
        came = sum(record.held(name, size) for name in SOURCES)
        assert came == sum(record.held(name, size) for name in ENDS)
    extra = sum(count for key, count in record.tally.fates.items() if key[3] == "placed extra")
    assert sum(record.tally.fates.values()) == record.held("left_at_end") + extra
    assert extra == sum(record.tally.extra.values())
    whole = total(by_size(record.state))
    if all(size in record.state.plan.size_by_key for size in {key.size for key in record.tally.stock}):
        assert whole.placed == record.held("placed")
        assert whole.usable - whole.waiting == whole.placed + whole.left_at_end


def extra(count: int, **changes: object) -> c.GiveFate:
    given = {"size": "2", "harvest": "A", "place": "dish", "fate": "placed extra", "into_zone": "MID"}
    return c.GiveFate(count=count, **(given | changes))


def test_grafts_placed_beyond_the_plan_count_in_their_zone_and_in_no_share_of_quality():
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="MID", size="2", count=28), "CD", station="placing-1")
    record.enter(c.ReseatGraft(zone="MID", count=3), "CD", station="placing-1")
    for who in ("AB", "CD"):
        counted_by(record, who)
    shares, before = quality(record.state), total(by_size(record.state))
    record.enter(extra(5, by="CD"), "EF", station="overview-1")
    after = total(by_size(record.state))
    assert quality(record.state) == shares
    assert (after.usable, after.placed, after.left_at_end) == (before.usable, before.placed + 5, 0)
    [mid] = [each for each in by_zone(record.state) if each.zone.key == "MID"]
    assert (mid.placed["2"], mid.extra, mid.over_total, mid.owed["2"]) == (33, 5, 3, 0)
    assert len(person_counts(record.state)) == 2
    assert open_differences(record.state) == ()
    # meant, so not over plan by mistake; what was placed over plan before is
    assert record.mismatches() == {}
    record.enter(c.PlaceGrafts(zone="MID", size="2", count=4), "CD", station="placing-1")
    assert record.mismatches() == {"over:MID:2": 2}
    all_fated(record)
    assert after.waiting - 4 == record.held("left_at_end")
    assert not waiting_by_group(record.tally)


def test_a_graft_beyond_the_plan_in_a_zone_that_does_not_allow_its_size_is_a_mismatch():
    record = case_under_way()
    record.enter(extra(2, into_zone="LINE"))
    assert record.mismatches() == {"misplaced:LINE:2": 2}


def test_who_placed_beyond_the_plan_adds_up_with_the_zone_and_the_summary_names_all_of_it():
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="MID", size="2", count=30), "CD", station="placing-1")
    record.enter(extra(4, by="CD"), "EF", station="overview-1")
    given = record.enter(extra(6), "EF", station="overview-1")
    summary = summarise(record.state)
    [mid] = [each for each in summary.zones if each.zone == "MID"]
    hands = {each.who: each.placed for each in summary.zone_hands if each.zone == "MID"}
    assert hands == {"CD": 34, "EF": 6}
    assert sum(hands.values()) == mid.grafts_placed == 40
    assert {each.who: each.placed.get("2", 0) for each in summary.people} == {"AB": 0, "CD": 34, "EF": 6}
    assert (mid.grafts_over, mid.grafts_extra) == (10, 10)
    assert [(each.into_zone, each.placed_by, each.grafts) for each in summary.fates] == [
        ("MID", "CD", 4),
        ("MID", "EF", 6),
    ]
    assert summary.progress[-1].placed == 40
    assert sum(each.placed_high for each in summary.out_of_body if each.harvest == "A") == 40
    page = to_markdown(summary)
    assert "placed beyond the plan, into mid-scalp, by CD" in page
    assert "left at the end and placed beyond the plan: 10 in mid-scalp." in page
    assert "40 placed + 55 left in dishes and with the placers = 95 usable" in page
    record.enter(c.CorrectEntry(entry=given.seq, reason="wrong zone"))
    assert (record.tally.extra, record.held("dish", "2")) == ({("MID", "2"): 4}, 6)


def test_fates_leave_no_graft_in_a_lane():
    record = case_under_way()
    for lane, by in (("a", "CD"), ("b", "EF")):
        record.enter(c.OpenLane(lane=lane, by=by), "CD", station="placing-1")
        record.enter(c.IssueGrafts(size="2", count=5, lane=lane), "CD", station="placing-1")
    loose = c.GiveFate(size="2", harvest="A", place="bench", count=5, fate="kept")
    assert record.refusal(loose).rule == "refuse_fate_of_more_than_is_left"
    for fate in giving(record.tally, Group("2", "A", "bench"), 7, fate="kept"):
        record.enter(fate)
    assert [in_lane(record.tally, lane) for lane in ("a", "b", None)] == [{}, {("2", "A"): 3}, {}]
    for fate in giving(record.tally, Group("2", "A", "bench"), 3, fate="left over"):
        record.enter(fate)
    assert since_by_lane_ms(record.tally) == {}
    record.enter(c.CloseLane(lane="b"), "CD", station="placing-1")


def test_a_fate_for_more_than_the_lanes_have_goes_on_with_grafts_in_none():
    record = case_under_way()
    record.enter(c.IssueGrafts(size="2", count=4), "CD", station="placing-1")
    record.enter(c.OpenLane(lane="a", by="CD"), "CD", station="placing-1")
    record.enter(c.IssueGrafts(size="2", count=5, lane="a"), "CD", station="placing-1")
    fates = giving(record.tally, Group("2", "A", "bench"), 7, fate="kept")
    assert [(each.lane, each.count) for each in fates] == [("a", 5), (None, 2)]
