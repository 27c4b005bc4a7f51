"""Hair that grows in a zone already: old and new together, and the sites that still fit between."""

import math
from collections.abc import Iterator
from typing import Final

from msgspec import Struct

from orroom.case.plan import Plan, Zone
from orroom.figures.density import planned_grafts_per_cm2, planned_hairs
from orroom.figures.wording import decimal

#: Hairs that grow together: 111.2 hairs/cm² in 61.1 units/cm², Dermatol Surg 2017;43(5). Where hair has
#: thinned there are fewer, so more units, and fewer sites fit than this gives.
HAIRS_PER_UNIT: Final = 111.2 / 61.1

#: Least distance of a site from the next hair or site where the plan sets none. Common practice, no source.
LEAST_SITE_MM: Final = 1.0

#: Share of a plane that equal discs cover when each is put at random where it still fits, until none does:
#: J Theor Biol 1980;87:237 (not verified); the tests find it by simulation.
JAMMING: Final = 0.547


class Fitting(Struct, frozen=True):
    """Sites per cm² that fit between the hair of a zone.

    ``at_random`` where each goes wherever it keeps its distance; ``in_rows`` is the most there can be: rows
    that hair and sites would have to share.
    """

    at_random: float
    in_rows: float


def together_per_cm2(plan: Plan, zone: Zone) -> float | None:
    """Hairs per cm², old and planned; ``None`` where the plan does not give the old."""
    if zone.existing_hairs_per_cm2 is None:
        return None
    return zone.existing_hairs_per_cm2 + planned_hairs(plan, zone) / zone.measured_cm2


def sites_that_fit(plan: Plan, zone: Zone) -> Fitting | None:
    """Sites that fit between the hair of a zone; ``None`` where the plan does not give that.

    Units of hair and sites count alike, each a disc as wide as the least distance. Such discs fill 0.547 of a
    plane at random, π/√12 in interlocked rows (Thue; elementary geometry). What the hair takes is taken off.
    """
    if zone.existing_hairs_per_cm2 is None:
        return None
    units = zone.existing_hairs_per_cm2 / HAIRS_PER_UNIT
    disc_cm2 = math.pi / 4 * (least_site_mm(plan) / 10) ** 2
    return Fitting(max(0.0, JAMMING / disc_cm2 - units), max(0.0, math.pi / math.sqrt(12) / disc_cm2 - units))


def least_site_mm(plan: Plan) -> float:
    """The least distance of a site from the next hair or site, in mm."""
    return LEAST_SITE_MM if plan.limits.least_site_mm is None else plan.limits.least_site_mm


def advise_sites_that_fit(plan: Plan) -> Iterator[str]:
    """No more grafts than sites that fit between the hair that is there."""
    for zone in plan.zones:
        fitting, planned = sites_that_fit(plan, zone), planned_grafts_per_cm2(zone)
        if fitting is not None and planned is not None and planned > fitting.at_random:
            hair = decimal(zone.existing_hairs_per_cm2)
            fit = f"about {decimal(fitting.at_random)} sites/cm² fit, {least_site_mm(plan):g} mm apart"
            yield f"{zone.label}: {decimal(planned)} grafts/cm² planned between {hair} hairs/cm²; {fit}"
