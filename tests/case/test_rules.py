"""Each rule refuses what cannot mean anything, by its name, and says what would be right."""

from __future__ import annotations

from contextlib import suppress

import pytest
from cases import (
    UNCOUNTED,
    Record,
    all_fated,
    case_under_way,
    opened_case,
    records,
    small_plan,
    wild_entries,
)
from hypothesis import HealthCheck, given, settings
from msgspec.structs import replace
from three_days import day_1, plan_after

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.decide import decide
from orroom.case.final_count import groups_to_count, open_differences, person_counts
from orroom.case.plan import Harvest, Size
from orroom.case.rules import OF_FORM, OF_THE_MOMENT, RULES, Refusal, Rule, refusal_of
from orroom.case.state import CaseState, Stock
from orroom.case.terms import PLACERS_CARE, PLACES
from orroom.errors import OrroomError
from orroom.formats.summary_formats import to_markdown
from orroom.summary.summary import summarise


def refuses(refusal: Refusal | None, rule: str, *words: str) -> None:
    """Asserts that ``rule`` refused, and that the sentence a user reads holds all of ``words``."""
    assert refusal is not None, f"{rule} did not refuse"
    assert refusal.rule == rule
    for word in words:
        assert word in str(refusal), f"{word!r} is not in {refusal!s}"


def imported(record: Record, event: e.AnyEvent) -> Refusal | None:
    """What the rules say of an event that comes from a file and not from a command."""
    return refusal_of(record.state, event, record.stamp())


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.__name__)
def test_every_rule_has_a_sentence_and_a_test_of_its_name(rule: Rule):
    assert (rule.__doc__ or "").splitlines()[0].endswith(".")
    assert f"test_{rule.__name__}" in globals()


@pytest.mark.parametrize("who", ["", "ab", "1A", "ABCDE", "AB\n", "A B", "É"])
def test_refuse_nobody(under_way: Record, who: str):
    refuses(under_way.refusal(c.StartBreak(), who), "refuse_nobody", "initials", "capital letter", repr(who))


def test_refuse_nobody_as_the_other_person(under_way: Record):
    for command in (c.HandOver(left="nobody"), c.SignOff(second="")):
        refuses(under_way.refusal(command), "refuse_nobody", "three capitals or digits")


def test_refuse_before_opening():
    refuses(
        Record().refusal(c.CutGrafts(harvest="A", size="1")),
        "refuse_before_opening",
        "not been opened",
        "plan",
    )
    refuses(imported(Record(), e.BreakStarted()), "refuse_before_opening", "first entry must open the case")


def test_refuse_second_opening(record: Record):
    refuses(
        record.refusal(c.OpenCase(plan=small_plan())),
        "refuse_second_opening",
        "open already",
        "Revise its plan",
    )


def test_refuse_after_sign_off(under_way: Record):
    under_way.enter(c.SignOff(second="CD", **UNCOUNTED))
    for command in (
        c.CutGrafts(harvest="A", size="1"),
        c.AddNote(text="late"),
        c.CorrectEntry(entry=3, reason="slip"),
        c.TakeBack(role="cutting"),
        c.SignOff(second="CD"),
        c.RevisePlan(plan=small_plan(), reason="late"),
    ):
        refuses(under_way.refusal(command), "refuse_after_sign_off", "signed off", "Reopen it with a reason")
    under_way.enter(c.JoinStation(role="overview"))
    under_way.enter(c.LeaveStation())


def test_refuse_reopening_an_open_case(record: Record):
    refusal = record.refusal(c.ReopenCase(reason="more to do"))
    refuses(refusal, "refuse_reopening_an_open_case", "not signed off", "Continue with it")


def test_refuse_same_person_twice(record: Record):
    refuses(
        record.refusal(c.SignOff(second="AB"), "AB"),
        "refuse_same_person_twice",
        "AB has already signed",
        "different person",
    )


def test_refuse_unknown_zone(under_way: Record):
    for command in (
        c.PlaceGrafts(zone="VERTEX", size="2", count=3),
        c.MakeSites(zone="VERTEX", count=3),
        c.ReseatGraft(zone="VERTEX"),
        c.CheckSpot(subject="placing", zone="VERTEX", looked_at=10, faulty=1),
    ):
        refuses(under_way.refusal(command), "refuse_unknown_zone", "'VERTEX'", "LINE, FRONT, MID")


def test_refuse_unknown_size(under_way: Record):
    for command in (
        c.CutGrafts(harvest="A", size="4"),
        c.DivideGrafts(size="3", into=("1", "4")),
        c.PlaceGrafts(zone="MID", size="4", count=3),
        c.CountDish(size="4", harvest="A", found=3),
    ):
        refuses(under_way.refusal(command), "refuse_unknown_size", "'4'", "1, 2, 3, M")


def test_refuse_unknown_harvest(under_way: Record):
    for command in (
        c.CutGrafts(harvest="C", size="1"),
        c.StartHarvest(harvest="C"),
        c.FinishSegment(harvest="C"),
        c.DiscardGrafts(harvest="C", size="1", reason="empty"),
        c.IssueGrafts(harvest="C", size="1", count=2),
    ):
        refuses(under_way.refusal(command), "refuse_unknown_harvest", "'C'", "A, B", "revise the plan")


def test_refuse_plan_that_forgets(under_way: Record):
    under_way.enter(c.PlaceGrafts(zone="MID", size="2", count=3))
    plan = small_plan()
    for forgetful, what in (
        (small_plan(zones=plan.zones[:2]), "Keep zone MID"),
        (small_plan(sizes=plan.sizes[:2]), "Keep size 3, M"),
        (small_plan(harvests=plan.harvests[1:]), "Keep harvest A"),
    ):
        refusal = under_way.refusal(c.RevisePlan(plan=forgetful, reason="changed"))
        refuses(refusal, "refuse_plan_that_forgets", "zone, size and harvest", what)
    under_way.enter(
        c.RevisePlan(plan=small_plan(zones=plan.zones[2:], harvests=plan.harvests[:1]), reason="less")
    )


@pytest.mark.parametrize("count", [0, -1, 10_001])
def test_refuse_count_out_of_range(under_way: Record, count: int):
    for command in (
        c.CutGrafts(harvest="A", size="1", count=count),
        c.DivideGrafts(size="3", into=("1", "2"), count=count),
        c.DiscardGrafts(size="1", reason="dried", count=count),
        c.DiscardGrafts(size="1", reason="dried", count=count, harvest="A"),
        c.IssueGrafts(size="1", count=count),
        c.ReturnGrafts(size="1", count=count),
        c.PlaceGrafts(zone="LINE", size="1", count=count),
        c.MakeSites(zone="LINE", count=count),
        c.ReseatGraft(zone="LINE", count=count),
    ):
        refusal = under_way.refusal(command)
        refuses(refusal, "refuse_count_out_of_range", "from 1 to 10,000", f"{count:,}")


def test_refuse_count_out_of_range_of_a_dish(under_way: Record):
    for found in (-1, 10_001):
        refusal = under_way.refusal(c.CountDish(size="1", harvest="A", found=found))
        refuses(refusal, "refuse_count_out_of_range", "whole number", "may also be 0")
    under_way.enter(c.CountDish(size="1", harvest="A", found=0))


def test_refuse_drawn_unlike_count(under_way: Record):
    def drawn(*counts: int) -> tuple[e.Drawn, ...]:
        return tuple(e.Drawn(harvest="A", place="dish", count=count) for count in counts)

    for event in (
        e.GraftsPlaced(zone="LINE", size="1", count=5, drawn=drawn(2, 2)),
        e.GraftsPlaced(zone="LINE", size="1", count=5, drawn=drawn(6, -1)),
        e.GraftsIssued(size="1", count=5, drawn=()),
        e.GraftsDiscarded(size="1", count=5, reason="dried", drawn=drawn(4)),
        e.GraftsDiscarded(size="1", count=5, reason="dried", harvest="A", drawn=drawn(5)),
    ):
        refuses(
            imported(under_way, event), "refuse_drawn_unlike_count", "must add up", "taken for a count of"
        )
    assert imported(under_way, e.GraftsIssued(size="1", count=5, drawn=drawn(2, 3))) is None
    assert imported(under_way, e.GraftsDiscarded(size="1", count=5, reason="dried", harvest="A")) is None


def test_refuse_hairs_from_nowhere(under_way: Record):
    for size, into, right in (
        ("3", ("2", "2"), "2 + 2 is more than the 3 hairs of a 3"),
        ("2", ("3",), "3 is more than the 2 hairs of a 2"),
        ("2", ("2",), "Dividing size 2 must make smaller grafts"),
        ("M", ("M",), "Dividing size M must make smaller grafts"),
        ("3", (), "for example 1 and 2"),
    ):
        refusal = under_way.refusal(c.DivideGrafts(size=size, into=into))
        refuses(refusal, "refuse_hairs_from_nowhere", "cannot have more hairs", right)
    under_way.enter(c.DivideGrafts(size="M", into=("2", "3")))


def test_refuse_unknown_reason(under_way: Record):
    refusal = under_way.refusal(c.DiscardGrafts(size="1", reason="lost"))
    refuses(refusal, "refuse_unknown_reason", "'lost'", "transected, dried, crushed, empty, dropped")


def test_refuse_unknown_care(under_way: Record):
    for command in (c.GiveCare(care="shake"), c.PausePrompt(care="shake", minutes=5)):
        refuses(under_way.refusal(command), "refuse_unknown_care", "'shake'", "wet, renew, cold, bench")
    refusal = under_way.refusal(c.PausePrompt(care="bench", minutes=5))
    refuses(refusal, "refuse_unknown_care", "place the grafts, wet them or return them")
    under_way.enter(c.GiveCare(care="bench"))


@pytest.mark.parametrize("reading", [None, float("nan"), float("inf"), -20.1, 60.1])
def test_refuse_temperature_without_sense(under_way: Record, reading: float | None):
    refusal = under_way.refusal(c.GiveCare(care="cold", temperature_c=reading))
    refuses(refusal, "refuse_temperature_without_sense", "from -20 to 60 °C")


def test_refuse_temperature_without_sense_from_a_wetting(under_way: Record):
    refusal = under_way.refusal(c.GiveCare(care="wet", temperature_c=4))
    refuses(
        refusal,
        "refuse_temperature_without_sense",
        "Leave the temperature out for 'wet'",
        "other rounds take none",
    )


@pytest.mark.parametrize("minutes", [0, 0.99, -5, 240.1, float("nan"), float("inf"), float("-inf"), 1e308])
def test_refuse_endless_pause(under_way: Record, minutes: float):
    refusal = under_way.refusal(c.PausePrompt(care="wet", minutes=minutes))
    refuses(refusal, "refuse_endless_pause", "1 minute to 4 hours", "Enter 1 to 240")


@pytest.mark.parametrize("minutes_ago", [-1, 1440.1, float("nan"), float("inf"), float("-inf"), 1e308])
def test_refuse_harvest_in_future(record: Record, minutes_ago: float):
    refusal = record.refusal(c.StartHarvest(harvest="A", minutes_ago=minutes_ago))
    refuses(refusal, "refuse_harvest_in_future", "last 24 hours", "from 0 to 1440")


def test_refuse_second_harvest(under_way: Record):
    refusal = under_way.refusal(c.StartHarvest(harvest="A"))
    refuses(refusal, "refuse_second_harvest", "entered already", "another harvest than A")
    under_way.enter(c.EndHarvest(harvest="A"))
    refusal = under_way.refusal(c.EndHarvest(harvest="A"))
    refuses(refusal, "refuse_second_harvest", "Cancel the entry that ended harvest A")


def test_refuse_unknown_segment(under_way: Record):
    for _ in range(3):
        under_way.enter(c.FinishSegment(harvest="B"))
    refusal = under_way.refusal(c.FinishSegment(harvest="B"))
    refuses(refusal, "refuse_unknown_segment", "All 3 segments of harvest B", "revise the plan")
    refusal = imported(under_way, e.SegmentCut(harvest="B", segment=2))
    refuses(refusal, "refuse_unknown_segment", "Segment 2 of harvest B is already finished")


def test_refuse_unknown_segment_below_one(record: Record):
    record.enter(
        c.RevisePlan(plan=small_plan(harvests=(Harvest(key="A", label="strip"),)), reason="uncounted")
    )
    refusal = imported(record, e.SegmentCut(harvest="A", segment=0))
    refuses(refusal, "refuse_unknown_segment", "Harvest A has no segment 0; the first is 1")


def test_refuse_more_faults_than_looked_at(under_way: Record):
    for looked_at, faulty, right in (
        (10, 11, "11 faulty of 10"),
        (10, -1, "-1 faulty of 10"),
        (10_001, 0, "of 10001"),
        (0, 0, "Inspect at least one graft"),
    ):
        refusal = under_way.refusal(c.CheckSpot(subject="cutting", looked_at=looked_at, faulty=faulty))
        refuses(refusal, "refuse_more_faults_than_looked_at", "cannot outnumber those inspected", right)


def test_refuse_sites_where_placing_makes_them(under_way: Record):
    zones = (replace(under_way.state.plan.zones[0], stick_and_place=True), *under_way.state.plan.zones[1:])
    under_way.enter(c.RevisePlan(plan=replace(under_way.state.plan, zones=zones), reason="as we go"))
    refusal = under_way.refusal(c.MakeSites(zone="LINE", count=5))
    refuses(refusal, "refuse_sites_where_placing_makes_them", "placing makes the sites", "placed in hairline")
    under_way.enter(c.MakeSites(zone="FRONT", count=5))


def test_refuse_faults_unlike_faulty(under_way: Record):
    def check(faulty: int, *found: tuple[str, int]) -> c.CheckSpot:
        faults = tuple(e.FaultFound(fault=fault, count=count) for fault, count in found)
        return c.CheckSpot(subject="placing", looked_at=9, faulty=faulty, faults=faults)

    for command, right in (
        (check(3, ("turned", 2)), "3 are faulty, but 2 have a fault"),
        (check(1, ("turned", 1), ("crushed", 1)), "1 are faulty, but 2 have a fault"),
        (check(1), "1 are faulty, but 0 have a fault"),
        (check(2, ("turned", 1), (" turned", 1)), "each fault once"),
    ):
        refuses(under_way.refusal(command), "refuse_faults_unlike_faulty", "under one fault", right)
    under_way.enter(check(3, ("turned", 2), ("crushed", 1)))
    under_way.enter(c.CheckSpot(subject="placing", looked_at=9, faulty=3))  # nobody said which


def test_refuse_follicles_without_sense(under_way: Record):
    for subject, follicles, transected, right in (
        ("cutting", 9, 10, "0 to 9 transected, not 10"),
        ("cutting", 9, -1, "0 to 9 transected, not -1"),
        ("cutting", 2, 0, "Enter 3 to 10,000 follicles, not 2"),
        ("cutting", 10_001, 0, "follicles, not 10,001"),
        ("cutting", 9, None, "both numbers, or neither"),
        ("cutting", None, 0, "both numbers, or neither"),
        ("placing", 9, 3, "check of placing; leave the follicles out"),
    ):
        command = c.CheckSpot(
            subject=subject, looked_at=3, faulty=1, follicles=follicles, transected=transected
        )
        refuses(
            under_way.refusal(command), "refuse_follicles_without_sense", "how many are transected", right
        )
    under_way.enter(c.CheckSpot(subject="cutting", looked_at=3, faulty=1, follicles=3, transected=3))


@pytest.mark.parametrize("length", [0.0, -5.0, 400.1, float("nan"), float("inf")])
def test_refuse_length_without_sense(under_way: Record, length: float):
    refusal = under_way.refusal(c.FinishSegment(harvest="A", length_mm=length))
    refuses(refusal, "refuse_length_without_sense", "at most 400 mm", f"{length:g} mm is impossible")
    under_way.enter(c.FinishSegment(harvest="A", length_mm=400))


def test_refuse_impossible_correction(under_way: Record):
    under_way.enter(c.CorrectEntry(entry=3, reason="slip"))
    for entry, right in (
        (3, "already cancelled, by entry 7"),
        (7, "Entry 7 is itself a cancellation; enter again what happened"),
        (1, "Entry 1 opened the case; make a new case file instead"),
    ):
        refusal = under_way.refusal(c.CorrectEntry(entry=entry, reason="slip"))
        refuses(refusal, "refuse_impossible_correction", "cannot be cancelled", right)


@pytest.mark.parametrize(("entry", "right"), [(0, "from 1 to 6, not 0"), (8, "from 1 to 6, not 8")])
def test_refuse_correction_of_nothing(under_way: Record, entry: int, right: str):
    refusal = under_way.refusal(c.CorrectEntry(entry=entry, reason="slip"))
    refuses(refusal, "refuse_correction_of_nothing", "no such entry", right)


def test_refuse_impossible_correction_of_a_signature(under_way: Record):
    signed = under_way.enter(c.SignOff(second="CD", **UNCOUNTED))
    reopened = under_way.enter(c.ReopenCase(reason="one more dish"))
    for entry, right in ((signed, "reopen the case instead"), (reopened, "sign it off again")):
        refusal = under_way.refusal(c.CorrectEntry(entry=entry.seq, reason="slip"))
        refuses(refusal, "refuse_impossible_correction", right)


#: Empty, too long, and what leaves no mark of its own: controls, a reversal, a joiner, marks of direction.
UNREADABLE = [
    "",
    "  ",
    "x" * 201,
    "a\nb",
    "\x1b[31m",
    "a\u202eb",
    "a\u200db",
    "\u061cb",
    "a\u2063b",
    "\ud800",
]


@pytest.mark.parametrize("text", UNREADABLE, ids=ascii)
def test_refuse_unreadable_text(under_way: Record, text: str):
    under_way.enter(c.PlaceGrafts(zone="LINE", size="2", count=1))
    for command in (
        c.AddNote(text=text),
        c.CorrectEntry(entry=3, reason=text),
        c.ExplainMismatch(mismatch="misplaced:LINE:2", text=text),
        c.RevisePlan(plan=small_plan(), reason=text),
        c.CheckSpot(subject="placing", looked_at=9, faulty=1, fault=text),
    ):
        refuses(under_way.refusal(command), "refuse_unreadable_text", "1 to 200 visible characters", "This ")


def test_refuse_unreadable_text_that_is_mostly_blank(under_way: Record):
    refuses(imported(under_way, e.NoteAdded(text="x" + 200 * " ")), "refuse_unreadable_text", "1 to 200")


@pytest.mark.parametrize("version", ["", "AB", "1", "0.1.0\n", "0.1.0 by AB", "1.2.3.4.5", "0.1.0-x"])
def test_refuse_version_without_number(record: Record, version: str):
    said = imported(record, e.StationJoined(role="cutting", version=version))
    refuses(said, "refuse_version_without_number", "numbers with points", repr(version))


@pytest.mark.parametrize("version", [None, "0.1.0", "12.0.3rc1", "2026.12"])
def test_a_version_of_numbers_is_one(record: Record, version: str | None):
    assert imported(record, e.StationJoined(role="cutting", version=version)) is None


def test_markup_and_other_scripts_are_readable(under_way: Record):
    for text in ("[/b] & <i>", "zwölf Zweier", "二十個", "x" * 200, "  at the left  "):
        entry = under_way.enter(c.AddNote(text=text))
        assert entry.event == e.NoteAdded(text=text.strip())


# Two refusals that come from looking for something and not finding it.


def test_refuse_nothing_to_take_back(record: Record):
    refusal = record.refusal(c.TakeBack(role="cutting"))
    refuses(refusal, "refuse_nothing_to_take_back", "no tap left", "cancelled by number")


def test_refuse_unknown_mismatch(under_way: Record):
    under_way.enter(c.PlaceGrafts(zone="LINE", size="2", count=1))
    refusal = under_way.refusal(c.ExplainMismatch(mismatch="over:LINE:1", text="as asked"))
    refuses(refusal, "refuse_unknown_mismatch", "no such mismatch", "hairline: 1 two in a zone for ones")


def test_the_first_rule_that_refuses_is_the_one_told():
    record = case_under_way()
    refusal = decide(record.state, c.PlaceGrafts(zone="VERTEX", size="9", count=0), record.stamp("nobody"))
    assert isinstance(refusal, Refusal)
    assert refusal.rule == "refuse_nobody"


def test_a_plan_may_add_what_it_lacked(under_way: Record):
    plan = small_plan()
    more = (*plan.sizes, Size(key="4", label="fours", hairs=4))
    assert under_way.refusal(c.CutGrafts(harvest="A", size="4")).rule == "refuse_unknown_size"
    under_way.enter(c.RevisePlan(plan=small_plan(sizes=more), reason="fours turned up"))
    under_way.enter(c.CutGrafts(harvest="A", size="4"))


@pytest.mark.parametrize(
    ("station", "tap"), [("", 1), ("Cutting 1", 1), ("cutting-1\n", 1), ("cutting-1", 0)]
)
def test_refuse_nameless_station(under_way: Record, station: str, tap: int):
    stamp = e.Stamp(under_way.now_ms, station, tap, "AB")
    refuses(
        refusal_of(under_way.state, e.BreakStarted(), stamp),
        "refuse_nameless_station",
        "cutting-1",
        repr(station),
    )


@pytest.mark.parametrize("at_ms", [-1, 0, 4_102_444_800_000])
def test_refuse_impossible_time(under_way: Record, at_ms: int):
    stamp = e.Stamp(at_ms, "cutting-1", 99, "AB")
    refuses(refusal_of(under_way.state, e.BreakStarted(), stamp), "refuse_impossible_time", "clock")


def test_refuse_impossible_time_as_an_offset():
    for offset in (841, -841, 10**9):
        refusal = Record().refusal(c.OpenCase(plan=small_plan(), utc_offset_minutes=offset))
        refuses(refusal, "refuse_impossible_time", "14 hours", str(offset))


def test_refuse_another_case(under_way: Record):
    refusal = under_way.refusal(c.RevisePlan(plan=small_plan(case="OTHER-2"), reason="changed"))
    refuses(refusal, "refuse_another_case", "keep the case code", "OTHER-2", "SMALL-1")


def test_refuse_drawn_from_elsewhere(under_way: Record):
    with_placers, dish = (e.Drawn(harvest="A", place=place, count=2) for place in ("bench", "dish"))
    for event, place in (
        (e.GraftsIssued(size="1", count=2, drawn=(with_placers,)), "bench"),
        (e.GraftsReturned(size="1", count=2, drawn=(dish,)), "dish"),
        (e.GraftsDivided(size="3", into=("1", "2"), count=2, hairs_lost=0, drawn=(with_placers,)), "bench"),
    ):
        refuses(imported(under_way, event), "refuse_drawn_from_elsewhere", f"These are {PLACES[place]}")


def test_refuse_tallied_unlike_record(under_way: Record):
    event = e.DishCounted(size="1", harvest="A", place="dish", tallied=99, found=98)
    refuses(imported(under_way, event), "refuse_tallied_unlike_record", "has 30, not 99")


def test_refuse_step_known_already(under_way: Record):
    found = under_way.enter(c.TellClockStep(by_ms=3_600_000))
    refuses(
        under_way.refusal(c.TellClockStep(by_ms=3_600_400)),
        "refuse_step_known_already",
        f"entry {found.seq}",
    )
    under_way.enter(c.TellClockStep(by_ms=-3_600_000))
    under_way.wait(1)
    under_way.enter(c.TellClockStep(by_ms=-3_600_000))


def test_refuse_break_that_cannot_be(under_way: Record):
    refuses(under_way.refusal(c.EndBreak()), "refuse_break_that_cannot_be", "AB is not on a break")
    under_way.enter(c.StartBreak())
    refuses(under_way.refusal(c.StartBreak()), "refuse_break_that_cannot_be", "already on a break")
    under_way.enter(c.EndBreak())


@pytest.mark.parametrize("people", [-1, 21])
def test_refuse_team_that_cannot_be(under_way: Record, people: int):
    refused = under_way.refusal(c.ChangeTeam(work="placing", people=people))
    refuses(refused, "refuse_team_that_cannot_be", "0 to 20 people", f"not {people}")
    refused = under_way.refusal(c.ChangeTeam(work="sorting", people=2))  # type: ignore[arg-type]
    refuses(refused, "refuse_team_that_cannot_be", "cutting, sites, placing")
    assert isinstance(under_way.enter(c.ChangeTeam(work="placing", people=0)).event, e.TeamChanged)


def test_refuse_endless_break(under_way: Record):
    refused = under_way.refusal(c.PlanBreak(in_minutes=10, minutes=0.5))
    refuses(refused, "refuse_endless_break", "1 to 240 minutes", "not 0.5")
    refused = under_way.refusal(c.PlanBreak(in_minutes=-1, minutes=30))
    refuses(refused, "refuse_endless_break", "how many minutes from now")
    planned = under_way.enter(c.PlanBreak(in_minutes=10, minutes=30)).event
    assert isinstance(planned, e.BreakPlanned)
    assert planned.starts_at_ms == under_way.now_ms + 10 * 60_000


def counted(state: CaseState, **changed: int) -> c.CountAll:
    """A count of all groups as the tally has them; changed, ``s2=3`` is twos of harvest A in dishes."""
    groups = []
    for group in groups_to_count(state):
        held = state.tally.stock.get(Stock(group.size, group.harvest, group.place), 0)
        if group.harvest == "A" and group.place == "dish":
            held = changed.get(f"s{group.size}", held)
        groups.append(e.CountedGroup(size=group.size, harvest=group.harvest, place=group.place, found=held))
    return c.CountAll(groups=tuple(groups), since=state.seq)


def test_refuse_count_without_sense(under_way: Record):
    whole = counted(under_way.state).groups
    refuses(
        under_way.refusal(c.CountAll(groups=whole[1:], since=under_way.state.seq)),
        "refuse_count_without_sense",
        "size 1 of harvest A, in dishes, too",
    )
    seq = under_way.state.seq
    twice = c.CountAll(groups=(*whole, whole[0]), since=seq)
    refuses(under_way.refusal(twice), "refuse_count_without_sense", "appears twice")
    absurd = c.CountAll(
        groups=(e.CountedGroup(size="1", harvest="A", place="dish", found=-1), *whole[1:]), since=seq
    )
    refuses(
        under_way.refusal(absurd), "refuse_count_without_sense", "Enter 0 to 10,000 for each group, not -1"
    )
    strange = c.CountAll(
        groups=(*whole, e.CountedGroup(size="4", harvest="A", place="dish", found=1)), since=seq
    )
    refuses(under_way.refusal(strange), "refuse_count_without_sense", "no size '4'")
    moved = c.CountAll(groups=whole, since=seq)
    under_way.enter(c.CutGrafts(harvest="A", size="2"))
    refuses(
        under_way.refusal(moved), "refuse_count_without_sense", "Grafts moved during the count", "count again"
    )
    under_way.enter(counted(under_way.state))


def test_refuse_a_recount_of_no_count_that_is_compared(under_way: Record):
    first, second = (under_way.enter(counted(under_way.state, s2=39), who) for who in ("AB", "CD"))
    group = (e.CountedGroup(size="2", harvest="A", place="dish", found=40),)
    seq = under_way.state.seq
    absurd = c.CountAll(groups=group, since=seq, recount_of=2)
    refuses(under_way.refusal(absurd), "refuse_count_without_sense", "Entry 2 is not one of the two counts")
    under_way.enter(c.CountAll(groups=group, since=seq, recount_of=first.seq), "AB")
    under_way.enter(c.CountAll(groups=group, since=seq, recount_of=second.seq), "CD")
    found = [each.found for each in person_counts(under_way.state)]
    assert found[0] == found[1]
    assert {group: count for group, count in found[0].items() if count} == {
        group: under_way.tally.stock[Stock(group.size, group.harvest, group.place)]
        for group in groups_to_count(under_way.state)
        if group.place == "dish"
    }
    assert open_differences(under_way.state) == ()
    made = summarise(under_way.state).counts_made
    assert [(each.who, each.grafts, each.holds) for each in made] == [
        ("AB", 94, False),
        ("CD", 94, False),
        ("AB", 95, True),
        ("CD", 95, True),
    ]


def test_refuse_giving_up_no_count(under_way: Record):
    refused = "refuse_giving_up_no_count"
    refuses(under_way.refusal(c.GiveUpCount()), refused, "Counts under way: none")
    begun = under_way.enter(c.BeginCount(), "AB", station="overview-1")
    refuses(
        under_way.refusal(c.GiveUpCount()), refused, f"Counts under way: entry {begun.seq}"
    )  # another station's
    refuses(under_way.refusal(c.GiveUpCount(begun=2)), refused, f"Counts under way: entry {begun.seq}")
    under_way.enter(c.GiveUpCount(), "EF", station="overview-1")
    first = under_way.enter(counted(under_way.state), "AB")
    assert len(person_counts(under_way.state)) == 1
    under_way.enter(c.GiveUpCount(begun=first.seq), "EF")
    assert person_counts(under_way.state) == ()


def test_a_third_count_is_not_blind(under_way: Record):
    for who in ("AB", "CD"):
        under_way.enter(counted(under_way.state, s2=39), who)
    assert [each.blind for each in person_counts(under_way.state)] == [True, True]
    under_way.enter(counted(under_way.state), "GH")
    assert [(each.who, each.blind) for each in person_counts(under_way.state)] == [
        ("CD", True),
        ("GH", False),
    ]
    under_way.enter(counted(under_way.state), "CD")
    assert [each.blind for each in person_counts(under_way.state)] == [False, False]


def test_the_second_persons_count_is_blind_though_the_first_counted_twice(under_way: Record):
    for who in ("AB", "AB", "CD"):
        under_way.enter(counted(under_way.state), who)
    assert [(each.who, each.blind) for each in person_counts(under_way.state)] == [("AB", True), ("CD", True)]


def test_refuse_unknown_sign_out_item(under_way: Record):
    closing = c.SignOff(second="CD", confirmed=("luck",), **UNCOUNTED)
    refuses(
        under_way.refusal(closing), "refuse_unknown_sign_out_item", "'luck' is not one of procedure, counts"
    )


def test_refuse_closing_on_what_is_open(under_way: Record):
    refused = "refuse_closing_on_what_is_open"
    closing = c.SignOff(second="CD")
    refuses(
        under_way.refusal(closing, "AB"), refused, "Open: no final count by two people; 95 grafts are left"
    )
    under_way.enter(counted(under_way.state, s2=39), "AB")
    refuses(
        under_way.refusal(closing, "AB"), refused, "by two people: only AB has counted", "who was informed"
    )
    under_way.enter(counted(under_way.state, s2=39), "CD")
    found = "size 2 of harvest A, in dishes: AB counted 39, CD counted 39, the tally has 40"
    refuses(under_way.refusal(closing, "AB"), refused, f"Open: {found}; 95 grafts", "who was informed")
    under_way.enter(counted(under_way.state), "AB")  # AB counts again and finds the fortieth
    refuses(under_way.refusal(closing, "AB"), refused, "size 2 of harvest A")
    half = c.SignOff(second="CD", open_because="looked everywhere")
    refuses(under_way.refusal(half, "AB"), refused, "who was informed")
    under_way.enter(counted(under_way.state), "CD")
    moved = under_way.enter(c.PlaceGrafts(zone="LINE", size="2", count=41), "AB")
    words = (
        f"grafts moved after the last one (entry {moved.seq}); "
        "55 grafts are left, and what becomes of them is not entered; "
        "harvest A: 1 two too many taken from the dishes; hairline: 41 twos in a zone for ones."
    )
    refuses(under_way.refusal(closing, "AB"), refused, words)
    under_way.enter(c.ExplainMismatch(mismatch="misplaced:LINE:2", text="wanted"))
    under_way.enter(c.ExplainMismatch(mismatch="short:dish:2:A", text="one was not tapped"))
    words = "harvest A: 1 two too many taken from the dishes. Settle"  # explained, yet below nothing
    refuses(under_way.refusal(closing, "AB"), refused, words)
    under_way.enter(c.CorrectEntry(entry=moved.seq, reason="wrong zone"))
    for who in ("AB", "CD"):
        under_way.enter(counted(under_way.state), who)
    all_fated(under_way)
    signed = under_way.enter(c.SignOff(second="CD", confirmed=("counts",)), "AB").event
    assert isinstance(signed, e.CaseSignedOff)
    assert signed.left_open == ()


@pytest.mark.parametrize(
    "said", [{"open_because": "said too much"}, {"informed": "RS"}, {"open_because": "x", "informed": "RS"}]
)
def test_refuse_reason_for_nothing_open(under_way: Record, said: dict[str, str]):
    for who in ("AB", "CD"):
        under_way.enter(counted(under_way.state), who)
    all_fated(under_way)
    refused = under_way.refusal(c.SignOff(second="CD", **said), "AB")
    refuses(refused, "refuse_reason_for_nothing_open", "Sign off without a reason")
    left = e.LeftOpen(key="no-count", sentence="no final count", because="late", informed="RS")
    refused = under_way.refusal(c.SignOff(second="CD", left_open=(left,)), "AB")
    refuses(refused, "refuse_reason_for_nothing_open", "no-count is not open. Open: nothing")
    assert not under_way.tally.signed_off
    under_way.enter(c.SignOff(second="CD", open_because="", informed=""), "AB")


def test_what_is_left_open_is_recorded_by_name_with_its_own_reason_or_that_of_all(under_way: Record):
    under_way.enter(c.PlaceGrafts(zone="LINE", size="2", count=5))
    own = e.LeftOpen(key="misplaced:LINE:2", sentence="as shown", because=" wanted so ", informed=" RS ")
    closing = c.SignOff(second="CD", left_open=(own,), open_because="no time left", informed="EF")
    signed = under_way.enter(closing, "AB").event
    assert isinstance(signed, e.CaseSignedOff)
    assert signed.left_open is not None
    assert [(each.key, each.because, each.informed) for each in signed.left_open] == [
        ("misplaced:LINE:2", "wanted so", "RS"),
        ("no-count", "no time left", "EF"),
        ("no-fate", "no time left", "EF"),
    ]
    assert (signed.open_because, signed.informed) == (None, None)


@pytest.mark.parametrize(
    "said", [{"because": "a\u202eb", "informed": "RS"}, {"because": "late", "informed": "x" * 201}]
)
def test_refuse_unreadable_text_of_what_is_left_open(under_way: Record, said: dict[str, str]):
    left = e.LeftOpen(key="no-count", sentence="no final count", **said)
    refusal = under_way.refusal(c.SignOff(second="CD", left_open=(left,)), "AB")
    assert refusal.rule == "refuse_unreadable_text"


def test_an_older_sign_off_is_not_judged_by_what_must_be_named_now(under_way: Record):
    older = e.CaseSignedOff(second="CD")
    assert refusal_of(under_way.state, older, under_way.stamp(), OF_FORM) is None


def test_a_case_without_a_single_graft_needs_no_count():
    record = opened_case()
    record.enter(c.SignOff(second="CD"), "AB")
    assert record.tally.signed_off


def test_a_hand_count_of_the_group_closes_the_difference(under_way: Record):
    under_way.enter(counted(under_way.state, s2=39), "AB")
    under_way.enter(counted(under_way.state, s2=39), "CD")
    under_way.enter(c.CountDish(size="2", harvest="A", found=39))
    under_way.enter(c.ExplainMismatch(mismatch="counted:2:A", text="one fell to the floor"))
    all_fated(under_way)
    under_way.enter(c.SignOff(second="CD"), "AB")
    assert under_way.held("missing", "2") == 1


@settings(max_examples=25, suppress_health_check=list(HealthCheck))
@given(records(10), wild_entries(20))
def test_what_passes_the_rules_of_form_alone_can_be_summed_up_or_is_refused_in_a_sentence(
    record: Record, wild: list[e.Entry]
):
    for entry in wild:
        if refusal_of(record.state, entry.event, record.stamp(), OF_FORM) is None:
            record.take(entry.event)
    with suppress(OrroomError):  # a time that is in no calendar
        assert to_markdown(summarise(record.state))


def test_a_harvest_before_any_clock_began_can_be_summed_up():
    record = opened_case()
    record.take(e.HarvestStarted(harvest="A", started_at_ms=-7_200_001))
    record.take(e.GraftsCut(harvest="A", size="1", count=1), e.Stamp(at_ms=0, station="x", tap=1, who="AB"))
    assert to_markdown(summarise(record.state))


def test_every_rule_is_in_one_table():
    assert sorted(rule.__name__ for rule in RULES) == sorted({rule.__name__ for rule in RULES})
    assert set(OF_FORM) | set(OF_THE_MOMENT) == set(RULES)


def placed(record: Record, zone: str = "FRONT") -> int:
    """The number of an entry that placed 12 twos."""
    return record.enter(c.PlaceGrafts(zone=zone, size="2", count=12), station="placing-1").seq


def test_refuse_impossible_move(under_way: Record):
    rule, number = "refuse_impossible_move", placed(under_way)
    refuses(under_way.refusal(c.MovePlacing(entry=99, zone="MID")), rule, "no entry 99", "1 to")
    refuses(
        under_way.refusal(c.MovePlacing(entry=3, zone="MID")),
        rule,
        "Entry 3 placed no grafts",
        "number of one that did",
    )
    refuses(under_way.refusal(c.MovePlacing(entry=number, zone="FRONT")), rule, "already in FRONT")
    refuses(
        under_way.refusal(c.MovePlacing(entry=number, zone="X")), "refuse_unknown_zone", "LINE, FRONT, MID"
    )
    for wrong in (
        e.PlacingMoved(entry=number, from_zone="LINE", zone="MID", size="2", count=12),
        e.PlacingMoved(entry=number, from_zone="FRONT", zone="MID", size="2", count=11),
        e.PlacingMoved(entry=number, from_zone="FRONT", zone="MID", size="1", count=12),
    ):
        refuses(imported(under_way, wrong), rule, f"Entry {number} placed 12 of size 2 in FRONT.")
    under_way.enter(c.CorrectEntry(entry=number, reason="a slip"))
    refuses(under_way.refusal(c.MovePlacing(entry=number, zone="MID")), rule, "already cancelled")


def test_refuse_cancelling_what_was_moved(under_way: Record):
    rule, number = "refuse_cancelling_what_was_moved", placed(under_way)
    first = under_way.enter(c.MovePlacing(entry=number, zone="MID")).seq
    second = under_way.enter(c.MovePlacing(entry=number, zone="LINE")).seq
    for entry in (number, first):
        refusal = under_way.refusal(c.CorrectEntry(entry=entry, reason="a slip"))
        refuses(refusal, rule, f"Cancel entry {second} first", "to LINE")
    for entry in (second, first, number):  # the other way round each can be cancelled
        under_way.enter(c.CorrectEntry(entry=entry, reason="a slip"))
    assert not under_way.tally.placed


def test_refuse_plan_that_forgets_a_zone_that_a_move_came_from(under_way: Record):
    moved = under_way.enter(c.MovePlacing(entry=placed(under_way), zone="MID")).seq
    without = small_plan(zones=tuple(zone for zone in small_plan().zones if zone.key != "FRONT"))
    refusal = under_way.refusal(c.RevisePlan(plan=without, reason="smaller"))
    refuses(refusal, "refuse_plan_that_forgets", "Keep zone FRONT")
    under_way.enter(c.CorrectEntry(entry=moved, reason="it was right"))
    assert under_way.tally.placed == {("FRONT", "2"): 12}


def test_refuse_unknown_lane(under_way: Record):
    refuses(under_way.refusal(c.OpenLane(lane="A", by="GH")), "refuse_unknown_lane", "small letter", "'A'")
    issue = c.IssueGrafts(size="2", count=5, lane="a")
    refuses(under_way.refusal(issue), "refuse_unknown_lane", "Lane a is not open", "none")
    under_way.enter(c.OpenLane(lane="d", by="GH"))
    refuses(under_way.refusal(issue), "refuse_unknown_lane", "open are: d")
    care = c.GiveCare(care=PLACERS_CARE, lane="a")
    refuses(under_way.refusal(care), "refuse_unknown_lane", "Lane a is not open")


def test_refuse_lane_that_is_open(under_way: Record):
    under_way.enter(c.OpenLane(lane="a", by="GH"))
    refuses(under_way.refusal(c.OpenLane(lane="a", by="JK")), "refuse_lane_that_is_open", "Lane a is GH's")
    refuses(under_way.refusal(c.OpenLane(lane="d", by="GH")), "refuse_lane_that_is_open", "GH has lane a")
    for number, lane in enumerate("bcdef"):
        under_way.enter(c.OpenLane(lane=lane, by=f"P{number}"))
    refuses(under_way.refusal(c.OpenLane(lane="g", by="ZZ")), "refuse_lane_that_is_open", "6 lanes are open")


def test_refuse_handing_over_to_a_placer(under_way: Record):
    under_way.enter(c.OpenLane(lane="a", by="GH"))
    under_way.enter(c.OpenLane(lane="d", by="JK"))
    refusal = under_way.refusal(c.HandOverLane(lane="a", by="JK"))
    refuses(refusal, "refuse_handing_over_to_a_placer", "JK has lane d already")


def test_refuse_closing_a_lane_with_grafts(under_way: Record):
    under_way.enter(c.OpenLane(lane="a", by="GH"))
    under_way.enter(c.IssueGrafts(size="2", count=2, lane="a"))
    under_way.enter(c.PlaceGrafts(zone="FRONT", size="2", count=1, lane="a"))
    refusal = under_way.refusal(c.CloseLane(lane="a"))
    refuses(refusal, "refuse_closing_a_lane_with_grafts", "1 graft is in lane a", "hand the lane over")
    under_way.enter(c.ReturnGrafts(size="2", count=1, lane="a"))
    under_way.enter(c.CloseLane(lane="a"))
    assert under_way.tally.lanes == {}


def after_a_day() -> Record:
    record = opened_case(plan_after(day_1().state, small_plan(case="P7-2")))
    record.wait(1)
    return record


def test_refuse_cutting_what_was_kept():
    record = after_a_day()
    cut = c.CutGrafts(harvest="K1", size="2", count=1)
    refuses(record.refusal(cut), "refuse_cutting_what_was_kept", "(A, B), not K1")
    record.enter(c.CutGrafts(harvest="A", size="2", count=1))


def test_refuse_other_earlier_cases():
    record = after_a_day()
    forgets = c.RevisePlan(plan=small_plan(case="P7-2"), reason="without it")
    refuses(record.refusal(forgets), "refuse_other_earlier_cases", "P7-1")
    record.enter(c.RevisePlan(plan=replace(record.state.plan, title="again"), reason="with it"))


def test_refuse_zone_unlike_fate(under_way: Record):
    fate = c.GiveFate(size="2", harvest="A", place="dish", count=4, fate="placed extra")
    refuses(under_way.refusal(fate), "refuse_zone_unlike_fate", "LINE, FRONT, MID")
    for wrong in ({"into_zone": "MID"}, {"by": "CD"}):
        refuses(
            under_way.refusal(replace(fate, fate="kept", **wrong)), "refuse_zone_unlike_fate", "Leave out"
        )
    under_way.enter(replace(fate, into_zone="MID", by="CD"))


def test_refuse_fate_of_more_than_is_left(under_way: Record):
    fate = c.GiveFate(size="2", harvest="A", place="dish", count=41, fate="kept")
    refuses(under_way.refusal(fate), "refuse_fate_of_more_than_is_left", "40 of size 2", "no more than that")
    under_way.enter(c.GiveFate(size="2", harvest="A", place="dish", count=40, fate="kept"))


def test_refuse_answer_to_no_limit(under_way: Record):
    answer = c.AnswerLimit(limit="temperature:cold", done="ice added")
    refuses(under_way.refusal(answer), "refuse_answer_to_no_limit", "not answered: none")
    under_way.enter(c.GiveCare(care="cold", temperature_c=9.4))
    refuses(
        under_way.refusal(c.AnswerLimit(limit="with-placers", done="wetted")),
        "refuse_answer_to_no_limit",
        "holding solution 9.4 °C, too warm (limit 2 to 8 °C)",
    )
    under_way.enter(answer)
    refuses(under_way.refusal(answer), "refuse_answer_to_no_limit", "not answered: none")
