"""What was lost: grafts discarded, by reason; what was to be divided and was, and hairs lost by it."""

from typing import Annotated

from pydantic import Field

from orroom.case.events import GraftsDiscarded
from orroom.case.state import CaseState
from orroom.case.terms import DISCARD_REASONS, DiscardReason
from orroom.figures import quality as figures
from orroom.figures.replan.dividing import asked_and_divided
from orroom.summary.fields import (
    BySize,
    EnteredAt,
    EnteredBy,
    EntryNumber,
    Grafts,
    Hairs,
    HairsPerGraft,
    Label,
    Part,
    Size,
    Text,
)
from orroom.words.entries import size_label


class DiscardSummary(Part):
    """Grafts discarded for one reason: while cutting, before they were counted, or later."""

    reason: DiscardReason = Field(description="why")
    in_cutting: BySize = Field(description="discarded while cutting, before they were counted")
    later: BySize = Field(description="discarded later")
    grafts: Grafts = Field(description="grafts in all")


class DivisionLossSummary(Part):
    """Hairs of divided grafts that are in none of their pieces; ``None`` for multi-unit grafts."""

    size: Size
    label: Label
    divided: Grafts = Field(description="grafts divided")
    hairs_lost: Annotated[Hairs | None, "hairs"] = Field(
        description="hairs in none of the pieces; none for multi-unit grafts"
    )
    hairs_lost_per_graft: HairsPerGraft = Field(description="the same per divided graft")


class DivisionAsked(Part):
    """What an accepted re-plan asked to divide, and what was divided that way."""

    seq: EntryNumber
    at: EnteredAt
    who: EnteredBy
    size: Size
    label: Label
    into: Annotated[str, Text.OURS] = Field(description="sizes of the pieces, such as 1+2")
    asked: Grafts = Field(description="grafts that the re-plan asked to divide")
    divided: Grafts = Field(description="grafts divided that way until the next re-plan was accepted")


def discards(state: CaseState) -> tuple[DiscardSummary, ...]:
    """Grafts discarded, by reason; reasons that did not occur are left out."""
    given_up = [entry.event for entry in state.standing() if isinstance(entry.event, GraftsDiscarded)]
    found = []
    for reason in DISCARD_REASONS:
        in_cutting: dict[str, int] = {}
        later: dict[str, int] = {}
        for event in given_up:
            if event.reason == reason:
                by_size = later if event.harvest is None else in_cutting
                by_size[event.size] = by_size.get(event.size, 0) + event.count
        grafts = sum(in_cutting.values()) + sum(later.values())
        if grafts:
            found.append(DiscardSummary(reason=reason, in_cutting=in_cutting, later=later, grafts=grafts))
    return tuple(found)


def division_losses(state: CaseState) -> tuple[DivisionLossSummary, ...]:
    """Hairs lost by dividing, by the size that was divided."""
    return tuple(
        DivisionLossSummary.read_off(
            each, label=size_label(state.plan, each.size), hairs_lost_per_graft=each.lost_per_graft
        )
        for each in figures.division_losses(state)
    )


def divisions_asked(state: CaseState) -> tuple[DivisionAsked, ...]:
    """What accepted re-plans asked to divide, against what was divided."""
    return tuple(
        DivisionAsked.read_off(
            each,
            each.entry,
            each.entry.stamp,
            size=each.ask.size,
            label=size_label(state.plan, each.ask.size),
            into="+".join(each.ask.into),
            asked=each.ask.count,
        )
        for each in asked_and_divided(state)
    )
