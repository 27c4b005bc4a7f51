"""What ``orroom status`` tells: how a case stands, and every change once, in words."""

from __future__ import annotations

import os
import re
import signal
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from cases import MINUTE_MS, UNCOUNTED, Record, SetClock, case_under_way, opened_case, records
from click.testing import CliRunner, Result
from hypothesis import given, settings
from larger_cases import big_plan
from msgspec import structs
from msgspec.structs import replace
from stations import entered, new_case, station

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.final_count import groups_to_count
from orroom.case.plan import CareRound, Limits
from orroom.cli import main
from orroom.figures.prompts import prompts
from orroom.record.case_file import CaseFile
from orroom.recording import record_all
from orroom.words.status import Said, changes, finish_expected, present, status_at, text


class Telling:
    """Somebody who listens to a record: what is told of it since they last heard."""

    def __init__(self, record: Record) -> None:
        self.record = record
        self.last = status_at(record.state, record.now_ms)

    def told(self) -> list[str]:
        before, self.last = self.last, status_at(self.record.state, self.record.now_ms)
        return [each.words for each in changes(before, self.last)]

    def after(self, minutes: float) -> list[str]:
        self.record.wait(minutes)
        return self.told()


@pytest.fixture
def telling(under_way: Record) -> Telling:
    for care in ("wet", "renew", "cold"):  # harvest A has been out for an hour: all of it is overdue
        under_way.enter(c.GiveCare(care=care, temperature_c=4.0 if care == "cold" else None))
    return Telling(under_way)


# What is told, without a terminal.


def test_lanes_are_reported_when_anything_about_them_changes(telling: Telling):
    record = telling.record
    record.enter(c.OpenLane(lane="a", by="GH"))
    assert telling.told() == ["lane a, GH: empty"]
    assert telling.told() == []
    record.enter(c.IssueGrafts(size="2", count=5, lane="a"))
    assert telling.told() == ["lane a, GH: 5 twos since 07:30:11"]
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=5, lane="a"))
    assert telling.told()[1:] == ["lane a, GH: empty, frontal, twos"]
    record.enter(c.HandOverLane(lane="a", by="JK"))
    assert telling.told() == ["lane a, JK: empty, frontal, twos"]
    record.enter(c.CloseLane(lane="a"))
    assert telling.told() == ["lane a closed"]


def test_the_present_in_a_few_lines(telling: Telling):
    telling.record.enter(c.PlaceGrafts(zone="LINE", size="1", count=41))
    now = status_at(telling.record.state, telling.record.now_ms)
    assert [each.words for each in present(now)] == [
        "usable 95 of 180, placed 41 of 180, 1 over plan, left 140, "
        "waiting 54 (in both sums is a count below zero), oldest out 1 h 00",
        "harvest A: 0 of 4 segments done",
        "zones finished: 1 of 3",
        "wet the dishes: next due at 07:45",
        "renew solution: next due at 08:30",
        "temperature: next due at 08:00",
        "mismatch: harvest A: 11 ones too many taken from the dishes",
        "mismatch: hairline: 1 one placed over plan",
    ]


def test_nothing_is_said_to_be_out_while_grafts_wait_without_a_harvest():
    listener = Telling(opened_case())
    listener.record.enter(c.CutGrafts(harvest="A", size="1"))
    assert listener.told() == [
        "usable 1 of 180, placed 0 of 180, left 180, waiting 1, time out not known: no start entered",
        "harvest A: 0 of 4 segments done",
        "mismatch: harvest A: 1 cut, but its start not entered; time out of the body unknown",
    ]
    listener.record.enter(c.StartHarvest(harvest="B"))
    assert listener.told()[:2] == [
        "usable 1 of 180, placed 0 of 180, left 180, waiting 1, oldest out 0 min, harvest A not known: no "
        "start entered",
        "harvest B: 0 of 3 segments done",
    ]


def test_tissue_still_to_be_cut_is_out_for_an_unknown_time_without_a_harvest():
    """All that was cut of harvest A is placed; the tissue of three segments is still out."""
    listener = Telling(opened_case())
    listener.record.enter(c.CutGrafts(harvest="A", size="1"))
    listener.record.enter(c.FinishSegment(harvest="A"))
    listener.record.enter(c.PlaceGrafts(zone="LINE", size="1", count=1))
    assert listener.told()[:2] == [
        "usable 1 of 180, placed 1 of 180, left 179, waiting 0, time out not known: no start entered",
        "harvest A: 1 of 4 segments done",
    ]


def test_a_segment_that_is_done_is_said(telling: Telling):
    telling.record.enter(c.FinishSegment(harvest="A"))
    assert telling.told() == ["harvest A: 1 of 4 segments done"]


def test_nothing_new_is_nothing_told(telling: Telling):
    assert telling.told() == []
    assert telling.after(1) == []  # the oldest is a minute older: no change


def test_every_tap_is_one_line(telling: Telling):
    telling.record.enter(c.CutGrafts(harvest="A", size="2", count=3))
    assert telling.told() == ["usable 98 of 180, placed 0 of 180, left 180, waiting 98, oldest out 1 h 00"]
    telling.record.enter(c.AddNote(text="no count changes"))
    assert telling.told() == []


def test_a_prompt_is_told_once_at_each_step(telling: Telling):
    record = telling.record
    assert telling.after(14) == []
    assert telling.after(1) == ["wet the dishes: due since 07:45"]
    assert telling.after(0.5) == []
    assert telling.after(1) == ["wet the dishes: due since 07:45, 1 min late"]
    assert telling.after(8) == []
    record.enter(c.GiveCare(care="wet"))
    assert telling.told() == ["wet the dishes: next due at 08:09"]


def test_a_prompt_that_is_due_anew_is_told_anew(telling: Telling):
    record = telling.record
    assert len(telling.after(16)) == 1
    record.enter(c.GiveCare(care="wet"))
    record.wait(15)  # nobody listened in between
    assert [each for each in telling.told() if "wet" in each] == ["wet the dishes: due since 08:01"]


def test_a_pause_is_told_with_its_end(telling: Telling):
    telling.after(16)
    telling.record.enter(c.PausePrompt(care="wet", minutes=10))
    assert telling.told() == ["wet the dishes: paused until 07:56"]


def test_an_empty_bench_is_due_no_more(telling: Telling):
    record = telling.record
    record.enter(c.IssueGrafts(size="1", count=5))
    assert telling.told() == []  # neither cut nor placed: the counts here are the same
    assert telling.after(2.1) == ["wet the grafts with the placers: due since 07:32"]
    record.enter(c.ReturnGrafts(size="1", count=5))
    assert telling.told() == ["done: wet the grafts with the placers"]


def test_mismatches_come_grow_and_go(telling: Telling):
    record = telling.record
    first = record.enter(c.PlaceGrafts(zone="MID", size="M", count=7))
    assert "mismatch: harvest A: 2 multi-unit grafts too many taken from the dishes" in telling.told()
    record.enter(c.PlaceGrafts(zone="MID", size="M", count=1))
    assert "mismatch: harvest A: 3 multi-unit grafts too many taken from the dishes" in telling.told()
    record.enter(c.CorrectEntry(entry=first.seq, reason="not placed"))
    assert "no longer open: harvest A: 3 multi-unit grafts too many taken from the dishes" in telling.told()


def test_zones_are_told_when_they_are_finished_and_when_they_are_owed_again(telling: Telling):
    record = telling.record
    last = record.enter(c.PlaceGrafts(zone="LINE", size="1", count=40))
    assert "zone finished: hairline" in telling.told()
    record.enter(c.CorrectEntry(entry=last.seq, reason="other side"))
    assert "zone incomplete again: hairline" in telling.told()


def test_a_zone_that_is_new_in_the_plan_is_not_called_finished_or_incomplete_again(telling: Telling):
    record = telling.record
    plan = record.state.plan
    crown = replace(plan.zones[0], key="CROWN", label="crown", neighbours=())
    empty = replace(crown, key="REST", label="rest", targets={})
    record.enter(c.RevisePlan(plan=replace(plan, zones=(*plan.zones, crown, empty)), reason="more skin"))
    assert [words for words in telling.told() if words.startswith("zone ")] == []


def test_while_a_final_count_is_made_no_count_is_told(telling: Telling):
    record = telling.record
    record.enter(c.PlaceGrafts(zone="MID", size="M", count=7))
    telling.told()
    record.enter(c.BeginCount(), "AB", station="overview-1")
    assert telling.told() == ["final count under way: counts are hidden. AB counts since 07:30"]
    record.enter(c.PlaceGrafts(zone="MID", size="M", count=1))
    assert telling.told() == []
    now = status_at(record.state, record.now_ms)
    words = " ".join(each.words for each in present(now))
    assert not re.search(r"cut \d|placed|waiting|more taken|out \d", words)
    groups = tuple(
        e.CountedGroup(size=each.size, harvest=each.harvest, place=each.place, found=0)
        for each in groups_to_count(record.state)
    )
    record.enter(c.CountAll(groups=groups, since=record.state.seq), "AB", station="overview-1")
    assert telling.told() == [
        "final count under way: counts are hidden. "
        "First count by AB done: second person, please: at the overview"
    ]
    record.enter(c.BeginCount(), "CD", station="overview-1")
    assert telling.told() == ["final count under way: counts are hidden. CD counts since 07:30"]
    record.enter(c.CountAll(groups=groups, since=record.state.seq), "CD", station="overview-1")
    found = telling.told()
    assert found[0].startswith("usable 95 of 180, placed 8")
    assert "mismatch: harvest A: 3 multi-unit grafts too many taken from the dishes" in found


def test_the_sign_off_names_both(telling: Telling):
    telling.record.enter(c.SignOff(second="CD", **UNCOUNTED))
    assert telling.told() == ["signed off by AB and CD"]
    assert present(telling.last)[-1].words == "signed off by AB and CD"
    telling.record.enter(c.ReopenCase(reason="one more dish"))
    assert telling.told() == ["reopened"]


def test_the_oldest_harvest_that_waits_is_told_when_it_is_another():
    record = opened_case()
    telling = Telling(record)
    record.enter(c.StartHarvest(harvest="A"))
    assert "usable 0 of 180, placed 0 of 180, left 180, waiting 0, oldest out 0 min" in telling.told()


def test_a_line_has_its_time_and_its_mark_only_where_it_is_wanted(telling: Telling):
    now = replace(telling.last, at_ms=telling.last.at_ms - telling.last.at_ms % MINUTE_MS + 7000)
    found = Said("≠", "mismatch: something")
    assert text(found, now, plain=False) == "07:30:07 ≠ mismatch: something"
    assert text(found, now, plain=True) == "07:30:07 mismatch: something"
    assert text(Said("", "reopened"), now, plain=False) == "07:30:07 reopened"


@settings(max_examples=60)
@given(records(), records(6))
def test_no_record_breaks_it_and_all_lines_are_words(record: Record, other: Record):
    before, after = status_at(record.state, record.now_ms), status_at(other.state, other.now_ms)
    assert changes(after, after) == ()
    for found in (*present(after), *changes(before, after)):
        assert found.words
        assert "\n" not in found.words


def test_what_is_due_is_late_after_a_minute_whatever_its_grace():
    wet = CareRound(key="wet", label="wet", kind="wet", every_minutes=15, grace_minutes=3)
    none = CareRound(key="renew", label="renew", kind="renew", every_minutes=15, grace_minutes=0)
    record = case_under_way()
    plan = structs.replace(record.state.plan, care=(wet, none), limits=Limits(with_placers_seconds=60))
    record.enter(c.RevisePlan(plan=plan, reason="graces"))
    start = record.tally.harvests["A"].started_at_ms
    assert start is not None

    def step(care: str, late_seconds: float) -> str:
        now_ms = start + 15 * MINUTE_MS + round(late_seconds * 1000)
        return next(each.step for each in prompts(record.state, now_ms) if each.care == care)

    steps = ["waiting", "due", "due", "late", "late"]
    for care in ("wet", "renew"):
        assert [step(care, late) for late in (-1, 0, 59, 60, 361)] == steps


# The command.


@pytest.fixture
def case(tmp_path: Path) -> Path:
    path = new_case(tmp_path / "case.orroom")
    with station(path) as desk:
        entered(desk, c.StartHarvest(harvest="A", minutes_ago=30))
        entered(desk, c.CutGrafts(harvest="A", size="2", count=30))
    return path


def status(*arguments: object) -> Result:
    return CliRunner().invoke(main, ["status", *map(str, arguments)])


def entries_in(path: Path) -> int:
    with CaseFile.open(path, read_only=True) as case_file:
        return case_file.seal().seq


@contextmanager
def following(path: Path) -> Iterator[subprocess.Popen[str]]:
    """``orroom status --plain --follow`` in a process of its own."""
    arguments = [sys.executable, "-m", "orroom", "status", str(path), "--plain", "--follow"]
    # Who starts the tests in the background has Control-C ignored, and what they start with it.
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        process = subprocess.Popen(arguments, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    finally:
        signal.signal(signal.SIGINT, before)
    try:
        yield process
    finally:
        process.kill()
        process.communicate()


def until(process: subprocess.Popen[str], words: str) -> str:
    """The first line told that holds these words."""
    assert process.stdout is not None
    given_up = threading.Timer(30, process.kill)
    given_up.start()
    try:
        for line in process.stdout:
            if words in line:
                return line
    finally:
        given_up.cancel()
    raise AssertionError(f"ended without {words!r}")


def test_it_tells_the_present_and_enters_nothing(case: Path):
    before = entries_in(case)
    result = status(case, "--plain")
    assert result.exit_code == 0
    assert "usable 30 of 180, placed 0 of 180, left 180, waiting 30, oldest out" in result.stdout
    assert not set("≠◷◉‖●○") & set(result.stdout)
    assert "\x1b" not in result.stdout
    # The last entry was long ago: how late its prompts would be means nothing.
    assert "‖ old record (2026-01-05): prompts are off" in status(case).stdout
    assert re.search(r"waiting 30, oldest out \d+ min at the last entry\n", result.stdout)
    assert entries_in(case) == before


def test_the_finish_is_expected_between_two_times_and_until_a_later_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    record = opened_case(big_plan())
    record.enter(c.CutGrafts(harvest="A", size="2", count=2400))
    for _ in range(20):
        record.wait(4)
        record.enter(c.PlaceGrafts(zone="MID", size="2", count=40), "CD", at_ms=record.now_ms)
    with CaseFile.create(tmp_path / "case.orroom") as case_file:
        record_all(case_file, list(record.state.log), "case")
    monkeypatch.setattr("orroom.cli.status.case_clock", lambda _: SetClock(record.now_ms))
    found = re.search(
        r"finish expected (\S+): (\S+) to (\S+) at this pace, to (\S+) if it slows\n",
        status(tmp_path / "case.orroom").stdout,
    )
    assert found is not None
    middle, low, high, later = found.groups()
    assert low < middle < high < later
    record.enter(c.BeginCount(), "AB", station="overview-1")
    assert finish_expected(record.state, record.now_ms) == ()


def test_it_follows_beside_a_station_until_the_sign_off(case: Path):
    with following(case) as process, station(case) as desk:
        until(process, "usable 30 of 180")
        entered(desk, c.CutGrafts(harvest="A", size="2", count=1))
        assert "usable 31 of 180, placed 0" in until(process, "usable 31")
        entered(desk, c.PlaceGrafts(zone="LINE", size="1", count=40))
        assert "zone finished: hairline" in until(process, "zone finished")
        assert "40 ones too many taken from the dishes" in until(process, "mismatch")
        entered(desk, c.SignOff(second="CD", **UNCOUNTED))
        assert "signed off by AB and CD" in until(process, "signed off")
        assert process.wait(10) == 0


def test_control_c_ends_it_in_order(case: Path):
    with following(case) as process:
        until(process, "usable 30 of 180")
        os.kill(process.pid, signal.SIGINT)
        assert process.wait(10) == 0
        assert process.stderr is not None
        assert process.stderr.read() == ""


def test_what_is_no_case_is_one_sentence(tmp_path: Path):
    result = status(tmp_path / "nothing.orroom", "--plain", "--follow")
    assert result.exit_code != 0
    assert "does not exist" in result.stderr
    assert "Traceback" not in result.stderr


def test_a_case_that_goes_while_it_is_followed_is_one_sentence(case: Path):
    with following(case) as process:
        until(process, "usable 30 of 180")
        case.rename(case.with_name("elsewhere"))
        assert process.wait(10) != 0
        assert process.stderr is not None
        found = process.stderr.read()
        assert "is gone, or another file is in its place" in found
        assert "Traceback" not in found


def test_a_disk_that_goes_while_it_follows_is_one_sentence(case: Path, monkeypatch: pytest.MonkeyPatch):
    looks, as_ever = iter([1]), CaseFile.data_version

    def gone(case_file: CaseFile) -> int:
        if case_file.path != case:  # another test's file, not closed yet, must not use up the look
            return as_ever(case_file)
        for version in looks:
            return version
        raise sqlite3.OperationalError("disk I/O error")

    monkeypatch.setattr(CaseFile, "data_version", gone)
    result = status(case, "--plain", "--follow")
    assert "usable 30 of 180" in result.stdout
    assert "can no longer be read: disk I/O error" in result.stderr
    assert isinstance(result.exception, SystemExit)
    assert result.exit_code != 0
