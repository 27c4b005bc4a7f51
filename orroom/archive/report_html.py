"""A report across cases as one self-contained page: its Markdown, with a chart by month in each section."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import Final

from orroom.archive.across import MEASURES, Across, Measure, Told
from orroom.archive.report_text import heading, section
from orroom.case.terms import visible
from orroom.reports.html import STYLE
from orroom.reports.svg import Chart

#: A chart shows figures in these units: what one of the measure's own is multiplied by.
SHOWN: Final = {"share": ("%", 100.0), "min": ("hours", 1 / 60)}
MOST_TICKS: Final = 8


def to_html(report: Across) -> str:
    """The whole report. It loads nothing from elsewhere and runs nothing."""
    from markdown_it import MarkdownIt

    renderer = MarkdownIt("commonmark", {"html": False}).enable("table")
    blocks = [renderer.render(visible("\n\n".join(heading(report))))]
    for measure in MEASURES:
        drawn = by_month(report, measure)
        figure = f"<figure>{drawn}</figure>\n" if drawn else ""
        blocks.append(renderer.render(visible("\n\n".join(section(report, measure)))) + figure)
    title = escape(f"Across {report.cases:,} cases")
    return (
        f'<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n<title>{title}</title>\n'
        f"<style>{STYLE}</style>\n</head>\n<body>\n{''.join(blocks)}</body>\n</html>\n"
    )


def by_month(report: Across, measure: Measure) -> str:
    """The figure of each month with its limits, as SVG; empty below two months with a figure."""
    months = [(place, each) for place, each in enumerate(report.of("month", measure)) if each.figure]
    if len(months) < 2:
        return ""
    unit, factor = SHOWN.get(measure.unit, (measure.unit, 1.0))
    ends = [end * factor for _, each in months for end in each.figure or () if end is not None]
    room = (max(ends) - min(ends)) * 0.1 or max(ends) * 0.1 or 1.0
    lowest = max(0.0, min(ends) - room)
    chart = Chart(
        f"{measure.label.capitalize()} by month, with 95 % limits",
        (months[0][0] - 0.5, months[-1][0] + 0.5),
        (lowest, max(ends) + room),
        "month",
        unit,
    )
    points = []
    for place, each in months:
        if each.figure is None:
            continue
        value, low, high = each.figure
        if low is not None and high is not None:
            across, top, bottom = chart.at_x(place), chart.at_y(high * factor), chart.at_y(low * factor)
            chart.parts.append(
                f'<path d="M{across:.1f} {top:.1f}V{bottom:.1f}" stroke="#000000" stroke-width="1"/>'
            )
        points.append((float(place), value * factor))
    chart.marks(points, measure.how)
    chart.ticks_x(_ticks(months))
    return chart.svg()


def _ticks(months: Sequence[tuple[int, Told]]) -> list[tuple[float, str]]:
    every = -(-len(months) // MOST_TICKS)
    return [(float(place), f"{each.group.first:%Y-%m}") for place, each in months[::every]]
