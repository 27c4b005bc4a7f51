"""Cases kept together: whole, once, without names; and what they come to, against other tools' figures."""

from __future__ import annotations

import csv
import errno
import hashlib
import io
import json
import math
import os
import re
import shutil
import subprocess
import sys
from collections import Counter
from contextlib import closing
from datetime import date
from itertools import pairwise
from pathlib import Path

import pytest
from archived import add, closed_day, written
from cases import EVERY_KIND, MORNING_MS, UNCOUNTED, Record, opened_case, small_plan, wild_entries
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from stations import new_case

from orroom.archive import anonymous, case_row, catalogue
from orroom.archive.across import MEASURES, Across, across, over, read_cases
from orroom.archive.adding import Archive
from orroom.archive.events_table import write_events
from orroom.archive.groups import FEWEST_SHOWN, Case, groups
from orroom.archive.intervals import (
    mean_of,
    median_of,
    middle_half,
    pooled_pace,
    pooled_share,
    share_of_cases,
)
from orroom.archive.parquet import database, reason
from orroom.archive.pseudonyms import KEY_SUFFIX, beside
from orroom.archive.report_chart import by_month, one_by_one
from orroom.archive.report_csv import to_csv
from orroom.archive.report_page import to_html, to_text
from orroom.case import commands as c
from orroom.case.events import Entry, Stamp
from orroom.case.evolve import fold
from orroom.case.plan import Zone
from orroom.case.state import CaseState
from orroom.case.terms import DISCARD_REASONS, ROLES, SIZE_KEYS, WORKS
from orroom.cli import main
from orroom.errors import OrroomError
from orroom.formats.drawing import Words, breadth
from orroom.formats.html import POLICY
from orroom.formats.svg import BOTTOM, HEIGHT, TOP, drawn
from orroom.record.case_file import CaseFile
from orroom.record.events_file import read_events
from orroom.recording import record_once
from orroom.summary.summary import Summary, summarise
from orroom.words.entries import entry_words

MONTH_MS = 2_629_800_000
SECRETS = ("SECRET-7", "a day of Somebody", "Somebody coughed", "his own", "CD", "EF", "AB")


def told_of(path: Path) -> tuple[CaseState, Summary]:
    with CaseFile.open(path, read_only=True) as case_file:
        state = fold(case_file.entries_after(0))
    return state, summarise(state)


def asked(folder: Path, select: str) -> list[tuple[object, ...]]:
    """What another DuckDB, without our settings, finds in the files of an archive."""
    import duckdb

    return duckdb.connect().execute(select.replace("@", str(folder))).fetchall()


def orroom(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(each) for each in arguments])


@pytest.fixture(scope="module")
def days(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    folder = tmp_path_factory.mktemp("cases")
    return [written(folder / f"{number}.orroom", closed_day(number)) for number in range(10)]


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory, days: list[Path]) -> Path:
    folder = tmp_path_factory.mktemp("kept") / "it's [all] of them"
    add(folder, *days[:7], site="north")
    add(folder, *days[7:], site="south")
    return folder


# All entries of a case as a table.


def test_a_table_of_events_holds_every_entry_typed_and_in_order(days: list[Path], tmp_path: Path):
    output = tmp_path / "it's [one].parquet"
    state, _ = told_of(days[3])
    assert write_events(days[3], output) == len(state.log)
    assert output.stat().st_mode & 0o777 == 0o600
    name = str(output).replace("[", "[[]").replace("'", "''")
    found = asked(
        tmp_path,
        "SELECT seq, epoch_ms(at_utc), station, station_tap, who, kind, size, harvest, zone, count "
        f"FROM read_parquet('{name}')",
    )
    named = ("size", "harvest", "zone", "count")
    assert found == [
        (
            each.seq,
            each.stamp.at_ms,
            each.stamp.station,
            each.stamp.tap,
            each.stamp.who,
            each.event.kind,
            *(getattr(each.event, name, None) for name in named),
        )
        for each in state.log
    ]
    types = dict(asked(tmp_path, f"SELECT column_name, column_type FROM (DESCRIBE FROM '{name}')"))
    assert types["at_utc"] == "TIMESTAMP WITH TIME ZONE"
    assert types["count"] == "INTEGER"
    assert types["body"] == "JSON"


def test_cancelled_entries_are_marked_in_the_table_as_in_the_archive(tmp_path: Path):
    record = opened_case()
    cut = [record.enter(c.CutGrafts(harvest="A", size="2", count=count)) for count in (9, 4, 1)]
    record.enter(c.CorrectEntry(entry=cut[1].seq, reason="counted twice"))
    record.enter(c.TakeBack(role="cutting"))
    write_events(written(tmp_path / "case.orroom", record), tmp_path / "events.parquet")
    table = "FROM '@/events.parquet'"
    assert asked(tmp_path, f"SELECT sum(count) {table} WHERE kind = 'grafts_cut' AND stands") == [(9,)]
    marked = [(each.seq, record.state.stands(each)) for each in record.state.log]
    assert asked(tmp_path, f"SELECT seq, stands {table} ORDER BY seq") == marked
    assert "stands" in anonymous.COLUMNS


def test_what_an_entry_names_is_called_as_the_plan_called_it_then(tmp_path: Path):
    record = opened_case()
    record.enter(c.StartHarvest(harvest="A"))
    record.enter(c.CutGrafts(harvest="A", size="1", count=3))
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=2), "CD")
    names = "size_name, harvest_name, zone_name"
    plan = record.state.tally.plan
    renamed = replace(plan, sizes=(replace(plan.sizes[0], label="single"), *plan.sizes[1:]))
    record.enter(c.RevisePlan(plan=renamed, reason="a better word"))
    record.enter(c.CutGrafts(harvest="A", size="1", count=1))
    write_events(written(tmp_path / "case.orroom", record), tmp_path / "events.parquet")
    named = f"SELECT {names} FROM '@/events.parquet' WHERE count IS NOT NULL ORDER BY seq"
    size, harvest, zone = plan.sizes[0].label, plan.harvests[0].label, plan.zones[0].label
    assert asked(tmp_path, named) == [(size, harvest, None), (size, None, zone), ("single", harvest, None)]


def test_an_entry_is_in_the_table_in_the_words_that_screens_have(tmp_path: Path):
    """Also a cancelled one, and in the plan's words of then; an archive has none of them."""
    record = opened_case()
    record.enter(c.CutGrafts(harvest="A", size="2", count=4))
    record.enter(c.TakeBack(role="cutting"))
    record.enter(c.AddNote(text="dressing changed"))
    write_events(written(tmp_path / "case.orroom", record), tmp_path / "events.parquet")
    words = [text for (text,) in asked(tmp_path, "SELECT words FROM '@/events.parquet' ORDER BY seq")]
    assert words == [entry_words(each.event, record.state.plan) for each in record.state.log]
    assert words[0] == "case SMALL-1 opened"
    assert words[-1] == "note: dressing changed"
    assert "words" not in anonymous.COLUMNS


def test_no_millisecond_of_a_case_gets_into_an_archive(tmp_path: Path):
    """The remainder of a time typed in minutes would give the moment of the opening away."""
    record = Record(now_ms=MORNING_MS + 303)
    record.enter(c.OpenCase(plan=small_plan()), "EF")
    record.now_ms += 58_697
    record.enter(c.StartHarvest(harvest="A", minutes_ago=5))
    rows = list(anonymous.anonymous_entries(record.state, "x", keep_dates=False))
    times = [row[name] for row in rows for name in ("after_ms", "harvested_after_ms")]
    assert [each for each in times if each is not None and each % 1000] == []
    assert times == [0, None, 59_000, -241_000]


def test_the_chain_can_be_checked_from_the_table_alone(days: list[Path], tmp_path: Path):
    write_events(days[0], tmp_path / "events.parquet")
    before = "0" * 64
    for *row, hash_before, kept in asked(
        tmp_path,
        "SELECT seq, epoch_ms(at_utc), station, station_tap, who, kind, body, hash_before, hash "
        "FROM '@/events.parquet'",
    ):
        assert hash_before == before
        text = json.dumps([before, *row], separators=(",", ":"), ensure_ascii=False)
        assert kept == hashlib.sha256(text.encode()).hexdigest()
        before = kept


def test_the_same_case_gives_the_same_bytes(days: list[Path], tmp_path: Path):
    for name in ("a.parquet", "b.parquet"):
        write_events(days[1], tmp_path / name)
    assert (tmp_path / "a.parquet").read_bytes() == (tmp_path / "b.parquet").read_bytes()


def test_milliseconds_are_kept(tmp_path: Path):
    record = opened_case()
    record.enter(c.AddNote(text="now"), at_ms=MORNING_MS + 5123)
    write_events(written(tmp_path / "case.orroom", record), tmp_path / "events.parquet")
    assert asked(tmp_path, "SELECT max(epoch_ms(at_utc)) FROM '@/events.parquet'") == [(MORNING_MS + 5123,)]


def test_no_table_is_written_over_another_or_where_none_can_be(days: list[Path], tmp_path: Path):
    (tmp_path / "there").write_text("mine")
    with pytest.raises(OrroomError, match="already exists"):
        write_events(days[0], tmp_path / "there")
    with pytest.raises(OrroomError, match="cannot be written: No such file"):
        write_events(days[0], tmp_path / "nowhere" / "events.parquet")
    with pytest.raises(OrroomError, match="not an orroom case file"):
        write_events(tmp_path / "there", tmp_path / "events.parquet")
    assert [each.name for each in tmp_path.iterdir()] == ["there"]


def test_duckdb_fetches_and_loads_nothing():
    import duckdb

    with closing(database()) as connection, pytest.raises(duckdb.Error):
        connection.execute("FROM sqlite_scan('case.orroom', 'entry')")
    with closing(database()) as connection:
        on = "SELECT count(*) FROM duckdb_settings() WHERE name LIKE 'auto%known%' AND value = 'true'"
        assert connection.execute(on).fetchone() == (0,)


def test_without_duckdb_it_is_said_what_to_install(monkeypatch: pytest.MonkeyPatch, tmp_path: Path):
    monkeypatch.setitem(sys.modules, "duckdb", None)
    result = orroom("archive", "add", tmp_path / "case.orroom", "--to", tmp_path / "kept")
    assert result.exit_code == 1
    assert "pip install 'orroom[archive]'" in result.stderr
    assert not (tmp_path / "kept").exists()


# What is kept of a case.


def test_the_sums_of_an_archive_are_those_of_the_summaries(archive: Path, days: list[Path]):
    with closing(database()) as connection:
        rows = connection.execute(
            "FROM read_parquet($1)", [str(archive).replace("[", "[[]") + "/events/*/*/*.parquet"]
        ).df()
        totals = catalogue.rows(
            connection, archive, "SELECT sum(placed), sum(placed_2), sum(cut_1), sum(transected) FROM kept"
        )
    standing = rows[rows.stands]
    placed = standing[standing.kind == "grafts_placed"].groupby("size")["count"].sum().to_dict()
    cut = standing[standing.kind == "grafts_cut"].groupby("size")["count"].sum().to_dict()
    found = [told_of(each)[1] for each in days]
    by_size = {
        size: sum(each.placed for one in found for each in one.sizes if each.size == size) for size in "123"
    }
    assert placed == by_size
    assert cut["1"] == sum(3 * (14 + number) for number in range(10))
    assert totals == [
        (
            sum(each.in_all.placed for each in found),
            by_size["2"],
            sum(each.cut_in_all for one in found for each in one.sizes if each.size == "1"),
            sum(1 + number % 3 for number in range(10)),
        )
    ]


def test_a_row_is_what_the_summary_tells(days: list[Path]):
    state, found = told_of(days[3])
    row = case_row.case_row(state, "id", "mark", keep_dates=True)
    assert tuple(row) == tuple(case_row.COLUMNS)
    out, pace = found.out_of_body[-1], {each.work: each for each in found.pace}
    assert row["month"] == "2026-02-01"
    assert row["day"] == "2026-02-04"
    assert row["usable"] == found.in_all.cut_in_all + found.in_all.divided_in - found.in_all.divided_out - 1
    assert row["placed"] == 40 + 50 + 23
    assert row["placed_3"] == 23
    assert row["placed_4"] is None  # no such size in the plan
    assert row["placed_m"] == 0
    assert row["hairs_per_graft_placed"] == pytest.approx((40 + 100 + 69) / 113, abs=1e-4)
    assert row["cutting_done"] == pace["cutting"].done
    assert row["placing_person_hours"] == pace["placing"].person_hours
    assert row["sites_done"] is None  # nobody entered any
    assert row["out_median_low_min"] == out.median_low_ms / 60_000
    assert (row["transected"], row["transected_of"]) == (1, 3 * (17 + 23 + 9) + 1)
    assert row["final_count_differences"] == 1
    # no care in the 177 min to the last graft: due every 15, 60 and 30 min, 11 + 2 + 5 times
    assert (row["care_due"], row["care_on_time"], row["care_missed"]) == (18, 0, 18)


@given(wild_entries())
def test_nothing_that_anybody_typed_gets_into_an_archive(entries: list[Entry]):
    record = opened_case(small_plan(title="a day of Somebody"))
    for each in entries:
        record.take(each.event, Stamp(each.stamp.at_ms, "his-own-1", record.state.seq, each.stamp.who))
    rows = list(anonymous.anonymous_entries(record.state, "0123", keep_dates=False))
    ours = {
        "0123",
        *ROLES,
        "desk",
        *SIZE_KEYS,
        *WORKS,
        *DISCARD_REASONS,
        "dish",
        "bench",
        "cutting",
        "placing",
    }
    ours |= {each.event.kind for each in record.state.log} | {"wet", "renew", "temperature"}
    for row in rows:
        assert tuple(row) == tuple(anonymous.COLUMNS)
        texts = {name: each for name, each in row.items() if isinstance(each, str)}
        assert set(texts.pop("divided_into", "").split("+")) <= {"", *SIZE_KEYS}
        assert set(texts.values()) <= ours


#: What an archive keeps of no entry: people, words, dates, and what the record says of itself.
STAYS_OUT = (
    "break_planned.minutes break_planned.starts_at_ms care_given.due_at_ms care_given.lane case_opened.plan "
    "graft_reseated.by graft_reseated.lane grafts_discarded.by grafts_discarded.lane grafts_issued.by "
    "grafts_issued.lane grafts_placed.by grafts_placed.lane grafts_returned.by grafts_returned.lane "
    "lane_closed.lane lane_handed_over.by lane_handed_over.lane lane_handed_over.left lane_opened.by "
    "lane_opened.lane sites_made.by "
    "case_opened.utc_offset_minutes case_reopened.reason case_signed_off.confirmed case_signed_off.left_open "
    "case_signed_off.open_because case_signed_off.second case_signed_off.informed clock_stepped.at_start "
    "clock_stepped.by_ms entry_corrected.reason final_count_given_up.begun final_counted.groups "
    "final_counted.recount_of final_counted.since grafts_discarded.drawn grafts_divided.drawn "
    "fate_given.by fate_given.drawn fate_given.fate fate_given.lane fate_given.reason "
    "grafts_issued.drawn grafts_placed.drawn "
    "grafts_returned.drawn keys_set_aside.cause "
    "keys_set_aside.counted keys_set_aside.keys limit_answered.done limit_answered.limit "
    "mismatch_explained.amount mismatch_explained.mismatch "
    "mismatch_explained.text note_added.text placing_moved.from_zone plan_revised.divide plan_revised.plan "
    "plan_revised.reason "
    "prompt_paused.until_ms record_differed.anchored record_differed.expected_hash "
    "record_differed.found_hash record_differed.last record_differed.same shift_changed.left "
    "stick_and_place_set.on spot_checked.fault "
    "spot_checked.faults spot_checked.whose station_joined.role station_joined.version station_left.reason"
)
#: The columns of fields that are named otherwise there.
NAMED = {
    "into_zone": "zone",
    "harvest": "lot",
    "care": "care_kind",
    "entry": "corrects",
    "reason": "discard_reason",
    "into": "divided_into",
    "started_at_ms": "harvested_after_ms",
}


def test_of_every_kind_each_field_is_kept_or_stays_out():
    out: set[str] = set()
    for event in EVERY_KIND[1::2]:
        record = opened_case()
        record.take(event)
        row = list(anonymous.anonymous_entries(record.state, "0123", keep_dates=False))[-1]
        sits = {"role": None}  # that of the station, not of the event
        kept = {name for name, value in (row | sits).items() if value is not None}
        out |= {
            f"{event.kind}.{name}" for name in event.__struct_fields__ if NAMED.get(name, name) not in kept
        }
    assert out == set(STAYS_OUT.split())


def test_a_zone_that_a_later_plan_brought_has_the_next_number():
    record = opened_case()
    crown = Zone(key="CROWN", label="crown", kind="vertex", area_cm2=8, targets={"2": 20})
    zones = (*small_plan().zones, crown)
    record.enter(c.RevisePlan(plan=small_plan(zones=zones), reason="grafts are left over"))
    record.enter(c.PlaceGrafts(zone="CROWN", size="2", count=5))
    row = list(anonymous.anonymous_entries(record.state, "0123", keep_dates=False))[-1]
    assert (row["zone"], row["zone_kind"], row["count"]) == (4, "vertex", 5)


def test_no_name_code_initials_or_date_is_in_the_files(archive: Path):
    for part in ("cases", "events"):
        with closing(database()) as connection:
            pattern = f"{str(archive).replace('[', '[[]')}/{part}/*/*/*.parquet"
            cells = connection.execute("FROM read_parquet($1)", [pattern]).fetchall()
        texts = {cell for row in cells for cell in row if isinstance(cell, str)}
        assert texts
        assert not [text for text in texts for secret in SECRETS if secret in text]
        days = {cell.day for row in cells for cell in row if isinstance(cell, date)}
        assert days <= {1}
    names = [path.name for path in archive.rglob("*")]
    assert not [name for name in names if "SECRET" in name]


def test_dates_are_kept_where_that_is_asked(days: list[Path], tmp_path: Path):
    add(tmp_path / "kept", days[0], keep_dates=True)
    assert asked(tmp_path, "SELECT day FROM '@/kept/cases/*/*/*.parquet'") == [(date(2026, 1, 5),)]
    state, _ = told_of(days[0])
    found = asked(tmp_path, "SELECT epoch_ms(at_utc), after_ms FROM '@/kept/events/*/*/*.parquet'")
    since = [each.stamp.at_ms - MORNING_MS - 1000 for each in state.log]
    assert found == [(each.stamp.at_ms, ms - ms % 1000) for each, ms in zip(state.log, since, strict=True)]


# Pseudonyms, and each case once.


def test_pseudonyms_cannot_be_guessed_from_a_code_and_differ_between_archives(
    days: list[Path], tmp_path: Path
):
    ids = []
    for name in ("one", "two"):
        add(tmp_path / name, days[0])
        ids += [path.stem for path in (tmp_path / name / "cases").rglob("*.parquet")]
        assert beside(tmp_path / name, KEY_SUFFIX).stat().st_mode & 0o777 == 0o600
        assert beside(tmp_path / name, KEY_SUFFIX).parent == tmp_path  # beside the archive, not in it
    assert len(set(ids)) == 2
    with CaseFile.open(days[0], read_only=True) as case_file:
        guesses = [case_file.hash_at(1) or "", case_file.seal().hash, "SECRET-0"]
    for guess in guesses:
        assert hashlib.sha256(guess.encode()).hexdigest()[:16] not in ids
        assert guess[:16] not in ids


def test_a_case_is_added_once_also_from_a_copy(days: list[Path], tmp_path: Path):
    folder, copy = tmp_path / "kept", tmp_path / "copy.orroom"
    assert orroom("backup", days[0], copy).exit_code == 0
    assert "added as" in add(folder, days[0])[0]
    before = {path: path.stat().st_mtime_ns for path in folder.rglob("*.parquet")}
    assert "is in the archive already" in add(folder, copy)[0]
    assert {path: path.stat().st_mtime_ns for path in folder.rglob("*.parquet")} == before


def test_a_case_that_has_grown_replaces_itself_only_when_asked(tmp_path: Path):
    folder, case = tmp_path / "kept", written(tmp_path / "case.orroom", closed_day(0))
    add(folder, case, site="north")
    with CaseFile.open(case) as case_file:
        record_once(case_file, c.ReopenCase(reason="one more was found"), "EF")
    with pytest.raises(OrroomError, match="is not signed off"):
        add(folder, case, site="north", replace=True)
    with CaseFile.open(case) as case_file:
        found = {"open_because": "found late", "informed": "RS"}
        record_once(case_file, c.PlaceGrafts(zone="MID", size="2", count=1), "CD")
        record_once(case_file, c.SignOff(second="CD", **found), "EF")
    with pytest.raises(OrroomError, match=r"with another end.*--replace"):
        add(folder, case, site="north")
    with pytest.raises(OrroomError, match=r"under site north.*--replace"):
        add(folder, case, site="south")
    assert "replaced as" in add(folder, case, site="south", replace=True)[0]
    assert "is in the archive already" in add(folder, case, site="south")[0]
    assert "replaced as" in add(folder, case, site="south", keep_dates=True, replace=True)[0]
    assert asked(tmp_path, "SELECT count(day) FROM '@/kept/cases/*/*/*.parquet'") == [(1,)]
    assert asked(tmp_path, "SELECT site, placed FROM '@/kept/cases/*/*/*.parquet'") == [("south", 111)]
    assert len(list((folder / "events").rglob("*.parquet"))) == 1


def test_what_cannot_be_added_is_said_and_does_not_stop_the_rest(days: list[Path], tmp_path: Path):
    folder = tmp_path / "kept"
    unfinished = new_case(tmp_path / "unfinished.orroom")
    changed = written(tmp_path / "changed.orroom", closed_day(1))
    raw = changed.read_bytes()
    changed.write_bytes(raw.replace(b"Somebody coughed", b"Somebody laughed"))
    result = orroom("archive", "add", unfinished, tmp_path / "none", changed, days[0], "--to", folder)
    assert result.exit_code == 1
    assert f"{days[0]}: added as" in result.stdout
    assert f"{unfinished} is not signed off. Sign it off first" in result.stderr
    assert f"{tmp_path / 'none'} does not exist" in result.stderr
    assert f"{changed} is not intact" in result.stderr
    assert "3 of 4 cases were not added." in result.stderr
    damaged = tmp_path / "damaged.orroom"
    damaged.write_bytes(raw[:4096] + bytes(len(raw) - 4096))
    assert orroom("archive", "add", damaged, "--to", folder).stderr.count("\n") == 1
    assert len(list((folder / "cases").rglob("*.parquet"))) == 1
    with CaseFile.create(tmp_path / "empty.orroom"):
        pass
    assert "has no entries" in orroom("archive", "add", tmp_path / "empty.orroom", "--to", folder).stderr


@pytest.mark.parametrize("site", ["", "North", "a/b", "../up", "-a", "a" * 33, "site=x"])
def test_a_site_is_no_path(site: str, days: list[Path], tmp_path: Path):
    result = orroom("archive", "add", days[0], "--to", tmp_path / "kept", f"--site={site}")
    assert result.exit_code == 1
    assert "is not a valid site name" in result.stderr
    assert not (tmp_path / "kept").exists()


def test_a_folder_that_cannot_be_an_archive_is_refused(days: list[Path], tmp_path: Path):
    (tmp_path / "file").write_text("")
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "mine.txt").write_text("")
    for name, why in (("file", "is a file"), ("full", "is not an archive, and not empty")):
        with pytest.raises(OrroomError, match=why):
            add(tmp_path / name, days[0])
    add(tmp_path / "a", days[0])
    add(tmp_path / "b", days[0])
    beside(tmp_path / "b", KEY_SUFFIX).replace(beside(tmp_path / "a", KEY_SUFFIX))
    with pytest.raises(OrroomError, match="is the key of another archive"):
        add(tmp_path / "a", days[1])
    with pytest.raises(OrroomError, match="is missing; without it"):
        add(tmp_path / "b", days[1])
    beside(tmp_path / "a", KEY_SUFFIX).write_text("no key")
    with pytest.raises(OrroomError, match="contains no key"):
        add(tmp_path / "a", days[1])
    (tmp_path / "a" / "archive.json").write_text('{"format": 2}')
    assert "has archive format 2" in orroom("archive", "report", tmp_path / "a").stderr
    assert "is not an archive" in orroom("archive", "report", tmp_path / "full").stderr


def rows_in(folder: Path) -> list[str]:
    return sorted(path.relative_to(folder).as_posix() for path in (folder / "cases").rglob("*.parquet"))


def test_a_case_that_is_added_twice_at_once_is_there_once(days: list[Path], tmp_path: Path):
    add(tmp_path / "kept", days[0])
    arguments = [sys.executable, "-m", "orroom", "archive", "add", days[1], "--to", tmp_path / "kept"]
    running = [
        subprocess.Popen(
            [*arguments, "--site", site], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )
        for site in "abcd"
    ]
    said = [each.communicate(timeout=60) for each in running]
    assert sorted(each.returncode for each in running) == [0, 1, 1, 1], said
    assert len(rows_in(tmp_path / "kept")) == 2


def test_every_row_of_a_case_gives_way_to_the_new_one(days: list[Path], tmp_path: Path):
    folder = tmp_path / "kept"
    add(folder, days[0], site="a")
    for part in ("cases", "events"):
        shutil.copytree(folder / part / "site=a", folder / part / "site=b")
    with pytest.raises(OrroomError, match=r"in the archive already, 2 times.*--replace"):
        add(folder, days[0], site="a")
    add(folder, days[0], site="c", replace=True)
    assert [Path(each).parts[1] for each in rows_in(folder)] == ["site=c"]
    assert len(list((folder / "events").rglob("*.parquet"))) == 1


def test_a_case_that_is_there_twice_is_not_counted_twice(
    days: list[Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    def killed(*_: object) -> None:
        raise KeyboardInterrupt

    folder = tmp_path / "kept"
    add(folder, *days[:4], site="north")
    with monkeypatch.context() as before_the_old_row_goes:
        before_the_old_row_goes.setattr(Path, "unlink", killed)
        with pytest.raises(KeyboardInterrupt):
            add(folder, days[0], site="south", replace=True)
    with pytest.raises(OrroomError, match=r"has a case twice: .*site=north.* and .*site=south"):
        across(folder)
    add(folder, days[0], site="south", replace=True)
    assert across(folder).cases == 4


def test_a_case_whose_clock_was_behind_after_a_restart_has_no_times_and_stops_no_report(
    days: list[Path], tmp_path: Path
):
    record = opened_case()
    record.enter(c.StartHarvest(harvest="A", minutes_ago=0))
    record.enter(c.CutGrafts(harvest="A", size="1", count=30))
    record.wait(-200)
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=30), "CD", station="placing-1")
    record.enter(c.SignOff(second="CD", **UNCOUNTED), "EF", station="overview-1")
    behind = written(tmp_path / "behind.orroom", record)
    assert told_of(behind)[1].out_of_body == ()
    folder = tmp_path / "kept"
    add(folder, *days[:3], behind)
    report = across(folder)
    assert report.cases == 4
    out = [found for found in report.figures if found.measure.key.startswith("out_median")]
    assert {len(found.group.cases) for found in out} == {3}


def test_a_site_is_that_of_the_archive_not_of_a_folder_above(days: list[Path], tmp_path: Path):
    folder = tmp_path / "site=london" / "seal_mark=1" / "kept"
    folder.mkdir(parents=True)
    add(folder, *days[:3], site="north")
    assert {each.site for each in read_cases(folder)} == {"north"}
    assert {each.site for each in read_cases(folder)} == {"north"}  # from the catalogue
    assert "is in the archive already" in add(folder, days[0], site="north")[0]


def test_what_a_killed_one_left_is_swept(days: list[Path], tmp_path: Path):
    folder = tmp_path / "kept"
    add(folder, *days[:2], site="a")
    lost = folder / rows_in(folder)[0]
    lost.unlink()
    (lost.parent / ".half.parquet.77.new").write_bytes(b"")
    (folder / "events" / "site=b" / "year=2026").mkdir(parents=True)
    add(folder, days[1], site="a")
    kept = sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())
    assert [Path(each).name.startswith(".") for each in kept] == [False] * len(kept)
    assert len(rows_in(folder)) == len(list((folder / "events").rglob("*.parquet")))
    assert not (folder / "events" / "site=b").exists()


def test_entries_stay_while_somebody_has_moved_all_rows_away(days: list[Path], tmp_path: Path):
    folder = tmp_path / "kept"
    add(folder, *days[:2])
    (folder / "cases").rename(tmp_path / "elsewhere")
    with closing(Archive(folder)):
        pass
    (tmp_path / "elsewhere").rename(folder / "cases")
    assert len(rows_in(folder)) == len(list((folder / "events").rglob("*.parquet"))) == 2


def test_a_full_disk_leaves_no_half_key(days: list[Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patched:
        patched.setattr("os.fsync", full)
        with pytest.raises(OrroomError, match="No space left on device"):
            add(tmp_path / "kept", days[0])
    assert not beside(tmp_path / "kept", KEY_SUFFIX).exists()
    assert "added as" in add(tmp_path / "kept", days[0])[0]


def test_a_full_disk_is_said_in_the_systems_words():
    import duckdb

    said = reason(duckdb.IOException('IO Error: Could not write "a.parquet": No space left on device'))
    assert said == "No space left on device"


def test_a_damaged_row_is_replaced_and_stops_no_other(days: list[Path], tmp_path: Path):
    folder = tmp_path / "kept"
    add(folder, days[0])
    (folder / rows_in(folder)[0]).write_bytes(b"PAR1 damaged")
    assert "added as" in orroom("archive", "add", days[1], "--to", folder).stdout
    assert orroom("archive", "add", days[2], "--to", folder).exit_code == 0
    assert "its row damaged" in orroom("archive", "add", days[0], "--to", folder).stderr
    assert "replaced as" in add(folder, days[0], replace=True)[0]
    assert len(read_cases(folder)) == 3


def test_whether_dates_stay_is_part_of_what_is_there(days: list[Path], tmp_path: Path):
    for name, first in (("with", True), ("without", False)):
        add(tmp_path / name, days[0], keep_dates=first)
        assert "is in the archive already, as" in add(tmp_path / name, days[0], keep_dates=first)[0]
        with pytest.raises(OrroomError, match=rf"already, {name} its dates,.*--replace"):
            add(tmp_path / name, days[0], keep_dates=not first)


def test_the_root_is_no_archive(days: list[Path]):
    result = orroom("archive", "add", days[0], "--to", "/")
    assert result.exit_code == 1
    assert "/ is not possible as an archive. Choose a folder of its own" in result.stderr


# The catalogue.


def test_the_catalogue_is_what_the_files_are(archive: Path, tmp_path: Path, days: list[Path]):
    folder = tmp_path / "kept"
    add(folder, *days[:4])
    whole = read_cases(folder)
    assert len(whole) == 4
    of_all = beside(folder, catalogue.SUFFIX)
    assert of_all.parent == tmp_path  # it tells when cases were added
    of_all.unlink()
    assert read_cases(folder) == whole
    assert of_all.exists()
    gone = next((folder / "cases").rglob("*.parquet"))
    kept_bytes = gone.read_bytes()
    gone.unlink()
    assert len(read_cases(folder)) == 3
    gone.write_bytes(kept_bytes)
    assert read_cases(folder) == whole
    of_all.write_bytes(b"damaged")
    assert read_cases(folder) == whole
    of_all.unlink()
    of_all.mkdir()  # cannot be written: told all the same
    assert read_cases(folder) == whole
    gone.write_bytes(b"PAR1 damaged")
    with pytest.raises(OrroomError) as damaged:
        read_cases(folder)
    assert str(damaged.value).startswith(f"{gone} cannot be read")
    assert str(damaged.value).endswith("Delete it and add that case again.")


def test_a_row_from_before_care_was_kept_reads_beside_newer_ones(tmp_path: Path, days: list[Path]):
    folder = tmp_path / "kept"
    add(folder, *days[:3])
    old = sorted((folder / "cases").rglob("*.parquet"))[1]
    kept = f"{old}.old"
    left_out = ", ".join(case_row.CAME_LATER)
    asked(folder, f"COPY (SELECT * EXCLUDE ({left_out}) FROM '{old}') TO '{kept}' (FORMAT parquet)")
    Path(kept).replace(old)
    for _ in range(2):  # from the files, then from the catalogue
        care = sorted(each.figures["care_missed"] is None for each in read_cases(folder))
        assert care == [False, False, True]
    beside(folder, catalogue.SUFFIX).unlink()
    for each in (folder / "cases").rglob("*.parquet"):
        if each != old:
            each.unlink()
    assert [each.figures["care_missed"] for each in read_cases(folder)] == [None]


@pytest.fixture
def earlier(tmp_path: Path) -> Path:
    """Where an archive of two cases is that was made when a seal was called a head, and one of its cases."""
    folder = tmp_path / "earlier"
    shutil.copytree(Path(__file__).parents[1] / "recorded" / "archive", folder)
    (columns,) = asked(folder, "SELECT list(DISTINCT name) FROM parquet_schema('@/kept/cases/*/*/*.parquet')")
    assert "head_mark" in columns[0]
    assert "seal_mark" not in columns[0]
    return folder


def test_an_archive_of_an_earlier_version_is_read_and_added_to(earlier: Path, days: list[Path]):
    folder, closed = earlier / "kept", earlier / "closed.orroom"
    before = read_cases(folder)
    assert len(before) == 2
    beside(folder, catalogue.SUFFIX).unlink()
    assert read_cases(folder) == before
    assert "is in the archive already" in add(folder, closed)[0]
    add(folder, days[5])
    after = read_cases(folder)
    assert len(after) == 3
    assert read_cases(folder) == after  # from the catalogue
    marks = f"SELECT count(*), count(seal_mark) FROM '@{catalogue.SUFFIX}'"
    assert asked(folder, marks) == [(3, 3)]
    assert [each.version for each in after] == [0, 0, case_row.VERSION]
    assert "replaced as" in add(folder, closed, replace=True)[0]
    assert "is in the archive already" in add(folder, closed)[0]
    assert Counter(map(kept_then, read_cases(folder))) == Counter(map(kept_then, after))


def kept_then(case: Case) -> tuple[object, ...]:
    """What the first archives kept of a case."""
    return case.month, *(value for name, value in case.figures.items() if name not in case_row.CAME_LATER)


def test_a_case_that_has_grown_since_an_earlier_version_added_it_is_not_taken_for_the_same(earlier: Path):
    folder, closed = earlier / "kept", earlier / "closed.orroom"
    with CaseFile.open(closed) as case_file:
        record_once(case_file, c.ReopenCase(reason="one was forgotten"), "EF")
        record_once(case_file, c.SignOff(second="CD", **UNCOUNTED), "EF")
    with pytest.raises(OrroomError, match=r"with another end.*--replace"):
        add(folder, closed)


# Limits, against other tools and published ones.


def test_median_ranges_are_the_published_ones():
    # statpsych's reference page, ci.median(.05, y): 20.7, limits 10.8 and 30.9
    y = [30.2, 20.4, 15.1, 10.2, 10.5, 60.8, 20.8, 25.0, 20.7, 30.9, 10.8, 5.1]
    y += [50.9, 40.0, 20.9, 10.8, 0, 20.5, 50.8]
    assert median_of(y) == (20.7, 10.8, 30.9)
    # ranks that hold the median at 95 % or more, from a printed table (A.7, Confidence Intervals for the
    # Population Median, found without its book)
    for n, low, high in ((9, 2, 8), (12, 3, 10), (15, 4, 12), (17, 5, 13), (20, 6, 15)):
        assert median_of([float(each) for each in range(1, n + 1)])[1:] == (low, high)
    assert median_of([1, 2, 3, 4, 5, 6, 7, 8]) == (4.5, None, None)  # they would be the first and the last
    assert median_of([1, 2, 3, 4, 5]) == (3, None, None)


@pytest.mark.parametrize("n", [9, 23, 64, 200])
def test_mean_and_median_ranges_are_scipys(n: int):
    import numpy
    from scipy import stats

    values = [float(each) for each in numpy.random.default_rng(n).gamma(2, 50, n)]
    theirs = stats.quantile_test(values, q=0.0, p=0.5).confidence_interval(0.95)
    assert median_of(values)[1:] == (theirs.low, theirs.high)
    t = stats.t.interval(0.95, n - 1, loc=numpy.mean(values), scale=stats.sem(values))
    assert mean_of(values) == pytest.approx((numpy.mean(values), *t))


def test_ranges_of_a_pooled_share_are_those_of_a_logit_model_with_clustered_errors():
    import numpy
    import statsmodels.api as sm  # takes a second
    from scipy import stats

    chance = numpy.random.default_rng(1)
    wholes = chance.integers(300, 3000, 12)
    counts = chance.binomial(wholes, chance.beta(2, 120, 12))
    each = numpy.concatenate([numpy.r_[numpy.ones(y), numpy.zeros(x - y)] for y, x in zip(counts, wholes)])  # noqa: B905
    case = numpy.repeat(numpy.arange(12), wholes)
    model = sm.Logit(each, numpy.ones(len(each))).fit(disp=0, cov_type="cluster", cov_kwds={"groups": case})
    half = stats.t.ppf(0.975, 11) * model.bse[0]
    theirs = [1 / (1 + math.exp(-(model.params[0] + sign * half))) for sign in (-1, 1)]
    ours = pooled_share([int(y) for y in counts], [int(x) for x in wholes])
    assert ours == pytest.approx((counts.sum() / wholes.sum(), *theirs), rel=1e-6)


def test_ranges_of_a_pooled_share_hold_it_where_binomial_ones_do_not():
    import numpy

    chance = numpy.random.default_rng(7)
    held = naive = 0
    for _ in range(400):
        wholes = chance.integers(1000, 3000, 20)
        counts = chance.binomial(wholes, chance.beta(4, 196, 20))  # cases differ: 2 % ± 1 %
        share, low, high = pooled_share([int(y) for y in counts], [int(x) for x in wholes])
        held += low <= 0.02 <= high
        half = 1.96 * math.sqrt(share * (1 - share) / wholes.sum())
        naive += abs(share - 0.02) <= half
    assert held > 0.91 * 400
    assert naive < 0.7 * 400


def test_a_share_of_cases_has_wilsons_ranges():
    from scipy import stats

    theirs = stats.binomtest(3, 20).proportion_ci(method="wilson")
    assert share_of_cases([True] * 3 + [False] * 17) == pytest.approx((0.15, theirs.low, theirs.high))


def test_there_are_no_ranges_from_too_few_or_where_nothing_happened():
    assert mean_of([2.0, 4.0, 6.0, 8.0]) == (5, None, None)
    assert share_of_cases([True, False]) == (0.5, None, None)
    assert pooled_share([1, 2], [10, 20]) == (0.1, None, None)
    assert pooled_share([0] * 9, [100] * 9) == (0, None, None)
    assert pooled_share([5] * 9, [5] * 9) == (1, None, None)
    assert pooled_pace([0] * 9, [1] * 9) == (0, None, None)
    assert pooled_pace([10, 20], [1, 4]) == (6, None, None)
    assert middle_half([float(n) for n in range(11)]) is None
    assert middle_half([float(n) for n in range(13)]) == (3, 9)


# Which cases are told together.


@given(st.lists(st.tuples(st.sampled_from("abcd"), st.integers(0, 40)), max_size=40))
def test_no_group_is_too_small_and_every_case_is_in_one_of_each_level(drawn: list[tuple[str, int]]):
    cases = [Case(site, date(2024 + m // 12, m % 12 + 1, 1), {"n": n}) for n, (site, m) in enumerate(drawn)]
    found = groups(cases)
    if len(cases) < FEWEST_SHOWN:
        assert found == ()
        return
    for level in ("all", "year", "month"):
        result = [group for group in found if group.level == level]
        assert sorted(case.figures["n"] for group in result for case in group.cases) == list(
            range(len(cases))
        )
        assert all(group.first <= case.month <= group.last for group in result for case in group.cases)
    assert all(len(group.cases) >= FEWEST_SHOWN for group in found)
    sites = [group for group in found if group.level == "site"]
    for whole in ("year", "month"):  # of a month, none or enough of each site: nothing to be subtracted
        shared = [
            sum(case.figures["n"] in {other.figures["n"] for other in site.cases} for case in group.cases)
            for site in sites
            for group in found
            if group.level == whole
        ]
        assert all(not number or number >= FEWEST_SHOWN for number in shared)
    assert sum(len(group.cases) for group in sites) in {0, len(cases)}
    for year in (group for group in found if group.level == "year"):  # months stay within a year
        within = [each for each in found if each.level == "month" and year.first <= each.first <= year.last]
        assert sum(len(each.cases) for each in within) == len(year.cases)


def test_small_months_are_told_with_those_after_them():
    months = [(2024, 3)] * 2 + [(2024, 5)] * 2 + [(2024, 6)] * 3 + [(2024, 12)] + [(2025, 1)] * 2
    found = groups([Case("here", date(*month, 1), {"n": n}) for n, month in enumerate(months)])
    assert [(group.level, group.name, len(group.cases)) for group in found] == [
        ("all", "all cases", 10),
        ("year", "2024 to 2025", 10),
        ("month", "2024-03 to 2024-05", 4),
        ("month", "2024-06", 3),
        ("month", "2024-12 to 2025-01", 3),
    ]


def known(**figures: float | None) -> dict[str, float | None]:
    """A case's figures: these, and no data for the others."""
    return {**dict.fromkeys(name for each in MEASURES for name in (each.value, each.of) if name), **figures}


@given(
    st.lists(
        st.tuples(st.sampled_from("abc"), st.integers(0, 30), st.booleans(), st.integers(0, 4)), max_size=60
    )
)
def test_no_sum_or_difference_of_what_is_told_is_one_or_two_cases(drawn: list[tuple[str, int, bool, int]]):
    cases = [
        Case(
            "a" if mostly else site,
            date(2024 + m // 12, m % 12 + 1, 1),
            known(hairs_per_graft_placed=float(n) if mostly or site == "b" else None, out_median_low_min=n),
        )
        for n, (site, m, _, mostly) in enumerate(drawn)
    ]
    report = over(cases) if cases else None
    for measure in MEASURES if report else ():
        found = [
            {each.figures["out_median_low_min"] for each in one.group.cases}
            for one in report.figures
            if one.measure is measure
        ]
        for one in found:
            assert all(len(part) not in {1, 2} for other in found for part in (one - other, one & other))
        alike = Counter(tuple(number in one for one in found) for number in set().union(*found))
        assert all(number >= FEWEST_SHOWN for number in alike.values())  # whom no group tells apart


def test_a_case_cannot_be_found_by_taking_a_site_from_a_year():
    where = [("x", 2025, 1), ("x", 2025, 2), ("x", 2025, 3), ("y", 2025, 4)]
    where += [("y", 2026, 1), ("y", 2026, 2), ("y", 2026, 3)]
    found = groups([Case(site, date(year, month, 1), {}) for site, year, month in where])
    assert [(group.level, group.name, len(group.cases)) for group in found] == [
        ("all", "all cases", 7),
        ("year", "2025 to 2026", 7),
        ("month", "2025-01 to 2025-03", 3),
        ("month", "2025-04 to 2026-03", 4),
        ("site", "y", 4),
        ("site", "x", 3),
    ]


def test_sites_are_not_told_where_that_would_cost_most_months():
    cases = [Case("x", date(2025, month, 1), {}) for month in range(1, 13) for _ in range(3)]
    cases += [Case("y", date(2025, month, 1), {}) for month in (1, 6, 12)]
    found = groups(cases)
    assert Counter(group.level for group in found) == {"all": 1, "year": 1, "month": 12}


def test_a_case_cannot_be_found_by_what_others_lack():
    january = [Case("x", date(2025, 1, 1), known(hairs_per_graft_placed=2.0 + n)) for n in range(3)]
    february = [Case("x", date(2025, 2, 1), known(hairs_per_graft_placed=1.7))]
    february += [Case("x", date(2025, 2, 1), known()) for _ in range(2)]
    found = over(january + february).figures
    assert [(each.group.level, each.group.name, len(each.group.cases)) for each in found] == [
        ("all", "all cases", 4),
        ("year", "2025", 4),
        ("month", "2025-01 to 2025-02", 4),
    ]


# The report.


def of(report: Across, level: str, measure: str, group: str | None = None) -> tuple[float, ...]:
    found = [
        each
        for each in report.figures
        if each.group.level == level and each.measure.key == measure and group in {None, each.group.name}
    ]
    assert len(found) == 1
    return len(found[0].group.cases), *found[0].figure


def test_a_report_is_what_the_summaries_come_to(archive: Path, days: list[Path]):
    report = across(archive)
    found = [told_of(each)[1] for each in days]
    assert report.cases == 10
    hairs = [each.in_all.hairs_per_graft_placed for each in found]
    assert of(report, "all", "hairs_per_graft") == pytest.approx((10, *mean_of(hairs)))
    cutting = [pace for each in found for pace in each.pace if pace.work == "cutting"]
    assert of(report, "all", "cutting_pace")[:2] == (
        10,
        pytest.approx(sum(pace.done for pace in cutting) / sum(pace.person_hours for pace in cutting)),
    )
    medians = sorted(each.out_of_body[-1].median_low_ms / 60_000 for each in found)
    assert of(report, "all", "out_median_at_least")[1] == pytest.approx((medians[4] + medians[5]) / 2)
    cut = [3 * (14 + n + 17 + 2 * n + 9) + 1 + n % 3 for n in range(10)]
    assert of(report, "all", "transected")[1] == pytest.approx(sum(1 + n % 3 for n in range(10)) / sum(cut))
    out = [each.out_of_body[-1] for each in found]
    grafts = [each.placed_low + each.waiting_low for each in out]
    over = sum(each.over_4_h_high * number for each, number in zip(out, grafts, strict=True)) / sum(grafts)
    assert 0 < over < 1
    assert of(report, "all", "out_over_4_h_at_most")[1] == pytest.approx(over)
    assert of(report, "all", "final_count_difference")[:2] == (10, 0.2)  # days 3 and 7
    assert of(report, "site", "final_count_difference", "south") == (3, pytest.approx(1 / 3), None, None)
    assert not [each for each in report.figures if each.measure.key == "sites_pace"]  # nobody entered any
    assert {each.group.name for each in report.figures if each.group.level == "month"} == {
        "2026-01 to 2026-02",
        "2026-03 to 2026-05",
    }


def test_a_figure_of_too_few_cases_is_not_told():
    cases = [
        Case(
            "here",
            date(2026, 1, 1),
            known(hairs_per_graft_placed=1.0, final_count_differences=float(n) if n < 2 else None),
        )
        for n in range(4)
    ]
    report = over(cases)
    assert {each.measure.key for each in report.figures} == {"hairs_per_graft"}  # the other is known of two
    assert of(report, "all", "hairs_per_graft") == (4, 1.0, None, None)
    assert "Fewer than 3 cases have it." in to_text(report)


def test_one_case_with_next_to_no_time_rules_no_pace():
    done, hours = [300.0, 310, 290, 305, 95], [3.0, 3, 3, 3, 0.005]
    cases = [
        Case(
            "here",
            date(2026, n % 2 + 1, 1),
            known(cutting_done=done[n % 5], cutting_person_hours=hours[n % 5]),
        )
        for n in range(15)
    ]
    number, pace, low, high = of(over(cases), "all", "cutting_pace")
    assert (number, pace) == (12, pytest.approx(100.4, abs=0.1))
    assert 95 < low < pace < high < 106


def test_ranges_of_a_pooled_pace_are_those_of_a_ratio_model_and_hold_it():
    import numpy
    import statsmodels.api as sm  # takes a second
    from scipy import stats

    chance = numpy.random.default_rng(3)
    hours = chance.uniform(0.5, 6, 12)
    done = chance.poisson(hours * chance.gamma(20, 5, 12))
    model = sm.GLM(done, numpy.ones(12), family=sm.families.Poisson(), exposure=hours).fit(
        cov_type="cluster", cov_kwds={"groups": numpy.arange(12)}
    )
    half = stats.t.ppf(0.975, 11) * model.bse[0]
    theirs = [math.exp(model.params[0] + sign * half) for sign in (-1, 1)]
    ours = pooled_pace([float(each) for each in done], [float(each) for each in hours])
    assert ours == pytest.approx((done.sum() / hours.sum(), *theirs), rel=1e-6)


def test_time_out_of_the_body_is_that_of_all_harvests():
    events = Path(__file__).parents[2] / "sample_cases" / "two-lots" / "events.jsonl"
    state = fold(read_events(events))
    *harvests, whole = summarise(state).out_of_body
    row = case_row.case_row(state, "id", "mark", keep_dates=False)
    assert len(harvests) == 2
    assert row["out_grafts"] == 400 + 12  # placed, and waiting: 12 in dishes, one group of them 1 short
    assert row["out_median_high_min"] == whole.median_high_ms / 60_000


def test_an_archive_can_be_where_one_is(archive: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.chdir(archive)
    beside(archive, catalogue.SUFFIX).unlink()
    assert read_cases(Path()) == read_cases(archive)
    assert len(read_cases(Path())) == 10


def test_too_few_cases_make_no_report(days: list[Path], tmp_path: Path):
    add(tmp_path / "kept", *days[:2])
    result = orroom("archive", "report", tmp_path / "kept")
    assert result.exit_code == 1
    assert "has 2 of the 3 cases that a report needs" in result.stderr


def test_the_table_holds_numbers_as_numbers(archive: Path):
    report = across(archive)
    rows = list(csv.DictReader(io.StringIO(to_csv(report, single=False))))
    assert len(rows) == len(report.figures)
    first = rows[0]
    assert " ".join(first) == (
        "level group first_month last_month measure statistic unit cases value low_95 high_95 "
        "middle_half_low middle_half_high"
    )
    assert (first["level"], first["measure"], first["unit"]) == ("all", "hairs_per_graft", "hairs/graft")
    for row in rows:
        for name in ("value", "low_95", "high_95", "middle_half_low", "middle_half_high"):
            assert not row[name] or float(row[name]) >= 0
    found = {(each.group.level, each.group.name, each.measure.key): each for each in report.figures}
    for row in rows:
        one = found[row["level"], row["group"], row["measure"]]
        assert row["cases"] == str(len(one.group.cases))
        assert float(row["value"]) == round(one.figure.value, one.measure.places)
    minutes = [row["value"] for row in rows if row["unit"] == "min"]
    assert minutes
    assert all(float(each).is_integer() for each in minutes)


def test_the_page_is_sound_and_runs_nothing(archive: Path):
    import html5lib

    report = across(archive)
    page = to_html(report)
    html5lib.HTMLParser(strict=True).parse(page)
    assert "<script" not in page
    assert "://" not in page.replace("http://www.w3.org/2000/svg", "")
    assert f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">' in page
    assert page.count("<main>") == page.count("</main>") == 1
    assert page.count('scope="col"') == page.count("<thead>") * 4  # the marks' column has no name
    assert page.count('scope="row"') == len(report.figures)
    months = sum(len(report.of("month", measure)) > 1 for measure in MEASURES)
    narrow = '<figure class="narrow">'  # each chart is there for a telephone too
    without = to_html(report, single=False)
    assert without.count("<svg") - without.count(narrow) == without.count(narrow) == months
    assert page.count("<svg") - page.count(narrow) == months + sum(
        one_by_one(each) is not None for each in report.series
    )
    assert page == to_html(across(archive))


def test_the_text_has_every_measure_and_the_cautions(archive: Path):
    text = to_text(across(archive))
    assert "not a medical device" in text
    for measure in MEASURES:
        assert measure.label.lower() in text.lower()
    assert "10 cases, 2026-01 to 2026-05" in text
    assert orroom("archive", "report", archive).stdout == text


def test_ranges_far_off_are_drawn_to_the_edge_and_no_further():
    hours = [0.2, 0.2, 9.0, 0.2, 9.0]
    cases = [
        Case("here", date(2026, month, 1), known(cutting_done=done, cutting_person_hours=each))
        for month in (1, 2)
        for each, done in zip(hours, (2.0, 400, 30, 1, 5), strict=True)
    ]
    drawn = to_html(over(cases))
    assert "Pace of cutting by month, with 95 % ranges, cut at the edge" in drawn
    ends = [float(each) for pair in re.findall(r"M[\d.]+ ([-\d.]+)V([-\d.]+)", drawn) for each in pair]
    assert len(ends) > 2
    assert all(TOP <= each <= HEIGHT - BOTTOM for each in ends)


def test_a_tick_says_all_months_of_its_group():
    """Two cases in February are told with March's; April has three: no tick leaves March out."""
    cases = [
        Case("here", date(2026, month, 1), dict.fromkeys(figures_needed(), 1.0))
        for month, number in ((1, 3), (2, 2), (3, 3), (4, 3))
        for _ in range(number)
    ]
    words = [each.words for each in words_of(cases)]
    assert [each for each in words if each.startswith("2026")] == ["2026-01", "2026-02 to 03", "2026-04"]


def test_words_of_ticks_do_not_run_into_each_other():
    cases = [
        Case("here", date(2020 + month // 12, month % 12 + 1, 1), dict.fromkeys(figures_needed(), 1.0))
        for month in range(48)
        for _ in range(2)
    ]
    found = [each for each in words_of(cases) if each.words.startswith("20")]
    assert len(found) > 3
    assert all(" to " in each.words for each in found)
    for left, right in pairwise(found):
        assert left.x + breadth(left.words) / 2 < right.x - breadth(right.words) / 2


def words_of(cases: list[Case]) -> list[Words]:
    (chart,) = by_month(over(cases), MEASURES[0])
    return drawn(chart).words


def figures_needed() -> set[str]:
    return {name for each in MEASURES for name in (each.value, each.of) if name is not None}


@pytest.mark.parametrize("wrong", ["'nan'", "'inf'", "-1", "1e300"])
def test_a_figure_that_no_case_has_is_refused_by_name(wrong: str, days: list[Path], tmp_path: Path):
    import duckdb

    folder = tmp_path / "kept"
    add(folder, *days[:3])
    row = next((folder / "cases").rglob("*.parquet"))
    duckdb.connect().execute(
        f"COPY (SELECT * REPLACE ({wrong}::DOUBLE AS hairs_per_graft_placed) FROM read_parquet('{row}', "
        f"hive_partitioning = false)) TO '{row}.other' (FORMAT parquet)"
    )
    Path(f"{row}.other").replace(row)
    for form in ("text", "html", "csv"):
        result = orroom("archive", "report", folder, "--format", form)
        assert result.exit_code == 1
        assert f"{row} has figures that no case can have. Delete it and add that case again." in result.stderr


def test_a_report_goes_to_a_new_file_only(archive: Path, tmp_path: Path):
    output = tmp_path / "report.html"
    assert orroom("archive", "report", archive, "--format", "html", "--output", output).exit_code == 0
    assert output.read_text("utf-8").startswith("<!DOCTYPE html>")
    assert "already exists" in orroom("archive", "report", archive, "--output", output).stderr


@pytest.mark.parametrize("name", ["kept.key", ".kept.key.new", "kept.turn"])
def test_a_link_in_place_of_what_lies_beside_an_archive_is_refused(
    days: list[Path], tmp_path: Path, name: str
):
    precious = tmp_path / "precious"
    precious.write_text("precious")
    (tmp_path / name).symlink_to(precious)
    with pytest.raises(OrroomError, match="symbolic link"):
        add(tmp_path / "kept", days[0])
    assert precious.read_text() == "precious"


def test_a_table_is_not_written_through_a_link(days: list[Path], tmp_path: Path):
    folder, precious = tmp_path / "kept", tmp_path / "precious"
    add(folder, days[0])
    row = folder / rows_in(folder)[0]
    precious.write_text("precious")
    row.unlink()
    row.symlink_to(precious)
    with pytest.raises(OrroomError, match="symbolic link"):
        add(folder, days[0], replace=True)
    assert precious.read_text() == "precious"
