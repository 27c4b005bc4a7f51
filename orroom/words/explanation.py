"""How the explanation of a figure is made up, and what it is asked about."""

from typing import Final

from msgspec import Struct

from orroom.case.state import CaseState
from orroom.figures.pace.rest_of_day import Foretold

#: The source of what is only added up.
TALLY: Final = "the record: all entries that were not cancelled, added up"


class Explanation(Struct, frozen=True):
    """One figure: its name and value as shown, how it is worked out, from which numbers, by which source."""

    name: str
    value: str
    how: str
    numbers: str
    source: str


class Asked(Struct, frozen=True):
    """What somebody looks at: the record now, who they are, their harvest and zone, what is forecast."""

    state: CaseState
    now_ms: int
    who: str
    harvest: str
    zone: str
    foretold: Foretold | None
