"""An application that is one screen with a board, next to the stations: such as the settings."""

import time
from collections.abc import Callable
from typing import Final

from textual import events
from textual.app import ReturnType

from orroom.case.terms import Theme
from orroom.screens.terminal.app import TerminalApp
from orroom.screens.terminal.board_screen import BoardScreen

#: How often it is looked whether a terminal that did not read does so again.
CATCH_UP_SECONDS: Final = 1.0


class BoardApp(TerminalApp[ReturnType]):
    """Shows one screen until it is left; answers with what that screen leaves with."""

    def __init__(self, shown: BoardScreen, theme: Theme = "dark") -> None:
        super().__init__(theme)
        self.shown = shown

    def on_mount(self) -> None:
        """Show the screen, and look from now on whether the terminal reads."""
        self.push_screen(self.shown)
        self.set_interval(CATCH_UP_SECONDS, self.catch_up)

    async def on_event(self, event: events.Event) -> None:
        """Clicks go to the board as they come; the library takes all else."""
        if isinstance(event, events.MouseDown | events.MouseUp):
            self.shown.board.mouse(event)
        else:
            await super().on_event(event)

    def on_app_blur(self) -> None:
        """The terminal window lost the keyboard."""
        self.shown.clicks.focus_lost()

    def on_app_focus(self) -> None:
        """The terminal window has the keyboard again: the click that brought it means nothing."""
        self.shown.clicks.focus_back(time.monotonic())

    async def action_quit(self) -> None:
        """Control-Q leaves."""
        self.shown.leave()

    def end(self, number: int, give_back: Callable[[], None]) -> None:
        """End because of a signal, whatever the terminal does. May be called from any thread, and again."""
        if self._last_resort is None:
            code = 128 + number
            self.not_for_ever(code, give_back)
            self.soon(self.exit, self.shown.ended(code), code)
