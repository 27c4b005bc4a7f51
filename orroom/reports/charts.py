"""The charts of a summary, each a function from its model to SVG; empty where there is nothing to show."""

from __future__ import annotations

from itertools import pairwise
from typing import Final

from orroom.figures.wording import moment
from orroom.reports.summary import Summary
from orroom.reports.svg import WIDTH, Chart, drawing, hatched, nice_step, words_at

HOUR_MS: Final = 3_600_000
#: Published survival by hours in chilled saline at 4 °C: a reference, no prediction. B. L. Limmer, 1996, as
#: quoted elsewhere; the points at 6 and 8 h are quoted in two ways and left out.
SURVIVED: Final = ((2, 95), (4, 90))


def progress(told: Summary) -> str:
    """Grafts cut and placed over the day, against the plan."""
    points = told.progress
    if len(points) < 2:
        return ""
    planned = told.in_all.planned
    most = max(planned, points[-1].cut, points[-1].placed, 1)
    chart = _over_time(told, "Grafts cut and placed over the day", (0, most * 1.05), "grafts")
    chart.line([(each.at, each.cut) for each in points], "cut", 1)
    chart.line([(each.at, each.placed) for each in points], "placed", 2)
    if planned:
        chart.level(planned, f"plan {planned:,}", 4)
    return chart.svg()


def pace(told: Summary) -> str:
    """Grafts an hour, step by step of the day."""
    rates = [
        (later.at, *((now - was) * HOUR_MS / (later.at - earlier.at) for now, was in pairs))
        for earlier, later in pairwise(told.progress)
        if later.at > earlier.at
        for pairs in [((later.cut, earlier.cut), (later.placed, earlier.placed))]
    ]
    if not any(rate for each in rates for rate in each[1:]):
        return ""
    most = max(max(each[1:]) for each in rates)
    chart = _over_time(told, "Pace over the day", (0, most * 1.05), "grafts an hour")
    chart.line([(each[0], each[1]) for each in rates], "cutting", 1, steps=True)
    chart.line([(each[0], each[2]) for each in rates], "placing", 2, steps=True)
    return chart.svg()


def out_of_body(told: Summary) -> str:
    """The share of each lot not yet placed, by time out of the body, with published points for reference."""
    lots = list(dict.fromkeys(each.lot for each in told.waiting_curve))
    points = [
        (each.lot, (each.out_ms or 0) / HOUR_MS, (each.share or 0) * 100) for each in told.waiting_curve
    ]
    if not any(share < 100 for _, _, share in points):
        return ""
    longest = max(out for _, out, _ in points)
    chart = Chart(
        "Share of grafts not yet placed by time out of the body",
        (0, max(longest, 4.5)),
        (0, 100),
        "hours out of the body",
        "% not yet placed (lines), % survived as published (rings)",
    )
    chart.ticks_x([(hour, f"{hour} h") for hour in range(int(chart.x[1]) + 1)])
    for number, lot in enumerate(lots):
        mine = [(out, share) for whose, out, share in points if whose == lot]
        chart.line(mine, f"lot {lot}", number, steps=True)
    for hours, share in SURVIVED:
        chart.dot(hours, share, filled=False, words=f"{share} %, published")
    return chart.svg()


def zones(told: Summary) -> str:
    """Each zone: a bar of what was placed by size under a frame of what was planned."""
    if not told.zones:
        return ""
    row, top = 22, 20
    most = max(max(zone.grafts_planned, zone.grafts_placed) for zone in told.zones) or 1
    left, room = 170, WIDTH - 170 - 90
    sizes = [size.size for size in told.sizes]
    parts = [hatched(f"size-{size}", number) for number, size in enumerate(sizes)]
    for number, zone in enumerate(told.zones):
        y = top + number * row
        parts.append(words_at(left - 8, y + 13, zone.label, "end"))
        x = float(left)
        for size in sizes:
            width = zone.placed.get(size, 0) / most * room
            if width:
                parts.append(
                    f'<rect x="{x:.1f}" y="{y + 3}" width="{width:.1f}" height="{row - 8}" '
                    f'fill="url(#size-{size})" stroke="#000000" stroke-width="0.5"/>'
                )
            x += width
        parts.append(
            f'<rect x="{left}" y="{y + 1}" width="{zone.grafts_planned / most * room:.1f}" '
            f'height="{row - 4}" fill="none" stroke="#000000" stroke-width="1.2"/>'
        )
        parts.append(words_at(left + room + 8, y + 13, f"{zone.grafts_placed:,}/{zone.grafts_planned:,}"))
    y = top + len(told.zones) * row + 18
    x = float(left)
    for named in told.sizes:
        parts.append(
            f'<rect x="{x:.0f}" y="{y - 10}" width="14" height="12" fill="url(#size-{named.size})" '
            'stroke="#000000" stroke-width="0.5"/>'
        )
        parts.append(words_at(x + 18, y, named.label))
        x += 30 + 7 * len(named.label)
    title = "Grafts placed by zone and size; the frame is the plan"
    return drawing(title, y + 14, parts)


def punctuality(told: Summary) -> str:
    """How late each care round was given, in minutes; below the line it was early."""
    given = [each for each in told.care_given if each.late_ms is not None]
    if not given:
        return ""
    rounds = list(dict.fromkeys(each.label for each in given))
    late = [(each.late_ms or 0) / 60_000 for each in given]
    low, high = min(0.0, *late), max(5.0, *late)
    chart = _over_time(told, "Care rounds: minutes after they were due", (low, high * 1.1), "minutes late")
    chart.line([(chart.x[0], 0), (chart.x[1], 0)], "due", 0)
    for number, label in enumerate(rounds):
        mine = [(each.at, (each.late_ms or 0) / 60_000) for each in given if each.label == label]
        chart.line(mine, label, 1 + number)
        for x, y in mine:
            chart.dot(x, y, filled=number % 2 == 0)
    return chart.svg()


def temperature(told: Summary) -> str:
    """Each reading of a temperature round, with the band that the plan wants."""
    read = [(each.at, each.temperature_c) for each in told.care_given if each.temperature_c is not None]
    if not read:
        return ""
    bands = [each for each in told.care if each.low_c is not None or each.high_c is not None]
    ends = [end for each in bands for end in (each.low_c, each.high_c) if end is not None]
    values = [*ends, *(value for _, value in read)]
    step = nice_step(max(values) - min(values) or 1)
    chart = _over_time(told, "Temperature readings", (min(values) - step, max(values) + step), "°C")
    for each in bands:
        low = chart.y[0] if each.low_c is None else each.low_c
        high = chart.y[1] if each.high_c is None else each.high_c
        chart.band(low, high)
    chart.line(read, "read", 1)
    for x, y in read:
        chart.dot(x, y)
    return chart.svg()


def _over_time(told: Summary, title: str, y: tuple[float, float], y_label: str) -> Chart:
    """A chart whose lower axis is the case's clock, with a mark every hour or two."""
    start, end = told.opened, max(told.last_entry, told.opened + 60_000)
    chart = Chart(title, (start, end), y, "", y_label)
    offset = told.utc_offset_minutes * 60_000
    step = HOUR_MS * max(1, round((end - start) / HOUR_MS / 8))
    first = -(-(start + offset) // step) * step - offset
    chart.ticks_x(
        [(at, f"{moment(at, told.utc_offset_minutes):%H:%M}") for at in range(first, end + 1, step)]
        or [(start, f"{moment(start, told.utc_offset_minutes):%H:%M}")]
    )
    return chart
