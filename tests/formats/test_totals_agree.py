"""The same totals in every format, in the views of the case file, and in a tally made by hand."""

from __future__ import annotations

import csv
import io
import json
import re
import sqlite3
from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any, NamedTuple
from xml.etree import ElementTree

import duckdb
import pytest
from cases import Record
from click.testing import CliRunner
from eventful_day import AT_OVERVIEW, AT_PLACING, count_by_two, eventful_day, sign_off
from printed import poppler
from rich.console import Console

from orroom.case import commands as c
from orroom.cli import main
from orroom.formats.blocks import runs
from orroom.formats.first_page.page import first_page
from orroom.formats.summary_blocks import blocks_of
from orroom.formats.terminal import OnTerminal
from orroom.record.encoding import lines_of
from orroom.summary.summary import summarise

SIZES = ("1", "2", "3", "M")
#: What is counted of each size, as the summary calls it, and as every page does.
ROWS = {
    "cut_in_all": "cut in all",
    "divided_in": "pieces from dividing",
    "divided_out": "grafts divided",
    "discarded": "discarded",
    "not_found": "not found",
    "left_at_end": "left at the end",
    "dish": "in dishes",
    "with_placers": "with the placers",
    "placed": "placed",
}
Cells = dict[tuple[str, str], int]


class Day(NamedTuple):
    """A case: in memory, on the disk, as a list of its entries, and where its tables are written."""

    record: Record
    case: Path
    lines: list[dict[str, Any]]
    folder: Path


class Totals(NamedTuple):
    """By what and size; by zone and size; by harvest; what was left, by fate; spoilt in cutting, by size."""

    sizes: Cells
    zones: Cells
    harvests: Cells
    fates: dict[str, int]
    spoilt: dict[str, int]


def said(*words: object) -> str:
    done = CliRunner().invoke(main, [str(word) for word in words])
    assert done.exit_code == 0, done.output
    return done.stdout


@pytest.fixture(scope="module")
def day(tmp_path_factory: pytest.TempPathFactory) -> Day:
    """Two harvests, entries cancelled and undone, placings moved and moved back, divided, found, left."""
    record = eventful_day()
    record.enter(c.CutGrafts(harvest="B", size="2", count=9), "MN")
    record.enter(c.CutGrafts(harvest="B", size="3", count=6), "MN")
    wrong = record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=5), **AT_PLACING)
    record.enter(c.CorrectEntry(entry=wrong.seq, reason="counted twice"), **AT_OVERVIEW)
    right = record.enter(c.PlaceGrafts(zone="FRONT", size="3", count=2), **AT_PLACING)
    moved = record.enter(c.MovePlacing(entry=right.seq, zone="MID"), **AT_OVERVIEW)
    record.enter(c.CorrectEntry(entry=moved.seq, reason="it was right"), **AT_OVERVIEW)
    count_by_two(record)
    left = {"harvest": "B", "place": "dish"}
    record.enter(c.GiveFate(size="2", count=8, fate="kept", **left), **AT_OVERVIEW)
    extra = c.GiveFate(size="2", count=3, fate="placed extra", into_zone="MID", by="CD", **left)
    record.enter(extra, **AT_OVERVIEW)
    sign_off(record, "GH")
    folder = tmp_path_factory.mktemp("totals")
    (folder / "events.jsonl").write_text(lines_of(record.state.log), "utf-8")
    said("import", folder / "events.jsonl", folder / "case.orroom")
    lines = [json.loads(line) for line in (folder / "events.jsonl").read_text("utf-8").splitlines()]
    return Day(record, folder / "case.orroom", lines, folder)


@pytest.fixture(scope="module")
def truth(day: Day) -> Totals:
    return by_hand(day.lines)


def by_hand(lines: list[dict[str, Any]]) -> Totals:
    """Added up line by line as on paper: what is cancelled is struck out, then each line's grafts go over."""
    cancelled = {each["event"]["entry"] for each in lines if each["kind"] == "entry_corrected"}
    sizes: Counter[tuple[str, str]] = Counter()
    zones: Counter[tuple[str, str]] = Counter()
    harvests: Counter[tuple[str, str]] = Counter()
    fates: Counter[str] = Counter()
    spoilt: Counter[str] = Counter()
    place_of = {"dish": "dish", "bench": "with_placers"}
    for line in lines:
        if line["seq"] in cancelled:
            continue
        kind, event = line["kind"], line["event"]
        size, count = event.get("size"), event.get("count", 0)
        for part in event.get("drawn", ()):  # from where they are taken, and of which harvest
            sizes[place_of[part["place"]], size] -= part["count"]
        match kind:
            case "grafts_cut":
                sizes["cut_in_all", size] += count
                sizes["dish", size] += count
                harvests["cut_in_all", event["lot"]] += count
            case "grafts_discarded":
                sizes["discarded", size] += count
                if event.get("lot"):
                    sizes["cut_in_all", size] += count
                    harvests["cut_in_all", event["lot"]] += count
                    spoilt[size] += count
            case "grafts_divided":
                sizes["divided_out", size] += count
                for piece in event["into"]:
                    sizes["divided_in", piece] += count
                    sizes["dish", piece] += count
            case "grafts_issued":
                sizes["with_placers", size] += count
            case "grafts_returned":
                sizes["dish", size] += count
            case "placing_moved":
                zones[event["from_zone"], size] -= count
                zones[event["zone"], size] += count
            case "dish_counted":
                sizes["not_found", size] += event["tallied"] - event["found"]
                sizes[place_of[event["place"]], size] -= event["tallied"] - event["found"]
        if kind == "fate_given":
            fates[event["fate"]] += count
        if kind == "grafts_placed" or event.get("into_zone"):
            sizes["placed", size] += count
            zones[event.get("zone") or event["into_zone"], size] += count
            for part in event["drawn"]:
                harvests["placed", part["lot"]] += part["count"]
        elif kind == "fate_given":
            sizes["left_at_end", size] += count
    return Totals(*(no_zeros(each) for each in (sizes, zones, harvests, fates, spoilt)))


def no_zeros(counts: dict[Any, int]) -> dict[Any, int]:
    return {key: count for key, count in counts.items() if count}


def test_the_tally_made_by_hand_balances(truth: Totals):
    """By the turns of the day: 44 + 3 ones came; of 96 placed, 5 moved zones, 3 were placed at the end."""
    for size in SIZES:
        came, gone = (
            sum(truth.sizes.get((row, size), 0) for row in rows)
            for rows in (("cut_in_all", "divided_in"), [*ROWS][2:])
        )
        assert came == gone
    assert sum(truth.zones.values()) == sum(truth.sizes.get(("placed", size), 0) for size in SIZES)
    assert sum(truth.zones.values()) == 36 + 40 + 5 + 2 + 9 + 2 + 3
    assert truth.zones["MID", "2"] == 3
    assert truth.spoilt == {"2": 4, "3": 2}
    assert truth.fates == {"kept": 8, "placed extra": 3}
    assert truth.harvests["cut_in_all", "B"] == 9 + 9 + 6


def test_json_agrees(day: Day, truth: Totals):
    summary = json.loads(said("summary", day.case, "--format", "json"))
    sizes = {(row, each["size"]): each[row] for each in summary["sizes"] for row in ROWS}
    in_all = {row: summary["in_all"][row] for row in ROWS}
    zones = {(each["zone"], size): n for each in summary["zones"] for size, n in each["placed"].items()}
    harvests = {
        (row, each["harvest"]): each[row] for each in summary["harvests"] for row in ("cut_in_all", "placed")
    }
    spoilt: Counter[str] = Counter()
    for each in summary["discards"]:
        spoilt.update(each["in_cutting"])
    assert no_zeros(sizes) == truth.sizes
    assert in_all == {row: sum(truth.sizes.get((row, size), 0) for size in SIZES) for row in ROWS}
    assert no_zeros(zones) == truth.zones
    assert no_zeros(harvests) == truth.harvests
    assert no_zeros(spoilt) == truth.spoilt
    assert sum(each["grafts"] for each in summary["fates"]) == sum(truth.fates.values())
    assert summary["final_count"]["differences"] == sum(not each["agrees"] for each in summary["counted"]) > 0


def test_the_tables_agree(day: Day, truth: Totals):
    folder = day.folder / "tables"
    said("summary", day.case, "--format", "csv", "--output", folder)

    def rows(name: str) -> Iterator[dict[str, str]]:
        with (folder / f"{name}.csv").open(encoding="utf-8", newline="") as file:
            yield from csv.DictReader(file)

    sizes = {(row, each["size"]): int(each[f"{row}_grafts"]) for each in rows("sizes") for row in ROWS}
    of_parts: Counter[tuple[str, str]] = Counter()
    for each in rows("accounts"):
        for row in ROWS:
            of_parts[row, each["size"]] += int(each[f"{row}_grafts"])
    zones = {(each["zone"], each["size"]): int(each["placed_grafts"]) for each in rows("zones_by_size")}
    assert no_zeros(sizes) == no_zeros(of_parts) == truth.sizes
    assert no_zeros(zones) == truth.zones
    spoilt: Counter[str] = Counter()
    for each in rows("discards_by_size"):
        spoilt[each["size"]] += int(each["in_cutting_grafts"])
    assert no_zeros(spoilt) == truth.spoilt
    assert sum(int(each["grafts"]) for each in rows("fates")) == sum(truth.fates.values())


def test_the_exported_entries_agree(day: Day, truth: Totals):
    """Each row has what it counts; what was taken from where is in the entry's own words."""
    said("export", day.case, day.folder / "events.parquet")
    with closing(duckdb.connect()) as connection:
        connection.execute(f"CREATE VIEW e AS FROM '{day.folder}/events.parquet' WHERE stands")

        def counted(select: str) -> Cells:
            return {tuple(row[:-1]): int(row[-1]) for row in connection.execute(select).fetchall() if row[-1]}

        cut = counted(
            "SELECT 'cut_in_all', size, sum(count) FROM e WHERE kind = 'grafts_cut' "
            "OR (kind = 'grafts_discarded' AND harvest IS NOT NULL) GROUP BY ALL"
        )
        discarded = counted(
            "SELECT 'discarded', size, sum(count) FROM e WHERE kind = 'grafts_discarded' GROUP BY ALL"
        )
        placed = counted("SELECT zone, size, sum(count) FROM e WHERE kind = 'grafts_placed' GROUP BY ALL")
    of_size = {row: {key: n for key, n in truth.sizes.items() if key[0] == row} for row in ROWS}
    assert cut == of_size["cut_in_all"]
    assert discarded == of_size["discarded"]
    moved = {("FRONT", "3"): 2, ("MID", "3"): -2, ("MID", "2"): -3}  # entries of their own, and the fate
    assert no_zeros({key: truth.zones.get(key, 0) + moved.get(key, 0) for key in {*truth.zones, *moved}}) == (
        placed
    )


def test_the_views_agree(day: Day, truth: Totals):
    with closing(sqlite3.connect(day.case)) as connection:
        in_view = (
            "cut_in_all",
            "divided_in",
            "divided_out",
            "discarded",
            "placed",
            "not_found",
            "left_at_end",
        )
        names = ", ".join(("size", *in_view, "waiting"))
        rows = connection.execute(f"SELECT {names} FROM tally_by_size").fetchall()
        sizes = {(row, size): n for size, *counts, _ in rows for row, n in zip(in_view, counts, strict=True)}
        waiting = {size: counts[-1] for size, *counts in rows}
        zones = {(zone, size): n for zone, size, n in connection.execute("SELECT * FROM tally_by_zone")}
        plan = {
            (zone, size): n for zone, size, n in connection.execute("SELECT zone, size, placed FROM plan")
        }
        by_zone = dict(connection.execute("SELECT zone, grafts_placed FROM zones"))
    assert no_zeros(sizes) == {key: n for key, n in truth.sizes.items() if key[0] in in_view}
    assert waiting == {
        size: truth.sizes.get(("dish", size), 0) + truth.sizes.get(("with_placers", size), 0)
        for size in SIZES
    }
    assert no_zeros(zones) == no_zeros(plan) == truth.zones
    assert by_zone == {
        zone: sum(n for (where, _), n in truth.zones.items() if where == zone) for zone in by_zone
    }


@pytest.mark.parametrize("version", ["r4b", "r5"])
def test_fhir_agrees(day: Day, truth: Totals, version: str):
    words = {**ROWS, "divided_in": "divided in", "divided_out": "divided out"}
    bundle = json.loads(said("summary", day.case, "--format", "fhir", "--fhir", version))
    resources = [each["resource"] for each in bundle["entry"]]
    found = [each for each in resources if each["resourceType"] == "Observation"]

    def by_size(observation: dict[str, Any]) -> dict[str, int]:
        parts = {
            part["code"]["coding"][0]["code"]: part["valueQuantity"]["value"]
            for part in observation["component"]
        }
        assert observation["valueQuantity"]["value"] == sum(parts.values())
        return parts

    for row, name in words.items():
        (mine,) = (each for each in found if each["code"]["text"] == f"grafts {name}")
        assert {size: n for size, n in by_size(mine).items() if n} == {
            size: n for (what, size), n in truth.sizes.items() if what == row
        }
    zones = [by_size(each) for each in found if each["code"]["text"] == "grafts placed in zone"]
    order = [each.key for each in day.record.state.plan.zones]
    assert no_zeros(
        {(zone, size): n for zone, part in zip(order, zones, strict=True) for size, n in part.items()}
    ) == (truth.zones)


def number(text: str) -> int:
    return int(text.replace(",", "").replace("−", "-").replace("·", "0"))


def rows_of(cells: Iterator[list[str]]) -> Cells:
    """By row and size, of the first table with these rows; the last cell of each is their sum."""
    found: Cells = {}
    of_words = {words: row for row, words in ROWS.items()}
    for words, *counts in cells:
        if (row := of_words.pop(words, None)) and len(counts) == len(SIZES) + 1:
            numbers = [number(each) for each in counts]
            assert sum(numbers[:-1]) == numbers[-1]
            found |= {(row, size): n for size, n in zip(SIZES, numbers, strict=False)}
    assert not of_words
    return no_zeros(found)


def placed_of(cells: Iterator[list[str]], day: Day) -> Cells:
    """By zone and size, of a table with a column for each size: placed, or placed / planned."""
    labels = {zone.label: zone.key for zone in day.record.state.plan.zones}
    found: Cells = {}
    for words, *counts in cells:
        if words in labels:
            for size, cell in zip(SIZES, counts, strict=False):
                found[labels[words], size] = number(cell.split(" / ")[0].replace("—", "0"))
    return no_zeros(found)


def test_markdown_agrees(day: Day, truth: Totals):
    page = said("summary", day.case, "--format", "md")

    def cells() -> Iterator[list[str]]:
        for line in page.splitlines():
            if line.startswith("| "):
                yield [each.strip() for each in line.strip("|").split("|")]

    assert rows_of(row for row in cells()) == truth.sizes
    of_zones = page.split("| zone ")[2]  # the second of the zones' tables
    assert of_zones.split("|")[1].strip() == "1"
    assert (
        placed_of(
            ([each.strip() for each in line.strip("|").split("|")] for line in of_zones.splitlines()), day
        )
        == truth.zones
    )
    fates = re.findall(r"^- (\d+) × .*: (?:kept|placed beyond)", page, re.M)
    assert sum(map(int, fates)) == sum(truth.fates.values())


def test_the_page_agrees(day: Day, truth: Totals):
    page = said("summary", day.case, "--format", "html")
    tables = re.findall(r"<table.*?</table>", page, re.S)

    def cells(table: str) -> Iterator[list[str]]:
        for row in ElementTree.fromstring(table).iter("tr"):  # noqa: S314 - our own page
            yield ["".join(cell.itertext()).strip() for cell in row]

    whole = next(each for each in tables if ">with the placers<" in each)
    assert rows_of(cells(whole)) == truth.sizes
    zones = next(each for each in tables if ">owed / over<" in each)
    header = next(cells(zones))
    place = header.index("1")
    assert placed_of(([row[0], *row[place:]] for row in cells(zones)), day) == truth.zones


def test_print_agrees(day: Day, truth: Totals):
    said("summary", day.case, "--output", day.folder / "summary.pdf")
    text = poppler("pdftotext", (day.folder / "summary.pdf").read_bytes(), "-layout")
    pattern = re.compile(rf"^({'|'.join(ROWS.values())})((?: +[−\d,]+){{5}})(?!\S)", re.M)
    after = text.split("Grafts and hairs\n")[-1]
    assert rows_of([each[1], *each[2].split()] for each in pattern.finditer(after)) == truth.sizes


def test_the_terminal_agrees(day: Day, truth: Totals):
    console = Console(width=100, file=io.StringIO(), record=True)
    console.print(OnTerminal(blocks_of(summarise(day.record.state))))
    text = console.export_text()
    pattern = re.compile(rf"^ ?({'|'.join(ROWS.values())})((?: +[−\d,]+){{5}}) *$", re.M)
    assert rows_of([each[1], *each[2].split()] for each in pattern.finditer(text)) == truth.sizes


def test_the_first_page_agrees(day: Day, truth: Totals):
    """Its rows add up from top to bottom; divided and a hand count are signed, what waits is one row."""

    def of(*rows: str) -> list[int]:
        sizes = [sum(truth.sizes.get((row, size), 0) for row in rows) for size in SIZES]
        return [*sizes, sum(sizes)]

    def less(more: list[int], fewer: list[int]) -> list[int]:
        return [one - other for one, other in zip(more, fewer, strict=True)]

    page = first_page(summarise(day.record.state))
    assert page.sizes.table is not None
    found = {}
    for row in page.sizes.table.rows:
        words, *cells = ("".join(text for text, _ in runs(cell)) for cell in row)
        found[words] = [number(cell.removeprefix("+")) for cell in cells]
    assert found.pop("planned")[-1] == 184
    assert found == {
        "cut in all": of("cut_in_all"),
        "divided": less(of("divided_in"), of("divided_out")),
        "discarded": less([0] * 5, of("discarded")),
        "hand count": less([0] * 5, of("not_found")),
        "placed": of("placed"),
        "waiting": of("dish", "with_placers"),
        "left at the end": of("left_at_end"),
    }
    shown = {each.what: each.figure for each in page.headlines}
    assert shown["grafts placed"] == str(of("placed")[-1])
