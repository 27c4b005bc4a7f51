"""The final count: who counted when, and every group next to the tally."""

from typing import Annotated

from pydantic import Field

from orroom.case.events import FinalCounted
from orroom.case.final_count import all_counts, found_in, person_counts
from orroom.case.state import CaseState
from orroom.case.terms import PLACES
from orroom.figures.recount import recount
from orroom.summary.fields import (
    EnteredAt,
    EnteredBy,
    EntryNumber,
    Grafts,
    Harvest,
    Label,
    Moment,
    Ours,
    Part,
    Person,
    Size,
)
from orroom.words.entries import size_label


class FinalCount(Part):
    """The valid final count: who counted and when, and how many groups differ."""

    first_by: Person = Field(description="who counted first")
    first_at: Moment = Field(description="when")
    second_by: Person = Field(description="who counted second")
    second_at: Moment = Field(description="when")
    differences: Annotated[int, "groups"] = Field(
        description="groups where the tally and both counts do not all agree"
    )


class CountMade(Part):
    """A count that somebody made; ``holds`` if it is one of the two that are compared."""

    seq: EntryNumber
    at: EnteredAt
    who: EnteredBy
    grafts: Grafts = Field(description="grafts in all")
    holds: bool = Field(description="whether it is one of the two compared")


class CountedGroup(Part):
    """One group as two people counted it, next to the tally; ``None`` where one has not counted it."""

    size: Size
    label: Label
    harvest: Harvest
    place: Ours = Field(description="in dishes, or with the placers")
    tally: Grafts = Field(description="grafts there by the tally")
    first: Annotated[int | None, "grafts"] = Field(description="grafts there by the first count")
    second: Annotated[int | None, "grafts"] = Field(description="grafts there by the second count")
    agrees: bool = Field(description="whether tally and counts agree")
    explanation: str | None = Field(description="possible explanations")


def final_count(state: CaseState) -> FinalCount | None:
    """The two valid counts, ``None`` while there are not two."""
    counts = person_counts(state)
    if len(counts) < 2:
        return None
    first, second = counts
    return FinalCount(
        first_by=first.who,
        first_at=first.at_ms,
        second_by=second.who,
        second_at=second.at_ms,
        differences=len(recount(state, first.found, second.found).differences),
    )


def counts_made(state: CaseState) -> tuple[CountMade, ...]:
    """Every count, also those that another replaced or that grafts moved after."""
    holding = {each.seq for each in person_counts(state)}
    return tuple(
        CountMade.read_off(
            entry,
            entry.stamp,
            grafts=sum(found_in(state, entry.event).values()),
            holds=entry.seq in holding,
        )
        for entry in all_counts(state)
        if isinstance(entry.event, FinalCounted)
    )


def counted(state: CaseState) -> tuple[CountedGroup, ...]:
    """Every group of the two valid counts, next to the tally."""
    counts = person_counts(state)
    if len(counts) < 2:
        return ()
    return tuple(
        CountedGroup.read_off(
            each,
            each.group,
            label=size_label(state.plan, each.group.size),
            place=PLACES[each.group.place],
            tally=each.expected,
            explanation="; ".join(f"{why.cause}: {why.sentence}" for why in each.explanations) or None,
        )
        for each in recount(state, counts[0].found, counts[1].found).groups
    )
