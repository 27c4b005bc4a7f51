"""Blocks as Markdown that reads well raw and rendered at 80 columns: narrow tables that line up."""

import re
from collections.abc import Iterable
from typing import Final

from rich.cells import cell_len

from orroom.formats import blocks as b
from orroom.formats.blocks import Block, Words, runs
from orroom.formats.chart import Chart
from orroom.words.columns import aligned

#: What Markdown would act on, and what comes before it. Not the signs of "< 1 %" and "> 99 %".
_SPECIAL: Final = re.compile(r"()([\\`*_{}\[\]#|~&]|[<>](?! \d))")
_LIST_MARK: Final = re.compile(r"^(\d*)([-+.)])(?=[\s-]|$)", re.MULTILINE)
_LINE_MARK: Final = re.compile(r"^()(>|(?<=\n)=)", re.MULTILINE)


def markdown(blocks: Iterable[Block]) -> str:
    """The whole text; charts are left out."""
    return "\n\n".join(text for block in blocks if (text := _block(block))) + "\n"


def _block(block: Block) -> str:
    match block:
        case b.Heading(words, level):
            return f"{'#' * level} {line_of(words)}"
        case b.Paragraph(words):
            return line_of(words)
        case b.List(items):
            return "\n".join(f"- {line_of(item)}" for item in items)
        case b.Caution(items):
            return "\n".join(f"> - {line_of(item)}" for item in items)
        case b.Table():
            return _table(block)
        case Chart():
            return ""


def line_of(words: Words) -> str:
    """One paragraph."""
    return _LINE_MARK.sub(_as_text, _cell(words))


def _cell(words: Words) -> str:
    """Words with everything that Markdown would act on made plain."""
    found = (f"**{_escaped(text)}**" if strong else _escaped(text) for text, strong in runs(words, "\n"))
    return _LIST_MARK.sub(_as_text, "".join(found))


def _escaped(text: str) -> str:
    return _SPECIAL.sub(_as_text, text)


def _as_text(mark: re.Match[str]) -> str:
    return f"{mark[1]}\\{mark[2]}"


def _table(block: b.Table) -> str:
    """A table whose raw text lines up: words to the left, figures to the right."""
    cells = [[*map(_cell, row)] for row in (block.header, *block.rows)]
    head, *rows = aligned(cells, block.texts, least=3)
    rule = ["-" * cell_len(cell) for cell in head]
    rule[block.texts :] = [f"{each[1:]}:" for each in rule[block.texts :]]
    return "\n".join(f"| {' | '.join(row)} |" for row in (head, rule, *rows))
