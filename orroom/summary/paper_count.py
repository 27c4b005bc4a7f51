"""A count on paper next to the record: what it says, what it should say, where it contradicts itself.

The text is separated by commas or semicolons: ``size,grafts,hairs``, a row for each size and perhaps one for
``all``; a number that the paper does not state is left empty.
"""

import csv
import io
from collections.abc import Iterable, Sequence
from typing import Annotated, Final, NamedTuple

from pydantic import Field

from orroom.errors import OrroomError
from orroom.figures.wording import decimal, grafts, several
from orroom.summary.fields import Grafts, Ours, Part, Text
from orroom.summary.grafts import Accounts, AllCounts, SizeCounts

HEADER: Final = ["size", "grafts", "hairs"]
IN_ALL: Final = "all"
MOST: Final = 1_000_000


class PaperCount(Part):
    """A count on paper of one size, or of ``all``, with the hairs of that many grafts and the record.

    ``difference`` is paper less record. ``contradiction`` says where the paper contradicts itself.
    """

    size: Ours = Field(description="graft size, or all")
    grafts: Annotated[int | None, "grafts"] = Field(description="grafts on paper")
    hairs: Annotated[float | None, "hairs"] = Field(description="hairs on paper")
    hairs_of_these: Annotated[float | None, "hairs"] = Field(description="hairs in that many grafts")
    usable: Grafts = Field(description="grafts in dishes, with the placers or placed")
    difference: Annotated[int | None, "grafts"] = Field(
        description="grafts on paper minus those in the record"
    )
    contradiction: Annotated[str | None, Text.OURS] = Field(description="contradiction within the paper")


class PaperRow(NamedTuple):
    """What the paper says of one size, or of all."""

    size: str
    grafts: int | None
    hairs: int | None


def read_paper(text: str, where: str) -> tuple[PaperRow, ...]:
    """The rows of a count on paper. Raises ``OrroomError`` naming the line that is wrong."""
    rows = _cells(text, where)
    right = "Write size,grafts,hairs in the first line, then for example 1,480,480 and all,2400,5360."
    if not rows or rows[0][1] != HEADER or len(rows) < 2:
        raise OrroomError(f"{where} is not a paper count.", right)
    found: list[PaperRow] = []
    for number, cells in rows[1:]:
        numbers = [cell for cell in cells[1:] if cell]
        known = {each.size for each in found}
        if len(cells) != 3 or not all(map(_is_number, numbers)):
            raise OrroomError(f"{where}, line {number}: this is not a size and two whole numbers.", right)
        if cells[0] in known:
            raise OrroomError(f"{where}, line {number}: size {cells[0]} is there twice.", right)
        said, hairs = (int(cell) if cell else None for cell in cells[1:])
        found.append(PaperRow(cells[0], said, hairs))
    return tuple(found)


def _cells(text: str, where: str) -> list[tuple[int, list[str]]]:
    """The rows that say something, each with its line; commas part them, or semicolons if in the first line.

    Spreadsheets write the latter where the comma is a decimal sign, and some a mark (U+FEFF) before all.
    """
    text = text.removeprefix("\ufeff")
    between = ";" if ";" in text.partition("\n")[0] else ","
    reader = csv.reader(io.StringIO(text), delimiter=between)
    try:
        rows = [(reader.line_num, [cell.strip() for cell in row]) for row in reader]
    except csv.Error as wrong:
        raise OrroomError(f"{where} is not a paper count: {wrong}.", "Save it as plain text.") from None
    return [(line, row) for line, row in rows if any(row)]


def _is_number(cell: str) -> bool:
    """Whether it is a whole number up to ``MOST``, which a paper can hold."""
    digits = cell.lstrip("0")
    return (
        cell.isdecimal() and cell.isascii() and len(digits) <= len(str(MOST)) and int(digits or "0") <= MOST
    )


def compared(
    rows: Sequence[PaperRow], sizes: Sequence[SizeCounts], whole: AllCounts
) -> tuple[PaperCount, ...]:
    """Each row next to the record, sizes first. Raises ``OrroomError`` for a size not in the plan."""
    known = {each.size: each for each in sizes}
    strange = [row.size for row in rows if row.size not in {*known, IN_ALL}]
    if strange:
        raise OrroomError(
            f"The plan has no size {strange[0]}.",
            f"Its sizes are {', '.join(known)}; for the total write all.",
        )
    found = [_of_size(row, known[row.size]) for row in rows if row.size != IN_ALL]
    return (*found, *(_in_all(row, found, sizes, whole) for row in rows if row.size == IN_ALL))


def _of_size(row: PaperRow, size: SizeCounts) -> PaperCount:
    should = None if row.grafts is None else row.grafts * (size.hairs_per_graft or 0)
    contradiction = None
    if row.hairs is not None and should is not None and abs(row.hairs - should) >= 1:  # a mean may be rounded
        contradiction = (
            f"{several(row.grafts or 0, 'graft')} of size {row.size} have {decimal(should, 0)} hairs, "
            f"not {grafts(row.hairs)}"
        )
    return _beside(row, should, usable(size), contradiction)


def _in_all(
    row: PaperRow, by_size: Sequence[PaperCount], sizes: Sequence[SizeCounts], whole: AllCounts
) -> PaperCount:
    said = [each.grafts for each in by_size if each.grafts is not None]
    should = [each.hairs_of_these for each in by_size if each.hairs_of_these is not None]
    hairs = sum(should)
    every = len(said) == len(sizes)
    means = sum(not (each.hairs_per_graft or 0.0).is_integer() for each in sizes)
    wrong = [
        f"the sizes listed add up to {several(round(right), noun)}, {words} {grafts(on_paper)}"
        for on_paper, right, noun, slack in (
            (row.grafts, sum(said), "graft", 0),
            (row.hairs, hairs, "hair", means),
        )
        if said and on_paper is not None and (words := _against(right - on_paper, slack, every=every))
    ]
    return _beside(row, hairs if every else None, usable(whole), "; ".join(wrong) or None)


def _against(over: float, slack: int, *, every: bool) -> str:
    """How a sum of sizes speaks against the total of the paper; nothing where it does not.

    Where sizes are left out it may be less, never more. ``slack``: 1 for each size whose hairs are a mean.
    """
    if every and abs(over) > slack:
        return "not"
    return "more than" if over > slack else ""


def _beside(row: PaperRow, should: float | None, in_record: int, contradiction: str | None) -> PaperCount:
    return PaperCount(
        size=row.size,
        grafts=row.grafts,
        hairs=row.hairs,
        hairs_of_these=should,
        usable=in_record,
        difference=None if row.grafts is None else row.grafts - in_record,
        contradiction=contradiction,
    )


def usable(count: Accounts) -> int:
    """Grafts in dishes, with the placers or placed: what the screens call cut."""
    return count.dish + count.with_placers + count.placed + count.left_at_end


def contradictions(rows: Iterable[PaperCount]) -> tuple[str, ...]:
    """The caution about a paper that contradicts itself, in sizes and numbers alone."""
    wrong = [each.contradiction for each in rows if each.contradiction]
    return (f"The paper count contradicts itself: {'; '.join(wrong)}.",) if wrong else ()
