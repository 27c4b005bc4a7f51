"""The replay's screen: seeking, jumping, searching, following, by keys and by mouse; nothing is entered."""

from __future__ import annotations

import asyncio
import hashlib
import sqlite3
import time
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, closing
from pathlib import Path

import pytest
from cases import MINUTE_MS, UNCOUNTED, SetClock, case_under_way, opened_case, small_plan
from msgspec.structs import replace
from stations import entered, new_case, read_case, station
from textual import events
from textual.pilot import Pilot

from orroom.case import commands as c
from orroom.case.events import CountedGroup
from orroom.case.final_count import groups_to_count
from orroom.case.landmarks import Moment
from orroom.case.replay import Replay
from orroom.cli.stations import replayed
from orroom.errors import OrroomError
from orroom.record.case_file import CaseFile
from orroom.record.events_file import read_events
from orroom.recording import record_all
from orroom.screens.replay.keys import KEYS, LANDMARK_WORDS, VIEWS, View
from orroom.screens.replay.lines import replay_lines
from orroom.screens.replay.player import Player
from orroom.screens.replay.screen import ReplayScreen, replay_app
from orroom.screens.replay.strip import NAME, columns_of, strip_of
from orroom.screens.terminal.board import Board
from orroom.screens.terminal.board_app import BoardApp
from orroom.screens.terminal.buttons import Button, Click
from orroom.screens.terminal.painting import text_of, width_of

SAMPLE = Path(__file__).parents[2] / "sample_cases" / "frontal-midscalp" / "events.jsonl"
SIZES = [(80, 24), (120, 40), (200, 60), (40, 12), (30, 10)]


def on_disk(path: Path, record) -> Path:
    with CaseFile.create(path) as case_file:
        record_all(case_file, list(record.state.log), "here")
    return path


@pytest.fixture
def case(tmp_path: Path) -> Path:
    """A case opened at 7:30: ones are cut for twenty minutes, a note, then too many are placed."""
    record = opened_case()
    record.enter(c.StartHarvest(harvest="A"))
    for minute in range(20):
        record.wait(1)
        record.enter(c.CutGrafts(harvest="A", size="1", count=4), at_ms=record.now_ms)
        if minute == 10:
            record.enter(c.AddNote(text="lamp changed"))
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=42))
    return on_disk(tmp_path / "case.orroom", record)


class Viewer:
    """Somebody at the replay."""

    def __init__(self, app: BoardApp[OrroomError], pilot: Pilot[None]) -> None:
        self.app, self.pilot = app, pilot

    @property
    def screen(self) -> ReplayScreen:
        return self.app.shown

    @property
    def player(self) -> Player:
        return self.screen.player

    @property
    def text(self) -> str:
        return self.screen.board.text

    async def until(self, true: Callable[[], object]) -> None:
        async with asyncio.timeout(15):
            while not true():
                await asyncio.sleep(0.02)

    async def press(self, *keys: str) -> None:
        names = {"space": " ", "slash": "/", "colon": ":"}
        for key in keys:
            self.app.post_message(events.Key(key, names.get(key, key if len(key) == 1 else None)))
            await self.pilot.pause()

    async def click_on(self, text: str) -> None:
        rows = self.text.split("\n")
        row = next(number for number, each in enumerate(rows) if text in each)
        await self.pilot.click(offset=(rows[row].index(text) + 1, row))
        await self.pilot.pause()


@asynccontextmanager
async def replaying(
    case: Path, size: tuple[int, int] = (80, 24), view: View = "overview"
) -> AsyncIterator[Viewer]:
    with CaseFile.open(case, read_only=True) as case_file:
        app = replay_app(case_file, view, "dark")
        async with app.run_test(size=size) as pilot:
            viewer = Viewer(app, pilot)
            await viewer.until(lambda: viewer.screen.ready)
            await pilot.pause()
            yield viewer


async def test_entries_are_stepped_through_and_jumped_to(case: Path):
    async with replaying(case) as at:
        assert "before the case was opened" in at.text
        await at.press("end")
        assert f"entry {len(read_case(case).log)} of" in at.text
        await at.press("home", "n")
        assert "entry 14 of" in at.text
        assert "note, 1 of 1" in at.text
        await at.press("left")
        assert "+4" in at.text
        await at.press("m")
        assert "2 ones placed over plan" in at.text
        await at.press("m")
        assert "no mismatch after this" in at.text
        await at.press("home", "p")
        assert "07:45:02" in at.text  # wet the dishes, a quarter of an hour after the harvest
        await at.press("end", "pageup")
        assert at.player.at.seq == 0


def test_the_time_of_day_is_the_cases_own_before_its_first_entry_too():
    replay = full_day()  # opened at 8:00 by its own clock, an hour before universal time
    strip = strip_of(replay, 80)
    for seq in (0, 1):
        player = Player(Moment(seq, replay.time_of(seq)), "overview")
        text = "\n".join(text_of(each) for each in replay_lines(replay, strip, player))
        assert "08:00:00  0 min since start" in text


async def test_a_capital_goes_to_the_one_before(case: Path):
    async with replaying(case) as at:
        await at.press("end", "N")
        assert "entry 14 of" in at.text
        await at.press("N")
        assert "no note before this" in at.text
        await at.press("end", "P")
        assert "prompt due" in at.text
        assert at.player.at.at_ms < at.screen.playback.replay.end_ms


async def test_hits_of_a_search_are_gone_through_both_ways(case: Path):
    async with replaying(case) as at:
        await at.press("h")
        assert "search first" in at.text
        await at.press("slash", *"lamp", "enter")
        assert "1 of 1  AB: note: lamp changed" in at.text
        await at.press("home", "slash", *"ones", "enter")
        assert "1 of 21" in at.text
        await at.press("h")
        assert "2 of 21" in at.text
        await at.press("H", "H")
        assert "21 of 21" in at.text  # round to the last
        await at.press("slash", *"nothing", "enter")
        assert "no entry says nothing" in at.text


async def test_it_plays_at_a_speed_and_stops_at_the_end(case: Path):
    async with replaying(case) as at:
        await at.press(*["plus"] * 9)
        assert at.player.speed == 600
        await at.press("space")
        await at.until(lambda: not at.player.playing)
        assert "the end of the record" in at.text
        assert at.player.at.seq == len(at.screen.playback.replay.entries)
        await at.press(*["minus"] * 20)
        assert at.player.speed == 1


async def test_idle_time_is_passed_over_when_asked(tmp_path: Path):
    record = opened_case()
    record.wait(600)
    note = record.enter(c.AddNote(text="after ten hours"))
    async with replaying(on_disk(tmp_path / "case.orroom", record)) as at:
        await at.press("minus", "minus", "right", "space")  # ten hours would take half an hour
        await at.press("i")
        assert "skips idle" in "".join(text_of(each) for each in at.screen.board._shown.lines)
        await at.until(lambda: at.player.at.at_ms >= note.stamp.at_ms - 20_000)


async def test_prompts_ring_only_when_asked(case: Path, monkeypatch: pytest.MonkeyPatch):
    rung = []
    async with replaying(case) as at:
        monkeypatch.setattr(at.app, "bell", lambda: rung.append(at.player.at.at_ms))
        due_at_ms = at.screen.playback.replay.landmarks["prompt"][0].at_ms
        for asked in (False, True):
            await at.press("home", *["plus"] * 9, "g", *"14", "enter", "space")
            await at.until(lambda: at.player.at.at_ms > due_at_ms)
            assert bool(rung) is asked
            rung.clear()
            await at.press("b")


async def test_a_prompt_rings_that_the_first_step_of_playing_leaps_over(
    case: Path, monkeypatch: pytest.MonkeyPatch
):
    rung = []
    async with replaying(case) as at:
        monkeypatch.setattr(at.app, "bell", lambda: rung.append(at.player.at.at_ms))
        await at.press("b", "home", *["plus"] * 9, "g", *"14", "enter")
        at.player.playing = True
        at.screen._ticked_at -= 5  # the machine was busy: at 600 times, fifty minutes
        at.screen._tick()
        assert len(rung) == 1


async def test_a_time_is_gone_to_and_what_is_none_is_said(case: Path):
    async with replaying(case) as at:
        await at.press("g", *"07", "colon", *"35", "enter")
        assert "07:35:00" in at.text
        await at.press("g", *"10", "enter")
        assert "10 min since start" in at.text
        await at.press("g", *"23", "colon", *"59", "enter")
        assert "is not in this record" in at.text
        await at.press("g", "escape")
        assert at.player.question is None


async def test_each_technician_s_screen_is_shown_and_each_role_s(tmp_path: Path):
    record = case_under_way()
    record.enter(c.CutGrafts(harvest="B", size="2", count=3), "GH", station="cutting-2")
    async with replaying(on_disk(tmp_path / "case.orroom", record), view="cutting") as at:
        await at.press("end")
        assert "CUTTING  initials AB" in at.text
        await at.press("w")
        assert "CUTTING  initials GH" in at.text
        assert "harvest B" in at.text.split("\n")[1]  # that they cut last
        await at.press("tab")
        assert "PLACING" in at.text
        await at.press("tab")
        assert "OVERVIEW" in at.text
        await at.press("w")
        assert "not a person's own" in at.text
        await at.press("tab")
        assert "FINAL COUNT" in at.text
        assert "no count yet" in at.text


async def test_the_final_count_is_shown_as_it_stood(tmp_path: Path):
    record = case_under_way()
    for who, more in (("EF", 0), ("GH", 1)):
        groups = tuple(
            CountedGroup(
                size=group.size,
                harvest=group.harvest,
                place=group.place,
                found=more + max(0, record.held(group.place, group.size, group.harvest)),
            )
            for group in groups_to_count(record.state)
        )
        record.enter(c.CountAll(groups=groups, since=record.state.seq), who, station="overview-1")
    async with replaying(on_disk(tmp_path / "case.orroom", record), view="count") as at:
        await at.press("end")
        assert "differ" in at.text
        assert "sign off" not in at.text  # its keys do nothing here
        await at.pilot.resize_terminal(40, 12)
        await at.pilot.pause()
        seen = at.text
        for _ in range(8):
            await at.press("down")
            seen += at.text
        sizes = ("ones", "twos", "threes", "multi")
        assert all(f"{place}: {size} A" in seen for place in ("dish", "placers") for size in sizes)
        await at.press("left")
        assert "EF counted at" in at.text


@pytest.mark.parametrize(
    ("view", "size"), [("placing", (80, 24)), ("placing", (40, 12)), ("overview", (40, 12))]
)
async def test_what_a_smaller_replay_hides_is_said_and_turned_to(
    tmp_path: Path, view: View, size: tuple[int, int]
):
    path = tmp_path / "case.orroom"
    with CaseFile.create(path) as case_file:
        record_all(case_file, read_events(SAMPLE), "here")
    zones = [each.label for each in read_case(path).plan.zones]
    async with replaying(path, size, view=view) as at:
        await at.press("m")
        assert (" zones (↓)" if size == (80, 24) else "  ↓ ") in at.text
        assert sum(_shown(each, at.text) for each in zones) < len(zones)
        seen = ""
        for _ in range(len(zones)):
            seen += at.text
            await at.press("down")
        assert all(_shown(each, seen) for each in zones)


def _shown(zone: str, text: str) -> bool:
    """Whether a zone has its row, perhaps with its first words cut short."""
    return any(zone[:3] in row[3:7] and zone[-4:] in row[7:22] for row in text.split("\n"))


async def test_the_cutting_screen_of_a_replay_has_one_page(case: Path):
    async with replaying(case, view="cutting") as at:
        await at.press("down")
        assert at.player.message == "this screen has one page"


async def test_the_strip_its_marks_and_the_keys_can_be_clicked(case: Path):
    async with replaying(case) as at:
        rows = at.text.split("\n")
        cut = next(row for row, text in enumerate(rows) if text.startswith(" usable "))
        await at.pilot.click(offset=(NAME + columns_of(80) // 2, cut))
        await at.pilot.pause()
        half = at.player.at.at_ms
        assert (
            abs(half - (at.screen.playback.replay.start_ms + at.screen.playback.replay.end_ms) / 2)
            < MINUTE_MS
        )
        await at.click_on("✎")
        assert at.player.at.seq == 14
        await at.click_on(" → entry")
        assert at.player.at.seq == 15
        await at.click_on("N ◂")
        assert at.player.at.seq == 14
        await at.click_on("+ speed")
        await at.click_on("+ speed")  # at once again: nothing can be counted twice here
        assert at.player.speed == 300
        await at.click_on("Space play")
        assert at.player.playing


async def test_every_key_can_be_clicked_on_the_screen_or_in_its_help(case: Path):
    async with replaying(case, (40, 12)) as at:
        seen: set[str] = set()
        for _ in range(len(at.screen.help_pages()) + 1):
            seen |= {span.action for each in at.screen.board._shown.lines for span in each}
            await at.press("f1")
        assert {f"press('{each.key}')" for each in KEYS} <= seen
        assert {f"press('{each.key.upper()}')" for each in KEYS if each.both_ways} <= seen
        assert at.screen.reading is None  # after the last page the screen again


async def test_the_help_says_what_every_mark_means_and_any_other_key_works(case: Path):
    async with replaying(case) as at:
        found = ""
        for _ in at.screen.help_pages():
            await at.press("f1")
            found += at.text
        for _, means, mark in LANDMARK_WORDS.values():
            assert f"{mark} " in found
            assert means in found
        assert "48 s" in found
        assert "cut and not discarded: placed plus waiting" in found  # the overview's own numbers
        await at.press("n")
        assert "entry 14 of" in at.text
        await at.press("f1", "escape")
        assert at.screen.reading is None
        assert at.app.is_running


@pytest.mark.parametrize("size", [(80, 24), (40, 12), (30, 10)])
@pytest.mark.parametrize(
    ("key", "asked", "typed"),
    [
        ("g", "Go to which time (10:42)", ("7", "colon", "5")),
        ("slash", "Search the entries for:", ("q", "n")),
    ],
)
async def test_over_a_question_the_help_tells_it_and_leads_back_to_it(
    case: Path, size: tuple[int, int], key: str, asked: str, typed: tuple[str, ...]
):
    async with replaying(case, size) as at:
        await at.press(key, *typed)
        before, question, shown = at.text, at.player.question, ""
        assert question is not None
        pages = at.screen.help_pages()
        for _ in pages:
            await at.press("f1")
            shown += " ".join(at.text.split("\n")[2:-1]) + " "
        shown = " ".join(shown.split())
        assert asked in shown
        assert question.step is not None
        assert question.step.means in shown
        assert f"typed: {question.typed}" in shown
        assert "Once it is answered:" in shown
        assert "the time shown, by the case's clock" in shown
        actions = {span.action for page in pages for each in page for span in each}
        assert actions == {""}
        await at.press("f1")
        assert at.text == before
        assert at.player.question is question
        await at.press("f1", "escape", "f1", "1")  # any other key closes it and is typed
        assert at.screen.reading is None
        assert question.typed == {"g": "7:51", "slash": "qn1"}[key]
        assert at.app.is_running


async def test_a_case_that_goes_while_it_is_replayed_is_said(case: Path):
    async with replaying(case) as at:
        case.rename(case.with_name("elsewhere"))
        await at.until(lambda: "is gone" in at.player.message)
        assert at.app.is_running


async def test_a_running_case_is_followed_live(case: Path):
    async with replaying(case) as at:
        clock = SetClock(at.screen.playback.replay.end_ms + 10_000)
        at.screen.playback.clock = clock
        length = len(at.screen.playback.replay.entries)
        with station(case, who="CD", clock=SetClock(clock.now_ms())) as desk:
            await at.until(lambda: len(at.screen.playback.replay.entries) > length)
            await at.until(lambda: "behind" in at.text)  # somebody is at the case: it runs
            await at.press("end")
            assert " LIVE" in at.text
            entered(desk, c.AddNote(text="later"))
            await at.until(lambda: len(at.screen.playback.replay.entries) == length + 2)
            await at.until(lambda: at.player.at.seq == length + 2)
            clock.at_ms += 90_000
            await at.until(lambda: at.player.at.at_ms == clock.now_ms())
            assert at.screen.strip.end_ms == at.screen.playback.replay.end_ms
            await at.press("left")
            clock.at_ms += 90_000
            await at.until(lambda: " behind" in at.text)
            assert "LIVE" not in at.text
            await at.press(*["plus"] * 9, "space")
            await at.until(lambda: at.player.live)  # playing has caught up
        await at.press("slash", *"later", "enter")
        assert "note: later" in at.text
        await at.until(lambda: at.player.now_ms is None)  # the station was left: nothing runs


async def test_a_search_finds_what_is_entered_after_it(case: Path):
    async with replaying(case) as at:
        await at.press("slash", *"lamp", "enter")
        assert "1 of 1  AB: note: lamp changed" in at.text
        length = len(at.screen.playback.replay.entries)
        with station(case, who="CD") as desk:
            entered(desk, c.AddNote(text="lamp out"))
            await at.until(lambda: len(at.screen.playback.replay.entries) == length + 2)
            await at.press("h")
            assert "2 of 2  CD: note: lamp out" in at.text


async def test_a_case_of_another_day_does_not_run(case: Path):
    with station(case, who="CD"):
        pass
    async with replaying(case) as at:
        await at.press("end")
        assert "LIVE" not in at.text
        assert not at.player.playing


async def test_no_key_and_no_click_writes(case: Path):
    before = hashlib.sha256(case.read_bytes()).digest()
    async with replaying(case) as at:
        await at.press("end")
        names = [chr(code) for code in range(33, 127)]
        named = "enter backspace delete insert up down left right pageup pagedown home tab space plus minus"
        names += [*named.split(), *(f"f{n}" for n in range(1, 10))]
        for key in names:
            if key not in "qQ":
                await at.press(key)
                if at.player.question is not None or at.screen.reading is not None:
                    await at.press("escape")
        for view in VIEWS:
            at.player.view = view
            at.screen.repaint()
            shown = {span.action for each in at.screen.board._shown.lines for span in each if span.action}
            for action in shown - {"press('q')"}:
                button, when = Button.of(action, None), time.monotonic()
                await at.screen.on_board_clicked(Board.Clicked(Click(button, button, when, when)))
                if at.player.question is not None or at.screen.reading is not None:
                    await at.press("escape")
        assert at.app.is_running
    assert hashlib.sha256(case.read_bytes()).digest() == before
    log = case.with_name("case.orroom-wal")
    assert not log.exists() or log.stat().st_size == 0  # what SQLite makes beside a file to read it


def test_the_file_itself_refuses_to_be_written_by_a_replay(case: Path):
    with CaseFile.open(case, read_only=True) as case_file:
        entries = case_file.entries_after(0)
        with pytest.raises(sqlite3.OperationalError, match="readonly"), case_file.turn():
            case_file.append([replace(entries[-1], seq=len(entries) + 1)])


def test_an_empty_case_says_so(tmp_path: Path):
    with CaseFile.create(tmp_path / "case.orroom"):
        pass
    asyncio.run(_fails(tmp_path / "case.orroom", "has no entries: there is nothing to replay"))


def test_a_damaged_case_says_so(case: Path):
    with closing(sqlite3.connect(case)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")
        page = connection.execute("PRAGMA page_size").fetchone()[0]
        root = connection.execute("SELECT rootpage FROM sqlite_schema WHERE name = 'entry'").fetchone()[0]
    with case.open("r+b") as file:
        file.seek((root - 1) * page)
        file.write(b"\xff" * 200)
    asyncio.run(_fails(case, "cannot be read"))


async def _fails(case: Path, sentence: str) -> None:
    with CaseFile.open(case, read_only=True) as case_file:
        app = replay_app(case_file, "overview", "dark")
        async with app.run_test() as pilot:
            async with asyncio.timeout(10):
                while app.return_value is None:
                    await asyncio.sleep(0.02)
            await pilot.pause()
    assert sentence in str(app.return_value)
    assert app.return_code == app.return_value.exit_code


def test_foreign_and_newer_files_say_so(tmp_path: Path):
    foreign = tmp_path / "foreign.orroom"
    with closing(sqlite3.connect(foreign)) as connection:
        connection.execute("CREATE TABLE note (text)")
    newer = new_case(tmp_path / "newer.orroom", small_plan())
    with closing(sqlite3.connect(newer)) as connection:
        connection.execute("PRAGMA user_version = 9999")
    for path, sentence in ((foreign, "is not an orroom case file"), (newer, "has file format 9999")):
        with pytest.raises(OrroomError, match=sentence):
            replayed(path, "overview", "dark")


async def test_a_case_in_a_folder_nobody_may_write_to_is_replayed(
    case: Path, monkeypatch: pytest.MonkeyPatch
):
    from orroom.record import opening

    connect = opening.connect

    def without_room(path: Path, *, read_only: bool, immutable: bool = False) -> sqlite3.Connection:
        if not immutable:
            problem = sqlite3.OperationalError("unable to open database file")
            problem.sqlite_errorname = "SQLITE_CANTOPEN"
            raise problem
        return connect(path, read_only=read_only, immutable=True)

    monkeypatch.setattr(opening, "connect", without_room)
    async with replaying(case) as at:
        await at.press("end")
        assert "2 ones placed over plan" in at.text
    assert sorted(each.name for each in case.parent.iterdir() if "turn" not in each.name) in (
        ["case.orroom"],
        ["case.orroom", "case.orroom.seal"],
    )


async def test_keys_before_the_record_is_read_do_nothing_but_leave(case: Path):
    with CaseFile.open(case, read_only=True) as case_file:
        app = replay_app(case_file, "overview", "dark")
        async with app.run_test() as pilot:
            screen = app.shown
            await Viewer(app, pilot).until(lambda: screen.ready)
            screen.ready = False
            screen.repaint()
            assert "reading the record" in screen.board.text
            for key in ("n", "space", "f1", "g"):
                await screen.take(key, None)
            assert (screen.player.playing, screen.player.question, screen.reading) == (False, None, None)
            await screen.take("q", "q")
            assert app._exit


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("view", VIEWS)
def test_every_place_of_a_full_day_can_be_shown_at_every_size(view: View, size: tuple[int, int]):
    replay = full_day()
    width, height = size
    strip = strip_of(replay, width)
    long = "placed 25 twos in the frontal zone, which is a message longer than any screen is wide, and more"
    for seq in (0, 1, 700, 2000, len(replay.entries)):
        for message in ("", long):
            player = Player(Moment(seq, replay.time_of(seq)), view, "AB", message=message)
            player.width, player.height = width, height
            lines = replay_lines(replay, strip, player)
            text = "\n".join(text_of(each) for each in lines)
            assert len(lines) == height
            assert all(width_of(each) <= width for each in lines)
            assert f"entry {seq:,}" in text
            assert "F1 all keys" in text
            assert message[:20] in text


def full_day(made: list[Replay] = []) -> Replay:  # noqa: B006 - made once
    """The sample's record."""
    if not made:
        made.append(Replay(read_events(SAMPLE)))
    return made[0]


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("view", VIEWS)
def test_a_past_screen_looks_like_one_and_asks_for_nothing(view: View, size: tuple[int, int]):
    """Its first line says so; what was due then is small, grey and in the past; nothing has a live colour."""
    replay = full_day()
    strip = strip_of(replay, size[0])
    late = Moment(2000, replay.time_of(2000) + 40 * MINUTE_MS)
    player = Player(late, view, "AB", width=size[0], height=size[1])
    lines = replay_lines(replay, strip, player)
    assert text_of(lines[0]).startswith(" REPLAY")
    assert {span.tone for span in lines[0]} == {"cursor"}
    text = "\n".join(map(text_of, lines))
    assert ("as it was at" in text_of(lines[0])) == (size[0] >= 80)
    assert "LATE" not in text
    if view != "count":
        (due,) = (each for each in lines if "then, at 11:54:" in text_of(each))
        assert {span.tone for span in due} == {"dim"}
        tones = {span.tone for each in lines[1:] for span in each if not span.action}
        assert not tones & {"pressing", "notice", "mine"}
        player.live = True
        assert "then, at" not in "\n".join(map(text_of, replay_lines(replay, strip, player)))


def test_the_strip_has_hours_the_keys_its_marks_and_the_numbers_are_not_at_its_end():
    replay = full_day()
    player = Player(Moment(2000, replay.time_of(2000)), "overview", width=120, height=40)
    rows = [text_of(each) for each in replay_lines(replay, strip_of(replay, 120), player)]
    strip = strip_of(replay, 120)
    (hours,) = (each for each in rows if each.startswith(" time "))
    began = next(
        each for each in range(8, 20) if replay.time_of(1) < replay.start_ms + (each - 8) * 3_600_000
    )
    for hour in range(began, 14):
        at_ms = replay.start_ms + (hour - 8) * 3_600_000  # it begins at 8:00
        assert hours[NAME + strip.column(at_ms) :].startswith(f"{hour:02}:00")
    assert any(each.startswith(" usable 1,601 ") for each in rows)
    assert any(each.startswith(" placed 1,096 ") for each in rows)
    assert not any(each.rstrip().endswith(("1,601", "1,096")) for each in rows if "█" in each[NAME:])
    for _, _, mark in LANDMARK_WORDS.values():
        assert any(f" {mark} " in each for each in rows[-4:]), mark


@pytest.mark.parametrize("size", SIZES)
def test_live_and_how_far_behind_are_never_cut(size: tuple[int, int]):
    replay = full_day()
    player = Player(Moment(2000, replay.time_of(2000)), playing=True, speed=600)
    player.width, player.height = size
    player.now_ms = player.at.at_ms + 3_700_000
    strip = strip_of(replay, size[0])
    text = "\n".join(text_of(each) for each in replay_lines(replay, strip, player))
    assert "1 h 01 behind" in text
    player.live = True
    assert " LIVE" in "\n".join(text_of(each) for each in replay_lines(replay, strip, player))


@pytest.mark.parametrize("width", [30, 80, 200])
def test_the_ends_of_the_strip_are_the_ends_of_the_record(width: int):
    strip = strip_of(full_day(), width)
    assert strip.columns == columns_of(width) == len(strip.placed) == len(strip.marks)
    assert strip.time_at(0) == full_day().start_ms
    assert strip.time_at(strip.columns - 1) == full_day().end_ms
    for column in range(strip.columns):
        assert strip.column(strip.time_at(column) + 1) == column or column == strip.columns - 1


def test_the_curves_and_the_marks_of_a_case_signed_off_later_are_of_the_same_times():
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="LINE", size="2", count=10))
    last_ms = record.now_ms
    record.wait(600)
    record.enter(c.SignOff(second="CD", **UNCOUNTED), "AB")
    replay = Replay(tuple(record.state.log))
    strip = strip_of(replay, 200)
    placed = [column for column, count in enumerate(strip.placed) if count == 10]
    assert placed[0] in {strip.column(last_ms), strip.column(last_ms) + 1}
    assert placed[-1] == strip.columns - 1
    assert strip.placed[0] == 0


def test_every_landmark_stands_on_the_strip():
    replay, strip = full_day(), strip_of(full_day(), 200)
    for what, places in replay.landmarks.items():
        marks = strip.prompts if what == "prompt" else strip.marks
        columns = {strip.column(place.at_ms) for place in places}
        hidden = {column for column in columns if (mark := marks[column]) and mark.what != what}
        assert all(marks[column] for column in columns)
        assert not hidden or what in {"zone", "note"}


def test_a_mismatch_is_marked_on_the_strip_before_a_note_of_the_same_minute():
    record = case_under_way()
    record.wait(60)
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=41))  # 30 were cut
    record.enter(c.AddNote(text="lamp changed"))
    record.wait(60)
    record.enter(c.GiveCare(care="wet"))
    marks = strip_of(Replay(tuple(record.state.log)), 80).marks
    assert [mark.what for mark in marks if mark is not None] == ["mismatch"]


def test_nothing_above_the_strip_can_be_clicked():
    replay = full_day()
    for view in VIEWS:
        player = Player(Moment(2000, replay.time_of(2000)), view, "AB")
        lines = replay_lines(replay, strip_of(replay, 80), player)
        strip_at = next(row for row, each in enumerate(lines) if "REPLAY" in text_of(each))
        assert all(span.action == "" for each in lines[:strip_at] for span in each)
