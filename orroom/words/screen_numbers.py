"""What the numbers and marks on each role's screen mean, in short: for the help and the printed key card.

``worked_out`` shows how a figure is worked out from the record, and its source.
"""

from typing import NamedTuple

from orroom.case.terms import ROLES, Role


class Meaning(NamedTuple):
    """A number as it is on the screen of these roles, and what it counts."""

    shown: str
    means: str
    roles: tuple[Role, ...]


MEANINGS: tuple[Meaning, ...] = (
    Meaning("large", "your count", ("cutting",)),
    Meaning("team", "usable, by size", ("cutting",)),
    Meaning("69 %", "the team's count as a share of the plan", ("cutting",)),
    Meaning("spoilt", "grafts you spoilt; their share of your cut", ("cutting",)),
    Meaning("harvest A out", "time since this harvest began", ("cutting",)),
    Meaning("60/140", "placed of planned; 142/140▲: two over plan", ("placing",)),
    Meaning("38/40 /cm²", "grafts per cm², placed/planned", ("placing",)),
    Meaning("in dishes", "in solution", ("placing",)),
    Meaning("still owed", "needed, by size", ("placing",)),
    Meaning("for 40 s", "oldest graft with the placers", ("placing",)),
    Meaning("sites free", "sites made minus grafts placed, in that zone", ("placing",)),
    Meaning("USABLE", "cut and not discarded: placed plus waiting", ("overview",)),
    Meaning("PLACED", "in all zones", ("overview",)),
    Meaning("WAITING", "not placed yet: in dishes and with the placers", ("overview",)),
    Meaning("LEFT", "still needed by the plan", ("overview",)),
    Meaning("FINISH", "expected when; range at this pace, or if it slows", ("overview",)),
    Meaning("142/140 ▲2", "placed of planned; ▲ over plan", ("overview",)),
    Meaning("603/h by 3", "grafts an hour now, and how many people", ("overview",)),
    Meaning("probably", "usable in the end; range right 4 times in 5", ("overview",)),
    Meaning("oldest harvest", "an older one, of which grafts still wait", ("cutting",)),
    Meaning("oldest out", "time out of the oldest waiting grafts", ("placing", "overview")),
    Meaning("◷ ◕ ◉ !", "due later; in 2 min; now; late", ROLES),
    Meaning("○ ● ▲", "still owed; done as planned; over plan", ("placing", "overview")),
    Meaning("≠ ◇ ‖ ↺", "mismatch; broken limit; paused; cancelled", ROLES),
    Meaning("■ ✗", "taps not on disk; refused", ROLES),
)


def meanings_of(role: Role) -> tuple[Meaning, ...]:
    """What each number on a role's screen means, in the order in which they are read."""
    return tuple(each for each in MEANINGS if role in each.roles)
