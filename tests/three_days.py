"""One patient's three cases, worked out by hand below: kept grafts go from one to the next.

Day 1 (5 January, 07:30): harvest A gives 30 ones, 40 twos, 20 threes; 2 more twos are spoilt in cutting.
Placed: 25 ones in LINE, 30 twos and 10 threes in FRONT; left are 5 ones, 10 twos, 10 threes. Of the twos 2
are placed beyond the plan in MID and 8 kept; the ones are kept; the threes are left over.
Day 2 (6 January, 07:00): 13 kept, as harvest K1. Counted again: 5 ones, 7 twos. The new harvest A gives 10
twos. At 07:30 5 ones go into LINE and 6 twos into FRONT, the oldest first. Of K1 1 two is discarded at the
end; the 10 twos of A are kept.
Day 3 (7 January, 07:00): 10 kept, as harvest K1, which left the body on day 2.
"""

from __future__ import annotations

from pathlib import Path

from cases import MORNING_MS, Record, all_fated, opened_case, small_plan
from msgspec.structs import replace

from orroom.case import commands as c
from orroom.case.plan import Plan
from orroom.case.state import CaseState
from orroom.record.case_file import CaseFile
from orroom.record.chain import Seal
from orroom.record.earlier import sessions_of
from orroom.recording import record_all

DAY_MS = 24 * 3_600_000
CLOSED = {"open_because": "no time left", "informed": "RS"}


def plan_after(state: CaseState, plan: Plan, seal: Seal | None = None) -> Plan:
    """A plan with what it takes over from a case."""
    sessions = sessions_of(state, seal or Seal(state.seq, "ab" * 32))
    return replace(plan, earlier=state.plan.case, sessions=sessions)


def at_placing(record: Record, command: c.Command) -> None:
    record.enter(command, "CD", station="placing-1")


def signed(record: Record) -> Record:
    record.enter(c.SignOff(second="CD", **CLOSED), "AB", station="overview-1")
    return record


def day_1(code: str = "P7-1") -> Record:
    record = opened_case(small_plan(case=code))
    record.now_ms = MORNING_MS - 1000
    record.enter(c.StartHarvest(harvest="A", minutes_ago=0))
    for size, count in (("1", 30), ("2", 40), ("3", 20)):
        record.enter(c.CutGrafts(harvest="A", size=size, count=count))
    record.enter(c.DiscardGrafts(size="2", count=2, harvest="A", reason="transected"))
    for zone, size, count in (("LINE", "1", 25), ("FRONT", "2", 30), ("FRONT", "3", 10)):
        at_placing(record, c.PlaceGrafts(zone=zone, size=size, count=count))
    left = c.GiveFate(size="2", harvest="A", place="dish", count=2, fate="placed extra", into_zone="MID")
    record.enter(replace(left, by="CD"), "EF", station="overview-1")
    record.enter(replace(left, size="3", count=10, fate="left over", into_zone=None))
    all_fated(record, "kept")
    return signed(record)


def day_2(before: CaseState, code: str = "P7-2", seal: Seal | None = None) -> Record:
    record = Record(now_ms=MORNING_MS + DAY_MS - 31 * 60_000)
    plan = plan_after(before, small_plan(case=code), seal)
    record.enter(c.OpenCase(plan=plan), "EF", station="overview-1")
    record.wait(1)
    for size, found in (("1", 5), ("2", 7)):
        record.enter(c.CountDish(size=size, harvest="K1", found=found))
    record.wait(10)
    record.enter(c.StartHarvest(harvest="A", minutes_ago=0))
    record.enter(c.CutGrafts(harvest="A", size="2", count=10))
    record.now_ms = MORNING_MS + DAY_MS - 1000
    at_placing(record, c.PlaceGrafts(zone="LINE", size="1", count=5))
    at_placing(record, c.PlaceGrafts(zone="FRONT", size="2", count=6))
    spare = c.GiveFate(size="2", harvest="K1", place="dish", count=1, fate="discarded", reason="dried")
    record.enter(spare, "EF", station="overview-1")
    all_fated(record, "kept")
    return signed(record)


def day_3(before: CaseState) -> Record:
    record = Record(now_ms=MORNING_MS + 2 * DAY_MS - 31 * 60_000)
    record.enter(c.OpenCase(plan=plan_after(before, small_plan(case="P7-3"))), "EF", station="overview-1")
    return record


def on_disk(record: Record, path: Path) -> Path:
    """The record as a case file."""
    with CaseFile.create(path) as case_file:
        record_all(case_file, list(record.state.log), path.name)
    return path
