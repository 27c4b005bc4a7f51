"""Grafts and hairs per cm² of scalp, by zone, and how far apart the sites of a density lie."""

import math
from typing import Final

from msgspec import Struct

from orroom.case.plan import Plan, Zone
from orroom.figures.counts import ZoneCount

_MM_PER_CM: Final = 10

#: A length that is a whole number of steps but for rounding counts as whole.
_ROUNDING: Final = 1e-9


class Density(Struct, frozen=True):
    """Planned and placed densities of one zone, per cm² of its measured area."""

    area_cm2: float
    planned_grafts_per_cm2: float
    placed_grafts_per_cm2: float
    planned_hairs_per_cm2: float
    placed_hairs_per_cm2: float


def density_of(count: ZoneCount) -> Density:
    """The densities of one zone."""
    area = count.zone.measured_cm2
    return Density(
        area_cm2=area,
        planned_grafts_per_cm2=count.planned_total / area,
        placed_grafts_per_cm2=count.placed_total / area,
        planned_hairs_per_cm2=count.hairs_planned / area,
        placed_hairs_per_cm2=count.hairs_placed / area,
    )


def planned_grafts_per_cm2(zone: Zone) -> float | None:
    """Grafts planned per cm² of a zone, ``None`` where none are planned."""
    planned = sum(zone.planned.values())
    return planned / zone.measured_cm2 if planned else None


def planned_hairs(plan: Plan, zone: Zone) -> float:
    """Hairs planned for a zone: its grafts, each with the hairs of its size."""
    return sum(count * plan.size_by_key[size].hairs for size, count in zone.planned.items())


class Spacing(Struct, frozen=True):
    """Distances between sites of one density, in interlocked rows: each is in the gaps of the last."""

    neighbours_mm: float
    row_pitch_mm: float
    square_grid_mm: float


def spacing_of(sites_per_cm2: float) -> Spacing:
    """How far apart sites lie at a density above 0.

    In interlocked (triangular) rows every site is as far from its six neighbours, and has √3/2 · distance² to
    itself. So the distance in cm is √(2 / (√3 · sites per cm²)), in mm 10.7457 / √(sites per cm²), and rows
    are √3/2 of it apart (elementary geometry). Jimenez & Ruifernandez, Dermatol Surg 1999;25:294-298, are
    quoted with the constant 10.7. A square grid of the same density has 10 mm / √(sites per cm²).
    """
    neighbours_mm = _MM_PER_CM * math.sqrt(2 / (math.sqrt(3) * sites_per_cm2))
    return Spacing(
        neighbours_mm=neighbours_mm,
        row_pitch_mm=neighbours_mm * math.sqrt(3) / 2,
        square_grid_mm=_MM_PER_CM / math.sqrt(sites_per_cm2),
    )


def sites_in_row(row_mm: float, neighbours_mm: float) -> int:
    """Sites along a row of a given length, one at each end: whole steps that fit, and one."""
    return math.floor(row_mm / neighbours_mm + _ROUNDING) + 1


def sites_in_area(area_cm2: float, sites_per_cm2: float) -> int:
    """Sites of a density on an area: density × area, to the nearest whole site; the edge is left out."""
    return round(area_cm2 * sites_per_cm2)
