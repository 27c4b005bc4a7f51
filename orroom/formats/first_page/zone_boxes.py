"""The zones as they lie, as boxes to scale by area, filled as far as they are placed, with their figures."""

from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

from orroom.figures.wording import decimal, grafts, hours_minutes, several
from orroom.figures.zone_rows import Spot, rows_of, with_lateral
from orroom.formats.drawing import FONT, MM, Drawing, Words, breadth, fitting, written
from orroom.formats.sections.wording import beyond_limit
from orroom.summary.summary import Summary
from orroom.summary.zones import ZoneSummary

#: As broad as the left column.
BREADTH: Final = 420.0
#: How high all boxes together may be, the highest first: a page takes the first for which it has room.
HEIGHTS: Final = tuple(high * MM for high in (84, 72, 60, 50, 42))
#: A box that would be lower is made narrower instead; a zone may be so many times its scale in breadth.
LOWEST: Final = 8.4 * MM
GAP: Final = 3.0
PLACED, OWED = "#E2E2E2", "#FFFFFF"

Row = Sequence[Spot[ZoneSummary]]


class _Line(NamedTuple):
    """A line of words in a box: pieces one after the other, and how high it is."""

    pieces: tuple[Words, ...]
    high: float


def zone_boxes(summary: Summary, high: float = HEIGHTS[0]) -> Drawing | None:
    """The drawing, at most so high where legible; ``None`` without zones."""
    if not summary.zones:
        return None
    lying, loose = rows_of(summary.zones)
    rows = [*with_lateral(lying), *loose]
    areas = [sum(spot.zone.area_cm2 for spot in row) for row in rows]
    scale = (high - GAP * len(rows)) / sum(areas) if sum(areas) else 1.0
    parts: list[str | Words] = []
    if lying:
        parts += [
            written(0, 10, "patient's left", 10.5, tone="faint"),
            written(BREADTH / 2, 10, "front", 10.5, anchor="middle", tone="faint"),
            written(BREADTH, 10, "patient's right", 10.5, anchor="end", tone="faint"),
        ]
    y = 15.0
    for number, (row, area) in enumerate(zip(rows, areas, strict=True)):
        if number == len(rows) - len(loose):
            parts.append(written(0, y + 9, "zones without a side in the plan", 10.5, tone="faint"))
            y += 13
        tall = max(LOWEST, area * scale)
        for spot, x, wide in _across(row, BREADTH * min(1.0, area * scale / tall)):
            parts += _box(summary, spot.zone, (x, y), (wide, tall))
        y += tall + GAP
    said = "; ".join(_said(zone) for zone in summary.zones)
    return Drawing(f"Zones from front to back, as they lie: {said}.", y, parts, BREADTH)


def _said(zone: ZoneSummary) -> str:
    over = f", {grafts(zone.grafts_over)} over plan" if zone.grafts_over else ""
    return (
        f"{zone.label}, {grafts(zone.grafts_placed)} of {several(zone.grafts_planned, 'graft')}{over}, "
        f"{decimal(zone.placed_grafts_per_cm2)} per cm²"
    )


def _across(row: Row, room: float) -> Iterator[tuple[Spot[ZoneSummary], float, float]]:
    """Each zone of a row with where it begins and how broad it is: by its area, around the midline.

    Where one side of a row is without a zone, its half stays empty.
    """
    area = sum(spot.zone.area_cm2 for spot in row) or 1.0
    sides = [sum(spot.zone.area_cm2 for spot in row if spot.column == column) for column in (0, 2)]
    centre = any(spot.column == 1 for spot in row)
    x = (BREADTH - room) / 2
    if len(row) == 1 and row[0].column != 1 and not centre:
        room = min(room, BREADTH / 2)
        x = 0.0 if row[0].column == 0 else BREADTH - room
    elif not centre and min(sides) > 0:
        x = min(max(BREADTH / 2 - room * sides[0] / area, 0.0), BREADTH - room)
    for spot in row:
        wide = room * spot.zone.area_cm2 / area
        yield spot, x, wide - GAP
        x += wide


def _box(
    summary: Summary, zone: ZoneSummary, at: tuple[float, float], size: tuple[float, float]
) -> Iterator[str | Words]:
    (x, y), (wide, high) = at, size
    share = 1.0 if not zone.grafts_planned else min(1.0, zone.grafts_placed / zone.grafts_planned)
    yield (
        f'<rect class="box" x="{x:.1f}" y="{y:.1f}" width="{wide:.1f}" height="{high:.1f}" fill="{OWED}" '
        'stroke="#8A8A8A" stroke-width="0.8"/>'
    )
    if share * wide >= 1:
        yield (
            f'<rect class="placed" x="{x:.1f}" y="{y:.1f}" width="{share * wide:.1f}" '
            f'height="{high:.1f}" fill="{PLACED}"/>'
        )
    inside, down = wide - 10, y + 2
    for line in _lines(summary, zone, inside, high):
        if down + line.high > y + high:
            break
        across = x + 6
        for piece in line.pieces:
            yield written(
                across, down + line.high - 4, piece.words, piece.size, bold=piece.bold, tone=piece.tone
            )
            across += _broad(piece)
        down += line.high


def _lines(summary: Summary, zone: ZoneSummary, inside: float, high: float) -> Iterator[_Line]:
    """What is said in a box, the most needed first; what does not fit is left out."""
    low = high < 2.6 * 14
    name = written(0, 0, zone.label, max(9.5, min(11.5, fitting(zone.label, 11.5, inside))), room=inside)
    yield _Line((name,), 14 if low else 15)
    figures = [
        _piece(grafts(zone.grafts_placed), 15, bold=True),
        _piece(f"of {grafts(zone.grafts_planned)}", 12),
    ]
    if zone.grafts_over:
        figures.append(_piece(f"+{grafts(zone.grafts_over)} over", 11, bold=True, tone="accent"))
    per_cm2 = _piece(f"{decimal(zone.placed_grafts_per_cm2)}/cm²", 11)
    if not zone.grafts_placed:
        per_cm2 = _piece(f"{decimal(zone.planned_grafts_per_cm2)}/cm² planned", 11, tone="faint")
    for number, pieces in enumerate(_in_lines([*figures, per_cm2], inside)):
        yield _Line(pieces, 13 if number else 15 if low else 17)
    hairs = f"{decimal(zone.placed_hairs_per_cm2)} hairs/cm²" if zone.grafts_placed else ""
    grew = zone.existing_hairs_per_cm2
    if hairs and (grew is not None or zone.grafts_before):
        together = (grew or 0.0) + zone.before_hairs_per_cm2 + zone.placed_hairs_per_cm2
        hairs += f", {decimal(together)} with those before"
    sizes = [each.size for each in summary.sizes if zone.placed.get(each.size)]
    mix = ", ".join(f"{grafts(zone.placed[each])} × {each}" for each in sizes)
    more = [] if zone.sites_made is None else [several(zone.sites_made, "site")]
    more += [f"{zone.reseated} reseated"] * bool(zone.reseated)
    for words in (hairs, _beyond(summary, zone), mix, ", ".join(more)):
        if words and breadth(words) * 10.5 / FONT <= inside:
            yield _Line((_piece(words, 10.5, tone="faint"),), 13)


def _beyond(summary: Summary, zone: ZoneSummary) -> str:
    """The share beyond the surgeon's limit of time out of the body, where any may be."""
    times = next((each for each in summary.out_of_body_zones if each.zone == zone.zone), None)
    if times is None or not times.over_limit_high:
        return ""
    return f"{beyond_limit(times)} out beyond {hours_minutes(summary.out_of_body_limit_ms)}"


def _in_lines(pieces: Sequence[Words], inside: float) -> Iterator[tuple[Words, ...]]:
    """Pieces one after the other, as many to a line as fit."""
    line: list[Words] = []
    for piece in pieces:
        if line and sum(map(_broad, [*line, piece])) > inside:
            yield tuple(line)
            line = []
        line.append(piece)
    yield tuple(line)


def _piece(words: str, size: float, **look: object) -> Words:
    return Words(0, 0, words, size=size, **look)  # type: ignore[arg-type]


def _broad(piece: Words) -> float:
    """How broad a piece is, with the room after it; bold letters are broader."""
    return breadth(piece.words) * piece.size / FONT * (1.1 if piece.bold else 1) + GAP
