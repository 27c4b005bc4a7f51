"""Parts of a summary about the end of a case: the final count, and who closed it."""

from __future__ import annotations

from typing import Annotated

from orroom.summary.units import Grafts, Moment, Part


class SignOff(Part):
    """Who closed the case, with whom, when.

    ``confirmed`` are the sign-out items said aloud (WHO Surgical Safety Checklist 2009), ``None`` if nobody
    was asked.
    """

    at: Moment
    who: str
    second: str
    confirmed: tuple[str, ...] | None


class LeftOpen(Part):
    """Something that was open when the case was signed off ``at`` a time, why, and who was told of it.

    ``mismatch`` is the key of a mismatch or of what the final count left open (``orroom.case.closing``).
    """

    at: Moment
    mismatch: str
    sentence: str
    open_because: str
    told: str


class CountMade(Part):
    """A count that somebody made; ``holds`` if it is one of the two that are compared."""

    seq: int
    at: Moment
    who: str
    grafts: Grafts
    holds: bool


class CountedPile(Part):
    """One pile as two people counted it, beside the tally; ``None`` where one has not counted it."""

    size: str
    label: str
    lot: str
    place: str
    tally: Grafts
    first: Annotated[int | None, "grafts"]
    second: Annotated[int | None, "grafts"]
    agrees: bool
    explanation: str | None


class FinalCount(Part):
    """The final count that holds: who counted and when, and how many piles differ."""

    first_by: str
    first_at: Moment
    second_by: str
    second_at: Moment
    differences: Annotated[int, "piles"]
