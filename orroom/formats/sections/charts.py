"""The charts of a summary as data; none where there is nothing to show."""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Final

from orroom.figures.wording import which_day
from orroom.formats.chart import Band, Chart, Level, Line, Marks
from orroom.formats.sections.wording import clock, summary_times
from orroom.formats.svg import nice_step
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
#: Published survival by hours in chilled saline at 4 °C: for reference, not a prediction. Source and what is
#: omitted: ``SURVIVAL_REFERENCE``.
SURVIVED: Final = ((2, 95), (4, 90))


def progress(summary: Summary) -> Iterator[Chart]:
    """Grafts cut and placed over the day, against the plan."""
    points = summary.progress
    if len(points) < 2:
        return
    planned, last = summary.in_all.planned, points[-1]
    most = max(planned, last.cut_spoilt_left_out, last.placed, 1)
    shown: list[Line | Level] = [
        Line(
            [(each.at, each.cut_spoilt_left_out) for each in points],
            f"cut, spoilt left out {last.cut_spoilt_left_out:,}",
            0,
        ),
        Line([(each.at, each.placed) for each in points], f"placed {last.placed:,}", 1),
    ]
    if planned:
        shown.append(Level(planned, f"plan {planned:,}", 2))
    yield _over_time(summary, "Grafts cut and placed over the day", (0, most * 1.05), "grafts", shown)


def pace(summary: Summary) -> Iterator[Chart]:
    """Grafts an hour, step by step of the day."""
    marks = _no_closer(summary.progress, PACE_MS)
    cutting = _rates([(each.at, each.cut_spoilt_left_out) for each in marks])
    placing = _rates([(each.at, each.placed) for each in marks])
    most = max((rate for _, rate in (*cutting, *placing)), default=0)
    if most <= 0:
        return
    shown = [
        Line(cutting, "cutting, spoilt left out", 0, steps=True),
        Line(placing, "placing", 1, steps=True),
    ]
    yield _over_time(summary, "Pace over the day", (0, most * 1.05), "grafts an hour", shown)


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


def out_of_body(summary: Summary) -> Iterator[Chart]:
    """The share of each harvest not yet placed, by time out of the body, with published points."""
    points = [
        (each.harvest, (each.out_ms or 0) / HOUR_MS, (each.share or 0) * 100)
        for each in summary.waiting_curve
    ]
    if not any(share < 100 for _, _, share in points):
        return
    last = max(*(out for _, out, _ in points), 5)
    labels = {each.harvest: each.label for each in summary.harvests}
    step = round(nice_step(last, 12)) or 1
    harvests = [
        Line(
            [(out, share) for whose, out, share in points if whose == harvest],
            labels.get(harvest, f"harvest {harvest}"),
            number,
            steps=True,
        )
        for number, harvest in enumerate(dict.fromkeys(each.harvest for each in summary.waiting_curve))
    ]
    survived = Marks(SURVIVED, "published", 3, words=[f"{share} % at {hours} h" for hours, share in SURVIVED])
    yield Chart(
        "Time out of the body: share of grafts not yet placed",
        (0, last),
        (0, 100),
        "hours out of the body",
        "% not yet placed (squares: published survival in saline at 4 °C, for reference only)",
        [(hour, f"{hour} h") for hour in range(0, int(last) + 1, step)],
        [*harvests, survived],
    )


def punctuality(summary: Summary) -> Iterator[Chart]:
    """How late each care round was given, in minutes; below the line it was early."""
    late = [
        (each.label, each.at, each.late_ms / 60_000)
        for each in summary.care_given
        if each.late_ms is not None
    ]
    if not late:
        return
    minutes = [each for _, _, each in late]
    rounds = [
        Marks([(at, each) for whose, at, each in late if whose == label], label, number, stems=True)
        for number, label in enumerate(dict.fromkeys(label for label, _, _ in late))
    ]
    yield _over_time(
        summary,
        "Care rounds: how late each was given",
        (min(0.0, *minutes) * 1.1, max(5.0, *minutes) * 1.1),
        "minutes after it was due (0 = on time)",
        [Level(0, "due", 0), *rounds],
        first=min(at for _, at, _ in late),
    )


def temperature(summary: Summary) -> Iterator[Chart]:
    """Each reading of a temperature round, with the band that the plan wants."""
    read = [(each.at, each.temperature_c) for each in summary.care_given if each.temperature_c is not None]
    if not read:
        return
    bands = [
        Band(each.low_c, each.high_c, each.wanted)
        for each in summary.care
        if each.low_c is not None or each.high_c is not None
    ]
    ends = [end for each in bands for end in (each.low, each.high) if end is not None]
    values = [*ends, *(value for _, value in read)]
    step = nice_step(max(values) - min(values) or 1)
    yield _over_time(
        summary,
        "Temperature readings",
        (min(values) - step, max(values) + step),
        "°C",
        [*bands, Line(read, ink=1), Marks(read, "read")],
        first=min(at for at, _ in read),
    )


def _over_time(
    summary: Summary,
    title: str,
    y: tuple[float, float],
    y_label: str,
    shown: Sequence[Line | Level | Band | Marks],
    *,
    first: int | None = None,
) -> Chart:
    """A chart whose lower axis is the case's clock, marked at even times.

    It begins shortly before the first work, or before ``first`` (UTC ms) if that is earlier, and not when the
    case was opened: that may have been the evening before.
    """
    acts = [at for at in (summary.start_of_work, first) if at is not None]
    start = min(acts, default=summary.opened + BEFORE_MS) - BEFORE_MS
    end = max(summary.end_of_work, start + 60_000)
    days = bool(which_day(end, summary_times(summary)))
    offset_ms, most = summary.utc_offset_minutes * 60_000, MOST_DAYS if days else MOST_TICKS
    whole_days = -(-(end - start) // most // DAY_MS) * DAY_MS
    step = next((each for each in TICKS_MS if (end - start) / each <= most), whole_days)
    earliest = -(-(start + offset_ms) // step) * step - offset_ms
    ticks = [(at, _tick(summary, at, days=days)) for at in range(earliest, end + 1, step) or (start,)]
    return Chart(
        title, (start, end), y, f"time ({'day, ' if days else ''}hours:minutes)", y_label, ticks, shown
    )


def _tick(summary: Summary, at_ms: int, *, days: bool) -> str:
    """A time on the axis, of a longer one always with its day."""
    said = clock(summary, at_ms)
    return f"day 1 {said}" if days and said[0].isdigit() else said
