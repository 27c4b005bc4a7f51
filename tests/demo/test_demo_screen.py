"""The demo at a station: it says what it is, asks nothing when it is left, and ends with its day."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from pathlib import Path

import pytest
from cases import MORNING_MS, SetClock
from seats import Seat
from stations import new_case

from orroom.demo.start import demo_plan, start_demo
from orroom.desk import Desk
from orroom.record.case_file import CaseFile
from orroom.screens.stations import app as stations
from orroom.screens.stations.app import OrroomApp
from orroom.screens.stations.shared import Demo


class Day:
    """A day that is over when a test says so."""

    over = False

    def is_over(self) -> bool:
        return self.over


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    made = Desk(CaseFile.open(new_case(tmp_path / "demo.orroom")), "overview", "YO", SetClock(MORNING_MS))
    yield made
    made.close()


async def left(app: OrroomApp) -> None:
    async with asyncio.timeout(10):
        while app.is_running:
            await asyncio.sleep(0.01)


async def test_it_says_what_it_is_and_one_key_ends_it(desk: Desk):
    app = OrroomApp(desk, demo=Demo("A simulated team", Day().is_over))
    async with app.run_test(size=(80, 24)) as pilot:
        seat = Seat(app, pilot, SetClock(MORNING_MS))
        await seat.settle()
        assert "A simulated team" in seat.text
        await seat.tap("f10")
        await left(app)


async def test_it_ends_by_itself_when_its_day_is_over(desk: Desk, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(stations, "DEMO_END_SECONDS", 0.2)
    day = Day()
    app = OrroomApp(desk, demo=Demo("A simulated team", day.is_over))
    async with app.run_test(size=(80, 24)) as pilot:
        seat = Seat(app, pilot, SetClock(MORNING_MS))
        await seat.settle()
        app._tick()
        assert "is over" not in seat.text
        day.over = True
        app._tick()
        assert "The demo's day is over" in seat.text
        await left(app)


def test_the_day_is_over_with_the_last_turn(tmp_path: Path):
    case_file, team = start_demo(
        tmp_path / "demo.orroom", demo_plan(), seed=417, speed=60, skip_minutes=24 * 60
    )
    team._thread.join(20)
    assert team.done
    case_file.close()
    case_file, team = start_demo(tmp_path / "again.orroom", demo_plan(), seed=417, speed=1, skip_minutes=60)
    assert not team.done
    team.stop()
    case_file.close()
