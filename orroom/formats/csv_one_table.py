"""A summary as one long table: section, item, size, measure, value, unit. One figure a row."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from orroom.formats.csv_text import Cell, cell, csv_text
from orroom.summary.fields import OWN_UNIT, Part, unit_of
from orroom.summary.summary import Summary

HEADER = ("section", "item", "size", "measure", "value", "unit")

#: The field that names the item of a row, by section; rows of other sections are numbered from 1.
NAMED_BY = {
    "sizes": "label",
    "zones": "zone",
    "harvests": "harvest",
    "out_of_body": "harvest",
    "accounts": "harvest",
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


def to_csv(summary: Summary) -> str:
    """The whole summary as comma-separated text with a header line; durations in minutes."""
    return csv_text(HEADER, _rows(summary))


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
            name, shown = (measure.removesuffix("_ms"), "min") if unit == "ms" else (measure, unit)
            yield (section, item, size, name, cell(told[measure], unit), shown)
