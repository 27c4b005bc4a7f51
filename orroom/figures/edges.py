"""Where two neighbours of a plan differ so much that an edge may be seen; zones that are not compared."""

from collections.abc import Iterator
from typing import Final

from orroom.case.plan import Plan, Zone
from orroom.case.terms import ZoneKind
from orroom.figures.counts import hairs_per_graft
from orroom.figures.density import planned_grafts_per_cm2, planned_hairs
from orroom.figures.existing_hair import together_per_cm2
from orroom.figures.wording import decimal, percent

#: Neighbours whose densities differ by more than this share of the denser one. Common practice, no source.
MOST_DENSITY_STEP: Final = 1 / 3

#: Neighbours whose hairs per graft differ by more than this. Common practice, no source.
MOST_HAIRS_PER_GRAFT_STEP: Final = 1.0

#: Neighbours whose hairs per cm² differ by more than this share of the denser one. Wider than that of the
#: grafts, since ones are planned in front of twos. Common practice, no source.
MOST_HAIRS_PER_CM2_STEP: Final = 1 / 2

#: Kinds of zone that an upper arc lies above.
VERTEX: Final[tuple[ZoneKind, ...]] = ("vertex-transition", "vertex")

#: Which hair is compared.
NEW: Final = "hairs/cm²"
ALL: Final = "hairs/cm², old and new"


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
    """No abrupt step in hairs per cm² between neighbours.

    Two small steps, in grafts per cm² and in hairs per graft, multiply to a large one here. Old and new hair
    count together where the plan gives both zones' existing hair; else a zone without grafts is left out.
    """
    for one, other in neighbours(plan):
        here, there, what = compared_hairs_per_cm2(plan, one, other)
        most = max(here, there)
        if what == NEW and not min(here, there):
            continue
        if most and abs(here - there) / most > MOST_HAIRS_PER_CM2_STEP:
            yield (
                f"{one.label} next to {other.label}: {decimal(here, 0)} and {decimal(there, 0)} {what},"
                f" a step of {percent(abs(here - there) / most)}"
            )


def compared_hairs_per_cm2(plan: Plan, one: Zone, other: Zone) -> tuple[float, float, str]:
    """Hairs per cm² of two zones to compare, and of which hair: all of it if known of both, else the new."""
    here, there = together_per_cm2(plan, one), together_per_cm2(plan, other)
    if here is not None and there is not None:
        return here, there, ALL
    here, there = (planned_hairs(plan, each) / each.measured_cm2 for each in (one, other))
    return here, there, NEW


def advise_upper_arc_first(plan: Plan) -> Iterator[str]:
    """The upper arc of a vertex neither thinner nor placed later than the rest of the vertex."""
    for arc in (zone for zone in plan.zones if zone.upper_arc):
        for place, below in enumerate(plan.zones):
            if below.kind not in VERTEX or below.upper_arc or not any(below.planned.values()):
                continue
            here, there, what = compared_hairs_per_cm2(plan, arc, below)
            if decimal(here) != decimal(there) and here < there:
                yield f"{arc.label}: {decimal(here)} {what}, and {decimal(there)} in {below.label} below it"
            if plan.zones.index(arc) > place:
                yield f"{arc.label} is placed after {below.label}, which lies below it"


def advise_combing_side_as_full(plan: Plan) -> Iterator[str]:
    """The side that hair is combed from no thinner than the other, kind by kind of zone."""
    if plan.combing_side is None:
        return
    away = "left" if plan.combing_side == "right" else "right"
    for kind in dict.fromkeys(zone.kind for zone in plan.zones if zone.kind is not None):
        sides = [
            [
                zone
                for zone in plan.zones
                if zone.kind == kind and zone.side == side and any(zone.planned.values())
            ]
            for side in (plan.combing_side, away)
        ]
        if not all(sides):
            continue
        here, there = (
            sum(planned_hairs(plan, zone) for zone in zones) / sum(zone.measured_cm2 for zone in zones)
            for zones in sides
        )
        if decimal(here) != decimal(there) and here < there:
            names = [" and ".join(zone.label for zone in zones) for zones in sides]
            yield (
                f"hair is combed from the {plan.combing_side}: {names[0]} {decimal(here)} {NEW},"
                f" {names[1]} {decimal(there)}"
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
