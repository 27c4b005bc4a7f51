"""How the plan changed, which entries were cancelled and which placings moved."""

from typing import Annotated, Final

from pydantic import Field

from orroom.case import events as e
from orroom.case.state import CaseState
from orroom.summary.fields import EnteredAt, EnteredBy, EntryNumber, Grafts, Moment, Part, Person, Text
from orroom.words.entries import TAKEN_BACK, UNDONE, entry_words, zone_label

#: Why a placing is among the corrections that was not cancelled.
MOVED: Final = "wrong zone"


class Revision(Part):
    """A changed plan, why, and how many grafts it plans in all."""

    seq: EntryNumber
    at: EnteredAt
    who: EnteredBy
    reason: str = Field(description="why")
    planned: Grafts = Field(description="grafts by the plan in force")


class Correction(Part):
    """An entry that was cancelled: what it said and whose it was; who cancelled it, when and why.

    Or a placing that was moved: ``zone`` is then where its grafts went, ``None`` at all others.
    """

    seq: EntryNumber
    at: EnteredAt
    who: EnteredBy
    reason: str = Field(description="why")
    entry: int = Field(description="number of the cancelled entry")
    said: str = Field(description="what that entry said")
    entered_at: Moment = Field(description="when that entry was made")
    entered_by: Person = Field(description="who made it")
    zone: Annotated[str | None, Text.KEY] = Field(
        description="key of the zone a placing was moved to; none for a cancelled entry"
    )
    label: Annotated[str | None, Text.LABEL] = Field(description="that zone in words")


def revisions(state: CaseState) -> tuple[Revision, ...]:
    """Every change of the plan."""
    return tuple(
        Revision.read_off(entry, entry.stamp, entry.event, planned=entry.event.plan.planned())
        for entry in state.standing()
        if isinstance(entry.event, e.PlanRevised)
    )


def corrections(state: CaseState) -> tuple[Correction, ...]:
    """Every correction with the entry that it cancelled, every move in force with the placing it moved."""
    found = []
    for entry in state.log:
        match entry.event:
            case e.EntryCorrected(entry=number, reason=recorded):
                zone, reason = None, UNDONE if recorded == TAKEN_BACK else recorded
            case e.PlacingMoved(entry=number, zone=zone) if state.stands(entry):
                reason = MOVED
            case _:
                continue
        wrong = state.entry(number)
        if wrong is not None:
            found.append(
                Correction.read_off(
                    entry,
                    entry.stamp,
                    reason=reason,
                    entry=wrong.seq,
                    said=entry_words(wrong.event, state.plan),
                    entered_at=wrong.stamp.at_ms,
                    entered_by=wrong.stamp.who,
                    zone=zone,
                    label=None if zone is None else zone_label(state.plan, zone),
                )
            )
    return tuple(found)
