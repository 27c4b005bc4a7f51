"""The desk: what it shows is on the disk, stations agree, nothing asked is lost or doubled."""

from __future__ import annotations

import errno
import os
import signal
import sqlite3
import subprocess
import sys
import textwrap
import threading
import time
from contextlib import closing, contextmanager
from pathlib import Path

import pytest
from cases import MORNING_MS, SetClock
from hypothesis import given, settings
from hypothesis import strategies as st
from stations import PATIENCE, entered, new_case, read_case, station, wait_until

from orroom.case import commands as c
from orroom.case.events import Entry, GraftsCut, Stamp, StationLeft
from orroom.case.mismatches import open_mismatches
from orroom.case.rules import Refusal
from orroom.desk import Desk
from orroom.errors import CaseFileError, EntryRefusedError
from orroom.record.case_clock import case_clock
from orroom.record.case_file import CHECKPOINT_ENTRIES, CaseFile
from orroom.record.copies import backup
from orroom.record.rescue import read_rescue, write_rescue
from orroom.record.ticks import TickWatch
from orroom.record.turns import TurnLock
from orroom.record.verify import verify
from orroom.recording import record_once, record_rescued


@pytest.fixture
def case(tmp_path: Path) -> Path:
    return new_case(tmp_path / "case.orroom")


def test_what_a_desk_shows_is_on_the_disk(case: Path):
    with station(case) as desk:
        entry = entered(desk, c.CutGrafts(harvest="A", size="2"))
        assert desk.state.log[-1] == entry
        assert read_case(case) == desk.state


def test_an_entry_is_stamped_when_it_is_asked(case: Path):
    clock = SetClock(MORNING_MS)
    with station(case, clock=clock) as desk:
        first = desk.ask(c.CutGrafts(harvest="A", size="2"))
        clock.at_ms += 5000
        second = desk.ask(c.CutGrafts(harvest="A", size="2"))
        times = [asked.result(PATIENCE).stamp.at_ms for asked in (first, second)]
    assert times == [MORNING_MS, MORNING_MS + 5000]


def test_a_refusal_is_an_answer_and_leaves_no_entry(case: Path):
    with station(case) as desk:
        before = desk.state.seq
        answer = desk.ask(c.CutGrafts(harvest="A", size="9")).result(PATIENCE)
        assert isinstance(answer, Refusal)
        assert answer.rule == "refuse_unknown_size"
        assert desk.state.seq == before


def test_a_tap_at_one_station_is_at_the_others_within_half_a_second(case: Path):
    with station(case, who="AB") as one, station(case, who="CD") as other:
        found = threading.Event()
        other.watch(found.set)
        entered(one, c.CutGrafts(harvest="A", size="2"))
        assert found.wait(0.5)
        wait_until(lambda: other.state.seq == one.state.seq)
        assert other.state == one.state


def test_stations_of_one_role_have_names_of_their_own(case: Path):
    with station(case) as one, station(case) as other:
        assert (one.station, other.station) == ("cutting-1", "cutting-2")


def test_leaving_is_recorded(case: Path):
    with station(case):
        pass
    assert isinstance(read_case(case).log[-1].event, StationLeft)
    assert not read_case(case).tally.stations


def test_a_desk_cannot_be_taken_without_initials(case: Path):
    with CaseFile.open(case) as case_file, pytest.raises(EntryRefusedError, match="initials"):
        Desk(case_file, "cutting", "somebody")


def test_a_case_that_was_never_opened_takes_no_station(tmp_path: Path):
    with (
        CaseFile.create(tmp_path / "raw.orroom") as case_file,
        pytest.raises(EntryRefusedError, match="opened"),
    ):
        Desk(case_file, "cutting", "AB")


def test_a_signed_off_case_refuses_taps_but_can_be_looked_at(case: Path):
    with station(case) as desk:
        entered(desk, c.SignOff(second="EF"))
        answer = desk.ask(c.CutGrafts(harvest="A", size="2")).result(PATIENCE)
        assert isinstance(answer, Refusal)
        assert answer.rule == "refuse_after_sign_off"


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells of writes")
def test_a_commit_is_heard_of_at_once_where_the_system_tells_of_it(case: Path, monkeypatch):
    monkeypatch.setattr("orroom.desk.HEARING_LOOK_SECONDS", 3600)
    with station(case) as mine, station(case) as other:
        wait_until(lambda: mine._ticks.hears)
        entered(mine, c.CutGrafts(harvest="A", size="2"))  # from here on it does not look by itself
        for _ in range(3):
            entry = entered(other, c.CutGrafts(harvest="A", size="2"))
            wait_until(lambda entry=entry: mine.state.seq >= entry.seq)


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells of writes")
def test_a_watcher_hears_on_where_many_files_are_open(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    import fcntl
    import resource

    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    if hard < 2048:
        pytest.skip("no process here may open that many files")
    heard, written = [], tmp_path / "written"
    written.touch()
    try:
        resource.setrlimit(resource.RLIMIT_NOFILE, (max(soft, 2048), hard))
        with monkeypatch.context() as patched:
            ends = os.pipe()
            high = tuple(fcntl.fcntl(end, fcntl.F_DUPFD_CLOEXEC, 1024) for end in ends)
            for end in ends:
                os.close(end)
            patched.setattr(os, "pipe", lambda: high)
            watch = TickWatch(written, lambda: heard.append(True))
        wait_until(lambda: watch.hears)
        for times in range(1, 4):
            written.write_bytes(b"1")
            wait_until(lambda times=times: len(heard) >= times)
        watch.close()
    finally:
        resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))


def test_a_case_file_that_is_gone_takes_no_taps_and_they_are_rescued(case: Path):
    desk = Desk(CaseFile.open(case), "cutting", "AB")
    seq = entered(desk, c.CutGrafts(harvest="A", size="2")).seq
    away = case.rename(case.with_name("away.orroom"))
    wait_until(lambda: desk.trouble)
    assert "is gone, or another file is in its place" in desk.trouble
    waiting = desk.ask(c.CutGrafts(harvest="A", size="2"))
    time.sleep(0.5)
    assert desk.state.seq == seq
    away.rename(case)
    assert waiting.result(PATIENCE).seq == seq + 1
    case.rename(away)
    desk.ask(c.CutGrafts(harvest="A", size="3"))
    rescue = desk.close()
    assert [command for _, command in read_rescue(rescue).taps] == [c.CutGrafts(harvest="A", size="3")]


def test_turns_are_taken_over_one_file_also_after_it_was_deleted(case: Path):
    first = TurnLock(case)
    case.with_name(f"{case.name}.turn").unlink()
    second = TurnLock(case)
    taken = []
    with first.held():
        waiting = threading.Thread(target=lambda: taken.append(second.held().__enter__()))
        waiting.start()
        time.sleep(0.2)
        assert not taken
    waiting.join(PATIENCE)
    assert len(taken) == 1
    first.close()
    second.close()


def test_only_who_has_committed_says_so(case: Path, monkeypatch):
    ticks = []
    monkeypatch.setattr("orroom.record.turns.TurnLock.tick", lambda turns: ticks.append(id(turns)))
    with station(case) as mine, station(case) as other:
        wait_until(lambda: mine.state.seq == other.state.seq)
        ticks.clear()
        for _ in range(3):
            entry = entered(other, c.CutGrafts(harvest="A", size="2"))
            wait_until(lambda entry=entry: mine.state.seq >= entry.seq)
        wait_until(lambda: len(ticks) >= 3)
        assert set(ticks) == {id(other._file._turns)}
        assert len(ticks) == 3


def test_the_log_does_not_grow_while_taps_come_without_a_pause(case: Path):
    log = case.with_name(f"{case.name}-wal")
    with station(case) as desk:
        entered(desk, c.CutGrafts(harvest="A", size="2"))
        room = log.stat().st_size
        for _ in range(3 * CHECKPOINT_ENTRIES):
            entered(desk, c.CutGrafts(harvest="A", size="2"))
        assert log.stat().st_size == room


def test_a_desk_can_be_closed_twice_and_takes_nobody_elses_file_away(case: Path):
    desk = Desk(CaseFile.open(case), "cutting", "AB")
    desk.close()
    held = [os.open(case.parent, os.O_RDONLY) for _ in range(8)]  # the numbers that became free
    desk.close()
    for each in held:
        os.close(each)  # raises if it was closed by others


def test_a_desk_looks_by_itself_where_the_system_tells_of_nothing(case: Path, monkeypatch):
    monkeypatch.setattr("orroom.record.ticks._inotify", lambda path: None)
    with station(case) as mine, station(case) as other:
        entry = entered(other, c.CutGrafts(harvest="A", size="2"))
        wait_until(lambda: mine.state.seq >= entry.seq)
        assert not mine._ticks.hears


def test_a_fault_in_one_entry_does_not_stop_the_next(case: Path):
    class Nonsense(c.Command):
        pass

    with station(case) as desk:
        assert isinstance(desk.ask(Nonsense()).result(PATIENCE), Refusal)
        assert entered(desk, c.CutGrafts(harvest="A", size="2")).seq == desk.state.seq


class _Unreliable:
    """Stands before a connection and fails where told: before a commit, or after it has reached the disk."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self.connection = connection
        self.fail: str | None = None

    def execute(self, sql: str, *rest: object) -> sqlite3.Cursor:
        if self.fail == "before" and sql == "COMMIT":
            raise sqlite3.OperationalError("disk I/O error")
        cursor = self.connection.execute(sql, *rest)
        if self.fail == "after" and sql == "COMMIT":
            raise sqlite3.OperationalError("disk I/O error")
        return cursor

    def __getattr__(self, name: str) -> object:
        return getattr(self.connection, name)


@pytest.mark.parametrize("when", ["before", "after"])
def test_what_cannot_be_committed_waits_and_is_entered_once(case: Path, when: str):
    case_file = CaseFile.open(case)
    disk = _Unreliable(case_file._connection)
    case_file._connection = disk  # type: ignore[assignment]
    desk = Desk(case_file, "cutting", "AB", SetClock(MORNING_MS))
    try:
        disk.fail = when
        asked = [desk.ask(c.CutGrafts(harvest="A", size="2")) for _ in range(5)]
        wait_until(lambda: desk.trouble)
        assert desk.waiting == 5
        assert "disk I/O error" in str(desk.trouble)
        assert not any(isinstance(entry.event, GraftsCut) for entry in desk.state.log)
        disk.fail = None
        entries = [each.result(PATIENCE) for each in asked]
        assert [entry.stamp.tap for entry in entries] == [2, 3, 4, 5, 6]
        wait_until(lambda: desk.trouble is None)
        assert desk.waiting == 0
    finally:
        desk.close()
    assert read_case(case).tally.held("cut") == 5
    assert verify(case).intact


def test_a_station_that_is_stopped_in_its_turn_is_told_as_trouble(case: Path):
    other = TurnLock(case)
    with station(case) as desk:
        with other.held():
            asked = desk.ask(c.CutGrafts(harvest="A", size="2"))
            wait_until(lambda: desk.trouble, 5)
            assert "another station" in str(desk.trouble)
            assert desk.waiting == 1
        assert isinstance(asked.result(PATIENCE), Entry)
        assert desk.trouble is None
    other.close()


def test_an_entry_that_another_station_makes_while_one_joins_is_seen(
    case: Path, monkeypatch: pytest.MonkeyPatch
):
    real, deep = CaseFile.alone, []
    with CaseFile.open(case) as other:

        @contextmanager
        def and_then_another(case_file: CaseFile):
            deep.append(case_file)
            with real(case_file):
                yield
            deep.pop()
            if not deep:
                monkeypatch.setattr(CaseFile, "alone", real)
                record_once(other, c.AddNote(text="in between"), "EF")

        joining = CaseFile.open(case)
        case_clock(joining)
        monkeypatch.setattr(CaseFile, "alone", and_then_another)
        desk = Desk(joining, "cutting", "AB", SetClock(MORNING_MS))
        try:
            wait_until(lambda: desk.state.seq == 3, 1)
        finally:
            desk.close()


def test_leaving_while_another_holds_the_turn_rescues_and_waits_no_longer(
    case: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr("orroom.desk.CLOSING_SECONDS", 0.3)
    other = TurnLock(case)
    case_file = CaseFile.open(case)
    desk = Desk(case_file, "cutting", "AB", SetClock(MORNING_MS))
    with other.held():
        desk.ask(c.CutGrafts(harvest="A", size="2"))
        began = time.monotonic()
        rescue = desk.close()
        case_file.close()  # as the command line does; it must neither wait nor take the file from the writer
        assert time.monotonic() - began < 2
    assert rescue is not None
    desk._writer.join(PATIENCE)
    other.close()
    with CaseFile.open(case) as again:
        taken, known, refused = record_rescued(again, read_rescue(rescue))
    assert (taken + known, refused) == (1, [])
    assert read_case(case).tally.held("cut", "2") == 1


def test_what_could_not_be_kept_is_rescued_and_taken_back_once(case: Path):
    case_file = CaseFile.open(case)
    disk = _Unreliable(case_file._connection)
    case_file._connection = disk  # type: ignore[assignment]
    desk = Desk(case_file, "cutting", "AB", SetClock(MORNING_MS))
    disk.fail = "before"
    desk.ask(c.CutGrafts(harvest="A", size="2"))
    desk.ask(c.CutGrafts(harvest="A", size="3"))
    desk.ask(c.TakeBack(role="cutting"))
    rescue = desk.close()
    assert rescue is not None
    assert rescue.stat().st_mode & 0o077 == 0
    assert read_case(case).tally.held("cut") == 0
    for taken, known in ((3, 0), (0, 3)):
        with CaseFile.open(case) as again:
            assert record_rescued(again, read_rescue(rescue)) == (taken, known, [])
    state = read_case(case)
    assert (state.tally.held("cut", "2"), state.tally.held("cut", "3")) == (1, 0)
    assert [entry.stamp.tap for entry in state.log if entry.stamp.station == "cutting-1"] == [1, 2, 3, 4]


def test_a_rescue_file_that_a_full_disk_cut_short_is_removed(
    case: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    (home := tmp_path / "home").mkdir()
    monkeypatch.setenv("HOME", str(home))
    synced, calls = os.fsync, iter([True])

    def full_once(descriptor: int) -> None:
        if next(calls, False):
            raise OSError(errno.ENOSPC, "No space left on device")
        synced(descriptor)

    monkeypatch.setattr(os, "fsync", full_once)
    taps = [(Stamp(MORNING_MS, "cutting-1", 9, "AB"), c.CutGrafts(harvest="A", size="3"))]
    rescue = write_rescue(case, "SMALL-1", taps)
    assert list(tmp_path.rglob("*rescue*")) == [rescue]
    assert rescue.parent == home
    assert read_rescue(rescue).taps == taps


def test_a_rescued_take_back_finds_its_own_tap_though_the_person_went_on_elsewhere(case: Path):
    with station(case) as first:
        entered(first, c.CutGrafts(harvest="A", size="1"))
    with station(case) as second:
        kept = entered(second, c.CutGrafts(harvest="A", size="3"))
        taps = [(Stamp(MORNING_MS, first.station, 9, "AB"), c.TakeBack(role="cutting"))]
        rescue = write_rescue(case, "SMALL-1", taps)
    with CaseFile.open(case) as again:
        assert record_rescued(again, read_rescue(rescue)) == (1, 0, [])
    state = read_case(case)
    assert state.tally.held("cut", "1") == 0
    assert state.stands(kept)


def test_leaving_with_nothing_waiting_writes_no_rescue_file(case: Path):
    desk = Desk(CaseFile.open(case), "cutting", "AB", SetClock(MORNING_MS))
    assert desk.close() is None
    assert list(case.parent.glob("*rescue*")) == []


def test_a_case_that_may_not_be_written_is_told_in_a_sentence(case: Path):
    unwritable = pytest.raises(CaseFileError, match=r"cannot be written.*readonly")
    with CaseFile.open(case, read_only=True) as case_file, unwritable:
        Desk(case_file, "cutting", "AB")


def test_a_case_that_another_program_keeps_is_told_in_a_sentence(case: Path):
    rescue = write_rescue(case, "SMALL-1", [(Stamp(MORNING_MS, "cutting-1", 9, "AB"), c.AddNote(text="x"))])
    with CaseFile.open(case) as mine, closing(sqlite3.connect(case, isolation_level=None)) as other:
        mine._connection.execute("PRAGMA busy_timeout = 10")
        other.execute("BEGIN IMMEDIATE")
        for written in (
            lambda: case_clock(mine),
            lambda: record_once(mine, c.AddNote(text="x"), "AB"),
            lambda: record_rescued(mine, read_rescue(rescue)),
        ):
            with pytest.raises(CaseFileError, match="cannot be written: database is locked"):
                written()


def test_entries_that_the_disk_lost_are_told_and_stay_on_the_screen_until_explained(
    case: Path, tmp_path: Path
):
    with station(case) as desk:
        entered(desk, c.CutGrafts(harvest="A", size="2"))
    earlier = tmp_path / "earlier.orroom"
    backup(case, earlier)
    with station(case) as desk:
        for _ in range(5):
            entered(desk, c.CutGrafts(harvest="A", size="2"))
    lost = read_case(case).seq - read_case(earlier).seq
    earlier.replace(case)  # what a disk leaves that had not kept its word
    with station(case) as desk:
        entered(desk, c.AddNote(text="after the power cut"))
        found = [each for each in open_mismatches(desk.state) if each.key.startswith("differed:")]
        assert [each.amount for each in found] == [lost]
        assert "count by hand" in found[0].sentence
        with station(case, who="CD") as other:
            entered(other, c.AddNote(text="it is told once"))
            assert len(other.state.tally.differences) == 1
    verdict = verify(case)
    assert not verdict.intact
    assert verdict.says_so
    assert "gone" in verdict.sentence


def test_a_vanished_folder_is_told_in_a_sentence(tmp_path: Path):
    with pytest.raises(CaseFileError, match=r"does not exist\. Make that folder first"):
        CaseFile.create(tmp_path / "gone" / "case.orroom")


@settings(max_examples=15)
@given(st.lists(st.tuples(st.booleans(), st.sampled_from("123M")), max_size=12))
def test_two_stations_agree_whoever_was_first(tmp_path_factory: pytest.TempPathFactory, taps: list):
    case = new_case(tmp_path_factory.mktemp("two") / "case.orroom")
    with station(case, who="AB") as one, station(case, who="CD") as other:
        asked = [(one if first else other).ask(c.CutGrafts(harvest="A", size=size)) for first, size in taps]
        for each in asked:
            each.result(PATIENCE)
        wait_until(lambda: one.state.seq == other.state.seq == 3 + len(taps))
        assert one.state == other.state == read_case(case)


TAPPER = textwrap.dedent("""
    import sys
    from pathlib import Path
    from orroom.case.commands import CutGrafts
    from orroom.desk import Desk
    from orroom.record.case_file import CaseFile

    desk = Desk(CaseFile.open(Path(sys.argv[1])), "cutting", sys.argv[2])
    for number in range(int(sys.argv[3])):
        entry = desk.ask(CutGrafts(harvest="A", size="2")).result(60)
        print(entry.seq, flush=True)
    desk.close()
""")


def test_four_processes_with_300_taps_each_lose_double_and_skip_nothing(case: Path):
    commands = [[sys.executable, "-c", TAPPER, str(case), who, "300"] for who in ("AB", "CD", "EF", "GH")]
    running = [subprocess.Popen(command, stdout=subprocess.PIPE, text=True) for command in commands]
    shown = [process.communicate(timeout=120)[0].split() for process in running]
    assert [process.returncode for process in running] == [0, 0, 0, 0]
    state = read_case(case)
    cut = [entry for entry in state.log if isinstance(entry.event, GraftsCut)]
    assert sorted(int(seq) for each in shown for seq in each) == [entry.seq for entry in cut]
    assert len(cut) == state.tally.held("cut", "2") == 1200
    assert [entry.seq for entry in state.log] == list(range(1, len(state.log) + 1))
    assert len({(entry.stamp.station, entry.stamp.tap) for entry in state.log}) == len(state.log)


def test_kill_9_between_taps_loses_nothing_that_was_shown(case: Path):
    command = [sys.executable, "-c", TAPPER, str(case), "AB", "100000"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        shown = [int(process.stdout.readline()) for _ in range(40)]
        os.kill(process.pid, signal.SIGKILL)
        shown += [int(line) for line in process.stdout if line.endswith("\n")]
    kept = {entry.seq for entry in read_case(case).log if isinstance(entry.event, GraftsCut)}
    assert set(shown) <= kept
    with station(case) as desk:
        assert isinstance(desk.ask(c.CutGrafts(harvest="A", size="2")).result(PATIENCE), Entry)


def test_a_station_takes_no_name_that_the_record_knows(case: Path):
    with CaseFile.open(
        case
    ) as case_file:  # as an import may have left it: taps of a station that never joined
        for tap, name in ((1, "cutting-1"), (2, "cutting-1"), (1, "cutting-3")):
            stamp = Stamp(MORNING_MS, name, tap, "AB")
            entry = Entry(case_file.seal().seq + 1, stamp, GraftsCut(harvest="A", size="2", count=7))
            with case_file.turn():
                case_file.append([entry])
    for name in ("cutting-2", "cutting-4"):
        with station(case, who="CD") as desk:
            assert desk.station == name
            mine = entered(desk, c.CutGrafts(harvest="A", size="3"))
            assert (mine.stamp.who, mine.event.size) == ("CD", "3")


def test_an_explanation_covers_no_more_than_was_shown(case: Path):
    with station(case, "placing") as desk:
        entered(desk, c.PlaceGrafts(zone="LINE", size="1", count=42))
        entered(desk, c.PlaceGrafts(zone="LINE", size="1", count=30))
        entered(desk, c.ExplainMismatch(mismatch="over:LINE:1", amount=2, text="two grafts in a gap"))
        entered(desk, c.ExplainMismatch(mismatch="short:dish:1:A", amount=72, text="tapped late"))
        assert [each.amount for each in open_mismatches(desk.state) if each.key == "over:LINE:1"] == [32]
