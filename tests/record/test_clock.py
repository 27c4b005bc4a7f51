"""Case time: steady whatever is done to the machine's clock, shared by all stations, told when it was set."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from cases import opened_case
from stations import PATIENCE, entered, new_case, read_case, wait_until

from orroom.case import commands as c
from orroom.case.events import ClockStepped
from orroom.case.mismatches import open_mismatches
from orroom.clock import FastClock, SteadyClock, WallClock
from orroom.desk import Desk
from orroom.figures.holding import harvest_ages
from orroom.figures.prompts import prompts
from orroom.figures.wording import Times, clock_time, hours_minutes
from orroom.record.case_clock import case_clock
from orroom.record.case_file import CaseFile
from orroom.recording import record_once

HOUR_MS = 3_600_000
steady = pytest.mark.skipif(
    not hasattr(time, "CLOCK_BOOTTIME"), reason="no clock that counts through a suspend"
)


@pytest.fixture
def case(tmp_path: Path) -> Path:
    return new_case(tmp_path / "case.orroom")


@pytest.fixture
def set_clock(monkeypatch: pytest.MonkeyPatch):
    """Sets the machine's clock by some ms from now on."""
    real = time.time_ns
    offset = [0]
    monkeypatch.setattr(time, "time_ns", lambda: real() + offset[0] * 1_000_000)

    def by(ms: int) -> None:
        offset[0] += ms

    return by


@steady
@pytest.mark.parametrize("by_ms", [HOUR_MS, -HOUR_MS])
def test_case_time_goes_on_evenly_when_the_clock_is_set(case: Path, set_clock, by_ms: int):
    with CaseFile.open(case) as case_file:
        clock = case_clock(case_file)
    before = clock.now_ms()
    set_clock(by_ms)
    assert 0 <= clock.now_ms() - before < 1000
    assert abs(WallClock().now_ms() - before - by_ms) < 1000


@steady
def test_all_stations_of_a_case_share_one_clock(case: Path, set_clock):
    with CaseFile.open(case) as one:
        first = case_clock(one)
    set_clock(HOUR_MS)
    with CaseFile.open(case) as other:
        assert case_clock(other) == first


@steady
def test_after_a_restart_of_the_machine_time_is_taken_from_its_clock_anew(case: Path, monkeypatch):
    with CaseFile.open(case) as case_file:
        before = case_clock(case_file)
    monkeypatch.setattr("orroom.record.case_clock.this_boot", lambda: "another")
    monkeypatch.setattr("orroom.clock.this_boot", lambda: "another")
    with CaseFile.open(case) as case_file:
        after = case_clock(case_file)
    assert isinstance(before, SteadyClock)
    assert isinstance(after, SteadyClock)
    assert after.boot_id == "another"
    assert after.wall_ms >= before.wall_ms


@steady
def test_a_clock_that_is_behind_after_a_restart_stops_no_care_round(case: Path, set_clock, monkeypatch):
    with CaseFile.open(case) as case_file:
        record_once(case_file, c.StartHarvest(harvest="A"), "AB")
        last_ms = read_case(case).log[-1].stamp.at_ms
    monkeypatch.setattr("orroom.record.case_clock.this_boot", lambda: "another")
    monkeypatch.setattr("orroom.clock.this_boot", lambda: "another")
    set_clock(-50 * 365 * 24 * HOUR_MS)  # its battery is empty
    desk = Desk(CaseFile.open(case), "cutting", "AB")
    try:
        entered(desk, c.CutGrafts(harvest="A", size="2"))
        wait_until(lambda: any(isinstance(e.event, ClockStepped) for e in read_case(case).log))
        now_ms = desk.clock.now_ms()
        set_clock(50 * 365 * 24 * HOUR_MS)  # and then somebody sets it right
        wait_until(lambda: sum(isinstance(e.event, ClockStepped) for e in read_case(case).log) == 2)
    finally:
        desk.close()
    assert last_ms < now_ms < last_ms + 60_000
    state = read_case(case)
    times = [entry.stamp.at_ms for entry in state.log]
    assert times == sorted(times)
    first, second = (e.event for e in state.log if isinstance(e.event, ClockStepped))
    assert first.at_start
    assert second.at_start is None
    assert second.by_ms == pytest.approx(-first.by_ms, abs=60_000)
    with CaseFile.open(case, read_only=True) as case_file:  # whoever only looks has the same time
        assert case_clock(case_file) == desk.clock
    assert {each.status for each in prompts(state, now_ms + 4 * HOUR_MS)} == {"overdue"}


@steady
def test_without_a_steady_clock_the_machines_own_time_serves(case: Path, monkeypatch):
    monkeypatch.setattr("orroom.record.case_clock.this_boot", lambda: None)
    monkeypatch.setattr("orroom.clock.this_boot", lambda: None)
    with CaseFile.open(case) as case_file:
        case_file._connection.execute("DELETE FROM about WHERE name = 'steady_clock'")
        assert isinstance(case_clock(case_file), WallClock)


@steady
@pytest.mark.parametrize("by_ms", [HOUR_MS, -HOUR_MS])
def test_a_clock_that_was_set_is_recorded_once_and_shown(case: Path, set_clock, by_ms: int):
    desks = [Desk(CaseFile.open(case), "cutting", who) for who in ("AB", "CD", "EF")]
    try:
        entered(desks[0], c.StartHarvest(harvest="A"))
        set_clock(by_ms)
        wait_until(lambda: any(isinstance(e.event, ClockStepped) for e in read_case(case).log))
        entry = entered(desks[0], c.CutGrafts(harvest="A", size="2"))
        wait_until(lambda: all(desk.waiting == 0 for desk in desks), PATIENCE)
    finally:
        for desk in desks:
            desk.close()
    state = read_case(case)
    found = [e.event.by_ms for e in state.log if isinstance(e.event, ClockStepped)]
    assert len(found) == 1
    assert abs(found[0] - by_ms) < 1000
    assert any(each.key.startswith("clock:") for each in open_mismatches(state))
    out_ms = harvest_ages(state, entry.stamp.at_ms)[0].out_ms
    assert out_ms is not None
    assert 0 <= out_ms < 60_000


@steady
def test_a_clock_that_was_set_while_no_station_was_open_is_told_by_the_next(case: Path, set_clock):
    with CaseFile.open(case) as case_file:
        case_clock(case_file)
    set_clock(HOUR_MS)
    for who in ("AB", "CD"):  # by the first only
        desk = Desk(CaseFile.open(case), "cutting", who)
        try:
            wait_until(lambda: any(isinstance(e.event, ClockStepped) for e in read_case(case).log))
            entered(desk, c.AddNote(text="here"))
        finally:
            desk.close()
    assert sum(isinstance(entry.event, ClockStepped) for entry in read_case(case).log) == 1


def test_a_small_nudge_by_a_time_server_is_not_told(case: Path, set_clock):
    desk = Desk(CaseFile.open(case), "cutting", "AB")
    try:
        set_clock(1500)
        time.sleep(0.2)
        assert entered(desk, c.CutGrafts(harvest="A", size="2"))
    finally:
        desk.close()
    assert not any(isinstance(entry.event, ClockStepped) for entry in read_case(case).log)


def test_a_case_across_midnight_and_a_change_to_summer_time():
    """The harvest leaves the body at 23:50 on 28 March 2026 at UTC+1; clocks there go forward at 02:00.

    Four hours later it has been out for four hours (arithmetic), and the case still shows its own offset,
    03:50 of its second day, on every screen, whatever the wall says.
    """
    record = opened_case()
    start = 1_774_738_200_000  # 2026-03-28 22:50 UTC
    record.enter(c.StartHarvest(harvest="A"), at_ms=start)
    record.enter(c.CutGrafts(harvest="A", size="2"), at_ms=start + 60_000)
    now = start + 4 * HOUR_MS
    assert hours_minutes(harvest_ages(record.state, now)[0].out_ms) == "4:00"
    times = Times(60, work_began_ms=start)
    assert (clock_time(start, times), clock_time(now, times)) == ("23:50", "day 2 03:50")


def test_a_fast_clock_stands_still_after_a_day(monkeypatch: pytest.MonkeyPatch):
    """A demo opened next week is not in the next century."""
    clock = FastClock(real_origin_ms=0, case_origin_ms=50_000, speed=60.0)
    for real_minutes, hours in ((5, 5), (24, 24), (25, 24), (7 * 24 * 60, 24)):
        monkeypatch.setattr(WallClock, "now_ms", lambda _, now=real_minutes * 60_000: now)
        assert clock.now_ms() == 50_000 + hours * HOUR_MS
