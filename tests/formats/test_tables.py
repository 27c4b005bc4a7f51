"""The summary as tables: one long one, or a folder of tidy ones that spreadsheets and data frames read."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path

import pytest
from cases import Record, case_under_way, opened_case, records
from click.testing import CliRunner
from hypothesis import given, settings
from stations import new_case

from orroom.case import commands as c
from orroom.case.evolve import fold
from orroom.cli import common, main
from orroom.errors import OrroomError
from orroom.formats.csv_tables import INDEX_COLUMNS, OF_ANY_WORK, to_csv_tables
from orroom.record.events_file import read_events
from orroom.summary.summary import Summary, summarise

SAMPLES = Path(__file__).parents[2] / "sample_cases"


@pytest.fixture(scope="module")
def day() -> Summary:
    return summarise(fold(read_events(SAMPLES / "frontal-midscalp" / "events.jsonl")), "ab" * 32)


@pytest.fixture(scope="module")
def tables(day: Summary) -> dict[str, str]:
    return to_csv_tables(day)


def rows(text: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text)))


def frame(tables: dict[str, str], name: str):
    import pandas as pd

    return pd.read_csv(io.StringIO(tables[f"{name}.csv"]))


def test_each_table_is_a_rectangle_and_the_index_tells_every_column(tables: dict[str, str]):
    found = [tuple(row[:2]) for row in rows(tables["tables.csv"])[1:]]
    columns = [
        (name.removesuffix(".csv"), column)
        for name, text in tables.items()
        if name != "tables.csv"
        for column in rows(text)[0]
    ]
    assert set(found) == set(columns)
    assert len(found) == len(set(found)) == len(columns)
    assert tuple(rows(tables["tables.csv"])[0]) == INDEX_COLUMNS
    for text in tables.values():
        assert len({len(row) for row in rows(text)}) == 1


def test_every_figure_with_a_unit_is_a_number_in_a_data_frame(tables: dict[str, str]):
    import pandas as pd

    index = frame(tables, "tables")
    figures = index[index["unit"].notna() & (index["unit"] != "as in the column unit")]
    assert len(figures) > 150
    for table, column in zip(figures["table"], figures["column"], strict=True):
        read = frame(tables, table)[column]
        assert read.empty or pd.api.types.is_numeric_dtype(read), (table, column)


def test_totals_add_up_in_a_data_frame(day: Summary, tables: dict[str, str]):
    import pandas as pd

    zones, sizes = frame(tables, "zones"), frame(tables, "zones_by_size")
    assert zones["grafts_placed"].sum() == sizes["placed_grafts"].sum() == day.in_all.placed == 2402
    assert sizes.groupby("size")["placed_grafts"].sum().to_dict() == {
        each.size: each.placed for each in day.sizes
    }
    people = frame(tables, "people_by_size")
    assert people["placed_grafts"].sum() == 2402
    assert (
        people["cut_spoilt_left_out_grafts"].sum()
        == frame(tables, "pace").set_index("work").loc["cutting", "done"]
        == 2432
    )
    harvests = frame(tables, "harvests")
    assert harvests["longest_out_at_placing_min"].max() == pytest.approx(330, abs=1)  # 5:30, as the page says
    assert frame(tables, "accounts")["cut_in_all_grafts"].sum() == 2469
    assert pd.to_datetime(frame(tables, "progress")["at_utc"]).is_monotonic_increasing


def test_a_spreadsheet_holds_numbers_as_numbers(tables: dict[str, str], tmp_path: Path):
    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.active
    for row in frame(tables, "zones").itertuples(index=False):
        sheet.append(list(row))
    book.save(tmp_path / "zones.xlsx")
    read = openpyxl.load_workbook(tmp_path / "zones.xlsx").active
    first = dict(zip(rows(tables["zones.csv"])[0], (cell.value for cell in read[1]), strict=True))
    assert (first["zone"], first["grafts_placed"], first["placed_grafts_per_cm2"]) == ("HL", 122, 30.5)
    assert not [cell for row in read.iter_rows() for cell in row if cell.data_type == "f"]


def test_no_data_is_an_empty_cell_and_none_is_0():
    found = to_csv_tables(summarise(opened_case().state))
    whole = dict(zip(*rows(found["in_all.csv"]), strict=True))
    assert (whole["cut_in_all_grafts"], whole["hairs_per_graft_placed"]) == ("0", "")
    assert rows(found["harvests.csv"])[1:] == []
    line = dict(zip(*rows(found["zones.csv"])[:2], strict=True))
    assert (line["grafts_placed"], line["sites_made"]) == ("0", "")


def test_durations_are_minutes_and_say_so(tables: dict[str, str]):
    index = rows(tables["tables.csv"])
    assert ["care", "latest_min", "min", "latest delay, also within the grace time"] in index
    assert not [row for row in index if row[1].endswith("_ms")]
    care = frame(tables, "care").set_index("care")
    assert care.loc["wet", "latest_min"] == pytest.approx(7 + 3 / 60, abs=0.01)  # 7 min 03 s on the page


def test_a_formula_in_a_note_is_harmless():
    record = opened_case()
    record.enter(c.AddNote(text="=HYPERLINK(1)"))
    found = to_csv_tables(summarise(record.state))
    assert rows(found["notes.csv"])[1][-1] == "'=HYPERLINK(1)"


@settings(max_examples=8, deadline=None)
@given(records())
def test_any_record_makes_tables_of_the_same_shape(record: Record):
    found = to_csv_tables(summarise(record.state))
    empty = to_csv_tables(summarise(opened_case().state))
    assert {name: rows(text)[0] for name, text in found.items()} == {
        name: rows(text)[0] for name, text in empty.items()
    }


# The folder on the command line.


@pytest.fixture
def case(tmp_path: Path) -> Path:
    return new_case(tmp_path / "case.orroom")


def summary(*arguments: object) -> tuple[int, str]:
    result = CliRunner().invoke(main, ["summary", *map(str, arguments)])
    return result.exit_code, result.stderr


def test_csv_goes_to_a_new_folder_or_an_empty_one_for_its_owner_alone(case: Path, tmp_path: Path):
    folder = tmp_path / "tables"
    assert summary(case, "--format", "csv", "--output", f"{folder}/") == (0, "")
    names = sorted(each.name for each in folder.iterdir())
    assert {"tables.csv", "case.csv", "zones_by_size.csv"} <= set(names)
    assert (folder.stat().st_mode & 0o777, (folder / "case.csv").stat().st_mode & 0o777) == (0o700, 0o600)
    (tmp_path / "empty").mkdir()
    assert summary(case, "--format", "csv", "--output", tmp_path / "empty")[0] == 0
    assert sorted(each.name for each in (tmp_path / "empty").iterdir()) == names


def test_tables_never_mix_with_what_is_there(case: Path, tmp_path: Path):
    folder = tmp_path / "tables"
    folder.mkdir()
    (folder / "other.txt").write_text("mine")
    code, said = summary(case, "--format", "csv", "--output", folder)
    assert (code, "already exists" in said) == (1, True)
    assert [each.name for each in folder.iterdir()] == ["other.txt"]
    (tmp_path / "file").write_text("mine")
    assert summary(case, "--format", "csv", "--output", tmp_path / "file")[0] == 1
    assert (tmp_path / "file").read_text() == "mine"
    assert summary(case, "--format", "csv", "--output", tmp_path / "none" / "tables")[0] == 1


def test_a_folder_that_could_not_be_finished_is_not_left_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    def full(path: Path, data: bytes) -> int:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(OrroomError, match="No space left on device"):
        common.write_folder({"a.csv": "1"}, tmp_path / "tables")
    assert list(tmp_path.iterdir()) == []


def test_csv_without_a_folder_says_that_it_needs_one(case: Path, tmp_path: Path):
    for words in (["--format", "csv"], ["--output", tmp_path / "one.csv"]):
        code, said = summary(case, *words)
        assert (code, "csv needs a folder for its tables" in said) == (2, True)
    assert not (tmp_path / "one.csv").exists()


def test_columns_are_plain_words():
    found = to_csv_tables(summarise(case_under_way().state))
    columns = {column for text in found.values() for column in rows(text)[0]}
    assert [each for each in columns if not re.fullmatch("[a-z][a-z0-9_]*", each)] == []


# What programs and spreadsheets need of every table.


def test_every_table_begins_with_the_case_and_every_head_says_the_unit(tables: dict[str, str], day: Summary):
    words = {"ms": "min", "1/h": "per_", "°C": "_c", "cm²": "cm2", "hairs/graft": "hairs"}
    for name, text in tables.items():
        if name != "tables.csv":
            assert rows(text)[0][0] == "case"
            assert {row[0] for row in rows(text)[1:]} <= {day.case}
    for _, column, unit, _ in rows(tables["tables.csv"])[1:]:
        if unit and unit != "as in the column unit" and column not in OF_ANY_WORK:
            word = words.get(unit, unit.replace("-", "_").replace("/cm²", "_per_cm2"))
            assert word in column or (unit == "h" and "hour" in column), column


def test_a_time_is_in_utc_and_by_the_clock_of_the_case(tables: dict[str, str]):
    (case,) = csv.DictReader(io.StringIO(tables["case.csv"]))
    assert (case["opened_utc"], case["opened_local"]) == ("2026-03-05T07:00:00.000Z", "2026-03-05 08:00:00")
    heads = {column for text in tables.values() for column in rows(text)[0]}
    assert {each.removesuffix("_utc") for each in heads if each.endswith("_utc")} == {
        each.removesuffix("_local") for each in heads if each.endswith("_local")
    }


def test_a_decimal_comma_goes_with_semicolons_and_reads_back_the_same(day: Summary, tables: dict[str, str]):
    import pandas as pd

    for name, text in to_csv_tables(day, decimal=",").items():
        there = pd.read_csv(io.StringIO(text), sep=";", decimal=",")
        pd.testing.assert_frame_equal(there, pd.read_csv(io.StringIO(tables[name])))
    assert ";30,5;" in to_csv_tables(day, decimal=",")["zones.csv"]


def test_a_spreadsheet_gets_its_comma_and_its_mark_and_hears_of_the_apostrophe(tmp_path: Path):
    from orroom.cli.common import record as enter

    case = new_case(tmp_path / "case.orroom")
    enter(case, c.AddNote(text="=1+1; -2,5"), "EF")
    plain, marked = tmp_path / "plain", tmp_path / "marked"
    code, said = summary(case, "--format", "csv", "--output", plain)
    assert (code, "In notes.csv an apostrophe is before texts" in said) == (0, True)
    assert not (plain / "case.csv").read_bytes().startswith(b"\xef\xbb\xbf")
    code, said = summary(case, "--format", "csv", "--decimal", "comma", "--bom", "--output", marked)
    assert (code, "notes.csv" in said) == (0, True)
    assert all(each.read_bytes().startswith(b"\xef\xbb\xbfcase;") for each in marked.glob("[!t]*.csv"))
    note = next(csv.DictReader(io.StringIO((marked / "notes.csv").read_text("utf-8-sig")), delimiter=";"))
    assert note["text"] == "'=1+1; -2,5"
    for option in (["--bom"], ["--decimal", "comma"]):
        assert "for csv alone" in summary(case, "--format", "json", *option)[1]
