"""A summary taken apart for print: headings, paragraphs, lists, tables and charts as plain data.

It is the Markdown of the summary, read by the same parser as for HTML. Every text stays a text: the template
(``summary.typ``) prints it and never reads it as its own language.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any, Final

from orroom.case.terms import visible
from orroom.figures.wording import moment
from orroom.formats import markdown
from orroom.formats.html import AFTER
from orroom.formats.page import Page
from orroom.formats.svg import FONT, WIDTH, apart, title_of
from orroom.summary.summary import Summary

if TYPE_CHECKING:
    from markdown_it.tree import SyntaxTreeNode

#: A part of the page by its ``kind``, in shapes that ``summary.typ`` knows; words are texts or such a part.
Block = dict[str, Any]
Words = str | Block

#: What the two fonts of the template have letters for, first and last code points, row by row: Latin, Greek,
#: Cyrillic; Armenian, Hebrew; Arabic; Persian; Georgian, Vietnamese; punctuation, money; arrows and signs.
#: No combining marks: few letters take every mark, and what composes is one character in a record (NFC).
PRINTED: Final = (
    *((0x20, 0x2DF), (0x386, 0x386), (0x388, 0x3CE), (0x400, 0x45F), (0x490, 0x4C4), (0x4D0, 0x4F9)),
    *((0x531, 0x55F), (0x561, 0x587), (0x5BE, 0x5BE), (0x5D0, 0x5EA), (0x5F3, 0x5F4)),
    *((0x60C, 0x60C), (0x61B, 0x61B), (0x61F, 0x61F), (0x621, 0x63A), (0x640, 0x64A), (0x660, 0x66D)),
    *((0x67E, 0x67E), (0x686, 0x686), (0x698, 0x698), (0x6A9, 0x6A9), (0x6AF, 0x6AF), (0x6CC, 0x6CC)),
    *((0x6F0, 0x6F9), (0x10D0, 0x10FC), (0x1E00, 0x1E9B), (0x1EA0, 0x1EF9)),
    *((0x2002, 0x2037), (0x2039, 0x203E), (0x20A0, 0x20B5), (0x20B8, 0x20BA), (0x20BD, 0x20BD)),
    *((0x2122, 0x2122), (0x2190, 0x2220), (0x2241, 0x2269), (0x25A0, 0x25FF), (0xFFFD, 0xFFFD)),
)
_NOT_PRINTED: Final = re.compile("[^\n" + "".join(f"{chr(low)}-{chr(high)}" for low, high in PRINTED) + "]+")
NOT_SOUND: Final = "THE RECORD IS NOT SOUND"
SPELLED: Final = (
    "‹U+4E2D›: a character that the fonts of this page lack, by its Unicode number; "
    "the summary in other formats has it."
)


def as_data(summary: Summary) -> str:
    """What the template prints, as JSON: what stands on every page, and the ``blocks`` of the summary.

    ``date`` is that of the last entry, so that the same record makes the same file.
    """
    printed = in_known_letters(summary)
    last = moment(printed.last_entry, printed.utc_offset_minutes)
    title = f"Case {printed.case}" + ("" if printed.title is None else f": {printed.title}")
    told = {
        "title": visible(title),
        "case": visible(printed.case),
        "head": printed.head and f"{printed.entries}:{printed.head}",
        "banner": None if printed.not_sound is None else NOT_SOUND,
        "note": None if printed is summary else SPELLED,
        "date": {"year": last.year, "month": last.month, "day": last.day},
        "blocks": list(_blocks(printed)),
    }
    return json.dumps(told, ensure_ascii=False)


def in_known_letters(summary: Summary) -> Summary:
    """The summary with what the fonts have no letters for as numbers: ``‹U+4E2D U+6587›``.

    It is itself if it has no such characters. Done before anything is drawn, so that charts leave room.
    """
    text = visible(summary.model_dump_json())
    spelled, times = _NOT_PRINTED.subn(
        lambda found: f"‹{' '.join(f'U+{ord(each):04X}' for each in found.group())}›", text
    )
    return Summary.model_validate_json(spelled) if times else summary


def _blocks(summary: Summary) -> Iterator[Block]:
    from markdown_it import MarkdownIt
    from markdown_it.tree import SyntaxTreeNode

    parser = MarkdownIt("commonmark", {"html": False}).enable("table")
    page = Page(summary)
    for section in markdown.SECTIONS:
        told = SyntaxTreeNode(parser.parse(visible("\n\n".join(section(page))))).children
        yield from map(_block, told)
        heading = next((node.children[0].content for node in told if node.tag == "h2"), "")
        for words, charts in AFTER.items():
            if heading.startswith(words):
                yield from (_drawn(svg) for chart in charts if (svg := chart(summary)))


def _drawn(chart: str) -> Block:
    """A chart and, apart from it, its words: what draws it knows less of fonts and scripts than the page."""
    svg, words = apart(visible(chart))
    return {
        "kind": "chart",
        "title": title_of(chart),
        "svg": svg,
        "breadth": WIDTH,
        "font": FONT,
        "words": [each._asdict() for each in words],
    }


def _block(node: SyntaxTreeNode) -> Block:
    """A block of the page and what it is made ``of``: words, other blocks, or the items of a list."""
    match node.type:
        case "heading":
            return {"kind": "heading", "level": int(node.tag[1:]), "of": _inside(node)}
        case "paragraph" if node.hidden:
            return {"kind": "words", "of": _inside(node)}
        case "paragraph":
            words = _inside(node)
            lead = isinstance(words[-1], str) and words[-1].endswith(":")
            return {"kind": "lead" if lead else "paragraph", "of": words}
        case "blockquote":
            return {"kind": "quote", "of": [_block(each) for each in node.children]}
        case "bullet_list":
            items = [[_block(each) for each in item.children] for item in node.children]
            return {"kind": "list", "of": items}
        case "table":
            header, *rows = [row.children for part in node.children for row in part.children]
            return {
                "kind": "table",
                "right": ["right" in str(cell.attrs.get("style")) for cell in header],
                "header": [_inside(cell) for cell in header],
                "rows": [[_inside(cell) for cell in row] for row in rows],
            }
    raise AssertionError(f"no summary has a {node.type}")


def _inside(node: SyntaxTreeNode) -> list[Words]:
    return _words(node.children[0].children)


def _words(nodes: Sequence[SyntaxTreeNode]) -> list[Words]:
    found: list[Words] = []
    for node in nodes:
        match node.type:
            case "text":
                found.append(node.content)
            case "softbreak":
                found.append(" ")
            case "strong":
                found.append({"kind": "strong", "of": _words(node.children)})
            case _:
                raise AssertionError(f"no summary has a {node.type}")
    return found
