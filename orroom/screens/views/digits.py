"""Large figures in our own block digits: five rows (or ten), wide strokes where there is room."""

from __future__ import annotations

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
    " ": (" ", " ", " ", " ", " "),
}

#: How the three columns of a digit are stretched to a width: broad strokes are read from afar.
_STRETCH = {3: (1, 1, 1), 4: (1, 2, 1), 5: (2, 1, 2), 6: (2, 2, 2), 8: (3, 2, 3)}
HEIGHT = 5


def block_digits(text: str, width: int, *, double: bool = False) -> list[str]:
    """``text`` (digits, ``:``, ``−``) as rows no wider than ``width``, in the widest digits that fit.

    Five rows, or ten with ``double``. Where even the narrowest do not fit, the text alone on the middle row,
    so that a figure is never cut short.
    """
    for digit_width in (8, 6, 5, 4, 3) if double else (6, 5, 4, 3):
        rows = [_row(text, row, digit_width) for row in range(HEIGHT)]
        if len(rows[0]) <= width:
            return [row for row in rows for _ in range(2 if double else 1)]
    rows = [""] * (HEIGHT * (2 if double else 1))
    rows[len(rows) // 2] = text
    return rows


def _row(text: str, row: int, digit_width: int) -> str:
    parts = []
    for character in text:
        cells = _ROWS[character][row]
        if len(cells) == 1:
            parts.append(cells * (digit_width // 3))
        else:
            parts.append(
                "".join(cell * times for cell, times in zip(cells, _STRETCH[digit_width], strict=True))
            )
    gap = " " if digit_width < 6 else "  "
    return gap.join(parts)
