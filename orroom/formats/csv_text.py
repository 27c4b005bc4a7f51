"""Rows as comma-separated text, for spreadsheets and programs."""

import csv
import io
from collections.abc import Iterable, Sequence
from typing import Any

#: What makes spreadsheets take a text for a formula, full-width forms included.
_FORMULA_STARTS = tuple("=+-@\t\r\n＝＋－＠")

Cell = str | int | float | None


def csv_text(header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    """A line for the header and each row. Numbers stay numbers, no data is an empty cell.

    Text that a spreadsheet would run as a formula is made harmless.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(header)
    for row in rows:
        writer.writerow([harmless(cell) if isinstance(cell, str) else cell for cell in row])
    return out.getvalue()


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
