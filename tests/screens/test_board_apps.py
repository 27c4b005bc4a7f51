"""The applications beside the stations: each ends in order, also while its terminal does not read."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path

import pytest
from cases import opened_case
from free_keys import letter_beside
from terminals import PATIENCE, Terminal

from orroom.record.case_file import CaseFile
from orroom.recording import record_all
from orroom.screens.replay.keys import KEYS as REPLAY_KEYS

F1 = b"\x1bOP"
LEAVES_ALTERNATE_SCREEN = b"\x1b[?1049l"


@pytest.fixture
def case(tmp_path: Path) -> Path:
    with CaseFile.create(tmp_path / "case.orroom") as case_file:
        record_all(case_file, list(opened_case().state.log), "here")
    return tmp_path / "case.orroom"


@pytest.mark.parametrize(
    ("arguments", "shows", "number"),  # each signal has the same handler at all of them
    [
        (["settings"], b"theme", signal.SIGTERM),
        (["start", "FOLDER"], b"SMALL-1", signal.SIGHUP),
        (["replay", "CASE"], b"REPLAY", signal.SIGTERM),
        (["plan"], b"case", signal.SIGHUP),
    ],
)
def test_a_signal_ends_it_at_once_and_gives_the_terminal_back(
    case: Path, settings_file: Path, arguments: list[str], shows: bytes, number: signal.Signals
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
    assert not settings_file.exists()


def full(terminal: Terminal) -> None:
    """Have so much painted that the terminal, which is not read, takes nothing more; 200 keys follow."""
    more = 0
    while more < 200:
        terminal.send(F1)
        time.sleep(0.004)
        more += not terminal.takes_more()
    time.sleep(0.3)  # the next key is a person's again, no part of that flood


def test_what_a_terminal_did_not_take_is_painted_once_it_reads_again(case: Path):
    terminal = Terminal("replay", str(case))
    try:
        terminal.until(lambda: b"REPLAY" in terminal.seen)
        terminal.rest(0.3)
        full(terminal)
        key = letter_beside(each.key for each in REPLAY_KEYS).encode()
        terminal.send(key)
        time.sleep(1)
        terminal.until(lambda: key + b" does nothing here" in terminal.seen)
    finally:
        terminal.close()


@pytest.mark.parametrize(
    ("word", "shows", "leaves"), [("replay", b"REPLAY", b"q"), ("start", b"SMALL-1", b"\x11")]
)
def test_it_can_be_left_while_its_terminal_does_not_read(case: Path, word: str, shows: bytes, leaves: bytes):
    terminal = Terminal(word, str(case if word == "replay" else case.parent))
    try:
        terminal.until(lambda: shows in terminal.seen)
        terminal.rest(0.3)
        full(terminal)
        terminal.send(leaves)
        terminal.process.wait(PATIENCE)
        assert terminal.process.returncode == 0
    finally:
        terminal.close()
