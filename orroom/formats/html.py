"""Blocks as one self-contained page for a browser or a printer."""

from collections.abc import Iterable, Sequence
from html import escape
from typing import Final

from orroom.formats import blocks as b
from orroom.formats.blocks import Block, Words, plain, runs
from orroom.formats.chart import Bars, Chart
from orroom.formats.drawing import Drawing
from orroom.formats.svg import drawn

#: What the page may do: show its own styles, and nothing else.
POLICY: Final = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"

STYLE: Final = """
body { font: 11pt/1.4 sans-serif; color: #000; background: #fff; max-width: 46rem; margin: 2rem auto;
  padding: 0 1rem; }
h1 { font-size: 1.5em; } h2 { font-size: 1.15em; margin-top: 2em; border-bottom: 1px solid #000; }
blockquote { margin: 0; padding: 0.3em 1em; border: 2px solid #000; }
table { border-collapse: collapse; margin: 0.8em 0; font-variant-numeric: tabular-nums; }
th, td { padding: 0.15em 0.6em; border-bottom: 1px solid #bbb; text-align: left; vertical-align: top; }
tbody th { font-weight: normal; }
figure { margin: 1em 0; break-inside: avoid; } svg { width: 100%; height: auto; }
@page { size: A4; margin: 16mm; }
@media print { body { margin: 0; max-width: none; font-size: 9.5pt; } h2 { break-after: avoid; }
  tr { break-inside: avoid; } section + section { break-before: page; } }
"""


def html(title: str, blocks: Iterable[Block]) -> str:
    """The whole page. It loads nothing from elsewhere and runs nothing."""
    return page(title, "".join(map(written_block, blocks)))


def page(title: str, body: str) -> str:
    """A whole page around its body."""
    return (
        f'<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(plain(title))}</title>\n"
        f"<style>{STYLE}</style>\n</head>\n<body>\n<main>\n{body}</main>\n"
        "</body>\n</html>\n"
    )


def written_block(block: Block | Drawing) -> str:
    """One block."""
    match block:
        case b.Heading(words, level):
            return f"<h{level}>{_words(words)}</h{level}>\n"
        case b.Paragraph(words):
            return f"<p>{_words(words)}</p>\n"
        case b.List(items):
            return "<ul>\n" + "".join(f"<li>{_words(item)}</li>\n" for item in items) + "</ul>\n"
        case b.Caution(items):
            return f"<blockquote>\n{written_block(b.List(items))}</blockquote>\n"
        case b.Table(header, rows, texts):
            head = _row(header, texts, "col")
            body = "".join(_row(row, texts, "row") for row in rows)
            body = body and f"<tbody>\n{body}</tbody>\n"
            return f"<table>\n<thead>\n{head}</thead>\n{body}</table>\n"
        case Chart() | Bars():
            return f"<figure>{drawn(block).svg()}</figure>\n"
        case Drawing():
            return f"<figure>{block.svg()}</figure>\n"


def _row(cells: Sequence[Words], texts: int, heads: str) -> str:
    """A row, of which every cell (``heads`` is col) or the first one (row) says what it is the heading of."""
    row = ""
    for place, cell in enumerate(cells):
        tag = "th" if heads == "col" or place == 0 else "td"
        right = ' style="text-align:right"' if place >= texts else ""
        scope = f' scope="{heads}"' if tag == "th" else ""
        row += f"<{tag}{right}{scope}>{_words(cell)}</{tag}>\n"
    return f"<tr>\n{row}</tr>\n"


def _words(words: Words) -> str:
    return "".join(
        f"<strong>{escaped(text)}</strong>" if strong else escaped(text) for text, strong in runs(words, "\n")
    )


def escaped(text: str) -> str:
    """A text in which nothing is HTML."""
    return escape(text, quote=False).replace('"', "&quot;")
