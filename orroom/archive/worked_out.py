"""What an archive keeps of one case, worked out of its record. Nothing is written: any process may do it."""

from pathlib import Path
from typing import Final, NamedTuple

from msgspec import Struct

from orroom.archive import anonymous, case_row
from orroom.archive.pseudonyms import mark
from orroom.record.chain import Seal
from orroom.record.closed_case import closed_case
from orroom.summary.summary import refuse_times_in_no_calendar

#: The word that a seal is marked with, since the first archive.
SEAL: Final = "head"


class Marks(NamedTuple):
    """A case's code in the archive, and the mark of its seal."""

    case_id: str
    seal_mark: str


class WorkedOut(Struct):
    """A case's row of figures, and its entries without what names anybody."""

    row: dict[str, object]
    entries: list[dict[str, object]]


def worked_out(case: Path, seal: Seal, marks: Marks, key: bytes, *, keep_dates: bool) -> WorkedOut:
    """What is kept of a case. Raises ``OrroomError`` or its kinds for one that is not closed and intact."""
    state = closed_case(case, seal)
    refuse_times_in_no_calendar(state)
    row = case_row.case_row(state, *marks, keep_dates=keep_dates)
    row |= case_row.looked_back(state)
    if state.plan.sessions:
        row["goes_on_mark"] = mark(key, SEAL, state.plan.sessions[-1].seal)
    return WorkedOut(row, list(anonymous.anonymous_entries(state, marks.case_id, keep_dates=keep_dates)))
