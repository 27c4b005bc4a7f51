"""Lines of text with a tone and, where they can be touched, an action."""

import re
from collections.abc import Iterable, Sequence
from functools import lru_cache
from itertools import zip_longest
from string import ascii_uppercase
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace
from rich.cells import cell_len, chop_cells, set_cell_size

#: What a piece of text means; ``theme.TONES`` gives each its colours. State is never colour alone.
Tone = Literal[
    "plain", "dim", "strong", "mine", "done", "owed", "notice", "pressing", "wrong", "button", "cursor"
]


class Span(Struct, frozen=True):
    """A piece of a line; ``action`` is what a click on it does."""

    text: str
    tone: Tone = "plain"
    action: str = ""


Line = tuple[Span, ...]

#: A message takes up to so many rows.
MESSAGE_ROWS = 3
#: What stands between two buttons.
BETWEEN = "  "
#: From this width on letters stand further apart, so that a finger finds one.
ROOM_BETWEEN_LETTERS = 60


def line(*parts: Span | str) -> Line:
    """A line of spans; bare text is plain."""
    return tuple(Span(part) if isinstance(part, str) else part for part in parts)


def text_of(painted: Line) -> str:
    """A line's text alone."""
    return "".join(span.text for span in painted)


def width_of(painted: Line) -> int:
    """How many columns a line takes."""
    return sum(cell_len(span.text) for span in painted)


@lru_cache(1024)  # most lines stand from paint to paint
def fitted(painted: Line, width: int) -> Line:
    """The line, filled with spaces to exactly ``width`` columns, or cut there with an ellipsis.

    A figure that is cut is thereby never mistaken for a smaller one.
    """
    if width <= 0:
        return ()
    result: list[Span] = []
    left = width
    for span in painted:
        size = cell_len(span.text)
        if size > left:
            return _with_ellipsis([*result, replace(span, text=set_cell_size(span.text, left))])
        result.append(span)
        left -= size
    if left:
        result.append(Span(" " * left))
    return tuple(result)


def _with_ellipsis(spans: list[Span]) -> Line:
    """The spans with their last column an ellipsis."""
    while spans and not spans[-1].text:
        spans.pop()
    last = spans[-1]
    return (*spans[:-1], replace(last, text=set_cell_size(last.text, cell_len(last.text) - 1) + "…"))


def spread(left: Line, right: Line, width: int, middle: Line = ()) -> Line:
    """``left`` at the left edge, ``right`` at the right edge, ``middle`` between them."""
    room = max(0, width - width_of(right))
    if middle:
        centred = min((width - width_of(middle)) // 2, room - width_of(middle) - 2)
        start = max(width_of(left) + 2, centred)
        left = (*fitted(left, min(start, room)), *middle)
    return (*fitted(left, room), *fitted(right, width - room))


def beside(*columns: tuple[Sequence[Line], int]) -> list[Line]:
    """Blocks of lines side by side, each as wide as is said with it."""
    rows = zip_longest(*(lines for lines, _ in columns), fillvalue=())
    widths = [width for _, width in columns]
    return [tuple(span for part in map(fitted, row, widths) for span in part) for row in rows]


def rule(width: int) -> Line:
    """A line across."""
    return (Span("─" * width, "dim"),)


def bar(done: int, whole: int, width: int) -> str:
    """A bar of ``width`` cells; full only when all is done, not empty once anything is, ``▲`` if over."""
    if whole <= 0:
        return "·" * width
    cells = min(width, max(0, done * width // whole))
    if done > 0 and cells == 0:
        cells = 1
    if done > whole and width > 1:
        return "▇" * (width - 1) + "▲"
    return "▇" * cells + "░" * (width - cells)


def clipped(text: str, width: int) -> str:
    """Text cut to ``width`` columns with an ellipsis where it was longer."""
    if cell_len(text) <= width:
        return text
    return set_cell_size(text, max(0, width - 1)).rstrip() + "…"


def first_that_fits(texts: Iterable[str], width: int) -> str:
    """The first text that ``width`` columns hold; if none is short enough the last one, cut."""
    text = ""
    for text in texts:
        if cell_len(text) <= width:
            return text
    return clipped(text, width)


def shortened(text: str, width: int) -> str:
    """Text cut in its middle: names that differ only at the end, such as left and right, stay apart."""
    if cell_len(text) <= width or width < len("a… left"):
        return clipped(text, width)
    tail = text[-(width // 2) :]
    while cell_len(tail) > width // 2:  # letters that take two columns
        tail = tail[1:]
    if " " in tail.strip():  # a word that is cut at both ends is read as another
        tail = tail[tail.index(" ", 1 if tail[0] == " " else 0) :]
    return clipped(text, width - cell_len(tail)) + tail


def padded(text: str, width: int) -> str:
    """Text filled with spaces to ``width`` columns; some letters take two."""
    return text + " " * (width - cell_len(text))


def wrapped(text: str, width: int) -> list[str]:
    """Text in rows of ``width`` columns, one at least, broken between words, or within longer ones."""
    rows: list[str] = []
    width = max(1, width)
    for piece in (piece for word in re.split(r"\s", text) for piece in chop_cells(word, width) or [""]):
        if rows and cell_len(rows[-1]) + 1 + cell_len(piece) <= width:
            rows[-1] += f" {piece}"
        elif piece:
            rows.append(piece)
    return rows


def message_rows(text: str, width: int, tone: Tone) -> list[Line]:
    """A message in up to ``MESSAGE_ROWS``, one at least; where it needs more, the last one is cut."""
    rows = wrapped(text, width - 2) or [""]
    if len(rows) > MESSAGE_ROWS:
        rows[MESSAGE_ROWS - 1] = clipped(f"{rows[MESSAGE_ROWS - 1]} {rows[MESSAGE_ROWS]}", width - 2)
    return [line(Span(f" {row}", tone)) for row in rows[:MESSAGE_ROWS]]


def beside_name(name: Span, text: str, width: int) -> list[Line]:
    """A name, and next to it a text of up to ``width`` columns with it, wrapped under its own beginning."""
    left = cell_len(name.text)
    rows = wrapped(text, width - left) or [""]
    return [line(Span(" " * left) if row else name, each) for row, each in enumerate(rows)]


def letter_lines(width: int, does: str) -> list[Line]:
    """A to Z as buttons, for use without a keyboard; ``does`` is ``type``, or ``press`` for an answer."""
    letter = "{} " if width < ROOM_BETWEEN_LETTERS else "{}  "
    buttons = [Span(letter.format(each), "button", f"{does}('{each}')") for each in ascii_uppercase]
    if does == "type":
        keys = (("⌫", "backspace"), ("Enter", "enter"))
        buttons += [Span(f" {shown} ", "button", f"type('{key}')") for shown, key in keys]
    lines: list[list[Span]] = [[Span(" ")]]
    for button in buttons:
        if width_of(tuple(lines[-1])) + cell_len(button.text) > width:
            lines.append([Span(" ")])
        lines[-1].append(button)
    return [tuple(each) for each in lines]


def one_of(text: str, action: str, *, here: bool) -> Span:
    """A button among others of which one is chosen, and marked: this one if it is ``here``."""
    return Span(f"{'▸' if here else ' '}{text} ", "cursor" if here else "button", action)


def wrapped_buttons(buttons: Iterable[Span], width: int, rows: int) -> list[Line]:
    """Buttons in up to ``rows`` lines, each kept whole; the last ones are left out if there is no room."""
    lines: list[list[Span]] = [[]]
    used = 0
    for button in buttons:
        room = cell_len(button.text)
        if lines[-1] and used + len(BETWEEN) + room > width:
            if len(lines) == rows:
                break
            lines.append([])
        used = used + len(BETWEEN) + room if lines[-1] else room
        lines[-1] += [Span(BETWEEN), button] if lines[-1] else [button]
    return [tuple(each) for each in lines]
