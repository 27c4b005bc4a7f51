"""An application that is one screen with a board, beside the stations: such as the settings."""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import suppress
from typing import Final

from textual import events
from textual.app import ReturnType

from orroom.case.terms import Theme
from orroom.screens.terminal.app import TerminalApp
from orroom.screens.terminal.board import Board
from orroom.screens.terminal.clicks import Clicks

#: How often it is looked whether a terminal that did not read does so again.
CATCH_UP_SECONDS: Final = 1.0


class BoardApp(TerminalApp[ReturnType]):
    """Takes the terminal as a station does, and gives it back however it ends."""

    def __init__(self, board: Board, clicks: Clicks, theme: Theme) -> None:
        super().__init__(theme)
        self._board, self._clicks = board, clicks

    async def on_event(self, event: events.Event) -> None:
        """Clicks go to the board as they come; the library takes all else."""
        if isinstance(event, events.MouseDown | events.MouseUp):
            self._board.mouse(event)
        else:
            await super().on_event(event)

    def on_app_blur(self) -> None:
        """The terminal window lost the keyboard."""
        self._clicks.focus_lost()

    def on_app_focus(self) -> None:
        """The terminal window has the keyboard again: the click that brought it means nothing."""
        self._clicks.focus_back(time.monotonic())

    def on_load(self) -> None:
        """The loop runs: it is looked whether the terminal reads."""
        self.set_interval(CATCH_UP_SECONDS, self.catch_up)

    def left_by_signal(self, code: int) -> ReturnType | None:
        """What the run comes to when a signal ends it. Called at once, maybe in another thread."""
        return None

    def end(self, number: int, give_back: Callable[[], None]) -> None:
        """End because of a signal; the first one counts."""
        if self._last_resort is not None:
            return
        code = 128 + number
        self.not_for_ever(code, give_back)
        result = self.left_by_signal(code)
        if self._own_loop is not None:
            with suppress(RuntimeError):  # the loop has ended already
                self._own_loop.call_soon_threadsafe(self._exit_in_context, result, code)

    def _exit_in_context(self, result: ReturnType | None, code: int) -> None:
        with self._context():
            self.exit(result, code)
