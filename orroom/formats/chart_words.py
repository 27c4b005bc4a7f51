"""What a chart shows in words, for somebody who hears it: the values of its lines at the marks below it."""

from collections.abc import Iterator, Sequence
from typing import Final

from orroom.formats.chart import Band, Chart, Level, Line, Marks, Point, Range

#: So many values of a line, or marks, are said one by one.
MOST: Final = 12


def in_words(chart: Chart) -> str:
    """The title, then what is drawn: each line at the ticks and at its end, levels, bands, marks.

    A line's value at a tick is that of its last point by then, or between two where it does not step. Marks
    and ranges of more than ``MOST`` points are said by their lowest and highest.
    """
    said = list(dict.fromkeys(filter(None, (_said(chart, each) for each in chart.shown))))
    return ". ".join((chart.title, chart.y_label, *said)) + "."


def _said(chart: Chart, each: Line | Level | Band | Marks | Range) -> str:
    match each:
        case Line(points, name) if name and points:
            values = [f"{label} {_number(chart, at)}" for label, at in _at_ticks(chart, each)]
            return f"{name}: {', '.join(values)}"
        case Level(value, name):
            return _named(name, [_number(chart, value)])
        case Band(low, high, name):
            return _named(name, [_number(chart, end) for end in (low, high) if end is not None])
        case Marks(points, name, words=words):
            return f"{name}: {_marks(chart, points, words)}"
    return ""


def _named(name: str, values: Sequence[str]) -> str:
    """The values under their name, if it does not say them itself."""
    return name if all(each in name for each in values) else f"{name}: {' to '.join(values)}"


def _at_ticks(chart: Chart, line: Line) -> Iterator[tuple[str, float]]:
    """The line's value at each tick within it, and at its end."""
    first, last = line.points[0], line.points[-1]
    for at, label in chart.ticks:
        if first[0] <= at < last[0]:
            yield label, _value(line, at)
    yield "at the end", last[1]


def _value(line: Line, at: float) -> float:
    before = max((each for each in line.points if each[0] <= at), key=lambda each: each[0])
    after = min((each for each in line.points if each[0] > at), key=lambda each: each[0])
    part = 0.0 if line.steps else (at - before[0]) / (after[0] - before[0])
    return before[1] + part * (after[1] - before[1])


def _marks(chart: Chart, points: Sequence[Point], words: Sequence[str]) -> str:
    if words:
        return ", ".join(words)
    values = [value for _, value in points]
    if len(values) <= MOST:
        return ", ".join(_number(chart, each) for each in values)
    low, high = _number(chart, min(values)), _number(chart, max(values))
    return f"{len(values)} from {low} to {high}"


def _number(chart: Chart, value: float) -> str:
    """With as many places as the axis can show."""
    span = chart.y[1] - chart.y[0]
    places = 0 if span >= 50 else 1 if span >= 2 else 3
    said = f"{value:,.{places}f}"
    return (said.rstrip("0").rstrip(".") if places else said).replace("-", "−")
