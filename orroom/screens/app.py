"""The terminal application: one station at a case, showing one role's screen at a time."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from contextlib import suppress
from typing import ClassVar

from textual.app import App
from textual.driver import Driver

from orroom.case.terms import Role
from orroom.clock import FastClock
from orroom.desk import Desk
from orroom.screens.cutting import CuttingScreen
from orroom.screens.overview import OverviewScreen
from orroom.screens.placing import PlacingScreen
from orroom.screens.station import StationScreen
from orroom.screens.theme import THEMES

SCREENS: dict[Role, type[StationScreen]] = {
    "cutting": CuttingScreen,
    "placing": PlacingScreen,
    "overview": OverviewScreen,
}


class OrroomApp(App[None]):
    """One station. Run it, then close its desk."""

    CSS_PATH = "styles/orroom.tcss"
    ENABLE_COMMAND_PALETTE = False
    TITLE = "orroom"
    AUTO_FOCUS: ClassVar[str | None] = None

    def __init__(self, desk: Desk, theme: str = "dark", driver_class: type[Driver] | None = None) -> None:
        super().__init__(driver_class=driver_class)
        self.desk = desk
        for each in THEMES.values():
            self.register_theme(each)
        self.theme = THEMES[theme].name
        self._shown: dict[Role, StationScreen] = {}
        self._own_loop: asyncio.AbstractEventLoop | None = None

    def on_mount(self) -> None:
        """Show the station's own role, follow the desk, keep the clocks running."""
        self._own_loop = asyncio.get_running_loop()
        self.show_role(self.desk.role)
        self.desk.watch(lambda: self.soon(self.repaint))
        fast = isinstance(self.desk.clock, FastClock)
        self.set_interval(0.25 if fast else 1.0, self.repaint)

    def show_role(self, role: Role) -> None:
        """Bring a role's screen to the front."""
        if role not in self._shown:
            self._shown[role] = SCREENS[role](self.desk)
            self.install_screen(self._shown[role], role)
        if not isinstance(self.screen, StationScreen):
            self.push_screen(role)
        elif self.screen is not self._shown[role]:
            self.switch_screen(role)

    def soon(self, call: Callable[..., object], *args: object) -> None:
        """Have the event loop do something, from any thread, without waiting for it.

        A terminal that has stopped reading thereby never stops the writer thread.
        """
        if self._own_loop is not None:
            with suppress(RuntimeError):  # the loop has ended: nobody looks any more
                self._own_loop.call_soon_threadsafe(lambda: self._in_context(call, *args))

    def _in_context(self, call: Callable[..., object], *args: object) -> None:
        if self.is_running:
            with self._context():
                call(*args)

    def repaint(self) -> None:
        """Show the newest state on the screen in front."""
        if isinstance(self.screen, StationScreen):
            self.screen.repaint()

    def on_app_blur(self) -> None:
        """The terminal window lost the keyboard."""
        self._focus(focused=False)

    def on_app_focus(self) -> None:
        """The terminal window has the keyboard again."""
        self._focus(focused=True)

    def _focus(self, *, focused: bool) -> None:
        for screen in self._shown.values():
            screen.glance.focused = focused
        self.repaint()

    async def action_quit(self) -> None:
        """Never end at once: ask first."""
        if isinstance(self.screen, StationScreen):
            self.screen.action_leave()

    def action_help_quit(self) -> None:
        """Control-C neither quits nor counts."""
        if isinstance(self.screen, StationScreen):
            self.screen.say("F10 leaves this station; F1 shows the keys")
            self.screen.repaint()
