"""``earlier = "CASE"`` in a plan: found by code or path, taken into the case, refused if it does not fit."""

from __future__ import annotations

import json
import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from cases import small_plan
from click.testing import CliRunner, Result
from msgspec.structs import replace
from stations import new_case, read_case
from three_days import day_1, day_2, on_disk

from orroom.archive.anonymous import anonymous_entries
from orroom.archive.case_row import case_row
from orroom.case import commands as c
from orroom.case.plan import Harvest, Plan, Size, Zone
from orroom.cli import main
from orroom.cli.common import record
from orroom.figures.counts import by_size
from orroom.files.plan_draft import draft_of
from orroom.files.plan_file import plan_from_raw
from orroom.files.plan_text import text_of
from orroom.record.cases import found_cases
from orroom.record.verify import verify
from orroom.screens.plan_form import screen as plan_form
from orroom.screens.plan_form.screen import Outcome


def orroom(*words: object) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


def plan_file(path: Path, plan: Plan) -> Path:
    path.parent.mkdir(exist_ok=True)
    path.write_text(text_of(draft_of(plan)).text, "utf-8")
    return path


@pytest.fixture
def first(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The signed case of day 1, in a folder of its own, and a shell elsewhere."""
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    monkeypatch.chdir(elsewhere)
    folder = tmp_path / "plans" / "P7-1"
    folder.mkdir(parents=True)
    return on_disk(day_1(), folder / "P7-1.orroom")


@pytest.fixture
def plan(first: Path) -> Path:
    return plan_file(first.parent.parent / "day2.toml", small_plan(case="P7-2", earlier="P7-1"))


def opened(plan: Path) -> Path:
    path = plan.with_suffix(".orroom")
    done = orroom("new", plan, "--who", "AB", "--case", path)
    assert done.exit_code == 0, done.output
    return path


def test_a_new_case_says_what_it_took_over(first: Path, plan: Path):
    done = orroom("new", plan, "--who", "AB", "--case", plan.with_suffix(".orroom"))
    assert "Taken over from case P7-1: 13 kept grafts, as harvest K1; count them again." in done.stdout
    assert "Remark" not in done.stdout
    other = plan_file(plan.with_name("other.toml"), small_plan(case="Q3", earlier="P7-1"))
    doubted = orroom("new", other, "--who", "AB", "--case", other.with_suffix(".orroom"))
    assert "Remark: earlier case P7-1, this case Q3: are they of one patient?" in doubted.stdout


def test_a_code_is_found_near_the_plan_and_a_path_begins_there(first: Path, plan: Path):
    by_code = read_case(opened(plan)).plan
    seal = verify(first).seal
    [session] = by_code.sessions
    assert (session.case, session.seal, session.entries) == ("P7-1", seal.hash, seal.seq)
    by_path = plan_file(plan.with_name("path.toml"), small_plan(case="P7-2", earlier="P7-1/P7-1.orroom"))
    assert read_case(opened(by_path)).plan == by_code
    assert by_code.earlier == "P7-1"


def test_the_case_stays_whole_when_the_earlier_one_is_gone(first: Path, plan: Path):
    case = opened(plan)
    shutil.rmtree(first.parent)
    assert orroom("verify", case).exit_code == 0
    assert "Earlier cases" in orroom("summary", case, "--format", "md").stdout
    revised = plan_file(plan.with_name("again.toml"), small_plan(case="P7-2", earlier="P7-1", title="again"))
    assert orroom("revise", case, revised, "--who", "AB", "--reason", "a title").exit_code == 0
    assert read_case(case).plan.sessions is not None
    other = plan_file(plan.with_name("other.toml"), small_plan(case="P7-2", earlier="P8-1"))
    refused = orroom("revise", case, other, "--who", "AB", "--reason", "why not")
    assert refused.exit_code == 2
    assert "'P8-1' is not 'P7-1', which the case was opened with; write earlier = 'P7-1'" in refused.stderr
    missing = orroom("check", plan)
    assert missing.exit_code == 2
    assert "no case with the code 'P7-1' is in" in missing.stderr
    assert "../P7-1/P7-1.orroom" in missing.stderr


def test_a_plan_changed_in_the_form_keeps_what_was_taken_over(
    first: Path, plan: Path, monkeypatch: pytest.MonkeyPatch
):
    case = opened(plan)
    before = read_case(case).plan

    def changed_in(form: Plan, folder: Path, why_not: Callable[[Plan], str | None]) -> Outcome:
        # a draft has no earlier cases in it, and so no plan that is made of one
        filled = plan_from_raw({**draft_of(form), "title": "other"}, "the form")
        assert filled.sessions is None
        assert why_not(filled) is None
        return Outcome(plan=filled, reason="as decided")

    monkeypatch.setattr(plan_form, "changed_in", changed_in)
    done = orroom("revise", case, "--who", "RS")
    assert done.exit_code == 0, done.output
    assert read_case(case).plan == replace(before, title="other")


def test_check_shows_what_was_placed_and_taken_before(first: Path, plan: Path):
    shown = orroom("check", plan)
    assert shown.exit_code == 0, shown.output
    rows = [" ".join(line.split()) for line in shown.stdout.splitlines()]
    assert any(row.startswith("Earlier case P7-1, 2026-01-05: 67 placed, 90 taken") for row in rows)
    assert f"its seal: {verify(first).seal.seq}:{verify(first).seal.hash}" in rows
    # grafts; per cm² and with the plan; hairs per cm² and with the plan, over 4, 10 and 12 cm²
    assert "hairline 25 6.2 16.2 6.2 16.2" in rows
    assert "frontal 40 4.0 12.0 9.0 26.0" in rows
    assert "K1, kept from harvest A: 5 ones, 8 twos; out of the body since 2026-01-05 07:30" in rows
    assert "less 90 taken in earlier cases = 98 still expected" in rows
    assert "size 2: 80 planned, 54 expected from the donor, 8 kept from an earlier case" in rows
    assert "are they of one patient?" not in shown.stdout


def test_two_earlier_cases_are_chained(first: Path, plan: Path):
    on_disk(day_2(read_case(first)), plan.with_name("P7-2.orroom"))
    third = plan_file(plan.with_name("day3.toml"), small_plan(case="P7-3", earlier="P7-2"))
    state = read_case(opened(third))
    assert [(each.case, sum(each.taken.values())) for each in state.plan.sessions] == [
        ("P7-1", 90),
        ("P7-2", 10),
    ]
    assert state.tally.held("dish", "2", "K1") == 10


def test_views_of_the_file_and_the_list_of_cases_have_the_kept_grafts(plan: Path):
    case = opened(plan)
    record(case, c.CutGrafts(harvest="A", size="2", count=6), "AB")
    record(case, c.PlaceGrafts(zone="FRONT", size="2", count=3), "CD")
    with sqlite3.connect(case) as db:
        rows = db.execute(
            "SELECT size, kept_before, cut_in_all, placed, waiting FROM tally_by_size"
        ).fetchall()
    found = by_size(read_case(case))
    assert {size: tuple(rest) for size, *rest in rows} == {
        size: (each.kept_before, each.cut_in_all, each.placed, each.waiting)
        for size, each in found.items()
        if each.usable
    }
    [listed] = [each for each in found_cases([case.parent]) if each.path == case]
    assert (listed.standing.usable, listed.standing.placed) == (19, 3)


@pytest.mark.parametrize("level", ["roles", "anonymous"])
def test_a_shared_summary_has_the_earlier_code_as_its_own(level: str, plan: Path):
    case = opened(plan)
    shared = json.loads(orroom("summary", case, "--format", "json", "--share", level).stdout)
    [earlier] = shared["earlier_cases"]
    assert earlier["grafts_placed"] == 67
    if level == "anonymous":
        text = json.dumps(shared)
        assert earlier["earlier_case"] == "1"
        assert "P7" not in text
        assert read_case(case).plan.sessions[0].seal not in text
    else:
        assert (earlier["earlier_case"], shared["case"]) == ("P7-1", "P7-2")


def test_an_archive_keeps_no_word_of_the_earlier_case(plan: Path):
    case = opened(plan)
    record(case, c.CountDish(size="2", harvest="K1", found=8), "AB")
    state = read_case(case)
    kept = list(anonymous_entries(state, "0123", keep_dates=True))
    kept.append(case_row(state, "0123", "4567", keep_dates=True))
    assert "P7" not in str(kept)
    assert state.plan.sessions[0].seal not in str(kept)
    assert [row["lot"] for row in kept[:2]] == [None, 3]  # behind the two harvests of the plan


def test_every_format_has_the_earlier_case(plan: Path, tmp_path: Path):
    case = opened(plan)
    assert (
        "grafts taken from the donor in an earlier case" in orroom("summary", case, "--format", "fhir").stdout
    )
    tables = tmp_path / "tables"
    assert orroom("summary", case, "--format", "csv", "--output", tables).exit_code == 0
    assert "P7-1" in (tables / "earlier_cases.csv").read_text("utf-8")
    assert "K1" in (tables / "kept_grafts.csv").read_text("utf-8")
    assert "grafts before" in orroom("summary", case, "--format", "html").stdout


def still_open(first: Path) -> None:
    assert orroom("reopen", first, "--who", "AB", "--reason", "one more").exit_code == 0


def altered(first: Path) -> None:
    with sqlite3.connect(first) as db:
        [guard] = db.execute("SELECT sql FROM sqlite_schema WHERE name = 'entry_never_changes'").fetchone()
        db.execute("DROP TRIGGER entry_never_changes")
        db.execute("UPDATE entry SET who = 'XX' WHERE seq = 3")
        db.execute(guard)


def spoilt(first: Path) -> None:
    first.write_bytes(b"no case file")


def without_fate(first: Path) -> None:
    still_open(first)
    record(first, c.CutGrafts(harvest="A", size="1", count=2), "AB")
    record(first, c.SignOff(second="CD", open_because="late", informed="RS"), "AB")


def copied(first: Path) -> None:
    new_case(first.with_name("other.orroom"), small_plan(case="P7-1"))


def nothing(first: Path) -> None:
    pass


ONLY_ONES = {
    "sizes": (Size(key="1", label="ones", hairs=1),),
    "zones": (Zone(key="LINE", label="hairline", area_cm2=4, targets={"1": 40}),),
    "donor": None,
}


@pytest.mark.parametrize(
    ("spoil", "changes", "said"),
    [
        (nothing, {"earlier": "P9"}, ("no case with the code 'P9'", "give the path")),
        (nothing, {"earlier": "P9/x.orroom"}, ("there is no P9/x.orroom", "give the path from")),
        (nothing, {"case": "P7-1"}, ("this case itself", "name the case before")),
        (still_open, {}, ("case P7-1 is still open", "orroom sign-off")),
        (altered, {}, ("ntry 3", "find out what happened first")),
        (spoilt, {}, ("no case with the code 'P7-1'", "P7-1.orroom is not an orroom case file")),
        (without_fate, {}, ("case P7-1 has 2 grafts left without a fate", "orroom fates")),
        (copied, {}, ("2 cases have the code 'P7-1'", "give the path of one")),
        (nothing, ONLY_ONES, ("kept 8 twos; this plan has no size '2'", "add it under [[sizes]]")),
        (nothing, {"harvests": (Harvest(key="K1", label="mine"),)}, ("'K1' is the key of", "another key")),
    ],
    ids=lambda each: getattr(each, "__name__", "") or "",
)
def test_an_earlier_case_that_does_not_fit_is_refused(
    spoil: Callable[[Path], None], changes: dict[str, object], said: tuple[str, ...], first: Path
):
    spoil(first)
    plan = plan_file(
        first.parent.parent / "day2.toml", small_plan(**({"case": "P7-2", "earlier": "P7-1"} | changes))
    )
    for words in (("check", plan), ("new", plan, "--who", "AB", "--case", plan.with_suffix(".orroom"))):
        refused = orroom(*words)
        assert refused.exit_code == 2, refused.output
        for each in ("day2.toml: ", "earlier: ", *said):
            assert each in refused.stderr
    assert not plan.with_suffix(".orroom").exists()


def test_what_a_plan_lacks_of_an_earlier_case_or_another_patients_code_is_a_remark(first: Path):
    folder = first.parent.parent
    lacks = small_plan(
        case="Q3",
        earlier="P7-1",
        sizes=small_plan().sizes[:2],
        zones=(Zone(key="LINE", label="hairline", area_cm2=4, targets={"1": 40}),),
        donor=None,
    )
    shown = orroom("check", plan_file(folder / "day2.toml", lacks))
    assert shown.exit_code == 0, shown.output
    assert "earlier case P7-1, this case Q3: are they of one patient?" in shown.stdout
    assert "40 grafts of earlier cases are in zone FRONT, which this plan lacks; add it" in shown.stdout
    assert "10 threes of earlier cases: this plan lacks size 3" in shown.stdout


def test_what_earlier_cases_did_is_not_typed_into_a_plan(first: Path, plan: Path):
    forged = read_case(opened(plan)).plan
    text = plan.read_text("utf-8") + '\n[[sessions]]\ncase = "P7-0"\n'
    plan.write_text(text, "utf-8")
    refused = orroom("check", plan)
    assert refused.exit_code == 2
    assert "sessions" in refused.stderr
    assert "sessions" not in draft_of(forged)
    assert "sessions" not in orroom("schema").stdout
    assert '"earlier"' in orroom("schema").stdout
