"""Parts of a summary that are estimated rather than counted: time out of the body, drying, quality, yield."""

from __future__ import annotations

from typing import Annotated

from orroom.summary.units import (
    Duration,
    Expected,
    GraftHours,
    Grafts,
    Hairs,
    HairsPerGraft,
    Hours,
    Moment,
    Part,
    Rate,
    Share,
)

Projected = Annotated[Expected | None, "grafts"]


class OutOfBodySummary(Part):
    """Times out of the body of one lot, or of all. ``…_low`` and ``…_high`` are equal where lots do not mix.

    Quartiles and median are the times by which so many are placed, waiting grafts censored; ``None`` is not
    reached. Shares are of the grafts placed or waiting.
    """

    lot: str
    label: str
    placed_low: Grafts
    placed_high: Grafts
    waiting_low: Grafts
    waiting_high: Grafts
    lower_quartile_low_ms: Duration
    lower_quartile_high_ms: Duration
    median_low_ms: Duration
    median_high_ms: Duration
    upper_quartile_low_ms: Duration
    upper_quartile_high_ms: Duration
    longest_placed_low_ms: Duration
    longest_placed_high_ms: Duration
    graft_hours_low: GraftHours
    graft_hours_high: GraftHours
    over_2_h_low: Share
    over_2_h_high: Share
    over_4_h_low: Share
    over_4_h_high: Share
    over_6_h_low: Share
    over_6_h_high: Share


class DryingSummary(Part):
    """How long grafts lay on the bench without being wetted, against the limit of the plan in force.

    ``…_low`` and ``…_high`` are equal unless batches of one size lay there together.
    """

    grafts: Grafts
    longest_low_ms: Duration
    longest_high_ms: Duration
    limit_ms: Duration
    over_limit_low: Grafts
    over_limit_high: Grafts
    over_limit_share_low: Share
    over_limit_share_high: Share


class Limited(Part):
    """A share with its 95 % limits by Wilson and by Clopper and Pearson (exact)."""

    share: Share
    wilson_low: Share
    wilson_high: Share
    exact_low: Share
    exact_high: Share


class QualitySummary(Limited):
    """How many of how many."""

    measure: str
    count: Grafts
    of: Grafts


class QualityByPerson(QualitySummary):
    """The same of one person; for spot checks, of the one who looked."""

    who: str


class QualityByHour(QualitySummary):
    """The same of one hour, counted from the first harvest: 0 is the first hour after it."""

    hour: Annotated[int, "h"]


class FollicleSummary(Limited):
    """Follicles in spot-checked grafts, the transected among them, and what that leaves of their hairs."""

    looked_at: Grafts
    follicles: Annotated[int, "follicles"]
    transected: Annotated[int, "follicles"]
    hairs_per_graft_possible: HairsPerGraft
    hairs_per_graft_intact: HairsPerGraft


class DivisionLossSummary(Part):
    """Hairs of divided grafts that are in none of their pieces; ``None`` for multi-unit grafts."""

    size: str
    label: str
    divided: Grafts
    hairs_lost: Annotated[Hairs | None, "hairs"]
    hairs_lost_per_graft: HairsPerGraft


class Progress(Part):
    """Grafts cut, without those spoilt in cutting, and placed by a moment of the day."""

    at: Moment
    cut: Grafts
    placed: Grafts


class WaitingPoint(Part):
    """The share of a lot not yet placed after so long out of the body (Kaplan-Meier, lots as entered)."""

    lot: str
    out_ms: Duration
    share: Share


class PaceSummary(Part):
    """A work's pace over working time; its finish with 80 % limits while it goes on.

    ``as_it_went``: entries were made as the work went. Else there are no hours and no pace.
    """

    work: str
    done: Grafts
    left: Grafts
    as_it_went: bool
    working_hours: Hours
    person_hours: Hours
    per_hour: Rate
    per_person_hour: Rate
    finish_low: Moment | None
    finish: Moment | None
    finish_high: Moment | None


class PersonPace(Part):
    """One person's pace at a work, ``None`` if their entries were not made as it went."""

    who: str
    work: str
    done: Grafts
    hours: Hours
    per_hour: Rate


class ProjectedYield(Part):
    """Usable grafts at the end of cutting, from the segments finished, with 80 % and 95 % limits.

    ``size`` or ``lot`` is the key of what it is told of, both ``None`` for all.
    ``planned`` is ``None`` for a lot, ``projected`` is ``None`` while it cannot be told.
    """

    what: str
    size: str | None
    lot: str | None
    planned: Annotated[int | None, "grafts"]
    usable: Grafts
    projected: Projected
    low_80: Projected
    high_80: Projected
    low_95: Projected
    high_95: Projected
