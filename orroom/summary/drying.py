"""How long grafts lay with the placers without being wetted."""

from pydantic import Field

from orroom.case.state import CaseState
from orroom.figures import drying as figures
from orroom.figures.pace.work import end_of_work_ms
from orroom.figures.survival import Between
from orroom.summary.fields import Duration, GraftMinutes, Grafts, Part, Share, ends


class DryingSummary(Part):
    """How long grafts lay with the placers without being wetted, against the limit of the plan in force.

    ``…_low`` and ``…_high`` are equal unless batches of one size lay there together.
    """

    grafts: Grafts = Field(description="grafts in all")
    longest_low_ms: Duration = Field(description="longest time, at least")
    longest_high_ms: Duration = Field(description="longest time, at most")
    limit_ms: Duration = Field(description="limit of the plan in force")
    over_limit_low: Grafts = Field(description="grafts over the limit, at least")
    over_limit_high: Grafts = Field(description="grafts over the limit, at most")
    over_limit_share_low: Share = Field(description="share over the limit, at least")
    over_limit_share_high: Share = Field(description="share over the limit, at most")
    beyond_limit_low: GraftMinutes = Field(
        description="minutes beyond the limit, of all grafts together, at least"
    )
    beyond_limit_high: GraftMinutes = Field(
        description="minutes beyond the limit, of all grafts together, at most"
    )


def in_minutes(graft_ms: Between[int]) -> Between[float]:
    """Time of several grafts together, from graft-ms to graft-minutes."""
    return Between(*(each / 60_000 for each in graft_ms))


def drying(state: CaseState) -> DryingSummary | None:
    """Drying times with the placers, ``None`` if nothing ever lay there."""
    dried = figures.drying(state, end_of_work_ms(state))
    if dried is None:
        return None
    return DryingSummary.read_off(
        dried,
        limit_ms=state.plan.limits.with_placers_seconds * 1000,
        **ends("longest", dried.longest_ms, "_ms"),
        **ends("over_limit", dried.over_limit),
        **ends("over_limit_share", dried.share_over_limit),
        **ends("beyond_limit", in_minutes(dried.beyond_limit_ms)),
    )
