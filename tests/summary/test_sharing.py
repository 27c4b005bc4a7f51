"""What a summary leaves out before it is passed on, in every format."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, get_args

import pytest
from cases import MINUTE_MS, Record, case_under_way, opened_case, records, small_plan
from hypothesis import given, settings
from msgspec.structs import replace
from three_days import day_1, plan_after

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.closing import open_at_sign_off
from orroom.case.events import CountedGroup, EntriesLost, RecordDiffered
from orroom.case.evolve import fold
from orroom.case.final_count import groups_to_count
from orroom.case.mismatches import KINDS, mismatches
from orroom.case.plan import Limits, Person
from orroom.formats.csv_tables import to_csv_tables
from orroom.formats.fhir.bundle import to_fhir
from orroom.formats.json_text import to_json
from orroom.formats.summary_formats import to_html, to_markdown
from orroom.record.events_file import read_events
from orroom.summary.fields import Part, Text, is_moment, text_of
from orroom.summary.paper_count import read_paper
from orroom.summary.sharing import (
    BEGINNING_MS,
    KINDS_SAID,
    LEFT_OUT,
    shared,
)
from orroom.summary.summary import Summary, summarise, with_paper

SAMPLES = Path(__file__).parents[2] / "sample_cases"
#: Initials and words that no format uses of itself.
STAFF = {"QX": "cutting", "QY": "placing", "QZ": None}
WORD = "zebrafish"


def tables(summary: Summary) -> str:
    return "\n".join(to_csv_tables(summary).values())


def r5(summary: Summary) -> str:
    return to_fhir(summary, "r5")


def r4b(summary: Summary) -> str:
    return to_fhir(summary, "r4b")


FORMATS = (to_markdown, to_html, to_json, tables, r4b, r5)


def typed(what: str) -> str:
    return f"{WORD} {what}"


@pytest.fixture(scope="module")
def day() -> Summary:
    """A closed case in which every text that can be typed holds a word, and initials where there is room."""
    plan = small_plan(
        case="ZEBRAFISH-1",
        title=typed("title by QX"),
        cautions=(typed("caution of QX"),),
        staff=tuple(Person(initials=each, role=role) for each, role in STAFF.items() if role),
        **{
            name: tuple(replace(part, label=typed(part.key)) for part in getattr(small_plan(), name))
            for name in ("sizes", "zones", "harvests", "care")
        },
    )
    record = Record()

    def enter(command: c.Command, who: str = "QX", station: str = "cutting-1") -> int:
        record.wait(1)
        return record.enter(command, who, station=station).seq

    enter(c.OpenCase(plan=plan, utc_offset_minutes=60), "QZ")
    enter(c.StartHarvest(harvest="A"))
    for size, count in (("1", 30), ("2", 40), ("3", 20), ("M", 5)):
        enter(c.CutGrafts(harvest="A", size=size, count=count))
    wrong = enter(c.CutGrafts(harvest="A", size="1"))
    enter(c.CorrectEntry(entry=wrong, reason=typed("by QX")), "QY")
    enter(c.DivideGrafts(size="3", into=("1", "2")))
    enter(c.CheckSpot(subject="cutting", looked_at=5, faulty=1, fault=typed("fault, says QX")))
    enter(c.CheckSpot(subject="placing", looked_at=5, faulty=0, zone="LINE"), "QY")
    faults = tuple(e.FaultFound(fault=fault, count=1) for fault in ("turned", typed("fault of QX")))
    enter(c.CheckSpot(subject="placing", looked_at=5, faulty=2, whose="QX", faults=faults), "QY")
    enter(c.GiveCare(care="wet"), "QY")
    enter(c.PausePrompt(care="renew", minutes=10), "QY")
    enter(c.HandOver(left="QY"), "QW", "placing-1")
    enter(c.IssueGrafts(size="1", count=5), "QW", "placing-1")
    enter(c.PlaceGrafts(zone="LINE", size="1", count=41), "QW", "placing-1")
    enter(c.ExplainMismatch(mismatch="over:LINE:1", text=typed("asked by QY")), "QZ")
    enter(c.RevisePlan(plan=plan, reason=typed("QX asked")), "QZ")
    enter(c.StartBreak(), "QX")
    enter(c.EndBreak(), "QX")
    enter(c.AddNote(text=typed("QX, QY; (QZ) and QX's")), "QZ")
    for who, found in (("QX", 3), ("QY", 4)):
        groups = tuple(
            CountedGroup(size=each.size, harvest=each.harvest, place=each.place, found=found)
            for each in groups_to_count(record.state)
        )
        enter(c.CountAll(groups=groups, since=record.state.seq), who)
    for each_found in ("QZ and the ward", "QZ"):
        enter(c.SignOff(second="QV", open_because=typed("QV knows"), informed=each_found), "QZ")
        if each_found != "QZ":
            enter(c.ReopenCase(reason=typed("QX came back")), "QZ")
    return summarise(record.state, "0" * 64)


def test_the_whole_holds_what_the_levels_leave_out(day: Summary):
    for written in FORMATS[:5]:
        whole = written(day)
        assert re.search(r"\bQX\b", whole)
        assert WORD in whole
        assert "2026" in whole


@pytest.mark.parametrize("written", FORMATS)
def test_no_initials_are_in_any_format_once_people_are_left_out(day: Summary, written: Any):
    for level in ("roles", "anonymous"):
        assert re.findall(r"\bQ[VWXYZ]\b", written(shared(day, level))) == []


@pytest.mark.parametrize("written", FORMATS)
def test_nothing_typed_and_no_date_is_in_any_format_of_an_anonymous_summary(day: Summary, written: Any):
    shown = written(shared(day, "anonymous"))
    assert WORD not in shown.lower()
    assert not re.search(r"2026-\d\d-\d\d", shown)  # an id may hold 2026 too
    assert "0" * 64 not in shown
    assert not re.search(r"\bLINE\b|\bFRONT\b|\bMID\b", shown)


def test_every_figure_stays(day: Summary):
    for level in ("roles", "anonymous"):
        summary = shared(day, level)
        for name in ("in_all", "adds_up", "drying", "donor", "entries", "status"):
            assert getattr(summary, name) == getattr(day, name)
        for name in (
            "sizes",
            "zones",
            "harvests",
            "out_of_body",
            "quality",
            "care",
            "progress",
            "mismatches",
        ):
            assert len(getattr(summary, name)) == len(getattr(day, name))
        assert sum(each.entries for each in summary.people) == day.entries
        assert shared(summary, "full") is summary


def test_people_of_one_role_are_told_together(day: Summary):
    summary = shared(day, "roles")
    assert [(each.who, each.entries) for each in summary.people] == [
        ("cutting", 11),
        ("other", 10),
        ("placing", 6),
    ]
    assert (summary.pace_by_person, summary.quality_by_person) == ((), ())
    assert summary.signed_off is not None
    assert summary.final_count is not None
    assert (summary.final_count.first_by, summary.final_count.second_by) == ("cutting", "placing")
    assert (summary.signed_off.who, summary.signed_off.second) == ("other", "other")
    assert summary.left_open[-1].informed == "other"


def test_an_anonymous_case_counts_from_its_opening(day: Summary):
    summary = shared(day, "anonymous")
    assert (summary.opened, summary.utc_offset_minutes) == (BEGINNING_MS, 0)
    assert summary.last_entry - summary.opened == day.last_entry - day.opened
    assert [each.out_ms for each in summary.waiting_curve] == [each.out_ms for each in day.waiting_curve]
    assert [(each.label, each.kind) for each in summary.zones] == [
        ("zone 1", None),
        ("zone 2", None),
        ("zone 3", None),
    ]
    assert [each.label for each in summary.care] == ["wetting 1", "changing solution 2", "temperature 3"]
    assert [each.label for each in summary.sizes] == ["1 hair", "2 hairs", "3 hairs", "multi-unit"]
    assert [each.mismatch for each in summary.mismatches] == ["short:1", "over:2"]
    assert [each.explanation for each in summary.mismatches] == [None, "left out"]
    assert summary.signed_off is not None
    assert [
        (each.mismatch, each.sentence, each.open_because, each.informed) for each in summary.left_open[-3:]
    ] == [
        ("difference:10", "a difference in the final count", "left out", "other"),
        ("no-fate:11", "grafts left whose fate is not entered", "left out", "other"),
        ("short:1", "more taken than put in", "left out", "other"),
    ]
    assert {each.explanation for each in summary.counted} >= {"miscount"}


def test_a_page_says_at_which_level_it_is(day: Summary):
    for written in (to_markdown, to_html):
        assert "Shared without" not in written(day)
        assert "Shared without people: roles" in written(shared(day, "roles"))
        assert "Shared without people, dates and typed words" in written(shared(day, "anonymous"))


def test_a_record_that_is_not_intact_stays_so_at_every_level():
    summary = summarise(case_under_way().state, None, "Entry 3 is missing.")
    for level in ("full", "roles", "anonymous"):
        assert "NOT INTACT. Entry 3 is missing." in shared(summary, level).cautions[0]


def parts(kind: type[Part], seen: set[type[Part]]) -> Iterator[type[Part]]:
    if kind in seen:
        return
    seen.add(kind)
    yield kind
    for field in kind.model_fields.values():
        for each in (field.annotation, *get_args(field.annotation)):
            if isinstance(each, type) and issubclass(each, Part):
                yield from parts(each, seen)


def test_a_text_is_what_somebody_typed_unless_its_field_says_otherwise():
    class Unsaid(Part):
        word: str
        perhaps: str | None
        number: int

    assert [text_of(each) for each in Unsaid.model_fields.values()] == [Text.TYPED, Text.TYPED, None]
    fields = [each for part in parts(Summary, set()) for each in part.model_fields.items()]
    assert {name for name, field in fields if text_of(field) is Text.OURS} == {
        *("case", "contradiction", "fate", "into", "seal", "measure", "not_intact", "out_of_body_reference"),
        *("place", "remark_on_harvests", "role", "size", "unit", "version", "work"),
    }


def test_every_time_of_day_is_known_as_one():
    schema = json.dumps(Summary.model_json_schema(mode="serialization"))
    fields = [each for part in parts(Summary, set()) for each in part.model_fields.values()]
    assert sum(map(is_moment, fields)) == schema.count("date-time") > 10


def test_every_kind_of_mismatch_has_words_of_its_own():
    record = case_under_way()
    record.enter(c.TellClockStep(by_ms=3_600_000))
    record.take(EntriesLost(count=4))
    record.take(RecordDiffered(anchored=19, expected_hash="a" * 64, found_hash=None, same=9, last=17))
    record.enter(c.MakeSites(zone="LINE", count=1))
    record.enter(c.CutGrafts(harvest="B", size="2", count=5))
    record.enter(c.CountDish(size="2", harvest="A", found=20))
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=41))
    record.enter(c.PlaceGrafts(zone="LINE", size="2", count=1))
    record.enter(c.ReseatGraft(zone="MID"))
    record.enter(c.CutGrafts(harvest="A", size="2", count=1), at_ms=record.now_ms - 90 * MINUTE_MS)
    record.enter(c.RevisePlan(plan=plan_after(day_1().state, record.state.plan), reason="a second day"))
    found = {each.key.split(":")[0] for each in mismatches(record.state)}
    assert found == set(KINDS)
    opened = {each.key.split(":")[0] for each in open_at_sign_off(record.state)}
    for who in ("AB", "CD"):
        groups = tuple(
            CountedGroup(size=each.size, harvest=each.harvest, place=each.place, found=3)
            for each in groups_to_count(record.state)
        )
        record.enter(c.CountAll(groups=groups, since=record.state.seq), who)
    opened |= {each.key.split(":")[0] for each in open_at_sign_off(record.state)}
    opened |= {each.key.split(":")[0] for each in open_at_sign_off(with_broken_limits().state)}
    assert opened == set(KINDS_SAID)


def with_broken_limits() -> Record:
    """A case that broke each kind of limit."""
    record = case_under_way()
    record.enter(c.GiveCare(care="cold", temperature_c=9.0))
    record.enter(c.IssueGrafts(size="1", count=1))
    record.wait(3)
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=1))
    limits = Limits(with_placers_seconds=120, out_of_body_hours=1)
    record.enter(c.RevisePlan(plan=replace(record.state.plan, limits=limits), reason="a limit"))
    return record


def test_what_was_done_about_a_limit_is_left_out_where_it_may_name_somebody():
    record = with_broken_limits()
    record.enter(c.AnswerLimit(limit="temperature:cold", done="AB added ice"), "AB")
    whole = summarise(record.state)
    assert [(each.limit, each.done, each.who) for each in whole.broken_limits] == [
        ("out-of-body:A", None, None),
        ("temperature:cold", "AB added ice", "AB"),
        ("with-placers", None, None),
    ]
    by_role, nobody = (shared(whole, level).broken_limits for level in ("roles", "anonymous"))
    assert [(each.done, each.who) for each in by_role] == [
        (None, None),
        ("cutting added ice", "cutting"),
        (None, None),
    ]
    assert [(each.limit, each.sentence, each.done, each.who) for each in nobody] == [
        ("out-of-body:1", "grafts out of the body for too long", None, None),
        ("temperature:2", "temperature outside its band", LEFT_OUT, "cutting"),
        ("with-placers:3", "grafts with the placers for too long", None, None),
    ]


@settings(max_examples=12, deadline=None)
@given(records())
def test_any_record_can_be_shared(record: Record):
    summary = summarise(record.state)
    for level in ("roles", "anonymous"):
        less = shared(summary, level)
        assert Summary.model_validate_json(to_json(less)) == less
        for written in (to_markdown, tables):
            assert not re.search(r"\b(AB|CD|EF|GH)\b", written(less))


def test_the_recorded_days_keep_nobody():
    summary = summarise(fold(read_events(SAMPLES / "hairline" / "events.jsonl")))
    people = "|".join(each.who for each in summary.people)
    assert len(summary.people) > 3
    for level in ("roles", "anonymous"):
        assert not re.search(rf"\b({people})\b", to_markdown(shared(summary, level)))


def test_times_are_moved_by_whole_milliseconds(day: Summary):
    summary = shared(day, "anonymous")
    for mine, theirs in zip(summary.care_given, day.care_given, strict=True):
        assert mine.at - summary.opened == theirs.at - day.opened >= MINUTE_MS


def test_a_paper_that_contradicts_itself_is_flagged_at_every_level(day: Summary):
    found = with_paper(day, read_paper("size,grafts,hairs\n2,10,10\n", "paper.csv"))
    for level in ("full", "roles", "anonymous"):
        assert any("contradicts itself" in each for each in shared(found, level).cautions)
        for written in (to_markdown, to_html, to_json, tables, r4b, r5):
            assert "paper count contradicts itself" in written(shared(found, level))


def test_who_was_told_is_nobody_known_where_the_case_does_not_know_them(day: Summary):
    unknown = (day.left_open[-1].model_copy(update={"informed": "YY"}),)
    for level, left in (("roles", "other"), ("anonymous", "left out")):
        less = shared(day.model_copy(update={"left_open": unknown}), level)
        assert [each.informed for each in less.left_open] == [left]


def test_people_of_an_earlier_plan_are_known():
    record = case_under_way()
    gone = small_plan(staff=small_plan().staff[:1])
    record.enter(c.RevisePlan(plan=gone, reason="CD and EF went home"))
    summary = summarise(record.state)
    assert {each.who: each.role for each in summary.people} == {
        "AB": "cutting",
        "CD": "placing",
        "EF": "record",
    }
    assert shared(summary, "roles").revisions[0].reason == "placing and record went home"


def test_earlier_sign_offs_stay_with_reason_and_who_was_told(day: Summary):
    assert day.signed_off is not None
    earlier = [each for each in day.left_open if each.at != day.signed_off.at]
    assert {each.informed for each in earlier} == {"QZ and the ward"}
    assert {each.informed for each in day.left_open if each.at == day.signed_off.at} == {"QZ"}
    for written in FORMATS:
        assert "QZ and the ward" in written(day)
    assert shared(day, "roles").left_open[0].informed == "other and the ward"
    assert {each.open_because for each in shared(day, "anonymous").left_open} == {"left out"}


def test_what_is_projected_is_named_by_its_key_however_it_is_labelled():
    plan = small_plan()
    plan = replace(
        plan,
        sizes=(replace(plan.sizes[0], label="same"), *plan.sizes[1:]),
        harvests=tuple(
            replace(harvest, label=label)
            for harvest, label in zip(plan.harvests, ("same", "in all"), strict=True)
        ),
    )
    record = opened_case(plan)
    for harvest in "AB":
        record.enter(c.StartHarvest(harvest=harvest, minutes_ago=60))
        for number in (30, 20):
            record.wait(3)
            record.enter(c.CutGrafts(harvest=harvest, size="1", count=number))
            record.enter(c.FinishSegment(harvest=harvest))
    summary = summarise(record.state)
    assert [(each.size, each.harvest) for each in summary.projected] == [
        (None, None),
        *((size, None) for size in "123M"),
        (None, "A"),
        (None, "B"),
    ]
    whats = [each.what for each in shared(summary, "anonymous").projected]
    assert whats == ["in all", "1 hair", "2 hairs", "3 hairs", "multi-unit", "harvest 1", "harvest 2"]


def test_readers_of_roles_are_told_that_a_role_may_be_one_person(day: Summary):
    assert "A role held by one person identifies that person." in to_markdown(shared(day, "roles"))


def test_whose_work_was_looked_at_is_left_out_and_faults_in_our_own_words_are_not(day: Summary):
    assert {each.who for each in day.faults_by_person} == {"QX"}
    for level in ("roles", "anonymous"):
        summary = shared(day, level)
        assert summary.faults_by_person == ()
        assert "QX" not in {each.whose for each in summary.spot_checks}
        assert "turned" in {each.fault for each in summary.faults}
    assert LEFT_OUT in {each.fault for each in shared(day, "anonymous").faults}
