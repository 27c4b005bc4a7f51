"""A report across cases as Markdown that reads well raw: a section a measure, a row a group."""

from __future__ import annotations

from collections.abc import Iterator
from textwrap import fill
from typing import Final

from orroom.archive.across import MEASURES, Across, Measure, Told
from orroom.archive.groups import FEWEST_TOLD, Level
from orroom.archive.intervals import FEWEST, Estimate
from orroom.case.terms import CAUTIONS
from orroom.figures.wording import NO_DATA, decimal, grafts, hours_minutes, percent
from orroom.reports.page import escaped, table

LEVELS: Final[tuple[Level, ...]] = ("all", "year", "month", "site")
#: Per cent and hours are written with each figure.
SAID_BY_THE_FIGURE: Final = frozenset({"share", "min"})
COLUMNS: Final = 80
HEADER: Final = ("", "cases", "figure", "95 % limits", "middle half of cases")
READING: Final = (
    "The case is the unit: limits say how far chance in which cases came could have moved a figure. "
    f"Below {FEWEST} cases there are none, nor where nothing or everything happened. "
    "The middle half of the cases lies between the last two figures. A case without a figure, as where half "
    "of the grafts were never placed, is left out of it.",
    f"Fewer than {FEWEST_TOLD} cases are never told alone: their month, year or site is told together with "
    "others. Differences between groups may come from cases that are unlike, not from the work.",
)


def to_text(report: Across) -> str:
    """The whole report."""
    head = "\n\n".join(heading(report))
    return "\n\n".join([head, *("\n\n".join(section(report, each)) for each in MEASURES)]) + "\n"


def heading(report: Across) -> Iterator[str]:
    """Title, cautions, and how to read what follows."""
    yield f"# {grafts(report.cases)} cases, {report.groups[0].first:%Y-%m} to {report.groups[0].last:%Y-%m}"
    yield "\n".join(f"> - {escaped(each)}" for each in CAUTIONS)
    yield from (fill(escaped(each), COLUMNS) for each in READING)


def section(report: Across, measure: Measure) -> Iterator[str]:
    """One measure at every level."""
    yield f"## {escaped(measure.label.capitalize())}"
    unit = "" if measure.unit in SAID_BY_THE_FIGURE else f", {measure.unit}"
    yield escaped(f"{measure.how.capitalize()}{unit}.")
    rows = [_row(each) for level in LEVELS for each in report.of(level, measure)]
    yield table(HEADER, rows)


def _row(told: Told) -> tuple[str, ...]:
    measure, figure = told.measure, told.figure or Estimate(0)
    limits = None if figure.low is None or figure.high is None else (figure.low, figure.high)
    return (
        escaped(told.group.name),
        grafts(told.cases),
        NO_DATA if told.figure is None else written(measure, figure.value),
        _between(measure, limits),
        _between(measure, told.middle_half),
    )


def _between(measure: Measure, ends: tuple[float, float] | None) -> str:
    return NO_DATA if ends is None else " – ".join(written(measure, each) for each in ends)


def written(measure: Measure, value: float) -> str:
    """A figure as it is shown: shares in per cent, times in hours and minutes."""
    match measure.unit:
        case "share":
            return percent(value, 1)
        case "min":
            return hours_minutes(round(value * 60_000))
        case "hairs/graft":
            return decimal(value, 2)
    return decimal(value)
