"""What else was written down."""

from pydantic import Field

from orroom.case.events import NoteAdded
from orroom.case.state import CaseState
from orroom.summary.fields import EnteredAt, EnteredBy, EntryNumber, Part


class Remark(Part):
    """A note, or the reason for which the case was reopened."""

    seq: EntryNumber
    at: EnteredAt
    who: EnteredBy
    text: str = Field(description="what was written")


def notes(state: CaseState) -> tuple[Remark, ...]:
    """Every note."""
    return tuple(
        Remark.read_off(entry, entry.stamp, entry.event)
        for entry in state.standing()
        if isinstance(entry.event, NoteAdded)
    )
