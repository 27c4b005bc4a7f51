"""Labels to cut out: a dish for each harvest and size, and the placers' lanes."""

from collections.abc import Iterator
from typing import Final, NamedTuple

from orroom.case.plan import Plan
from orroom.case.terms import LANE_LETTERS, lane_name
from orroom.formats.drawing import MM, WIDTH, Drawing, Words, box, fitting, stroke, written
from orroom.formats.sheets.pages import in_pages

ACROSS, DOWN = 3, 6
WIDE: Final = WIDTH / ACROSS
HIGH: Final = 36 * MM
#: Letters 8 mm high are read from a metre (common practice, no source); these are 13 mm and more.
LARGE: Final = 20 * MM
MARK: Final = 3 * MM


class Label(NamedTuple):
    """A label: what is large on it, what that is, and what it belongs to; ``blank`` is left to write on."""

    large: str
    what: str
    beside: str
    beside_what: str
    blank: str = ""


def labels_of(plan: Plan) -> list[Label]:
    """Every label of a plan."""
    dishes = [
        Label(size.key, size.label, harvest.key, "harvest")
        for harvest in plan.harvest_by_key.values()
        for size in plan.sizes
    ]
    return [
        *dishes,
        *(Label(lane_name(each).split()[1], "lane", "", "", "initials") for each in LANE_LETTERS),
    ]


def label_pages(plan: Plan) -> Iterator[Drawing]:
    """The labels, with marks where to cut, as many to a page as there is room for."""
    for page in in_pages(labels_of(plan), ACROSS * DOWN):
        parts: list[str | Words] = []
        rows = -(-len(page) // ACROSS)
        for number, label in enumerate(page):
            parts += _label(plan, label, number % ACROSS * WIDE, number // ACROSS * HIGH + MARK)
        for row in range(rows + 1):
            parts += [_mark(column * WIDE, row * HIGH + MARK) for column in range(ACROSS + 1)]
        said = "; ".join(
            f"{each.beside_what} {each.beside} {each.what} {each.large}".strip() for each in page
        )
        yield Drawing(f"Labels: {said}", rows * HIGH + 2 * MARK, parts)


def _mark(x: float, y: float) -> str:
    """A cross where labels meet; at the edge of the drawing the part of it that is inside."""
    left, right = max(0.5, x - MARK), min(WIDTH - 0.5, x + MARK)
    x = min(max(x, 0.5), WIDTH - 0.5)
    return stroke(left, y, right, y, 0.8) + stroke(x, y - MARK, x, y + MARK, 0.8)


def _label(plan: Plan, label: Label, x: float, y: float) -> Iterator[str | Words]:
    inner, foot = WIDE - 8 * MM, y + HIGH - 4.5 * MM
    yield written(x + 4 * MM, y + 6.5 * MM, plan.case, fitting(plan.case, 13, inner))
    yield written(x + 4 * MM, y + 26 * MM, label.large, LARGE, bold=True)
    yield written(x + 4 * MM, foot, label.what, 16, room=inner if not label.blank else inner / 2)
    right = x + WIDE - 4 * MM
    if label.blank:
        yield box(x + 24 * MM, y + 10 * MM, right - x - 24 * MM, 16 * MM)
        yield written(right, foot, label.blank, 13, anchor="end")
    else:
        room = right - x - 22 * MM
        yield written(right, y + 26 * MM, label.beside, fitting(label.beside, LARGE, room), anchor="end")
        yield written(right, y + 10.5 * MM, label.beside_what, 13, anchor="end")
