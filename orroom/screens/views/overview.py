"""The overview: cut, placed, in solution, left in large digits; zones, sizes, lots. It needs no key."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from orroom.case.state import CaseState
from orroom.case.terms import WORK_NAMES
from orroom.figures.counts import SizeCount, ZoneCount, by_size, by_zone, total
from orroom.figures.course import course_by_size
from orroom.figures.finish import Outlook
from orroom.figures.foretold import Foretold
from orroom.figures.holding import lot_ages, oldest_out
from orroom.figures.wording import NO_DATA, clock_time, grafts, hours_minutes, percent
from orroom.figures.yields import Projection, Yield
from orroom.screens.views.digits import ROWS, block_digits, largest_scale
from orroom.screens.views.frame import Glance, below_blocks, header
from orroom.screens.views.layout import Block, Rank, rows_of, stacked
from orroom.screens.views.painting import (
    Line,
    Span,
    bar,
    beside,
    clipped,
    line,
    padded,
    rule,
    shortened,
    wrapped,
)
from orroom.screens.views.placing import zone_mark

#: Columns: the most and the least room for a zone's name, the least for its bar.
ZONE_NAME, LEAST_NAME, LEAST_BAR = 18, 8, 4
#: From this height on there is room for rules, from this width on for sizes and lots beside the zones.
FULL_HEIGHT, ROOM_FOR_SIZES = 20, 70
#: Rows of a large figure beside its digits: its name, and what it is measured against.
AROUND_FIGURE = 2
#: Digits of so many rows are high enough; more rows are for a second row of figures.
HIGH_ENOUGH = 2 * ROWS
#: From these widths on there is room for more large figures.
ROOM_FOR_OLDEST, ROOM_FOR_SOLUTION = 100, 150
#: Rows of a zone where there are so many for each of them: bars that are read from afar.
TALL = 2
#: One more hand that brings less than this is not told of.
WORTH_TELLING_MINUTES = 5


def overview_lines(state: CaseState, now_ms: int, glance: Glance) -> list[Line]:
    """All lines of the screen, exactly ``glance.height`` of them."""
    width, full = glance.width, glance.height >= FULL_HEIGHT
    below = [
        block._replace(lines=[each for each in block.lines if _says(each)])
        for block in below_blocks(state, now_ms, glance, 1, mismatches=2 if full else 1)
    ]
    head = Block([header(state, now_ms, glance)], Rank.HEADER)
    room = glance.height - rows_of([head, *below]) - AROUND_FIGURE
    above = [
        head,
        Block(_large_figures(state, now_ms, glance, room), Rank.FIGURES),
        Block([rule(width)] if full else [], Rank.RULE),
    ]

    def middle(rows: int) -> list[Line]:
        """Zones, and beside them sizes, lots and what is foretold where there is room."""
        if width < ROOM_FOR_SIZES:
            return _zone_lines(state, rows, width)
        left = width * 11 // 20
        right = [*_size_lines(state, width - left), *_lot_lines(state, now_ms, width - left)]
        if (known := glance.foretold) is not None:
            right += _work_lines(state, known.outlook, width - left)
            right += _yield_lines(state, known.harvest, width - left)
            right += _course_lines(state, known.harvest, width - left)
            right += _median_lines(known.half_placed_ms, width - left)
        return beside(_zone_lines(state, rows, left), right[:rows], left, width - left)

    return stacked(above, middle, below, glance.height)


def _says(painted: Line) -> bool:
    """Whether a line is not empty; a row of a band that can be touched is not, though it has no words."""
    return any(span.text.strip() or span.action for span in painted)


def _large_figures(state: CaseState, now_ms: int, glance: Glance, room: int) -> list[Line]:
    """Each figure, in at most ``room`` rows, with its name above and what it is measured against below."""
    counts = total(by_size(state))
    oldest = oldest_out(lot_ages(state, now_ms))
    figures = [
        ("CUT", grafts(counts.usable), f"of {grafts(counts.planned)} planned"),
        ("PLACED", grafts(counts.placed), f"+ {grafts(counts.waiting)} waiting"),
        ("LEFT TO PLACE", grafts(counts.owed), _share(counts)),
        ("FINISH", *_finish(state, glance.foretold)),
    ]
    if glance.width >= ROOM_FOR_OLDEST:
        out = hours_minutes(oldest.out_ms) if oldest else "—"
        figures.insert(3, ("OLDEST OUT", out, f"lot {oldest.lot}, h:mm" if oldest else "nothing waits"))
    if glance.width >= ROOM_FOR_SOLUTION:
        figures.insert(2, ("IN SOLUTION", grafts(counts.dish), f"+ {grafts(counts.bench)} on the bench"))
    rows, columns = min((glance.height - 14) // 2, room), len(figures)
    if rows >= 2 * HIGH_ENOUGH:  # broad digits below each other are read from further away than narrow ones
        rows, columns = rows // 2, -(-len(figures) // 2)
    column = glance.width // columns
    plain = [value.replace(",", "") for _, value, _ in figures]
    scale = largest_scale(plain, column - 2, rows)
    lines: list[Line] = []
    for number, (name, value, against) in enumerate(figures):
        digits = block_digits(plain[number], scale) if rows >= ROWS and scale.width else [value]
        block = [line(Span(f" {clipped(name, column - 1)}", "strong"))]
        block += [line(Span(f" {row}", "mine")) for row in digits]
        block += [line(Span(f" {clipped(against, column - 1)}", "dim"))]
        begun, place = lines[: -len(block)] if number % columns else lines, number % columns
        beside_it = lines[-len(block) :] if place else []
        lines = [*begun, *beside(beside_it, block, place * column, column)]
    return lines


def _share(counts: SizeCount) -> str:
    return f"{percent(counts.owed / counts.planned)} of the plan" if counts.planned else "no plan"


def _finish(state: CaseState, known: Foretold | None) -> tuple[str, str]:
    """When all will be done, and between which times; or why there is no telling."""
    if known is None:
        return "—", "working it out"
    offset, told = state.tally.utc_offset_minutes, known.outlook
    if told.finish is not None:
        low, middle, high = (clock_time(each, offset) for each in told.finish)
        return middle, f"{low}–{high}"
    waited = [each for each in told.works if each.left and each.finish is None]
    if not waited:
        return "—", "all is done" if not any(each.left for each in told.works) else "too far to tell"
    seen = waited[0].pace.done
    return "—", "too early to tell" if seen else f"no {WORK_NAMES[waited[0].work]} seen"


def _zone_lines(state: CaseState, rows: int, width: int) -> list[Line]:
    """Zones with a bar, two rows high where there is room for that.

    Where not all fit, those that are done make room for those that are owed.
    """
    zones = by_zone(state)
    shown = (
        [zone for zone in zones if zone.owed_total or zone.over_total] if len(zones) > rows else list(zones)
    )
    tall = rows >= TALL * len(zones)
    lines: list[Line] = []
    told = {zone.zone.key: _zone_figures(zone) for zone in zones}
    figures, over, share = (max(map(len, column)) for column in zip(*told.values(), strict=True))
    room = width - 6 - figures - over - max(5, share)
    name = room if room < LEAST_NAME + LEAST_BAR else min(ZONE_NAME, room - LEAST_BAR)
    for zone in shown[: rows - 1 if len(zones) > rows else rows]:
        mark, tone = zone_mark(zone)
        mine = told[zone.zone.key]
        filled = bar(zone.within_plan, zone.planned_total, room - name)
        lines.append(
            line(
                Span(f" {mark} ", tone),
                padded(shortened(zone.zone.label, name - 1), name),
                Span(filled, tone),
                f" {mine.figures:>{figures}}",
                Span(f"{mine.over:<{over}}", "wrong"),
                f" {mine.share:>{max(5, share)}}",
            )
        )
        if tall:
            lines.append(line(" " * (3 + name), Span(filled.replace("▇", "█"), tone)))
    if tall:
        return lines
    if len(lines) < len(zones) and len(lines) < rows:
        done = sum(not zone.owed_total for zone in zones if zone not in shown)
        more = len(zones) - len(lines)
        lines.append(line(Span(f"   and {more} more zones, {done} of them done", "dim")))
    return lines


class _ZoneFigures(NamedTuple):
    """What a zone's line says: placed within plan of planned, what is over plan, the share within plan."""

    figures: str
    over: str
    share: str


def _zone_figures(zone: ZoneCount) -> _ZoneFigures:
    """What is over plan stands apart: it pays for nothing that is owed."""
    return _ZoneFigures(
        f"{grafts(zone.within_plan)}/{grafts(zone.planned_total)}",
        f" +{grafts(zone.over_total)}" if zone.over_total else "",
        percent(zone.within_plan / zone.planned_total) if zone.planned_total else NO_DATA,
    )


def _size_lines(state: CaseState, width: int) -> list[Line]:
    """By size: cut against plan, placed, waiting."""
    rows = [("cut", "plan", "placed")]
    rows += [
        (grafts(each.usable), grafts(each.planned), grafts(each.placed)) for each in by_size(state).values()
    ]
    widths = [max(5, *(len(row[column]) for row in rows)) + 1 for column in range(3)]
    name = max(3, min(12, width - 1 - sum(widths)))
    names = ["", *(clipped(size.label, name - 1) for size in state.plan.sizes)]
    return [
        line(Span(f" {padded(label, name)}{_cells(row, widths)}", "plain" if number else "dim"))
        for number, (label, row) in enumerate(zip(names, rows, strict=True))
    ]


def _cells(row: Sequence[str], widths: Sequence[int]) -> str:
    return "".join(f"{cell:>{width}}" for cell, width in zip(row, widths, strict=True))


def _lot_lines(state: CaseState, now_ms: int, width: int) -> list[Line]:
    """Each lot: time out of the body, what waits, segments."""
    lines: list[Line] = []
    for age in lot_ages(state, now_ms):
        out = f"out {hours_minutes(age.out_ms)}" if age.out_ms is not None else "nothing waits"
        if age.started_at_ms is None:
            out = "harvest not entered"
        text = f" lot {age.lot} {out} · {grafts(age.waiting)} waiting"
        segments = f" · segment {age.segments_done}/{age.segments}"
        if age.segments and len(text + segments) <= width:
            text += segments
        lines.append(line(Span(clipped(text, width), "strong" if age.out_ms is not None else "dim")))
    return lines


def _yield_lines(state: CaseState, told: Yield, width: int) -> list[Line]:
    """While segments are being cut: where all lots together are heading, or each lot that can tell."""
    if told.projected is not None:
        if all(lot.finished >= (lot.segments or 0) for lot in told.lots):
            return []
        return _on_course("", told.projected, f"plan {grafts(state.plan.planned())}", width)
    return [
        each
        for lot in told.lots
        if lot.projected is not None and lot.finished < (lot.segments or 0)
        for each in _on_course(f"lot {lot.lot} ", lot.projected, "", width)
    ]


def _course_lines(state: CaseState, told: Yield, width: int) -> list[Line]:
    """The sizes of which there will be other than planned, in as many lines as they need."""
    off = {size: each.words for size, each in course_by_size(state.plan, told).items() if each.off}
    words = ", ".join(f"{state.plan.size_by_key[size].label}: {each}" for size, each in off.items())
    return [line(Span(f" {row}", "owed")) for row in wrapped(words, width - 1)]


def _on_course(name: str, projected: Projection, plan: str, width: int) -> list[Line]:
    """On one line if it fits, else what the limits are and the plan on a second."""
    middle, low, high = (grafts(round(each)) for each in (projected.grafts, projected.low, projected.high))
    whole = f" {name}on course for {middle} (80 %: {low}–{high}){', ' if plan else ''}{plan}"
    if len(whole) <= width:
        return [line(whole)]
    second = f"   80 % limits{' · ' if plan else ''}{plan}"
    return [
        line(clipped(f" {name}on course for {middle} ({low}–{high})", width)),
        line(Span(clipped(second, width), "dim")),
    ]


def _work_lines(state: CaseState, told: Outlook, width: int) -> list[Line]:
    """Each work: its pace now, who is at it, when it will be done; then what one more hand would change."""
    lines: list[Line] = []
    for each in told.works:
        if not each.left or each.pace.over_case is None:
            continue
        now = NO_DATA if each.pace.now is None else grafts(round(each.pace.now))
        ends = (
            "" if each.finish is None else clock_time(each.finish.middle_ms, state.tally.utc_offset_minutes)
        )
        done = f", done {ends}" if ends else ""
        text = f" {each.work} {now}/h by {each.pace.hands:g}{done}"
        lines.append(line(Span(clipped(text, width), "strong" if each.work == told.slowest else "plain")))
    for more in told.one_more:
        if more.work == told.slowest and more.minutes >= WORTH_TELLING_MINUTES:
            text = f" one more at {more.work}: {round(more.minutes)} min sooner"
            lines.append(line(Span(clipped(text, width), "dim")))
    if told.oldest_out_ms is not None:
        text = f" the oldest up to {hours_minutes(told.oldest_out_ms)} out by then"
        lines.append(line(Span(clipped(text, width), "dim")))
    return lines


def _median_lines(half_placed_ms: Mapping[str, int | None], width: int) -> list[Line]:
    """Each lot of which half is placed: by which time out of the body, lots drawn as entered."""
    return [
        line(Span(clipped(f" lot {lot} half placed by {hours_minutes(out)} out", width), "dim"))
        for lot, out in half_placed_ms.items()
        if out is not None
    ]
