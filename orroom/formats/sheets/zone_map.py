"""The zones as they lie, for the wall: front at the top, shapes to scale, what is planned for each."""

from collections.abc import Iterator, Sequence
from math import ceil, cos, pi, sin, sqrt
from typing import Final

from orroom.case.plan import Plan, Zone
from orroom.case.shapes import Ellipse, Outline, Trapezoid, Triangle
from orroom.figures.wording import grafts
from orroom.figures.zone_rows import Spot, rows_of
from orroom.formats.drawing import MM, WIDTH, Drawing, Words, fitting, stroke, written
from orroom.formats.sheets.pages import HIGHEST, in_pages

THIRD: Final = WIDTH / 3
#: Where the middles of a row are: three zones side by side, or left and right of the midline alone.
ACROSS: Final = (1 / 6, 3 / 6, 5 / 6)
BESIDE: Final = (0.3, 0.5, 0.7)
#: The height of a line of counts, and of what is above all shapes.
COUNTS: Final = 5.5 * MM
CAPTION: Final = 9 * MM
#: Where there is room on the page, a centimetre of scalp is at least this long on paper.
LEAST_CM: Final = 5 * MM
#: A box for a zone of which only the area is known is so much broader than high.
BROADER: Final = 1.6
NOTES: Final = (
    "120 × 1: 120 grafts of size 1. Dashed: only the area is known.",
    "Rows go by kind, side and placing order; how shapes are turned is not in the plan.",
)
#: The corners with which an ellipse is drawn.
TURNS: Final = [turn * pi / 36 for turn in range(72)]
Point = tuple[float, float]


def zone_pages(plan: Plan) -> Iterator[Drawing]:
    """The drawing, on enough pages to keep shapes legible; all of them to one scale."""
    lying, loose = rows_of(plan.zones)
    rows = [*lying, *loose]
    widest = max(wide for row in rows for wide, _ in _sizes(row))
    broadest = (THIRD - 8 * MM) / widest
    for number in range(1, len(rows) + 1):
        pages = [page for part in (lying, loose) for page in in_pages(part, ceil(len(rows) / number))]
        scale = min(broadest, *(_highest_scale(plan, page) for page in pages))
        if scale >= min(LEAST_CM, broadest):
            break
    for page in pages:
        yield _page(plan, page, scale, sided=page[0] in lying)


def _sizes(row: Sequence[Spot[Zone]]) -> list[Point]:
    return [_measures(_outline(spot.zone)) for spot in row]


def _highest_scale(plan: Plan, rows: Sequence[Sequence[Spot[Zone]]]) -> float:
    """Units to a cm at which the rows are as high as the page."""
    high = sum(max(high for _, high in _sizes(row)) for row in rows)
    return (HIGHEST - 2 * CAPTION - sum(_words_high(plan, row) for row in rows)) / high


def _page(plan: Plan, rows: Sequence[Sequence[Spot[Zone]]], scale: float, *, sided: bool) -> Drawing:
    parts: list[str | Words] = []
    if sided:
        parts.append(written(0, 5 * MM, "patient's LEFT", 20, bold=True))
        parts.append(written(WIDTH / 2, 5 * MM, "▲ FRONT, seen from above", 20, anchor="middle", bold=True))
        parts.append(written(WIDTH, 5 * MM, "patient's RIGHT", 20, anchor="end", bold=True))
    else:
        parts.append(written(0, 5 * MM, "zones without a side in the plan", 20, bold=True))
    y = CAPTION
    for row in rows:
        high = max(high for _, high in _sizes(row)) * scale
        places = ACROSS if not sided or any(spot.column == 1 for spot in row) else BESIDE
        for spot in row:
            parts += _zone(plan, spot, (places[spot.column] * WIDTH, y + high), scale)
        y += high + _words_high(plan, row)
    parts += [stroke(0, y + 4 * MM, scale, y + 4 * MM, 3), written(scale + 8, y + 5 * MM, "1 cm", 13)]
    for line, note in enumerate(NOTES):
        parts.append(written(WIDTH, y + (4 + 4 * line) * MM, note, 11, anchor="end"))
    said = "; ".join(
        f"{spot.number} {spot.zone.label}, {' · '.join(_planned(plan, spot.zone))}"
        for row in rows
        for spot in row
    )
    return Drawing(f"Zones from front to back: {said}", y + CAPTION, parts)


def _zone(plan: Plan, spot: Spot[Zone], foot: Point, scale: float) -> Iterator[str | Words]:
    """A zone above the middle of its foot, and its words below."""
    (middle, down), points = foot, _outline(spot.zone)
    wide, high = _measures(points)
    left, top = min(x for x, _ in points), min(y for _, y in points)
    at = [(middle + (x - left - wide / 2) * scale, down + (y - top - high) * scale) for x, y in points]
    dashes = ' stroke-dasharray="6 4"' if spot.zone.shape is None else ""
    path = "L".join(f"{x:.1f} {y:.1f}" for x, y in at)
    yield f'<path d="M{path}z" fill="#EEEEEE" stroke="#000000" stroke-width="1.5"{dashes}/>'
    room = THIRD - 4 * MM
    name = f"{spot.number} · {spot.zone.key}"
    yield written(middle, down + 8 * MM, name, fitting(name, 32, room), anchor="middle", bold=True)
    yield written(middle, down + 13 * MM, spot.zone.label, 15, room=room, anchor="middle")
    for number, counts in enumerate(_planned(plan, spot.zone)):
        y = down + 13 * MM + (number + 1) * COUNTS
        yield written(middle, y, counts, fitting(counts, 20, room), anchor="middle", bold=True)


def _words_high(plan: Plan, row: Sequence[Spot[Zone]]) -> float:
    """How high what is below the shapes of a row is."""
    return 16 * MM + COUNTS * max(len(_planned(plan, spot.zone)) for spot in row)


def _planned(plan: Plan, zone: Zone) -> list[str]:
    """``60 × 1 · 30 × 2``: the grafts planned for a zone, each with the key of its size, two to a line."""
    counts = [(size.key, zone.planned.get(size.key, 0)) for size in plan.sizes]
    said = [f"{grafts(count)} × {key}" for key, count in counts if count] or ["no grafts"]
    return [" · ".join(line) for line in in_pages(said, 2)]


def _measures(points: Sequence[Point]) -> tuple[float, float]:
    wide, high = (max(each) - min(each) for each in zip(*points, strict=True))
    return wide, high


def _outline(zone: Zone) -> list[Point]:
    """The corners of a zone in cm, to the right and down; a box of its area where no shape is known."""
    match zone.shape:
        case Ellipse(length_cm=long, width_cm=wide):
            return [(long / 2 * cos(turn), wide / 2 * sin(turn)) for turn in TURNS]
        case Trapezoid(front_cm=front, back_cm=back, depth_cm=depth):
            return [(-front / 2, 0), (front / 2, 0), (back / 2, depth), (-back / 2, depth)]
        case Triangle(base_cm=base, height_cm=height):
            return [(0, 0), (base / 2, height), (-base / 2, height)]
        case Outline(points_cm=points):
            return list(points)
    wide = sqrt(zone.measured_cm2 * BROADER)
    return [(0, 0), (wide, 0), (wide, wide / BROADER), (0, wide / BROADER)]
