"""Which sheets there are, and what is on each: a heading to fill in, then a drawing or tables."""

from collections.abc import Callable, Collection, Iterator, Sequence
from typing import Final, Literal

from msgspec import Struct

from orroom.case.plan import Plan
from orroom.case.terms import CAUTIONS
from orroom.formats.blocks import Block, Heading
from orroom.formats.drawing import Drawing
from orroom.formats.sheets.figures import figures
from orroom.formats.sheets.labels import label_pages
from orroom.formats.sheets.tally import care_page, cut_pages, placed_page
from orroom.formats.sheets.zone_map import zone_pages

SheetName = Literal["labels", "tally", "zones", "figures"]
#: What everybody must read, in small letters on each sheet; the plan's own cautions are with its figures.
SMALL_PRINT: Final = " ".join(CAUTIONS)
DATE: Final = "date ____________"


class Sheet(Struct, frozen=True):
    """What begins on a page of its own."""

    blocks: Sequence[Block | Drawing]


def sheets_of(plan: Plan, names: Collection[SheetName] = ()) -> list[Sheet]:
    """The sheets of a plan that are named, or all, always in the same order."""
    return [
        Sheet([Heading(f"{title}: {plan.case}, {DATE}", level=1), *blocks])
        for name, made in _MADE.items()
        if not names or name in names
        for title, blocks in made(plan)
    ]


_Titled = tuple[str, Sequence[Block | Drawing]]


def _labels(plan: Plan) -> Iterator[_Titled]:
    return (("Labels", [drawing]) for drawing in label_pages(plan))


def _tally(plan: Plan) -> Iterator[_Titled]:
    yield from ((title, [drawing]) for title, drawing in cut_pages(plan))
    for drawing in (placed_page(plan), care_page(plan)):
        yield drawing.title, [drawing]


def _zones(plan: Plan) -> Iterator[_Titled]:
    return (("Zones", [drawing]) for drawing in zone_pages(plan))


def _figures(plan: Plan) -> Iterator[_Titled]:
    yield "Figures of the plan", list(figures(plan))


_MADE: Final[dict[SheetName, Callable[[Plan], Iterator[_Titled]]]] = {
    "labels": _labels,
    "tally": _tally,
    "zones": _zones,
    "figures": _figures,
}
