"""A report across cases as one long table: a measure of a group or of one case a row, numbers as numbers."""

from collections.abc import Iterator
from typing import Final

from orroom.archive.across import Across, Reported, Series
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


def to_csv(report: Across, *, single: bool = True) -> str:
    """The whole report as comma-separated text with a header line; no data is an empty cell.

    ``single``: behind the groups each case, by its number in order of time.
    """
    cases = [row for each in report.series for row in _cases(each)] if single else []
    return csv_text(HEADER, [*map(_row, report.figures), *cases])


def _cases(series: Series) -> Iterator[list[Cell]]:
    measure = series.measure
    for number, (month, value) in enumerate(series.points, 1):
        of_month = f"{month:%Y-%m}"
        named = ("case", str(number), of_month, of_month, measure.key, "one case", measure.unit)
        yield [*named, 1, round(value, measure.places), *(None,) * 4]


def _row(reported: Reported) -> list[Cell]:
    group, measure = reported.group, reported.measure
    figures = [*reported.figure, *(reported.middle_half or (None,) * 2)]
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
