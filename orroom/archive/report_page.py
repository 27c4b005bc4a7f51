"""A report across cases as a page: a section a measure, a row a group, and a chart by month."""

from collections.abc import Iterator
from textwrap import wrap
from typing import Final

from orroom.archive.across import LEAST_HOURS, MEASURES, Across, Measure, Reported
from orroom.archive.groups import FEWEST_SHOWN, Level
from orroom.archive.intervals import FEWEST, FEWEST_HALVED
from orroom.archive.report_chart import by_month
from orroom.case.terms import CAUTIONS
from orroom.figures.wording import NO_DATA, decimal, grafts, hours_minutes, percent
from orroom.formats.blocks import Block, Caution, Heading, Paragraph, Table, lines
from orroom.formats.html import html
from orroom.formats.markdown import markdown

LEVELS: Final[tuple[Level, ...]] = ("all", "year", "month", "site")
#: Per cent and hours are written with each figure.
SAID_BY_THE_FIGURE: Final = frozenset({"share", "min"})
COLUMNS: Final = 80
HEADER: Final = ("", "cases", "figure", "95 % range", "middle half of cases")
READING: Final = (
    "Each case counts once. Ranges show how far chance variation between cases could have moved a figure. "
    f"No ranges below {FEWEST} cases (of a median below 9), nor for a share of all grafts or rounds where "
    "nothing or everything happened, nor for a pace where nothing was done. The last two figures show where "
    f"the middle half of the cases is, from {FEWEST_HALVED} cases on. A case without a figure, as where half "
    "of the grafts were never placed, is left out of that figure; so is, of a pace, one with under "
    f"{LEAST_HOURS * 60:.0f} minutes of work.",
    f"Groups under {FEWEST_SHOWN} cases are merged with others, separately for each figure, so that none can "
    "be worked out by subtraction; sites are dropped where they would cost most of the months. A median is "
    "that of one case, or lies between two: it is shown to the minute only, shares to 0.1 %. Differences "
    "between groups may come from different cases, not different work.",
)


def to_text(report: Across) -> str:
    """The whole report as Markdown that reads well raw."""
    return markdown(blocks_of(report))


def to_html(report: Across) -> str:
    """The whole report as a page that loads nothing from elsewhere and runs nothing."""
    return html(f"Across {report.cases:,} cases", blocks_of(report))


def blocks_of(report: Across) -> Iterator[Block]:
    """Title, cautions and how to read what follows; then each measure at every level."""
    first, last = report.first, report.last
    yield Heading(f"{grafts(report.cases)} cases, {first:%Y-%m} to {last:%Y-%m}", level=1)
    yield Caution(CAUTIONS)
    yield from (lines(*wrap(each, COLUMNS)) for each in READING)
    for measure in MEASURES:
        yield Heading(measure.label.capitalize())
        unit = "" if measure.unit in SAID_BY_THE_FIGURE else f", {measure.unit}"
        yield Paragraph(f"{measure.how.capitalize()}{unit}.")
        rows = [_row(each) for level in LEVELS for each in report.of(level, measure)]
        yield Table(HEADER, rows) if rows else Paragraph(f"Fewer than {FEWEST_SHOWN} cases have it.")
        yield from by_month(report, measure)


def _row(told: Reported) -> tuple[str, ...]:
    measure, figure = told.measure, told.figure
    ends = None if figure.low is None or figure.high is None else (figure.low, figure.high)
    return (
        told.group.name,
        grafts(len(told.group.cases)),
        written(measure, figure.value),
        _between(measure, ends),
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
