"""Grafts and hairs per cm² of scalp, by zone."""

from __future__ import annotations

from dataclasses import dataclass

from orroom.figures.counts import ZoneCount


@dataclass(frozen=True, slots=True)
class Density:
    """Planned and placed densities of one zone, per cm² of its measured area."""

    area_cm2: float
    planned_grafts_per_cm2: float
    placed_grafts_per_cm2: float
    planned_hairs_per_cm2: float
    placed_hairs_per_cm2: float


def per_cm2(count: float, area_cm2: float) -> float:
    """A count over an area. Raises ``ValueError`` unless the area is positive."""
    if area_cm2 <= 0:
        raise ValueError(f"an area of {area_cm2} cm² has no density")
    return count / area_cm2


def density_of(count: ZoneCount) -> Density:
    """The densities of one zone."""
    area = count.zone.measured_cm2
    return Density(
        area_cm2=area,
        planned_grafts_per_cm2=per_cm2(count.planned_total, area),
        placed_grafts_per_cm2=per_cm2(count.placed_total, area),
        planned_hairs_per_cm2=per_cm2(count.hairs_planned, area),
        placed_hairs_per_cm2=per_cm2(count.hairs_placed, area),
    )
