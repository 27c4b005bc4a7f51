"""The overview: cut, placed, in solution, left in large digits; zones, sizes, lots. It needs no key."""

from __future__ import annotations

from collections.abc import Mapping
from textwrap import wrap

from orroom.case.state import CaseState
from orroom.figures.counts import SizeCount, by_size, by_zone, total
from orroom.figures.course import course_by_size
from orroom.figures.finish import Outlook
from orroom.figures.foretold import Foretold
from orroom.figures.holding import lot_ages, oldest_out
from orroom.figures.wording import NO_DATA, clock_time, grafts, hours_minutes, percent
from orroom.figures.yields import Projection, Yield
from orroom.screens.views.digits import ROWS, block_digits, largest_scale
from orroom.screens.views.frame import Glance, header, key_lines, message_lines, mismatch_lines, prompt_lines
from orroom.screens.views.painting import Line, Span, bar, beside, clipped, line, rule, shortened, text_of
from orroom.screens.views.placing import zone_mark

ZONE_NAME = 18
#: From these widths on there is room for more large figures.
ROOM_FOR_OLDEST, ROOM_FOR_SOLUTION = 100, 150
#: One more hand that brings less than this is not told of.
WORTH_TELLING_MINUTES = 5


def overview_lines(state: CaseState, now_ms: int, glance: Glance) -> list[Line]:
    """All lines of the screen, exactly ``glance.height`` of them."""
    width, full = glance.width, glance.height >= 20
    above = [header(state, now_ms, glance)]
    above += _large_figures(state, now_ms, glance)
    above += [rule(width)] if full else []
    below = mismatch_lines(state, width, 2 if full else 1)
    below += prompt_lines(state, now_ms, width, 2 if full else 1)
    below += [each for each in message_lines(glance, state) if text_of(each).strip()]
    below += key_lines(glance, 1)
    rows = max(0, glance.height - len(above) - len(below))
    zones = _zone_lines(state, rows, (width * 11 // 20) if width >= 70 else width)
    if width >= 70:
        left = width * 11 // 20
        right = [*_size_lines(state, width - left), *_lot_lines(state, now_ms, width - left)]
        if (known := glance.foretold) is not None:
            right += _work_lines(state, known.outlook, width - left)
            right += _yield_lines(state, known.harvest, width - left)
            right += _course_lines(state, known.harvest, width - left)
            right += _median_lines(known.half_placed_ms, width - left)
        middle = beside(zones, right[:rows], left, width - left)
    else:
        middle = zones
    middle += [()] * (rows - len(middle))
    return [*above, *middle[:rows], *below]


def _large_figures(state: CaseState, now_ms: int, glance: Glance) -> list[Line]:
    """Each figure with its name above and what it is measured against below."""
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
    column = glance.width // len(figures)
    plain = {name: value.replace(",", "") for name, value, _ in figures}
    rows = (glance.height - 14) // 2
    scale = largest_scale(list(plain.values()), column - 2, rows)
    blocks: list[list[Line]] = []
    for name, value, against in figures:
        digits = block_digits(plain[name], scale) if rows >= ROWS and scale.width else [value]
        block = [line(Span(f" {clipped(name, column - 1)}", "strong"))]
        block += [line(Span(f" {row}", "mine")) for row in digits]
        block += [line(Span(f" {clipped(against, column - 1)}", "dim"))]
        blocks.append(block)
    lines = blocks[0]
    for number, block in enumerate(blocks[1:], 1):
        lines = beside(lines, block, number * column, column)
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
    waited = [each.work for each in told.works if each.left and each.finish is None]
    return ("—", f"no {waited[0]} seen") if waited else ("—", "all is done")


def _zone_lines(state: CaseState, rows: int, width: int) -> list[Line]:
    """Zones with a bar; where not all fit, those that are done make room for those that are owed."""
    zones = by_zone(state)
    shown = (
        [zone for zone in zones if zone.owed_total or zone.over_total] if len(zones) > rows else list(zones)
    )
    lines: list[Line] = []
    numbers = {zone.zone.key: f"{grafts(zone.placed_total)}/{grafts(zone.planned_total)}" for zone in zones}
    longest = max(map(len, numbers.values()))
    room = width - ZONE_NAME - 11 - longest
    for zone in shown[: rows - 1 if len(zones) > rows else rows]:
        mark, tone = zone_mark(zone)
        name = f"{shortened(zone.zone.label, ZONE_NAME - 1):<{ZONE_NAME}}"
        share = percent(zone.placed_total / zone.planned_total) if zone.planned_total else "—"
        lines.append(
            line(
                Span(f" {mark} ", tone),
                name,
                Span(bar(zone.placed_total, zone.planned_total, max(4, room)), tone),
                f" {numbers[zone.zone.key]:>{longest}} {share:>5}",
            )
        )
    if len(lines) < len(zones) and len(lines) < rows:
        done = sum(not zone.owed_total for zone in zones if zone not in shown)
        more = len(zones) - len(lines)
        lines.append(line(Span(f"   and {more} more zones, {done} of them done", "dim")))
    return lines


def _size_lines(state: CaseState, width: int) -> list[Line]:
    """By size: cut against plan, placed, waiting."""
    counts = by_size(state)
    lines = [line(Span(f" {'':<12}{'cut':>6}{'plan':>6}{'placed':>7}", "dim"))]
    for size, count in counts.items():
        label = clipped(state.plan.size_by_key[size].label, 11)
        cells = f"{grafts(count.usable):>6}{grafts(count.planned):>6}{grafts(count.placed):>7}"
        lines.append(line(f" {label:<12}{cells}"))
    return [tuple(each) for each in lines]


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
    words = ", ".join(f"{state.plan.size_by_key[size].label} {each}" for size, each in off.items())
    return [line(Span(f" {row}", "owed")) for row in wrap(words, width - 1)]


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
