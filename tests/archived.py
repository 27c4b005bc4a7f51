"""Small closed days, as case files and in an archive."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path

from cases import MINUTE_MS, MORNING_MS, Record, small_plan

from orroom.archive.adding import Archive, How
from orroom.case import commands as c
from orroom.case.closing import open_at_sign_off
from orroom.case.events import CountedGroup
from orroom.case.final_count import groups_to_count
from orroom.case.plan import Zone
from orroom.record.case_file import CaseFile
from orroom.recording import record_all

MONTH_MS = 2_629_800_000


def closed_day(number: int, days_later: int = 0) -> Record:
    """A small day, unlike others by its number: cut, placed, transected, counted by two, signed off."""
    zones = [
        Zone(key=key, label="his own", area_cm2=5, targets={size: count})
        for key, size, count in (("LINE", "1", 40), ("FRONT", "2", 50), ("MID", "3", 20))
    ]
    plan = small_plan(case=f"SECRET-{number}", title="a day of Somebody", zones=tuple(zones))
    record = Record(now_ms=MORNING_MS + number // 2 * MONTH_MS + days_later * 24 * 60 * MINUTE_MS)
    record.enter(c.OpenCase(plan=plan, utc_offset_minutes=60), "EF", station="overview-1")
    record.enter(c.StartHarvest(harvest="A", minutes_ago=0), "EF", station="overview-1")
    for size, count in (("1", 14 + number), ("2", 17 + 2 * number), ("3", 9)):
        for _ in range(3):
            record.wait(5 + number)
            record.enter(c.CutGrafts(harvest="A", size=size, count=count), "AB")
    record.enter(c.DiscardGrafts(size="2", reason="transected", harvest="A", count=1 + number % 3), "AB")
    record.enter(c.DivideGrafts(size="3", into=("1", "2"), harvest="A", count=2), "AB")
    record.enter(c.AddNote(text="Somebody coughed"), "EF", station="overview-1")
    for zone, size, count in (("LINE", "1", 40), ("FRONT", "2", 50), ("MID", "3", 20 + number % 4)):
        record.wait(20 + 5 * number)
        record.enter(c.PlaceGrafts(zone=zone, size=size, count=count), "CD", station="placing-1")
    record.enter(c.CutGrafts(harvest="A", size="2", count=7), "AB")
    record.enter(c.TakeBack(role="cutting"), "AB")
    for who in ("AB", "CD"):
        more = 1 if number % 4 == 3 and who == "CD" else 0
        held = [
            record.held(group.place, group.size, group.harvest) for group in groups_to_count(record.state)
        ]
        groups = tuple(
            CountedGroup(
                size=group.size, harvest=group.harvest, place=group.place, found=found + more * (place == 0)
            )
            for place, (group, found) in enumerate(zip(groups_to_count(record.state), held, strict=True))
        )
        record.enter(c.CountAll(groups=groups, since=record.state.seq), who, station="overview-1")
    known = (
        {"open_because": "one was dropped", "informed": "Somebody"} if open_at_sign_off(record.state) else {}
    )
    record.enter(c.SignOff(second="CD", **known), "EF", station="overview-1")
    return record


def written(path: Path, record: Record) -> Path:
    with CaseFile.create(path) as case_file:
        record_all(case_file, list(record.state.log), str(path))
    return path


def add(folder: Path, *cases: Path, **how: object) -> list[str]:
    with closing(Archive(folder)) as archive:
        return [archive.add(case, How(**how)) for case in cases]
