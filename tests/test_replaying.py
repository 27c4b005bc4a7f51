"""The replay's screen: seeking, jumping, searching, by keys and by mouse; nothing can be entered."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
from cases import MINUTE_MS, opened_case
from stations import entered, read_case, station
from textual import events
from textual.pilot import Pilot

from orroom.case import commands as c
from orroom.case.replay import Moment, Replay
from orroom.case.terms import ROLES
from orroom.desk import record_all
from orroom.figures.curves import progress
from orroom.record.case_file import CaseFile
from orroom.record.events_file import read_events
from orroom.screens.replay import ReplayApp
from orroom.screens.views.painting import text_of, width_of
from orroom.screens.views.replay import Player, columns_of, replay_lines, time_at

SAMPLE = Path(__file__).parent.parent / "sample_cases" / "frontal-midscalp" / "events.jsonl"


@pytest.fixture
def case(tmp_path: Path) -> Path:
    """A case opened at 7:30: ones are cut for twenty minutes, a note, then too many are placed."""
    record = opened_case()
    record.enter(c.StartHarvest(lot="A"))
    for minute in range(20):
        record.wait(1)
        record.enter(c.CutGrafts(lot="A", size="1", count=4), at_ms=record.now_ms)
        if minute == 10:
            record.enter(c.AddNote(text="lamp changed"))
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=42))
    with CaseFile.create(tmp_path / "case.orroom") as case_file:
        record_all(case_file, list(record.state.log), "here")
    return tmp_path / "case.orroom"


class Viewer:
    """Somebody at the replay."""

    def __init__(self, app: ReplayApp, pilot: Pilot[None]) -> None:
        self.app, self.pilot = app, pilot

    @property
    def screen(self):
        return self.app.replay_screen

    @property
    def text(self) -> str:
        return self.screen.board.text

    async def press(self, *keys: str) -> None:
        names = {"space": " ", "slash": "/", "colon": ":"}
        for key in keys:
            self.app.post_message(events.Key(key, names.get(key, key if len(key) == 1 else None)))
            await self.pilot.pause()


@asynccontextmanager
async def replaying(case: Path, size: tuple[int, int] = (80, 24)) -> AsyncIterator[Viewer]:
    with CaseFile.open(case, read_only=True) as case_file:
        app = ReplayApp(case_file, "overview", "dark")
        async with app.run_test(size=size) as pilot:
            await pilot.pause()
            yield Viewer(app, pilot)


async def test_entries_are_stepped_through_and_jumped_to(case: Path):
    before = case.read_bytes()
    async with replaying(case) as player:
        assert "before the case was opened" in player.text
        await player.press("end")
        assert f"entry {len(read_case(case).log)} of" in player.text
        await player.press("home", "n")
        assert "entry 14 of" in player.text
        await player.press("left")
        assert "+4" in player.text
        await player.press("m")
        assert "2 placed over plan" in player.text
        await player.press("m")
        assert "no mismatch after this" in player.text
        await player.press("slash", *"lamp", "enter")
        assert "lamp changed" in player.text
        await player.press("home", "p")
        assert "07:45:02" in player.text  # wet the dishes, a quarter of an hour after the harvest
    assert case.read_bytes() == before


async def test_it_plays_at_a_speed_and_stops_at_the_end(case: Path):
    async with replaying(case) as player:
        await player.press(*["plus"] * 5, "space")
        assert player.screen.player.speed == 600
        async with asyncio.timeout(20):
            while player.screen.player.playing:
                await asyncio.sleep(0.05)
        assert "the end of the record" in player.text
        assert player.screen.player.at.seq == len(player.screen.replay.entries)


async def test_a_time_is_gone_to_and_what_is_none_is_said(case: Path):
    async with replaying(case) as player:
        await player.press("g", *"07", "colon", *"35", "enter")
        assert "07:35:00" in player.text
        await player.press("g", *"23", "colon", *"99", "enter")
        assert "is not in this record" in player.text
        await player.press("g", *"noon", "enter")
        assert "no time such as 10:42" in player.text


async def test_the_strip_and_the_keys_can_be_clicked(case: Path):
    async with replaying(case) as player:
        rows = player.text.split("\n")
        cut = next(row for row, text in enumerate(rows) if text.startswith(" cut "))
        await player.pilot.click(offset=(8 + columns_of(80) // 2, cut))
        await player.pilot.pause()
        half = player.screen.player.at.at_ms
        assert abs(half - (player.screen.replay.start_ms + player.screen.replay.end_ms) / 2) < MINUTE_MS


async def test_a_case_that_goes_on_is_followed(case: Path):
    async with replaying(case) as player:
        length = len(player.screen.replay.entries)
        with station(case, who="CD") as desk:
            entered(desk, c.AddNote(text="later"))
        async with asyncio.timeout(10):
            while len(player.screen.replay.entries) < length + 2:
                await asyncio.sleep(0.05)
        await player.press("slash", *"later", "enter")
        assert "note: later" in player.text


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (200, 60), (40, 12), (30, 10)])
@pytest.mark.parametrize("role", ROLES)
def test_every_place_of_a_full_day_can_be_shown_at_every_size(role, size: tuple[int, int]):
    replay = Replay(read_events(SAMPLE))
    width, height = size
    reached = progress(replay.state_at(len(replay.entries)), columns_of(width))
    for seq in (0, 1, 700, 2000, len(replay.entries)):
        at_ms = replay.time_of(seq) if seq else replay.start_ms
        player = Player(Moment(seq, at_ms), role=role, who="AB", width=width, height=height)
        lines = replay_lines(replay, reached, player)
        assert len(lines) == height
        assert all(width_of(each) <= width for each in lines)
        assert f"entry {seq:,}" in "\n".join(text_of(each) for each in lines) or height < 12


def test_the_ends_of_the_strip_are_the_ends_of_the_record():
    replay = Replay(read_events(SAMPLE))
    assert time_at(replay, 0, 80) == replay.start_ms
    assert time_at(replay, columns_of(80) - 1, 80) == replay.end_ms
