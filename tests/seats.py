"""Somebody at a station of the real application over a real case file."""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

from cases import MORNING_MS, SetClock
from stations import entered, station
from textual import events
from textual.pilot import Pilot

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.plan import Plan
from orroom.case.terms import Role
from orroom.desk import Desk
from orroom.record.case_file import CaseFile
from orroom.screens.settings.clinic import Clinic
from orroom.screens.stations.app import OrroomApp
from orroom.screens.stations.over.counting import Counting
from orroom.screens.stations.station import StationScreen
from orroom.screens.stations.views.final_count import CountUnderWay
from orroom.screens.terminal.hands import DOUBLE_CLICK, QUIET

#: What keys with names type.
CHARACTERS = {"space": " ", "question_mark": "?", "full_stop": ".", "comma": ",", "enter": "\r", "minus": "-"}

#: A hand's pace: 9 taps a second on one key.
PACE = 1 / 9


class Seat:
    """Somebody at a station: presses keys, clicks on words, reads the screen.

    Keys are pressed as fast as the station takes them, and bear the times of a hand that presses them at
    ``PACE``, or ``apart`` where a test says so.
    """

    def __init__(self, app: OrroomApp, pilot: Pilot[None], clock: SetClock) -> None:
        self.app, self.pilot, self.clock = app, pilot, clock
        self.at = time.monotonic()

    @property
    def desk(self) -> Desk:
        return self.app.desk

    @property
    def screen(self) -> StationScreen:
        assert isinstance(self.app.screen, StationScreen)
        return self.app.screen

    @property
    def text(self) -> str:
        return self.screen.board.text

    @property
    def count(self) -> CountUnderWay | None:
        """The final count that is made here."""
        return self.screen.over.of(Counting).count

    async def press(self, *keys: str) -> None:
        for key in keys:
            await self.tap(key)
            await self.settle()

    async def tap(self, *keys: str, apart: float = PACE) -> None:
        """Press keys as a terminal tells them, without waiting for what comes of it."""
        for key in keys:
            self.at += apart
            event = events.Key(key, CHARACTERS.get(key, key if len(key) == 1 else None))
            event.time = self.at
            event.set_sender(self.app)
            self.app.post_message(event)
        await self.pilot.pause(0)

    async def rest(self) -> None:
        """Press nothing for long enough that a run is over."""
        await asyncio.sleep(QUIET + 0.1)
        self.at += 1
        await self.settle()

    async def type(self, text: str) -> None:
        await self.press(*("space" if each == " " else each for each in text))

    async def settle(self) -> None:
        """Until everything asked is on the disk and on the screen."""
        unchanged, shown = 0, None
        async with asyncio.timeout(10):
            while unchanged < 3:  # a key goes by the application to its screen, an answer by the loop to both
                still = self.desk.waiting or self.app.shared.keys
                unchanged = 0 if still or shown != self.text else unchanged + 1
                shown = self.text
                await self.pilot.pause(0.001)

    async def until(self, words: str) -> None:
        """Until these words are on the screen: something is worked out beside it."""
        async with asyncio.timeout(10):
            while words not in self.text:
                await asyncio.sleep(0.02)

    async def click(self, words: str, *, lowest: bool = False) -> None:
        """Click on the first place where ``words`` stand, or on the lowest one."""
        rows = list(enumerate(self.text.split("\n")))
        for row, line in reversed(rows) if lowest else rows:
            if words in line:
                await self.click_at(line.index(words) + 1, row)
                return
        raise AssertionError(f"{words!r} is not on the screen:\n{self.text}")

    async def click_at(self, column: int, row: int) -> None:
        """Click as a terminal tells it, by a hand that looks before it clicks."""
        self.at = max(self.at, time.monotonic()) + DOUBLE_CLICK + 0.5
        for kind in (events.MouseDown, events.MouseUp):
            event = kind(None, column, row, 0, 0, 1, False, False, False)
            event.time = self.at
            event.set_sender(self.app)
            self.app.post_message(event)
        await self.pilot.pause(0)
        await self.settle()

    def last(self) -> e.AnyEvent:
        return self.desk.state.log[-1].event


@asynccontextmanager
async def seated(
    case: Path,
    role: Role,
    who: str = "AB",
    size: tuple[int, int] = (80, 24),
    clinic: Clinic | None = None,
) -> AsyncIterator[Seat]:
    clock = SetClock(MORNING_MS)
    desk = Desk(CaseFile.open(case), role, who, clock)
    async with at(OrroomApp(desk, clinic=clinic), clock, size) as seat:
        yield seat


@asynccontextmanager
async def at(app: OrroomApp, clock: SetClock, size: tuple[int, int]) -> AsyncIterator[Seat]:
    """Somebody who has just sat down to a station; its desk is closed at the end."""
    try:
        async with app.run_test(size=size) as pilot:
            seat = Seat(app, pilot, clock)
            await seat.settle()
            yield seat
    finally:
        app.desk.close()


def harvested(case: Path) -> None:
    """Harvest A left the body half an hour before the morning; 60 twos and 40 ones wait in dishes."""
    with station(case, who="EF") as desk:
        entered(desk, c.StartHarvest(harvest="A", minutes_ago=30))
        entered(desk, c.CutGrafts(harvest="A", size="2", count=60))
        entered(desk, c.CutGrafts(harvest="A", size="1", count=40))


async def revised_unseen(seat: Seat, case: Path, plan: Plan) -> None:
    """Another station revises the plan, and the next key comes before that is painted."""
    seat.app.repaint = seat.screen.repaint = lambda: None
    with station(case, "overview", "EF") as desk:
        entered(desk, c.RevisePlan(plan=plan, reason="the day went otherwise"))
    async with asyncio.timeout(10):
        while seat.desk.state.plan != plan:
            await asyncio.sleep(0.005)


async def held(seat: Seat, key: str = "2", repeats: int = 22) -> None:
    """Hold a key down as a terminal tells it: once, again after 658 ms, then every 40 ms."""
    await seat.tap(key, apart=1)
    await seat.tap(key, apart=0.658)
    await seat.tap(*[key] * (repeats - 1), apart=0.04)
    await seat.rest()


def aside(seat: Seat) -> list[e.KeysSetAside]:
    return [entry.event for entry in seat.desk.state.log if isinstance(entry.event, e.KeysSetAside)]


async def by(seat: Seat, who: str) -> None:
    """Somebody who is not chosen from the staff."""
    await seat.press("0")
    await seat.rest()
    await seat.type(who)
    await seat.press("enter")


async def count(seat: Seat, who: str, *found: int) -> None:
    """One person's count: ones, twos, threes, multi-unit in their dishes; nothing with the placers."""
    await by(seat, who)
    for each in (*found, 0, 0, 0, 0):
        await seat.type(str(each))
        await seat.press("enter")
    await seat.rest()
    await seat.press("enter")
    await seat.rest()
    await seat.press("y")


async def both_count(seat: Seat, first: int, second: int) -> None:
    """Two people's counts: they find so many twos."""
    for who, twos in (("AB", first), ("CD", second)):
        await seat.rest()
        await seat.press("k")
        await count(seat, who, 40, twos, 0, 0)
