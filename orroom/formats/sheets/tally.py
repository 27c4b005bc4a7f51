"""The paper tally: graft counts to tick in fives, grafts placed by zone and size, care, signatures."""

from collections.abc import Iterator
from math import ceil
from typing import Final, NamedTuple

from orroom.case.plan import Plan
from orroom.figures.wording import grafts
from orroom.formats.drawing import MM, WIDTH, Drawing, Words, box, fitting, stroke, written
from orroom.formats.sheets.pages import HIGHEST, in_pages
from orroom.words.care import when_it_comes

#: Of a row that is ticked: five strokes go into a box, and this many boxes into a row.
FIVE: Final = 5
BOXES: Final = 24
BOX: Final = 5 * MM
ROW: Final = 8 * MM
LEFT: Final = 30 * MM
ROWS: Final = int(HIGHEST / ROW) - 1
#: Cutting gives other sizes than planned: so much more than planned has room (our own choice).
ROOM: Final = 1.25
TIMES: Final = 8


class TickRow(NamedTuple):
    """A row of boxes for grafts of a size, and the count once it is full."""

    size: str
    label: str
    full: int


def tick_rows(plan: Plan) -> list[TickRow]:
    """Rows for one harvest, as if each gave an equal share of the plan; two at least for a size."""
    per_row = FIVE * BOXES
    found = []
    for size in plan.sizes:
        share = plan.planned(size.key) * ROOM / len(plan.harvests)
        rows = max(2, ceil(share / per_row))
        found += [TickRow(size.key, size.label, per_row * number) for number in range(1, rows + 1)]
    return [*found, TickRow("✗", "spoilt", per_row)]


def cut_pages(plan: Plan) -> Iterator[tuple[str, Drawing]]:
    """For each harvest the rows to tick as grafts are cut, with what they are of."""
    for harvest in plan.harvests:
        pages = list(in_pages(tick_rows(plan), ROWS))
        for number, rows in enumerate(pages, 1):
            of = f", {number} of {len(pages)}" if len(pages) > 1 else ""
            parts: list[str | Words] = [
                written(
                    0,
                    ROW / 2,
                    "One stroke for each graft, five to a box. At the right: the count once the row is full.",
                )
            ]
            for place, row in enumerate(rows, 1):
                first = place == 1 or rows[place - 2].size != row.size
                parts += _ticked(row, place * ROW, first=first)
            title = f"Grafts cut, {harvest.label} ({harvest.key}){of}"
            yield title, Drawing(title, (len(rows) + 1) * ROW, parts)


def _ticked(row: TickRow, y: float, *, first: bool) -> Iterator[str | Words]:
    """A row; only the first of a size names it."""
    middle = y + ROW / 2
    if first:
        yield stroke(0, y, WIDTH, y, 0.8)
        yield written(0, middle + 8, row.size, 24, bold=True)
        yield written(9 * MM, middle + 4, row.label, room=LEFT - 10 * MM)
    for number in range(BOXES):
        x = LEFT + number * BOX + number // 2 * 1.2 * MM
        yield box(x, middle - BOX / 2, BOX, BOX, 0.8)
    yield written(WIDTH, middle + 5, grafts(row.full), 15, anchor="end")


def placed_page(plan: Plan) -> Drawing:
    """A row a zone, a column a size: what is planned is printed small, what is placed is written in."""
    rows = len(plan.zones) + 2
    high, name = min(15 * MM, HIGHEST / rows), 52 * MM
    wide = (WIDTH - name - 1) / (len(plan.sizes) + 1)
    parts: list[str | Words] = []
    heads = [*(size.key for size in plan.sizes), "all"]
    for column, head in enumerate(heads):
        parts.append(written(name + (column + 0.5) * wide, high - 6, head, 18, anchor="middle", bold=True))
    lines = [
        (f"{number}  {zone.key}", zone.label, [zone.planned.get(size.key) for size in plan.sizes])
        for number, zone in enumerate(plan.zones, 1)
    ]
    lines.append(("", "all zones", [plan.planned(size.key) for size in plan.sizes]))
    for place, (key, label, planned) in enumerate(lines, 1):
        y = place * high
        parts.append(written(0, y + high / 2 - 1, key, fitting(key or " ", 15, name - 10), bold=True))
        parts.append(written(0, y + high / 2 + 11, label, 11, room=name - 10))
        for column, count in enumerate([*planned, sum(each or 0 for each in planned)]):
            x = name + column * wide
            parts.append(box(x, y, wide, high, 0.8))
            if count is not None:
                parts.append(written(x + wide - 5, y + high - 5, f"of {grafts(count)}", 11, anchor="end"))
    return Drawing("Grafts placed, by zone and size", rows * high + 1, parts)


def care_page(plan: Plan) -> Drawing:
    """Boxes for the times of each care round, and lines for those who count, place and sign."""
    parts: list[str | Words] = []
    y, wide = 0.0, WIDTH / TIMES
    most = 4 if len(plan.care) <= 3 else 2 if len(plan.care) <= 6 else 1
    for care in plan.care:
        what = ", write °C next to the time" if care.kind == "temperature" else ""
        parts.append(written(0, y + 14, f"{care.label}: {when_it_comes(care)}{what}", 13, bold=True))
        times = 1 if care.once else ceil(plan.limits.day_hours * 60 / (care.every_minutes or 60))
        rows = min(ceil(times / TIMES), most)
        parts += [
            box(place % TIMES * wide, y + 20 + place // TIMES * ROW, wide, ROW, 0.8)
            for place in range(min(times, rows * TIMES))
        ]
        y += 28 + rows * ROW
    for words in (
        "cut, counted by",
        "placed, counted by",
        "final count, first",
        "final count, second",
        "surgeon",
    ):
        y += 10 * MM
        parts.append(written(0, y, words, 13))
        parts.append(stroke(44 * MM, y + 2, 120 * MM, y + 2, 0.8))
        parts.append(written(124 * MM, y, "time", 13))
        parts.append(stroke(134 * MM, y + 2, WIDTH, y + 2, 0.8))
    return Drawing("Care times and signatures", y + 6, parts)
