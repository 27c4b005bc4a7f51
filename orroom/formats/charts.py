"""The charts of a summary, each a function from its model to SVG; empty where there is nothing to show."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Final

from orroom.figures.wording import moment
from orroom.formats.svg import WIDTH, Chart, breadth, drawing, hatched, nice_step, shortened, words_at
from orroom.summary.pace import Progress
from orroom.summary.summary import Summary

HOUR_MS: Final = 3_600_000
DAY_MS: Final = 24 * HOUR_MS
#: How long before the first work the clock of a chart begins.
BEFORE_MS: Final = 5 * 60_000
#: How far apart marks on the clock may stand, and how many there may be.
TICKS_MS: Final = tuple(minutes * 60_000 for minutes in (5, 10, 15, 30, 60, 120, 180, 240, 360, 720))
MOST_TICKS: Final = 9
#: The same where each says its day too.
MOST_DAYS: Final = 5
#: A pace over less time than this jumps with every batch.
PACE_MS: Final = 10 * 60_000
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
    chart.line([(each.at, each.cut) for each in points], f"cut, spoilt left out {points[-1].cut:,}", 0)
    chart.line([(each.at, each.placed) for each in points], f"placed {points[-1].placed:,}", 1)
    if planned:
        chart.level(planned, f"plan {planned:,}", 2)
    return chart.svg()


def pace(told: Summary) -> str:
    """Grafts an hour, step by step of the day."""
    marks = _no_closer(told.progress, PACE_MS)
    cutting = _rates([(each.at, each.cut) for each in marks])
    placing = _rates([(each.at, each.placed) for each in marks])
    most = max((rate for _, rate in (*cutting, *placing)), default=0)
    if most <= 0:
        return ""
    chart = _over_time(told, "Pace over the day", (0, most * 1.05), "grafts an hour")
    chart.line(cutting, "cutting, spoilt left out", 0, steps=True)
    chart.line(placing, "placing", 1, steps=True)
    return chart.svg()


def _no_closer(points: Sequence[Progress], apart_ms: int) -> list[Progress]:
    """Points at least so far apart, the first and the last among them if there are two."""
    found = list(points[:1])
    for each in points[1:-1]:
        if min(each.at - found[-1].at, points[-1].at - each.at) >= apart_ms:
            found.append(each)
    return [*found, *points[1:][-1:]]


def _rates(reached: Sequence[tuple[int, int]]) -> list[tuple[float, float]]:
    """How many an hour each step made, from its beginning on; the last once more, at its end."""
    rates = [
        (was_at, (now - was) * HOUR_MS / (at - was_at))
        for (was_at, was), (at, now) in pairwise(reached)
        if at > was_at
    ]
    return [*rates, (reached[-1][0], rates[-1][1])] if rates else []


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
        "Time out of the body: share of grafts not yet placed",
        (0, max(longest, 5)),
        (0, 100),
        "hours out of the body",
        "% not yet placed; squares: % survived in chilled saline at 4 °C, as published, no prediction",
    )
    labels = {each.lot: each.label for each in told.lots}
    step = round(nice_step(chart.x[1], 12)) or 1
    chart.ticks_x([(hour, f"{hour} h") for hour in range(0, int(chart.x[1]) + 1, step)])
    for number, lot in enumerate(lots):
        mine = [(out, share) for whose, out, share in points if whose == lot]
        chart.line(mine, labels.get(lot, f"lot {lot}"), number, steps=True)
    chart.marks(SURVIVED, "published", 3)
    for hours, share in SURVIVED:
        chart.words(hours, share, f"{share} % at {hours} h")
    return chart.svg()


def zones(told: Summary) -> str:
    """Each zone: a thin bar of what was planned by size over a thick one of what was placed."""
    if not told.zones:
        return ""
    row, top, beside = 30, 30, 100
    most = max(max(zone.grafts_planned, zone.grafts_placed) for zone in told.zones) or 1
    left = min(280.0, 24 + max(breadth(zone.label) for zone in told.zones))
    room = WIDTH - left - beside
    fills = {size.size: f"size-{size.size}" for size in told.sizes}
    parts = [hatched(name, number) for number, name in enumerate(fills.values())]
    for number, zone in enumerate(told.zones):
        y = top + number * row
        parts.append(words_at(left - 8, y + 17, shortened(zone.label, left - 16), "end"))
        for counts, down, high in ((zone.planned, 1, 6), (zone.placed, 9, 14)):
            parts += _stacked(counts, fills, (left, y + down, room / most, high))
        said = f"{zone.grafts_placed:,} of {zone.grafts_planned:,}"
        parts.append(words_at(left + room + 8, y + 17, said))
    x, y = left, top + len(told.zones) * row + 18
    for named in told.sizes:
        words = shortened(named.label, WIDTH - left - 30)
        if x > left and x + 24 + breadth(words) > WIDTH:
            x, y = left, y + 18
        parts.append(
            f'<rect x="{x:.0f}" y="{y - 10:.0f}" width="14" height="12" fill="url(#{fills[named.size]})" '
            'stroke="#000000" stroke-width="0.6"/>'
        )
        parts.append(words_at(x + 19, y, words))
        x += 36 + breadth(words)
    return drawing("Grafts by zone and size: thin bar planned, thick bar placed", y + 12, parts)


def _stacked(
    counts: Mapping[str, int], fills: Mapping[str, str], place: tuple[float, float, float, float]
) -> list[str]:
    """A bar of all sizes. ``place``: left, top, width of one graft, height."""
    x, y, each, high = place
    parts = []
    for size, fill in fills.items():
        width = counts.get(size, 0) * each
        if width:
            parts.append(
                f'<rect x="{x:.1f}" y="{y}" width="{width:.1f}" height="{high}" fill="url(#{fill})" '
                'stroke="#000000" stroke-width="0.6"/>'
            )
        x += width
    return parts


def punctuality(told: Summary) -> str:
    """How late each care round was given, in minutes; below the line it was early."""
    given = [each for each in told.care_given if each.late_ms is not None]
    if not given:
        return ""
    late = [(each.late_ms or 0) / 60_000 for each in given]
    chart = _over_time(
        told,
        "Care rounds: how late each was given",
        (min(0.0, *late) * 1.1, max(5.0, *late) * 1.1),
        "minutes after it was due (0: in time)",
        min(each.at for each in given),
    )
    chart.level(0, "due", 0)
    for number, label in enumerate(dict.fromkeys(each.label for each in given)):
        mine = [(each.at, (each.late_ms or 0) / 60_000) for each in given if each.label == label]
        chart.marks(mine, label, number, stem=0)
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
    edges, first = (min(values) - step, max(values) + step), min(at for at, _ in read)
    chart = _over_time(told, "Temperature readings", edges, "°C", first)
    for each in bands:
        low = chart.y[0] if each.low_c is None else each.low_c
        high = chart.y[1] if each.high_c is None else each.high_c
        chart.band(low, high, each.wanted)
    chart.line(read, "", 1)
    chart.marks(read, "read", 0)
    return chart.svg()


def _over_time(
    told: Summary, title: str, y: tuple[float, float], y_label: str, first: int | None = None
) -> Chart:
    """A chart whose lower axis is the case's clock, marked at even times.

    It begins shortly before the first work, or before ``first`` (UTC ms) if that is earlier, and not when the
    case was opened: that may have been the evening before.
    """
    acts = [at for at in (told.start_of_work, first) if at is not None]
    start = min(acts, default=told.opened + BEFORE_MS) - BEFORE_MS
    end = max(told.end_of_work, start + 60_000)
    days = end - start >= DAY_MS
    chart = Chart(title, (start, end), y, f"time ({'day, ' if days else ''}hours:minutes)", y_label)
    offset_ms, most = told.utc_offset_minutes * 60_000, MOST_DAYS if days else MOST_TICKS
    whole_days = -(-(end - start) // most // DAY_MS) * DAY_MS
    step = next((each for each in TICKS_MS if (end - start) / each <= most), whole_days)
    earliest = -(-(start + offset_ms) // step) * step - offset_ms
    ticks = range(earliest, end + 1, step) or (start,)
    chart.ticks_x([(at, _tick(told, start, at, days=days)) for at in ticks])
    return chart


def _tick(told: Summary, start_ms: int, at_ms: int, *, days: bool) -> str:
    """A time on the axis: of a longer one with its day, that of its beginning being 1."""
    at, start = (moment(each, told.utc_offset_minutes) for each in (at_ms, start_ms))
    day = f"day {(at.date() - start.date()).days + 1} " if days else ""
    return f"{day}{at:%H:%M}"
