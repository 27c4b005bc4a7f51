"""More than any person sends: a bounded part of it is read, the rest is a number, and the next tap counts."""

from __future__ import annotations

import os
import re
import select
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from random import Random

import pytest
from drivers import Hours, driver, told
from hypothesis import given
from hypothesis import strategies as st
from seats import seated
from stations import new_case, read_case
from terminals import PATIENCE, Terminal
from textual import events
from textual.message import Message

from orroom.case.events import KeysSetAside
from orroom.screens.terminal.flood import MOST_AT_ONCE, Allowance, Unread, last_moves, passed_over
from orroom.screens.terminal.hands import Hands, Press, Run
from orroom.screens.terminal.key_parser import PASTE_CHARACTERS, StationParser

READ = 4096


class Station:
    """What the input thread asks of a station: how many messages wait there."""

    message_queue_size = 0


@pytest.fixture
def hours(monkeypatch: pytest.MonkeyPatch) -> Hours:
    return Hours(monkeypatch)


def reads(
    monkeypatch: pytest.MonkeyPatch, hours: Hours, texts: Iterable[str], apart: float = 0.002
) -> list[Message]:
    """What the input thread passes on of these reads, so many seconds apart; the last comes after a pause."""
    made, _, messages = driver(monkeypatch)
    monkeypatch.setattr(made, "_station", Station(), raising=False)
    monkeypatch.setattr(made, "send_message", messages.append)
    parser = StationParser()
    *flood, last = texts
    for text in (*flood, last):
        hours.now += apart if text is not last else 0.4
        made._looked_at = hours.now
        parser.came()
        parser = made._take_in(parser, last_moves(text))
    return messages


def in_reads(text: str) -> list[str]:
    return [text[at : at + READ] for at in range(0, len(text), READ)]


#: Some of what may come without end; 200,000 characters of each.
FLOODS: dict[str, str] = {
    "text": "the quick brown fox 123 " * 8400,
    "random": Random(1).randbytes(200_000).decode("utf-8", "replace"),
    "arrows": "\x1b[A" * 67_000,
    "clicks": "\x1b[<0;10;10M\x1b[<0;10;10m" * 9100,
    "moves": "".join(f"\x1b[<35;{number % 80 + 1};9M" for number in range(18_000)),
    "Esc": "\x1b" * 200_000,
    "broken-off sequences": "\x1b[1;2" * 40_000,
    "pastes": "\x1b[200~2\x1b[201~" * 15_000,
    "focus": "\x1b[I\x1b[O" * 33_000,
    "one endless paste": "\x1b[200~" + "2" * 200_000,
    "one endless text": "\x1b]11;" + "2" * 200_000,
}


@pytest.mark.parametrize("flood", FLOODS.values(), ids=FLOODS)
def test_of_a_flood_a_bounded_part_is_read_and_the_next_tap_is(
    monkeypatch: pytest.MonkeyPatch, hours: Hours, flood: str
):
    texts = in_reads(flood)
    messages = reads(monkeypatch, hours, [*texts, "3"])
    numbers = [each for each in messages if isinstance(each, Unread)]
    assert len(messages) - len(numbers) <= MOST_AT_ONCE + 1
    assert len(numbers) <= 1  # each number wakes the event loop, and the flood would wait for it
    assert told(messages[-1:]) == [("3", "3")]


def test_no_key_of_a_flood_of_text_is_lost_from_the_number(monkeypatch: pytest.MonkeyPatch, hours: Hours):
    messages = reads(monkeypatch, hours, [*in_reads(FLOODS["text"]), ""])
    keys = sum(isinstance(each, events.Key) for each in messages)
    assert keys + sum(each.count for each in messages if isinstance(each, Unread)) == len(FLOODS["text"])


def test_taps_at_a_hands_pace_behind_a_flood_are_read_again():
    allowance, at = Allowance(), 0.0
    for _ in range(3000):
        allowance.came(at, READ)
        while not allowance.spent:
            allowance.takes(events.Key("2", "2"))
        at += 0.001
    taken = []
    for _ in range(20):
        at += 0.11
        allowance.came(at, 1)
        taken.append(allowance.takes(events.Key("2", "2")))
    assert taken == [True] * 20


@pytest.mark.parametrize(
    ("per_second", "key"),
    [(12, events.Key("2", "2")), (50, events.Key("2", "2")), (24, events.Key("up", None))],
)
def test_neither_hands_nor_a_held_key_ever_spend_the_allowance(per_second: int, key: events.Key):
    allowance = Allowance()
    for number in range(per_second * 600):
        allowance.came(number / per_second, 1)
        allowance.read()
        assert allowance.takes(key)


def test_what_a_flood_is_passed_over_up_to():
    assert passed_over("abc", 0) == (3, 3)
    assert passed_over("a\x1b[A\x1b[1;5Cb", 0) == (11, 4)
    assert passed_over("ab\x1b[200~22", 0) == (2, 2)  # a paste is read as one
    assert passed_over("ab\x1b]11;", 0) == (2, 2)  # as is a text for the program
    assert passed_over("\x1b[12", 0) == (0, 0)  # it goes on in the next read


def test_of_the_mouses_moves_the_last_of_each_row_is_kept():
    move, other, down = "\x1b[<35;1;1M", "\x1b[<35;9;9M", "\x1b[<0;9;9M"
    assert last_moves(move * 5 + other + down + move * 3 + other + "2") == f"{other}{down}{other}2"


PIECES = ("\x1b[200~", "\x1b[201~", "\x1b[20", "\x1b]", "\x1b\\", "\x07", "\x1b[A", "\x1b", *"1~2a")


def pasted(found: Iterable[Message]) -> list[str]:
    return [each.text for each in found if isinstance(each, events.Paste)]


@given(st.lists(st.sampled_from(PIECES), max_size=30), st.integers(1, 7))
def test_what_is_swallowed_at_once_is_what_is_swallowed_one_by_one(pieces: list[str], size: int):
    """Wherever the reads break it: a paste ends where it ends."""
    text = "".join(pieces)
    with pytest.MonkeyPatch.context() as monkeypatch:
        hours = Hours(monkeypatch)
        cut = [text[at : at + size] for at in range(0, len(text), size)]
        at_once = reads(monkeypatch, hours, [*cut, ""], apart=0.0)
        parser = StationParser()
        parser.came()
        one_by_one = [message for character in text for message in parser.feed(character)]
    assert told(at_once) == told(one_by_one)
    assert pasted(at_once) == pasted(one_by_one)


def test_no_more_of_a_paste_is_kept_than_that(monkeypatch: pytest.MonkeyPatch, hours: Hours):
    text = "\x1b[200~" + "2" * (3 * PASTE_CHARACTERS) + "\x1b[201~3"
    paste, tap = reads(monkeypatch, hours, [*in_reads(text), ""])
    assert isinstance(paste, events.Paste)
    assert len(paste.text) <= PASTE_CHARACTERS
    assert told([tap]) == [("3", "3")]


def press(at: float, key: str = "2") -> Press:
    return Press(key, key, at, round(at * 1000))


def test_what_nobody_read_goes_on_with_a_run_or_is_one():
    hands = Hands()
    for number in range(5):
        hands.take(press(10 + number * 0.001))
    hands.unread(press(10.01, ""), 700)
    (run,) = hands.quiet()
    assert isinstance(run, Run)
    assert (len(run.taps), run.more, run.cause) == (5, 700, "burst")
    hands.unread(press(20.0, ""), 3)
    found = [*hands.take(press(20.1)), *hands.take(press(20.21)), *hands.take(press(20.32))]
    assert found == [Run((), 0, 3), press(20.1), press(20.21), press(20.32)]


async def test_the_key_that_leaves_asks_nothing_in_a_burst(tmp_path: Path):
    case = new_case(tmp_path / "case.orroom")
    async with seated(case, "cutting") as seat:
        await seat.tap("1", "2", "3", "ctrl+q", "4", apart=0.001)
        await seat.rest()
        assert "Leave this station?" not in seat.text
        assert "Count 5 keys set aside?" in seat.text


def most_memory_mb(pid: int) -> int:
    status = Path(f"/proc/{pid}/status").read_text(encoding="ascii")
    found = re.search(r"VmHWM:\s+(\d+) kB", status)
    assert found is not None
    return int(found[1]) // 1024


def send_all(opened: Terminal, data: bytes) -> None:
    """Send as fast as the program reads, reading what it paints."""
    os.set_blocking(opened.master, False)
    while data:
        readable, writable, _ = select.select([opened.master], [opened.master], [], PATIENCE)
        assert readable or writable, "the program neither reads nor paints"
        if readable:
            opened.read()
        if writable:
            with suppress(BlockingIOError):
                data = data[os.write(opened.master, data[:65536]) :]
    os.set_blocking(opened.master, True)


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="the system tells no program's memory")
@pytest.mark.parametrize("data", [b"zq " * 300_000, Random(2).randbytes(900_000)], ids=["text", "random"])
def test_a_megabyte_at_a_terminal_takes_little_memory_and_the_next_tap_counts(tmp_path: Path, data: bytes):
    case = new_case(tmp_path / "case.orroom")
    opened = Terminal("open", str(case), "--role", "cutting", "--who", "AB")
    try:
        opened.until(lambda: b"CUTTING" in opened.seen)
        before = most_memory_mb(opened.process.pid)
        send_all(opened, data)
        opened.until(lambda: b"too many to count: ignored" in opened.seen)
        opened.rest(0.3)
        opened.type("3")
        opened.until(lambda: read_case(case).tally.held("cut", "3") == 1)
        assert read_case(case).tally.held("cut") == 1
        assert most_memory_mb(opened.process.pid) - before < 100
        aside = [each.event for each in read_case(case).log if isinstance(each.event, KeysSetAside)]
        assert sum(each.count for each in aside) > len(data) // 2
    finally:
        opened.close()
