"""The first page as data for the template ``first_page.typ``."""

from collections.abc import Callable
from typing import Any

from msgspec import Struct
from msgspec.structs import asdict

from orroom.formats.blocks import Words, plain
from orroom.formats.drawing import Drawing
from orroom.formats.first_page.page import NO_WORK, NOTHING_TO_LOOK_AT, FirstPage
from orroom.formats.first_page.parts import Part

Data = dict[str, Any]


def page_data(
    page: FirstPage, words_data: Callable[[Words], list[Any]], drawing_data: Callable[[Drawing], Data]
) -> Data:
    """All of the page, each text plain; drawings and words with emphasis as the other blocks have them."""

    def part_data(part: Part) -> Data:
        table = part.table
        return {
            "title": part.title,
            "aside": plain(part.aside),
            "paragraphs": [words_data(each) for each in part.paragraphs],
            "table": table
            and {
                "texts": table.texts,
                "header": [words_data(cell) for cell in table.header],
                "rows": [[words_data(cell) for cell in row] for row in table.rows],
            },
        }

    def drawn(drawing: Drawing | None) -> Data | None:
        return None if drawing is None else drawing_data(drawing)

    return {
        **{name: plain(text) for name, text in asdict(page).items() if isinstance(text, str)},
        "open": page.open,
        "headlines": [_texts(each) for each in page.headlines],
        "looks": [_texts(each) for each in page.looks],
        "left_out": [
            {"words": each.words, "sections": [_texts(one) for one in each.sections]}
            for each in page.left_out
        ],
        "follows": [_texts(each) for each in page.follows],
        "nothing": NOTHING_TO_LOOK_AT,
        "no_work": NO_WORK,
        "day_broad": drawn(page.day_broad),
        "zones": [drawing_data(each) for each in page.zones],
        "out_curve": drawn(page.out_curve),
        "signatures": [_texts(each) for each in page.signatures],
        **{name: part_data(getattr(page, name)) for name in ("sizes", "out", "count", "people")},
    }


def _texts(each: Struct) -> Data:
    return {name: plain(value) if isinstance(value, str) else value for name, value in asdict(each).items()}
