"""The part of a summary about a count on paper: what it says, what it should say, what the record holds."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated

from orroom.summary.units import Grafts, Part


class PaperCount(Part):
    """What a count on paper says of one size, or of ``all``, beside what so many grafts hold and the record.

    ``difference`` is paper less record. ``contradiction`` says where the paper speaks against itself.
    """

    size: str
    grafts: Annotated[int | None, "grafts"]
    hairs: Annotated[float | None, "hairs"]
    hairs_of_these: Annotated[float | None, "hairs"]
    usable: Grafts
    difference: Annotated[int | None, "grafts"]
    contradiction: str | None


def told_of_paper(rows: Iterable[PaperCount]) -> tuple[str, ...]:
    """The caution about a paper that contradicts itself, in sizes and numbers alone."""
    wrong = [each.contradiction for each in rows if each.contradiction]
    return (f"The paper count contradicts itself: {'; '.join(wrong)}.",) if wrong else ()
