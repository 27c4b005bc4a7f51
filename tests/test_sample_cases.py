"""The recorded sample cases, through the real import into a case file and the real summary out of it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from cases import MORNING_MS, small_plan
from click.testing import CliRunner
from two_days_sample import FOLDER as TWO_DAYS
from two_days_sample import two_days_sample
from two_lots import FOLDER, two_lots

from orroom.case.events import CaseOpened, Entry, GraftsCut, Stamp
from orroom.case.plan import Size, Zone
from orroom.cli import main
from orroom.record.encoding import lines_of
from orroom.record.verify import verify

SAMPLES = FOLDER.parent


def summary_of(events: Path, folder: Path) -> dict[str, Any]:
    """What ``orroom import`` and then ``orroom summary --format json`` say."""
    case = folder / "case.orroom"
    imported = CliRunner().invoke(main, ["import", str(events), str(case)])
    assert imported.exit_code == 0, imported.output
    result = CliRunner().invoke(main, ["summary", str(case), "--format", "json"])
    assert result.exit_code == 0, result.output
    return json.loads(result.output)


@pytest.mark.parametrize("name", ["hairline", "frontal-midscalp", "two-lots"])
def test_a_recorded_case_adds_up(name: str, tmp_path: Path):
    summary = summary_of(SAMPLES / name / "events.jsonl", tmp_path)
    assert summary["adds_up"] is (name != "two-lots")  # there one three was placed that nobody had cut
    placed = sum(sum(each["placed"].values()) for each in summary["zones"])
    assert placed == summary["in_all"]["placed"]


def test_a_day_recorded_before_lanes_fates_and_faults_by_person_reads_as_it_did(tmp_path: Path):
    """The figures are those that its summary had when it was recorded."""
    summary = summary_of(Path(__file__).parent / "recorded" / "day-without-lanes.jsonl", tmp_path)
    assert summary["adds_up"]
    assert [summary["in_all"][name] for name in ("cut_in_all", "placed", "dish", "discarded")] == [
        2454, 2402, 24, 34
    ]  # fmt: skip
    placed = {each["who"]: sum(each["placed"].values()) for each in summary["people"]}
    assert (placed["GH"], sum(placed.values())) == (2402, 2402)
    assert {each["who"] for each in summary["zone_hands"] if each["sites_made"]} == {"RS"}
    checks = [each for each in summary["quality"] if each["measure"].startswith("spot check")]
    assert [(each["count"], each["of"]) for each in checks] == [(1, 80), (5, 150)]
    assert summary["fates"] == []


def test_the_recorded_day_of_two_lots_is_the_one_written_down_turn_by_turn():
    assert (FOLDER / "events.jsonl").read_text("utf-8") == lines_of(two_lots())


def test_the_two_days_are_those_worked_out_by_hand_and_the_second_has_the_seal_of_the_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    made = two_days_sample(tmp_path)
    assert {name: (TWO_DAYS / name).read_text("utf-8") for name in made} == made
    monkeypatch.chdir(tmp_path)
    summary = summary_of(TWO_DAYS / "events.jsonl", tmp_path)
    [earlier] = summary["earlier_cases"]
    assert earlier["seal"] == verify(tmp_path / "DEMO-0715-1.orroom").seal.hash
    assert (
        summary["in_all"]["kept_before"],
        summary["in_all"]["placed"],
        summary["in_all"]["not_found"],
    ) == (
        13,
        11,
        1,
    )
    shown = CliRunner().invoke(main, ["check", str(TWO_DAYS / "plan.toml")])
    assert shown.exit_code == 0, shown.output
    assert "Earlier case DEMO-0715-1, 2026-01-05: 67 placed, 90 taken from the donor" in shown.stdout


def test_two_lots_is_what_a_person_adds_up(tmp_path: Path):
    """Worked by hand from ``tests/two_lots.py`` (arithmetic).

    Ones: cut 60 + 50 (A) + 95 (B) = 205, and one out of a divided 3 = 206. Placed 50 + 50 + 100 = 200,
    left in dishes 6.

    Twos: cut 40 + 1 (A; the one was spoilt on the board) + 85 (B; nine more were taken back) = 126, and one
    out of a divided 3 = 127, less 1 discarded = 126. Placed 40 + 80 = 120, left 6.

    Threes: cut 30 (A) + 51 (B) = 81, less 1 divided, less 1 dried with the placers = 79. Placed 19 + 61 =
    80: one more than there were, so the dishes are at -1 and the case has a mismatch.

    All: 412 cut + 2 divided in = 414 = 11 in dishes + 400 placed + 2 discarded + 1 divided out.
    Hairs placed 200 × 1 + 120 × 2 + 80 × 3 = 680, 1.70 a graft; usable 206 + 252 + 237 = 695.
    Frontal core: 200 grafts in 8.0 cm² = 25.0/cm², 480 hairs = 60.0/cm².
    Wetting: 8 times; due 07:30 local and then 15 min after the one before; the last was due at minute 136 and
    given at 140, 4 min late with 2 min of grace: 7 on time.
    """
    summary = summary_of(FOLDER / "events.jsonl", tmp_path)
    by_size = {each["size"]: each for each in summary["sizes"]}
    came = ("planned", "cut_in_all", "divided_in", "divided_out", "discarded")
    accounts = (*came, "dish", "with_placers", "placed", "owed")
    assert {size: [by_size[size][name] for name in accounts] for size in "123"} == {
        "1": [200, 205, 1, 0, 0, 6, 0, 200, 0],
        "2": [120, 126, 1, 0, 1, 6, 0, 120, 0],
        "3": [80, 81, 0, 1, 1, -1, 0, 80, 0],
    }
    assert [summary["in_all"][name] for name in accounts] == [400, 412, 2, 1, 2, 11, 0, 400, 0]
    assert (summary["in_all"]["hairs_placed"], summary["in_all"]["hairs_usable"]) == (680, 695)
    assert summary["in_all"]["hairs_per_graft_placed"] == 1.7
    core = next(each for each in summary["zones"] if each["zone"] == "FC")
    assert (core["placed_grafts_per_cm2"], core["placed_hairs_per_cm2"]) == (25.0, 60.0)
    assert (core["sites_made"], core["sites_free"]) == (200, 0)
    wet = next(each for each in summary["care"] if each["care"] == "wet")
    assert (wet["given"], wet["on_time"], wet["latest_ms"]) == (8, 7, 4 * 60_000)
    cold = next(each for each in summary["care"] if each["care"] == "temperature")
    assert (cold["readings"], cold["out_of_band"], cold["highest_c"]) == (5, 1, 8.6)
    assert [each["mismatch"] for each in summary["mismatches"]] == ["short:dish:3:B"]
    assert len(summary["corrections"]) == 1


def test_a_published_worked_count_comes_out_of_import_and_summary(tmp_path: Path):
    """1212×1 + 1756×2 + 567×3 + 180×4 = 3715 grafts, 7145 hairs, 1.9233 hairs per graft.

    Source: a published worked count of a session by graft size.
    """
    counts = {"1": 1212, "2": 1756, "3": 567, "4": 180}
    plan = small_plan(
        sizes=tuple(Size(key=key, label=f"{key} hairs", hairs=int(key)) for key in counts),
        zones=(Zone(key="ALL", label="all zones", area_cm2=100, targets=counts),),
    )
    stamps = [Stamp(MORNING_MS, "desk", tap, "AB") for tap in range(1, 6)]
    happened = [
        CaseOpened(plan=plan, utc_offset_minutes=0),
        *(GraftsCut(harvest="A", size=size, count=count) for size, count in counts.items()),
    ]
    events = tmp_path / "events.jsonl"
    events.write_text(lines_of(map(Entry, range(1, 6), stamps, happened)), "utf-8")
    summary = summary_of(events, tmp_path)
    usable = sum(each["dish"] for each in summary["sizes"])
    assert (summary["in_all"]["cut_in_all"], usable, summary["in_all"]["hairs_usable"]) == (3715, 3715, 7145)
    assert round(summary["in_all"]["hairs_per_graft_usable"], 4) == 1.9233
