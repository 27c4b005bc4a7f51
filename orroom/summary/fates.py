"""What became of the grafts that were left at the end."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from orroom.case.events import FateGiven, doer
from orroom.case.state import CaseState
from orroom.case.terms import FATES, PLACES
from orroom.summary.fields import (
    EnteredAt,
    EnteredBy,
    EntryNumber,
    Grafts,
    Harvest,
    Label,
    Ours,
    Part,
    Size,
    Text,
)
from orroom.words.entries import size_label


class FateSummary(Part):
    """Grafts of one group that were left, and what became of them."""

    seq: EntryNumber
    at: EnteredAt
    who: EnteredBy
    size: Size
    label: Label
    harvest: Harvest
    place: Ours = Field(description="where they were: in dishes, or with the placers")
    grafts: Grafts = Field(description="how many")
    fate: Ours = Field(description="what became of them")
    reason: Annotated[str | None, Text.TYPED] = Field(description="why, if it was said")
    into_zone: Annotated[str | None, Text.KEY] = Field(
        description="zone of those that were placed beyond the plan"
    )
    placed_by: Annotated[str | None, Text.PERSON] = Field(description="who placed them")


def fates(state: CaseState) -> tuple[FateSummary, ...]:
    """Every fate entered and not cancelled, in the order of the entries."""
    return tuple(
        FateSummary(
            seq=entry.seq,
            at=entry.stamp.at_ms,
            who=entry.stamp.who,
            size=entry.event.size,
            label=size_label(state.plan, entry.event.size),
            harvest=part.harvest,
            place=PLACES[part.place],
            grafts=part.count,
            fate=FATES[entry.event.fate],
            reason=entry.event.reason,
            into_zone=entry.event.into_zone,
            placed_by=doer(entry) if entry.event.into_zone else None,
        )
        for entry in state.standing()
        if isinstance(entry.event, FateGiven)
        for part in entry.event.drawn
    )
