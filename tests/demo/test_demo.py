"""The simulated day: realistic, repeatable, never refused. Run as a program, it writes the sample records."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

import pytest
from cases import MORNING_MS, SetClock

from orroom.case import commands as c
from orroom.case.care import in_lane
from orroom.case.closing import open_at_sign_off
from orroom.case.events import (
    CareGiven,
    Entry,
    GraftsIssued,
    LaneHandedOver,
    SitesMade,
    SpotChecked,
    StationJoined,
)
from orroom.case.evolve import evolve, fold
from orroom.case.mismatches import mismatches, open_mismatches
from orroom.case.plan import Harvest, Plan, Size, Zone
from orroom.case.state import ENDS, SOURCES, CaseState
from orroom.case.terms import FAULTS, SIGN_OUT
from orroom.clock import utc_offset_minutes
from orroom.demo.needs import SLIP
from orroom.demo.recorded import entries_of, recorded
from orroom.demo.room import crew_of
from orroom.demo.start import demo_plan, start_demo
from orroom.demo.team import Team
from orroom.demo.workday import Turn, workday
from orroom.figures.pace.rest_of_day import foretold
from orroom.figures.punctuality import care_given
from orroom.files.plan_file import load_plan
from orroom.record.case_file import CaseFile
from orroom.record.encoding import lines_of
from orroom.recording import record_all

SAMPLE_CASES = Path(__file__).parents[2] / "sample_cases"
PLANS = ("frontal-midscalp", "hairline", "two-lots", "vertex")
SEEDS = (417, 1, 2)
HOUR_MS = 3_600_000


#: The seed and the opening of each sample case whose day was simulated.
SAMPLES = {
    "frontal-midscalp": (417, datetime(2026, 3, 5, 7, tzinfo=UTC)),
    "hairline": (112, datetime(2026, 2, 11, 7, tzinfo=UTC)),
}


def sample_text(name: str) -> str:
    """The events file of a sample case: a simulated day, signed off by two people three minutes after it."""
    (seed, opened), plan = SAMPLES[name], plan_of(name)
    turns, crew = workday(plan, seed), crew_of(plan)
    closing = c.SignOff(second=crew.lead, confirmed=tuple(SIGN_OUT))
    signing = Turn(turns[-1].after_ms + 180_000, crew.recorder, "overview", closing)
    return lines_of(entries_of(plan, (*turns, signing), round(opened.timestamp() * 1000), 60))


def plan_of(name: str) -> Plan:
    return load_plan(SAMPLE_CASES / name / "plan.toml")


class Day(NamedTuple):
    plan: Plan
    turns: tuple[Turn, ...]
    entries: list[Entry]
    state: CaseState

    def asked(self, kind: type[c.Command]) -> list[Turn]:
        return [turn for turn in self.turns if isinstance(turn.command, kind)]


def day_of(plan: Plan, seed: int) -> Day:
    turns = workday(plan, seed)
    entries = entries_of(plan, turns, 1_767_596_400_000, 60)  # raises if a turn is refused
    return Day(plan, turns, entries, fold(entries))


@cache
def sample_day(name: str, seed: int) -> Day:
    return day_of(plan_of(name), seed)


@pytest.fixture
def full_day() -> Day:
    return sample_day("frontal-midscalp", 417)


def check_end(day: Day) -> None:
    """Zones at plan or explained, accounts that add up, nobody at a station or on a break."""
    tally = day.state.tally
    for zone in day.plan.zones:
        for size in day.plan.size_by_key:
            over = tally.placed.get((zone.key, size), 0) - zone.planned.get(size, 0)
            assert over in {0, SLIP}
    assert not open_mismatches(day.state)
    for size, harvest in {(stock.size, stock.harvest) for stock in tally.stock}:
        came, went = (sum(tally.held(each, size, harvest) for each in side) for side in (SOURCES, ENDS))
        assert came == went
    assert not tally.held("bench")
    assert not tally.on_break
    assert not tally.stations
    assert not tally.signed_off


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("name", PLANS)
def test_every_turn_is_taken_and_every_zone_gets_its_grafts(name: str, seed: int) -> None:
    day = sample_day(name, seed)
    check_end(day)
    assert sorted(each.key.split(":")[0] for each in mismatches(day.state)) == ["counted", "over"]
    left = day.state.tally.held("left_at_end")
    assert 0 < left <= max(10, 0.03 * day.plan.planned())
    assert not day.state.tally.held("dish")
    assert not open_at_sign_off(day.state)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_full_day_lasts_six_to_seven_hours(seed: int) -> None:
    day = sample_day("frontal-midscalp", seed)
    assert 2_900 <= len(day.turns) <= 3_400
    assert 6 <= day.turns[-1].after_ms / HOUR_MS <= 7
    assert all(earlier.after_ms <= later.after_ms for earlier, later in pairwise(day.turns))


def test_the_same_seed_gives_the_same_day() -> None:
    plan = plan_of("two-lots")
    assert workday(plan, 5) == workday(plan, 5)
    assert workday(plan, 5) != workday(plan, 6)
    assert recorded(plan, 5, 1_767_596_400_000, 0)[3:] != recorded(plan, 6, 1_767_596_400_000, 0)[3:]


def one_size_only() -> Plan:
    zone = Zone(key="ALL", label="all of it", area_cm2=20, targets={"2": 400})
    return Plan(case="BARE-1", sizes=(Size(key="2", label="2 hairs", hairs=2),), zones=(zone,))


def large_plan() -> Plan:
    sizes = tuple(
        Size(key=key, label=key, hairs=hairs) for key, hairs in (("1", 1), ("2", 2), ("3", 3), ("M", 4))
    )
    zones = (
        Zone(key="A", label="front", area_cm2=40, targets={"1": 900, "2": 600}),
        Zone(key="B", label="middle", area_cm2=60, targets={"2": 1_200, "3": 700, "M": 598}),
        Zone(key="C", label="two more", area_cm2=1, targets={"M": 2}),
        Zone(key="D", label="none", area_cm2=1),
    )
    harvests = (Harvest(key="A", label="strip", segments=30), Harvest(key="B", label="punches"))
    return Plan(case="LARGE-1", sizes=sizes, zones=zones, harvests=harvests)


@pytest.mark.parametrize("plan", [one_size_only(), large_plan()], ids=lambda plan: plan.case)
def test_a_plan_without_donor_care_staff_or_segments_has_its_day(plan: Plan) -> None:
    check_end(day_of(plan, 9))


def test_cutters_work_at_a_human_pace(full_day: Day) -> None:
    for who in {turn.who for turn in full_day.asked(c.CutGrafts)}:
        taps = [turn.after_ms for turn in full_day.asked(c.CutGrafts) if turn.who == who]
        waits = sorted(later - earlier for earlier, later in pairwise(taps))
        quiet = sum(wait for wait in waits if wait > 300_000)  # breaks
        assert 180 <= len(taps) / (taps[-1] - taps[0] - quiet) * HOUR_MS <= 280
        assert waits[-1] > 3 * waits[len(waits) // 2]


def test_placing_follows_cutting_and_never_takes_what_is_not_there(full_day: Day) -> None:
    first_cut = full_day.asked(c.CutGrafts)[0].after_ms
    assert 55 <= (full_day.asked(c.PlaceGrafts)[0].after_ms - first_cut) / 60_000 <= 80
    short = set()
    state = CaseState()
    for entry in full_day.entries:
        state = evolve(state, entry)
        if isinstance(entry.event, GraftsIssued):
            assert entry.event.count <= 25
            short |= {stock for stock, n in state.tally.stock.items() if stock.account == "dish" and n < 0}
        assert all(n >= -SLIP for stock, n in state.tally.stock.items() if stock.account in {"dish", "bench"})
    assert len(short) == 1  # two taps were forgotten


def test_small_mishaps_have_small_shares(full_day: Day) -> None:
    cut = full_day.state.tally.held("cut")
    while_cutting = sum(turn.command.harvest is not None for turn in full_day.asked(c.DiscardGrafts))
    assert 0.006 <= while_cutting / cut <= 0.02
    assert 0.001 <= len(full_day.asked(c.TakeBack)) / cut <= 0.008
    assert 0.005 <= sum(full_day.state.tally.reseated.values()) / full_day.plan.planned() <= 0.02
    assert full_day.asked(c.DivideGrafts)
    assert full_day.asked(c.ReturnGrafts)


def test_the_day_has_its_events(full_day: Day) -> None:
    counts = Counter(type(turn.command) for turn in full_day.turns)
    assert counts[c.PausePrompt] == counts[c.HandOver] == 1
    assert counts[c.ExplainMismatch] == 2
    assert counts[c.AddNote] == counts[c.AnswerLimit] == 1
    assert counts[c.StartBreak] == counts[c.EndBreak] >= 5
    assert counts[c.FinishSegment] == 26
    checks = [entry.event for entry in full_day.entries if isinstance(entry.event, SpotChecked)]
    assert {check.subject for check in checks} == {"cutting", "placing"}
    joined = [entry.stamp.station for entry in full_day.entries if isinstance(entry.event, StationJoined)]
    assert sorted(joined) == ["cutting-1", "cutting-2", "cutting-3", "overview-1", "overview-2", "placing-1"]


def test_three_placers_have_a_lane_each_and_the_lead_who_enters_it_all_places_nothing(full_day: Day) -> None:
    tally = full_day.state.tally
    assert {who for who, what, _ in tally.done if what == "placed"} == {"JK", "LM", "VW", "AB"}
    assert {turn.who for turn in full_day.turns if turn.role == "placing"} == {"GH"}
    assert [(turn.command.lane, turn.command.by) for turn in full_day.asked(c.OpenLane)] == [
        ("a", "JK"), ("d", "LM"), ("g", "VW")
    ]  # fmt: skip
    assert not tally.lanes
    made = [entry.event.by for entry in full_day.entries if isinstance(entry.event, SitesMade)]
    assert set(made) == {"RS"}


def test_a_lane_is_handed_over_in_mid_batch(full_day: Day) -> None:
    [relief] = [entry for entry in full_day.entries if isinstance(entry.event, LaneHandedOver)]
    before = fold(full_day.entries[: relief.seq - 1])
    assert in_lane(before.tally, relief.event.lane)


def test_checks_say_whose_work_and_which_fault_of_the_list(full_day: Day) -> None:
    checks = [entry.event for entry in full_day.entries if isinstance(entry.event, SpotChecked)]
    assert {check.whose for check in checks if check.subject == "placing"} >= {"JK", "LM", "VW"}
    assert {check.whose for check in checks if check.subject == "cutting"} == {"AB", "CD", "EF", "TU"}
    for check in checks:
        assert {each.fault for each in check.faults or ()} <= set(FAULTS[check.subject])
        assert sum(each.count for each in check.faults or ()) == check.faulty


def test_a_plan_with_one_placer_besides_the_lead_has_no_lanes() -> None:
    day = sample_day("vertex", 417)
    assert not day.asked(c.OpenLane)
    assert {who for who, what, _ in day.state.tally.done if what == "placed"} == {"GH"}


def test_care_is_given_about_when_it_is_due(full_day: Day) -> None:
    given = [each for each in care_given(full_day.state) if each.care != "bench"]
    late = [each for each in given if (each.late_ms or 0) > 180_000]
    assert [each.care for each in late] == ["wet"]
    readings = [entry.event.temperature_c for entry in full_day.entries
                if isinstance(entry.event, CareGiven) and entry.event.temperature_c is not None]  # fmt: skip
    warm = [reading for reading in readings if not 3.2 <= reading <= 6.8]
    assert len(warm) == 1
    assert warm[0] > 8


@pytest.mark.parametrize("name", SAMPLES)
def test_sample_records_are_what_their_recipe_makes(name: str) -> None:
    """After a change of a plan or of the day: ``PYTHONPATH=tests python tests/demo/test_demo.py``."""
    assert (SAMPLE_CASES / name / "events.jsonl").read_bytes() == sample_text(name).encode()


def until(happened: Callable[[], bool], seconds: float = 4) -> bool:
    deadline = time.monotonic() + seconds
    while not happened() and time.monotonic() < deadline:
        time.sleep(0.02)
    return happened()


def test_a_team_works_live_and_leaves_at_once(tmp_path: Path) -> None:
    plan = plan_of("two-lots")
    case_file, team = start_demo(tmp_path / "demo.orroom", plan, seed=350, speed=600, skip_minutes=40)
    with case_file:
        before = len(case_file.entries_after(0))
        try:
            assert until(lambda: len(case_file.entries_after(before)) > 40)
        finally:
            leaving = time.monotonic()
            team.stop()
        assert time.monotonic() - leaving < 1
        entries = case_file.entries_after(0)
        state = fold(entries)
        assert not state.tally.stations
        assert [entry.seq for entry in entries] == list(range(1, len(entries) + 1))
        opened = datetime.fromtimestamp(entries[0].stamp.at_ms / 1000 + utc_offset_minutes() * 60, tz=UTC)
        assert (opened.hour, opened.minute) == (8, 0)
        live = entries[before].stamp.at_ms - entries[0].stamp.at_ms
        assert 40 <= live / 60_000 <= 60
        for harvest in plan.harvest_by_key:
            came, went = (
                sum(state.tally.held(each, harvest=harvest) for each in side) for side in (SOURCES, ENDS)
            )
            assert came == went


def test_a_refused_turn_does_not_stop_the_team(tmp_path: Path) -> None:
    plan, path = plan_of("two-lots"), tmp_path / "case.orroom"
    opened_at_ms = 1_767_596_400_000
    turns: Sequence[Turn] = (
        Turn(1, "GH", "placing", c.PlaceGrafts(zone="NOWHERE", size="1", count=1)),
        Turn(2, "CD", "cutting", c.AddNote(text="begun")),
        Turn(3, "TU", "cutting", c.HandOver(left="CD")),
        Turn(4, "TU", "cutting", c.AddNote(text="still here")),
        Turn(10**9, "TU", "cutting", c.AddNote(text="far too late")),
    )
    with CaseFile.create(path) as case_file:
        record_all(case_file, entries_of(plan, (), opened_at_ms, 0), "opening")
        team = Team(path, turns, opened_at_ms, SetClock(opened_at_ms + 1_000))
        team.start()
        assert until(lambda: len(case_file.entries_after(0)) == 6)
        team.stop()
        entries = case_file.entries_after(1)
    assert [entry.event.kind for entry in entries if entry.stamp.station == "placing-1"] == [
        "station_joined", "station_left"
    ]  # fmt: skip
    cutting = [(entry.event.kind, entry.stamp.who) for entry in entries if entry.stamp.station == "cutting-1"]
    assert cutting == [
        ("station_joined", "CD"), ("note_added", "CD"), ("shift_changed", "TU"), ("note_added", "TU"),
        ("station_left", "TU"),
    ]  # fmt: skip


def test_the_demo_plan_is_the_full_day() -> None:
    assert demo_plan().planned() == 2_400


def test_on_a_demo_day_dividing_is_suggested_and_there_are_threes_to_spare() -> None:
    """Three hours after the opening ones run out, and fewer threes than can be spared would do."""
    at_ms = MORNING_MS + 3 * HOUR_MS
    gone = [entry for entry in recorded(demo_plan(), SEEDS[0], MORNING_MS, 0) if entry.stamp.at_ms <= at_ms]
    found = foretold(fold(gone), at_ms).flow.divide
    assert found is not None
    assert (found.wanted, found.way.size, found.way.into) == ("1", "3", ("1", "2"))
    assert 0 < found.grafts <= found.spare


if __name__ == "__main__":
    for sample in SAMPLES:
        (SAMPLE_CASES / sample / "events.jsonl").write_bytes(sample_text(sample).encode())
