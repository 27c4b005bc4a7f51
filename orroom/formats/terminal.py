"""Blocks on a terminal, as broad as there is room, in rich's own styles for such pages."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from rich import box
from rich.console import Console, ConsoleOptions, JustifyMethod, RenderableType, RenderResult
from rich.segment import Segment
from rich.style import Style
from rich.table import Table
from rich.text import Text

from orroom.formats import blocks as b
from orroom.formats.blocks import Block, Words, runs
from orroom.formats.chart import Chart


@dataclass(frozen=True, slots=True)
class OnTerminal:
    """Blocks for ``Console.print``, with an empty row between them; charts are left out."""

    blocks: Iterable[Block]

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        shown = [block for block in self.blocks if not isinstance(block, Chart)]
        for number, block in enumerate(shown):
            if number:
                yield Segment.line()
            yield _block(block, console)


def _block(block: b.Heading | b.Paragraph | b.List | b.Caution | b.Table, console: Console) -> RenderableType:
    match block:
        case b.Heading(words, level):
            style = console.get_style(f"markdown.h{level}")
            return _text(words, console, style, "center" if level == 1 else "left")
        case b.Paragraph(words):
            return _text(words, console, Style.null(), "left")
        case b.List(items):
            return _Items(items, Style.null())
        case b.Caution(items):
            return _Framed(items)
        case b.Table(header, rows, texts):
            grid = Table(box=box.SIMPLE, pad_edge=False, style="markdown.table.border", collapse_padding=True)
            head, *cells = (
                [
                    _text(cell, console, Style.null(), "default" if place < texts else "right")
                    for place, cell in enumerate(row)
                ]
                for row in (header, *rows)
            )
            for heading in head:
                heading.stylize("markdown.table.header")
                grid.add_column(heading)
            for row in cells:
                grid.add_row(*row)
            return grid


@dataclass(frozen=True, slots=True)
class _Items:
    items: Sequence[Words]
    style: Style

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        look = console.get_style("markdown.item.bullet")
        for item in self.items:
            text = _text(item, console, self.style, "left")
            lines = console.render_lines(text, options.update(width=options.max_width - 3), style=self.style)
            for number, line in enumerate(lines):
                yield from (Segment("   " if number else " • ", look), *line, Segment.line())


@dataclass(frozen=True, slots=True)
class _Framed:
    items: Sequence[Words]

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        style = console.get_style("markdown.block_quote")
        items = _Items(self.items, style)
        for line in console.render_lines(items, options.update(width=options.max_width - 4), style=style):
            yield from (Segment("▌ ", style), *line, Segment.line())


def _text(words: Words, console: Console, style: Style, justify: JustifyMethod) -> Text:
    found = Text(justify=justify)
    for text, strong in runs(words):
        found.append(text, style + console.get_style("markdown.strong") if strong else style)
    return found
