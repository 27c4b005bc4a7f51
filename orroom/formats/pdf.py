"""A PDF to print and to keep, set by typst (extra ``pdf``): the same words and charts as HTML.

Tagged for screen readers (PDF/UA-1) and made to last (PDF/A-2a). Nothing of a record is ever formatted into
typst's source: the template is a file of its own, and what it prints reaches it as data.
"""

import json
from collections.abc import Iterator, Sequence
from importlib import resources
from typing import Any, Final

from msgspec.structs import asdict

from orroom.errors import OrroomError
from orroom.figures.wording import moment
from orroom.formats import blocks as b
from orroom.formats.blocks import Block, Words, plain, runs
from orroom.formats.chart import Chart
from orroom.formats.chosen import WHOLE
from orroom.formats.drawing import Drawing
from orroom.formats.first_page.data import page_data
from orroom.formats.pdf_letters import in_known_letters
from orroom.formats.summary_blocks import laid_out
from orroom.formats.svg import COLUMN, drawn
from orroom.summary.summary import Summary

#: What the template is joined of; each goes on where the one before it ends.
TEMPLATES: Final = ("paper", "first_page", "summary")
#: So many letters fit in a row of a column.
MOST_LETTERS: Final = 66
NOT_INTACT: Final = "THE RECORD IS NOT INTACT"
SPELLED: Final = (
    "‹U+4E2D›: a character that the fonts of this page lack, by its Unicode number; "
    "the summary in other formats has it."
)


def to_pdf(summary: Summary, chosen: Sequence[str] = WHOLE) -> bytes:
    """The summary on A4, or what is chosen of it; the same bytes everywhere.

    Raises ``OrroomError`` if typst makes none.
    """
    return set_on_pages(as_data(summary, chosen), "Print the summary as html instead.")


def set_on_pages(text: str, instead: str, *, to_last: bool = True) -> bytes:
    """The pages that the template makes of what it prints; ``instead`` is what to do if it makes none.

    Only pages with a date are made to last (PDF/A).
    """
    try:
        import typst
    except ModuleNotFoundError:
        raise OrroomError(
            "A PDF is made by the library typst, which is not installed.", "Run: pip install 'orroom[pdf]'"
        ) from None
    folder = resources.files("orroom.formats").joinpath("typst")
    template = b"".join(folder.joinpath(f"{name}.typ").read_bytes() for name in TEMPLATES)
    try:
        pdf: bytes = typst.compile(
            template,
            format="pdf",
            ignore_system_fonts=True,  # other machines have others
            sys_inputs={"given": text},
            pdf_standards=["a-2a", "ua-1"] if to_last else ["ua-1"],
        )
    except typst.TypstError as problem:
        raise OrroomError(f"typst made no PDF: {problem}.", instead) from problem
    return pdf


def as_data(summary: Summary, chosen: Sequence[str] = WHOLE) -> str:
    """What the template prints, as JSON: what is on every page, and the ``blocks`` of the summary.

    ``date`` is that of the last entry, so that the same record makes the same file.
    """
    printed = in_known_letters(summary)
    last = moment(printed.last_entry, printed.utc_offset_minutes)
    title = f"Case {printed.case}" + ("" if printed.title is None else f": {printed.title}")
    found = {
        "title": plain(title),
        "case": plain(printed.case),
        "seal": printed.seal and f"{printed.entries}:{printed.seal}",
        "banner": None if printed.not_intact is None else NOT_INTACT,
        "note": None if printed is summary else SPELLED,
        "date": {"year": last.year, "month": last.month, "day": last.day},
        "blocks": [*_blocks(printed, chosen)],
    }
    return json.dumps(found, ensure_ascii=False)


def _blocks(summary: Summary, chosen: Sequence[str]) -> Iterator[dict[str, Any]]:
    """The first page, if it is chosen; what is in columns follows a block of the kind ``columns``."""
    first, rest = laid_out(summary, chosen)
    if first is not None:
        yield {"kind": "first page", "page": page_data(first, _words, _drawing)}
    titled = 0
    if first is None:  # the title and its cautions are as broad as the page, and so is what is short
        titled = (
            len(rest)
            if len(chosen) == 1
            else next(place for place, each in enumerate(rest) if isinstance(each, b.Heading) and each.name)
        )
    yield from map(block_data, rest[:titled])
    if rest[titled:]:
        yield {"kind": "columns"}
        yield from map(block_data, rest[titled:])


def block_data(block: Block | Drawing) -> dict[str, Any]:
    """A block by its ``kind``, in shapes that ``typst/summary.typ`` knows."""
    match block:
        case b.Heading(words, level, name):
            return {"kind": "heading", "level": level, "name": name, "of": _words(words)}
        case b.Paragraph(words):
            *_, (last, strong) = runs(words)
            lead = last.endswith(":") and not strong
            return {"kind": "lead" if lead else "paragraph", "of": _words(words)}
        case b.List(items):
            return {"kind": "list", "of": [_words(item) for item in items]}
        case b.Caution(items):
            return {"kind": "caution", "of": [_words(item) for item in items]}
        case b.Table(header, rows, texts, groups):
            return {
                "kind": "table",
                "texts": texts,
                "broad": len(groups) > 1,
                "longest": (longest := _longest_name(block)) and _words(longest),
                "header": [_words(cell) for cell in header],
                "rows": [[_words(cell) for cell in row] for row in rows],
            }
        case Chart():
            return _drawing(drawn(block, COLUMN))
        case Drawing():
            return _drawing(block)


def _drawing(drawing: Drawing) -> dict[str, Any]:
    """A drawing and, apart from it, its words: what draws it knows less of fonts than the page."""
    return {
        "kind": "chart",
        "title": plain(drawing.title),
        "svg": drawing.svg(with_words=False),
        "breadth": drawing.width,
        "words": [asdict(each) for each in drawing.words],
    }


def _longest_name(table: b.Table) -> Words | None:
    """The longest of what names the rows, if the broadest row may need more letters than a column has.

    Where more than the first cell is words, those share the room.
    """
    if table.texts > 1:
        return None

    def letters(words: Words) -> int:
        return sum(len(text) for text, _ in runs(words))

    columns = [*zip(table.header, *table.rows, strict=True)]
    needed = sum(2 + max(map(letters, cells)) for cells in columns)  # and two between columns
    return max(columns[0], key=letters) if needed > MOST_LETTERS else None


def _words(words: Words) -> list[str | dict[str, str]]:
    """Words piece by piece: a text, or one that is ``strong``."""
    return [{"strong": text} if strong else text for text, strong in runs(words)]
