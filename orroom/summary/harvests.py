"""Each harvest: its harvest and segments, and how long it was out of the body."""

from typing import Annotated, Final

from pydantic import Field

from orroom.case.state import CaseState
from orroom.figures.holding import WhyUnknown, harvest_ages, times_out_at_placing
from orroom.figures.pace.work import end_of_work_ms
from orroom.summary.fields import Duration, Grafts, Harvest, Label, Moment, Part
from orroom.words.entries import harvest_label

REMARK_ON_HARVESTS: Final = (
    "The tally takes from the oldest harvest first; which harvest a placed graft really came from is "
    "known only if the dishes were kept apart."
)


class HarvestSummary(Part):
    """When a harvest left the body, and how long it was out: at the end of the work, and when it was placed.

    ``out_unknown`` says why the times are not known, ``None`` where they are.
    """

    harvest: Harvest
    label: Label
    harvest_started: Moment | None = Field(
        description="start of the harvest, and of the time out of the body"
    )
    harvest_ended: Moment | None = Field(description="end of the harvest")
    segments_done: Annotated[int, "segments"] = Field(description="segments finished")
    segments: Annotated[int | None, "segments"] = Field(description="segments of the harvest")
    cut_in_all: Grafts = Field(description="grafts cut in all, spoilt ones included")
    waiting: Grafts = Field(description="grafts not yet placed")
    waiting_out_ms: Duration = Field(
        description="time out of the body of what is still waiting, at the end of work"
    )
    out_unknown: WhyUnknown | None = Field(
        description="why the time out of the body is not known; none if it is"
    )
    placed: Grafts = Field(description="grafts placed")
    mean_out_at_placing_ms: Duration = Field(description="mean time out of the body when placed")
    longest_out_at_placing_ms: Duration = Field(description="longest time out of the body when placed")


def harvests(state: CaseState) -> tuple[HarvestSummary, ...]:
    """Each harvest, out of the body until the end of the work."""
    at_placing = {each.harvest: each for each in times_out_at_placing(state)}
    found = []
    for age in harvest_ages(state, end_of_work_ms(state)):
        out = at_placing.get(age.harvest)
        found.append(
            HarvestSummary.read_off(
                age,
                label=harvest_label(state.plan, age.harvest),
                harvest_started=age.started_at_ms,
                harvest_ended=age.ended_at_ms,
                cut_in_all=age.cut,
                waiting_out_ms=age.out_ms,
                out_unknown=age.why_unknown,
                placed=state.tally.held("placed", harvest=age.harvest),
                mean_out_at_placing_ms=None if out is None else round(out.mean_ms),
                longest_out_at_placing_ms=None if out is None else out.longest_ms,
            )
        )
    return tuple(found)
