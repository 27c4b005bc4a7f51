"""The real program in a real terminal: starts, counts, leaves, and the taps are in the file."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from stations import new_case, read_case
from terminals import Terminal

from orroom.case.events import StationLeft


@pytest.fixture
def case(tmp_path: Path) -> Path:
    return new_case(tmp_path / "case.orroom")


@pytest.fixture
def terminal(case: Path) -> Iterator[Terminal]:
    opened = Terminal("open", str(case), "--role", "cutting", "--who", "AB")
    yield opened
    opened.close()


def cut(case: Path, size: str) -> int:
    return read_case(case).tally.held("cut", size)


def test_taps_in_a_terminal_are_in_the_file(case: Path, terminal: Terminal):
    terminal.until(lambda: b"CUTTING" in terminal.seen)
    for number, key in enumerate("12232", 1):
        terminal.type(key)
        terminal.until(lambda number=number: read_case(case).tally.held("cut") == number)
    terminal.type("\x1b[21~")  # F10
    terminal.until(lambda: b"Leave this station" in terminal.seen)
    terminal.type("y")
    terminal.until(lambda: terminal.process.poll() is not None)
    assert terminal.process.returncode == 0
    assert (cut(case, "1"), cut(case, "2"), cut(case, "3")) == (1, 3, 1)
    assert isinstance(read_case(case).log[-1].event, StationLeft)


def test_kill_9_keeps_every_tap_that_was_on_the_screen(case: Path, terminal: Terminal):
    terminal.until(lambda: b"CUTTING" in terminal.seen)
    for _ in range(7):
        terminal.type("2")
    terminal.until(lambda: b"team 7" in terminal.seen)
    os.kill(terminal.process.pid, signal.SIGKILL)
    assert cut(case, "2") == 7


def test_two_terminals_share_the_case_within_half_a_second(case: Path, terminal: Terminal):
    other = Terminal("open", str(case), "--role", "overview")
    try:
        terminal.until(lambda: b"CUTTING" in terminal.seen)
        other.until(lambda: b"OVERVIEW" in other.seen)
        other.seen = b""
        terminal.type("2")
        terminal.until(lambda: cut(case, "2") == 1)
        on_disk = time.monotonic()
        other.until(lambda: b"\xe2\x96\x88" in other.seen)  # a large digit was painted anew
        assert time.monotonic() - on_disk < 0.5
    finally:
        other.close()
