"""An invented day on which nearly everything happens that can be entered."""

from __future__ import annotations

from cases import Record, opened_case, small_plan
from msgspec.structs import replace

from orroom.case import commands as c
from orroom.case.closing import open_at_sign_off
from orroom.case.events import CountedGroup, FaultFound, RecordDiffered
from orroom.case.final_count import groups_to_count, waiting_by_group
from orroom.case.mismatches import open_mismatches
from orroom.case.terms import PLACERS_CARE

AT_PLACING = {"who": "CD", "station": "placing-1"}
AT_OVERVIEW = {"who": "EF", "station": "overview-1"}


def eventful_day() -> Record:
    """Two harvests, two lanes, breaks, checks, corrections, care late and on time; work goes on."""
    record = opened_case()
    for role, who, station in (("cutting", "AB", "cutting-1"), ("placing", "CD", "placing-1")):
        record.enter(c.JoinStation(role=role), who, station=station)
    record.enter(c.ChangeTeam(work="cutting", people=3), **AT_OVERVIEW)
    record.enter(c.StartHarvest(harvest="A", minutes_ago=10))
    record.enter(c.MakeSites(zone="LINE", count=38, by="RS"), **AT_OVERVIEW)
    record.enter(c.MakeSites(zone="FRONT", count=70), "GH", station="placing-1")
    record.enter(c.OpenLane(lane="a", by="CD"), **AT_PLACING)
    record.enter(c.OpenLane(lane="b", by="GH"), **AT_PLACING)
    for turn in range(4):
        _cut(record, turn)
        _placed(record, turn)
    _looked_after(record)
    _put_right(record)
    return record


def _cut(record: Record, turn: int) -> None:
    record.wait(9)
    for size, count in (("1", 11), ("2", 16 + turn), ("3", 8 - turn), ("M", 2)):
        record.enter(c.CutGrafts(harvest="A", size=size, count=count), "AB" if size < "3" else "IJ")
        record.wait(1)
    record.enter(c.DiscardGrafts(harvest="A", size="2", reason="transected"))
    record.enter(c.FinishSegment(harvest="A", length_mm=14 + turn))
    if turn == 1:
        record.enter(c.DiscardGrafts(harvest="A", size="3", reason="dropped", count=2), "IJ")
        record.enter(c.DivideGrafts(size="3", into=("1", "2"), count=3), "IJ")
        record.enter(c.StartHarvest(harvest="B", minutes_ago=4))
        record.enter(c.CutGrafts(harvest="B", size="2", count=9), "IJ")
    if turn == 2:
        record.enter(c.GiveCare(care="wet"), **AT_OVERVIEW)
        record.enter(c.GiveCare(care="cold", temperature_c=9.2), **AT_OVERVIEW)
        record.enter(c.PausePrompt(care="renew", minutes=12), **AT_OVERVIEW)
        record.enter(c.PlanBreak(in_minutes=30, minutes=20, work="placing"), **AT_OVERVIEW)


def _placed(record: Record, turn: int) -> None:
    record.enter(c.IssueGrafts(size="1", count=12, lane="a"), **AT_PLACING)
    record.enter(c.IssueGrafts(size="2", count=11, lane="b"), "GH", station="placing-1")
    record.wait(4)
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=9, lane="a"), **AT_PLACING)
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=10, lane="b"), "GH", station="placing-1")
    record.enter(c.ReseatGraft(zone="FRONT", lane="b"), "GH", station="placing-1")
    if turn == 2:
        record.enter(c.GiveCare(care=PLACERS_CARE, lane="a"), **AT_PLACING)
        record.enter(c.DiscardGrafts(size="1", reason="dried", lane="a"), **AT_PLACING)
        record.enter(c.PlaceGrafts(zone="MID", size="3", count=5), **AT_PLACING)
        record.enter(c.ReturnGrafts(size="2", count=1, lane="b"), "GH", station="placing-1")
    if turn == 3:
        record.enter(c.HandOverLane(lane="b", by="KL"), "KL", station="placing-1")


def _looked_after(record: Record) -> None:
    record.wait(5)
    faults = (FaultFound(fault="too deep", count=2), FaultFound(fault="bent", count=1))
    spot = c.CheckSpot(subject="placing", zone="FRONT", looked_at=20, faulty=3, faults=faults, whose="GH")
    record.enter(spot, **AT_OVERVIEW)
    record.enter(c.CheckSpot(subject="placing", zone="LINE", looked_at=12, faulty=0), **AT_OVERVIEW)
    cut = {"looked_at": 10, "faulty": 1, "fault": "too much fat", "follicles": 24, "transected": 2}
    record.enter(c.CheckSpot(subject="cutting", whose="AB", **cut), **AT_OVERVIEW)
    record.enter(c.StartBreak(), "IJ", station="cutting-2")
    record.wait(11)
    record.enter(c.EndBreak(), "IJ", station="cutting-2")
    record.enter(c.AddNote(text="dressing changed | [b] once"), **AT_OVERVIEW)
    record.enter(c.HandOver(left="AB"), "MN")
    record.enter(c.GiveCare(care="renew"), **AT_OVERVIEW)
    record.enter(c.TellClockStep(by_ms=-90_000), **AT_OVERVIEW)
    record.enter(c.SetKeysAside(cause="burst", keys=("1", "2"), counted=False, more=3), **AT_OVERVIEW)


def _put_right(record: Record) -> None:
    wrong = record.enter(c.CutGrafts(harvest="A", size="2", count=50), "MN")
    record.enter(c.CorrectEntry(entry=wrong.seq, reason="typed twice"), "MN")
    record.enter(c.CutGrafts(harvest="B", size="1", count=4), "MN")
    record.enter(c.TakeBack(role="cutting"), "MN")
    moved = record.enter(c.PlaceGrafts(zone="FRONT", size="3", count=2), **AT_PLACING)
    record.enter(c.MovePlacing(entry=moved.seq, zone="MID"), **AT_PLACING)
    zones = [replace(each, targets={**(each.targets or {}), "1": 44}) for each in small_plan().zones[:1]]
    plan = small_plan(zones=(*zones, *small_plan().zones[1:]))
    record.enter(c.RevisePlan(plan=plan, reason="hairline a little wider"), **AT_OVERVIEW)
    record.enter(c.CountDish(size="2", harvest="B", found=8), **AT_OVERVIEW)
    record.enter(c.PlaceGrafts(zone="MID", size="M", count=9), **AT_PLACING)
    mismatch = open_mismatches(record.state)[0]
    record.enter(c.ExplainMismatch(mismatch=mismatch.key, text="one stuck to the lid"), **AT_OVERVIEW)
    record.wait(3)


def counted_day() -> Record:
    """The same day once two people have counted what waits, and differ in one group."""
    record = eventful_day()
    count_by_two(record)
    return record


def count_by_two(record: Record) -> None:
    """Two people count what waits: one finds what the record says, the other one more in one group."""
    for who, more in (("AB", 0), ("CD", 1)):
        groups = []
        for at, group in enumerate(groups_to_count(record.state)):
            there = max(0, record.held(group.place, group.size, group.harvest)) + more * (at == 2)
            counted = {"size": group.size, "harvest": group.harvest, "place": group.place}
            groups.append(CountedGroup(**counted, found=there))
        record.enter(c.BeginCount(), who, station="overview-1")
        record.enter(c.CountAll(groups=tuple(groups), since=record.state.seq), who, station="overview-1")
        record.wait(2)


def closed_day() -> Record:
    """The same day with fates, signed off, reopened and signed off again; its record was changed once."""
    record = counted_day()
    fates = iter(("left over", "returned to donor", "left over"))
    waiting = [(group, count) for group, count in waiting_by_group(record.tally).items() if count > 0]
    for group, count in waiting[:3]:
        size, harvest, place = group
        parts = {"size": size, "harvest": harvest, "place": place, "count": count}
        record.enter(c.GiveFate(**parts, fate=next(fates)), **AT_OVERVIEW)
    sign_off(record, "CD")
    record.wait(20)
    record.enter(c.ReopenCase(reason="one more look"), **AT_OVERVIEW)
    record.enter(c.AddNote(text="photographs taken"), **AT_OVERVIEW)
    changed = RecordDiffered(anchored=19, expected_hash="a" * 64, found_hash=None, same=9, last=17)
    record.take(changed, record.stamp("EF", "overview-1"))
    sign_off(record, "GH")
    return record


def sign_off(record: Record, second: str) -> None:
    """Close the case, with a reason for what is open."""
    why = {"open_because": "counted in a hurry", "informed": "RS"} if open_at_sign_off(record.state) else {}
    record.enter(c.SignOff(second=second, confirmed=("procedure", "counts"), **why), **AT_OVERVIEW)
