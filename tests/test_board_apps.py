"""The applications beside the stations: a signal ends each at once and in order."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path

import pytest
from cases import opened_case
from terminals import Terminal

from orroom.desk import record_all
from orroom.record.case_file import CaseFile

LEAVES_ALTERNATE_SCREEN = b"\x1b[?1049l"


@pytest.fixture
def case(tmp_path: Path) -> Path:
    with CaseFile.create(tmp_path / "case.orroom") as case_file:
        record_all(case_file, list(opened_case().state.log), "here")
    return tmp_path / "case.orroom"


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
@pytest.mark.parametrize(
    ("arguments", "shows"),
    [
        (["settings"], b"theme"),
        (["start", "FOLDER"], b"SMALL-1"),
        (["replay", "CASE"], b"REPLAY"),
        (["plan"], b"case"),
    ],
)
def test_a_signal_ends_it_at_once_and_gives_the_terminal_back(
    case: Path, arguments: list[str], shows: bytes, number: signal.Signals
):
    words = {"FOLDER": str(case.parent), "CASE": str(case)}
    terminal = Terminal(*(words.get(each, each) for each in arguments))
    try:
        terminal.until(lambda: shows in terminal.seen)
        terminal.rest(0.3)
        begun = time.monotonic()
        os.kill(terminal.process.pid, number)
        terminal.until(lambda: terminal.process.poll() is not None)
        terminal.read()
        assert time.monotonic() - begun < 2.5  # not by the last resort
        assert terminal.process.returncode == 128 + number
        assert LEAVES_ALTERNATE_SCREEN in terminal.seen
    finally:
        terminal.close()
