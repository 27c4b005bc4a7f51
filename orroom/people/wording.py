"""What both pages say, and how."""

from textwrap import wrap
from typing import Final

from orroom.figures.wording import decimal, grafts, percent
from orroom.formats.blocks import Paragraph, lines
from orroom.people.agreement import Pair, kappa
from orroom.people.team import OfPerson, OfTeam

COLUMNS: Final = 80
#: What no figure here can say.
CANNOT_SAY: Final = (
    "It cannot say why. Tissue, instruments, hours and checkers differ from case to case, and who is given "
    "the difficult ones; nothing here allows for that.",
    "Only what was entered counts. A case in which nobody entered any transected or spoilt graft is left out "
    "of these: that is not a zero. Checks of one's own work are left out too.",
    "Who was looked at more has a narrower range, not a better or worse share.",
)
READING: Final = (
    "Drawn to the team: what is likeliest, given the counts and how much people differ. The fewer grafts "
    "were looked at, the closer to the team it is. 95 % ranges. Grafts of one case are alike, and count as "
    "fewer; by how much, the team's own cases show."
)


def paragraph(text: str) -> Paragraph:
    """A paragraph of lines that fit a terminal."""
    return lines(*wrap(text, COLUMNS))


def share_of(count: int, of: int) -> str:
    """A count with its share: ``12 of 412, 2.9 %``."""
    return f"{grafts(count)} of {grafts(of)}, {percent(count / of, 1)}"


def between(low: float, high: float) -> str:
    """The ends of a range in per cent: ``1.8–4.9 %``."""
    return f"{decimal(low * 100)}–{decimal(high * 100)} %"


def where_in_funnel(team: OfTeam, person: OfPerson) -> str:
    """Whether chance alone explains how far a person is from the team."""
    if person.inner is None or person.outer is None or not 0 < team.share < 1:
        return ""
    if person.inner[0] <= person.share <= person.inner[1]:
        return "within"
    if person.outer[0] <= person.share <= person.outer[1]:
        return "outside"
    return "far outside"


def agreed(pair: Pair) -> str:
    """How far two checkers agree, in a sentence or two."""
    said = f"the same verdict on {grafts(pair.same)} of {grafts(pair.of)} grafts"
    if (found := kappa(pair)) is None:
        return f"{said}. No kappa: all or none were called faulty, so chance alone would do the same."
    ends = " to ".join(decimal(each, 2) for each in (found.low, found.high))
    few = min(2 * pair.both + pair.first + pair.second, 2 * pair.neither + pair.first + pair.second) < 20
    return (
        f"{said}; kappa {decimal(found.kappa, 2)}, range {ends} (1 is always, 0 what chance does)."
        f"{' Few faults make it unsure.' if few else ''}"
    )
