"""One widget that shows a screen's lines and repaints only those that changed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from rich.segment import Segment
from rich.style import Style
from textual.geometry import Region, Size
from textual.strip import Strip
from textual.widget import Widget

from orroom.case.terms import visible
from orroom.screens.views.painting import TONES, Line, fitted


class Board(Widget):
    """Shows painted lines; a click on a span runs its action on the screen."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {f"board--{tone}" for tone in TONES}

    def __init__(self) -> None:
        super().__init__()
        self._lines: list[Line] = []

    def show(self, lines: Sequence[Line]) -> None:
        """Show ``lines`` from the top; those equal to what stands there are left alone."""
        before, self._lines = self._lines, list(lines)
        width = self.size.width
        for row in range(max(len(before), len(self._lines))):
            old = before[row] if row < len(before) else None
            new = self._lines[row] if row < len(self._lines) else None
            if old != new:
                self.refresh(Region(0, row, width, 1))

    @property
    def text(self) -> str:
        """What is shown, as plain text: for tests and for whoever cannot see it."""
        return "\n".join("".join(span.text for span in each).rstrip() for each in self._lines)

    def get_content_width(self, container: Size, viewport: Size) -> int:
        """As wide as there is room."""
        return container.width

    def render_line(self, y: int) -> Strip:
        """One painted line, cut or filled to the width."""
        width = self.size.width
        if y >= len(self._lines):
            return Strip.blank(width, self.get_component_rich_style("board--plain"))
        segments = []
        for span in fitted(self._lines[y], width):
            style = self.get_component_rich_style(f"board--{span.tone}")
            if span.action:
                style += Style(meta={"@click": f"screen.{span.action}"})
            segments.append(Segment(visible(span.text), style))
        return Strip(segments, width)
