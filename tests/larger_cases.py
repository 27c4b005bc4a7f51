"""Cases beside the small one: the samples, every shape, a large plan, a busy and a crowded record."""

from __future__ import annotations

from pathlib import Path

from cases import Record, opened_case, small_plan
from msgspec.structs import replace

from orroom.case import commands as c
from orroom.case.plan import (
    CareRound,
    DensityTarget,
    Harvest,
    Limits,
    Plan,
    Size,
    SlowTail,
    Zone,
)
from orroom.case.shapes import Ellipse, Outline, Trapezoid, Triangle
from orroom.case.terms import MAX_LABEL, SIZE_KEYS
from orroom.files.plan_file import load_plan

SAMPLE_CASES = Path(__file__).parent.parent / "sample_cases"
SAMPLES = sorted(SAMPLE_CASES.glob("*/plan.toml"))
SOUND = [path for path in SAMPLES if path.parent.name != "broken"]
BROKEN = next(path for path in SAMPLES if path.parent.name == "broken")


def every_shape() -> Plan:
    """Zones of every shape, one of them planned by density, and a slow tail."""
    shapes = (
        Ellipse(length_cm=4, width_cm=3),
        Trapezoid(front_cm=6, back_cm=8, depth_cm=2.5),
        Triangle(base_cm=6, height_cm=3),
        Outline(points_cm=((0, 0), (2, 0.5), (2.5, 3), (0.5, 4))),
    )
    zones = [
        Zone(key=f"Z{place}", label=f"zone {place}", shape=shape, targets={"1": 10})
        for place, shape in enumerate(shapes)
    ]
    dense = DensityTarget(grafts_per_cm2=20, mix={"1": 0.25, "2": 0.75})
    zones.append(Zone(key="D", label="dense", area_cm2=10, density=dense, side="left", kind="frontal"))
    limits = replace(small_plan().limits, slow_tail=SlowTail(share=0.1, pace=0.5))
    return small_plan(zones=tuple(zones), limits=limits, cautions=("look twice",))


def big_plan(**limits: object):
    return small_plan(
        sizes=(Size(key="2", label="twos", hairs=2),),
        zones=(Zone(key="MID", label="mid-scalp", area_cm2=80, targets={"2": 2400}),),
        harvests=(Harvest(key="A", label="strip"),),
        donor=None,
        limits=Limits(**limits),
    )


def busy_day() -> Record:
    """2,400 grafts planned in ten zones; cutting and placing go on."""
    record = opened_case(load_plan(SAMPLE_CASES / "frontal-midscalp" / "plan.toml"))
    record.enter(c.StartHarvest(harvest="A"))
    for _ in range(20):
        record.wait(5)
        record.enter(c.CutGrafts(harvest="A", size="1", count=60))
        record.enter(c.PlaceGrafts(zone="HL", size="1", count=5))
    for care in record.state.plan.care_by_key:
        record.enter(c.GiveCare(care=care, temperature_c=4.0 if care == "temperature" else None))
    return record


def crowded() -> Record:
    """As many and as long labels, harvests, rounds and mismatches as a plan may have, some letters wide."""
    long = "a label as long as a label may ever be, oh"[: MAX_LABEL - 3]
    wide = "長い名前の区域" * 2
    plan = small_plan(
        sizes=tuple(
            Size(key=key, label=f"{long} {key}", hairs=5 if key == "M" else int(key)) for key in SIZE_KEYS
        ),
        zones=tuple(
            Zone(
                key=f"Z{number}",
                label=f"{wide if number % 2 else long} {number}",
                area_cm2=9,
                targets={"1": 9},
            )
            for number in range(40)
        ),
        harvests=tuple(
            Harvest(key=f"L{number}", label=f"{long} {number}", segments=9) for number in range(20)
        ),
        care=tuple(
            CareRound(key=f"r{number}", label=f"{long} {number}", kind="temperature", every_minutes=15)
            for number in range(10)
        ),
    )
    record = opened_case(plan)
    for number in range(20):
        record.enter(c.CutGrafts(harvest=f"L{number}", size="1", count=9))
    for number in range(30):
        record.enter(c.PlaceGrafts(zone=f"Z{number}", size="2", count=1))
    record.enter(c.StartHarvest(harvest="L0"))
    record.enter(c.IssueGrafts(size="1", count=5))
    record.wait(300)
    return record
