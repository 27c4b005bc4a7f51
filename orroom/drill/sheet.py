"""A sheet: what is read aloud, line by line, and what is in the record once all of it was entered."""

from collections.abc import Iterator
from typing import Final, Literal, get_args

from msgspec import Struct
from msgspec.structs import asdict

from orroom.case.terms import DiscardReason, Place

Kind = Literal["cutting", "placing", "count"]
KINDS: Final[tuple[Kind, ...]] = get_args(Kind)
LEVELS: Final = (1, 2, 3)
LARGEST_SEED: Final = 9999

#: What is built into a sheet besides plain lines. A prompt comes by itself, while lines are read.
Fault = Literal[
    "dropped graft", "undo", "wrong size", "wrong zone", "wrong harvest", "held key", "new reader"
]


class Item(Struct, frozen=True):
    """One thing in the record: grafts cut, spoilt, placed, discarded from a dish, or found in a count.

    ``by`` is whose count it is, the first person's (1) or the second's.
    """

    does: Literal["cut", "spoilt", "placed", "discarded", "counted"]
    size: str
    count: int = 1
    zone: str | None = None
    lane: str | None = None
    reason: DiscardReason | None = None
    harvest: str | None = None
    place: Place | None = None
    by: int | None = None


def differing(one: Item, other: Item) -> tuple[str, ...]:
    """The fields in which two items differ, in their order."""
    there = asdict(other)
    return tuple(name for name, value in asdict(one).items() if value != there[name])


class Line(Struct, frozen=True):
    """A line of a sheet: what is read aloud, and what it asks to be in the record.

    What a line has ``struck`` is entered and then set right by the next line. ``fault`` is what is built in.
    """

    says: str
    asks: tuple[Item, ...] = ()
    struck: Item | None = None
    fault: Fault | None = None


class Sheet(Struct, frozen=True):
    """A whole sheet. The first wetting is due ``prompt_seconds`` after the case is made; ``None``: never."""

    kind: Kind
    level: int
    seed: int
    lines: tuple[Line, ...]
    prompt_seconds: int | None = None

    def asked(self) -> tuple[tuple[int, Item], ...]:
        """All that it asks, each with the number of its line from 1; of a count group by group."""
        found = [(number, item) for number, line in enumerate(self.lines, 1) for item in line.asks]
        return tuple(sorted(found, key=lambda each: group_order(each[1])) if self.kind == "count" else found)

    def struck(self) -> Iterator[tuple[int, Item]]:
        """What the line after it sets right, each with the number of its own line."""
        for number, line in enumerate(self.lines, 1):
            if line.struck is not None:
                yield number, line.struck


def group_order(item: Item) -> tuple[int, str, str, str]:
    """The order of what two people count: that in which it was typed is not in the record."""
    return (item.by or 0, item.harvest or "", item.place or "", item.size)
