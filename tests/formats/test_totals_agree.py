"""The same totals in every format, in the views of the case file, and in a tally made by hand."""

from __future__ import annotations

import csv
import json
import sqlite3
from contextlib import closing
from pathlib import Path

import duckdb
import pytest
from click.testing import CliRunner

from orroom.cli import main

SAMPLE = Path(__file__).parents[2] / "sample_cases" / "two-lots"


@pytest.fixture(scope="module")
def case(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("totals") / "case.orroom"
    said("import", SAMPLE / "events.jsonl", path)
    return path


def said(*words: object) -> str:
    done = CliRunner().invoke(main, [str(word) for word in words])
    assert done.exit_code == 0, done.output
    return done.stdout


def by_hand() -> tuple[dict[str, int], dict[str, int]]:
    """Placed grafts by zone and by size, added up line by line from the events file, as on paper."""
    lines = [json.loads(line) for line in (SAMPLE / "events.jsonl").read_text("utf-8").splitlines()]
    cancelled = {each["event"]["entry"] for each in lines if each["kind"] == "entry_corrected"}
    zones: dict[str, int] = {}
    sizes: dict[str, int] = {}
    for each in lines:
        if each["kind"] == "grafts_placed" and each["seq"] not in cancelled:
            event = each["event"]
            zones[event["zone"]] = zones.get(event["zone"], 0) + event.get("count", 1)
            sizes[event["size"]] = sizes.get(event["size"], 0) + event.get("count", 1)
    return zones, sizes


def test_placed_grafts_agree_everywhere(case: Path, tmp_path: Path):
    zones, sizes = by_hand()
    assert sum(zones.values()) == sum(sizes.values()) == 400  # the sample's README says so

    summary = json.loads(said("summary", case, "--format", "json"))
    assert {each["zone"]: each["grafts_placed"] for each in summary["zones"]} == zones

    said("summary", case, "--format", "csv", "--output", tmp_path / "tables")
    with (tmp_path / "tables" / "zones.csv").open(encoding="utf-8", newline="") as file:
        assert {row["zone"]: int(row["grafts_placed"]) for row in csv.DictReader(file)} == zones

    said("export", case, tmp_path / "events.parquet")
    entries = f"FROM '{tmp_path}/events.parquet' WHERE kind = 'grafts_placed' AND stands GROUP BY 1"
    with closing(duckdb.connect()) as connection:
        assert dict(connection.execute(f"SELECT zone, sum(count) {entries}").fetchall()) == zones
        assert dict(connection.execute(f"SELECT size, sum(count) {entries}").fetchall()) == sizes

    with closing(sqlite3.connect(case)) as connection:
        assert dict(connection.execute("SELECT zone, grafts_placed FROM zones")) == zones
        assert dict(connection.execute("SELECT size, sum(placed) FROM plan GROUP BY 1")) == sizes

    for form in ("md", "html"):
        page = said("summary", case, "--format", form)
        assert "400 of 400" in page or ">400<" in page, form
