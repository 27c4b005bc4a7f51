"""A stall of the program, the terminal or the machine is no burst: which taps are asked about, and when."""

from __future__ import annotations

import re
import selectors
import signal
from collections.abc import Sequence
from pathlib import Path
from random import Random

import pyte
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from stations import new_case, read_case
from terminals import Terminal

from orroom.case.events import KeysSetAside
from orroom.screens.terminal import driver as terminals
from orroom.screens.terminal.driver import StationDriver
from orroom.screens.terminal.hands import CLOSE, Hands, Press, Run, Settled

#: From when to when something stood still, in seconds.
Stall = tuple[float, float]

#: Seconds between the taps of one finger, and how uneven they are.
APART, UNEVEN = 0.11, 0.012
MINUTE = 60.0


class Finding(selectors.SelectSelector):
    """A terminal that has keys to read at some looks, whatever the time; each look is asked for once."""

    def __init__(self, finds: Sequence[bool]) -> None:
        super().__init__()
        self._finds = iter(finds)

    def select(self, timeout: float | None = None) -> list[tuple[selectors.SelectorKey, int]]:
        return [(selectors.SelectorKey(0, 0, 0, None), selectors.EVENT_READ)] if next(self._finds) else []


class Watched(StationDriver):
    """The driver's own look at the time, without a terminal."""

    def __init__(self) -> None:
        self._looked_at = self._read_at = 0.0
        self._held_up = False

    def send_message(self, message: object) -> None:
        raise AssertionError("no stall here is so long that the station was stopped")

    def late(self, *finds: bool) -> tuple[bool, bool]:
        """Whether there were keys, and whether they came late, if the looks find this."""
        readable = self._wait(Finding(finds), self.patience)
        return readable, self._held_up

    @property
    def patience(self) -> float:
        return self._patience()


def test_what_waited_behind_a_late_look_that_found_nothing_came_late_too(monkeypatch: pytest.MonkeyPatch):
    """A signal ends the wait before it finds the keys; a tap that comes later is in time."""
    driver, times = Watched(), iter((1.0, 1.04, 2.0))
    monkeypatch.setattr(terminals.time, "monotonic", lambda: next(times))
    assert driver.late(False, True) == (True, True)
    assert driver.late(True) == (True, False)
    assert driver.late(False, False) == (False, True)


def over(at: float, stalls: Sequence[Stall]) -> float:
    """When what would happen at a moment happens, with these stalls."""
    for start, end in sorted(stalls):
        if start <= at < end:
            at = end
    return at


def sat_through(
    random: Random,
    taps: Sequence[float],
    stalls: Sequence[Stall],
    slow_terminal: Sequence[Stall],
    busy: float,
) -> Settled:
    """What comes of one key's taps, read as the input thread reads: it looks, sleeps, and is held up.

    ``busy`` is how long at most it waits for its turn, in seconds, however little happens.
    """
    now = 0.0
    hands, driver, settled, newest = Hands(), Watched(), (), 0.0
    waiting = sorted((over(at, slow_terminal), at) for at in taps)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(terminals.time, "monotonic", lambda: now)
        while waiting:
            turn = max(now, min(now + driver.patience, waiting[0][0])) + random.uniform(0, busy)
            now = over(turn, stalls)
            now += random.uniform(0, busy) if now > turn else 0  # all programs want the machine then
            _, late = driver.late(*[waiting[0][0] <= now] * 2)
            if hands.patience is not None and now - newest >= hands.patience:
                settled += hands.quiet()
            while waiting and waiting[0][0] <= now:
                _, pressed = waiting.pop(0)
                settled += hands.take(Press("2", "2", now, round(pressed * 1000), late=late))
                newest = now
    while hands.patience is not None:
        settled += hands.quiet()
    return settled


def asked_about(settled: Settled) -> list[float]:
    """When those that are asked about were pressed."""
    return [tap.at_ms / 1000 for each in settled if isinstance(each, Run) for tap in each.taps]


def outside(pressed: Sequence[float], stalls: Sequence[Stall], before: float, after: float) -> list[float]:
    """Which of these were pressed neither in a stall nor so long before or after one (all in whole ms)."""
    return [
        at
        for at in pressed
        if not any(start - before - 0.001 <= at <= end + after + 0.001 for start, end in stalls)
    ]


def tapped(random: Random) -> list[float]:
    return [1 + number * APART + random.uniform(-UNEVEN, UNEVEN) for number in range(int(MINUTE / APART))]


def some_stalls(random: Random, number: int) -> list[Stall]:
    """Stalls of 0.1 to 1.9 s, three seconds apart and more."""
    starts = [2 + each * MINUTE / number + random.uniform(0, 3) for each in range(number)]
    return [(start, start + random.uniform(0.1, 1.9)) for start in starts]


def meet(one: Stall, other: Stall) -> bool:
    return one[0] < other[1] + 0.2 and other[0] < one[1] + 0.2


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**9))
def test_what_came_while_the_station_stood_still_is_asked_about_once_and_no_tap_after_it(seed: int):
    """Five stations: the machine stands still for all of them, each program for itself, and all are busy."""
    random, busy = Random(seed), 0.03
    machine = some_stalls(random, 8)
    for _ in range(5):
        taps = tapped(random)
        stalls = machine + [
            own for own in some_stalls(random, 2) if not any(meet(own, each) for each in machine)
        ]
        settled = sat_through(random, taps, stalls, (), busy)
        asked = asked_about(settled)
        assert outside(asked, stalls, before=busy, after=busy) == []
        assert sum(isinstance(each, Run) for each in settled) <= len(stalls)
        passed = sum(isinstance(each, Press) for each in settled)
        known = sum(each.passed for each in settled if isinstance(each, Run))
        assert passed - known + len(asked) == len(taps)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**9))
def test_of_the_taps_after_a_terminals_stall_no_more_than_one_is_asked_about(seed: int):
    """The program cannot know that the terminal stood still: a tap right behind the burst goes with it."""
    random, busy = Random(seed), 0.01
    taps, stalls = tapped(random), some_stalls(random, 8)
    settled = sat_through(random, taps, (), stalls, busy)
    assert outside(asked_about(settled), stalls, before=0, after=CLOSE + busy) == []
    assert sum(isinstance(each, Run) for each in settled) <= len(stalls)


@pytest.mark.parametrize("taps_in_it", [3, 5, 14])
def test_a_program_that_was_stopped_asks_about_what_came_meanwhile_alone(tmp_path: Path, taps_in_it: int):
    """Somebody taps on through a stop of 0.3 to 1.5 s; every tap counts in the end, at the answer's y."""
    case = new_case(tmp_path / "case.orroom")
    all_taps = 2 + taps_in_it + 10

    def counted() -> int:
        return read_case(case).tally.held("cut")

    opened = Terminal("open", str(case), "--role", "cutting", "--who", "AB")
    try:
        opened.until(lambda: b"CUTTING" in opened.seen)
        opened.type("22", apart=APART)
        opened.until(lambda: read_case(case).tally.held("cut") == 2)
        opened.process.send_signal(signal.SIGSTOP)
        for _ in range(taps_in_it):
            opened.rest(APART)
            opened.send(b"2")
        opened.until(lambda: opened.unread() == taps_in_it)  # the system passes them on by itself
        opened.process.send_signal(signal.SIGCONT)
        opened.until(opened.all_read)
        for _ in range(10):
            opened.rest(APART)
            opened.type("2")
            opened.until(opened.all_read)
        opened.until(lambda: b"keys set aside?" in opened.seen or counted() == all_taps)
        if counted() == all_taps:  # read as slowly as a hand types: nothing to ask about
            return
        opened.rest(0.5)
        screen = pyte.Screen(80, 24)  # a number that has grown is painted only where it differs
        pyte.ByteStream(screen).feed(opened.seen)
        asked = int(re.findall(r"Count (\d+) keys set aside\?", "\n".join(screen.display))[-1])
        assert taps_in_it <= asked <= taps_in_it + 2  # a busy machine may hold the program up once more
        opened.type("y")
        opened.until(lambda: counted() == all_taps)
        aside = [each.event for each in read_case(case).log if isinstance(each.event, KeysSetAside)]
        assert aside == [KeysSetAside(cause="burst", keys="2", count=asked, counted=True)]
    finally:
        opened.close()
