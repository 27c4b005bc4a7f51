"""The overview next to its zones: sizes, harvests, and what is forecast of works, harvest and time out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from orroom.case.state import CaseState
from orroom.figures.case_times import case_times
from orroom.figures.counts import by_size
from orroom.figures.holding import HarvestAge, harvest_ages
from orroom.figures.wording import NO_DATA, clock_time, grafts, how_long, marked, percent, segments_done
from orroom.screens.stations.views.frame import Glance
from orroom.screens.stations.views.lanes import lane_rows
from orroom.screens.stations.views.prompting import WALL
from orroom.screens.terminal.painting import Line, Span, clipped, first_that_fits, line, padded, wrapped

if TYPE_CHECKING:
    from orroom.figures.pace.finish import Outlook
    from orroom.figures.yields import Projection, Yield

#: One more hand that brings less than this is not shown.
WORTH_SHOWING_MINUTES = 5


def rest_lines(state: CaseState, now_ms: int, glance: Glance, width: int) -> list[Line]:
    """Sizes, harvests and what is forecast."""
    lines = [*_size_lines(state, width), *_harvest_lines(state, now_ms, width)]
    lines += lane_rows(state, now_ms, glance, width)
    if (known := glance.foretold) is not None:
        lines += _work_lines(state, known.outlook, width)
        lines += _yield_lines(state, known.to_come, width)
        lines += _course_lines(state, known.to_come, width)
        lines += _median_lines(known.half_placed_ms, width)
        if glance.width < WALL[0]:  # on a wall it is below FINISH
            lines += _later_line(state, known.outlook, width)
    return lines


def flow_lines(state: CaseState, now_ms: int, glance: Glance, width: int) -> list[Line]:
    """Which size runs out first, and what is next."""
    from orroom.words.flow import next_line, wanted_line  # not needed for a station's first paint

    if glance.foretold is None:
        return []
    found = glance.foretold.flow
    said = [wanted_line(found, now_ms), next_line(found, now_ms, case_times(state))]
    fitting = (first_that_fits([f" {each}" for each in forms], width - 1) for forms in said if forms)
    return [line(Span(each, "dim")) for each in fitting]


def _size_lines(state: CaseState, width: int) -> list[Line]:
    """By size: cut against plan, placed, waiting."""
    rows = [("usable", "plan", "placed")]
    rows += [
        (marked(each.usable, each.short), grafts(each.planned), grafts(each.placed))
        for each in by_size(state).values()
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


def _harvest_lines(state: CaseState, now_ms: int, width: int) -> list[Line]:
    """Each harvest: time out of the body, what waits, segments."""
    lines: list[Line] = []
    for age in harvest_ages(state, now_ms):
        short = f" {age.harvest} {_waits(age)}"
        segments = f" · {segments_done(age.segments_done, age.segments)}" if age.segments else ""
        fewer = segments.removesuffix(" done")
        forms = (
            *(f" harvest{short}{each}" for each in (segments, fewer)),
            *(f"{short}{each}" for each in (segments, fewer)),
            f" harvest{short}",
            short,
        )
        text = first_that_fits(forms, width - 1)  # nothing touches the edge
        lines.append(line(Span(text, "strong" if age.out_ms is not None else "dim")))
    return lines


def _waits(age: HarvestAge) -> str:
    """How long a harvest has been out, and what of it waits: grafts, tissue alone, or nothing."""
    waiting = f"{marked(age.waiting, age.short)} waiting"
    if age.why_unknown is not None:
        return f"{age.why_unknown} · {waiting}"
    if age.out_ms is None:
        return waiting if age.waiting else "nothing waits"
    return f"out {how_long(age.out_ms)} · {waiting if age.waiting else 'not all cut'}"


def _yield_lines(state: CaseState, found: Yield, width: int) -> list[Line]:
    """While segments are being cut: where all harvests together are heading, or each that is known."""
    if found.projected is not None:
        if all(harvest.finished >= (harvest.segments or 0) for harvest in found.harvests):
            return []
        return _verdict("", found.projected, state.plan.planned(), width)
    return [
        each
        for harvest in found.harvests
        if harvest.projected is not None and harvest.finished < (harvest.segments or 0)
        for each in _verdict(f"harvest {harvest.harvest}", harvest.projected, None, width)
    ]


def _course_lines(state: CaseState, found: Yield, width: int) -> list[Line]:
    """The sizes of which there will be other than planned, in as many lines as they need."""
    from orroom.figures.course import course_by_size  # not needed for a station's first paint

    off = {size: each.words for size, each in course_by_size(state.plan, found).items() if each.off}
    words = ", ".join(f"{state.plan.size_by_key[size].label}: {each}" for size, each in off.items())
    return [line(Span(f" {row}", "owed")) for row in wrapped(words, width - 1)]


def _verdict(name: str, projected: Projection, planned: int | None, width: int) -> list[Line]:
    """Whether there will be enough grafts, and between which numbers they will probably be."""
    low, high = round(projected.low), round(projected.high)
    between = f"probably {grafts(low)} to {grafts(high)}"
    if planned is None:
        return [
            line(first_that_fits([f" {name}: {between}", f" {name}: {grafts(low)} to {grafts(high)}"], width))
        ]
    verdict = "enough" if low >= planned else "too few" if high < planned else "may be too few"
    plan = f"plan {grafts(planned)}"
    for whole in (f" grafts {verdict}: {between}, {plan}", f" {verdict}: {between}, {plan}"):
        if len(whole) < width:
            return [line(whole)]
    return [line(clipped(each, width)) for each in (f" grafts {verdict}, {plan}", f" {between}")]


def _work_lines(state: CaseState, outlook: Outlook, width: int) -> list[Line]:
    """Each work: its pace now, who is working, when it will be done; then what one more hand would change."""
    lines: list[Line] = []
    for each in outlook.works:
        if not each.left or not each.pace.done:
            continue
        if each.none_for_ms is not None:
            now = f": none for {how_long(each.none_for_ms)}"
        else:
            now = f" {NO_DATA if each.pace.now is None else grafts(round(each.pace.now))}/h"
        ends = "" if each.finish is None else clock_time(each.finish.middle_ms, case_times(state))
        whole, short = (f", expected to finish at {ends}", f", done ~{ends}") if ends else ("", "")
        rest = f", with {how_long(each.breaks_ms)} of break" if each.breaks_ms else ""
        brief = f" {each.work}{now}"
        hands = f"{each.pace.hands:g}"
        people = "person" if each.pace.hands == 1 else "people"
        ways = [f"{brief} by {hands} {people}{whole}{rest}", f"{brief} by {hands}{short}{rest}"]
        ways += [f"{brief}{short}{rest}", f"{brief}{short}"]
        if each.none_for_ms is not None:  # the pace before it stopped says when it would be finished
            goes_on = f"{brief}; if it goes on now, done ~{ends}"
            ways = [*([f"{goes_on}{rest}", goes_on] if ends else []), brief]
        text = first_that_fits(ways, width - 1)
        lines.append(line(Span(text, "strong" if each.work == outlook.slowest else "plain")))
        if each.fewer_since_ms is not None:
            since = clock_time(each.fewer_since_ms, case_times(state))
            asked = f" ? {each.work} {percent(1 / each.pace.hands)} slower since {since}"
            left = f"{asked}: did somebody leave? w"
            ways = [
                f"{left} enters the team",
                left,
                f"{asked}: who left? w",
                f" ? slower since {since}: who left? w",
            ]
            lines.append(line(Span(first_that_fits(ways, width), "dim")))
    for more in outlook.one_more:
        if more.work == outlook.slowest and more.minutes >= WORTH_SHOWING_MINUTES:
            text = f" one more at {more.work}: {round(more.minutes)} min sooner"
            lines.append(line(Span(clipped(text, width), "dim")))
    if outlook.oldest_out_ms is not None:
        out = f"out by then: up to {how_long(outlook.oldest_out_ms)}"
        text = first_that_fits([f" oldest graft {out}", f" oldest {out}"], width)
        lines.append(line(Span(text, "strong")))
    return lines


def _later_line(state: CaseState, known: Outlook, width: int) -> list[Line]:
    """Until when all will be done if something slows it down."""
    if known.finish is None:
        return []
    later = clock_time(known.finish.later_ms, case_times(state))
    forms = (f" done by {later} if somebody leaves or the end is slow", f" done by {later} if it slows")
    return [line(Span(clipped(first_that_fits(forms, width), width), "dim"))]


def _median_lines(half_placed_ms: Mapping[str, int | None], width: int) -> list[Line]:
    """Each harvest of which half is placed: by which time out of the body, harvests drawn as entered."""
    lines: list[Line] = []
    for harvest, out in half_placed_ms.items():
        if out is not None:
            half = f"half of harvest {harvest} was placed within {how_long(out)} out of the body"
            lines += [line(Span(f" {row}", "dim")) for row in wrapped(half, width - 2)]
    return lines
