"""A report across cases as Markdown that reads well raw: a section a measure, a row a group."""

from __future__ import annotations

from collections.abc import Iterator
from textwrap import fill
from typing import Final

from orroom.archive.across import LEAST_HOURS, MEASURES, Across, Measure, Told
from orroom.archive.groups import FEWEST_TOLD, Level
from orroom.archive.intervals import FEWEST, FEWEST_HALVED
from orroom.case.terms import CAUTIONS
from orroom.figures.wording import NO_DATA, decimal, grafts, hours_minutes, percent
from orroom.formats.page import escaped, table

LEVELS: Final[tuple[Level, ...]] = ("all", "year", "month", "site")
#: Per cent and hours are written with each figure.
SAID_BY_THE_FIGURE: Final = frozenset({"share", "min"})
COLUMNS: Final = 80
HEADER: Final = ("", "cases", "figure", "95 % limits", "middle half of cases")
READING: Final = (
    "The case is the unit: limits say how far chance in which cases came could have moved a figure. "
    f"Below {FEWEST} cases there are none (of a median below 9), nor for a share of all grafts or rounds "
    "where nothing or everything happened, nor for a pace where nothing was done. The middle half of "
    f"the cases lies between the last two figures; below {FEWEST_HALVED} it is not told. A case without a "
    "figure, as where half of the grafts were never placed, is left out of it; so is, of a pace, one with "
    f"less than {LEAST_HOURS * 60:.0f} minutes of work.",
    f"Fewer than {FEWEST_TOLD} cases are never told alone, nor can they be found by taking one group from "
    "another: their month, year or site is told together with others, for each figure anew, and sites are "
    "left out where they would cost most of the months. A median is that of one case, or lies between two: "
    "it is told to the minute only, shares to 0.1 %. Differences between groups may come from cases that are "
    "unlike, not from the work.",
)


def to_text(report: Across) -> str:
    """The whole report."""
    head = "\n\n".join(heading(report))
    return "\n\n".join([head, *("\n\n".join(section(report, each)) for each in MEASURES)]) + "\n"


def heading(report: Across) -> Iterator[str]:
    """Title, cautions, and how to read what follows."""
    yield f"# {grafts(report.cases)} cases, {report.first:%Y-%m} to {report.last:%Y-%m}"
    yield "\n".join(f"> - {escaped(each)}" for each in CAUTIONS)
    yield from (fill(escaped(each), COLUMNS) for each in READING)


def section(report: Across, measure: Measure) -> Iterator[str]:
    """One measure at every level."""
    yield f"## {escaped(measure.label.capitalize())}"
    unit = "" if measure.unit in SAID_BY_THE_FIGURE else f", {measure.unit}"
    yield escaped(f"{measure.how.capitalize()}{unit}.")
    rows = [_row(each) for level in LEVELS for each in report.of(level, measure)]
    yield table(HEADER, rows) if rows else f"Fewer than {FEWEST_TOLD} cases have it."


def _row(told: Told) -> tuple[str, ...]:
    measure, figure = told.measure, told.figure
    limits = None if figure.low is None or figure.high is None else (figure.low, figure.high)
    return (
        escaped(told.group.name),
        grafts(len(told.group.cases)),
        written(measure, figure.value),
        _between(measure, limits),
        _between(measure, told.middle_half),
    )


def _between(measure: Measure, ends: tuple[float, float] | None) -> str:
    return NO_DATA if ends is None else " – ".join(written(measure, each) for each in ends)


def written(measure: Measure, value: float) -> str:
    """A figure as it is shown: shares in per cent, times in hours and minutes."""
    match measure.unit:
        case "share":
            return percent(value, measure.places - 2)
        case "min":
            return hours_minutes(round(value) * 60_000)
    return decimal(value, measure.places)
