"""Where two neighbours of a plan differ so much that an edge may be seen; zones that are not compared."""

from collections.abc import Iterator
from typing import Final

from orroom.case.plan import Plan, Zone
from orroom.figures.counts import hairs_per_graft
from orroom.figures.density import planned_grafts_per_cm2, planned_hairs
from orroom.figures.wording import decimal, percent

#: Neighbours whose densities differ by more than this share of the denser one. Common practice, no source.
MOST_DENSITY_STEP: Final = 1 / 3

#: Neighbours whose hairs per graft differ by more than this. Common practice, no source.
MOST_HAIRS_PER_GRAFT_STEP: Final = 1.0

#: Neighbours whose hairs per cm² differ by more than this share of the denser one. Wider than that of the
#: grafts, since ones are planned in front of twos. Common practice, no source.
MOST_HAIRS_PER_CM2_STEP: Final = 1 / 2


def advise_gradual_density(plan: Plan) -> Iterator[str]:
    """No abrupt step in density between neighbours; a zone that gets no grafts is left out."""
    for one, other in neighbours(plan):
        first, second = planned_grafts_per_cm2(one), planned_grafts_per_cm2(other)
        if first is None or second is None:
            continue
        step = abs(first - second) / max(first, second)
        if step > MOST_DENSITY_STEP:
            yield (
                f"{one.label} next to {other.label}: {decimal(first)} and {decimal(second)} grafts/cm²,"
                f" a step of {percent(step)}"
            )


def advise_gradual_hairs_per_graft(plan: Plan) -> Iterator[str]:
    """No abrupt step in hairs per graft between neighbours; a zone that gets no grafts is left out."""
    for one, other in neighbours(plan):
        first, second = _hairs_per_graft(plan, one), _hairs_per_graft(plan, other)
        if first is None or second is None or abs(first - second) <= MOST_HAIRS_PER_GRAFT_STEP:
            continue
        yield f"{one.label} next to {other.label}: {decimal(first)} and {decimal(second)} hairs per graft"


def advise_gradual_hairs_per_cm2(plan: Plan) -> Iterator[str]:
    """No abrupt step in hairs per cm² between neighbours; a zone that gets no grafts is left out.

    Two small steps, in grafts per cm² and in hairs per graft, multiply to a large one here.
    """
    for one, other in neighbours(plan):
        first, second = planned_hairs(plan, one), planned_hairs(plan, other)
        if not first or not second:
            continue
        here, there = first / one.measured_cm2, second / other.measured_cm2
        step = abs(here - there) / max(here, there)
        if step > MOST_HAIRS_PER_CM2_STEP:
            yield (
                f"{one.label} next to {other.label}: {decimal(here, 0)} and {decimal(there, 0)} hairs/cm²,"
                f" a step of {percent(step)}"
            )


def neighbours(plan: Plan) -> Iterator[tuple[Zone, Zone]]:
    """Every pair of zones of which one names the other as its neighbour, once, in placing order."""
    for place, one in enumerate(plan.zones):
        for other in plan.zones[place + 1 :]:
            if other.key in one.neighbours or one.key in other.neighbours:
                yield one, other


def without_neighbours(plan: Plan) -> tuple[Zone, ...]:
    """Zones that get grafts and touch no other zone by the plan; none in a plan of one zone."""
    touching = {zone.key for pair in neighbours(plan) for zone in pair}
    alone = (zone for zone in plan.zones if zone.key not in touching and any(zone.planned.values()))
    return tuple(alone) if len(plan.zones) > 1 else ()


def _hairs_per_graft(plan: Plan, zone: Zone) -> float | None:
    return hairs_per_graft(planned_hairs(plan, zone), sum(zone.planned.values()))
