"""Plans, supplies and records for the re-plan."""

from __future__ import annotations

import random
from typing import Any

from cases import Record, small_plan

from orroom.case import commands as c
from orroom.case.plan import Harvest, Plan, Size, Zone
from orroom.figures.replan.proposal import Supply

Placed = dict[tuple[str, str], int]

HAIRS = {"1": 1, "2": 2, "3": 3, "4": 4, "M": 4.4}
Placed = dict[tuple[str, str], int]
ONE_HARVEST = small_plan(harvests=(Harvest(key="A", label="strip", segments=4),))


def plan_of(*zones: Zone, sizes: str = "123") -> Plan:
    return Plan(
        case="T-1",
        sizes=tuple(Size(key=key, label=f"{key}s", hairs=HAIRS[key]) for key in sizes),
        zones=zones,
    )


def zone(key: str, targets: dict[str, int] | None, **fields: Any) -> Zone:
    """A zone of 10 cm², unless told otherwise."""
    return Zone(**({"key": key, "label": f"zone {key.lower()}", "area_cm2": 10, "targets": targets} | fields))


def supply_of(plan: Plan, **other: int) -> dict[str, Supply]:
    """What the plan promises, but for ``s2=40`` and the like."""
    return {str(s.key): Supply(other.get(f"s{s.key}", plan.planned(s.key)), "given") for s in plan.sizes}


def a_full_plan(rng: random.Random) -> tuple[Plan, Placed, dict[str, Supply]]:
    """Twelve zones, left and right, of which some are placed; sizes come out 80 to 110 % of plan."""
    may_go = ("1", "12", "123", "123", "1234M", "1234M")
    zones = []
    for place in range(12):
        sizes, area = may_go[place // 2], rng.uniform(3, 20)
        beside = (place - 2, place - 1 if place % 2 else place + 1, place + 2)
        zones.append(
            zone(
                f"Z{place}",
                {size: round(area * rng.uniform(20, 40) / len(sizes)) for size in sizes},
                area_cm2=area,
                allowed=tuple(sizes),
                neighbours=tuple(f"Z{each}" for each in beside if 0 <= each < 12),
            )
        )
    plan = plan_of(*zones, sizes="1234M")
    done = rng.randrange(12)
    placed = {(z.key, size): count for z in plan.zones[:done] for size, count in z.planned.items()}
    there = {}
    for size in plan.size_by_key:
        here = sum(count for (_, each), count in placed.items() if each == size)
        there[size] = Supply(max(here, round(plan.planned(size) * rng.uniform(0.8, 1.1))), "given")
    return plan, placed, there


def cut_segments(record: Record, segments: int) -> None:
    """Some of four segments, each of 10 ones, 18 twos, 10 threes, 2 multi-unit grafts."""
    for _ in range(segments):
        for size, count in (("1", 10), ("2", 18), ("3", 10), ("M", 2)):
            record.enter(c.CutGrafts(harvest="A", size=size, count=count))
        record.enter(c.FinishSegment(harvest="A"))
