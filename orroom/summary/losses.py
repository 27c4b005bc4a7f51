"""What was lost: grafts discarded, by reason, and hairs lost where grafts were divided."""

from typing import Annotated

from pydantic import Field

from orroom.case.events import GraftsDiscarded
from orroom.case.state import CaseState
from orroom.case.terms import DISCARD_REASONS, DiscardReason
from orroom.figures import quality as figures
from orroom.summary.fields import BySize, Grafts, Hairs, HairsPerGraft, Label, Part, Size
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
