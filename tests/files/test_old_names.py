"""Plans and settings from before a field was renamed go on working, and are saved under today's names."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from two_lots import as_recorded

from orroom.errors import PlanInvalidError
from orroom.files.old_names import text_in_todays_names
from orroom.files.plan_draft import draft_of
from orroom.files.plan_file import load_plan
from orroom.files.plan_text import text_of
from orroom.files.settings_file import load_settings

RECORDED = Path(__file__).parents[1] / "recorded"
SAMPLE = Path(__file__).parents[2] / "sample_cases" / "two-lots" / "plan.toml"


def test_a_plan_with_the_old_names_is_the_same_plan():
    old = RECORDED / "plan-of-format-2.toml"
    assert {"lots", "limits"} <= tomllib.loads(old.read_text("utf-8")).keys()
    assert "bench_seconds" in tomllib.loads(old.read_text("utf-8"))["limits"]
    assert load_plan(old) == as_recorded(load_plan(SAMPLE))


def test_saved_from_the_form_it_keeps_its_comments_and_gets_todays_names():
    before = (RECORDED / "plan-of-format-2.toml").read_text("utf-8")
    saved = text_of(draft_of(load_plan(RECORDED / "plan-of-format-2.toml")), before)
    assert saved.comments_kept
    assert "[[harvests]]" in saved.text
    assert "[[lots]]" not in saved.text
    assert "with_placers_seconds" in saved.text
    comments = [line for line in before.splitlines() if line.startswith("#")]
    assert comments
    assert [line for line in saved.text.splitlines() if line.startswith("#")] == comments


@pytest.mark.parametrize(
    ("old", "today"),
    [
        ("[[lots]]\nkey = 'A'", "[[harvests]]\nkey = 'A'"),
        ("lots = []", "harvests = []"),
        ("limits = { dense = 1, bench_seconds = 9 }", "limits = { dense = 1, with_placers_seconds = 9 }"),
        ("  bench_grace_seconds=9", "  with_placers_grace_seconds=9"),
        ("title = 'lots = 3'", "title = 'lots = 3'"),
        ("# lots of [[lots]]", "# lots of [[lots]]"),
        ("allotment = 1", "allotment = 1"),
    ],
)
def test_only_names_of_fields_change_in_the_text(old: str, today: str):
    assert text_in_todays_names(old) == today


def test_a_field_under_both_names_is_reported(tmp_path: Path):
    text = SAMPLE.read_text("utf-8").replace("[limits]\n", "[limits]\nbench_seconds = 60\n")
    plan = tmp_path / "plan.toml"
    plan.write_text(text)
    with pytest.raises(PlanInvalidError, match=r"limits\.bench_seconds: is not a known field"):
        load_plan(plan)


def test_settings_with_the_old_names_are_read(tmp_path: Path):
    file = tmp_path / "settings.toml"
    file.write_text("[limits]\nbench_seconds = 75\nbench_grace_seconds = 15\n")
    limits = load_settings(file).limits
    assert (limits.with_placers_seconds, limits.with_placers_grace_seconds) == (75, 15)
