"""Which sections of a summary there are to choose from, and what whom it is for needs of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final, Literal, NamedTuple

from orroom.errors import OrroomError

if TYPE_CHECKING:
    from orroom.summary.summary import ShareLevel

Whom = Literal["surgeon", "anaesthesia", "meeting", "research", "file"]
FIRST: Final = "first"
#: Grafts, hairs and density by area for the patient's file: in no summary but where it is asked for.
AREAS: Final = "areas"
#: The sections that follow the first page, in their order.
FOLLOWING: Final = (
    "zones",
    "grafts",
    "paper",
    "count",
    "mismatches",
    "earlier",
    "harvests",
    "out",
    "times",
    "pace",
    "limits",
    "care",
    "people",
    "discards",
    "quality",
    "hairs",
    "donor",
    "yield",
    "revisions",
    "dividing",
    "corrections",
    "checks",
    "notes",
    "record",
)
NAMES: Final = (FIRST, AREAS, *FOLLOWING)
BRIEF: Final = (FIRST,)
WHOLE: Final = (FIRST, *FOLLOWING)


class Choice(NamedTuple):
    """How much is shared, and which sections are shown."""

    share: ShareLevel
    sections: Sequence[str]


#: What each reader looks for.
FOR: Final[Mapping[Whom, Choice]] = {
    "surgeon": Choice(
        "full",
        (
            FIRST,
            *("zones", "grafts", "count", "earlier", "out", "limits", "quality", "donor", "yield", "checks"),
        ),
    ),
    "anaesthesia": Choice("roles", ("harvests", "times", "limits", "notes")),
    "meeting": Choice(
        "roles",
        (
            FIRST,
            *("count", "mismatches", "out", "pace", "limits", "care", "discards", "quality", "hairs"),
            *("revisions", "dividing", "corrections", "checks", "record"),
        ),
    ),
    "research": Choice("anonymous", WHOLE),
    "file": Choice("full", (AREAS,)),
}


def named(words: str) -> tuple[str, ...]:
    """The sections named in ``words``, with commas between them, in the order in which they are read.

    Raises ``OrroomError`` for a name that there is not.
    """
    asked = [each.strip() for each in words.split(",") if each.strip()]
    if unknown := [each for each in asked if each not in NAMES]:
        raise OrroomError(
            f"There is no section {', '.join(unknown)}.", f"The sections are: {', '.join(NAMES)}."
        )
    if not asked:
        raise OrroomError("No section is named.", f"The sections are: {', '.join(NAMES)}.")
    return tuple(each for each in NAMES if each in asked)
