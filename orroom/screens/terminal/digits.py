"""Large figures and capitals in our own blocks: five rows each or a multiple, strokes as broad as fit."""

import unicodedata
from collections.abc import Sequence
from functools import lru_cache

from msgspec import Struct

_ROWS = {
    "0": ("███", "█ █", "█ █", "█ █", "███"),
    "1": (" █ ", "██ ", " █ ", " █ ", "███"),
    "2": ("███", "  █", "███", "█  ", "███"),
    "3": ("███", "  █", "███", "  █", "███"),
    "4": ("█ █", "█ █", "███", "  █", "  █"),
    "5": ("███", "█  ", "███", "  █", "███"),
    "6": ("███", "█  ", "███", "█ █", "███"),
    "7": ("███", "  █", "  █", "  █", "  █"),
    "8": ("███", "█ █", "███", "█ █", "███"),
    "9": ("███", "█ █", "███", "  █", "███"),
    "−": ("   ", "   ", "███", "   ", "   "),
    "—": ("   ", "   ", "███", "   ", "   "),
    ":": (" ", "█", " ", "█", " "),
    "A": (" █ ", "█ █", "███", "█ █", "█ █"),
    "B": ("██ ", "█ █", "██ ", "█ █", "██ "),
    "C": ("███", "█  ", "█  ", "█  ", "███"),
    "D": ("██ ", "█ █", "█ █", "█ █", "██ "),
    "E": ("███", "█  ", "██ ", "█  ", "███"),
    "F": ("███", "█  ", "██ ", "█  ", "█  "),
    "G": ("███", "█  ", "█ █", "█ █", "███"),
    "H": ("█ █", "█ █", "███", "█ █", "█ █"),
    "I": ("███", " █ ", " █ ", " █ ", "███"),
    "J": ("  █", "  █", "  █", "█ █", "███"),
    "K": ("█ █", "█ █", "██ ", "█ █", "█ █"),
    "L": ("█  ", "█  ", "█  ", "█  ", "███"),
    "M": ("█   █", "██ ██", "█ █ █", "█   █", "█   █"),
    "N": ("█  █", "██ █", "█ ██", "█  █", "█  █"),
    "O": ("███", "█ █", "█ █", "█ █", "███"),
    "P": ("███", "█ █", "███", "█  ", "█  "),
    "Q": ("███", "█ █", "█ █", "███", "  █"),
    "R": ("██ ", "█ █", "██ ", "█ █", "█ █"),
    "S": ("███", "█  ", "███", "  █", "███"),
    "T": ("███", " █ ", " █ ", " █ ", " █ "),
    "U": ("█ █", "█ █", "█ █", "█ █", "███"),
    "V": ("█ █", "█ █", "█ █", "█ █", " █ "),
    "W": ("█   █", "█   █", "█ █ █", "██ ██", "█   █"),
    "X": ("█ █", "█ █", " █ ", "█ █", "█ █"),
    "Y": ("█ █", "█ █", " █ ", " █ ", " █ "),
    "Z": ("███", "  █", " █ ", "█  ", "███"),
    " ": (" ", " ", " ", " ", " "),
    "h": ("█  ", "█  ", "███", "█ █", "█ █"),
    "/": ("  █", "  █", " █ ", "█  ", "█  "),
    "-": ("   ", "   ", "███", "   ", "   "),
    ".": (" ", " ", " ", " ", "█"),
    "·": (" ", " ", "█", " ", " "),
}
ROWS = 5

#: How first, middle and last columns are stretched to a width: broad strokes are read from afar.
_STRETCH = {
    3: (1, 1, 1),
    4: (1, 2, 1),
    5: (2, 1, 2),
    6: (2, 2, 2),
    8: (3, 2, 3),
    10: (3, 4, 3),
    12: (4, 4, 4),
}

#: The widest digits for each height, in multiples of five rows: a terminal's cells are twice as high as wide.
_WIDEST = {1: 6, 2: 10, 3: 12}
#: And the narrowest: strokes of tall, narrow digits run together at four metres. ISO 9241-303 asks for half
#: the height or more (from memory); figures beside each other have room for a quarter.
_NARROWEST = {1: 3, 2: 5, 3: 8}

#: Between two figures there is this many times the space between two digits: else 10 and 5 read as 105.
APART = 3


class Scale(Struct, frozen=True):
    """How large digits are drawn: columns of one digit (0: as plain text), and rows in multiples of five."""

    width: int
    times: int

    @property
    def height(self) -> int:
        """Rows that a figure takes."""
        return ROWS * self.times


def largest_scale(figures: Sequence[str], width: int, height: int) -> Scale:
    """The largest scale at which every one of ``figures`` fits into ``width`` columns and ``height`` rows.

    Figures that are read side by side are all drawn at one scale, and the space to the next is part of
    ``width``. Where even the narrowest digits do not fit, figures are written as plain text, so that none is
    ever cut short.
    """
    beside = APART if len(figures) > 1 else 0
    for times in range(max(1, min(3, height // ROWS)), 0, -1):
        for digit in sorted(_STRETCH, reverse=True):
            room = width - beside * len(_gap(digit))
            fits = all(_columns(figure, digit) <= room for figure in figures)
            if _NARROWEST[times] <= digit <= _WIDEST[times] and fits:
                return Scale(digit, times)
    return Scale(0, 1)


def in_capitals(text: str) -> str | None:
    """``text`` in capitals that can be drawn, without accents; ``None`` where a letter has no blocks."""
    parted = unicodedata.normalize("NFKD", text.upper())
    plain = "".join(each for each in parted if not unicodedata.combining(each))
    return plain if set(plain) <= _ROWS.keys() else None


def block_digits(figure: str, scale: Scale) -> list[str]:
    """``figure`` (digits, capitals, ``:``, ``−``, ``/``) as rows of blocks, or as text on the middle row."""
    if scale.width == 0:
        rows = [""] * scale.height
        rows[scale.height // 2] = figure
        return rows
    drawn = (
        _gap(scale.width).join(_stretched(each, row, scale.width) for each in figure) for row in range(ROWS)
    )
    return [row for row in drawn for _ in range(scale.times)]


def _gap(digit: int) -> str:
    return " " if digit < 6 else "  "


@lru_cache(2048)  # all that there are: 44 characters, five rows, seven widths
def _stretched(character: str, row: int, digit: int) -> str:
    cells = _ROWS[character][row]
    if len(cells) == 1:
        return cells * (digit // 3)
    first, middle, last = _STRETCH[digit]
    times = (first, *[middle] * (len(cells) - 2), last)
    return "".join(cell * each for cell, each in zip(cells, times, strict=True))


def _columns(figure: str, digit: int) -> int:
    return sum(len(_stretched(each, 0, digit)) for each in figure) + len(_gap(digit)) * (len(figure) - 1)
