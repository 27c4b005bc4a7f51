"""The chart of a report across cases: a measure by month, with its range."""

from collections.abc import Iterator, Sequence
from math import ceil
from typing import Final

from orroom.archive.across import Across, Measure, Reported
from orroom.archive.groups import Group
from orroom.formats.chart import Chart, Marks, Range
from orroom.formats.drawing import WIDTH, breadth
from orroom.formats.svg import LEFT, RIGHT

#: A chart shows figures in these units: what one of the measure's own is multiplied by.
SHOWN: Final = {"share": ("%", 100.0), "min": ("hours", 1 / 60)}
#: Room between the words of two marks on the axis.
BETWEEN: Final = 10
#: Ranges are drawn up to this many times the highest figure.
MOST_TIMES: Final = 3


def by_month(report: Across, measure: Measure) -> Iterator[Chart]:
    """The figure of each month with its range; none below two months.

    Ranges far above all figures are drawn to the edge, and the title says so.
    """
    months = report.of("month", measure)
    if len(months) < 2:
        return
    unit, factor = SHOWN.get(measure.unit, (measure.unit, 1.0))
    values = [each.figure.value * factor for each in months]
    ends = [
        (place, low * factor, high * factor)
        for place, (_, low, high) in enumerate(each.figure for each in months)
        if low is not None and high is not None
    ]
    top = min(max([*values, *(high for _, _, high in ends)]), MOST_TIMES * max(values))
    bottom = max(0.0, min([*values, *(low for _, low, _ in ends)]))
    room = (top - bottom) * 0.1 or top * 0.1 or 1.0
    least, most = max(0.0, bottom - room), top + room
    cut = any(high > most for _, _, high in ends)
    ranges = [Range(place, *(min(max(end, least), most) for end in (low, high))) for place, low, high in ends]
    yield Chart(
        f"{measure.label.capitalize()} by month, with 95 % ranges{', cut at the edge' if cut else ''}",
        (-0.5, len(months) - 0.5),
        (least, most),
        "month",
        unit,
        _ticks(months),
        [*ranges, Marks([*enumerate(values)], measure.how)],
    )


def _ticks(months: Sequence[Reported]) -> list[tuple[float, str]]:
    """The months of each group, of every group whose words have room."""
    words = [_months(each.group) for each in months]
    room = (WIDTH - LEFT - RIGHT) / (max(map(breadth, words)) + BETWEEN)
    every = ceil(len(words) / max(1, int(room)))
    return [(float(place), words[place]) for place in range(0, len(words), every)]


def _months(group: Group) -> str:
    first, last = group.first, group.last
    if first == last:
        return f"{first:%Y-%m}"
    return f"{first:%Y-%m} to {last:%m}" if first.year == last.year else f"{first:%Y-%m} to {last:%Y-%m}"
