"""The zones as they lie, drawn small: what is placed in each, size by size, by letter and pattern."""

from collections.abc import Mapping, Sequence
from typing import Final

from orroom.case.plan import Plan, Zone
from orroom.case.state import CaseState, once
from orroom.figures.counts import ZoneCount, by_zone
from orroom.figures.zone_rows import Spot, rows_of, with_lateral
from orroom.screens.stations.views.placing import zone_mark
from orroom.screens.stations.views.zone_names import zone_names
from orroom.screens.terminal.painting import Line, Span, line, padded, shortened

#: How grafts of each size are drawn, and those that are owed.
PATTERNS: Final[Mapping[str, str]] = {"1": "░", "2": "▒", "3": "▓", "4": "█", "M": "▚"}
OWED: Final = "·"
#: A zone is not drawn narrower.
LEAST_ZONE: Final = 9
#: Rows of a zone: its name, what is placed.
HIGH: Final = 2
LEFT, FRONT, RIGHT = "patient's left", "front", "patient's right"


@once
def zone_picture(state: CaseState, rows: int, width: int) -> list[Line]:
    """The picture in at most ``rows``; nothing where there is no room, or no zone has a side in the plan."""
    zones = {each.zone.key: each for each in by_zone(state)}
    lying, loose = rows_of([each.zone for each in zones.values()])
    drawn = [*with_lateral(lying), *loose]
    apart = 2 + len(drawn) * (HIGH + 1) <= rows
    if not lying or 2 + len(drawn) * (HIGH + apart) > rows:
        return []
    room = width - 3
    lines: list[Line] = [line(" ", Span(_ends(room), "dim"))]
    for row in drawn:
        places = _across(row, room)
        if min(wide for _, _, wide in places) < LEAST_ZONE:
            return []
        for part in range(HIGH):
            spans: list[Span | str] = [" "]
            at = 0
            for spot, start, wide in places:
                spans += [" " * (start - at), _part(state.plan, zones[spot.zone.key], part, wide - 1), " "]
                at = start + wide
            lines.append(line(*spans))
        lines += [()] * apart
    sizes = [f"{each.key}{PATTERNS[each.key] * 2} {each.label}" for each in state.plan.sizes]
    return [*lines, line(" ", Span(shortened(f"{'  '.join(sizes)}  {OWED * 2} owed", room), "dim"))]


def _ends(room: int) -> str:
    side = (room - len(FRONT)) // 2
    return f"{LEFT:<{side}}{FRONT}{RIGHT:>{room - side - len(FRONT)}}"


def _across(row: Sequence[Spot[Zone]], room: int) -> list[tuple[Spot[Zone], int, int]]:
    """Each zone of a row, where it begins and how broad it is: by its area; one alone is half as broad."""
    area = sum(spot.zone.measured_cm2 for spot in row)
    if len(row) == 1:
        return [(row[0], row[0].column * room // 4, room // 2)]
    found, start = [], 0
    for spot in row:
        wide = int(room * spot.zone.measured_cm2 / area)
        found.append((spot, start, wide))
        start += wide
    return found


def _part(plan: Plan, zone: ZoneCount, part: int, wide: int) -> Span:
    """A row of a zone."""
    mark, tone = zone_mark(zone)
    if part == 0:
        return Span(padded(f"{mark} {zone_names(plan, wide - 2)[zone.zone.key]}", wide), tone)
    return Span(padded(placed_by_size(zone, wide), wide), tone)


def placed_by_size(zone: ZoneCount, wide: int) -> str:
    """Grafts placed, each size by its letter and pattern, to the scale of the plan; then what is owed."""
    whole = max(zone.planned_total, zone.placed_total)
    drawn, placed = "", 0
    for size, count in zone.placed.items():
        placed += count
        cells = round(placed * wide / whole) - len(drawn) if whole else 0
        drawn += f"{size}{PATTERNS[size] * (cells - 1)}" if cells > 0 else ""
    return drawn + OWED * (wide - len(drawn))
