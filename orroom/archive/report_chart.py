"""The charts of a report across cases: a measure case by case, and by month at true dates."""

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Final

from orroom.archive.across import Across, Reported, Series
from orroom.archive.groups import Group
from orroom.archive.measures import Measure
from orroom.archive.runs import Signals, control_limits, signals
from orroom.formats.chart import Chart, Level, Line, Marks, Range
from orroom.formats.drawing import WIDTH, breadth
from orroom.formats.svg import LEFT, RIGHT

#: A chart shows figures in these units: what one of the measure's own is multiplied by.
SHOWN: Final = {"share": ("%", 100.0), "min": ("hours", 1 / 60)}
#: Room between the words of two marks on the axis.
BETWEEN: Final = 10
#: Ranges are drawn up to this many times the highest figure.
MOST_TIMES: Final = 3
#: So many of the last cases are shown one by one: of more, most charts have a shift or a trend by chance.
MOST_CASES: Final = 30
#: The shapes of marks: cases, those of a shift, those of a trend; open over full, both are seen.
CASE, IN_SHIFT, IN_TREND = 1, 2, 5


def one_by_one(series: Series) -> tuple[Chart, Signals] | None:
    """The run chart of the last cases and what it shows; ``None`` below two, and for yes or no a case."""
    points = series.points[-MOST_CASES:]
    if len(points) < 2 or series.measure.how == "share of cases":
        return None
    unit, factor = _unit(series.measure)
    found = signals([value for _, value in points])
    shown = [(place + 1.0, value * factor) for place, (_, value) in enumerate(points)]
    marks = [
        Marks([shown[place] for each in stretches for place in range(each.first, each.last + 1)], name, shape)
        for stretches, name, shape in ((found.shifts, "shift", IN_SHIFT), (found.trends, "trend", IN_TREND))
        if stretches
    ]
    months = [month for month, _ in points]
    begins = [(place + 1.0, month) for place, month in enumerate(months) if place == months.index(month)]
    axis = (0.5, len(shown) + 0.5)
    some = f"the last {len(points)}" if len(points) < len(series.points) else f"all {len(points)}"
    chart = Chart(
        f"{_title(series.measure)}, {some} cases one by one",
        axis,
        _around([value for _, value in shown], factor if series.measure.unit == "share" else None),
        "cases in order, where a month begins",
        unit,
        _apart([(at, f"{month:%Y-%m}") for at, month in begins], axis),
        [Line(shown), Level(found.median * factor, "median", 1), Marks(shown, "case", CASE), *marks],
    )
    return chart, found


def by_month(report: Across, measure: Measure) -> Iterator[Chart]:
    """The figure of each month at its true date, with its range; none below two months.

    A group of several months has a line over all of them. A share of cases has control limits instead of
    ranges. Ranges far above all figures are drawn to the edge, and the title says so.
    """
    months = report.of("month", measure)
    if len(months) < 2:
        return
    unit, factor = _unit(measure)
    values = [each.figure.value * factor for each in months]
    at = [(_begins(each.group.first) + _ends(each.group.last)) / 2 for each in months]
    bounds = [(each.figure.low, each.figure.high) for each in months]
    middle: list[Level] = []
    what = "95 % ranges"
    if measure.how == "share of cases":
        (whole,) = report.of("all", measure)
        bounds = [_limits(report, each) for each in months]
        middle, what = [Level(whole.figure.value * factor, "all cases", 1)], "control limits"
    ends = [
        (place, low * factor, high * factor)
        for place, (low, high) in zip(at, bounds, strict=True)
        if low is not None and high is not None
    ]
    top = min(max([*values, *(high for _, _, high in ends)]), MOST_TIMES * max(values))
    bottom = max(0.0, min([*values, *(low for _, low, _ in ends)]))
    room = (top - bottom) * 0.1 or top * 0.1 or 1.0
    least, most = max(0.0, bottom - room), top + room
    cut = any(high > most for _, _, high in ends)
    ranges = [Range(place, *(min(max(end, least), most) for end in (low, high))) for place, low, high in ends]
    spans = [
        Line([(_begins(each.group.first), value), (_ends(each.group.last), value)])
        for each, value in zip(months, values, strict=True)
        if each.group.first != each.group.last
    ]
    axis = (_begins(months[0].group.first), _ends(months[-1].group.last))
    yield Chart(
        f"{_title(measure)} by month, with {what}{', cut at the edge' if cut else ''}",
        axis,
        (least, most),
        "month",
        unit,
        _apart([(place, _months(each.group)) for place, each in zip(at, months, strict=True)], axis),
        [*middle, *spans, *ranges, Marks([*zip(at, values, strict=True)], measure.how)],
    )


def outside(report: Across, measure: Measure) -> list[str]:
    """The months whose share of cases is outside its control limits."""
    found = []
    for each in report.of("month", measure):
        low, high = _limits(report, each)
        if not low <= each.figure.value <= high:
            found.append(each.group.name)
    return found


def _limits(report: Across, month: Reported) -> tuple[float, float]:
    (whole,) = report.of("all", month.measure)
    return control_limits(whole.figure.value, len(month.group.cases))


def _unit(measure: Measure) -> tuple[str, float]:
    """The unit that is shown, and how many of it one of the measure's own is."""
    return SHOWN.get(measure.unit, (measure.unit, 1.0))


def _title(measure: Measure) -> str:
    return measure.label[0].upper() + measure.label[1:]


def _around(values: Sequence[float], whole: float | None) -> tuple[float, float]:
    """Ends of an axis that has all values and some room, not below 0; of shares not above a whole."""
    bottom, top = min(values), max(values)
    room = (top - bottom) * 0.1 or top * 0.1 or (whole or 10.0) / 10
    most = top + room if whole is None or top > whole else min(top + room, whole)
    return max(0.0, bottom - room), most


def _begins(month: date) -> float:
    """Where a month begins, in months since year 0."""
    return month.year * 12 + month.month - 1.0


def _ends(month: date) -> float:
    return _begins(month) + 1


def _apart(ticks: Sequence[tuple[float, str]], axis: tuple[float, float]) -> list[tuple[float, str]]:
    """Of ticks in order, the first and every next one whose words do not run into those before."""
    scale = (WIDTH - LEFT - RIGHT) / (axis[1] - axis[0])
    found: list[tuple[float, str]] = []
    free = float("-inf")
    for at, words in ticks:
        x, half = at * scale, breadth(words) / 2
        if x - half >= free:
            found.append((at, words))
            free = x + half + BETWEEN
    return found


def _months(group: Group) -> str:
    first, last = group.first, group.last
    if first == last:
        return f"{first:%Y-%m}"
    return f"{first:%Y-%m} to {last:%m}" if first.year == last.year else f"{first:%Y-%m} to {last:%Y-%m}"
