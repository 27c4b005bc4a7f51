"""The start screen: cases and what to do with them, by keys, mouse or touch; answers what was chosen."""

from collections.abc import Callable
from pathlib import Path
from typing import Final, get_args

from textual import work

from orroom.case.terms import Theme
from orroom.clock import WallClock
from orroom.screens.start.chosen import Chosen, Found, Inside
from orroom.screens.start.open_menus import OpenMenus, Result
from orroom.screens.terminal.app import TerminalApp
from orroom.screens.terminal.board_app import BoardApp
from orroom.screens.terminal.board_screen import BoardScreen
from orroom.screens.terminal.hands import CLOSE, CLOSE_IN_TEXT, SAME_ANSWER, Hands, Press
from orroom.screens.terminal.painting import Line

#: How often the folders are looked through again; 50 cases of 3,000 entries take some 0.15 s of a thread.
LOOK_SECONDS: Final = 3.0


class StartScreen(BoardScreen):
    """Shows the menu or text that is on top, and takes keys and clicks as a station does."""

    app: TerminalApp[Chosen]

    def __init__(
        self,
        find: Callable[[], Found],
        do: Callable[[Chosen], Result],
        result: Result | None = None,
        at: Path | None = None,
    ) -> None:
        super().__init__(Hands())
        self._find, self._do, self._before = find, do, result
        self.menus = OpenMenus(find(), WallClock().now_ms())
        if at is not None:
            self.menus.go_to(at, WallClock().now_ms())
        #: The tap that opened or closed something last: the same key right after it means nothing.
        self._turned: Press | None = None
        #: Whether something that was chosen is being done in the background.
        self.working = False

    def on_mount(self) -> None:
        """Say what was said before, and look through the folders from now on."""
        if self._before is not None:
            self.call_after_refresh(self.show_result, self._before)
        self.set_interval(LOOK_SECONDS, self.look_again)

    @property
    def asks(self) -> object:
        """What is open."""
        return self.menus.top

    def lines(self) -> list[Line]:
        """What is open, as lines."""
        return self.menus.lines(*self.size)

    def say(self, message: str, *, wrong: bool = False) -> None:
        """One sentence in what is open."""
        self.menus.say(message, wrong=wrong)
        if wrong:
            self.app.bell()
        self.repaint()

    def show_result(self, result: Result) -> None:
        """What came of something that was done before."""
        self.menus.show_result(result)
        self.repaint()

    def leave(self) -> None:
        """Leave; what is being done is done first, however long it takes."""
        (self.app.exit if self.working else self.app.leave)(Chosen("leave"))

    # What is found.

    @work(thread=True, exclusive=True, group="looking", exit_on_error=False)
    def look_again(self) -> None:
        """Look through the folders in the background."""
        self.call_later(self._show_found, self._find())  # nobody waits for an answer: the loop may have ended

    def _show_found(self, found: Found) -> None:
        self.menus.show_found(found, WallClock().now_ms())
        self.repaint()

    # Taps.

    def close_to(self, key: str, character: str | None) -> float:
        """Only keys that choose or type can come too near to another one."""
        if key not in {"enter", "space"} and (character is None or not character.isprintable()):
            return 0
        return CLOSE_IN_TEXT if self.menus.asks else CLOSE

    async def tap(self, press: Press) -> None:
        """What a tap does now."""
        turned, self._turned = self._turned, None
        if turned is not None and turned.key == press.key != "escape" and press.at - turned.at < SAME_ANSWER:
            self.say(f"{press.key} again so soon: ignored", wrong=True)
        elif self.working:
            self.say("one moment: still busy with the last choice")
        else:
            shown = self.menus.top.shows
            await super().tap(press)
            if self.menus.top.shows is not shown:
                self._turned = press

    async def take(self, key: str, character: str | None) -> None:
        """What a key does in what is open."""
        self._choose(self.menus.take(key, character, WallClock().now_ms()))

    def action_pick(self, place: int) -> None:
        """Choose an item."""
        self._choose(self.menus.pick(place, WallClock().now_ms()))

    def on_mouse_scroll_down(self) -> None:
        """The wheel goes on by one."""
        self._scroll("down")

    def on_mouse_scroll_up(self) -> None:
        """The wheel goes back by one."""
        self._scroll("up")

    def _scroll(self, key: str) -> None:
        self.menus.scroll(key, WallClock().now_ms())
        self.repaint()

    def _choose(self, chosen: Chosen | None) -> None:
        """Do what was chosen, if anything: here, in the background, or out of it."""
        if self.menus.top.look.wrong:
            self.app.bell()
        if chosen is None:
            return
        if chosen.what == "leave":
            self.app.leave(chosen)
        elif chosen.what not in get_args(Inside):
            self.app.exit(chosen)
        else:
            self.working = True
            self.say("one moment …")
            self._do_beside(chosen)

    @work(thread=True, group="doing", exit_on_error=False)
    def _do_beside(self, chosen: Chosen) -> None:
        result, found = self._do(chosen), self._find()
        self.call_later(self._done, result, found)

    def _done(self, result: Result, found: Found) -> None:
        self.working = False
        now_ms = WallClock().now_ms()
        self.menus.say("")
        self.menus.show_found(found, now_ms)
        if result.case is not None:
            self.menus.go_to(result.case, now_ms)
        self.show_result(result)


def start_app(
    find: Callable[[], Found],
    do: Callable[[Chosen], Result],
    *,
    theme: Theme = "dark",
    result: Result | None = None,
    at: Path | None = None,
) -> BoardApp[Chosen]:
    """The start screen in a terminal. ``run`` answers what was chosen, ``None`` if a signal ended it.

    It shows what ``find`` finds; ``do`` does what needs no terminal. ``result`` is said first; ``at`` is the
    case whose menu is open first.
    """
    return BoardApp(StartScreen(find, do, result, at), theme)
