"""Days that tests of the flow look at: one harvest, or two of which one has not begun."""

from __future__ import annotations

from cases import Record, opened_case, small_plan

from orroom.case import commands as c
from orroom.case.plan import Harvest, Size, Zone


def day_under_way(
    *, minutes: int = 40, divided_into: tuple[str, ...] | None = None, **plan: object
) -> Record:
    """Ten of twelve segments are to come; a segment of 6 ones, 12 twos and 9 threes takes 6 minutes.

    Every four minutes one lead has 4 ones and 6 twos placed in the hairline, which is owed 90 and 100.
    """
    sizes = (
        Size(key="1", label="ones", hairs=1),
        Size(key="2", label="twos", hairs=2),
        Size(key="3", label="threes", hairs=3, divided_into=divided_into),
    )
    zones = (
        Zone(key="LINE", label="hairline", area_cm2=10, targets={"1": 90, "2": 100}),
        Zone(key="MID", label="mid-scalp", area_cm2=30, targets={"2": 200, "3": 20}),
    )
    parts = {"sizes": sizes, "zones": zones, "harvests": (Harvest(key="A", label="strip", segments=12),)}
    record = opened_case(small_plan(**{**parts, **plan}))
    record.enter(c.StartHarvest(harvest="A"))
    for step in range(minutes // 2):
        record.wait(2)
        for size, count in (("1", 2), ("2", 4), ("3", 3)):
            record.enter(c.CutGrafts(harvest="A", size=size, count=count))
        if step % 3 == 2:
            record.enter(c.FinishSegment(harvest="A"))
        if step % 2:
            record.enter(c.PlaceGrafts(zone="LINE", size="2", count=6), who="GH", station="placing-1")
            record.enter(c.PlaceGrafts(zone="LINE", size="1", count=4), who="GH", station="placing-1")
    return record


def two_harvests() -> Record:
    """The strip of six segments is cut first; the second one has as many and has not begun."""
    harvests = tuple(Harvest(key=key, label=f"strip {key}", segments=6) for key in "AB")
    zones = (Zone(key="MID", label="mid-scalp", area_cm2=30, targets={"1": 70, "2": 140, "3": 110}),)
    record = day_under_way(minutes=0, harvests=harvests, zones=zones)
    for step in range(10):
        record.wait(2)
        for size, count in (("1", 2), ("2", 4), ("3", 3)):
            record.enter(c.CutGrafts(harvest="A", size=size, count=count))
            if step > 2:
                record.enter(c.PlaceGrafts(zone="MID", size=size, count=count), who="GH", station="placing-1")
        if step % 3 == 2:
            record.enter(c.FinishSegment(harvest="A"))
    return record
