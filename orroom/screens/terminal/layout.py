"""How a screen's parts share its lines: what gives way where there is no room for all."""

from collections.abc import Callable, Sequence
from enum import IntEnum
from typing import Final

from msgspec import Struct

from orroom.screens.terminal.painting import Line, Span, line

#: A smaller terminal shows nothing of a screen: columns and lines.
SMALLEST: Final = (30, 10)


class Rank(IntEnum):
    """What stays where there is no room for all: the lines of the lowest rank, to the last of them."""

    KEYS = 0
    MESSAGE = 1
    HEADER = 2
    TYPED = 3
    HIDDEN = 4
    MISMATCHES = 5
    PROMPTS = 6
    FIGURES = 7
    DETAIL = 8
    RULE = 9


class Block(Struct, frozen=True):
    """Lines that stand together on a screen; it gives way from its end."""

    lines: Sequence[Line]
    rank: Rank


def stacked(
    above: Sequence[Block],
    fill: Callable[[int], Sequence[Line]],
    below: Sequence[Block],
    height: int,
    least: int = 0,
) -> list[Line]:
    """A screen of exactly ``height`` lines: the blocks, ``fill`` for the rest; the highest ranks give way."""
    blocks = [*above, Block([()] * least, Rank.FIGURES), *below]
    kept, left = [0] * len(blocks), height
    for number in sorted(range(len(blocks)), key=lambda each: blocks[each].rank):
        kept[number] = min(len(blocks[number].lines), left)
        left -= kept[number]
    shown = [block.lines[:rows] for block, rows in zip(blocks, kept, strict=True)]
    rows = kept[len(above)] + left
    middle = list(fill(rows))[:rows]
    shown[len(above)] = [*middle, *[()] * (rows - len(middle))]
    return [each for lines in shown for each in lines]


def rows_of(blocks: Sequence[Block]) -> int:
    """The rows that blocks take, rules left out: they give way to all else."""
    return sum(len(block.lines) for block in blocks if block.rank < Rank.RULE)


def too_small(width: int, height: int, meanwhile: str = "") -> list[Line]:
    """What a terminal smaller than ``SMALLEST`` shows; ``meanwhile`` is what its keys do all the same."""
    columns, rows = SMALLEST
    return [
        line(Span("Too small to show.", "strong")),
        *([line(meanwhile)] if meanwhile else []),
        line(f"Make it {columns}×{rows}, is {width}×{height}."),
    ]
