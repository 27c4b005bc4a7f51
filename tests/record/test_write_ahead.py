"""The log beside a case file deleted under running stations: what was shown as counted is kept."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from stations import PATIENCE, entered, new_case, read_case, station, wait_until

from orroom.case import commands as c
from orroom.cli import main
from orroom.desk import Desk
from orroom.errors import CaseFileError
from orroom.record.case_file import CaseFile
from orroom.record.rescue import read_rescue
from orroom.record.verify import verify
from orroom.recording import record_rescued

#: A station in a process of its own, as stations are: two in one would share what SQLite keeps of a log.
DESK = """
import sys
from pathlib import Path
from orroom.case.commands import CutGrafts
from orroom.desk import Desk
from orroom.record.case_file import CaseFile

desk = Desk(CaseFile.open(Path(sys.argv[1])), "cutting", sys.argv[2])
print("open", desk.station, flush=True)
for line in sys.stdin:
    word, _, number = line.strip().partition(" ")
    if word == "tap":
        for _ in range(int(number)):
            desk.ask(CutGrafts(harvest="A", size="1")).result(10)
        print("tapped", flush=True)
    elif word == "ask":
        desk.ask(CutGrafts(harvest="A", size="1"))
        print("asked", flush=True)
    elif word == "trouble":
        print(desk.trouble or "-", flush=True)
    elif word == "leave":
        print(desk.close() or "-", flush=True)
        break
"""


class Remote:
    """A station in another process, and what it has said so far."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self.process = process
        self.station = self._said().split()[1]

    def do(self, words: str) -> str:
        self.process.stdin.write(f"{words}\n")
        self.process.stdin.flush()
        return self._said()

    def _said(self) -> str:
        return self.process.stdout.readline().strip()


@contextmanager
def remote(case: Path, who: str) -> Iterator[Remote]:
    command = [sys.executable, "-c", DESK, str(case), who]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        try:
            yield Remote(process)
        finally:
            process.kill()


def stopped(station: Remote) -> None:
    """The station stands still, and not in its turn: nobody else would get one."""
    time.sleep(0.1)
    os.kill(station.process.pid, signal.SIGSTOP)


@pytest.fixture
def case(tmp_path: Path) -> Path:
    return new_case(tmp_path / "case.orroom")


def orroom(*words: object) -> Result:
    return CliRunner().invoke(main, [str(each) for each in words])


BESIDE = ("-wal", "-shm")


def deleted(case: Path, endings: tuple[str, ...]) -> None:
    for ending in endings:
        case.with_name(case.name + ending).unlink()


def cut_at(case: Path, station: str) -> int:
    """How many grafts the record holds of a station."""
    log = read_case(case).log
    return sum(each.event.kind == "grafts_cut" for each in log if each.stamp.station == station)


@pytest.mark.parametrize("endings", [BESIDE, ("-wal",), ("-shm",)])
def test_a_log_that_is_deleted_is_brought_into_the_file_and_another_begun(
    case: Path, endings: tuple[str, ...]
):
    with remote(case, "AB") as first:
        first.do("tap 16")
        deleted(case, endings)
        first.do("tap 4")
        with remote(case, "CD") as second:
            second.do("tap 4")
            first.do("tap 2")
            assert second.do("leave") == "-"
        assert first.do("trouble") == "-"
        assert first.do("leave") == "-"
    assert verify(case).sentence.endswith("entries are unchanged.")
    assert (cut_at(case, "cutting-1"), cut_at(case, "cutting-2")) == (22, 4)


def test_a_station_that_shares_a_deleted_log_waits_says_so_and_loses_nothing(case: Path):
    with remote(case, "AB") as first, remote(case, "CD") as second:
        first.do("tap 5")
        second.do("tap 5")
        stopped(second)
        deleted(case, BESIDE)
        first.do("tap 3")  # brings the log in, with what the other had entered
        os.kill(second.process.pid, signal.SIGCONT)
        second.do("ask")
        wait_until(lambda: "is gone, or another file is in its place" in second.do("trouble"))
        assert "Leave this station and open it again" in second.do("trouble")
        first.do("tap 1")
        rescue = Path(second.do("leave"))
        assert first.do("leave") == "-"
        second.process.wait(PATIENCE)
    with CaseFile.open(case) as case_file:
        taken, known, refused = record_rescued(case_file, read_rescue(rescue))
    assert (taken, refused) == (1, [])
    assert known <= 5
    assert (cut_at(case, "cutting-1"), cut_at(case, "cutting-2")) == (9, 6)
    assert verify(case).intact


def test_taps_in_a_log_that_somebody_replaced_are_rescued_though_they_were_shown_as_counted(case: Path):
    """The worst order: the station is stopped while the log goes and another station begins a new one."""
    with remote(case, "AB") as first:
        first.do("tap 8")
        stopped(first)
        deleted(case, BESIDE)
        with remote(case, "CD") as second:
            second.do("tap 4")
            assert second.do("leave") == "-"
        os.kill(first.process.pid, signal.SIGCONT)
        first.do("ask")
        wait_until(lambda: first.do("trouble") != "-")
        rescue = Path(first.do("leave"))
        first.process.wait(PATIENCE)  # its end must not write the old log over the new one
    assert cut_at(case, "cutting-2") == 4
    assert cut_at(case, "cutting-1") < 8
    rescued = read_rescue(rescue)
    order = [stamp.tap for stamp, _ in rescued.taps]
    assert order == sorted(order)  # the one that waits is behind those that were shown
    assert len(order) > 1
    with CaseFile.open(case) as case_file:
        _, _, refused = record_rescued(case_file, rescued)
    assert refused == []
    assert (cut_at(case, "cutting-1"), cut_at(case, "cutting-2")) == (9, 4)
    verdict = verify(case)
    assert verdict.intact, verdict.sentence


def test_a_log_is_not_missed_by_who_only_reads(case: Path):
    """A reader opens before any station; the log comes and goes with the stations."""
    with CaseFile.open(case, read_only=True) as reader:
        for _ in range(2):
            with station(case) as desk:
                entered(desk, c.CutGrafts(harvest="A", size="1"))
                reader.check_there()
            reader.check_there()


def test_who_opens_a_case_whose_log_was_just_deleted_waits_for_the_station_that_has_it(case: Path):
    with remote(case, "AB") as first:
        first.do("tap 7")
        stopped(first)
        deleted(case, ("-wal",))
        threading.Timer(0.1, os.kill, [first.process.pid, signal.SIGCONT]).start()
        assert "usable 7 of 180" in orroom("status", case).stdout
        assert first.do("trouble") == "-"
        assert first.do("leave") == "-"
    assert cut_at(case, "cutting-1") == 7


@pytest.mark.parametrize("words", [["status"], ["summary"], ["open", "--who", "CD", "--role", "cutting"]])
def test_a_case_whose_log_is_missing_ends_in_a_sentence(case: Path, words: list[str]):
    with remote(case, "AB") as first:
        first.do("tap 2")
        stopped(first)
        deleted(case, ("-wal",))
        result = orroom(words[0], case, *words[1:])
        assert result.exit_code in {0, 1, 3, 6}
        assert "Traceback" not in result.stderr
        if result.exit_code:
            assert result.stderr.startswith("orroom: ")
        os.kill(first.process.pid, signal.SIGCONT)


def test_a_desk_at_a_case_whose_log_is_missing_is_refused_in_a_sentence(case: Path):
    with remote(case, "AB") as first:
        first.do("tap 2")
        stopped(first)
        deleted(case, ("-wal",))
        with pytest.raises(CaseFileError, match=r"case.orroom-wal was deleted, close all stations"):
            Desk(CaseFile.open(case), "cutting", "CD")
