"""The terminal application: one station at a case, showing one role's screen at a time."""

import gc
import signal
import threading
import time
from collections.abc import Callable
from contextlib import suppress

from textual import events, on
from textual.driver import Driver

from orroom.case.terms import Role, Theme
from orroom.clock import FastClock
from orroom.desk import Desk
from orroom.errors import OrroomError
from orroom.figures.prompts import prompts
from orroom.screens.settings.clinic import Clinic
from orroom.screens.stations.shared import Demo, Lesson, Shared
from orroom.screens.stations.station import StationScreen
from orroom.screens.terminal.app import TerminalApp
from orroom.screens.terminal.bells import PromptBell
from orroom.screens.terminal.flood import Unread

#: When what starting left behind is collected, which takes some 20 ms: after the first paint.
TIDY_SECONDS = 1.0
#: How long the end of the demo's day is shown.
DEMO_END_SECONDS = 30
#: When the record is verified, once, in a thread of its own: 5,000 entries take some 30 ms.
VERIFY_SECONDS = 1.5
#: How a station was closed, in the words of the record, by the signal that ended it.
STOPPED = "stopped by a signal"
TERMINAL_CLOSED = "its terminal closed"
FAILED = "the program failed"


def screen_of(role: Role) -> type[StationScreen]:
    """A role's screen; a station loads those it shows."""
    match role:
        case "cutting":
            from orroom.screens.stations.cutting import CuttingScreen as Found
        case "placing":
            from orroom.screens.stations.placing import PlacingScreen as Found  # type: ignore[assignment]
        case "overview":
            from orroom.screens.stations.overview import OverviewScreen as Found  # type: ignore[assignment]
    return Found


def tidy_up() -> None:
    """Collect what starting left behind; what is still there stays, and no later collection looks at it."""
    gc.collect()
    gc.freeze()
    gc.enable()


class OrroomApp(TerminalApp[None]):
    """One station. Run it, then close its desk."""

    def __init__(
        self,
        desk: Desk,
        theme: Theme = "dark",
        clinic: Clinic | None = None,
        lesson: Lesson | None = None,
        demo: Demo | None = None,
    ) -> None:
        super().__init__(theme)
        self.desk = desk
        self.clinic = clinic or Clinic()
        self.shared = Shared(desk, self.clinic, self.show_role, lesson=lesson, demo=demo)
        self.prompt_bell = PromptBell()
        #: An action of the first screen that is done as soon as it is shown.
        self.first = ""
        #: How the station is left.
        self.left = "left"
        self._shown: dict[Role, StationScreen] = {}
        self._ending = False

    def get_default_screen(self) -> StationScreen:
        """The station's own role, and no empty screen below it."""
        return self._screen_of(self.desk.role)

    def sit(self) -> str:
        """Run until the station is left; answers how that came, in the words of the record."""
        self.run_to_its_end()
        return FAILED if self.return_code == 1 else self.left

    def on_mount(self) -> None:
        """Follow the desk, keep the clocks running."""
        if self.clinic.problem:
            self._shown[self.desk.role].say(self.clinic.problem, wrong=True)
        if self.shared.demo is not None:
            self._shown[self.desk.role].say(self.shared.demo.welcome)
        if self.first:
            self.call_after_refresh(self._shown[self.desk.role].do, self.first)
        self._ring_for_prompts()
        self.desk.watch(lambda: self.soon(self._changed))
        fast = isinstance(self.desk.clock, FastClock)
        self.set_interval(0.25 if fast else 1.0, self._tick)
        self.set_timer(TIDY_SECONDS, tidy_up)
        self.set_timer(VERIFY_SECONDS, threading.Thread(target=self._verify, daemon=True).start)

    def _verify(self) -> None:
        from orroom.record.verify import verify  # not needed to start

        with suppress(OrroomError):  # what cannot be read now is not news of the record
            self.shared.not_intact = verify(self.desk.path).from_entry
        if self.shared.not_intact is not None:
            self.soon(self.repaint)

    def show_role(self, role: Role) -> None:
        """Bring a role's screen to the front."""
        screen = self._screen_of(role)
        if screen is self.front:
            return
        if screen is self.screen_stack[0]:
            self.pop_screen()
        elif len(self.screen_stack) == 1:  # the library switches no default screen
            self.push_screen(screen)
        else:
            self.switch_screen(screen)

    def _screen_of(self, role: Role) -> StationScreen:
        if role not in self._shown:
            self._shown[role] = screen_of(role)(self.shared)
            self.install_screen(self._shown[role], role)
        return self._shown[role]

    @property
    def front(self) -> StationScreen | None:
        """The role's screen in front; ``None`` before the first is shown, and once the application ends."""
        top = self.screen_stack[-1:]
        return top[0] if top and isinstance(top[0], StationScreen) else None

    def _changed(self) -> None:
        """The desk has news; a screen that was painted with it already, for its own tap, is left alone."""
        if self.front is None or not self.front.is_up_to_date():
            self.repaint()

    def _tick(self) -> None:
        """Time goes on: clocks, and questions that nobody answers."""
        if self.front is not None:
            self.front.asking.close_untouched(time.monotonic())
        if self.shared.demo is not None and self.shared.demo.over() and not self._ending:
            self._ending = True
            self.set_timer(DEMO_END_SECONDS, self.leave)
            if self.front is not None:
                self.front.say(f"The demo's day is over. It ends by itself in {DEMO_END_SECONDS} s.")
        self.repaint()

    def repaint(self) -> None:
        """Show the newest state on the screen in front, and ring for what has become due."""
        self._ring_for_prompts()
        if self.front is not None:
            self.front.repaint()
        self.catch_up()

    def _ring_for_prompts(self) -> None:
        if self.clinic.settings.bell != "off":
            found = prompts(self.desk.state, self.desk.clock.now_ms())
            if self.prompt_bell.rings(found):
                self.bell()

    async def on_event(self, event: events.Event) -> None:
        """Clicks go to the board, keys in order to the screen in front, all else to the library."""
        front = self.front
        if isinstance(event, events.MouseDown | events.MouseUp) and front is not None:
            front.board.mouse(event)
        elif isinstance(event, events.Key) and front is not None:
            self.shared.keys.append(event)
            front.taps.keys_wait()
        else:
            await super().on_event(event)

    @on(Unread)
    def not_read(self, event: Unread) -> None:
        """More keys came than are read: their number takes its turn behind those that were."""
        if (front := self.front) is not None:
            self.shared.keys.append(event)
            front.taps.keys_wait()

    @on(Driver.SignalResume)
    def went_on(self, event: Driver.SignalResume) -> None:
        """The program was stopped for a while and goes on: keys that waited meanwhile are not taps of now."""
        if self.front is not None:
            self.front.taps.went_on(event.time)
        self.refresh(layout=True)

    def end(self, number: int, give_back: Callable[[], None]) -> None:
        """End because of a signal. May be called at any moment and from any thread, and waits for nothing."""
        self.left = TERMINAL_CLOSED if number == signal.SIGHUP else STOPPED
        self.not_for_ever(128 + number, give_back)
        self.soon(self.call_later, self._end_in_order, 128 + number)

    async def _end_in_order(self, code: int) -> None:
        """Take every tap that waits, give the terminal back, and exit."""
        for screen in self._shown.values():
            await screen.taps.close_up()
        self.exit(return_code=code)

    def end_at_once(self, code: int, give_back: Callable[[], None]) -> None:
        """Close the desk, and end without waiting for anything else."""
        self.desk.close(self.left)
        super().end_at_once(code, give_back)

    def on_app_blur(self) -> None:
        """The terminal window lost the keyboard."""
        self._focus(focused=False)

    def on_app_focus(self) -> None:
        """The terminal window has the keyboard again."""
        self._focus(focused=True)

    def _focus(self, *, focused: bool) -> None:
        for screen in self._shown.values():
            screen.keyboard(here=focused)
        self.repaint()

    async def action_quit(self) -> None:
        """Never end at once: ask first."""
        if self.front is not None:
            self.front.action_leave()

    def action_help_quit(self) -> None:
        """Control-C neither quits nor counts."""
        if (front := self.front) is not None:
            key = self.clinic.keys.shown(front.ROLE, "leave")
            front.say(f"{key} leaves this station; F1 shows the keys")
            front.repaint()
