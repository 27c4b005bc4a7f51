"""A report across cases as one long table: one measure of one group a row, numbers as numbers."""

from typing import Final

from orroom.archive.across import Across, Reported
from orroom.formats.csv_text import Cell, csv_text

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
    return csv_text(HEADER, map(_row, report.figures))


def _row(told: Reported) -> list[Cell]:
    group, measure = told.group, told.measure
    figures = [*told.figure, *(told.middle_half or (None,) * 2)]
    return [
        group.level,
        group.name,
        f"{group.first:%Y-%m}",
        f"{group.last:%Y-%m}",
        measure.key,
        measure.how,
        measure.unit,
        len(group.cases),
        *(None if each is None else round(each, measure.places) for each in figures),
    ]
