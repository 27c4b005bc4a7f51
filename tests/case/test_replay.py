"""Any place in a record, as it was, and what can be jumped to."""

from __future__ import annotations

import random
import time
from pathlib import Path

import pytest
from cases import (
    MINUTE_MS,
    MORNING_MS,
    Record,
    case_under_way,
    opened_case,
    records,
    small_plan,
    wild_entries,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.events import Entry, Stamp
from orroom.case.evolve import evolve, fold
from orroom.case.landmarks import LANDMARKS, Moment
from orroom.case.mismatches import open_mismatches
from orroom.case.plan import Zone
from orroom.case.replay import KEPT_EVERY, Replay
from orroom.case.state import CaseState
from orroom.figures.prompts import prompts
from orroom.record.events_file import read_events
from orroom.screens.replay.times import time_meant
from orroom.words.entries import entry_words

SAMPLE = Path(__file__).parents[2] / "sample_cases" / "frontal-midscalp" / "events.jsonl"


def said(entry: Entry, state: CaseState) -> str:
    """What an entry says, as on the screen."""
    return entry_words(entry.event, state.plan)


@settings(max_examples=40)
@given(wild_entries(60), st.lists(st.integers(-2, 70), max_size=8))
def test_the_state_after_an_entry_is_the_live_state_after_it(entries: list[Entry], places: list[int]):
    if not entries:
        return
    replay = Replay(entries)
    live = [CaseState()]
    for entry in entries:
        live.append(evolve(live[-1], entry))
    for seq in places:
        assert replay.state_at(seq) == live[max(0, min(seq, len(entries)))]


def test_states_are_the_live_ones_all_over_a_full_day():
    entries = read_events(SAMPLE)
    replay = Replay(entries)
    for seq in (len(entries), 1, KEPT_EVERY, KEPT_EVERY + 1, 1999, 2000, 2003, 700, 0):
        assert replay.state_at(seq) == fold(entries[:seq])


@given(wild_entries(40), st.integers(1, 39))
def test_a_record_that_goes_on_is_as_one_read_at_once(entries: list[Entry], cut: int):
    if len(entries) <= cut:
        return
    replay, whole = Replay(entries[:cut]), Replay(entries)
    replay.state_at(cut // 2)
    replay.go_on(entries[cut:])
    assert replay.landmarks == whole.landmarks
    assert (replay.newest, replay.end_ms) == (whole.newest, whole.end_ms)
    assert replay.state_at(cut) == fold(entries[:cut])


def long_record(length: int) -> list[Entry]:
    """A day of so many entries; now and then a correction has all before it folded anew."""
    record = opened_case()
    record.enter(c.StartHarvest(harvest="A"))
    entries = list(record.state.log)
    for seq in range(len(entries) + 1, length + 1):
        event: e.AnyEvent = e.GraftsCut(harvest="A", size="123M"[seq % 4], count=1)
        if seq % 50 == 0:
            event = e.CareGiven(care="wet", due_at_ms=None)
        elif seq in {length // 3 // 50 * 50 + 40, length // 2 + 77, length - 150}:
            event = e.EntryCorrected(entry=(seq - 1) // 50 * 50, reason="wrong round")
        entries.append(Entry(seq, Stamp(record.now_ms + seq * 1500, "cutting-1", seq, "AB"), event))
    return entries


def test_any_place_of_ten_thousand_entries_is_reached_at_once():
    entries = long_record(10_000)
    replay, chosen, took = Replay(entries), random.Random(1), []
    for _ in range(1000):
        seq = chosen.randrange(len(entries) + 1)
        begun = time.thread_time()
        replay.state_at(seq)
        took.append(time.thread_time() - begun)
    assert sorted(took)[989] < 0.010
    begun = time.thread_time()
    assert fold(entries[:9000]) == replay.state_at(9000)
    assert time.thread_time() - begun > 2 * sorted(took)[989]  # folded from the start it would not be


def test_a_correction_that_folds_the_record_anew_is_not_folded_again_when_sought():
    record = case_under_way()
    care = record.enter(c.GiveCare(care="wet"))
    for _ in range(30):
        record.enter(c.CutGrafts(harvest="A", size="1"))
    correction = record.enter(c.CorrectEntry(entry=care.seq, reason="wrong round"))
    record.enter(c.CutGrafts(harvest="A", size="1"))
    replay = Replay(list(record.state.log))
    assert replay.state_at(correction.seq) is replay.state_at(correction.seq)
    assert replay.state_at(correction.seq + 1) == record.state


@given(records())
def test_time_runs_forward_and_finds_the_entries_made_by_then(record: Record):
    replay = Replay(list(record.state.log))
    times = [replay.time_of(seq) for seq in range(1, len(replay.entries) + 1)]
    assert times == sorted(times)
    for seq, at_ms in enumerate(times, 1):
        assert replay.seq_at(at_ms) >= seq
        assert replay.seq_at(replay.start_ms - 1) == 0


def test_nothing_is_no_record():
    with pytest.raises(ValueError, match="without entries"):
        Replay([])


def test_jumps_find_what_they_are_named_for():
    record = case_under_way()
    start = Moment(record.state.seq, record.now_ms)
    record.wait(5)
    note = record.enter(c.AddNote(text="lamp changed"))
    record.wait(5)
    over = record.enter(c.PlaceGrafts(zone="LINE", size="1", count=30))
    done = record.enter(c.PlaceGrafts(zone="LINE", size="1", count=10))
    revised = record.enter(c.RevisePlan(plan=small_plan(title="another"), reason="less swelling"), "EF")
    record.wait(40)
    end = record.enter(c.AddNote(text="tea"))
    replay = Replay(list(record.state.log))
    assert replay.next("note", start) == Moment(note.seq, note.stamp.at_ms)
    assert replay.next("zone", start) == Moment(done.seq, done.stamp.at_ms)
    assert replay.next("mismatch", start) == Moment(done.seq, done.stamp.at_ms)
    assert replay.next("plan", start) == Moment(revised.seq, revised.stamp.at_ms)
    assert replay.next("note", Moment(end.seq, end.stamp.at_ms)) is None
    assert open_mismatches(replay.state_at(over.seq)) == ()


@settings(max_examples=40)
@given(records(40))
def test_jumping_back_is_jumping_on_the_other_way_round(record: Record):
    replay = Replay(list(record.state.log))
    for what in LANDMARKS:
        place, there = Moment(0, replay.start_ms - 1), []
        while (found := replay.next(what, place)) is not None:
            there.append(found)
            place = found
        back = []
        place = Moment(len(replay.entries), replay.end_ms + 1)
        while (found := replay.before(what, place)) is not None:
            back.append(found)
            place = found
        assert back == there[::-1]
        assert len(set(there)) == len(there)


@settings(max_examples=40)
@given(records(40))
def test_a_mismatch_is_where_one_opens_that_was_not_open_before(record: Record):
    replay = Replay(list(record.state.log))
    opened = []
    for seq in range(1, len(replay.entries) + 1):
        keys = [
            {each.key for each in open_mismatches(state)} if state.tally.plan is not None else set()
            for state in (replay.state_at(seq - 1), replay.state_at(seq))
        ]
        if keys[1] - keys[0]:
            opened.append(seq)
    assert [each.seq for each in replay.landmarks["mismatch"]] == opened


def test_the_next_prompt_is_when_one_becomes_due():
    record = opened_case()
    record.enter(c.StartHarvest(harvest="A"))
    harvest = record.now_ms
    record.wait(20)
    record.enter(c.GiveCare(care="wet"))
    given_ms = record.now_ms
    record.wait(60)
    record.enter(c.AddNote(text="late"))
    replay = Replay(list(record.state.log))
    place: Moment | None = Moment(0, replay.start_ms)
    found = []
    while (place := replay.next("prompt", place)) is not None:
        found.append(place.at_ms - harvest)
        late = [each for each in prompts(replay.state_at(place.seq), place.at_ms) if each.late_ms == 0]
        assert late, "a prompt is due at that very moment"
    wet, cold, renew = 15 * MINUTE_MS, 30 * MINUTE_MS, 60 * MINUTE_MS
    assert found == sorted({wet, cold, given_ms - harvest + wet, renew})


@settings(max_examples=40)
@given(records(40))
def test_every_prompt_found_is_due_just_then(record: Record):
    replay = Replay(list(record.state.log))
    for place in replay.landmarks["prompt"]:
        assert 0 in [each.late_ms for each in prompts(replay.state_at(place.seq), place.at_ms)]


def with_target(ones: int):
    """A plan of one zone of so many ones."""
    zone = Zone(key="LINE", label="hairline", area_cm2=4, targets={"1": ones})
    return small_plan(zones=(zone,))


def test_a_zone_is_finished_by_a_plan_that_asks_for_no_more_than_it_has():
    record = opened_case(with_target(5))
    record.enter(c.CutGrafts(harvest="A", size="1", count=5))
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=3), "CD", station="placing-1")
    less = record.enter(c.RevisePlan(plan=with_target(3), reason="fewer"), "EF", station="overview-1")
    record.enter(c.RevisePlan(plan=with_target(4), reason="more"), "EF", station="overview-1")
    last = record.enter(c.PlaceGrafts(zone="LINE", size="1", count=1), "CD", station="placing-1")
    replay = Replay(list(record.state.log))
    assert [each.seq for each in replay.landmarks["zone"]] == [less.seq, last.seq]
    assert [each.seq for each in replay.landmarks["plan"]] == [less.seq, less.seq + 1]


def test_a_zone_that_a_cancelled_placing_leaves_short_is_finished_again_by_the_next():
    record = opened_case(with_target(3))
    record.enter(c.CutGrafts(harvest="A", size="1", count=5))
    first = record.enter(c.PlaceGrafts(zone="LINE", size="1", count=3), "CD", station="placing-1")
    record.enter(c.CorrectEntry(entry=first.seq, reason="wrong zone"), "EF", station="overview-1")
    second = record.enter(c.PlaceGrafts(zone="LINE", size="1", count=3), "CD", station="placing-1")
    replay = Replay(list(record.state.log))
    assert [each.seq for each in replay.landmarks["zone"]] == [first.seq, second.seq]


def test_time_in_which_nothing_happens_ends_with_an_entry_or_a_prompt():
    record = opened_case()
    record.enter(c.StartHarvest(harvest="A"))
    harvest = record.now_ms
    record.wait(20)
    note = record.enter(c.AddNote(text="tea"))
    replay = Replay(list(record.state.log))
    assert replay.next_event_ms(Moment(2, harvest)) == harvest + 15 * MINUTE_MS
    assert replay.next_event_ms(Moment(2, harvest + 15 * MINUTE_MS)) == note.stamp.at_ms
    assert replay.next_event_ms(Moment(note.seq, note.stamp.at_ms)) is None


def test_entries_are_searched_by_what_they_say():
    record = case_under_way()
    note = record.enter(c.AddNote(text="dish Two moved by the table"))
    tea = record.enter(c.AddNote(text="tea"), "EF")
    replay = Replay(list(record.state.log))
    assert replay.hits("dish two", said) == [note.seq]
    assert replay.hits("nowhere", said) == []
    assert replay.hits("  ", said) == []
    assert replay.hits("ef tea", said) == [tea.seq]  # initials, and a word
    assert note.seq not in replay.hits("EF", said)
    assert set(replay.hits("AB", said)) == {
        e.seq for e in replay.entries if e.stamp.who == "AB"
    }  # no "table"
    assert note.seq in replay.hits(str(note.seq), said)  # by its number, whole
    cut = [e.seq for e in replay.entries if e.event.kind == "grafts_cut" and e.event.size == "2"]
    assert set(cut) <= set(replay.hits("twos", said))


@pytest.mark.parametrize(
    ("text", "minutes"), [("07:35", 5), ("7:35:30", 5.5), ("5", 5), ("+12", 12), ("07:30", 0), ("0", 0)]
)
def test_a_time_is_one_of_the_clock_or_minutes_since_the_start(text: str, minutes: float):
    record = opened_case()
    record.wait(30)
    record.enter(c.AddNote(text="tea"))
    replay = Replay(list(record.state.log))
    meant = time_meant(text, replay)
    start = replay.start_ms if minutes in {0, 12} or text == "5" else replay.start_ms - 1000
    assert meant == start + minutes * MINUTE_MS


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("noon", "is not a time (10:42)"),
        ("24:00", "is not a time of day"),
        ("10:61", "is not a time of day"),
        ("08:30", "not in this record"),
        ("07:29", "not in this record"),
        ("600", "not in this record"),
        ("٣", "is not a time (10:42)"),
    ],
)
def test_what_is_no_time_of_the_record_says_so(text: str, sentence: str):
    record = opened_case()
    record.wait(30)
    record.enter(c.AddNote(text="tea"))
    meant = time_meant(text, Replay(list(record.state.log)))
    assert isinstance(meant, str)
    assert sentence in meant


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        ("day 1 08:00", 30),
        ("1 08:00", 30),
        ("day 2 06:35", 23 * 60 + 5),
        ("2 06:35:30", 23 * 60 + 5.5),
        ("06:35", 23 * 60 + 5),
        ("1 07:30", 0),
        ("08:00", 30),
        ("2 08:00", 24 * 60 + 30),
    ],
)
def test_a_time_may_be_typed_with_its_day(text: str, minutes: float):
    record = opened_case()
    record.enter(c.StartHarvest(harvest="A"))
    record.wait(26 * 60)
    record.enter(c.AddNote(text="tea"))
    replay = Replay(list(record.state.log))
    opened_ms = replay.start_ms if minutes == 0 else MORNING_MS
    assert time_meant(text, replay) == opened_ms + minutes * MINUTE_MS
    assert time_meant("day 3 06:35", replay) == "day 3 06:35 is not in this record"
    assert time_meant("1 06:35", replay) == "1 06:35 is not in this record"
