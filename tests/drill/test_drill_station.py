"""Drills at the real stations, by keys: every kind and level, with everything that is built in."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
from cases import SetClock
from seats import Seat, at, held

from orroom.desk import Desk
from orroom.drill.case import ROLES, start_drill
from orroom.drill.making import sheet_of
from orroom.drill.score import score
from orroom.drill.sheet import KINDS, LEVELS, Item, Kind, Line, Sheet
from orroom.drill.words import station_line
from orroom.figures.prompts import prompts
from orroom.record.case_clock import case_clock
from orroom.record.verify import verify
from orroom.screens.stations.app import OrroomApp
from orroom.screens.stations.placing import PlacingScreen
from orroom.screens.stations.shared import Lesson
from orroom.screens.terminal.keys import Keys

#: The keys of sizes; ``DROPPED`` is the last of the reasons.
SIZE_KEYS = {"1": "1", "2": "2", "3": "3", "M": "5"}
DROPPED = "5"
LINE_SECONDS = 3


class Trainee:
    """Somebody who enters a sheet by keys, line after line, and answers prompts as they come."""

    def __init__(self, seat: Seat, sheet: Sheet) -> None:
        self.seat, self.sheet = seat, sheet
        self.answered = 0

    async def enter_all(self, lines: int | None = None) -> None:
        for number, line in enumerate(self.sheet.lines[:lines], 1):
            self.seat.clock.at_ms += LINE_SECONDS * 1000
            self.seat.at += LINE_SECONDS
            if self.sheet.kind != "count":
                await self.answer()
            await {"cutting": self.cut, "placing": self.place, "count": self.count}[self.sheet.kind](
                line, number
            )

    async def answer(self) -> None:
        if any(each.late_ms >= 0 for each in prompts(self.seat.desk.state, self.seat.clock.at_ms)):
            self.seat.app.repaint()
            await self.seat.press("space")
            await self.seat.rest()
            self.answered += 1

    async def cut(self, line: Line, number: int) -> None:
        if line.struck:
            await self.seat.press(SIZE_KEYS[line.struck.size])
            return
        if line.fault in ("undo", "wrong size"):
            await self.seat.press("u")
            await self.seat.rest()
        for item in line.asks:
            key = SIZE_KEYS[item.size]
            if item.does == "spoilt":
                await self.seat.press("x", DROPPED)
            if line.fault == "held key":
                await held(self.seat, key)
                await self.seat.press("n")
            else:
                await self.seat.press(key)

    async def place(self, line: Line, number: int) -> None:
        if line.struck:
            await self.batch(line.struck)
        elif line.fault == "undo":
            await self.seat.press("u")
        elif line.fault == "wrong zone":
            await self.seat.press("m", "1")
            await self.seat.rest()
            await self.seat.press(self.zone_key(line.asks[0]))
        for item in () if line.fault == "wrong zone" else line.asks:
            if item.does == "discarded":
                await self.go_to(item)
                await self.seat.press("x")
                await self.seat.rest()
                await self.seat.press(DROPPED)
            elif line.fault == "held key":
                await self.go_to(item)
                await self.seat.type(str(item.count))
                await held(self.seat, "enter")
                if self.seat.screen.glance.doubt is not None:
                    await self.seat.press("n")
            else:
                await self.batch(item)

    async def batch(self, item: Item) -> None:
        """A batch without looking at the cursor's column: its number, a full stop, its size."""
        await self.go_to(item, column=False)
        await self.seat.type(str(item.count))
        await self.seat.press("full_stop", SIZE_KEYS[item.size])

    async def go_to(self, item: Item, *, column: bool = True) -> None:
        screen = self.seat.screen
        assert isinstance(screen, PlacingScreen)
        if item.lane is not None:
            await self.seat.press(item.lane)
        if item.zone is not None:
            await self.seat.press("asterisk", self.zone_key(item))
        sizes = list(self.seat.desk.state.plan.size_by_key)
        while column and (apart := sizes.index(item.size) - screen.glance.size):
            await self.seat.press("right" if apart > 0 else "left")

    def zone_key(self, item: Item) -> str:
        zones = [each.key for each in self.seat.desk.state.plan.zones]
        return str(zones.index(item.zone or "") + 1)

    async def count(self, line: Line, number: int) -> None:
        if self.seat.count is None and (line.asks or line.struck):
            await self.answer()
            await self.seat.press("k")
            await self.seat.rest()
            people = [each.initials for each in self.seat.desk.state.plan.staff]
            second = line.asks[0].by == 2 if line.asks else False
            offered = [each for each in people if not second or each != "RS"]
            await self.seat.press(str(offered.index("TU" if second else "RS") + 1))
            await self.seat.rest()
        if line.struck is not None:
            await self.found(line.struck, hold=False)
        elif len(line.asks) == 1 and not line.says.startswith("all others"):
            await self.found(line.asks[0], hold=line.fault == "held key")
        elif line.asks or line.says.startswith("all others"):
            await self.rest_none()

    async def found(self, item: Item, *, hold: bool) -> None:
        count = self.seat.count
        assert count is not None
        at = next(
            number
            for number, each in enumerate(count.groups)
            if (each.size, each.harvest, each.place) == (item.size, item.harvest, item.place)
        )
        while apart := at - count.at:
            await self.seat.press("down" if apart > 0 else "up")
        *digits, last = str(item.count)
        await self.seat.press(*digits)
        if hold:
            await held(self.seat, last)
            await self.seat.press("n")
            assert count.typed == str(item.count)
        else:
            await self.seat.press(last)
        await self.seat.press("enter")

    async def rest_none(self) -> None:
        count = self.seat.count
        assert count is not None
        if count.rest:
            await self.seat.press("z")
            await self.seat.rest()
            await self.seat.press("y")
        for number, group in enumerate(count.groups):
            if group not in count.found:
                while apart := number - count.at:
                    await self.seat.press("down" if apart > 0 else "up")
                await self.seat.press("0", "enter")
        await self.seat.rest()
        await self.seat.press("enter")
        await self.seat.rest()
        await self.seat.press("y")
        await self.seat.rest()
        await self.answer()


@asynccontextmanager
async def at_a_drill(folder: Path, sheet: Sheet, size: tuple[int, int] = (80, 24)) -> AsyncIterator[Seat]:
    case_file = start_drill(folder / "drill.orroom", sheet)
    clock = SetClock(case_clock(case_file).now_ms())
    desk = Desk(case_file, ROLES[sheet.kind], "YO", clock)
    lesson = Lesson(lambda _, key_of: station_line(sheet, key_of("leave")), "End the drill?")
    app = OrroomApp(desk, lesson=lesson)
    async with at(app, clock, size) as seat:
        yield seat


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("kind", KINDS)
async def test_a_sheet_entered_by_keys_as_it_is_read_scores_no_slip(kind: Kind, level: int, tmp_path: Path):
    sheet = sheet_of(kind, level, 7)
    async with at_a_drill(tmp_path, sheet) as seat:
        trainee = Trainee(seat, sheet)
        await trainee.enter_all()
        found = score(sheet, seat.desk.state)
        assert [(each.kind, each.line) for each in found.slips] == []
        assert (found.asked, found.left, found.unanswered) == (len(sheet.asked()), None, 0)
        assert found.wait is not None
        if level > 1:
            assert trainee.answered >= 1
            assert found.answer is not None
            assert found.answer.of == trainee.answered
        await seat.rest()
        await seat.press("f10")
        assert "End the drill?" in seat.text
    assert verify(tmp_path / "drill.orroom").intact


async def test_a_held_key_that_is_counted_after_all_is_found(tmp_path: Path):
    sheet = sheet_of("cutting", 1, 7)
    async with at_a_drill(tmp_path, sheet) as seat:
        trainee = Trainee(seat, sheet)
        await trainee.enter_all(lines=2)
        await seat.rest()
        await held(seat, SIZE_KEYS[sheet.lines[2].asks[0].size], repeats=10)
        await seat.press("y")
        await seat.rest()
        for line in sheet.lines[3:]:
            seat.at += LINE_SECONDS
            await trainee.cut(line, 0)
        found = score(sheet, seat.desk.state)
        assert {each.kind for each in found.slips} == {"doubled"}
        assert len(found.slips) == 10


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (40, 12)])
@pytest.mark.parametrize("kind", KINDS)
async def test_a_station_says_all_the_time_that_it_is_a_drill(
    kind: Kind, size: tuple[int, int], tmp_path: Path
):
    sheet = sheet_of(kind, 2, 7)
    async with at_a_drill(tmp_path, sheet, size) as seat:
        said = station_line(sheet, Keys.standard().shown(ROLES[kind], "leave"))
        assert said in " ".join(seat.text.split())
        if kind == "count":
            await seat.press("k")
            await seat.rest()
            await seat.press("1")
            await seat.rest()
            assert seat.count is not None
            assert said in " ".join(seat.text.split())
            assert "▌" in seat.text
        for key, role in (("f2", "CUTTING"), ("f3", "PLACING"), ("f4", "OVERVIEW")):
            if kind != "count":
                await seat.press(key)
                assert role in seat.text
                assert "DRILL" in seat.text
