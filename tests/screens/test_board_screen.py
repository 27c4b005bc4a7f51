"""What every screen of one board does with keys, clicks, pastes and F1."""

from __future__ import annotations

import time
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from textual import events
from textual.pilot import Pilot

from orroom.screens.terminal.asking import Choice, Dialogue, Option, Question
from orroom.screens.terminal.board import Board
from orroom.screens.terminal.board_app import BoardApp
from orroom.screens.terminal.board_screen import BoardScreen
from orroom.screens.terminal.buttons import Button, Click
from orroom.screens.terminal.hands import Hands
from orroom.screens.terminal.pages import Block
from orroom.screens.terminal.painting import Line, line

HELP_LINES = 30


def coffee() -> Dialogue:
    yield Choice("Coffee?", (Option("y", "yes", True), Option("n", "no", False)))
    return None


class Desk(BoardScreen):
    """Shows the last key; c asks a question."""

    HELP_TITLE = "Keys of the desk"

    def __init__(self, hands: Hands | None = None) -> None:
        super().__init__(hands)
        self.message = ""
        self.keys: list[str] = []
        self.helped = 0
        self.asked: Question | None = None

    @property
    def question(self) -> Question | None:
        return self.asked

    def lines(self) -> list[Line]:
        return [line("the desk"), line(self.message)]

    def say(self, message: str, *, wrong: bool = False) -> None:
        self.message = message

    def help_blocks(self) -> list[Block]:
        self.helped += 1
        return [[line(f"help {number}")] for number in range(HELP_LINES)]

    async def take(self, key: str, character: str | None) -> None:
        self.keys.append(key)
        if key == "c":
            self.asked = Question(coffee())

    def _action_lamp(self, number: int) -> None:
        self.say(f"lamp {number}")


class Sitter:
    """Somebody at the desk, whose taps are seconds apart."""

    def __init__(self, app: BoardApp[None], desk: Desk, pilot: Pilot[None]) -> None:
        self.app, self.desk, self.pilot = app, desk, pilot
        self.at = time.monotonic() + 100

    @property
    def text(self) -> str:
        return self.desk.board.text

    async def press(self, *keys: str, apart: float = 1.0) -> None:
        for key in keys:
            self.at += apart
            event = events.Key(key, key if len(key) == 1 else None)
            event.time = self.at
            self.app.post_message(event)
            await self.pilot.pause()

    async def click(self, action: str, step: object = None) -> None:
        self.at += 1
        button = Button(action, step)
        self.desk.post_message(Board.Clicked(Click(button, button, self.at, self.at)))
        await self.pilot.pause()


@asynccontextmanager
async def at_desk(size: tuple[int, int] = (40, 12), hands: Hands | None = None) -> AsyncIterator[Sitter]:
    desk = Desk(hands)
    app: BoardApp[None] = BoardApp(desk)
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        yield Sitter(app, desk, pilot)


async def test_f1_turns_the_pages_of_the_help_and_leads_back():
    async with at_desk() as sitter:
        for page in range(1, 5):
            await sitter.press("f1")
            assert f"Keys of the desk, page {page} of 4" in sitter.text
        await sitter.press("f1")
        assert "the desk" in sitter.text.split("\n")
        assert sitter.desk.keys == []


async def test_the_help_is_made_once_for_each_key():
    async with at_desk() as sitter:
        for made in range(1, 6):
            await sitter.press("f1")
            assert sitter.desk.helped == made
        await sitter.press("k")
        assert sitter.desk.helped == made


async def test_the_help_is_of_the_size_that_the_terminal_has_now():
    async with at_desk() as sitter:
        await sitter.press("f1")
        await sitter.pilot.resize_terminal(40, 22)
        await sitter.pilot.pause()
        assert "Keys of the desk, page 1 of 2" in sitter.text


async def test_escape_only_closes_the_help_and_any_other_key_works_too():
    async with at_desk() as sitter:
        await sitter.press("f1", "escape")
        assert sitter.desk.keys == []
        await sitter.press("f1", "k")
        assert sitter.desk.keys == ["k"]
        assert sitter.desk.reading is None


async def test_no_help_opens_unseen_where_the_terminal_is_too_small():
    async with at_desk((29, 12)) as sitter:
        assert "Make it 30×10, is 29×12." in sitter.text
        assert "Taps still count" not in sitter.text
        await sitter.press("f1", "escape")
        assert sitter.desk.keys == ["escape"]


async def test_over_a_question_the_help_says_so_in_its_title():
    async with at_desk() as sitter:
        await sitter.press("c", "f1")
        assert "What is asked" in sitter.text


async def test_while_something_is_asked_only_its_own_answers_can_be_clicked():
    async with at_desk() as sitter:
        await sitter.press("c")
        question = sitter.desk.question
        assert question is not None
        await sitter.click("lamp(1)")
        assert "a question is open: answer it, or Esc" in sitter.text
        await sitter.click("press('y')", object())
        assert "that question is over: click ignored" in sitter.text
        await sitter.click("press('y')", question.step)
        assert sitter.desk.keys == ["c", "y"]


async def test_a_button_is_its_key_or_the_action_that_it_names():
    async with at_desk() as sitter:
        await sitter.click("press('k')")
        assert sitter.desk.keys == ["k"]
        await sitter.click("lamp(7)")
        assert "lamp 7" in sitter.text
        await sitter.click("lamp(7)")
        assert sitter.desk.keys == ["k"]


async def test_a_paste_does_nothing_and_control_c_is_a_key_like_another():
    async with at_desk() as sitter:
        sitter.desk.post_message(events.Paste("kkk"))
        await sitter.pilot.pause()
        assert "a paste does nothing here" in sitter.text
        await sitter.pilot.press("ctrl+c")
        assert sitter.app.is_running
        assert sitter.desk.keys == ["ctrl+c"]


async def test_with_hands_a_burst_does_nothing_and_that_is_said():
    async with at_desk(hands=Hands()) as sitter:
        await sitter.press("a")
        await sitter.press(*"bcdefg", apart=0.004)
        await sitter.press("k")
        assert "keys came faster than a hand can press: they do nothing here" in sitter.text
        assert sitter.desk.keys == ["a", "k"]


async def test_without_hands_every_key_is_taken_at_once():
    async with at_desk() as sitter:
        await sitter.press(*"abdefg", apart=0.004)
        assert sitter.desk.keys == list("abdefg")
