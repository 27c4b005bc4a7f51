"""Any place in a record, as it was."""

from __future__ import annotations

from pathlib import Path

import pytest
from cases import MINUTE_MS, Record, case_under_way, opened_case, records, wild_entries
from hypothesis import given, settings
from hypothesis import strategies as st

from orroom.case import commands as c
from orroom.case.events import Entry
from orroom.case.evolve import fold
from orroom.case.mismatches import open_mismatches
from orroom.case.replay import KEPT_EVERY, Moment, Replay
from orroom.figures.prompts import prompts
from orroom.record.events_file import read_events
from orroom.reports.sentences import told

SAMPLE = Path(__file__).parent.parent / "sample_cases" / "frontal-midscalp" / "events.jsonl"


@settings(max_examples=60)
@given(wild_entries(60), st.lists(st.integers(-2, 70), max_size=8))
def test_the_state_after_an_entry_is_the_live_state_after_it(entries: list[Entry], places: list[int]):
    if not entries:
        return
    replay = Replay(entries)
    for seq in places:
        assert replay.state_at(seq) == fold(entries[: max(0, seq)])


def test_states_are_the_live_ones_all_over_a_full_day():
    entries = read_events(SAMPLE)
    replay = Replay(entries)
    for seq in (len(entries), 1, KEPT_EVERY, KEPT_EVERY + 1, 1999, 2000, 700, 0):
        assert replay.state_at(seq) == fold(entries[:seq])


def test_a_record_that_goes_on_is_followed():
    entries = read_events(SAMPLE)
    replay = Replay(entries[:150])
    assert replay.state_at(150) == fold(entries[:150])
    replay.go_on(entries[150:400])
    assert replay.state_at(390) == fold(entries[:390])
    assert replay.end_ms == max(entry.stamp.at_ms for entry in entries[:400])


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
    record.wait(40)
    end = record.enter(c.AddNote(text="tea"))
    replay = Replay(list(record.state.log))
    assert replay.next("note", start) == Moment(note.seq, note.stamp.at_ms)
    assert replay.next("zone", start) == Moment(done.seq, done.stamp.at_ms)
    assert replay.next("mismatch", start) == Moment(done.seq, done.stamp.at_ms)
    assert replay.next("plan", start) is None
    assert replay.next("note", Moment(end.seq, end.stamp.at_ms)) is None
    assert open_mismatches(replay.state_at(over.seq)) == ()


def test_the_next_prompt_is_when_one_becomes_due():
    record = opened_case()
    record.enter(c.StartHarvest(lot="A"))
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


def test_entries_are_searched_by_what_they_say():
    record = case_under_way()
    record.enter(c.AddNote(text="dish Two moved"))
    record.enter(c.AddNote(text="tea"))
    replay = Replay(list(record.state.log))

    def said(entry: Entry, state) -> str:
        return told(entry.event, state.plan)

    seq = replay.find("dish two", said, 0)
    assert seq is not None
    assert replay.entries[seq - 1].event.kind == "note_added"
    assert replay.find("dish two", said, seq) == seq  # from the start anew
    assert replay.find("nowhere", said, 0) is None
