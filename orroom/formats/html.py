"""Blocks as one self-contained page for a browser or a printer."""

from collections.abc import Iterable, Sequence
from html import escape
from importlib import resources
from typing import Final

from orroom.formats import blocks as b
from orroom.formats.blocks import Block, Words, plain, runs
from orroom.formats.chart import Chart
from orroom.formats.drawing import Drawing
from orroom.formats.svg import COLUMN, drawn

#: What the page may do: show its own styles, and nothing else.
POLICY: Final = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"

#: How a page looks on a screen, on a telephone, in the dark and on paper.
STYLE: Final = resources.files("orroom.formats").joinpath("page.css").read_text("utf-8")


def html(title: str, blocks: Iterable[Block], first: str = "") -> str:
    """The whole page, after what is laid out by itself. It loads nothing from elsewhere and runs nothing."""
    return page(title, first + "".join(map(written_block, blocks)))


def page(title: str, body: str) -> str:
    """A whole page around its body."""
    return (
        f'<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(plain(title))}</title>\n"
        f"<style>\n{STYLE}</style>\n</head>\n<body>\n<main>\n{body}</main>\n"
        "</body>\n</html>\n"
    )


def written_block(block: Block | Drawing) -> str:
    """One block."""
    match block:
        case b.Heading(words, level, name):
            named = f' id="{name}"' if name else ""
            return f"<h{level}{named}>{words_html(words)}</h{level}>\n"
        case b.Paragraph(words):
            return f"<p>{words_html(words)}</p>\n"
        case b.List(items):
            return "<ul>\n" + "".join(f"<li>{words_html(item)}</li>\n" for item in items) + "</ul>\n"
        case b.Caution(items):
            return f"<blockquote>\n{written_block(b.List(items))}</blockquote>\n"
        case b.Table():
            return table_html(block)
        case Chart():
            return (
                f'<figure class="broad">{drawn(block).svg()}</figure>\n'
                f'<figure class="narrow">{drawn(block, COLUMN).svg()}</figure>\n'
            )
        case Drawing():
            return f"<figure>{block.svg()}</figure>\n"


def table_html(table: b.Table) -> str:
    """A table that goes sideways by itself where the page is narrower."""
    head = _row(table.header, table.texts, "col")
    body = "".join(_row(row, table.texts, "row") for row in table.rows)
    body = body and f"<tbody>\n{body}</tbody>\n"
    broad = " broad" if len(table.groups) > 1 else ""
    whole = f"<table>\n<thead>\n{head}</thead>\n{body}</table>\n"
    return f'<div class="scroll{broad}" tabindex="0">\n{whole}</div>\n'


def _row(cells: Sequence[Words], texts: int, heads: str) -> str:
    """A row, of which every cell (``heads`` is col) or the first one (row) says what it is the heading of."""
    row = ""
    for place, cell in enumerate(cells):
        heading = words_html(cell) if heads == "col" else place == 0  # of an empty cell: none
        tag = "th" if heading else "td"
        right = ' class="number"' if place >= texts else ""
        scope = f' scope="{heads}"' if tag == "th" else ""
        row += f"<{tag}{right}{scope}>{words_html(cell)}</{tag}>\n"
    return f"<tr>\n{row}</tr>\n"


def words_html(words: Words) -> str:
    """Words with what is strong among them."""
    return "".join(
        f"<strong>{escaped(text)}</strong>" if strong else escaped(text) for text, strong in runs(words, "\n")
    )


def escaped(text: str) -> str:
    """A text in which nothing is HTML."""
    return escape(text, quote=False).replace('"', "&quot;")
