"""One widget that shows a screen's lines, repaints only those that changed, and reports clicks on them."""

import time
from collections import deque
from collections.abc import Sequence

from msgspec import Struct
from msgspec.structs import replace
from rich.cells import cell_len
from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.cache import LRUCache
from textual.geometry import Region, Size
from textual.message import Message
from textual.strip import Strip
from textual.widget import Widget

from orroom.case.terms import visible
from orroom.screens.terminal.buttons import Button, Click
from orroom.screens.terminal.hands import DOUBLE_CLICK
from orroom.screens.terminal.painting import Line, Tone, fitted
from orroom.screens.terminal.theme import styles_of

#: How many pictures back it is known what stood under the pointer: more than are painted in a double click.
REMEMBERED = 64


class Shown(Struct, frozen=True):
    """Lines on the screen, the step of a question that their answers belong to, until when they stood."""

    lines: list[Line]
    step: object = None
    until: float = float("inf")


class Down(Struct, frozen=True):
    """The mouse went down on a button or beside all: when, plainly or not, and if it had just come there."""

    button: Button | None
    at: float
    plain: bool
    new: bool


class Board(Widget):
    """Shows painted lines; a click on a span with an action is passed to the screen."""

    class Clicked(Message):
        """The mouse was pressed or released on a button."""

        def __init__(self, click: Click) -> None:
            super().__init__()
            self.click = click

    def __init__(self) -> None:
        super().__init__()
        self._shown = Shown([])
        self._before: deque[Shown] = deque(maxlen=REMEMBERED)
        self._down: Down | None = None
        self._styles: dict[Tone, Style] = {}
        #: Most lines stand from paint to paint, or come back after a flash.
        self._strips: LRUCache[tuple[Line, int], Strip] = LRUCache(256)

    def show(self, lines: Sequence[Line], step: object = None) -> None:
        """Show ``lines`` from the top; those equal to what is there are left alone.

        ``step`` is what is asked now: the same answer to another question is another button.
        """
        before, self._shown = self._shown, Shown(list(lines), step)
        if before != self._shown:
            self._before.append(replace(before, until=time.monotonic()))
        width, now = self.size.width, self._shown.lines
        rows = range(max(len(before.lines), len(now)))
        changed = [row for row in rows if _line(before.lines, row) != _line(now, row)]
        if changed and self.is_mounted:
            # At once: the library's own way there, two messages and a timer, is a tenth of a tap's time.
            self._set_dirty(*(Region(0, row, width, 1) for row in changed))
            self.screen._dirty_widgets.add(self)
            self.screen._on_timer_update()

    @property
    def text(self) -> str:
        """What is shown, as plain text: for tests and for someone who cannot see it."""
        return "\n".join("".join(span.text for span in each).rstrip() for each in self._shown.lines)

    def get_content_width(self, container: Size, viewport: Size) -> int:
        """As wide as there is room."""
        return container.width

    def render_line(self, y: int) -> Strip:
        """One painted line, cut or filled to the width."""
        return self._strip(_line(self._shown.lines, y) or (), self.size.width)

    def render_lines(self, crop: Region) -> list[Strip]:
        """The lines of ``crop`` as the library would make them, but for what a board has none of.

        To look at each line for borders, paddings and opacities takes it a third of a repaint. A test holds
        both ways equal.
        """
        width, shown = self.size.width, self._shown.lines
        strips = [self._strip(_line(shown, y) or (), width) for y in crop.line_range]
        _, background = self.background_colors
        for each in self.get_line_filters():
            strips = [strip.apply_filter(each, background) for strip in strips]
        if crop.column_span != (0, width):
            strips = [strip.crop(*crop.column_span) for strip in strips]
        return strips

    def _strip(self, shown: Line, width: int) -> Strip:
        strip = self._strips.get((shown, width))
        if strip is None:
            styles = self._styles = self._styles or styles_of(self.app.current_theme)
            segments = [Segment(visible(span.text), styles[span.tone]) for span in fitted(shown, width)]
            strip = self._strips[shown, width] = Strip(segments, width)
        return strip

    def notify_style_update(self) -> None:
        """The theme has changed."""
        self._styles = {}
        self._strips.clear()
        super().notify_style_update()

    def mouse(self, event: events.MouseDown | events.MouseUp) -> None:
        """The mouse went down or up, with the event's own time: a click is passed to the screen."""
        if isinstance(event, events.MouseDown):
            self._down = self._pressed(event)
        elif self._down is not None:
            down, self._down = self._down, None
            here = self._button_at(self._shown, event)
            if (down.button or here) is not None:
                plain = down.plain and _plain(event)
                click = Click(down.button, here, down.at, event.time, plain, down.new)
                self.screen.post_message(self.Clicked(click))

    def _pressed(self, event: events.MouseDown) -> Down:
        """What is under the pointer now, and whether it has only just come there."""
        here = self._button_at(self._shown, event)
        new = any(
            (was := self._button_at(shown, event)) is not None and was != here
            for shown in self._before
            if shown.until > event.time - DOUBLE_CLICK
        )
        return Down(here, event.time, _plain(event), new)

    def _button_at(self, shown: Shown, event: events.MouseEvent) -> Button | None:
        """The button under the pointer, as the screen stood then."""
        end = 0
        for span in fitted(_line(shown.lines, event.y) or (), self.size.width):
            end += cell_len(span.text)
            if event.x < end:
                return Button.of(span.action, shown.step) if span.action else None
        return None


def _line(lines: Sequence[Line], row: int) -> Line | None:
    return lines[row] if row < len(lines) else None


def _plain(event: events.MouseEvent) -> bool:
    """Whether it is the left button, and no other key is held."""
    return event.button == 1 and not (event.shift or event.meta or event.ctrl)
