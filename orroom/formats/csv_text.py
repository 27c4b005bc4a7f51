"""A summary as one long table: section, item, size, measure, value, unit. One figure a row.

Text that a spreadsheet would run as a formula is made harmless, numbers stay numbers, and no data is an
empty cell.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping

from orroom.summary.fields import OWN_UNIT, Part, unit_of
from orroom.summary.summary import Summary

HEADER = ("section", "item", "size", "measure", "value", "unit")

#: What makes spreadsheets take a text for a formula, full-width forms included.
_FORMULA_STARTS = tuple("=+-@\t\r\n＝＋－＠")

#: The field that names the item of a row, by section; rows of other sections are numbered from 1.
NAMED_BY = {
    "sizes": "label",
    "zones": "zone",
    "lots": "lot",
    "out_of_body": "lot",
    "accounts": "lot",
    "care": "care",
    "people": "who",
    "discards": "reason",
    "quality": "measure",
    "division_losses": "label",
    "projected": "what",
    "mismatches": "mismatch",
    "times": "work",
    "pace": "work",
    "spot_check_totals": "subject",
}

Cell = str | int | float | None


def harmless(text: str) -> str:
    """``text`` with an apostrophe before it if a spreadsheet would run it as a formula."""
    return f"'{text}" if text.lstrip(" ").startswith(_FORMULA_STARTS) else text


def to_csv(summary: Summary) -> str:
    """The whole summary as comma-separated text with a header line; durations in minutes."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(HEADER)
    for row in _rows(summary):
        writer.writerow([harmless(cell) if isinstance(cell, str) else cell for cell in row])
    return out.getvalue()


def _rows(summary: Summary) -> Iterator[tuple[Cell, ...]]:
    """Single figures of the case first, then each section in the order of the model."""
    yield from _figures("case", "", summary)
    for section, value in summary:
        if isinstance(value, Part):
            yield from _figures(section, "", value)
        elif isinstance(value, tuple):
            for number, each in enumerate(value, 1):
                if not isinstance(each, Part):
                    yield (section, str(number), "", "text", str(each), "")
                    continue
                name = NAMED_BY.get(section)
                item = str(getattr(each, name)) if name else str(number)
                yield from (row for row in _figures(section, item, each) if row[3] != name)


def _figures(section: str, item: str, part: Part) -> Iterator[tuple[Cell, ...]]:
    """A row for each figure of one part, one for each size where it is told by size."""
    told = part.model_dump(mode="json")
    size = str(told.get("size") or "")
    for measure, field in type(part).model_fields.items():
        unit = unit_of(field)
        unit = told[OWN_UNIT] if unit == OWN_UNIT else unit
        value = getattr(part, measure)
        if isinstance(value, Mapping):
            for each, count in value.items():
                yield (section, item, each, measure, count, unit)
        elif not isinstance(value, Part | tuple) and measure not in {"size", OWN_UNIT}:
            yield (section, item, size, *_cell(measure, told[measure], unit))


def _cell(measure: str, value: Cell, unit: str) -> tuple[Cell, ...]:
    if unit == "ms":
        minutes = None if value is None else round(float(value) / 60_000, 2)
        return (measure.removesuffix("_ms"), minutes, "min")
    if isinstance(value, bool):
        return (measure, "yes" if value else "no", unit)
    return (measure, value, unit)
