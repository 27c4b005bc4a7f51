"""The real program in a real terminal: starts, counts, leaves, and the taps are in the file."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from stations import new_case, read_case
from terminals import PATIENCE, Terminal

from orroom.case.events import GraftsCut, KeysSetAside, StationLeft
from orroom.screens.terminal.driver import STOPPED_SECONDS
from orroom.screens.terminal.hands import AFTER_STOP, QUIET

#: Seconds between the taps of one finger.
HANDS_PACE = 0.12


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
        terminal.rest(HANDS_PACE)
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
    terminal.type("2" * 7, apart=HANDS_PACE)
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


def left(case: Path) -> str | None:
    """How the last station was left; ``None`` if it was not."""
    event = read_case(case).log[-1].event
    return event.reason if isinstance(event, StationLeft) else None


def test_a_held_key_is_asked_about_and_left_out(case: Path, terminal: Terminal):
    terminal.until(lambda: b"CUTTING" in terminal.seen)
    terminal.type("2")
    terminal.rest(0.658)
    keys = 1
    while keys < 21 or b"set aside" not in terminal.seen:
        terminal.type("22", apart=0.04)
        terminal.rest(0.04)
        keys += 2

    def set_aside() -> list[KeysSetAside]:
        return [entry.event for entry in read_case(case).log if isinstance(entry.event, KeysSetAside)]

    def all_answered() -> bool:
        """A busy machine may break the run in two, or let repeats come as slowly as a hand's taps."""
        if b"set aside?" in terminal.seen:
            terminal.rest(QUIET + 0.1)
            terminal.type("n")
            terminal.seen = b""
        return sum(event.count for event in set_aside()) + cut(case, "2") == keys

    terminal.until(all_answered)
    assert all((event.cause, event.keys, event.counted) == ("held", "2", False) for event in set_aside())


#: What is no key, and what each of them did to the library's own driver.
NO_KEYS = {
    "invalid UTF-8": b"\xff",  # ended the program
    "kitty repeat": b"\x1b[49;1:2u",  # ended the program
    "kitty release": b"\x1b[49;1:3u",  # ended the program
    "unknown sequence": b"\x1b[99;99z",  # seven keys
    "size": b"\x1b[8;24;80t",
    "device attributes": b"\x1b[?64;1;2c",
    "colour, ended by ST": b"\x1b]11;rgb:1111/1111/1111\x1b\\",
    "colour, ended by BEL": b"\x1b]11;rgb:1111/1111/1111\x07",
    "version": b"\x1bP>|a terminal of some name and version (1.2.3)\x1b\\",
    "size zero, then the mouse": b"\x1b[48;0;0;0;0t\x1b[<35;1;1M",
    "size in band, as it is": b"\x1b[48;24;80;480;1280t",
    "size beyond all memory": b"\x1b[48;99999;99999;100;100t",
    "size too small to show": b"\x1b[48;5;5;50;50t",
    "broken off": b"\x1b[1;2",
}


def test_what_is_no_key_neither_ends_a_station_nor_counts(case: Path, terminal: Terminal):
    terminal.until(lambda: b"CUTTING" in terminal.seen)
    before = read_case(case).seq
    for number, data in enumerate(NO_KEYS.values(), 1):
        terminal.send(data)
        terminal.rest(0.3)
        terminal.type("2")
        terminal.until(lambda number=number: cut(case, "2") == number)
        terminal.rest(HANDS_PACE)
    assert terminal.process.poll() is None
    assert b"Too small" not in terminal.seen
    events = [entry.event for entry in read_case(case).log[before:]]
    assert events == [GraftsCut(harvest="A", size="2", count=1)] * len(NO_KEYS)


@pytest.mark.parametrize(
    ("number", "reason"),
    [
        (signal.SIGTERM, "stopped by a signal"),
        (signal.SIGINT, "stopped by a signal"),
        (signal.SIGHUP, "its terminal closed"),
    ],
)
def test_a_signal_ends_a_station_in_order(
    case: Path, terminal: Terminal, number: signal.Signals, reason: str
):
    terminal.until(lambda: b"CUTTING" in terminal.seen)
    terminal.type("2")
    terminal.until(lambda: cut(case, "2") == 1)
    terminal.seen = b""
    terminal.process.send_signal(number)
    terminal.until(lambda: terminal.process.poll() is not None)
    assert terminal.process.returncode == 128 + number
    terminal.rest(0.1)
    assert b"\x1b[?1049l" in terminal.seen  # the terminal has its own screen back
    assert left(case) == reason


def test_a_terminal_that_is_gone_ends_its_station(case: Path):
    terminal = Terminal("open", str(case), "--role", "cutting", "--who", "AB")
    try:
        terminal.until(lambda: b"CUTTING" in terminal.seen)
        os.close(terminal.master)
        assert terminal.process.wait(timeout=2.5) == 128 + signal.SIGHUP
    finally:
        terminal.process.kill()
        terminal.process.wait()
    assert left(case) == "its terminal closed"


def test_a_terminal_that_does_not_read_holds_up_no_end(case: Path, terminal: Terminal):
    terminal.until(lambda: b"CUTTING" in terminal.seen)
    for role in range(400):  # whole screens anew, unread, until the terminal is full
        terminal.send((b"\x1bOR", b"\x1bOQ")[role % 2])
        time.sleep(0.002)
    time.sleep(0.5)
    terminal.process.send_signal(signal.SIGTERM)
    assert terminal.process.wait(timeout=5) == 128 + signal.SIGTERM
    assert left(case) == "stopped by a signal"


def tap_and_read_nothing(terminal: Terminal, taps: int) -> None:
    """Tap 1, 2, 3, 1 … at a hand's pace, as the program reads it, and leave unread what is painted."""
    for number in range(taps):
        terminal.send(b"123"[number % 3 : number % 3 + 1])
        end = time.monotonic() + PATIENCE
        while not terminal.all_read():
            assert time.monotonic() < end, "the program reads no keys"
            time.sleep(0.005)
        time.sleep(HANDS_PACE)


def test_taps_at_a_terminal_that_does_not_read_are_committed_and_painted_when_it_reads(
    case: Path, terminal: Terminal
):
    taps = 60
    terminal.until(lambda: b"CUTTING" in terminal.seen)
    terminal.rest(0.5)
    tap_and_read_nothing(terminal, taps)
    end = time.monotonic() + 5
    while read_case(case).tally.held("cut") < taps and time.monotonic() < end:
        time.sleep(0.1)
    assert read_case(case).tally.held("cut") == taps
    terminal.seen = b""
    terminal.until(lambda: f"team {taps // 3}".encode() in terminal.seen)
    terminal.type("1")
    terminal.until(lambda: f"team {taps // 3 + 1}".encode() in terminal.seen)


def test_a_station_can_be_left_while_its_terminal_does_not_read(case: Path, terminal: Terminal):
    terminal.until(lambda: b"CUTTING" in terminal.seen)
    terminal.rest(0.5)
    tap_and_read_nothing(terminal, 60)
    terminal.send(b"\x1b[21~")  # F10
    time.sleep(1)
    terminal.send(b"y")
    terminal.process.wait(PATIENCE)
    assert terminal.process.returncode == 0
    assert isinstance(read_case(case).log[-1].event, StationLeft)
    assert read_case(case).tally.held("cut") == 60


def test_keys_typed_while_a_station_was_stopped_are_asked_about(case: Path, terminal: Terminal):
    terminal.until(lambda: b"CUTTING" in terminal.seen)
    terminal.process.send_signal(signal.SIGSTOP)
    terminal.rest(0.1)
    terminal.type("2")
    terminal.rest(STOPPED_SECONDS + 0.5)
    terminal.process.send_signal(signal.SIGCONT)
    terminal.until(lambda: b"Count 1 key set aside?" in terminal.seen)
    assert cut(case, "2") == 0
    terminal.rest(0.5)
    terminal.type("y")
    terminal.until(lambda: cut(case, "2") == 1)


def test_a_parent_that_is_killed_ends_its_station(case: Path):
    shell = ("sh", "-c", '"$@"; true', "sh")
    terminal = Terminal("open", str(case), "--role", "cutting", "--who", "AB", under=shell)
    try:
        terminal.until(lambda: b"CUTTING" in terminal.seen)
        terminal.process.kill()
        terminal.until(lambda: left(case) == "its terminal closed")
    finally:
        terminal.close()


def test_a_suspended_station_gives_the_terminal_back_and_goes_on(case: Path, terminal: Terminal):
    terminal.until(lambda: b"CUTTING" in terminal.seen)
    terminal.rest(0.2)
    terminal.seen = b""
    terminal.process.send_signal(signal.SIGTSTP)
    terminal.until(lambda: b"\x1b[?1049l" in terminal.seen)
    terminal.rest(0.2)
    terminal.seen = b""
    terminal.process.send_signal(signal.SIGCONT)
    terminal.until(lambda: b"\x1b[?1049h" in terminal.seen and b"CUTTING" in terminal.seen)
    terminal.rest(AFTER_STOP + 0.2)
    terminal.type("2")
    terminal.until(lambda: cut(case, "2") == 1)


def test_control_z_does_nothing(case: Path, terminal: Terminal):
    terminal.until(lambda: b"CUTTING" in terminal.seen)
    terminal.type("\x1a")
    terminal.rest(HANDS_PACE)
    terminal.type("2")
    terminal.until(lambda: cut(case, "2") == 1)


def test_a_station_in_a_terminal_that_is_not_utf_8_is_drawn_with_likenesses(
    case: Path, monkeypatch: pytest.MonkeyPatch
):
    for name, value in {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}.items():
        monkeypatch.setenv(name, value)
    ascii_only = Terminal("open", str(case), "--role", "cutting", "--who", "AB")
    try:
        ascii_only.until(lambda: b"team 0" in ascii_only.seen)
        ascii_only.until(lambda: b"-------" in ascii_only.seen)  # a rule
        assert b"\\u25" not in ascii_only.seen
        ascii_only.type("1")
        ascii_only.until(lambda: b"team 1" in ascii_only.seen)
        assert b"###" in ascii_only.seen  # a large figure
        ascii_only.process.terminate()
        ascii_only.until(lambda: ascii_only.process.poll() is not None)
        ascii_only.until(lambda: b"uses ascii, not UTF-8" in ascii_only.seen)
    finally:
        ascii_only.close()
