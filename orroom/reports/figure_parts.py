"""Parts of a summary that are estimated rather than counted: time out of the body, drying, quality, yield."""

from __future__ import annotations

from typing import Annotated

from orroom.reports.units import Duration, Expected, GraftHours, Grafts, Part, Share

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
    """How long grafts lay on the bench without being wetted, against the limit of the plan in force."""

    grafts: Grafts
    longest_ms: Duration
    limit_ms: Duration
    over_limit: Grafts
    over_limit_share: Share


class QualitySummary(Part):
    """How many of how many, as a share with its 95 % limits by Wilson and by Clopper and Pearson (exact)."""

    measure: str
    count: Grafts
    of: Grafts
    share: Share
    wilson_low: Share
    wilson_high: Share
    exact_low: Share
    exact_high: Share


class QualityByPerson(QualitySummary):
    """The same of one person; for spot checks, of the one who looked."""

    who: str


class ProjectedYield(Part):
    """Usable grafts at the end of cutting, from the segments finished, with 80 % and 95 % limits.

    ``planned`` is ``None`` for a lot, ``projected`` is ``None`` while it cannot be told.
    """

    what: str
    planned: Annotated[int | None, "grafts"]
    usable: Grafts
    projected: Projected
    low_80: Projected
    high_80: Projected
    low_95: Projected
    high_95: Projected
