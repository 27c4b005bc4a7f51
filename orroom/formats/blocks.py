"""What a page is made of, whatever it is written as: headings, paragraphs, lists, tables, charts.

Words are plain: no writer's own signs are in them, and each writer makes harmless what it would act on.
"""

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Final, TypeVar

from msgspec import Struct

from orroom.case.terms import visible
from orroom.formats.chart import Chart

T = TypeVar("T")
_SPACES: Final = re.compile(r"\s+")


class Strong(Struct, frozen=True):
    """Words that must not be overlooked."""

    words: str


class LineEnd(Struct, frozen=True):
    """Where a long paragraph goes on in a new line of the raw text; elsewhere a space."""


LINE_END: Final = LineEnd()
Piece = str | Strong | LineEnd
Words = Piece | tuple[Piece, ...]


class Heading(Struct, frozen=True):
    """The title of the page (level 1) or of a section, which may be found by its ``name``."""

    words: Words
    level: int = 2
    name: str = ""


class Paragraph(Struct, frozen=True):
    """A paragraph. One that ends in a colon introduces what follows, and is not parted from it."""

    words: Words


class List(Struct, frozen=True):
    """Things one below the other."""

    items: Sequence[Words]


class Caution(Struct, frozen=True):
    """What everybody must read first, in a frame."""

    items: Sequence[Words]


class Table(Struct, frozen=True):
    """A row for each thing: its first ``texts`` cells are words, the others figures, to the right.

    Each row begins with what it is a row of. A figure that is not known is ``wording.NO_DATA``.
    ``groups``: how many columns of figures belong together, where a narrow page may part them.
    """

    header: Sequence[str]
    rows: Sequence[Sequence[Words]]
    texts: int = 1
    groups: Sequence[int] = ()


Block = Heading | Paragraph | List | Caution | Table | Chart
Blocks = Sequence[Block]


#: A column: its heading, and how a thing's cell is written.
Column = tuple[str, Callable[[T], Words]]


def table(
    things: Iterable[T], *columns: Column[T], texts: int = 1, groups: Sequence[Sequence[Column[T]]] = ()
) -> Table:
    """A row for each thing; ``groups`` are more columns, of figures that belong together."""
    every = (*columns, *(column for group in groups for column in group))
    rows = [[cell(each) for _, cell in every] for each in things]
    return Table([heading for heading, _ in every], rows, texts, [*map(len, groups)])


def listed(items: Iterable[Words]) -> List | Paragraph:
    """A list, or the word None."""
    found = list(items)
    return List(found) if found else Paragraph("None.")


def joined(parts: Iterable[Words], between: Piece) -> tuple[Piece, ...]:
    """All parts, with ``between`` where one follows another."""
    found: list[Piece] = []
    for part in parts:
        found += [between, *_pieces(part)] if found else _pieces(part)
    return tuple(found)


def lines(*parts: Words) -> Paragraph:
    """A long paragraph whose raw text has a line for each part."""
    return Paragraph(joined(parts, LINE_END))


def runs(words: Words, line_end: str = " ") -> Iterator[tuple[str, bool]]:
    """Words as plain texts, and whether each is strong."""
    for piece in _pieces(words):
        match piece:
            case LineEnd():
                yield line_end, False
            case Strong(text):
                yield plain(text), True
            case text:
                yield plain(text), False


def _pieces(words: Words) -> tuple[Piece, ...]:
    return words if isinstance(words, tuple) else (words,)


def plain(text: str) -> str:
    """``text`` on one line, with a mark for each character that leaves none."""
    return text if text.isprintable() and "  " not in text else visible(_SPACES.sub(" ", text))
