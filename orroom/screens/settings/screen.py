"""The settings in the terminal: an application of its own, with no case open."""

import os
import sys
from pathlib import Path
from typing import Final

from orroom.files.settings_file import settings_path
from orroom.screens.settings.lines import Look, help_blocks, settings_lines, trouble_rows
from orroom.screens.settings.pages import Page, pages
from orroom.screens.settings.sheet import Sheet
from orroom.screens.terminal.asking import Question
from orroom.screens.terminal.board_app import BoardApp
from orroom.screens.terminal.board_screen import BoardScreen
from orroom.screens.terminal.pages import Block
from orroom.screens.terminal.painting import Line
from orroom.screens.terminal.theme import THEMES

LEAVE: Final = frozenset({"escape", "f10", "q", "ctrl+q"})
#: A row further, a page further; page keys go a screen of rows.
STEPS: Final = {"up": -1, "down": 1, "pageup": -8, "pagedown": 8}
TURNS: Final = {"left": -1, "right": 1}


class SettingsScreen(BoardScreen):
    """What can be set, page by page."""

    PASTED = "a paste changes nothing here: type it"
    HELP_TITLE = "Settings: keys, rows"

    def __init__(self, path: Path) -> None:
        super().__init__()
        self.sheet = Sheet(path)
        self.look = Look()

    @property
    def question(self) -> Question | None:
        """The question that is open."""
        return self.look.question

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
        look = self.look
        look.width, look.height = self.size
        look.row = min(look.row, self._rows - 1)
        return settings_lines(pages(self.sheet), str(self.sheet.path), self.sheet.trouble, look)

    def help_blocks(self) -> list[Block]:
        """The keys, and every row of the page whole."""
        self.look.width = self.size.width
        return help_blocks(pages(self.sheet), str(self.sheet.path), self.sheet.trouble, self.look)

    def say(self, message: str, *, wrong: bool = False) -> None:
        """One line about the last key."""
        self.look.message, self.look.wrong = message, wrong
        if wrong:
            self.app.bell()

    async def take(self, key: str, character: str | None) -> None:
        """What a key does now. ``key`` is a plain name."""
        if self.look.question is not None:
            self._answer(self.look.question, key, character)
        elif key in LEAVE:
            self.leave()
        elif key in STEPS:
            self.look.row = max(0, min(self._rows - 1, self.look.row + STEPS[key]))
        elif self.sheet.trouble is not None:
            self._mend(key)
        elif key in TURNS:
            self.action_page((self.look.page + TURNS[key]) % len(pages(self.sheet)))
        elif len(key) == 1 and key in "123456789"[: len(pages(self.sheet))]:
            self.action_page(int(key) - 1)
        elif key in {"enter", "space"}:
            self.action_change(self.look.row)
        else:
            self.say("arrows and numbers move, Enter changes, Esc leaves, F1 shows more", wrong=True)

    def action_page(self, page: int) -> None:
        """Show another page from its top."""
        self.look.page, self.look.row = page, 0
        self.say("")

    def action_change(self, row: int) -> None:
        """Ask for a row's new value."""
        self.say("")
        self.look.row = row
        self.look.question = Question(self._page.rows[row].dialogue())

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
            self.sheet.begin_again()
            self.say(self.sheet.message, wrong=self.sheet.wrong)
        else:
            self.say("p puts the file aside, Esc leaves", wrong=True)


def settings_app(path: Path) -> BoardApp[None]:
    """The settings in a terminal; every change is written at once."""
    shown = SettingsScreen(path)
    return BoardApp(shown, shown.sheet.settings.theme)


def change_settings() -> None:
    """Show the settings until they are left. Ends the program with 128 + n if a signal did."""
    app = settings_app(settings_path(os.environ))
    app.run_to_its_end()
    if app.return_code:
        sys.exit(app.return_code)
