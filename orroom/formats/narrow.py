"""Tables for a page that is too narrow for them: what does not fit goes on below, under the same rows."""

from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from rich.cells import cell_len

from orroom.formats.blocks import Block, Table, Words, runs

#: Columns of a text that is read raw.
RAW: Final = 80
#: Every column has so many at least: the line below the headings needs them.
LEAST: Final = 3


def narrowed(blocks: Iterable[Block], columns: int = RAW) -> Iterator[Block]:
    """The blocks; a table broader than so many columns as several, each with the cells that name its rows.

    Columns that belong together stay together; a group that is too broad by itself is a table by itself.
    """
    for block in blocks:
        if isinstance(block, Table) and len(block.groups) > 1:
            yield from _parted(block, columns)
        else:
            yield block


def _parted(table: Table, columns: int) -> Iterator[Table]:
    broad = [max(LEAST, *map(_breadth, cells)) for cells in zip(table.header, *table.rows, strict=True)]
    named = [*range(table.texts)]
    part, place = named, table.texts
    for many in table.groups:
        group = [*range(place, place + many)]
        place += many
        if part != named and sum(broad[each] + 3 for each in (*part, *group)) + 1 > columns:
            yield _of(table, part)
            part = named
        part = [*part, *group]
    yield _of(table, part)


def _of(table: Table, places: Sequence[int]) -> Table:
    """These columns of a table."""
    rows = [[row[place] for place in places] for row in table.rows]
    return Table([table.header[place] for place in places], rows, table.texts)


def _breadth(words: Words) -> int:
    return sum(cell_len(text) + 4 * strong for text, strong in runs(words))
