"""Every file format that was ever written goes on opening: a recorded file of each is in ``formats``."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from cases import small_plan
from msgspec.structs import fields, replace
from stations import read_case

from orroom.case import rules
from orroom.case.commands import FinishSegment, MovePlacing
from orroom.case.decide import decide
from orroom.case.events import (
    EVENT_KINDS,
    BreakPlanned,
    CareGiven,
    CaseOpened,
    Event,
    GraftsDivided,
    NoteAdded,
    SegmentCut,
    SpotChecked,
    Stamp,
)
from orroom.case.evolve import fold
from orroom.case.plan import CareRound, Donor, Harvest, Limits, Plan, Size, Zone
from orroom.case.state import CaseState
from orroom.files import plan_rules
from orroom.files.plan_rules import Finding, Raw
from orroom.formats.json_text import to_json
from orroom.record.case_file import CaseFile
from orroom.record.encoding import ADDED_LATER, body_of, compact, event_of, lines_of
from orroom.record.events_file import read_events
from orroom.record.schema import FILE_FORMAT
from orroom.record.upgrades import UPGRADES
from orroom.record.verify import verify
from orroom.recording import record_all, record_once
from orroom.summary.summary import summarise

FORMATS = Path(__file__).parents[1] / "recorded"


RECORDED = sorted(FORMATS.glob("*.orroom"))


def test_a_file_of_every_format_was_recorded_and_its_every_kind_of_entry_in_one_of_them():
    known = {each.name for each in RECORDED}
    assert known >= {f"format-{number}.orroom" for number in range(1, FILE_FORMAT + 1)}
    for case in RECORDED:
        with closing(sqlite3.connect(f"{case.as_uri()}?immutable=1", uri=True)) as reader:
            assert reader.execute("PRAGMA user_version").fetchone() == (int(case.stem.split("-")[1]),)
    assert len({entry.event.kind for case in RECORDED for entry in read_case(case).log}) >= 33


@pytest.mark.parametrize("case", RECORDED, ids=lambda case: case.stem)
def test_a_recorded_file_opens_and_says_the_same_as_its_export(case: Path, tmp_path: Path):
    state = read_case(case)
    assert verify(case).intact
    exported = case.with_suffix(".jsonl")
    assert to_json(summarise(state)) == to_json(summarise(fold(read_events(exported))))
    copy = tmp_path / case.name
    with CaseFile.create(copy) as imported:
        record_all(imported, read_events(exported), exported.name)
    assert read_case(copy) == state


def test_the_recorded_file_of_format_1_has_a_size_below_nothing():
    state = read_case(FORMATS / "format-1.orroom")
    assert (state.tally.held("placed"), state.tally.held("dish", "3")) == (400, -1)


def test_a_rule_that_came_later_refuses_a_tap_and_no_record_made_before_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    def refuse_short_segment(state: CaseState, event: SegmentCut, stamp: Stamp) -> str | None:
        """A segment is at least 20 mm long."""
        return "Measure it again." if event.length_mm is not None and event.length_mm < 20 else None

    def refuse_small_plan(raw: Raw) -> Iterator[Finding]:
        """A plan of few zones."""
        yield Finding(("zones",), "are too few", "give more")

    monkeypatch.setattr(rules, "OF_THE_MOMENT", (*rules.OF_THE_MOMENT, refuse_short_segment))
    monkeypatch.setattr(rules, "RULES", (*rules.RULES, refuse_short_segment))
    monkeypatch.setattr(plan_rules, "RULES", (*plan_rules.RULES, refuse_small_plan))
    recorded = FORMATS / "format-1-every-kind.jsonl"
    case = tmp_path / "case.orroom"
    with CaseFile.create(case) as imported:
        record_all(imported, read_events(recorded), recorded.name)
    state = read_case(case)
    assert any(isinstance(each.event, SegmentCut) and each.event.length_mm == 14.5 for each in state.log)
    tap = FinishSegment(harvest="B", length_mm=14.5)
    assert "Measure it again" in str(
        decide(state, tap, Stamp(state.log[-1].stamp.at_ms, "cutting-9", 1, "AB"))
    )


def test_a_file_of_an_earlier_format_gets_todays_views_when_a_station_opens_it(tmp_path: Path):
    case = tmp_path / "old.orroom"
    case.write_bytes((FORMATS / "format-1.orroom").read_bytes())
    before = read_case(case)
    with CaseFile.open(case) as case_file:
        record_once(case_file, MovePlacing(entry=49, zone="HR"), "GH")
    with closing(sqlite3.connect(case)) as reader:
        by_zone = {(row[0], row[1]): row[2] for row in reader.execute("SELECT * FROM tally_by_zone")}
        assert reader.execute("PRAGMA user_version").fetchone() == (FILE_FORMAT,)
    assert by_zone == read_case(case).tally.placed
    assert by_zone[("HR", "2")] == 80
    assert list(read_case(case).log)[:-1] == list(before.log)
    assert verify(case).intact


@pytest.mark.parametrize(
    ("event", "written"),
    [
        (SegmentCut(harvest="A", segment=1), ["lot", "segment"]),
        (SegmentCut(harvest="A", segment=1, length_mm=9.5), ["lot", "segment", "length_mm"]),
        (
            SpotChecked(subject="cutting", zone=None, looked_at=3, faulty=0, fault=None),
            ["subject", "zone", "looked_at", "faulty", "fault"],
        ),
        (
            SpotChecked(
                subject="cutting", zone=None, looked_at=3, faulty=0, fault=None, follicles=9, transected=0
            ),
            ["subject", "zone", "looked_at", "faulty", "fault", "follicles", "transected"],
        ),
    ],
)
def test_fields_that_came_later_are_written_only_where_they_hold_something(event: Event, written: list[str]):
    body = body_of(event)
    assert list(body) == written
    assert event_of(event.kind, json.dumps(body)) == event


def test_a_plan_without_what_came_later_is_written_as_before():
    harvests = (
        Harvest(key="A", label="strip", segments=4),
        Harvest(key="B", label="strip", segments=4, strip_length_mm=9),
    )
    opened = CaseOpened(plan=small_plan(harvests=harvests), utc_offset_minutes=0)
    body = body_of(opened)
    assert [list(harvest) for harvest in body["plan"]["lots"]] == [
        ["key", "label", "segments"],
        ["key", "label", "segments", "strip_length_mm"],
    ]
    assert event_of("case_opened", json.dumps(body)) == opened
    zone = ["key", "label", "kind", "area_cm2", "shape", "order", "side", "neighbours", "targets", "density"]
    assert [list(each) for each in body["plan"]["zones"]] == [[*zone, "allowed"]] * 3
    first = [
        "format",
        "case",
        "title",
        "sizes",
        "zones",
        "lots",
        "donor",
        "care",
        "limits",
        "staff",
        "cautions",
    ]
    assert list(body["plan"]) == first


def test_what_a_plan_says_since_is_written_and_read():
    zone = replace(
        small_plan().zones[1],
        existing_hairs_per_cm2=40,
        upper_arc=True,
        least_hairs_per_cm2=15,
        most_grafts_per_cm2=30,
    )
    bare = Zone(key="BARE", label="forehead", area_cm2=5, not_treated=True)
    limits = replace(small_plan().limits, least_site_mm=1)
    plan = small_plan(zones=(zone, bare), limits=limits, combing_side="left", raise_share=1)
    opened = CaseOpened(plan=plan, utc_offset_minutes=0)
    body = compact(body_of(opened))
    assert event_of("case_opened", body) == opened
    assert compact(body_of(event_of("case_opened", body))) == body
    assert '"existing_hairs_per_cm2":40.0' in body


def test_what_came_later_has_a_default_so_that_what_came_before_still_reads():
    parts = (*EVENT_KINDS.values(), Plan, Size, Zone, Harvest, Donor, CareRound, Limits)
    assert {
        each.encode_name for part in parts for each in fields(part) if each.default is None
    } >= ADDED_LATER
    assert Harvest(key="A", label="harvest A").strip_length_mm is None


@pytest.mark.parametrize("case", RECORDED, ids=lambda case: case.stem)
def test_entries_of_every_recorded_file_are_written_as_they_were(case: Path):
    """But for the first, whose plan holds what plans may say today."""
    recorded = case.with_suffix(".jsonl")
    assert lines_of(read_events(recorded)[1:]) == recorded.read_text("utf-8").split("\n", 1)[1]


def test_a_whole_number_for_a_measure_is_kept_as_it_is_read_back():
    whole = (
        SegmentCut(harvest="A", segment=1, length_mm=12),
        GraftsDivided(size="2", into=("1", "1"), count=1, hairs_lost=0, drawn=()),
        CareGiven(care="cold", due_at_ms=None, temperature_c=4),
        BreakPlanned(work=None, starts_at_ms=0, minutes=15),
    )
    for event in whole:
        body = compact(body_of(event))
        assert compact(body_of(event_of(event.kind, body))) == body
        assert ".0" in body


def test_every_measure_of_an_event_is_listed_as_one():
    for kind in EVENT_KINDS.values():
        floats = {each.name for each in fields(kind) if each.type in {float, float | None}}
        assert floats == set(getattr(kind, "measures", ())), kind


def test_a_body_of_an_earlier_version_is_read_as_one_of_today(monkeypatch: pytest.MonkeyPatch):
    def remark_became_text(body: dict) -> dict:
        return {"text": body["remark"]} if "remark" in body else body

    monkeypatch.setitem(UPGRADES, "note_added", (remark_became_text,))
    assert event_of("note_added", '{"remark":"ice"}') == NoteAdded(text="ice")
    assert event_of("note_added", '{"text":"ice"}') == NoteAdded(text="ice")
