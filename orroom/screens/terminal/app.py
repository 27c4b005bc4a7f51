"""An application that takes the terminal, and gives it back however it ends."""

import asyncio
import os
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from logging import DEBUG
from typing import ClassVar, Final

from textual.app import App, ReturnType
from textual.driver import Driver
from textual.theme import Theme as LibraryTheme

from orroom.case.terms import Theme
from orroom.screens.terminal.theme import STYLES, THEMES
from orroom.support import LOG, Crash

#: How long ending may take; a terminal that does not read would hold it up for ever.
ENDING_SECONDS: Final = 3.0


class TerminalApp(App[ReturnType]):
    """Has its own themes and driver, takes calls from other threads, and ends also where nothing is read."""

    CSS_PATH = STYLES
    ENABLE_COMMAND_PALETTE = False
    TITLE = "orroom"
    AUTO_FOCUS: ClassVar[str | None] = None

    def __init__(self, theme: Theme) -> None:
        # Before the library makes its style sheet: for a theme that comes later it is parsed again.
        self.set_reactive(App.theme, THEMES[theme].name)
        super().__init__()
        self._own_loop: asyncio.AbstractEventLoop | None = None
        self._last_resort: threading.Timer | None = None

    @property
    def available_themes(self) -> dict[str, LibraryTheme]:
        """Ours alone."""
        return {each.name: each for each in THEMES.values()}

    def get_driver_class(self) -> type[Driver]:
        """The library's driver, or where it is the one for Unix terminals, ours without its faults."""
        found = super().get_driver_class()
        if sys.platform == "win32":
            return found
        from textual.drivers.linux_driver import LinuxDriver

        from orroom.screens.terminal.driver import StationDriver

        return StationDriver if found is LinuxDriver else found

    def _handle_exception(self, error: Exception) -> None:
        # The library shows a page of code with values; the people at the table need to know what to do.
        super()._handle_exception(error if LOG.isEnabledFor(DEBUG) else Crash(error))

    def on_load(self) -> None:
        """The loop runs: other threads can have it do something."""
        self._own_loop = asyncio.get_running_loop()

    def soon(self, call: Callable[..., object], *args: object) -> None:
        """Have the event loop do something, from any thread, and do not wait: the terminal may be stuck."""
        if self._own_loop is not None:
            with suppress(RuntimeError):  # the loop has ended: nobody looks any more
                self._own_loop.call_soon_threadsafe(lambda: self._in_context(call, *args))

    def after(self, seconds: float, call: Callable[..., object], *args: object) -> asyncio.TimerHandle:
        """Have the event loop do something later; a timer of the library takes ten times as long to make."""
        loop = asyncio.get_running_loop()
        return loop.call_later(seconds, lambda: self._in_context(call, *args))

    def _in_context(self, call: Callable[..., object], *args: object) -> None:
        if self.is_running:
            with self._context():
                call(*args)

    def catch_up(self) -> None:
        """Paint all again if the terminal did not read for a while, and now does."""
        if getattr(self._driver, "catches_up", bool)():  # only on a Unix terminal
            for screen in self.screen_stack[-1:]:  # none once it ends
                screen.refresh(layout=True)

    def run_to_its_end(self) -> ReturnType | None:
        """Run until it is left; answers its result."""
        result = self.run()
        if self._last_resort is not None:
            self._last_resort.cancel()
        return result

    def end(self, number: int, give_back: Callable[[], None]) -> None:
        """End because of a signal, from any thread, maybe again; ``give_back`` frees the terminal at last."""
        raise NotImplementedError

    def leave(self, result: ReturnType | None = None, code: int = 0) -> None:
        """End because the person asked for it, also if the terminal takes nothing any more."""
        give_back = getattr(self._driver, "give_back", None)
        if give_back is not None:  # a real terminal, which may hold that up
            self.not_for_ever(code, give_back)
        self.exit(result, code)

    def not_for_ever(self, code: int, give_back: Callable[[], None]) -> None:
        """Have the program end by itself if it does not end in order."""
        if self._last_resort is None:
            self._last_resort = threading.Timer(ENDING_SECONDS, self.end_at_once, [code, give_back])
            self._last_resort.daemon = True
            self._last_resort.start()

    def end_at_once(self, code: int, give_back: Callable[[], None]) -> None:
        """End without waiting for anything."""
        give_back()
        os._exit(code)
