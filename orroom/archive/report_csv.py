"""A report across cases as one long table: one measure of one group a row, numbers as numbers."""

from __future__ import annotations

import csv
import io
from typing import Final

from orroom.archive.across import Across, Told
from orroom.formats.csv_text import harmless

HEADER: Final = (
    "level",
    "group",
    "first_month",
    "last_month",
    "measure",
    "statistic",
    "unit",
    "cases",
    "value",
    "low_95",
    "high_95",
    "middle_half_low",
    "middle_half_high",
)


def to_csv(report: Across) -> str:
    """The whole report as comma-separated text with a header line; no data is an empty cell."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(HEADER)
    for told in report.told:
        writer.writerow(_row(told))
    return out.getvalue()


def _row(told: Told) -> list[str | int | float | None]:
    group, measure = told.group, told.measure
    figures = [*told.figure, *(told.middle_half or (None,) * 2)]
    return [
        group.level,
        harmless(group.name),
        f"{group.first:%Y-%m}",
        f"{group.last:%Y-%m}",
        measure.key,
        measure.how,
        measure.unit,
        len(group.cases),
        *(None if each is None else round(each, measure.places) for each in figures),
    ]
