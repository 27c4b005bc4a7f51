"""What the numbers and marks on each role's screen mean, in short: for the help and the printed key card.

How a figure is worked out from the record, and its source, is told by ``worked_out``.
"""

from __future__ import annotations

from typing import NamedTuple

from orroom.case.terms import ROLES, Role


class Meaning(NamedTuple):
    """A number as it stands on the screen of these roles, and what it counts."""

    shown: str
    means: str
    roles: tuple[Role, ...]


MEANINGS: tuple[Meaning, ...] = (
    Meaning("large", "what you cut, less what you took back", ("cutting",)),
    Meaning("team", "all that was cut and not given up, by size", ("cutting",)),
    Meaning("69 %", "the team's count against the plan", ("cutting",)),
    Meaning("spoilt", "on the board by you; its share of all you cut", ("cutting",)),
    Meaning("lot A out", "time since the lot's harvest began", ("cutting",)),
    Meaning("60/140", "placed of planned, of that zone and size", ("placing",)),
    Meaning("38/40 /cm²", "grafts per cm², placed/planned", ("placing",)),
    Meaning("in dishes", "what waits in solution; bench: at the placers", ("placing",)),
    Meaning("still owed", "what zones lack against plan, by size", ("placing",)),
    Meaning("for 40 s", "how long the oldest has been on the bench", ("placing",)),
    Meaning("sites free", "sites made there less grafts placed there", ("placing",)),
    Meaning("CUT", "cut and not given up: PLACED and waiting", ("overview",)),
    Meaning("PLACED", "in all zones; + what waits in dish or bench", ("overview",)),
    Meaning("LEFT", "what zones lack against plan", ("overview",)),
    Meaning("FINISH", "when all is done; limits hold 4 times in 5", ("overview",)),
    Meaning("140/200 +2", "placed of planned, and what is over plan", ("overview",)),
    Meaning("603/h by 3", "grafts an hour now, and by how many people", ("overview",)),
    Meaning("on course", "what the strip should give; 80 % limits", ("overview",)),
    Meaning("oldest A", "another lot that waits and is out longer", ("cutting",)),
    Meaning("oldest out", "time since the harvest of the oldest waiting", ("placing", "overview")),
    Meaning("◷ ◉ !", "due later; due now; late", ROLES),
    Meaning("○ ● ▲", "still owed; done as planned; over plan", ("placing", "overview")),
    Meaning("≠ ‖ ↺", "mismatch; paused; entry cancelled", ROLES),
    Meaning("■ ✗", "taps not on disk; refused", ROLES),
)


def meanings_of(role: Role) -> tuple[Meaning, ...]:
    """What each number on a role's screen means, in the order in which they are read."""
    return tuple(each for each in MEANINGS if role in each.roles)
