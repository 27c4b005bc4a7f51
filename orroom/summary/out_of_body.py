"""How long grafts were out of the body, by harvest, size and zone; the curve of those not yet placed."""

from collections.abc import Sequence
from typing import Any, Final

from pydantic import Field

from orroom.case.state import CaseState
from orroom.figures import curves
from orroom.figures import out_of_body as figures
from orroom.figures.pace.work import end_of_work_ms
from orroom.figures.survival import HOUR_MS, HOURS, Between, Times
from orroom.figures.waiting import waiting
from orroom.summary.fields import Duration, GraftHours, Grafts, Harvest, Key, Label, Part, Share, Size, ends
from orroom.words.entries import harvest_label

ALL_HARVESTS: Final = "all harvests"
#: Points of a curve that are shown.
CURVE_POINTS: Final = 60


class OutOfBodySummary(Part):
    """Times out of the body of one harvest, or of all.

    ``…_low`` and ``…_high`` are equal where harvests do not mix.

    Quartiles and median are the times by which this many are placed, waiting grafts censored; ``None`` is not
    reached. Shares are of the grafts placed or waiting.
    """

    harvest: Harvest
    label: Label
    placed_low: Grafts = Field(description="grafts placed, at least")
    placed_high: Grafts = Field(description="grafts placed, at most")
    waiting_low: Grafts = Field(description="grafts not yet placed, at least")
    waiting_high: Grafts = Field(description="grafts not yet placed, at most")
    lower_quartile_low_ms: Duration = Field(description="time by which a quarter is placed, at least")
    lower_quartile_high_ms: Duration = Field(description="time by which a quarter is placed, at most")
    median_low_ms: Duration = Field(description="time by which half is placed, at least")
    median_high_ms: Duration = Field(description="time by which half is placed, at most")
    upper_quartile_low_ms: Duration = Field(description="time by which three quarters are placed, at least")
    upper_quartile_high_ms: Duration = Field(description="time by which three quarters are placed, at most")
    longest_placed_low_ms: Duration = Field(description="longest time of a placed graft, at least")
    longest_placed_high_ms: Duration = Field(description="longest time of a placed graft, at most")
    graft_hours_low: GraftHours = Field(description="hours out of the body of all grafts together, at least")
    graft_hours_high: GraftHours = Field(description="hours out of the body of all grafts together, at most")
    over_2_h_low: Share = Field(description="share out of the body for more than 2 h, at least")
    over_2_h_high: Share = Field(description="share out of the body for more than 2 h, at most")
    over_4_h_low: Share = Field(description="share out of the body for more than 4 h, at least")
    over_4_h_high: Share = Field(description="share out of the body for more than 4 h, at most")
    over_6_h_low: Share = Field(description="share out of the body for more than 6 h, at least")
    over_6_h_high: Share = Field(description="share out of the body for more than 6 h, at most")
    over_limit_low: Share = Field(description="share out of the body beyond the surgeon's limit, at least")
    over_limit_high: Share = Field(description="share out of the body beyond the surgeon's limit, at most")


class TimesOut(Part):
    """Times out of the body of some of the grafts; ``…_low`` and ``…_high`` as by harvest."""

    placed: Grafts = Field(description="grafts placed")
    median_low_ms: Duration = Field(description="time by which half is placed, at least")
    median_high_ms: Duration = Field(description="time by which half is placed, at most")
    longest_placed_low_ms: Duration = Field(description="longest time of a placed graft, at least")
    longest_placed_high_ms: Duration = Field(description="longest time of a placed graft, at most")
    over_limit_low: Share = Field(description="share out of the body beyond the surgeon's limit, at least")
    over_limit_high: Share = Field(description="share out of the body beyond the surgeon's limit, at most")


class SizeTimesOut(TimesOut):
    """Of one size: those placed and those that wait; how long it waited from dish to zone.

    ``mean_wait_ms`` is of all that waited, also of those that were lost or wait still.
    """

    size: Size
    label: Label
    waiting: Grafts = Field(description="grafts not yet placed")
    came: Grafts = Field(description="grafts that waited: put into dishes, or found by a hand count")
    graft_hours_waiting: GraftHours = Field(
        description="hours in dishes and with the placers, of all grafts together"
    )
    mean_wait_ms: Duration = Field(description="mean time in dishes and with the placers")


class ZoneTimesOut(TimesOut):
    """Of the grafts that were placed in one zone."""

    zone: Key = Field(description="recipient zone")
    label: Label


def in_all(times: Sequence[OutOfBodySummary]) -> OutOfBodySummary | None:
    """The times of all harvests together, or of the only one; ``None`` where they are not known."""
    together = [each for each in times if each.harvest == ALL_HARVESTS]
    return next(iter(together or times), None)


class WaitingPoint(Part):
    """The share of a harvest not yet placed by time out of the body (Kaplan-Meier, as entered)."""

    harvest: Harvest
    out_ms: Duration = Field(description="time out of the body")
    share: Share = Field(description="share not yet placed by then")


def out_of_body(state: CaseState) -> tuple[OutOfBodySummary, ...]:
    """Each harvest whose time out is known; all harvests together only if there are several."""
    found = figures.out_of_body(state, end_of_work_ms(state))
    return tuple(
        _times_of(
            ALL_HARVESTS if harvest is None else harvest,
            ALL_HARVESTS if harvest is None else harvest_label(state.plan, harvest),
            times,
        )
        for harvest, times in (found[:1] if len(found) == 2 and found[1].harvest is None else found)
    )


def out_by_size(state: CaseState) -> tuple[SizeTimesOut, ...]:
    """Each size that has grafts, where the start of all harvests that they may be of is known."""
    end_ms = end_of_work_ms(state)
    waits = waiting(state, end_ms)
    return tuple(
        SizeTimesOut(
            size=size,
            label=state.plan.size_by_key[size].label,
            waiting=times.waiting.low,
            came=waits[size].came,
            graft_hours_waiting=waits[size].graft_ms / HOUR_MS,
            mean_wait_ms=waits[size].mean_ms,
            **_in_short(times),
        )
        for size, times in figures.out_by_size(state, end_ms).items()
    )


def out_by_zone(state: CaseState) -> tuple[ZoneTimesOut, ...]:
    """Each zone in which grafts were placed, in placing order, where the start of their harvests is known."""
    return tuple(
        ZoneTimesOut(zone=zone, label=state.plan.zone_by_key[zone].label, **_in_short(times))
        for zone, times in figures.out_by_zone(state, end_of_work_ms(state)).items()
    )


def _in_short(times: Times) -> dict[str, Any]:
    return {
        "placed": times.placed.low,
        **ends("median", times.quartiles_ms[1], "_ms"),
        **ends("longest_placed", times.longest_placed_ms, "_ms"),
        **ends("over_limit", _over_limit(times)),
    }


def _over_limit(times: Times) -> Between[float | None]:
    """The share beyond the surgeon's limit, where there is one."""
    return (
        Between(*times.share_over[len(HOURS)]) if len(times.share_over) > len(HOURS) else Between(None, None)
    )


def _times_of(harvest: str, label: str, times: Times) -> OutOfBodySummary:
    lower, median, upper = times.quartiles_ms
    over_2_h, over_4_h, over_6_h = times.share_over[: len(HOURS)]
    return OutOfBodySummary.read_off(
        harvest=harvest,
        label=label,
        **ends("placed", times.placed),
        **ends("waiting", times.waiting),
        **ends("lower_quartile", lower, "_ms"),
        **ends("median", median, "_ms"),
        **ends("upper_quartile", upper, "_ms"),
        **ends("longest_placed", times.longest_placed_ms, "_ms"),
        **ends("graft_hours", times.graft_hours),
        **ends("over_2_h", over_2_h),
        **ends("over_4_h", over_4_h),
        **ends("over_6_h", over_6_h),
        **ends("over_limit", _over_limit(times)),
    )


def out_of_body_limit_ms(state: CaseState) -> int | None:
    """The longest time out of the body that the surgeon has set, if one is set."""
    hours = state.plan.limits.out_of_body_hours
    return None if hours is None else round(hours * 3_600_000)


def waiting_curve(state: CaseState) -> tuple[WaitingPoint, ...]:
    """The curve of each harvest; of its many steps those that a chart can show."""
    found = []
    for harvest, points in curves.waiting_curve(state, end_of_work_ms(state)).items():
        every = -(-len(points) // CURVE_POINTS)
        shown = [*points[:-1:every], points[-1]]
        found += [WaitingPoint(harvest=harvest, out_ms=each.out_ms, share=each.share) for each in shown]
    return tuple(found)
