"""A report across cases as one self-contained page: its Markdown, with a chart by month in each section."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from math import ceil
from typing import Final

from orroom.archive.across import MEASURES, Across, Measure, Told
from orroom.archive.groups import Group
from orroom.archive.report_text import heading, section
from orroom.case.terms import visible
from orroom.formats.html import POLICY, STYLE, name_cells
from orroom.formats.svg import LEFT, RIGHT, WIDTH, Chart, breadth

#: A chart shows figures in these units: what one of the measure's own is multiplied by.
SHOWN: Final = {"share": ("%", 100.0), "min": ("hours", 1 / 60)}
#: Room between the words of two marks on the axis.
BETWEEN: Final = 10
#: Limits are drawn up to so many times the highest figure.
MOST_TIMES: Final = 3


def to_html(report: Across) -> str:
    """The whole report. It loads nothing from elsewhere and runs nothing."""
    from markdown_it import MarkdownIt

    reader = MarkdownIt("commonmark", {"html": False}).enable("table")

    def page(blocks: Iterable[str]) -> str:
        tokens = reader.parse(visible("\n\n".join(blocks)))
        name_cells(tokens)
        return str(reader.renderer.render(tokens, reader.options, {}))

    blocks = [page(heading(report))]
    for measure in MEASURES:
        drawn = by_month(report, measure)
        blocks.append(page(section(report, measure)) + (f"<figure>{drawn}</figure>\n" if drawn else ""))
    title = escape(f"Across {report.cases:,} cases")
    return (
        f'<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">\n<title>{title}</title>\n'
        f"<style>{STYLE}</style>\n</head>\n<body>\n<main>\n{''.join(blocks)}</main>\n</body>\n</html>\n"
    )


def by_month(report: Across, measure: Measure) -> str:
    """The figure of each month with its limits, as SVG; empty below two months.

    Limits far above all figures are drawn to the edge, and the title says so.
    """
    months = report.of("month", measure)
    if len(months) < 2:
        return ""
    unit, factor = SHOWN.get(measure.unit, (measure.unit, 1.0))
    values = [each.figure.value * factor for each in months]
    limits = [
        (place, low * factor, high * factor)
        for place, (_, low, high) in enumerate(each.figure for each in months)
        if low is not None and high is not None
    ]
    top = min(max([*values, *(high for _, _, high in limits)]), MOST_TIMES * max(values))
    bottom = max(0.0, min([*values, *(low for _, low, _ in limits)]))
    room = (top - bottom) * 0.1 or top * 0.1 or 1.0
    edges = (max(0.0, bottom - room), top + room)
    cut = any(high > edges[1] for _, _, high in limits)
    chart = Chart(
        f"{measure.label.capitalize()} by month, with 95 % limits{', cut at the edge' if cut else ''}",
        (-0.5, len(months) - 0.5),
        edges,
        "month",
        unit,
    )
    for place, *ends in limits:
        low, high = (chart.at_y(min(max(end, edges[0]), edges[1])) for end in ends)
        chart.parts.append(
            f'<path d="M{chart.at_x(place):.1f} {high:.1f}V{low:.1f}" stroke="#000000" stroke-width="1"/>'
        )
    chart.marks([(float(place), value) for place, value in enumerate(values)], measure.how)
    chart.ticks_x(_ticks(months))
    return chart.svg()


def _ticks(months: Sequence[Told]) -> list[tuple[float, str]]:
    """The months of each group, of as many groups as there is room for their words."""
    words = [_months(each.group) for each in months]
    room = (WIDTH - LEFT - RIGHT) / (max(map(breadth, words)) + BETWEEN)
    every = ceil(len(words) / max(1, int(room)))
    return [(float(place), words[place]) for place in range(0, len(words), every)]


def _months(group: Group) -> str:
    first, last = group.first, group.last
    if first == last:
        return f"{first:%Y-%m}"
    return f"{first:%Y-%m} to {last:%m}" if first.year == last.year else f"{first:%Y-%m} to {last:%Y-%m}"
