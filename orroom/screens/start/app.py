"""The start screen: cases and what to do with them, by keys, mouse or touch; answers what was chosen."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Final

from textual import events, work
from textual.app import ComposeResult
from textual.screen import Screen
from textual.timer import Timer

from orroom.case.terms import Theme
from orroom.clock import WallClock
from orroom.screens.start.menus import Menus, Told
from orroom.screens.start.offers import INSIDE, Chosen, Found
from orroom.screens.terminal.board import Board
from orroom.screens.terminal.board_app import BoardApp
from orroom.screens.terminal.clicks import Clicks
from orroom.screens.terminal.hands import CLOSE, CLOSE_IN_TEXT, SAME_ANSWER, Hands, Press, Run, Settled
from orroom.screens.terminal.keys import plain_name
from orroom.screens.terminal.layout import SMALLEST, too_small

#: How often the folders are looked through anew; 50 cases of 3,000 entries take some 0.15 s of a thread.
LOOK_SECONDS: Final = 3.0
#: A click on an item; all other buttons stand for a key.
PICK: Final = re.compile(r"pick\((\d+)\)")


class StartScreen(Screen[None]):
    """Shows the menu or text that is on top, and takes keys and clicks as a station does."""

    app: StartApp

    def __init__(self, find: Callable[[], Found], do: Callable[[Chosen], Told]) -> None:
        super().__init__()
        self.board = Board()
        self._find, self._do = find, do
        self.menus = Menus(find(), WallClock().now_ms())
        self._hands, self.clicks = Hands(), Clicks()
        self._until_quiet: Timer | None = None
        #: The tap that opened or closed something last: the same key right after it means nothing.
        self._turned: Press | None = None
        #: Whether something that was chosen is being done beside the screen.
        self.working = False

    def compose(self) -> ComposeResult:
        """Only the board."""
        yield self.board

    def on_mount(self) -> None:
        """Look through the folders from now on."""
        self.set_interval(LOOK_SECONDS, self.look_again)

    def on_resize(self) -> None:
        """The terminal has another size."""
        self.repaint()

    def repaint(self) -> None:
        """Show what is open."""
        if self.size.width < SMALLEST[0] or self.size.height < SMALLEST[1]:
            self.board.show(too_small(*self.size))
        else:
            self.board.show(self.menus.lines(*self.size), self.menus.top)

    def say(self, message: str, *, wrong: bool = False) -> None:
        """One sentence in what is open."""
        self.menus.say(message, wrong=wrong)
        if wrong:
            self.app.bell()
        self.repaint()

    def tell(self, told: Told) -> None:
        """What came of something that was done before."""
        self.menus.tell(told)
        self.repaint()

    # What is found.

    @work(thread=True, exclusive=True, group="looking", exit_on_error=False)
    def look_again(self) -> None:
        """Look through the folders beside the screen."""
        self.call_later(self._show_found, self._find())  # nobody waits for an answer: the loop may have ended

    def _show_found(self, found: Found) -> None:
        self.menus.show_found(found, WallClock().now_ms())
        self.repaint()

    # Taps.

    async def on_key(self, event: events.Key) -> None:
        """Take a key if a hand pressed it."""
        event.stop()
        event.prevent_default()
        key = plain_name(event.key)
        counts = key in {"enter", "space"} or (event.character is not None and event.character.isprintable())
        close = 0.0 if not counts else CLOSE_IN_TEXT if self.menus.asks else CLOSE
        self._arrive(Press(key, event.character, event.time, WallClock().now_ms(), close))

    async def on_board_clicked(self, event: Board.Clicked) -> None:
        """Take a click as a key is taken, or say why not."""
        event.stop()
        button = self.clicks.meant(event.click)
        if isinstance(button, str):
            self.say(button, wrong=True)
        else:
            now_ms = WallClock().now_ms()
            self._arrive(Press(button.key, button.character, event.click.at, now_ms, CLOSE, button=button))

    def on_paste(self, event: events.Paste) -> None:
        """A paste does nothing."""
        event.stop()
        self.say("a paste does nothing here", wrong=True)

    def _arrive(self, press: Press) -> None:
        settled = self._hands.take(press)
        if self._until_quiet is not None:
            self._until_quiet.stop()
        if self._hands.patience is not None:
            self._until_quiet = self.set_timer(self._hands.patience, lambda: self._sort(self._hands.quiet()))
        self._sort(settled)

    def _sort(self, settled: Settled) -> None:
        for each in settled:
            if isinstance(each, Run):
                self.say(f"{each.noun}s came faster than a hand taps: they do nothing here", wrong=True)
            else:
                self._take(each)
        self.repaint()

    def _take(self, press: Press) -> None:
        """What a tap does now."""
        turned, self._turned = self._turned, None
        if turned is not None and turned.key == press.key != "escape" and press.at - turned.at < SAME_ANSWER:
            self.say(f"{press.key} once more so soon means nothing", wrong=True)
            return
        if self.working:
            self.say("one moment: the last choice is being done")
            return
        shown, now_ms = self.menus.top.shows, WallClock().now_ms()
        if item := PICK.fullmatch(press.key):
            chosen = self.menus.pick(int(item[1]), now_ms)
        else:
            chosen = self.menus.take(press.key, press.character, now_ms)
        if self.menus.top.look.wrong:
            self.app.bell()
        if self.menus.top.shows is not shown:
            self._turned = press
        if chosen is not None:
            self._choose(chosen)

    def on_mouse_scroll_down(self) -> None:
        """The wheel goes on by one."""
        self._scroll("down")

    def on_mouse_scroll_up(self) -> None:
        """The wheel goes back by one."""
        self._scroll("up")

    def _scroll(self, key: str) -> None:
        self.menus.scroll(key, WallClock().now_ms())
        self.repaint()

    def _choose(self, chosen: Chosen) -> None:
        """Do what was chosen: here, beside the screen, or out of it."""
        if chosen.what == "leave":
            self.app.leave(chosen)
            return
        if chosen.what not in INSIDE:
            self.app.exit(chosen)
            return
        self.working = True
        self.say("one moment …")
        self._do_beside(chosen)

    @work(thread=True, group="doing", exit_on_error=False)
    def _do_beside(self, chosen: Chosen) -> None:
        told, found = self._do(chosen), self._find()
        self.call_later(self._done, chosen, told, found)

    def _done(self, chosen: Chosen, told: Told, found: Found) -> None:
        self.working = False
        now_ms = WallClock().now_ms()
        self.menus.say("")
        self.menus.show_found(found, now_ms)
        if told.case is not None:
            self.menus.go_to(told.case, now_ms)
        self.tell(told)


class StartApp(BoardApp[Chosen]):
    """The start screen in a terminal. ``run`` answers what was chosen, ``None`` if a signal ended it."""

    def __init__(
        self,
        find: Callable[[], Found],
        do: Callable[[Chosen], Told],
        *,
        theme: Theme = "dark",
        told: Told | None = None,
        at: Path | None = None,
    ) -> None:
        """Show what ``find`` finds; ``do`` does what needs no terminal.

        ``told`` is said first; ``at`` is the case whose menu is open first.
        """
        self.start = StartScreen(find, do)
        super().__init__(self.start.board, self.start.clicks, theme)
        if at is not None:
            self.start.menus.go_to(at, WallClock().now_ms())
        self._told = told

    def on_mount(self) -> None:
        """Show the screen, and what was told before."""
        self.push_screen(self.start)
        if self._told is not None:
            self.call_after_refresh(self.start.tell, self._told)

    async def action_quit(self) -> None:
        """Control-Q leaves, as F10 does; what is being done is done first, however long it takes."""
        (self.exit if self.start.working else self.leave)(Chosen("leave"))

    def action_help_quit(self) -> None:
        """Control-C does not leave."""
        self.start.say("F10 leaves")
