"""Pages to read over a screen: how blocks of lines are set on them, their title, how they are turned."""

from collections.abc import Sequence

from rich.cells import cell_len

from orroom.screens.terminal.keys import key_named
from orroom.screens.terminal.painting import (
    BETWEEN,
    Line,
    Span,
    clipped,
    first_that_fits,
    line,
    rule,
    width_of,
)

Block = Sequence[Line]

#: Lines of a page that are not part of its blocks: title, rule, key line.
AROUND = 3


def paged(blocks: Sequence[Block], room: int) -> list[list[Line]]:
    """The blocks on pages of ``room`` lines; one that does not fit goes to the next page."""
    pages: list[list[Line]] = [[]]
    for block in blocks:
        if pages[-1] and len(pages[-1]) + len(block) > room:
            pages.append([])
        for row in block:
            if len(pages[-1]) == room:
                pages.append([])
            pages[-1].append(row)
    return pages


def page_shown(
    pages: Sequence[Sequence[Line]], read: int, title: str, key: str, size: tuple[int, int]
) -> list[Line]:
    """The page ``read``, from 0, with its title and how to turn it, on a screen of this size.

    After the last page ``key`` leads back, as Esc does from each.
    """
    width, height = size
    number = min(read, len(pages) - 1)
    whole, short = f", page {number + 1} of {len(pages)}", f" {number + 1}/{len(pages)}"
    where = whole if cell_len(title + whole) < width - 1 else short  # nothing touches the edge
    heading = f" {clipped(title, width - len(where) - 2)}{where}"
    lines = [line(Span(heading, "strong")), rule(width), *pages[number]]
    lines += [()] * (height - 1 - len(lines))
    last = number == len(pages) - 1
    turn = Span(f" {key} {'back' if last else 'next page'} ", "button", f"press('{key_named(key)}')")
    close = Span(" Esc back ", "button", "press('escape')")
    bar = line(turn, BETWEEN, close)
    words = ("  keys that count still count, and close this", "  keys still count", "")
    return [*lines[: height - 1], line(*bar, first_that_fits(words, width - width_of(bar)))]
