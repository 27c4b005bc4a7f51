"""Rows as comma-separated text, for spreadsheets and programs."""

import csv
import io
import re
from collections.abc import Iterable, Sequence
from typing import Any, Final

#: What makes spreadsheets take a text for a formula, full-width forms included.
_FORMULA_STARTS = tuple("=+-@\t\r\n＝＋－＠")

_GUARDED: Final = re.compile(rf"(?:^|[,;])\"?' *[{re.escape(''.join(_FORMULA_STARTS))}]", re.MULTILINE)

Cell = str | int | float | None


def csv_text(header: Sequence[str], rows: Iterable[Sequence[Cell]], decimal: str = ".") -> str:
    """A line for the header and each row. Numbers stay numbers, no data is an empty cell.

    Text that a spreadsheet would run as a formula is made harmless. With a ``decimal`` comma, semicolons
    separate the cells.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n", delimiter=";" if decimal == "," else ",")
    writer.writerow(header)
    for row in rows:
        writer.writerow([_written(each, decimal) for each in row])
    return out.getvalue()


def _written(value: Cell, decimal: str) -> Cell:
    if isinstance(value, float) and decimal != ".":
        return str(value).replace(".", decimal)
    return harmless(value) if isinstance(value, str) else value


def is_guarded(text: str) -> bool:
    """Whether a cell of a table has an apostrophe before it that is not part of its text."""
    return _GUARDED.search(text) is not None


def harmless(text: str) -> str:
    """``text`` with an apostrophe before it if a spreadsheet would run it as a formula."""
    return f"'{text}" if text.lstrip(" ").startswith(_FORMULA_STARTS) else text


def cell(value: Any, unit: str) -> Cell:  # noqa: ANN401 - whatever JSON holds
    """A field of a summary's part: durations in minutes, truths as yes and no, several texts in one."""
    match value:
        case bool():
            return "yes" if value else "no"
        case list():
            return "; ".join(value)
        case int() | float() if unit == "ms":
            return round(float(value) / 60_000, 2)
    found: Cell = value
    return found
