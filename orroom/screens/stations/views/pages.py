"""Pages over a screen: its help, and how its figures are worked out. Any other key closes them and works."""

from __future__ import annotations

from collections.abc import Container, Sequence
from textwrap import wrap
from typing import TYPE_CHECKING

from msgspec.structs import replace
from rich.cells import cell_len

from orroom.case.terms import SIZE_KEYS
from orroom.screens.stations.views.frame import Glance
from orroom.screens.stations.views.over import Over
from orroom.screens.terminal.pages import Block, page_shown
from orroom.screens.terminal.painting import (
    Line,
    Span,
    Tone,
    beside_name,
    line,
    padded,
    wrapped,
)
from orroom.screens.terminal.question_lines import asked_blocks
from orroom.words.screen_numbers import meanings_of

if TYPE_CHECKING:
    from orroom.words.explanation import Explanation


def screen_named(glance: Glance, over: Over | None) -> str:
    """What is on the screen: a role's own, or what stands over it."""
    return f"the {glance.role} screen" if over is None else over.name


def help_blocks(
    glance: Glance, cautions: Sequence[str], over: Over | None = None, sizes: Container[str] = SIZE_KEYS
) -> list[Block]:
    """What is asked, or why the last entry was refused; the keys; what the numbers mean; cautions.

    Of the keys that cut, those of ``sizes``.
    A key is a button that does its work, but while something is asked: then only answers work. What stands
    ``over`` the screen has its keys and numbers explained instead of the screen's, or before those that work.
    """
    rows = _keys(glance, over, sizes)
    found = [line(Span(f" {row}", "dim")) for each in cautions for row in wrap(each, glance.width - 2)]
    if glance.question is not None:
        later = wrapped(f"After answering, keys of {screen_named(glance, over)}:", glance.width - 2)
        rows[0] = [(), *(line(Span(f" {row}", "strong")) for row in later), *rows[0]]
    return [
        *(asked_blocks(glance.question, glance.width) if glance.question is not None else []),
        *_refusal(glance),
        *rows,
        [()],
        *_numbers(glance, over),
        [()],
        *([row] for row in found),
    ]


def _keys(glance: Glance, over: Over | None, sizes: Container[str]) -> list[Block]:
    """Every key that works: those of what stands over the screen, then the screen's others."""
    above = over.keys if over is not None else ()
    blocks = [_key(glance, each.shown, each.does, each.press) for each in above]
    taken = {each.press for each in above}
    others = {f"cut('{size}')" for size in SIZE_KEYS if size not in sizes}
    for key in glance.keys.of(glance.role):
        if key.action in others or (over is not None and over.alone and key.action != "answer"):
            continue
        if left := tuple(name for name in key.keys if name not in taken):
            own = replace(key, keys=left)
            blocks.append(_key(glance, own.shown, own.help, own.keys[0]))
    return blocks


def _key(glance: Glance, shown: str, does: str, press: str) -> Block:
    """A key as a button, unless something is asked, and what it does next to it."""
    action = f"press('{press}')" if press and glance.question is None else ""
    tone: Tone = "button" if action else "dim"
    return [
        line(Span(f" {'' if row else shown:>6}  ", "plain" if row else tone, action), f"  {text}")
        for row, text in enumerate(wrapped(does, glance.width - 12))
    ]


def _refusal(glance: Glance) -> list[Block]:
    """Why the last entry was refused, and what would be right, if the last message was a refusal."""
    if (refusal := glance.refusal) is None:
        return []
    width = glance.width - 2
    return [
        [
            line(Span(" ✗ The last entry was refused:", "wrong")),
            *(line(Span(f" {row}", "strong")) for row in wrapped(refusal.sentence, width)),
            *(line(f" {row}") for row in wrapped(refusal.right, width)),
            (),
        ]
    ]


def _numbers(glance: Glance, over: Over | None) -> list[Block]:
    """What each number and mark on this screen means."""
    if over is None:
        found: Sequence[tuple[str, str]] = [(each.shown, each.means) for each in meanings_of(glance.role)]
    else:
        found = over.numbers
    name = max(cell_len(shown) for shown, _ in found) + 2
    heading: Block = [line(Span(" What the numbers mean", "strong"))]
    blocks: list[Block] = []
    for shown, means in found:
        known = beside_name(Span(f" {padded(shown, name)}", "mine"), means, glance.width - 1)
        blocks.append([*heading, *known])
        heading = []
    return blocks


def figure_blocks(glance: Glance, explained: Sequence[Explanation]) -> list[Block]:
    """Each figure of this screen: its value, how it is worked out, the numbers, the source."""
    width = glance.width - 4  # nothing touches the edge
    blocks: list[Block] = []
    for each in explained:
        block: list[Line] = beside_name(Span(f" {each.name}  ", "strong"), each.value, glance.width - 1)
        block = [(row[0], *(replace(span, tone="mine") for span in row[1:])) for row in block]
        block += [line(f"   {row}") for row in wrapped(each.how, width)]
        block += [line(Span(f"   {row}", "strong")) for row in wrapped(each.numbers, width)]
        block += [line(Span(f"   {row}", "dim")) for row in wrapped(f"Source: {each.source}", width)]
        blocks.append([*block, ()])
    return blocks


def page_lines(glance: Glance, title: str, key: str, pages: Sequence[Sequence[Line]]) -> list[Line]:
    """The page that is read over a station's screen: exactly ``glance.height`` lines."""
    read = 0 if glance.reading is None else glance.reading.page
    return page_shown(pages, read, title, key, (glance.width, glance.height))
