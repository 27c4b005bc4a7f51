"""A report across cases as a page: of each measure a run chart, a row a group, and a chart by month."""

from collections.abc import Iterator
from textwrap import wrap
from typing import Final

from orroom.archive.across import Across, Reported, Series
from orroom.archive.groups import FEWEST_SHOWN, Level
from orroom.archive.intervals import FEWEST, FEWEST_HALVED
from orroom.archive.measures import LEAST_HOURS, Measure
from orroom.archive.report_chart import MOST_CASES, by_month, one_by_one, outside
from orroom.archive.runs import SHIFT, TREND, Signals
from orroom.case.terms import CAUTIONS
from orroom.figures.wording import NO_DATA, decimal, grafts, hours_minutes, percent, several
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
    f"No ranges below {FEWEST} cases (of a median below 9), nor for a share of all grafts, rounds, readings, "
    "groups or forecasts where nothing or everything happened, nor for a pace where nothing was done. The "
    f"last two figures show where the middle half of the cases is, from {FEWEST_HALVED} cases on. A case "
    "without a figure, as where half of the grafts were never placed, is left out of that figure; so is, of "
    f"a pace, one with under {LEAST_HOURS * 60:.0f} minutes of work.",
    f"Groups under {FEWEST_SHOWN} cases are merged with others, separately for each figure, so that none can "
    "be worked out by subtraction; sites are dropped where they would cost most of the months. A median is "
    "that of one case, or lies between two: it is shown to the minute only, shares to 0.1 %. Differences "
    "between groups may come from different cases, not different work. A share of cases has control limits: "
    "while nothing changes, some 3 months in 1,000 are outside.",
)
#: How to read run charts. How often each rule is met by chance: simulated (tests/bench/MEASURED.md).
READING_RUNS: Final = (
    f"The last {MOST_CASES} cases are shown one by one, in order of time: those of one month as they were "
    f"added, unless their days were kept. Three rules point out what chance seldom does: {SHIFT} cases in a "
    f"row above, or below, the median (a shift); {TREND} in a row each above, or below, the one before (a "
    "trend); fewer or more runs about the median than 95 of 100 orders of the same cases have. They find "
    f"something by chance too: of 100 charts of {MOST_CASES} cases in which nothing changed, some 24 show a "
    "shift, 31 a trend, 4 too few or too many runs. Ask what happened before you change anything."
)
SINGLE: Final = (
    "This report shows single cases: it is for the clinic's own meeting. To hand it on, make it with "
    "--to-hand-on: that leaves single cases out."
)


def to_text(report: Across, *, single: bool = True) -> str:
    """The whole report as Markdown that reads well raw; ``single``: cases one by one too."""
    return markdown(blocks_of(report, single=single))


def to_html(report: Across, *, single: bool = True) -> str:
    """The whole report as a page that loads nothing from elsewhere and runs nothing."""
    return html(f"Across {report.cases:,} cases", blocks_of(report, single=single))


def blocks_of(report: Across, *, single: bool = True) -> Iterator[Block]:
    """Title, cautions and how to read what follows; then each measure, case by case and at every level."""
    first, last = report.first, report.last
    yield Heading(f"{grafts(report.cases)} cases, {first:%Y-%m} to {last:%Y-%m}", level=1)
    yield Caution([SINGLE, *CAUTIONS] if single else CAUTIONS)
    yield from (lines(*wrap(each, COLUMNS)) for each in READING)
    if single:
        yield lines(*wrap(READING_RUNS, COLUMNS))
        yield from _going_on(report)
    for series in report.series:
        yield from _measure(report, series, single=single)


def _going_on(report: Across) -> Iterator[Block]:
    """How many cases are a later day of an earlier one."""
    here, elsewhere = report.going_on, report.going_on_elsewhere
    if here or elsewhere:
        yield Paragraph(
            f"Second days: {here:,} of an earlier case of this archive, {elsewhere:,} of one that is not in "
            "it. Two days of one patient count as two cases, though they are alike."
        )


def _measure(report: Across, series: Series, *, single: bool) -> Iterator[Block]:
    measure = series.measure
    yield Heading(_capital(measure.label))
    unit = "" if measure.unit in SAID_BY_THE_FIGURE else f", {measure.unit}"
    yield Paragraph(f"{_capital(measure.how)}{unit}. Its name: {measure.name}.")
    if series.not_recorded:
        some = several(series.not_recorded, "case")
        yield Paragraph(f"Not recorded: {some}, added by an earlier version. Add again with --replace.")
    if single and (charted := one_by_one(series)) is not None:
        chart, found = charted
        yield chart
        yield Paragraph(_said(measure, found))
    rows = [_row(each) for level in LEVELS for each in report.of(level, measure)]
    yield Table(HEADER, rows) if rows else Paragraph(f"Fewer than {FEWEST_SHOWN} cases have it.")
    for chart in by_month(report, measure):
        yield chart
        if measure.how == "share of cases":
            months = ", ".join(outside(report, measure)) or "no month"
            yield Paragraph(f"Outside the control limits: {months}.")


def _said(measure: Measure, found: Signals) -> str:
    """What a run chart shows, in words."""
    said = [f"Median {written(measure, found.median)}."]
    for name, stretches, ways in (
        ("Shift", found.shifts, ("below", "above")),
        ("Trend", found.trends, ("down", "up")),
    ):
        said += [f"{name}: cases {each.first + 1} to {each.last + 1}, {ways[each.up]}." for each in stretches]
    if not (found.shifts or found.trends):
        said.append("No shift, no trend.")
    if found.runs_by_chance is None:
        said.append(f"{several(found.off_median, 'case')} off the median: too few to count runs.")
    else:
        fewest, most = found.runs_by_chance
        many = ", too few" if found.runs < fewest else ", too many" if found.runs > most else ""
        said.append(f"{several(found.runs, 'run')}{many}; by chance {fewest} to {most}.")
    return " ".join(said)


def _capital(words: str) -> str:
    return words[0].upper() + words[1:]


def _row(reported: Reported) -> tuple[str, ...]:
    measure, figure = reported.measure, reported.figure
    ends = None if figure.low is None or figure.high is None else (figure.low, figure.high)
    return (
        reported.group.name,
        grafts(len(reported.group.cases)),
        written(measure, figure.value),
        _between(measure, ends),
        _between(measure, reported.middle_half),
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
