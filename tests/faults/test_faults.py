"""What happens to a record when its process is killed, its disk fails or fills, the power goes, many write at
once or the clock is set: nothing that anybody was told is lost, nothing is doubled, the chain stays whole."""

from __future__ import annotations

import json
import shutil
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from pathlib import Path
from random import Random
from threading import Event

import pytest
from faults import tapper
from faults.means import (
    PATIENCE,
    START,
    finished,
    needs_faketime,
    needs_root,
    needs_strace,
    set_clock,
    small_disk,
    tapping,
    under_another_clock,
)
from faults.power_cut import RECORDING, cuts, recorded, whole
from faults.reckoning import Kept, reckon, rows_of
from faults.tapper import Orders, Told, clear_the_log, forget_turns, open_and_close
from stations import new_case, station

from orroom.case.commands import CutGrafts
from orroom.errors import CaseFileError
from orroom.record.case_file import CaseFile


@pytest.fixture(params=["wal", "delete"])
def mode(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """The journal a case is kept with: machines without turns and with an old SQLite have the other one."""
    if request.param == "delete":
        forget_turns(monkeypatch.setattr)
    return request.param


def orders(folder: Path, taps: int, **more: object) -> Orders:
    """Orders for a new case in a folder of its own."""
    folder.mkdir(exist_ok=True)
    case = new_case(folder / "case.orroom")
    return Orders(str(case), str(folder.with_suffix(".told")), taps, **more)


def told(by: Orders) -> list[Told]:
    return Told.read(Path(by.told).read_bytes()) if Path(by.told).exists() else []


def wait_until(true: Callable[[], object], seconds: float = PATIENCE) -> bool:
    end = time.monotonic() + seconds
    while not (so := true()) and time.monotonic() < end:
        Event().wait(0.002)
    return bool(so)


def test_kill_9_at_any_moment(tmp_path: Path, mode: str, kept: Kept):
    chance = Random(9)
    killed = orders(tmp_path / "killed", taps=9_999, at_once=3, without_turns=mode == "delete")
    for _ in range(20):
        with tapping(killed) as process:
            process.join(chance.uniform(0.02, 0.3))
            process.kill()
        seen = told(killed)
        Path(killed.told).unlink(missing_ok=True)
        kept(f"kill -9, {mode}", Path(killed.case), seen)


@needs_strace
@pytest.mark.parametrize("calls", ["write,pwrite64", "fsync,fdatasync"])
@pytest.mark.parametrize("error", ["ENOSPC", "EIO"])
def test_a_disk_that_fails_once(tmp_path: Path, mode: str, error: str, calls: str, kept: Kept):
    def fail(nth: int) -> tuple[Orders, str]:
        failing = orders(tmp_path / str(nth), taps=30, at_once=2, without_turns=mode == "delete")
        paths = [part for suffix in ("", "-wal", "-journal") for part in ("-P", failing.case + suffix)]
        log = tmp_path / f"{nth}.log"
        inject = f"inject={calls}:error={error}:when={nth}"
        with tapping(failing, *paths, "-o", str(log), "-e", f"trace={calls}", "-e", inject) as process:
            finished(process)
        return failing, log.read_text()

    with ThreadPoolExecutor(3) as several:
        for nth, (failing, log) in enumerate(several.map(fail, range(1, 16)), 1):
            assert "(INJECTED)" in log, f"call {nth} never came"
            assert len(told(failing)) == failing.taps
            kept(f"{error} from {calls}, {mode}", Path(failing.case), told(failing))


@needs_root
def test_a_full_disk(tmp_path: Path, mode: str, kept: Kept):
    with small_disk(tmp_path / "disk") as disk:
        case = new_case(disk / "case.orroom")
        ballast = disk / "ballast"
        ballast.write_bytes(bytes(shutil.disk_usage(disk).free - 100_000))
        with station(case) as desk:
            asked = []
            while desk.trouble is None:
                asked.append(desk.ask(CutGrafts(harvest="A", size="2", count=len(asked) + 1)))
                wait_until(lambda: asked[-1].done() or desk.trouble)
            asked += [
                desk.ask(CutGrafts(harvest="A", size="2", count=len(asked) + 1 + more)) for more in range(5)
            ]
            assert not wait_until(asked[-1].done, 0.5)
            assert "full" in desk.trouble
            assert desk.waiting == sum(not each.done() for each in asked) >= 5
            CaseFile.open(case).close()
            before = [Told.of(each.result()) for each in asked if each.done()]
            assert before
            kept(f"a full disk, {mode}, still full", case, before)
            ballast.unlink()
            after = [Told.of(each.result(PATIENCE)) for each in asked]
            assert wait_until(lambda: desk.trouble is None)
        kept(f"a full disk, {mode}, then freed", case, after)


@needs_strace
def test_a_power_cut(tmp_path: Path, mode: str, kept: Kept):
    for folder, seen in after_power_cuts(tmp_path, 300, without_turns=mode == "delete"):
        kept(f"power cut, {mode}", folder / "case.orroom", seen)


@needs_strace
def test_power_cuts_lose_what_is_never_synced(tmp_path: Path):
    """The cuts are as hard as they are meant to be."""
    lost = 0
    for folder, seen in after_power_cuts(tmp_path, 30, unsynced=True):
        try:
            lost += reckon(folder / "case.orroom", seen).lost
        except (AssertionError, CaseFileError, sqlite3.Error):
            lost += len(seen)
    assert lost


def after_power_cuts(tmp_path: Path, number: int, **more: object):
    """Folders of a case as a power cut may leave them, and what was told before the cut."""
    run = orders(tmp_path / "run", taps=12, at_once=2, sittings=3, deaf=True, **more)
    folder, log = Path(run.case).parent, tmp_path / "strace.log"
    before = {file.name: file.read_bytes() for file in folder.iterdir()}
    with tapping(run, "-o", str(log), *RECORDING) as process:
        finished(process)
    for state, seen in cuts(before, recorded(log, folder, Path(run.told)), number, seed=300):
        cut = tmp_path / "cut"
        shutil.rmtree(cut, ignore_errors=True)
        cut.mkdir()
        for name, content in state.items():
            (cut / name).write_bytes(content)
        yield cut, seen


def test_eight_stations_and_two_who_clear_the_log(tmp_path: Path, mode: str, kept: Kept):
    case = new_case(tmp_path / "case.orroom")
    stop = START.Event()
    hammers = [START.Process(target=hammer, args=(case, stop)) for hammer in (open_and_close, clear_the_log)]
    with ExitStack() as ending:
        for each in hammers:
            each.start()
            ending.callback(each.join)
        ending.callback(stop.set)
        eight = [
            Orders(str(case), str(tmp_path / f"{one}.told"), 150, at_once=3, without_turns=mode == "delete")
            for one in range(8)
        ]
        for process in [ending.enter_context(tapping(one)) for one in eight]:
            finished(process)
    assert [each.exitcode for each in hammers] == [0, 0]
    seen = [each for one in eight for each in told(one)]
    assert kept(f"8 stations at once, {mode}, log cleared all the time", case, seen).acknowledged == 8 * 150


@needs_faketime
@pytest.mark.parametrize("hours", [-1, 1])
def test_a_clock_set_while_taps_come_in(tmp_path: Path, hours: int, kept: Kept):
    tapped = orders(tmp_path / "stepped", taps=9_999, pause=0.03)
    case, offset = Path(tapped.case), tmp_path / "offset"

    def steps() -> list[int]:
        return [json.loads(row.body)["by_ms"] for row, _ in rows_of(case) if row.kind == "clock_stepped"]

    set_clock(offset, 0)
    command = [sys.executable, tapper.__file__, json.dumps(tapped._asdict())]
    with subprocess.Popen(command, env=under_another_clock(offset)) as process:
        try:
            assert wait_until(lambda: len(told(tapped)) >= 10)
            set_clock(offset, hours)
            first_after = len(told(tapped)) + 1
            wait_until(steps, 3)
            assert wait_until(lambda: len(told(tapped)) >= first_after + 10)
        finally:
            process.kill()
    seen = told(tapped)
    kept(f"clock set {hours:+d} h", case, seen)
    assert [each.count for each in seen] == list(range(1, len(seen) + 1))
    assert [each.seq for each in seen] == sorted(each.seq for each in seen)
    assert [each.at_ms - seen[0].at_ms for each in seen] == pytest.approx(
        [each.steady_ms - seen[0].steady_ms for each in seen], abs=1000
    )
    assert steps() == [pytest.approx(hours * 3_600_000, abs=2000)]


def test_a_trace_that_another_thread_cut_is_read_whole_unless_that_thread_changed_something():
    cut, resumed = '7 unlink("\\x61" <unfinished ...>', "7 <... unlink resumed>) = 0"
    harmless = ["8 +++ exited with 0 +++", '8 openat(AT_FDCWD, "\\x62", O_RDONLY) = 3']
    assert list(whole([cut, *harmless, resumed])) == [*harmless, '7 unlink("\\x61") = 0']
    after_failure = ['7 openat(1, "a", O_CREAT) = 3', "7 +++ exited with 0 +++"]
    assert list(whole([cut, *harmless, *after_failure])) == [*harmless, *after_failure]
    for other in (
        '8 unlink("\\x62") = 0',
        '8 unlink("\\x62" <unfinished ...>',
        '8 openat(1, "b", O_CREAT) = 3',
    ):
        with pytest.raises(AssertionError, match="two threads at once"):
            list(whole([cut, other, resumed]))
