"""What becomes of a command, in the words of the trade."""

from __future__ import annotations

import pytest
from cases import MINUTE_MS, UNCOUNTED, Record, case_under_way, opened_case, small_plan
from msgspec.structs import replace

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.care import due_at_ms
from orroom.case.decide import decide, to_event
from orroom.case.drawing import harvest_cut_by, harvest_in_hand, harvests_oldest_first
from orroom.case.events import Drawn
from orroom.case.mismatches import mismatches
from orroom.case.placings import zone_of
from orroom.case.plan import Harvest, Zone
from orroom.case.state import CareClock, Stock
from orroom.figures.holding import times_out_at_placing
from orroom.record.rescue import COMMANDS


def two_lots() -> Record:
    """Harvest B left the body two hours ago and harvest A one hour ago; 10 twos of each in dishes."""
    record = case_under_way()
    record.enter(c.StartHarvest(harvest="B", minutes_ago=120))
    record.enter(c.CutGrafts(harvest="B", size="2", count=10))
    record.enter(c.CountDish(size="2", harvest="A", found=10))
    return record


def case_of(*zones: Zone) -> Record:
    """A case of these zones; 30 ones, twos and multi-unit grafts wait in dishes."""
    record = opened_case(small_plan(zones=zones))
    record.enter(c.StartHarvest(harvest="A", minutes_ago=60))
    for size in "12M":
        record.enter(c.CutGrafts(harvest="A", size=size, count=30))
    return record


def drawn(entry: e.Entry) -> dict[tuple[str, str], int]:
    """What an entry drew on: grafts by harvest and place."""
    parts: tuple[Drawn, ...] = entry.event.drawn
    return {(part.harvest, part.place): part.count for part in parts}


# Where grafts are taken from.


def test_placing_draws_on_the_bench_before_the_dishes():
    record = case_under_way()
    record.enter(c.IssueGrafts(size="2", count=15))
    entry = record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=25))
    assert drawn(entry) == {("A", "bench"): 15, ("A", "dish"): 10}
    assert (record.held("bench"), record.held("dish", "2"), record.held("placed", "2")) == (0, 15, 25)
    assert record.tally.placed == {("FRONT", "2"): 25}
    assert record.open_mismatches() == {}


def test_placing_draws_on_the_oldest_harvest_first_whatever_its_letter():
    record = two_lots()
    assert harvests_oldest_first(record.tally) == ("B", "A")
    entry = record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=14))
    assert drawn(entry) == {("B", "dish"): 10, ("A", "dish"): 4}


def test_the_bench_comes_before_an_older_harvest_in_a_dish():
    record = two_lots()
    record.enter(c.IssueGrafts(size="2", count=3, harvest="A"))
    entry = record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=5))
    assert drawn(entry) == {("A", "bench"): 3, ("B", "dish"): 2}


def test_a_named_harvest_is_the_only_one_drawn_on():
    record = two_lots()
    assert drawn(record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=4, harvest="A"))) == {
        ("A", "dish"): 4
    }
    entry = record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=8, harvest="A"))
    assert drawn(entry) == {("A", "dish"): 8}
    assert record.mismatches()["short:dish:2:A"] == 2
    assert record.held("dish", "2", "B") == 10


def test_what_is_issued_and_returned_stays_of_its_harvest():
    record = two_lots()
    assert drawn(record.enter(c.IssueGrafts(size="2", count=12))) == {("B", "dish"): 10, ("A", "dish"): 2}
    assert drawn(record.enter(c.ReturnGrafts(size="2", count=11))) == {("B", "bench"): 10, ("A", "bench"): 1}
    assert (record.held("bench", "2", "A"), record.held("dish", "2", "B")) == (1, 10)


def test_the_harvest_in_hand_is_the_latest_harvested():
    record = case_under_way()
    assert harvest_in_hand(record.tally) == "A"
    record.enter(c.StartHarvest(harvest="B"))
    assert harvest_in_hand(record.tally) == "B"


def test_somebody_goes_on_with_the_harvest_they_cut_unless_a_harvest_came_since():
    record = case_under_way()
    assert harvest_cut_by(record.state, "AB") == "A"
    record.enter(c.StartHarvest(harvest="B"))
    assert harvest_cut_by(record.state, "AB") == "B"
    record.enter(c.CutGrafts(harvest="A", size="2"), who="AB")
    record.enter(c.CutGrafts(harvest="B", size="2"), who="CD")
    assert [harvest_cut_by(record.state, who) for who in ("AB", "CD", "EF")] == ["A", "B", "B"]


# What the tally did not expect is recorded and shown.


def test_placing_more_than_the_tally_holds_is_recorded_and_shown():
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="MID", size="M", count=8))
    assert record.tally.placed["MID", "M"] == 8
    assert record.held("dish", "M") == -3
    assert record.open_mismatches() == {"short:dish:M:A": 3}
    (shown,) = mismatches(record.state)
    assert shown.sentence == "harvest A: 3 multi-unit grafts too many taken from the dishes"


def test_returning_more_than_was_issued_shows_on_the_bench():
    record = case_under_way()
    record.enter(c.IssueGrafts(size="1", count=5))
    record.enter(c.ReturnGrafts(size="1", count=7))
    assert record.open_mismatches() == {"short:bench:1:A": 2}


def test_grafts_never_counted_are_taken_from_the_latest_harvest_that_had_their_size():
    record = two_lots()
    entry = record.enter(c.PlaceGrafts(zone="FRONT", size="3", count=25))
    assert drawn(entry) == {("A", "dish"): 25}
    entry = record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=25))
    assert drawn(entry) == {("B", "dish"): 10, ("A", "dish"): 15}


def test_cutting_afterwards_what_was_placed_already_settles_the_mismatch():
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="MID", size="M", count=8))
    record.enter(c.CutGrafts(harvest="A", size="M", count=3))
    assert record.mismatches() == {}


def test_placing_over_plan_is_recorded_and_shown():
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="FRONT", size="1", count=12))
    assert record.open_mismatches() == {"over:FRONT:1": 2}


def test_a_size_that_a_zone_does_not_allow_is_misplaced_and_comes_first():
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="LINE", size="2", count=1))
    assert record.open_mismatches() == {"misplaced:LINE:2": 1}
    record.enter(c.PlaceGrafts(zone="LINE", size="2", count=40))
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=41))
    assert [each.sentence for each in mismatches(record.state)] == [
        "hairline: 41 twos in a zone for ones",
        "harvest A: 11 ones too many taken from the dishes",
        "harvest A: 1 two too many taken from the dishes",
        "hairline: 1 one placed over plan",
    ]


def test_grafts_in_a_zone_that_is_not_treated_are_misplaced():
    bare = Zone(key="BARE", label="forehead", area_cm2=5, not_treated=True)
    record = case_of(*small_plan().zones, bare)
    record.enter(c.PlaceGrafts(zone="BARE", size="1", count=1))
    record.enter(c.PlaceGrafts(zone="BARE", size="2", count=3))
    assert [each.sentence for each in mismatches(record.state)] == [
        "forehead: 1 one in a zone that is not treated",
        "forehead: 3 twos in a zone that is not treated",
    ]


def test_a_zone_for_several_sizes_names_them_all_and_one_without_allowed_takes_any():
    line, front, mid = small_plan().zones
    record = case_of(line, replace(front, allowed=("1", "2", "3")), mid)
    record.enter(c.PlaceGrafts(zone="FRONT", size="M", count=2))
    record.enter(c.PlaceGrafts(zone="MID", size="1", count=1))
    assert [each.sentence for each in mismatches(record.state)] == [
        "frontal: 2 multi-unit grafts in a zone for ones, twos and threes",
        "mid-scalp: 1 one placed over plan",
    ]


def test_an_explanation_from_before_misplaced_grafts_had_words_of_their_own_still_counts():
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="LINE", size="2", count=5))
    record.take(e.MismatchExplained(mismatch="over:LINE:2", amount=5, text="wanted so"))
    assert record.open_mismatches() == {}
    record.enter(c.PlaceGrafts(zone="LINE", size="2", count=1))
    assert record.open_mismatches() == {"misplaced:LINE:2": 6}


def test_an_explained_mismatch_rests_until_it_grows():
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="FRONT", size="1", count=12))
    record.enter(c.ExplainMismatch(mismatch="over:FRONT:1", text=" surgeon asked "), "EF")
    assert record.open_mismatches() == {}
    (explained,) = mismatches(record.state)
    assert explained.explanation == "surgeon asked (EF)"
    record.enter(c.PlaceGrafts(zone="FRONT", size="1", count=1))
    assert record.open_mismatches() == {"over:FRONT:1": 3}


def test_an_explanation_taken_back_shows_the_mismatch_again():
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="FRONT", size="1", count=12))
    record.enter(c.ExplainMismatch(mismatch="over:FRONT:1", text="surgeon asked"), "EF")
    record.enter(c.TakeBack(role="overview"), "EF")
    assert record.open_mismatches() == {"over:FRONT:1": 2}


def test_more_placed_than_sites_is_shown_where_sites_are_entered():
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="MID", size="2", count=9))
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=9))
    record.enter(c.MakeSites(zone="FRONT", count=6))
    assert record.open_mismatches() == {"sites:FRONT": 3}
    record.enter(c.MakeSites(zone="FRONT", count=3))
    assert record.mismatches() == {}


def test_cutting_before_the_harvest_is_entered_is_recorded_and_shown(record: Record):
    record.enter(c.CutGrafts(harvest="B", size="1", count=4))
    assert record.open_mismatches() == {"harvest:B": 4}
    record.enter(c.StartHarvest(harvest="B", minutes_ago=10))
    assert record.mismatches() == {}


# Hand counts.


def test_a_hand_count_explains_a_dish_below_zero():
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="MID", size="M", count=8))
    entry = record.enter(c.CountDish(size="M", harvest="A", found=0))
    assert entry.event == e.DishCounted(size="M", harvest="A", place="dish", tallied=-3, found=0)
    assert (record.held("dish", "M"), record.held("missing", "M")) == (0, -3)
    (shown,) = mismatches(record.state)
    assert (shown.key, shown.amount) == ("counted:M:A", -3)
    assert shown.sentence == "harvest A: 3 more multi-unit grafts found in a hand count"
    assert record.open_mismatches() == {}


def test_a_hand_count_that_finds_fewer_leaves_some_missing():
    record = case_under_way()
    record.enter(c.CountDish(size="2", harvest="A", found=37))
    assert (record.held("dish", "2"), record.held("missing", "2")) == (37, 3)
    record.enter(c.ExplainMismatch(mismatch="counted:2:A", text="three were counted twice"))
    assert record.open_mismatches() == {}
    record.enter(c.CountDish(size="2", harvest="A", found=36))
    assert record.open_mismatches() == {"counted:2:A": 4}


def test_a_hand_count_that_agrees_changes_nothing():
    record = case_under_way()
    before = record.tally
    record.enter(c.CountDish(size="2", harvest="A", found=40))
    assert replace(record.tally, hand_counts={}) == before
    assert record.tally.hand_counts == {("2", "A", "dish"): 1}


def test_the_bench_is_counted_by_itself():
    record = case_under_way()
    record.enter(c.IssueGrafts(size="2", count=10))
    record.enter(c.CountDish(size="2", harvest="A", found=9, place="bench"))
    assert (record.held("bench", "2"), record.held("dish", "2"), record.held("missing", "2")) == (9, 30, 1)


# Dividing and discarding.


def test_a_three_divided_into_a_one_and_a_two_loses_no_hair():
    record = case_under_way()
    entry = record.enter(c.DivideGrafts(size="3", into=("1", "2"), count=4))
    assert entry.event.hairs_lost == 0
    assert {size: record.held("dish", size) for size in "123"} == {"1": 34, "2": 44, "3": 16}
    assert (record.held("divided_out"), record.held("divided_in")) == (4, 8)
    assert record.held("cut") == 95


def test_a_three_divided_into_a_one_loses_two_hairs():
    record = case_under_way()
    entry = record.enter(c.DivideGrafts(size="3", into=("1",), count=5))
    assert entry.event.hairs_lost == 10
    assert (record.held("dish", "3"), record.held("dish", "1")) == (15, 35)


def test_a_two_divided_into_two_ones_gives_both():
    record = case_under_way()
    record.enter(c.DivideGrafts(size="2", into=("1", "1")))
    assert (record.held("dish", "2"), record.held("dish", "1"), record.held("divided_in", "1")) == (39, 32, 2)


def test_the_hairs_a_multi_unit_loses_are_not_known():
    entry = case_under_way().enter(c.DivideGrafts(size="M", into=("2",)))
    assert entry.event.hairs_lost == 0


def test_divided_grafts_stay_of_their_harvest():
    record = two_lots()
    record.enter(c.DivideGrafts(size="2", into=("1", "1"), count=12))
    assert (record.held("dish", "1", "B"), record.held("divided_out", "2", "A")) == (20, 2)


def test_a_discard_while_cutting_counts_as_cut_and_discarded():
    record = case_under_way()
    entry = record.enter(c.DiscardGrafts(size="2", reason="transected", count=3, harvest="A"))
    assert entry.event.drawn == ()
    assert (record.held("cut", "2"), record.held("discarded", "2"), record.held("dish", "2")) == (43, 3, 40)
    assert record.tally.done["AB", "discarded cutting", "2"] == 3


def test_a_later_discard_comes_from_bench_then_dish():
    record = case_under_way()
    record.enter(c.IssueGrafts(size="2", count=2))
    entry = record.enter(c.DiscardGrafts(size="2", reason="dropped", count=3))
    assert drawn(entry) == {("A", "bench"): 2, ("A", "dish"): 1}
    assert (record.held("cut", "2"), record.held("discarded", "2"), record.held("dish", "2")) == (40, 3, 37)


def test_a_reseated_graft_is_not_placed_twice():
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=10))
    record.enter(c.ReseatGraft(zone="LINE", count=2))
    assert (record.held("placed"), record.tally.reseated["LINE"]) == (10, 2)


# Taking back and correcting.


def test_each_person_takes_back_their_own_last_tap(record: Record):
    first = record.enter(c.CutGrafts(harvest="A", size="1"), "AB")
    theirs = record.enter(c.CutGrafts(harvest="A", size="2"), "CD", station="cutting-2")
    assert record.enter(c.TakeBack(role="cutting"), "AB").event.entry == first.seq
    assert record.refusal(c.TakeBack(role="cutting"), "AB").rule == "refuse_nothing_to_take_back"
    assert record.refusal(c.TakeBack(role="cutting"), "CD").rule == "refuse_nothing_to_take_back"
    assert record.enter(c.TakeBack(role="cutting"), "CD", station="cutting-2").event.entry == theirs.seq
    assert record.held("cut") == 0


def test_a_role_takes_back_only_its_own_kind_of_tap():
    record = case_under_way()
    cut = record.enter(c.CutGrafts(harvest="A", size="1"))
    placed = record.enter(c.PlaceGrafts(zone="LINE", size="1", count=5))
    assert record.refusal(c.TakeBack(role="overview"), "CD").rule == "refuse_nothing_to_take_back"
    assert record.enter(c.TakeBack(role="cutting")).event.entry == cut.seq
    assert record.enter(c.TakeBack(role="placing")).event.entry == placed.seq


def test_an_undo_that_comes_late_leaves_what_was_tapped_after_it(record: Record):
    """Tapped between two grafts, and added to the record after both."""
    first = record.enter(c.CutGrafts(harvest="A", size="1"))
    undo = record.stamp()
    record.taps[undo.station] += 1
    record.enter(c.CutGrafts(harvest="A", size="2"))
    corrected = decide(record.state, c.TakeBack(role="cutting"), undo)
    assert isinstance(corrected, e.EntryCorrected)
    assert corrected.entry == first.seq


def test_taking_back_again_goes_one_tap_further(record: Record):
    entries = [record.enter(c.CutGrafts(harvest="A", size=size)) for size in "123"]
    taken = [record.enter(c.TakeBack(role="cutting")).event.entry for _ in entries]
    assert taken == [entry.seq for entry in reversed(entries)]


def test_care_is_taken_back_at_any_role():
    record = case_under_way()
    given = record.enter(c.GiveCare(care="wet"))
    assert record.enter(c.TakeBack(role="placing")).event.entry == given.seq
    assert record.tally.care == {}


def test_a_correction_gives_its_reason_and_who_made_it():
    record = case_under_way()
    before = record.tally
    placed = record.enter(c.PlaceGrafts(zone="LINE", size="1", count=5), "CD")
    entry = record.enter(c.CorrectEntry(entry=placed.seq, reason=" was FRONT "), "EF")
    assert entry.event == e.EntryCorrected(entry=placed.seq, reason="was FRONT")
    assert record.state.corrected_by == {placed.seq: entry.seq}
    assert not record.state.stands(placed)
    assert record.tally == before


def test_a_correction_of_no_entry_or_made_twice_changes_nothing():
    record = case_under_way()
    record.take(e.EntryCorrected(entry=3, reason="a slip"))
    once = record.tally
    for entry in (3, 0, 99, 11):  # the last one names itself
        record.take(e.EntryCorrected(entry=entry, reason="a slip"))
        assert record.tally == once
    assert record.state.seq == 11
    assert record.state.corrected_by == {3: 7}


# Harvest and segments.


def test_a_harvest_entered_late_starts_when_it_did(record: Record):
    entry = record.enter(c.StartHarvest(harvest="A", minutes_ago=12.5))
    assert entry.event.started_at_ms == entry.stamp.at_ms - 750_000
    assert record.tally.harvests["A"].started_at_ms == entry.event.started_at_ms
    ended = record.enter(c.EndHarvest(harvest="A"))
    assert record.tally.harvests["A"].ended_at_ms == ended.stamp.at_ms


def test_segments_of_each_harvest_are_numbered_as_they_are_finished(record: Record):
    numbers = [record.enter(c.FinishSegment(harvest=harvest)).event.segment for harvest in "AABA"]
    assert numbers == [1, 2, 1, 3]


@pytest.mark.parametrize("wrong", [1, 2, 3])
def test_a_corrected_segment_is_finished_again_under_its_own_number(record: Record, wrong: int):
    finished = [record.enter(c.FinishSegment(harvest="B")) for _ in range(3)]
    record.enter(c.CorrectEntry(entry=finished[wrong - 1].seq, reason="not finished yet"))
    assert record.enter(c.FinishSegment(harvest="B")).event.segment == wrong
    assert sorted(record.tally.harvests["B"].segments) == [1, 2, 3]


def test_a_harvest_whose_segments_the_plan_leaves_open_has_as_many_as_it_takes(record: Record):
    record.enter(
        c.RevisePlan(plan=small_plan(harvests=(Harvest(key="A", label="strip"),)), reason="uncounted")
    )
    numbers = [record.enter(c.FinishSegment(harvest="A")).event.segment for _ in range(12)]
    assert numbers == list(range(1, 13))


# Care.


def test_nothing_needs_care_before_the_first_harvest(record: Record):
    assert due_at_ms(record.tally, "wet") is None
    assert record.enter(c.GiveCare(care="wet")).event.due_at_ms is None


def test_care_is_due_an_interval_after_the_first_harvest_and_then_after_each_round(record: Record):
    started = record.enter(c.StartHarvest(harvest="A")).event.started_at_ms
    assert due_at_ms(record.tally, "wet") == started + 15 * MINUTE_MS
    record.wait(18)
    given = record.enter(c.GiveCare(care="wet"), "CD")
    assert given.event.due_at_ms == started + 15 * MINUTE_MS
    assert due_at_ms(record.tally, "wet") == given.stamp.at_ms + 15 * MINUTE_MS
    assert due_at_ms(record.tally, "renew") == started + 60 * MINUTE_MS
    assert due_at_ms(record.tally, "shake") is None


def test_a_temperature_round_keeps_its_reading_and_who_took_it():
    record = case_under_way()
    entry = record.enter(c.GiveCare(care="cold", temperature_c=4.5), "CD")
    assert record.tally.care["cold"] == CareClock(entry.stamp.at_ms, 4.5)


def test_a_paused_prompt_comes_back_by_itself(record: Record):
    record.enter(c.StartHarvest(harvest="A"))
    record.wait(14)
    paused = record.enter(c.PausePrompt(care="wet", minutes=10))
    assert paused.event.until_ms == paused.stamp.at_ms + 10 * MINUTE_MS
    assert due_at_ms(record.tally, "wet") == paused.event.until_ms


def test_a_pause_shorter_than_the_time_left_changes_nothing(record: Record):
    started = record.enter(c.StartHarvest(harvest="A")).event.started_at_ms
    record.enter(c.PausePrompt(care="wet", minutes=5))
    assert due_at_ms(record.tally, "wet") == started + 15 * MINUTE_MS


def test_a_pause_keeps_when_care_was_last_given_and_its_reading(record: Record):
    record.enter(c.StartHarvest(harvest="A"))
    record.wait(40)
    given = record.enter(c.GiveCare(care="cold", temperature_c=4.5))
    paused = record.enter(c.PausePrompt(care="cold", minutes=5))
    assert due_at_ms(record.tally, "cold") == given.stamp.at_ms + 30 * MINUTE_MS
    assert record.tally.care["cold"] == CareClock(given.stamp.at_ms, 4.5, paused.event.until_ms)


def test_giving_care_ends_a_pause(record: Record):
    record.enter(c.StartHarvest(harvest="A"))
    record.enter(c.PausePrompt(care="wet", minutes=200))
    given = record.enter(c.GiveCare(care="wet"))
    assert due_at_ms(record.tally, "wet") == given.stamp.at_ms + 15 * MINUTE_MS


def test_an_answer_taken_back_makes_the_round_due_as_before(record: Record):
    record.enter(c.StartHarvest(harvest="A"))
    before = due_at_ms(record.tally, "wet")
    record.enter(c.GiveCare(care="wet"))
    record.enter(c.TakeBack(role="overview"))
    assert due_at_ms(record.tally, "wet") == before


# People, stations, and the end.


def test_breaks_and_hand_overs_are_the_persons_own(record: Record):
    started = record.enter(c.StartBreak(), "AB")
    record.enter(c.StartBreak(), "CD")
    record.enter(c.EndBreak(), "CD")
    assert record.tally.on_break == {"AB": started.stamp.at_ms}
    entry = record.enter(c.HandOver(left="CD"), "AB")
    assert entry.event == e.HandedOver(left="CD")
    assert record.tally.on_break == {}


def test_stations_come_and_go(record: Record):
    record.enter(c.JoinStation(role="placing"), station="placing-1")
    record.enter(c.JoinStation(role="cutting"), station="cutting-1")
    record.enter(c.LeaveStation(), station="placing-1")
    assert record.tally.stations == {"cutting-1": "cutting"}


def test_a_spot_check_keeps_what_was_seen():
    command = c.CheckSpot(subject="placing", zone="LINE", looked_at=20, faulty=2, fault="too deep")
    entry = case_under_way().enter(command)
    assert entry.event == e.SpotChecked(
        subject="placing", zone="LINE", looked_at=20, faulty=2, fault="too deep"
    )


def test_sign_off_closes_and_reopening_opens():
    record = case_under_way()
    record.enter(c.SignOff(second="CD", **UNCOUNTED), "EF")
    assert record.tally.signed_off
    assert record.refusal(c.CutGrafts(harvest="A", size="1")).rule == "refuse_after_sign_off"
    record.enter(c.ReopenCase(reason="a dish was left"), "EF")
    record.enter(c.CutGrafts(harvest="A", size="1"))
    assert record.tally.stock[Stock("1", "A", "dish")] == 31


def test_a_revised_plan_is_the_one_in_force():
    record = case_under_way()
    plan = small_plan(title="more in front")
    record.enter(c.RevisePlan(plan=plan, reason="surgeon moved the line"))
    assert record.state.plan is plan


def test_an_unknown_command_is_a_fault_of_the_program(record: Record):
    with pytest.raises(TypeError, match="no such command"):
        record.ask(c.Command())


@pytest.mark.parametrize("command", COMMANDS.values(), ids=COMMANDS)
def test_every_command_becomes_an_event_of_its_own_fields_or_is_worked_out(command: type[c.Command]):
    says = set(command.__struct_fields__)
    if issubclass(command, c.TakeGrafts):
        says = says - {"harvest"} | {"drawn", "by"}
        assert command.becomes.does.takes_from
    elif command in to_event.registry:
        assert not hasattr(command, "becomes")
        return
    assert says == set(command.becomes.__struct_fields__)


@pytest.mark.parametrize(
    ("command", "said"),
    [
        (c.RevisePlan(plan=small_plan(), reason=" a line "), "reason"),
        (c.AddNote(text=" a line "), "text"),
        (c.CorrectEntry(entry=2, reason=" a line "), "reason"),
        (c.CheckSpot(subject="cutting", looked_at=5, faulty=1, fault=" a line "), "fault"),
    ],
)
def test_a_text_is_kept_clean(command: c.Command, said: str):
    assert getattr(case_under_way().enter(command).event, said) == "a line"


def test_the_faults_of_a_check_are_kept_clean():
    faults = (e.FaultFound(fault=" bare ", count=2),)
    check = c.CheckSpot(subject="cutting", looked_at=5, faulty=2, whose="CD", faults=faults)
    event = case_under_way().enter(check).event
    assert (event.whose, event.faults) == ("CD", (e.FaultFound(fault="bare", count=2),))


def test_a_placing_is_moved_to_another_zone_and_nothing_else_changes():
    record = case_under_way()
    placing = record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=12), "CD", station="placing-1")
    before, out = record.tally, times_out_at_placing(record.state)
    record.wait(90)
    record.enter(c.MovePlacing(entry=placing.seq, zone="MID"), "EF", station="overview-1")
    assert record.tally.placed == {("MID", "2"): 12}
    assert (record.tally.stock, record.tally.done) == (before.stock, before.done)
    assert times_out_at_placing(record.state) == out
    record.enter(c.MovePlacing(entry=placing.seq, zone="LINE"), "EF", station="overview-1")
    assert record.tally.placed == {("LINE", "2"): 12}
    assert zone_of(record.state, placing) == "LINE"


def test_taking_a_move_back_puts_the_grafts_where_they_were_then_the_placing_itself_goes():
    record = case_under_way()
    empty = record.tally
    placing = record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=12), station="placing-1")
    record.enter(c.MovePlacing(entry=placing.seq, zone="MID"), station="placing-1")
    record.enter(c.TakeBack(role="placing"), station="placing-1")
    assert record.tally.placed == {("FRONT", "2"): 12}
    record.enter(c.TakeBack(role="placing"), station="placing-1")
    assert record.tally == empty


def test_a_move_to_a_full_zone_is_over_plan_there_and_owed_where_it_came_from():
    record = case_under_way()
    number = record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=12), station="placing-1").seq
    record.enter(c.MovePlacing(entry=number, zone="LINE"), station="placing-1")
    assert record.mismatches() == {"misplaced:LINE:2": 12}


def test_a_hand_count_settles_what_was_taken_before_it_was_counted_in():
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="FRONT", size="3", count=21))
    assert list(record.open_mismatches()) == ["short:dish:3:A", "over:FRONT:3"]
    record.enter(c.CountDish(size="3", harvest="A", found=0))
    assert list(record.open_mismatches()) == ["over:FRONT:3"]
    (explained,) = [each for each in mismatches(record.state) if each.explanation]
    assert explained.sentence == "harvest A: 1 more three found in a hand count"
    assert "taken before they were entered" in str(explained.explanation)
    record.enter(c.TakeBack(role="cutting"))
    assert list(record.open_mismatches()) == ["short:dish:3:A", "over:FRONT:3"]


def test_what_a_hand_count_finds_beyond_that_is_still_to_be_explained():
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="MID", size="3", count=21))
    record.enter(c.CountDish(size="3", harvest="A", found=2))
    assert record.open_mismatches() == {"over:MID:3": 1, "counted:3:A": -3}


def test_the_cut_that_was_forgotten_comes_late_and_a_second_count_closes_the_account():
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="MID", size="3", count=21))
    record.enter(c.CountDish(size="3", harvest="A", found=0))
    record.enter(c.CutGrafts(harvest="A", size="3", count=1))
    record.enter(c.CountDish(size="3", harvest="A", found=0))
    assert record.mismatches() == {"over:MID:3": 1}


def test_more_reseated_than_placed_is_a_mismatch():
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=2))
    record.enter(c.ReseatGraft(zone="FRONT", count=2))
    assert record.open_mismatches() == {}
    record.enter(c.ReseatGraft(zone="FRONT"))
    assert record.open_mismatches() == {"reseated:FRONT": 1}
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=1))
    assert record.open_mismatches() == {}
