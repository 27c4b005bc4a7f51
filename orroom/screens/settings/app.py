"""The settings in the terminal: an application of its own, with no case open."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Final

from textual import events
from textual.app import ComposeResult
from textual.screen import Screen

from orroom.files.settings_file import settings_path
from orroom.screens.settings.lines import Look, help_pages, settings_lines, trouble_rows
from orroom.screens.settings.pages import Page, pages
from orroom.screens.settings.sheet import Sheet
from orroom.screens.terminal.asking import Question
from orroom.screens.terminal.board import Board
from orroom.screens.terminal.board_app import BoardApp
from orroom.screens.terminal.buttons import Button
from orroom.screens.terminal.clicks import Clicks
from orroom.screens.terminal.keys import HELP_KEY, plain_name
from orroom.screens.terminal.layout import SMALLEST, too_small
from orroom.screens.terminal.painting import Line
from orroom.screens.terminal.theme import THEMES

LEAVE: Final = frozenset({"escape", "f10", "q", "ctrl+q"})
#: A row further, a page further; page keys go a screen of rows.
STEPS: Final = {"up": -1, "down": 1, "pageup": -8, "pagedown": 8}
TURNS: Final = {"left": -1, "right": 1}


class SettingsScreen(Screen[None]):
    """What can be set, page by page."""

    app: SettingsApp

    def __init__(self, path: Path) -> None:
        super().__init__()
        self.sheet = Sheet(path)
        self.look = Look()
        self.board = Board()
        self.clicks = Clicks()

    def compose(self) -> ComposeResult:
        """Only the board."""
        yield self.board

    def on_mount(self) -> None:
        """The screen is there."""
        self.repaint()

    def on_resize(self) -> None:
        """The terminal has another size."""
        self.repaint()

    @property
    def _page(self) -> Page:
        return pages(self.sheet)[self.look.page]

    @property
    def _rows(self) -> int:
        """How many rows the cursor goes through."""
        if self.sheet.trouble is not None:
            return len(trouble_rows(self.sheet.trouble, self.look.width))
        return len(self._page.rows)

    def lines(self) -> list[Line]:
        """What is shown now."""
        return settings_lines(pages(self.sheet), str(self.sheet.path), self.sheet.trouble, self.look)

    def repaint(self) -> None:
        """Show what is now."""
        look = self.look
        look.width, look.height = self.size
        look.row = min(look.row, self._rows - 1)
        if self.size.width < SMALLEST[0] or self.size.height < SMALLEST[1]:
            self.board.show(too_small(*self.size))
        else:
            self.board.show(self.lines(), look.question.step if look.question is not None else None)

    def say(self, message: str, *, wrong: bool = False) -> None:
        """One line about the last key."""
        self.look.message, self.look.wrong = message, wrong
        if wrong:
            self.app.bell()

    def on_key(self, event: events.Key) -> None:
        """Take a key."""
        event.stop()
        event.prevent_default()
        self.take(plain_name(event.key), event.character)

    def on_paste(self, event: events.Paste) -> None:
        """A paste changes nothing."""
        event.stop()
        self.say("a paste changes nothing here: type it", wrong=True)
        self.repaint()

    def on_board_clicked(self, event: Board.Clicked) -> None:
        """Take a click as a key is taken, or leave it out and say why."""
        event.stop()
        button = self.clicks.meant(event.click)
        if isinstance(button, str):
            self.say(button, wrong=True)
            self.repaint()
        else:
            self._click(button)

    def _click(self, button: Button) -> None:
        question = self.look.question
        if button.step is not None and (question is None or button.step is not question.step):
            self.say("that question is over: click left out", wrong=True)
        elif question is not None and button.step is None:
            self.say("a question is open: answer it, or Esc", wrong=True)
        elif button.stands_for_key:
            self.take(button.key, button.character)
        elif button.action.startswith("page("):
            self.turn_to(int(button.action[len("page(") : -1]))
        else:
            self.look.row = int(button.action[len("change(") : -1])
            self.open()
        self.repaint()

    def take(self, key: str, character: str | None) -> None:
        """What a key does now. ``key`` is a plain name."""
        reads, self.look.reading = self.look.reading, None
        if key == HELP_KEY:
            self._turn_help(0 if reads is None else reads + 1)
        elif reads is not None and key == "escape":
            pass
        elif self.look.question is not None:
            self._answer(self.look.question, key, character)
        elif key in LEAVE:
            self.app.leave()
        elif key in STEPS:
            self.look.row = max(0, min(self._rows - 1, self.look.row + STEPS[key]))
        elif self.sheet.trouble is not None:
            self._mend(key)
        elif key in TURNS:
            self.turn_to((self.look.page + TURNS[key]) % len(pages(self.sheet)))
        elif len(key) == 1 and key in "123456789"[: len(pages(self.sheet))]:
            self.turn_to(int(key) - 1)
        elif key in {"enter", "space"}:
            self.open()
        else:
            self.say("arrows and numbers move, Enter changes, Esc leaves, F1 tells more", wrong=True)
        self.repaint()

    def _turn_help(self, page: int) -> None:
        """Show a page of the help; after the last one the screen again."""
        told = help_pages(pages(self.sheet), str(self.sheet.path), self.sheet.trouble, self.look)
        self.look.reading = page if page < len(told) else None

    def turn_to(self, page: int) -> None:
        """Show another page from its top."""
        self.look.page, self.look.row = page, 0
        self.say("")

    def open(self) -> None:
        """Ask about the row under the cursor."""
        self.say("")
        self.look.question = Question(self._page.rows[self.look.row].dialogue())

    def _answer(self, question: Question, key: str, character: str | None) -> None:
        if key == "escape":
            self.look.question = None
            self.say("cancelled; nothing changed")
            return
        question.press(key, character)
        if question.over:
            self.look.question = None
            self.say(self.sheet.message, wrong=self.sheet.wrong)
            self.app.theme = THEMES[self.sheet.settings.theme].name

    def _mend(self, key: str) -> None:
        if key == "p":
            self.sheet.begin_anew()
            self.say(self.sheet.message, wrong=self.sheet.wrong)
        else:
            self.say("p puts the file aside, Esc leaves", wrong=True)


class SettingsApp(BoardApp[None]):
    """The settings in a terminal."""

    def __init__(self, path: Path) -> None:
        self.settings_screen = SettingsScreen(path)
        super().__init__(
            self.settings_screen.board, self.settings_screen.clicks, self.settings_screen.sheet.settings.theme
        )

    def on_mount(self) -> None:
        """Show the screen."""
        self.push_screen(self.settings_screen)

    async def action_quit(self) -> None:
        """Control-Q leaves: everything is written already."""
        self.leave()

    def action_help_quit(self) -> None:
        """Control-C does not leave."""
        self.settings_screen.say("Esc leaves")
        self.settings_screen.repaint()


def change_settings() -> None:
    """Show the settings until they are left. Ends the program with 128 + n if a signal did."""
    app = SettingsApp(settings_path(os.environ))
    app.run_to_its_end()
    if app.return_code:
        sys.exit(app.return_code)
