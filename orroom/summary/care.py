"""Care of the grafts: how each round went, each time it was given, each pause of a prompt."""

from typing import Annotated, Literal

from pydantic import Field

from orroom.case.events import PromptPaused
from orroom.case.plan import CareRound
from orroom.case.state import CaseState
from orroom.case.terms import CareKind
from orroom.figures.drying import beyond_interval_ms
from orroom.figures.punctuality import care_given, care_until_ms, punctuality
from orroom.figures.survival import Between
from orroom.summary.drying import in_minutes
from orroom.summary.fields import (
    Celsius,
    Duration,
    EnteredAt,
    EnteredBy,
    Key,
    Label,
    Moment,
    Part,
    SomeGraftMinutes,
    ends,
)
from orroom.words.entries import care_label


class CareSummary(Part):
    """How one care round went: how many fell due, gaps and the time since the last, the band that is wanted.

    ``due`` = ``given`` + ``missed``.
    """

    care: Key = Field(description="care round")
    label: Label
    kind: CareKind | None = Field(description="kind of care round")
    due: Annotated[int, "rounds"] = Field(description="rounds given, or due and not given")
    given: Annotated[int, "rounds"] = Field(description="rounds given")
    on_time: Annotated[int, "rounds"] = Field(
        description="rounds given before they were due or within the grace time"
    )
    missed: Annotated[int, "rounds"] = Field(
        description="rounds due and not given by the end of the grace time"
    )
    missed_at_end: Annotated[int, "rounds"] = Field(description="of these, missed since it was last given")
    latest_ms: Duration = Field(description="latest delay, also within the grace time")
    longest_gap_ms: Duration = Field(description="longest gap, from its start to the end of care")
    since_last_ms: Duration = Field(
        description="at the end of care, time since the last round, or since its start"
    )
    beyond_interval_low: SomeGraftMinutes = Field(
        description="of a wetting round: minutes that grafts lay in dishes beyond its interval, of all "
        "grafts together, at least"
    )
    beyond_interval_high: SomeGraftMinutes = Field(description="the same, at most")
    readings: Annotated[int, "readings"] = Field(description="temperatures read")
    low_c: Celsius = Field(description="lower end of the band")
    high_c: Celsius = Field(description="upper end of the band")
    lowest_c: Celsius = Field(description="lowest reading")
    highest_c: Celsius = Field(description="highest reading")
    out_of_band: Annotated[int, "readings"] = Field(description="readings outside the band")

    @property
    def wanted(self) -> str:
        """The band of a temperature in words."""
        return f"wanted {self.low_c:g} to {self.high_c:g} °C"


class CareTime(Part):
    """One round as it was given; ``due_at`` and ``late_ms`` are ``None`` if nothing was due then."""

    at: EnteredAt
    care: Key = Field(description="care round")
    label: Label
    who: EnteredBy
    due_at: Moment | None = Field(description="when it was due; none if nothing was due")
    late_ms: Duration = Field(description="how long after it was due; 0 for early")
    on_time: bool = Field(description="whether it was given before it was due or within the grace time")
    temperature_c: Celsius = Field(description="reading")
    band: Literal["below", "in", "above"] | None = Field(description="below, in or above the band")


class CareMissed(Part):
    """A round that fell due and was not given."""

    at: Annotated[Moment, Field(description="when it fell due")]
    care: Key = Field(description="care round")
    label: Label


class CarePause(Part):
    """A prompt that somebody let rest."""

    at: EnteredAt
    care: Key = Field(description="care round")
    label: Label
    who: EnteredBy
    until: Moment = Field(description="when it ends or ended")


def care_rounds(state: CaseState) -> tuple[CareSummary, ...]:
    """How each round of the plan went, as long as care fell due."""
    return tuple(
        CareSummary.read_off(
            each,
            round_,
            **ends("beyond_interval", _beyond_interval(state, round_)),
            readings=len(each.readings_c),
            lowest_c=min(each.readings_c, default=None),
            highest_c=max(each.readings_c, default=None),
        )
        for round_, each in zip(state.plan.care, punctuality(state), strict=True)
    )


def _beyond_interval(state: CaseState, round_: CareRound) -> Between[float | None]:
    """Graft-minutes in the dishes beyond the interval; of a wetting round only."""
    if round_.kind != "wet":
        return Between(None, None)
    return Between(*in_minutes(beyond_interval_ms(state, round_, care_until_ms(state))))


def care_times(state: CaseState) -> tuple[CareTime, ...]:
    """Every round given."""
    return tuple(
        CareTime.read_off(each, label=care_label(state.plan, each.care)) for each in care_given(state)
    )


def care_missed(state: CaseState) -> tuple[CareMissed, ...]:
    """Every round of the plan that was missed, in order of time."""
    found = [
        CareMissed(at=at_ms, care=each.care, label=each.label)
        for each in punctuality(state)
        for at_ms in each.missed_ms
    ]
    return tuple(sorted(found, key=lambda each: each.at))


def care_pauses(state: CaseState) -> tuple[CarePause, ...]:
    """Every pause of a prompt."""
    return tuple(
        CarePause.read_off(entry.event, entry.stamp, label=care_label(state.plan, entry.event.care))
        for entry in state.standing()
        if isinstance(entry.event, PromptPaused)
    )
