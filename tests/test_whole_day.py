"""A whole small case in a real terminal, from the start screen to the signed-off record."""

from __future__ import annotations

import shutil
import time
from collections.abc import Iterator
from pathlib import Path

import pyte
import pytest
from stations import read_case
from terminals import PATIENCE, Terminal

PLAN = Path(__file__).parent.parent / "sample_cases" / "two-lots" / "plan.toml"
CASE = "DEMO-0350"
#: A hand's pace; and after what a hand waits to see, so that a click is no double click.
TAP, LOOK = 0.16, 0.55


class Day(Terminal):
    """Somebody at the real program, who sees its screen and presses keys or clicks on words."""

    def __init__(self, *arguments: str) -> None:
        self.screen = pyte.Screen(80, 24)
        self._stream = pyte.ByteStream(self.screen)
        self._fed = 0
        super().__init__(*arguments)

    def read(self, until: float | None = None) -> None:
        super().read(until)
        self._stream.feed(self.seen[self._fed :])
        self._fed = len(self.seen)

    def sees(self, *words: str) -> None:
        """Wait until all of these are on the screen at once."""
        end = time.monotonic() + PATIENCE
        while not all(any(each in row for row in self.screen.display) for each in words):
            self.read()
            assert time.monotonic() < end, f"no {words} on\n" + "\n".join(self.screen.display)

    def keys(self, *keys: str) -> None:
        for key in keys:
            self.send(key.encode())
            self.until(self.all_read)
            self.rest(TAP)
        self.rest(LOOK)

    def click(self, words: str, *, times: int = 1, at: int = 1) -> None:
        """Press and release the left button where these words stand lowest, on the letter ``at``."""
        self.sees(words)
        row = max(number for number, text in enumerate(self.screen.display) if words in text)
        self.click_at(row, self.screen.display[row].index(words) + at, times)

    def click_at(self, row: int, column: int, times: int = 1) -> None:
        for _ in range(times):
            for ending in ("M", "m"):
                self.send(f"\x1b[<0;{column + 1};{row + 1}{ending}".encode())
            self.until(self.all_read)
            self.rest(TAP)
        self.rest(LOOK)


@pytest.fixture
def day(tmp_path: Path) -> Iterator[Day]:
    shutil.copy(PLAN, tmp_path / "plan.toml")
    day = Day("start", str(tmp_path))
    try:
        day.sees("No cases yet")
        day.rest(1)  # nobody clicks in the moment of the first paint, before the program listens
        yield day
    finally:
        day.close()


def holds(tmp_path: Path) -> None:
    """What both days come to: three cut, one taken back, one placed, and all that was left counted."""
    state = read_case(tmp_path / CASE / f"{CASE}.orroom")
    assert (state.tally.held("cut"), state.tally.held("placed"), state.tally.held("left_at_end")) == (2, 1, 1)
    assert state.tally.signed_off
    wetted = [entry.stamp.who for entry in state.log if getattr(entry.event, "care", None) == "wet"]
    assert wetted[-1] == "GH"
    counted = [entry.stamp.who for entry in state.log if entry.event.kind == "final_counted"]
    assert counted == ["AB", "CD"]
    signed = next(entry for entry in reversed(state.log) if entry.event.kind == "case_signed_off")
    assert (signed.stamp.who, signed.event.second) == ("AB", "CD")
    assert list((tmp_path / CASE).glob("*sealed*.orroom"))
    roles = [entry.event.role for entry in state.log if entry.event.kind == "station_joined"]
    assert roles == ["cutting", "placing", "overview"]


def test_a_day_by_keys_alone(  # noqa: PLR0915 - a day is long
    day: Day, tmp_path: Path
):
    day.keys("n")
    day.sees("from which plan")
    day.keys("1")
    day.sees("who opens it?")
    day.keys("4")
    day.sees(CASE, "cutting station")
    day.keys("1")
    day.keys("1")
    day.sees("CUTTING  initials AB")
    day.keys("h", "1", "0", "\r")
    day.sees("harvest A out")
    day.keys("1", "2", "2")
    day.sees("team 2")
    day.keys("u")
    day.sees("cancelled")
    day.keys("\x1b[21~", "y")  # F10
    day.sees("placing station", "2 usable")
    day.keys("2", "1")
    day.sees("PLACING  initials GH")
    day.keys("1", "\r")
    day.sees("1 one → hairline left")
    day.keys(" ", "1")
    day.sees("wet the dishes")
    day.keys("\x1b[21~", "y")
    day.sees("1 placed")
    day.keys("3")
    day.sees("OVERVIEW", "LEFT TO PLACE")
    day.keys("y")
    day.sees("RE-PLAN")
    day.sees("dismiss")
    day.keys("\x1b")
    for who, second in (("1", False), ("1", True)):
        day.keys("k")
        day.sees("second count" if second else "Who counts?")
        day.keys(who)
        day.sees("FINAL COUNT by")
        for found in ("0", "1", "0", "0", "0", "0"):
            day.keys(found, "\r")
        day.keys("\r")
        day.sees("Enter this count?")
        day.keys("y")
        day.sees("count saved")
    day.sees("all agree")
    day.keys("g")
    day.sees("what becomes of")
    day.keys("1")
    day.sees("kept in solution for another day", "all agree")
    day.keys("o")
    for _ in range(5):
        day.sees("said aloud")
        day.keys("y")
    day.sees("Signed by")
    day.keys("1")
    day.keys("1")
    day.sees("signed off", "locked copy")
    day.keys("\x1b[21~", "y")
    day.sees("signed off", "summary")
    day.keys("\x1b")
    day.sees("new case")
    day.keys("\x1b[21~")
    day.until(lambda: day.process.poll() is not None)
    assert day.process.returncode == 0
    holds(tmp_path)


def test_a_day_by_mouse_alone(  # noqa: PLR0915 - a day is long
    day: Day, tmp_path: Path
):
    day.click("new case")
    day.click(CASE)
    day.click("NP   opens the case")
    day.click("cutting station")
    day.click("AB ")
    day.sees("CUTTING  initials AB")
    day.click(" h harvest ")
    day.click("harvest A starts")
    day.click(" 0 ")
    day.click("Enter")
    day.sees("harvest A out")
    day.click("1  ones")
    day.click("2  twos", times=2)
    day.sees("team 2")
    day.click("undo")
    day.sees("cancelled")
    _leave(day)
    day.click("placing station")
    day.click("GH ")
    day.sees("PLACING  initials GH")
    day.click("0 1 2", at=2)
    day.click("Enter place")
    day.sees("1 one → hairline left")
    day.click("prompt done")
    day.click("wet the dishes ")
    day.sees("wet the dishes")
    _leave(day)
    day.sees("1 placed")
    day.click("overview")
    day.sees("OVERVIEW", "LEFT TO PLACE")
    for who in ("AB", "CD"):
        _by_help(day, "blind count of all")
        day.click(who)
        day.sees("FINAL COUNT by")
        for found in (" 0  ", " 1  ", " 0  ", " 0  ", " 0  ", " 0  "):
            day.click(found)
            day.click("Enter")
        day.click("Enter all counted")
        day.click("yes")
        day.sees("count saved")
    day.sees("all agree")
    day.click("g what is left")
    day.click("left over")
    day.click("sign off")
    for _ in range(5):
        day.sees("said aloud")
        day.click("y said")
    day.sees("Signed by")
    day.click("AB")
    day.click("CD")
    day.sees("signed off", "locked copy")
    _leave(day)
    day.sees("signed off", "summary")
    day.click("Esc back")
    day.click("F10 leave")
    day.until(lambda: day.process.poll() is not None)
    assert day.process.returncode == 0
    holds(tmp_path)


def _by_help(day: Day, *words: str) -> None:
    """Click on a key in the help, whichever page it is on, by any of these words."""
    day.click("F1 ")
    for _ in range(9):
        if any(each in row for row in day.screen.display for each in words):
            break
        day.click("next page")
    row, said = next((n, each) for n, text in enumerate(day.screen.display) for each in words if each in text)
    day.click_at(row, day.screen.display[row].index(said) - 3)


def _leave(day: Day) -> None:
    _by_help(day, "leave; the case", "leave the station")
    day.click("leave")
