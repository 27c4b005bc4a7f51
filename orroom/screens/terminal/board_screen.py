"""A screen of one board: how keys, clicks and pastes reach it, and its help over it."""

from asyncio import TimerHandle
from collections.abc import Sequence
from typing import Any, ClassVar

from textual import events
from textual.app import ComposeResult
from textual.geometry import Region
from textual.screen import Screen
from textual.strip import Strip
from textual.widget import Widget

from orroom.screens.terminal.app import TerminalApp
from orroom.screens.terminal.asking import Question
from orroom.screens.terminal.board import Board
from orroom.screens.terminal.buttons import Button
from orroom.screens.terminal.clicks import Clicks
from orroom.screens.terminal.hands import CLOSE, Hands, Press, Run, Settled
from orroom.screens.terminal.keys import HELP_KEY, plain_name
from orroom.screens.terminal.layout import SMALLEST, too_small
from orroom.screens.terminal.pages import AROUND, Block, page_shown, paged
from orroom.screens.terminal.painting import Line


class BoardScreen(Screen[None]):
    """Each screen says what it paints (``lines``), what a key does (``take``) and what its help has.

    A tap goes through ``arrive`` (is it a hand's?), then ``tap`` (is it for the help, or out of reach?), then
    ``take``, or for a button that is not a key the method ``action_…`` (or ``_action_…``) that it names.
    """

    app: TerminalApp[Any]
    #: What a paste says, and the title of the help.
    PASTED: ClassVar[str] = "a paste does nothing here"
    HELP_TITLE: ClassVar[str] = ""

    def __init__(self, hands: Hands | None = None) -> None:
        """``hands`` sorts out the taps that no hand made; without it every tap is taken at once."""
        super().__init__()
        self.board, self.clicks, self.hands = Board(), Clicks(), hands
        #: The page of the help that is read, from 0.
        self.reading: int | None = None
        #: Its pages as the key found them that has just opened or turned it: they are what is painted next.
        self._found: list[list[Line]] | None = None
        #: The newest tap, whether it is taken or not.
        self.newest: Press | None = None
        self._until_quiet: TimerHandle | None = None

    def render_lines(self, crop: Region) -> list[Strip]:
        """Blank, and never seen: the board covers it, and yet the library asks at every repaint."""
        return [Strip.blank(crop.width)] * crop.height

    # What each screen says.

    def lines(self) -> Sequence[Line]:
        """What is painted while no help is read."""
        raise NotImplementedError

    async def take(self, key: str, character: str | None) -> None:
        """What a key does now. ``key`` is a plain name."""
        raise NotImplementedError

    def say(self, message: str, *, wrong: bool = False) -> None:
        """One line about the last key."""
        raise NotImplementedError

    def leave(self) -> None:
        """Leave the screen."""
        self.app.leave()

    def ended(self, code: int) -> object:
        """The result of the run when a signal ends it. Called at once, maybe in another thread."""
        return None

    @property
    def question(self) -> Question | None:
        """The question that is open."""
        return None

    @property
    def asks(self) -> object:
        """What is asked now: the same answer to something else is another button."""
        return self.question.step if self.question is not None else None

    def help_blocks(self) -> list[Block]:
        """What F1 shows; nothing where it does something else, or nothing yet."""
        return []

    def again_at_once(self, button: Button | None) -> str | None:
        """The key of a button that may be clicked twice in a row, besides those that always may."""
        return None

    def close_to(self, key: str, character: str | None) -> float:
        """How near to the tap before it a key is doubtful, in s."""
        return CLOSE

    @property
    def meanwhile(self) -> str:
        """What keys do all the same where the terminal is too small to show it."""
        return ""

    def now_ms(self) -> int:
        """The case's time of a tap, where there is a case."""
        return 0

    # What is shown.

    def compose(self) -> ComposeResult:
        """Only the board."""
        yield self.board

    def _extend_compose(self, widgets: list[Widget]) -> None:
        """Nothing else: the library adds widgets for tooltips and notifications, which no screen has."""

    def on_screen_resume(self) -> None:
        """The screen comes to the front."""
        self.repaint()

    def on_resize(self) -> None:
        """The terminal has another size."""
        self.repaint()

    @property
    def too_small(self) -> bool:
        """Whether nothing of the screen is shown at this size."""
        return self.size.width < SMALLEST[0] or self.size.height < SMALLEST[1]

    def repaint(self) -> None:
        """Show what is now."""
        found, self._found = self._found, None
        if self.too_small:
            self.board.show(too_small(*self.size, self.meanwhile))
        elif self.reading is not None:
            title = self.HELP_TITLE if self.question is None else "What is asked"
            shown = page_shown(found or self.help_pages(), self.reading, title, "F1", self.size)
            self.board.show(shown, self.asks)
        else:
            self.board.show(self.lines(), self.asks)

    def help_pages(self) -> list[list[Line]]:
        """The help on pages of this size; none where there is no help."""
        blocks = self.help_blocks()
        return paged(blocks, max(1, self.size.height - AROUND)) if blocks else []

    # How taps come.

    async def on_key(self, event: events.Key) -> None:
        """Take a key."""
        event.stop()
        event.prevent_default()
        key, character = plain_name(event.key), event.character
        close = self.close_to(key, character)
        await self.arrive(Press(key, character, event.time, self.now_ms(), close))

    async def on_board_clicked(self, event: Board.Clicked) -> None:
        """Take a click as a key is taken, or leave it out and say why."""
        event.stop()
        button = self.clicks.meant(event.click, self.again_at_once(event.click.button))
        if isinstance(button, str):
            self.say(button, wrong=True)
            self.repaint()
        else:
            key, at = plain_name(button.key), event.click.at
            await self.arrive(Press(key, button.character, at, self.now_ms(), button=button))

    def on_paste(self, event: events.Paste) -> None:
        """Take what is pasted."""
        event.stop()
        self.paste(event.text)
        self.repaint()

    def paste(self, text: str) -> None:
        """What a paste does: nothing, and that is said."""
        self.say(self.PASTED, wrong=True)

    async def arrive(self, press: Press) -> None:
        """Take a tap; where ``hands`` are asked, once it is known whether one made it."""
        if self.hands is None:
            await self.sort((press,))
        else:
            settled = self.hands.take(press)
            self.wait_for_quiet(self.hands, press)
            await self.sort(settled)

    def wait_for_quiet(self, hands: Hands, press: Press) -> None:
        """Have what is doubtful settled if nothing comes after ``press`` for a while."""
        self.newest = press
        if self._until_quiet is not None:
            self._until_quiet.cancel()
        if hands.patience is not None:
            self._until_quiet = self.app.after(hands.patience, self.call_later, self._quiet, hands, press)

    async def _quiet(self, hands: Hands, newest: Press) -> None:
        if newest is self.newest:
            await self.sort(hands.quiet())

    async def sort(self, settled: Settled) -> None:
        """Take what a hand made, and say of all else that it does nothing."""
        for each in settled:
            if isinstance(each, Run):
                self.say(f"{each.noun}s came faster than a hand can press: they do nothing here", wrong=True)
            else:
                await self.tap(each)
        self.repaint()

    async def tap(self, press: Press) -> None:
        """What a tap does: it turns or closes the help, or is the screen's own."""
        button = press.button
        if button is not None and (why_not := self.out_of_reach(button)) is not None:
            self.say(why_not, wrong=True)
            return
        read, self.reading = self.reading, None
        self._found = self.help_pages() if press.key == HELP_KEY else None
        if self._found:
            page = 0 if read is None else read + 1
            shown = not self.too_small and page < len(self._found)  # a page unseen would take an Esc
            self.reading = page if shown else None
        elif button is not None and not button.stands_for_key:
            await self.run_action(f"screen.{button.action}")
        elif read is None or press.key != "escape":
            await self.take(press.key, press.character)

    def out_of_reach(self, button: Button) -> str | None:
        """Why a button does nothing now, or ``None``. While something is asked only its answers work."""
        if button.step is not None and button.step is not self.asks:
            return "that question is over: click ignored"
        if self.question is not None and button.step is None:
            return "a question is open: answer it, or Esc"
        return None
