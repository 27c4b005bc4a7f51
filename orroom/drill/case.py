"""The case that a drill is entered in: its own, marked as a drill, deleted afterwards."""

from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.decide import decide
from orroom.case.evolve import evolve
from orroom.case.plan import CareRound, Harvest, Limits, Person, Plan, Size, Zone
from orroom.case.rules import Refusal
from orroom.case.state import CaseState
from orroom.case.terms import LANE_LETTERS, Role
from orroom.clock import WallClock, utc_offset_minutes
from orroom.drill import placing_sheet
from orroom.drill.score import CARE
from orroom.drill.sheet import Kind, Sheet
from orroom.record.case_file import CaseFile
from orroom.recording import record_all

#: At which station each kind is entered.
ROLES: Final[dict[Kind, Role]] = {"cutting": "cutting", "placing": "placing", "count": "overview"}
CODE: Final = "DRILL"
#: Who made the case ready, who place in its lanes, who else may count.
DESK, PLACERS, COUNTERS = "EF", ("GH", "KL", "MN"), ("RS", "TU")
#: Wetting is due again so soon that a drill has a prompt or two.
WET_MINUTES: Final = 1
#: Grafts of each size that wait to be placed, and what each zone is owed of each of its sizes.
WAITING, OWED = 300, 120
#: How long ago the harvest began where no wetting is due.
BEGUN_MINUTES: Final = 5


def plan_of(sheet: Sheet) -> Plan:
    """The plan of a sheet's case."""
    zones = tuple(
        Zone(key=key, label=placing_sheet.NAMES[key], area_cm2=20, targets=dict.fromkeys(sizes, OWED))
        for key, sizes in placing_sheet.ZONES.items()
    )
    if sheet.kind != "placing":
        zones = (
            Zone(
                key="FRONT", label="frontal", area_cm2=20, targets=dict.fromkeys(("1", "2", "3", "M"), OWED)
            ),
        )
    wet = CareRound(
        key=CARE, label="wet the dishes", kind="wet", every_minutes=WET_MINUTES, grace_minutes=0.25
    )
    return Plan(
        case=CODE,
        title=f"drill: {sheet.kind} {sheet.level}, sheet {sheet.seed}",
        sizes=(
            Size(key="1", label="1 hair", hairs=1),
            Size(key="2", label="2 hairs", hairs=2),
            Size(key="3", label="3 hairs", hairs=3),
            *(() if sheet.kind == "placing" else (Size(key="M", label="multi", hairs=5),)),
        ),
        zones=zones,
        harvests=tuple(Harvest(key=key, label="strip") for key in _harvests(sheet)),
        care=() if sheet.prompt_seconds is None else (wet,),
        limits=Limits(with_placers_seconds=3600),
        staff=tuple(Person(initials=each, role="placing") for each in PLACERS)
        if sheet.kind == "placing"
        else tuple(Person(initials=each, role="record") for each in COUNTERS),
        cautions=("A drill: nothing here is of a patient.",),
    )


def entries_before(sheet: Sheet, now_ms: int, offset_minutes: int = 0) -> list[e.Entry]:
    """What is in the record before anybody sits down: what there is to place or to count, and who places."""
    state = CaseState()
    for tap, command in enumerate(_commands_before(sheet, offset_minutes), 1):
        stamp = e.Stamp(now_ms, "desk", tap, DESK)
        event = decide(state, command, stamp)
        if isinstance(event, Refusal):
            raise ValueError(f"{command}: {event}")
        state = evolve(state, e.Entry(tap, stamp, event))
    return list(state.log)


def _commands_before(sheet: Sheet, offset_minutes: int) -> Iterator[c.Command]:
    yield c.OpenCase(plan=plan_of(sheet), utc_offset_minutes=offset_minutes)
    left = sheet.prompt_seconds
    begun = BEGUN_MINUTES if left is None else WET_MINUTES - left / 60
    for harvest in _harvests(sheet):
        yield c.StartHarvest(harvest=harvest, minutes_ago=begun)
    if sheet.kind == "placing":
        for size in ("1", "2", "3"):
            yield c.CutGrafts(harvest="A", size=size, count=WAITING)
        lanes = {item.lane for _, item in sheet.asked() if item.lane}
        for letter, who in zip(sorted(lanes, key=LANE_LETTERS.index), PLACERS, strict=False):
            yield c.OpenLane(lane=letter, by=who)
    if sheet.kind == "count":
        yield from _to_count(sheet)


def _to_count(sheet: Sheet) -> Iterator[c.Command]:
    """What the first person is to find."""
    cut: Counter[tuple[str, str]] = Counter()
    issued: Counter[tuple[str, str]] = Counter()
    for _, item in sheet.asked():
        if item.by == 1 and item.count:
            cut[str(item.harvest), item.size] += item.count
            issued[str(item.harvest), item.size] += item.count * (item.place == "bench")
    for (harvest, size), count in cut.items():
        yield c.CutGrafts(harvest=harvest, size=size, count=count)
    for (harvest, size), count in issued.items():
        if count:
            yield c.IssueGrafts(size=size, count=count, harvest=harvest)


def _harvests(sheet: Sheet) -> list[str]:
    return sorted({item.harvest for _, item in sheet.asked() if item.harvest}) or ["A"]


def start_drill(path: Path, sheet: Sheet) -> CaseFile:
    """A new case file for a sheet. Raises ``CaseFileError`` if it cannot be made."""
    case_file = CaseFile.create(path)
    record_all(case_file, entries_before(sheet, WallClock().now_ms(), utc_offset_minutes()), str(path))
    return case_file
