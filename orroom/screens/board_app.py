"""An application that is one screen with a board, beside the stations: such as the settings."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable
from typing import ClassVar

from textual import events
from textual.app import App, ReturnType
from textual.driver import Driver

from orroom.case.settings import Theme
from orroom.screens.app import ENDING_SECONDS, guarded
from orroom.screens.board import Board
from orroom.screens.theme import THEMES


class BoardApp(App[ReturnType]):
    """Takes the terminal as a station does, and gives it back however it ends."""

    CSS_PATH = "styles/orroom.tcss"
    ENABLE_COMMAND_PALETTE = False
    TITLE = "orroom"
    AUTO_FOCUS: ClassVar[str | None] = None

    def __init__(self, board: Board, theme: Theme) -> None:
        super().__init__()
        for each in THEMES.values():
            self.register_theme(each)
        self.theme = THEMES[theme].name
        self._board = board

    def get_driver_class(self) -> type[Driver]:
        """On Unix the terminal is guarded; elsewhere the library's own driver is used."""
        return guarded(super().get_driver_class())

    async def on_event(self, event: events.Event) -> None:
        """Clicks go to the board as they come; the library takes all else."""
        if isinstance(event, events.MouseDown | events.MouseUp):
            self._board.mouse(event)
        else:
            await super().on_event(event)

    def end(self, number: int, give_back: Callable[[], None]) -> None:
        """End because of a signal, whatever the terminal does. May be called from any thread."""

        def end_at_once() -> None:
            give_back()
            os._exit(128 + number)

        last_resort = threading.Timer(ENDING_SECONDS, end_at_once)
        last_resort.daemon = True
        last_resort.start()
        self.call_later(self.exit, None, 128 + number)
