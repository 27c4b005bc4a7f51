"""The views of a case file: named, explained, in local time, and equal to the summary."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from cases import MORNING_MS, Record, opened_case, records, small_plan
from hypothesis import given, settings
from record.test_every_kind import in_sql

from orroom.case import commands as c
from orroom.case.plan import DensityTarget, Zone
from orroom.case.shapes import Ellipse, Outline, Trapezoid, Triangle
from orroom.record import opening
from orroom.record.case_file import CaseFile
from orroom.record.views import VIEWS
from orroom.summary.summary import summarise
from orroom.words.entries import UNDONE

FORMATS = Path(__file__).parents[1] / "recorded"


def rows(record: Record, view: str) -> list[dict[str, object]]:
    with closing(in_sql(record)) as connection:
        connection.row_factory = sqlite3.Row
        return [dict(row) for row in connection.execute(f"SELECT * FROM {view}")]


@pytest.mark.parametrize("view", VIEWS)
def test_every_column_of_a_view_is_explained_and_no_other(view: str):
    with closing(in_sql(opened_case())) as connection:
        columns = [row[1] for row in connection.execute(f"PRAGMA table_info({view})")]
    assert columns == list(VIEWS[view].columns)
    assert all(VIEWS[view].columns.values())


def shaped() -> Record:
    """Zones by density on each kind of shape, by counts, and without a target."""
    dense = DensityTarget(grafts_per_cm2=25, mix={"1": 0.3, "2": 0.33, "3": 0.37})
    shapes = (
        Ellipse(length_cm=5, width_cm=3),
        Trapezoid(front_cm=4, back_cm=6, depth_cm=1.5),
        Triangle(base_cm=3, height_cm=3.5),
        Outline(points_cm=((0, 0), (4, 0), (5, 3), (0, 2.5))),
    )
    zones = tuple(
        Zone(
            key=f"Z{place}",
            label=f"zone {place}",
            shape=each,
            density=dense,
        )
        for place, each in enumerate(shapes)
    )
    half = Zone(key="H", label="half", area_cm2=2.5, density=DensityTarget(grafts_per_cm2=1, mix={"1": 1}))
    bare = Zone(key="BARE", label="forehead", area_cm2=5, not_treated=True, order=1)
    record = opened_case(small_plan(zones=(*zones, half, bare)))
    record.enter(c.StartHarvest(harvest="A"))
    record.enter(c.CutGrafts(harvest="A", size="2", count=30))
    record.enter(c.PlaceGrafts(zone="Z1", size="2", count=9))
    return record


def are_equal(record: Record) -> bool:
    """Whether the views of plan, zones, hairs, sizes, notes and care say what the summary says."""
    summary = summarise(record.state)
    zones = rows(record, "zones")
    assert [each["zone"] for each in zones] == [each.zone for each in summary.zones]
    for row, zone in zip(zones, summary.zones, strict=True):
        assert (row["zone_name"], row["kind"], row["side"]) == (zone.label, zone.kind, zone.side)
        for name in VIEWS["zones"].columns.keys() & type(zone).model_fields.keys() - {"zone", "kind", "side"}:
            assert row[name] == pytest.approx(getattr(zone, name), abs=2e-4), (zone.zone, name)
    plan = {(row["zone"], row["size"]): row for row in rows(record, "plan")}
    for zone in summary.zones:
        for name in ("planned", "placed", "owed", "over"):
            found = {size: plan[zone.zone, size][name] for size in zone.planned if (zone.zone, size) in plan}
            assert {size: n for size, n in found.items() if n} == {
                size: n for size, n in getattr(zone, name).items() if n
            }
    for row, size in zip(rows(record, "hairs"), summary.sizes, strict=True):
        assert (row["size"], row["size_name"]) == (size.size, size.label)
        for name in ("hairs_per_graft", "hairs_planned", "hairs_placed", "hairs_usable"):
            assert row[name] == pytest.approx(getattr(size, name), abs=2e-4), name
    notes = [(row["seq"], row["who"], row["text"]) for row in rows(record, "notes")]
    assert notes == [(each.seq, each.who, each.text) for each in summary.notes]
    care = [(row["care_name"], row["temperature_c"]) for row in rows(record, "care_rounds")]
    return care == [(each.label, each.temperature_c) for each in summary.care_given]


def test_plans_of_every_shape_say_in_sql_what_the_summary_says():
    record = shaped()
    assert are_equal(record)
    assert next(row for row in rows(record, "plan") if row["zone"] == "H")["planned"] == 2  # 2.5, to even


@settings(max_examples=15)
@given(records())
def test_any_record_says_in_sql_what_the_summary_says(record: Record):
    assert are_equal(record)


def test_a_revised_plan_is_the_one_in_force():
    record = opened_case()
    fewer = Zone(key="LINE", label="front edge", area_cm2=5, targets={"1": 7})
    record.enter(c.RevisePlan(plan=small_plan(zones=(fewer, *small_plan().zones[1:])), reason="fewer"))
    assert are_equal(record)
    assert rows(record, "plan")[0]["zone_name"] == "front edge"


def test_times_are_by_the_clock_of_the_case_too():
    record = Record()
    record.enter(c.OpenCase(plan=small_plan(), utc_offset_minutes=330), "EF", station="desk")
    record.enter(c.AddNote(text="late"), at_ms=MORNING_MS + 16 * 3_600_000 + 1999)
    (note,) = rows(record, "notes")
    assert note["at_utc"] == "2026-01-05 23:30:01.999"
    assert note["at_local"] == "2026-01-06 05:00:01"  # whole seconds, the next day
    assert rows(record, "timeline")[-1]["at_local"] == note["at_local"]


def test_an_undone_tap_has_todays_word_for_its_reason():
    record = opened_case()
    record.enter(c.StartHarvest(harvest="A"))
    wrong = record.enter(c.CutGrafts(harvest="A", size="2", count=9))
    record.enter(c.TakeBack(role="cutting"))
    other = record.enter(c.CutGrafts(harvest="A", size="2", count=4))
    record.enter(c.CorrectEntry(entry=other.seq, reason="counted twice"))
    found = [(row["entry"], row["reason"]) for row in rows(record, "corrections")]
    assert found == [(wrong.seq, UNDONE), (other.seq, "counted twice")]


@pytest.mark.parametrize("number", [1, 2, 3, 4])
def test_an_old_file_has_all_of_todays_views_once_a_station_has_opened_it(number: int, tmp_path: Path):
    old, new = tmp_path / "old.orroom", tmp_path / "new.orroom"
    old.write_bytes((FORMATS / f"format-{number}.orroom").read_bytes())
    CaseFile.open(old).close()
    CaseFile.create(new).close()
    schema = "SELECT type, name, sql FROM sqlite_schema WHERE type = 'view' ORDER BY name"
    with closing(sqlite3.connect(old)) as one, closing(sqlite3.connect(new)) as other:
        texts = [
            [(name, " ".join(sql.split())) for _, name, sql in each.execute(schema)] for each in (one, other)
        ]
    opened, made = ([(name, sql.partition(" AS ")[2]) for name, sql in each] for each in texts)
    assert opened == made
    with closing(opening.reader(old)):  # known as a case file of today
        pass
