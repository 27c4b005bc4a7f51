"""An application that is one screen with a board, beside the stations: such as the settings."""

from __future__ import annotations

import asyncio
import os
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from typing import ClassVar, Final

from textual import events
from textual.app import App, ReturnType
from textual.driver import Driver

from orroom.case.terms import Theme
from orroom.screens.stations.app import ENDING_SECONDS, catch_up, guarded
from orroom.screens.terminal.board import Board
from orroom.screens.terminal.clicks import Clicks
from orroom.screens.terminal.theme import STYLES, THEMES

#: How often it is looked whether a terminal that did not read does so again.
CATCH_UP_SECONDS: Final = 1.0


class BoardApp(App[ReturnType]):
    """Takes the terminal as a station does, and gives it back however it ends."""

    CSS_PATH = STYLES
    ENABLE_COMMAND_PALETTE = False
    TITLE = "orroom"
    AUTO_FOCUS: ClassVar[str | None] = None

    def __init__(self, board: Board, clicks: Clicks, theme: Theme) -> None:
        super().__init__()
        for each in THEMES.values():
            self.register_theme(each)
        self.theme = THEMES[theme].name
        self._board, self._clicks = board, clicks
        self._own_loop: asyncio.AbstractEventLoop | None = None
        self._last_resort: threading.Timer | None = None

    def get_driver_class(self) -> type[Driver]:
        """On Unix the terminal is guarded; elsewhere the library's own driver is used."""
        return guarded(super().get_driver_class())

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
        """The loop runs: signals are told to it, and it is looked whether the terminal reads."""
        self._own_loop = asyncio.get_running_loop()
        self.set_interval(CATCH_UP_SECONDS, lambda: catch_up(self))

    def left_by_signal(self, code: int) -> ReturnType | None:
        """What the run comes to when a signal ends it. Called at once, maybe in another thread."""
        return None

    def end(self, number: int, give_back: Callable[[], None]) -> None:
        """End because of a signal, whatever the terminal does. May be called from any thread, and again."""
        if self._last_resort is not None:
            return
        code = 128 + number
        self._not_for_ever(code, give_back)
        result = self.left_by_signal(code)
        if self._own_loop is not None:
            with suppress(RuntimeError):  # the loop has ended already
                self._own_loop.call_soon_threadsafe(self._exit_in_context, result, code)

    def leave(self, result: ReturnType | None = None, code: int = 0) -> None:
        """End because the person asked for it, whatever the terminal does: nothing is left to do."""
        give_back = getattr(self._driver, "give_back", None)
        if give_back is not None and self._last_resort is None:  # a real terminal, which may hold that up
            self._not_for_ever(code, give_back)
        self.exit(result, code)

    def _not_for_ever(self, code: int, give_back: Callable[[], None]) -> None:
        """Have the program end by itself if it does not end in order."""
        self._last_resort = threading.Timer(ENDING_SECONDS, _end_at_once, [code, give_back])
        self._last_resort.daemon = True
        self._last_resort.start()

    def _exit_in_context(self, result: ReturnType | None, code: int) -> None:
        with self._context():
            self.exit(result, code)

    def run_to_its_end(self) -> ReturnType | None:
        """Run until it is left; answers what it came to."""
        result = self.run()
        if self._last_resort is not None:
            self._last_resort.cancel()
        return result


def _end_at_once(code: int, give_back: Callable[[], None]) -> None:
    give_back()
    os._exit(code)
