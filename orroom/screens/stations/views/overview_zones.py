"""The overview's zones: a bar and figures each, as large as there are rows for them."""

from collections.abc import Sequence
from typing import NamedTuple

from orroom.case.plan import Plan
from orroom.case.state import CaseState, once
from orroom.figures.counts import ZoneCount, by_zone
from orroom.figures.wording import NO_DATA, grafts, percent
from orroom.screens.stations.views.placing import OVER, zone_mark
from orroom.screens.stations.views.zone_names import zone_names
from orroom.screens.terminal.digits import ROWS, block_digits, largest_scale
from orroom.screens.terminal.painting import Line, Span, bar, beside, line, padded

#: Columns: the most and the least room for a zone's name, the least for its bar, and beside large figures.
ZONE_NAME, LEAST_NAME, LEAST_BAR, LEAST_LARGE_BAR = 18, 8, 4, 20
#: From this width on a zone's line says in a word what is over plan.
ROOM_FOR_OVER = 60
#: With at least this many rows for each zone one of them is left empty, so that bars do not touch.
ROOM_BETWEEN = 3


@once
def zone_lines(state: CaseState, rows: int, width: int) -> list[Line]:
    """Zones with a bar, in at most ``rows``: where there are fewer rows, those that are owed come first."""
    zones = by_zone(state)
    apart = (rows + 1) // len(zones)  # no row is left empty after the last
    if apart > ROWS and (large := _large_lines(state.plan, zones, apart - 1, width)):
        return large
    high = apart - 1 if apart >= ROOM_BETWEEN else rows // len(zones)
    shown = sorted(zones, key=lambda zone: len(zones) > rows and not (zone.owed_total or zone.over_total))
    written = {zone.zone.key: _zone_figures(zone, width) for zone in zones}
    figures, share, over = (max(map(len, column)) for column in zip(*written.values(), strict=True))
    room = width - 6 - figures - over - max(5, share)
    name = room if room < LEAST_NAME + LEAST_BAR else min(ZONE_NAME, room - LEAST_BAR)
    names = zone_names(state.plan, name - 1)
    lines: list[Line] = []
    for zone in shown:
        mark, tone = zone_mark(zone)
        mine = written[zone.zone.key]
        filled = bar(zone.within_plan, zone.planned_total, room - name)
        lines.append(
            line(
                Span(f" {mark} ", tone),
                padded(names[zone.zone.key], name),
                Span(filled, tone),
                f" {mine.figures:>{figures}} {mine.share:>{max(5, share)}}",
                Span(f"{mine.over:<{over}}", "wrong"),
            )
        )
        lines += [line(" " * (3 + name), Span(_solid(filled), tone))] * (min(high, ROWS) - 1)
        lines += [()] * (apart >= ROOM_BETWEEN)
    return lines[:rows] if apart >= ROOM_BETWEEN else lines


def _large_lines(plan: Plan, zones: Sequence[ZoneCount], rows: int, width: int) -> list[Line]:
    """Each zone with its figures in digits of up to ``rows`` rows; nothing where they find no room."""
    written = [_zone_figures(zone, width) for zone in zones]
    plain = [each.figures.replace(",", "") for each in written]
    width, left = width - 2, 3 + ZONE_NAME
    scale = largest_scale(plain, width - left - LEAST_LARGE_BAR, rows)
    if not scale.width:
        return []
    names = zone_names(plan, ZONE_NAME - 1)
    drawn = [block_digits(each, scale) for each in plain]
    right = max(len(each[0]) for each in drawn) + 2
    lines: list[Line] = []
    for zone, figures, digits in zip(zones, written, drawn, strict=True):
        mark, tone = zone_mark(zone)
        facts = [
            line(Span(f" {mark} ", tone), Span(names[zone.zone.key], "strong")),
            line(f"   {figures.share}"),
            line(Span(f"  {figures.over}", "wrong")),
        ]
        filled = bar(zone.within_plan, zone.planned_total, width - left - right)
        bars = [line(Span(filled, tone)), *[line(Span(_solid(filled), tone))] * (scale.height - 1)]
        numbers = [line(Span(f"{row:>{right}}", tone)) for row in digits]
        lines += [*beside((facts, left), (bars, width - left - right), (numbers, right)), ()]
    return lines[:-1]


def _solid(filled: str) -> str:
    """A bar's further rows, without a line between them."""
    return filled.replace("▇", "█")


def _share(zone: ZoneCount) -> str:
    """How much of the plan is placed; a zone that is owed nothing is done, also with more than the plan."""
    if not zone.planned_total:
        return NO_DATA
    return percent(zone.within_plan / zone.planned_total) if zone.owed_total else "done"


class _ZoneFigures(NamedTuple):
    """What a zone's line says: placed of planned, the share of the plan, what is over plan."""

    figures: str
    share: str
    over: str


def _zone_figures(zone: ZoneCount, width: int) -> _ZoneFigures:
    """What is over plan is named, and is not part of the share: it pays for nothing that is owed."""
    over = (
        f" {OVER} {grafts(zone.over_total)} over"
        if width >= ROOM_FOR_OVER
        else f" {OVER}{grafts(zone.over_total)}"
    )
    return _ZoneFigures(
        f"{grafts(zone.placed_total)}/{grafts(zone.planned_total)}",
        _share(zone),
        over if zone.over_total else "",
    )
