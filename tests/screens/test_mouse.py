"""The mouse: a click is a tap like a key; what no hand clicked, or aimed at, is asked about or left out."""

from __future__ import annotations

import asyncio
import signal
import time
from pathlib import Path

import pytest
from cases import MINUTE_MS, small_plan
from seats import Seat, aside, harvested, held, revised_unseen, seated
from stations import entered, new_case, read_case
from terminals import Terminal

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.plan import Zone
from orroom.screens.terminal.driver import STOPPED_SECONDS
from orroom.screens.terminal.hands import AFTER_STOP, BOUNCE, DOUBLE_CLICK, FOCUS_CLICK, RELEASE
from orroom.screens.terminal.key_parser import StationParser
from orroom.words.entries import entry_words

LEFT, MIDDLE, RIGHT, SHIFT, ALT, CTRL = 0, 1, 2, 4, 8, 16

Cell = tuple[int, int]


@pytest.fixture
def case(tmp_path: Path) -> Path:
    return new_case(tmp_path / "case.orroom")


def sgr(cell: Cell, end: str, button: int = LEFT) -> str:
    """What a terminal sends when a mouse button goes down (``M``) or up (``m``)."""
    return f"\x1b[<{button};{cell[0] + 1};{cell[1] + 1}{end}"


def where(seat: Seat, words: str) -> Cell:
    """The lowest place to click where words are; what to cut next names sizes, and is none."""
    for row, line in reversed(list(enumerate(seat.text.split("\n")))):
        if words in line and "cut next" not in line:
            return line.index(words) + 1, row
    raise AssertionError(f"{words!r} is not on the screen:\n{seat.text}")


def send(seat: Seat, text: str, at: float) -> None:
    """Bytes as the terminal's driver reads them, all at one time."""
    parser = StationParser()
    parser.came()
    for message in [found for character in text for found in parser.feed(character)]:
        message.time = at
        message.set_sender(seat.app)
        seat.app.post_message(message)


async def click(seat: Seat, *spots: str | Cell, apart: float = 1.0, button: int = LEFT) -> None:
    """Clicks so many seconds apart, at the times they bear: faster than real."""
    seat.at = max(seat.at, time.monotonic())
    for spot in spots:
        cell = where(seat, spot) if isinstance(spot, str) else spot
        seat.at += apart
        send(seat, sgr(cell, "M", button) + sgr(cell, "m", button), seat.at)
        await seat.pilot.pause()
    await seat.settle()


async def double(seat: Seat, words: str, seconds: float = 0.15) -> None:
    """A double click on what stands there now, at real times; the screen has been looked at before."""
    await asyncio.sleep(DOUBLE_CLICK + 0.05)
    cell = where(seat, words)
    for _ in range(2):
        send(seat, sgr(cell, "M") + sgr(cell, "m"), time.monotonic())
        await seat.settle()
        await asyncio.sleep(seconds)
    await seat.settle()


def cut(seat: Seat, size: str | None = None) -> int:
    tally = seat.desk.state.tally
    return tally.held("cut", size) if size else tally.held("cut")


def of_kind(seat: Seat, kind: str) -> list[e.AnyEvent]:
    return [entry.event for entry in seat.desk.state.log if entry.event.kind == kind]


# Runs, as of keys.


async def test_twenty_clicks_in_one_write_are_asked_about(case: Path):
    async with seated(case, "cutting") as seat:
        cell = where(seat, "twos")
        send(seat, (sgr(cell, "M") + sgr(cell, "m")) * 20, time.monotonic())
        await seat.until("Count 20 clicks set aside?")
        await asyncio.sleep(DOUBLE_CLICK)
        seat.at = time.monotonic()
        await seat.press("n")
        assert cut(seat) == 0
        assert aside(seat) == [e.KeysSetAside(cause="burst", keys="click", count=20, counted=False)]
        assert entry_words(aside(seat)[0], seat.desk.state.plan) == "20 clicks not counted, in a burst"


async def test_clicks_made_while_the_program_was_stopped_are_asked_about(case: Path):
    async with seated(case, "cutting") as seat:
        seat.at = time.monotonic()
        seat.screen.taps.went_on(seat.at + 1)
        await click(seat, "twos", apart=1.1)
        await seat.rest()
        assert "Count 1 click set aside?" in seat.text
        assert cut(seat) == 0
        await click(seat, "y count")
        assert cut(seat, "2") == 1


@pytest.mark.parametrize(("tiles", "per_second"), [(("twos",), 6), (("twos", "ones"), 9)])
async def test_honest_clicks_count_untouched_for_a_minute(
    case: Path, tiles: tuple[str, ...], per_second: int
):
    async with seated(case, "cutting") as seat:
        cells = [where(seat, tile) for tile in tiles]
        seat.at = time.monotonic()
        for number in range(60 * per_second):
            seat.at += 1 / per_second + (0.008 if number % 3 else -0.016)
            cell = cells[number % len(cells)]
            send(seat, sgr(cell, "M") + sgr(cell, "m"), seat.at)
            if number % 20 == 0:
                await seat.settle()
        await seat.settle()
        assert cut(seat) == 60 * per_second
        assert aside(seat) == []


# What is no click.


@pytest.mark.parametrize("button", [MIDDLE, RIGHT, LEFT + SHIFT, LEFT + ALT, LEFT + CTRL])
async def test_only_the_left_button_alone_clicks(case: Path, button: int):
    async with seated(case, "cutting") as seat:
        await click(seat, "twos", button=button)
        assert cut(seat) == 0
        assert "only a plain left click counts: ignored" in seat.text
        await click(seat, "twos")
        assert cut(seat, "2") == 1


async def test_pressed_on_one_tile_and_released_on_another_counts_neither(case: Path):
    async with seated(case, "cutting") as seat:
        seat.at = time.monotonic() + 1
        send(seat, sgr(where(seat, "ones"), "M") + sgr(where(seat, "twos"), "m"), seat.at)
        await seat.settle()
        assert cut(seat) == 0
        assert "pressed and released in two places" in seat.text


async def test_the_blank_part_of_a_tile_is_the_tile(case: Path):
    async with seated(case, "cutting") as seat:
        column, row = where(seat, "3  threes")
        for below in range(8):
            await click(seat, (column + 17, row + below))
        assert cut(seat, "3") == 8


async def test_pressed_and_released_within_one_tile_counts(case: Path):
    async with seated(case, "cutting") as seat:
        seat.at = time.monotonic() + 1
        send(seat, sgr(where(seat, "twos"), "M") + sgr(where(seat, "2  twos"), "m"), seat.at)
        await seat.settle()
        assert cut(seat, "2") == 1


@pytest.mark.parametrize("click_first", [True, False])
async def test_the_click_that_brings_the_keyboard_back_counts_nothing(case: Path, click_first: bool):
    async with seated(case, "cutting") as seat:
        tile = where(seat, "twos")
        clicked, back = sgr(tile, "M") + sgr(tile, "m"), "\x1b[I"
        send(seat, "\x1b[O", time.monotonic())
        await seat.settle()
        assert "NO FOCUS" in seat.text
        send(seat, clicked + back if click_first else back + clicked, time.monotonic())
        await seat.settle()
        assert cut(seat) == 0
        assert "brings the keyboard here was ignored: nothing counted" in seat.text
        await click(seat, tile, apart=FOCUS_CLICK + 0.1)
        assert cut(seat, "2") == 1


@pytest.mark.parametrize("zones", [("LINE",), ("MID", "LINE", "FRONT")])
async def test_a_zone_clicked_before_a_revised_plan_is_painted_is_that_zone_or_none(
    case: Path, zones: tuple[str, ...]
):
    async with seated(case, "placing", "CD") as seat:
        changed = tuple(Zone(key=each, label=each, area_cm2=9, targets={"1": 50}) for each in zones)
        await revised_unseen(seat, case, small_plan(zones=changed))
        await click(seat, "mid-scalp")
        assert ("no more" in seat.screen.glance.message) is ("MID" not in zones)
        await seat.press("3", "enter")
        assert list(seat.desk.state.tally.placed) == [("MID" if "MID" in zones else "LINE", "1")]


# Double clicks.


async def test_a_double_click_takes_one_tap_back(case: Path):
    async with seated(case, "cutting") as seat:
        await click(seat, "ones", "twos", "threes")
        await click(seat, "undo")
        await click(seat, "undo", apart=DOUBLE_CLICK - 0.1)
        assert cut(seat) == 2
        assert "a second click so soon is left out" in seat.text
        await click(seat, "undo", apart=DOUBLE_CLICK + 0.1)
        await asyncio.sleep(RELEASE + 0.05)
        await seat.settle()
        assert cut(seat) == 1


async def test_a_double_click_finishes_one_segment(case: Path):
    async with seated(case, "cutting") as seat:
        await click(seat, "segment done")
        await click(seat, "segment done", apart=0.2)
        assert len(of_kind(seat, "segment_cut")) == 1


async def test_a_double_click_reseats_one_graft(case: Path):
    harvested(case)
    async with seated(case, "placing") as seat:
        await click(seat, "o reseat")
        await click(seat, "o reseat", apart=0.2)
        assert len(of_kind(seat, "graft_reseated")) == 1


@pytest.mark.parametrize("words", ["x discard", "n note", "h harvest", "c cancel entry"])
async def test_a_double_click_answers_nothing_that_comes_under_the_pointer(case: Path, words: str):
    async with seated(case, "cutting", size=(120, 24)) as seat:
        before = seat.desk.state.seq
        await double(seat, words)
        question = seat.screen.glance.question
        assert question is not None
        assert question.typed == ""
        first = question.step
        assert "▸" in seat.text
        await asyncio.sleep(DOUBLE_CLICK)
        assert seat.screen.glance.question is question
        assert question.step is first
        assert seat.desk.state.seq == before


async def test_a_double_click_on_an_answer_answers_one_step(case: Path):
    async with seated(case, "cutting") as seat:
        await double(seat, "x discard")
        await double(seat, "1: transected")
        assert "of size" in seat.text
        assert of_kind(seat, "grafts_discarded") == []
        await double(seat, "2: twos")
        assert of_kind(seat, "grafts_discarded") == [
            e.GraftsDiscarded(size="2", count=1, reason="transected", harvest="A")
        ]
        assert seat.screen.glance.question is None
        assert seat.desk.state.tally.held("dish") == 0


async def test_a_double_click_on_the_doubts_answer_opens_no_note(case: Path):
    async with seated(case, "cutting") as seat:
        cell = where(seat, "twos")
        send(seat, (sgr(cell, "M") + sgr(cell, "m")) * 5, time.monotonic())
        await asyncio.sleep(0.3)
        await seat.settle()
        await double(seat, "n leave out")
        assert seat.screen.glance.question is None
        assert len(aside(seat)) == 1


# While something is asked.


async def test_a_tile_clicked_while_keys_are_set_aside_waits_for_the_answer(case: Path):
    async with seated(case, "cutting") as seat:
        await held(seat)
        await click(seat, "ones")
        assert cut(seat, "1") == 0
        assert "1 later tap waits for the answer" in " ".join(seat.text.split())
        await click(seat, "n leave out")
        assert (cut(seat, "1"), cut(seat, "2")) == (1, 1)


async def test_a_temperature_prompt_clicked_while_keys_are_set_aside_is_asked_after_the_answer(case: Path):
    harvested(case)
    async with seated(case, "cutting") as seat:
        await held(seat)
        await click(seat, "temperature")
        assert seat.screen.glance.question is None
        await click(seat, "n leave out")
        assert "°C" in seat.text
        assert seat.screen.glance.question is not None


async def test_a_tile_clicked_while_a_question_is_open_counts_nothing(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("n")
        await seat.type("wet")
        await click(seat, "ones")
        assert cut(seat) == 0
        assert "a question is open" in seat.text
        await click(seat, "Enter")
        assert seat.last() == e.NoteAdded(text="wet")


async def test_the_mismatch_line_replaces_no_half_typed_note(case: Path):
    async with seated(case, "placing") as seat:
        entered(seat.desk, c.PlaceGrafts(zone="LINE", size="2", count=3))
        await seat.settle()
        await seat.press("n")
        await seat.type("half")
        await click(seat, "≠")
        question = seat.screen.glance.question
        assert question is not None
        assert question.typed == "half"
        assert "Note (no names)" in seat.text


async def test_the_number_line_answers_no_question(case: Path):
    harvested(case)
    async with seated(case, "placing", size=(100, 30)) as seat:
        await click(seat, " 7 8")
        assert seat.screen.glance.typed == "7"
        rows = seat.text.split("\n")
        digits = next(row for row, line in enumerate(rows) if "0 1 2 3" in line)
        await seat.press("full_stop")
        assert "of size" in seat.text
        assert "0 1 2 3" not in seat.text
        await click(seat, (rows[digits].index("2 3"), digits))
        assert of_kind(seat, "grafts_placed") == []
        assert "of size" in seat.text


# Prompts.


async def test_a_prompt_that_only_counts_down_asks(case: Path):
    harvested(case)
    async with seated(case, "cutting", size=(120, 30)) as seat:
        entered(seat.desk, c.GiveCare(care="wet"))
        seat.clock.at_ms += MINUTE_MS
        await seat.settle()
        rounds = len(of_kind(seat, "care_given"))
        seat.app.repaint()
        await click(seat, "wet the dishes")
        assert "Done now?" in seat.text
        assert "wet the dishes is due in" in seat.text
        await click(seat, "n not done")
        assert len(of_kind(seat, "care_given")) == rounds
        await click(seat, "wet the dishes")
        await click(seat, "y done now")
        assert len(of_kind(seat, "care_given")) == rounds + 1


async def test_a_prompt_that_is_due_is_answered_once_by_a_double_click(case: Path):
    harvested(case)
    async with seated(case, "cutting", size=(120, 30)) as seat:
        seat.clock.at_ms += 15 * MINUTE_MS
        seat.app.repaint()
        await double(seat, "WET THE DISHES")
        assert len(of_kind(seat, "care_given")) == 1
        assert seat.screen.glance.question is None


# A key that bounces.


async def bounce(seat: Seat, key: str) -> None:
    """One press of a worn key, as a terminal tells it."""
    await seat.tap(key)
    await seat.tap(key, apart=BOUNCE - 0.01)
    await seat.settle()


async def test_an_answer_that_bounces_swallows_no_graft(case: Path):
    async with seated(case, "cutting") as seat:
        await held(seat)
        await bounce(seat, "n")
        assert "n came twice at once: the second one is ignored" in seat.text
        await seat.press("1", "2", "3")
        assert "came twice" not in seat.text
        assert (cut(seat, "1"), cut(seat, "2"), cut(seat, "3")) == (1, 2, 1)
        assert seat.screen.glance.question is None


async def test_the_bounce_of_an_answer_counts_no_graft_rings_and_is_recorded(
    case: Path, monkeypatch: pytest.MonkeyPatch
):
    async with seated(case, "cutting") as seat:
        await seat.press("x", "1")
        rung: list[None] = []
        monkeypatch.setattr(seat.app, "bell", lambda: rung.append(None))
        await bounce(seat, "2")
        assert seat.desk.state.tally.held("dish") == 0
        assert aside(seat) == [e.KeysSetAside(cause="bounce", keys="2", count=1, counted=False)]
        assert len(rung) == 1
        seat.app.repaint()  # a second later
        for _ in range(100):  # a busy machine paints late
            if "2 came twice at once" in seat.text:
                break
            await asyncio.sleep(0.02)
        assert "2 came twice at once" in seat.text
        await seat.tap("2", apart=BOUNCE - 0.01)  # a key bounces once
        await seat.settle()
        await seat.press("3")
        tally = seat.desk.state.tally
        assert (tally.held("dish", "3"), tally.held("dish", "2")) == (1, 1)


async def test_one_key_answers_one_step_after_the_other(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("3", "d", "3", "1", "1", "1")
        (event,) = of_kind(seat, "grafts_divided")
        assert isinstance(event, e.GraftsDivided)
        assert event.into == ("1", "1", "1")


async def test_numbers_typed_fast_one_after_the_other_are_all_entered(case: Path):
    harvested(case)
    async with seated(case, "placing") as seat:
        await seat.press("i", "5", "enter", "2", "enter")
        assert seat.desk.state.tally.held("bench") == 3
        assert seat.desk.state.tally.held("placed") == 2


# The help.


@pytest.mark.parametrize("size", [(80, 24), (40, 12), (30, 10)])
@pytest.mark.parametrize("role", ["cutting", "placing", "overview"])
async def test_the_help_is_always_one_click_away(case: Path, role: str, size: tuple[int, int]):
    async with seated(case, role, size=size) as seat:  # type: ignore[arg-type]
        await click(seat, "F1 ")
        assert f"Keys of the {role}" in seat.text
        await click(seat, "Esc back")
        assert "F1 all keys" in seat.text


@pytest.mark.parametrize(
    ("words", "shown"),
    [
        ("F10  ", "Leave this station?"),
        ("F4  ", "OVERVIEW"),
        ("j  ", "Counted by hand:"),
        ("v  ", "how many did you look at?"),
        ("w  ", "Who is at work?"),
        ("s  ", "Who takes over from AB?"),
        ("b  ", "break"),
    ],
)
async def test_the_helps_buttons_do_the_keys_work(case: Path, words: str, shown: str):
    async with seated(case, "cutting", size=(100, 50)) as seat:
        await click(seat, "F1 ")
        row = next(each for each in seat.text.split("\n") if each.strip().startswith(words))
        await click(seat, (row.index(words), seat.text.split("\n").index(row)))
        assert "Keys of the cutting screen" not in seat.text
        assert shown in seat.text


# In a real terminal.


def test_clicks_in_a_terminal_and_while_it_was_stopped(case: Path):
    terminal = Terminal("open", str(case), "--role", "cutting", "--who", "AB")
    try:
        terminal.until(lambda: b"CUTTING" in terminal.seen)
        terminal.rest(DOUBLE_CLICK)
        click_two = (sgr((24, 2), "M") + sgr((24, 2), "m")).encode()
        terminal.send(click_two)
        terminal.until(lambda: read_case(case).tally.held("cut", "2") == 1)
        terminal.process.send_signal(signal.SIGSTOP)
        terminal.rest(0.1)
        terminal.send(click_two * 2)
        terminal.rest(STOPPED_SECONDS + 0.5)
        terminal.process.send_signal(signal.SIGCONT)
        terminal.until(lambda: b"Count 2 clicks set aside?" in terminal.seen)
        assert read_case(case).tally.held("cut", "2") == 1
        terminal.rest(AFTER_STOP + 0.2)
        terminal.type("y")
        terminal.until(lambda: read_case(case).tally.held("cut", "2") == 3)
    finally:
        terminal.close()


def test_a_paste_that_never_ends_leaves_the_keys_alive(case: Path):
    terminal = Terminal("open", str(case), "--role", "cutting", "--who", "AB")
    try:
        terminal.until(lambda: b"CUTTING" in terminal.seen)
        terminal.send(b"\x1b[200~22222")
        terminal.until(lambda: b"a paste of 5 characters was ignored: nothing counted" in terminal.seen)
        terminal.type("2")
        terminal.until(lambda: read_case(case).tally.held("cut", "2") == 1)
    finally:
        terminal.close()


async def test_the_librarys_own_click_beside_press_and_release_counts_nothing_more(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.pilot.click(offset=where(seat, "twos"))
        await seat.settle()
        assert cut(seat) == 1
