"""The flow as a page: a table by size, sentences, and a picture of what waits from now on."""

from collections.abc import Iterator
from typing import Final

from orroom.figures.flow.found import HORIZON, MINUTE_MS, Flow
from orroom.figures.next_zone import NAMES
from orroom.figures.wording import Times, clock_time, grafts
from orroom.formats.blocks import Block, Heading, Paragraph, listed, table
from orroom.formats.chart import Chart, Line
from orroom.formats.svg import drawn
from orroom.words.flow import HOW, out_range, said, suggested

#: Columns of a size's bar in a text, a quarter of an hour each, and what is in it.
BAR: Final = HORIZON // 15
LASTS, MAYBE, DRY = "=", "?", "."


def flow_blocks(flow: Flow, times: Times) -> Iterator[Block]:
    """Title, what is said first, the table, its reasons, the picture. Without data: that alone."""
    yield Heading(f"Flow at {clock_time(flow.at_ms, times)}", 1)
    if flow.unknown is not None:
        yield Paragraph(f"Nothing can be said: {flow.unknown}.")
        return
    yield listed(said(flow, times))
    yield table(
        flow.sizes,
        ("size", lambda each: NAMES[each.size][1]),
        ("supply (8 in 10)", lambda each: out_range(each, times)),
        ("waiting", lambda each: grafts(each.waiting)),
        ("to come", lambda each: grafts(each.to_come)),
        ("owed", lambda each: grafts(each.owed)),
        ("cut/h", lambda each: grafts(each.per_hour)),
        texts=2,
    )
    if found := list(suggested(flow, times)):
        yield listed(found)
    yield _picture(flow, times)
    yield Paragraph(HOW)


def bars(flow: Flow, times: Times) -> list[str]:
    """The picture in a text: a row for each size that is owed, a sign for each quarter of an hour."""
    rows = []
    for each in flow.sizes:
        if not each.owed:
            continue
        ends = [None, None] if each.dry is None else [each.dry.low_ms, each.dry.high_ms]
        low, high = (BAR if at is None else (at - flow.at_ms) // (15 * MINUTE_MS) for at in ends)
        low, high = min(low, BAR), min(high, BAR)
        bar = LASTS * low + MAYBE * (high - low) + DRY * (BAR - high)
        rows.append(f"{NAMES[each.size][1]:>11} |{bar}|")
    if rows:
        until = clock_time(flow.at_ms + HORIZON * MINUTE_MS, times)
        rows.append(f"{'':>11}  from {clock_time(flow.at_ms, times)} to {until}")
        rows.append(f"{'':>11}  {LASTS} lasts  {MAYBE} may run out  {DRY} out by then, 9 in 10")
    return rows


def _picture(flow: Flow, times: Times) -> Chart:
    """How many of each size are expected to wait."""
    first, last = flow.at_ms, flow.path[-1][0]
    lines = [
        Line([(at, waiting[place]) for at, waiting in flow.path], NAMES[each.size][1], place)
        for place, each in enumerate(flow.sizes)
        if each.owed or each.waiting
    ]
    most = max((number for _, waiting in flow.path for number in waiting), default=1.0)
    half_hour = 30 * MINUTE_MS
    ticks = range(-(-first // half_hour) * half_hour, last + 1, half_hour)
    return Chart(
        "Grafts expected to wait, by size",
        (first, max(last, first + MINUTE_MS)),
        (0, max(1.0, most * 1.05)),
        "time of day",
        "grafts in dishes and with the placers",
        [(at, clock_time(at, times)) for at in ticks],
        lines,
    )


def flow_svg(flow: Flow, times: Times) -> str:
    """The picture alone. Raises ``ValueError`` where there is none."""
    if flow.unknown is not None:
        raise ValueError(flow.unknown)
    return drawn(_picture(flow, times)).svg() + "\n"
