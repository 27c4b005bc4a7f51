"""A summary as one self-contained page for a browser or a printer: its Markdown, with charts between."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape
from typing import TYPE_CHECKING, Final

from orroom.case.terms import visible
from orroom.formats import charts, markdown
from orroom.formats.page import Page
from orroom.summary.summary import Summary

if TYPE_CHECKING:
    from markdown_it.token import Token

#: What the page may do: show its own styles, and nothing else.
POLICY: Final = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"

#: The charts that stand after a section, by the words its heading begins with.
AFTER: Final[dict[str, tuple[Callable[[Summary], str], ...]]] = {
    "Grafts": (charts.progress,),
    "Zones": (charts.zones,),
    "Time out of the body": (charts.out_of_body,),
    "Pace": (charts.pace,),
    "Care rounds": (charts.punctuality, charts.temperature),
}

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
  tr { break-inside: avoid; } }
"""


def to_html(summary: Summary) -> str:
    """The whole summary. It loads nothing from elsewhere and runs nothing."""
    from markdown_it import MarkdownIt

    reader = MarkdownIt("commonmark", {"html": False}).enable("table")
    page = Page(summary)
    blocks = []
    for section in markdown.SECTIONS:
        told = "\n\n".join(section(page))
        if told:
            tokens = reader.parse(visible(told))
            name_cells(tokens)
            blocks.append(reader.renderer.render(tokens, reader.options, {}) + _figures(told, summary))
    title = escape(f"Case {summary.case}")
    return (
        f'<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">\n<title>{title}</title>\n'
        f"<style>{STYLE}</style>\n</head>\n<body>\n<main>\n{''.join(blocks)}</main>\n</body>\n</html>\n"
    )


def name_cells(tokens: Sequence[Token]) -> None:
    """Say of every heading of a column, and of the first cell of every row, what it is the heading of."""
    first = False
    for token in tokens:
        if token.type == "th_open":
            token.attrSet("scope", "col")
        if first and token.type == "td_open":
            token.attrSet("scope", "row")
        if first and token.type in {"td_open", "td_close"}:
            token.tag = "th"
        if token.type == "tr_open":
            first = True
        elif token.type in {"td_close", "th_close"}:
            first = False


def _figures(told: str, summary: Summary) -> str:
    heading = next((row[3:] for row in told.split("\n") if row.startswith("## ")), "")
    drawn = [chart(summary) for words, made in AFTER.items() if heading.startswith(words) for chart in made]
    return "".join(f"<figure>{each}</figure>\n" for each in drawn if each)
