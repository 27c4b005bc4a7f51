"""Every verb of the command line has a place on the start screen, or a reason; and each works there."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from itertools import product
from pathlib import Path
from typing import get_args

import pytest
from archived import add, closed_day, written
from click.testing import CliRunner
from start_menus import NOW_MS, a_case, shown
from stations import read_case

from orroom.cli import VERBS, main, training
from orroom.cli import start as starting
from orroom.cli.archive import archive
from orroom.cli.reports import FORMATS, LEVELS
from orroom.cli.start_inside import DOES, attempted
from orroom.drill.making import sheet_of
from orroom.drill.words import sheet_text
from orroom.formats.chosen import FOR
from orroom.record.cases import FoundCase
from orroom.screens.start.case_menus import case_menu
from orroom.screens.start.chosen import Chosen, Found, Inside, Report, What
from orroom.screens.start.learning_menus import RESUME
from orroom.screens.start.lines import Menu
from orroom.screens.start.menus import home_menu
from orroom.screens.start.open_menus import OpenMenus, Result
from orroom.screens.start.report_menus import FIRST_PAGES

SAMPLES = Path(__file__).parents[2] / "sample_cases"

#: What each verb is called when it is chosen on the start screen.
PLACES: dict[str, What] = {
    "demo": "demo",
    "practice": "practice",
    "drill": "drill",
    "guide": "guide",
    "machine": "machine",
    "settings": "settings",
    "plan": "write plan",
    "check": "check",
    "spacing": "spacing",
    "elasticity": "elasticity",
    "sheets": "sheets",
    "new": "make",
    "open": "open",
    "status": "status",
    "handover": "hand over",
    "keys": "key card",
    "revise": "change plan",
    "replan": "re-plan",
    "flow": "flow",
    "fates": "fates",
    "sign-off": "sign off",
    "reopen": "reopen",
    "summary": "report",
    "verify": "verify",
    "backup": "back up",
    "restore": "restore",
    "export": "export",
    "import": "import",
    "replay": "replay",
    "archive": "archive",
}
#: Verbs that need no place, each with the reason.
NO_PLACE = {
    "start": "it opens this very screen",
    "people": "what it shows is a person's own; others at the station must not see it in passing",
    "schema": "for editors of plan files, which are not used here",
}


def offered(shows: object, found: Found, seen: set[int]) -> Iterator[Chosen]:
    """Everything that can be chosen in a menu and in all that it opens; what is asked is answered."""
    match shows:
        case Chosen():
            yield shows
        case Menu() if id(shows) not in seen:
            seen.add(id(shows))
            for item in shows.all:
                yield from offered(item.value, found, seen)
        case FoundCase():
            yield from offered(case_menu(shows, found, NOW_MS), found, seen)
        case flow_of if callable(flow_of):
            flow = flow_of()
            try:
                asked = next(flow)
                while True:
                    asked = flow.send(asked.items[0].value if asked.items else "AB")
            except StopIteration as done:
                yield from offered(done.value, found, seen)
        case _:
            return


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An open case and a signed-off one, each from a sample day, and a plan."""
    folder = tmp_path_factory.mktemp("cases")
    shutil.copy(SAMPLES / "two-lots" / "plan.toml", folder / "plan.toml")
    shutil.copy(SAMPLES / "two-lots" / "events.jsonl", folder / "events.jsonl")
    for day in ("two-lots", "two-days"):
        result = attempted(Chosen("import", file=SAMPLES / day / "events.jsonl"), folder)
        assert result.case is not None
    return folder


@pytest.fixture(scope="module")
def found(folder: Path) -> Found:
    return starting.found_in((folder,))


@pytest.fixture(scope="module")
def reached(found: Found) -> list[Chosen]:
    """All that can be chosen, from the first menu on."""
    return list(offered(home_menu(found, NOW_MS), found, set()))


def test_every_verb_has_a_place_on_the_start_screen_or_a_reason(reached: list[Chosen]):
    assert {*PLACES, *NO_PLACE} == set(VERBS)
    there = {each.what for each in reached}
    assert {verb: what for verb, what in PLACES.items() if what not in there} == {}
    assert {f"{each} archive" for each in archive.commands} == {
        "add archive",
        "report archive",
        "habits archive",
    }
    assert {"archive", "archive report", "habits"} <= there


def test_what_is_done_inside_is_done_and_offered(reached: list[Chosen]):
    assert set(DOES) == set(get_args(Inside))
    # The last question of the sign-off leads to the closing itself.
    assert set(get_args(Inside)) - {each.what for each in reached} == {"close"}


def test_every_format_is_there_at_every_sharing_level(reached: list[Chosen]):
    reports = {each.report for each in reached if each.report is not None}
    for_whom = {(each.form, each.whom) for each in reports if each.whom}
    assert for_whom == set(product(FIRST_PAGES, FOR))
    whole = {(each.form, each.share) for each in reports if not each.brief}
    assert whole == set(product(FORMATS, LEVELS))
    assert {each.form for each in reports if each.brief} == FIRST_PAGES
    assert {each.fhir for each in reports if each.form == "fhir"} == {"r4b", "r5"}


def case_of(found: Found, code: str) -> Path:
    return next(
        each.path for each in found.cases if each.standing is not None and each.standing.plan.case == code
    )


def done(what: What, folder: Path, path: Path | None = None, **more: object) -> Result:
    result = attempted(Chosen(what, path, **more), folder)  # type: ignore[arg-type]
    assert not result.wrong, result.text
    return result


@pytest.mark.parametrize("form", FORMATS)
def test_a_report_is_the_one_that_the_command_line_writes(folder: Path, found: Found, form: str):
    case = case_of(found, "DEMO-0350")
    before = set(case.parent.iterdir())
    result = done("report", folder, case, report=Report(form, "anonymous"))  # type: ignore[arg-type]
    (made,) = set(case.parent.iterdir()) - before
    assert made.name.split(".")[0] == "case"  # not by its code
    assert str(made) in result.text
    by_hand = folder / f"by-hand-{form}"
    argv = ["summary", str(case), "--format", form, "--share", "anonymous", "--output", str(by_hand)]
    assert CliRunner().invoke(main, argv).exit_code == 0
    if form == "csv":
        assert {each.name: each.read_bytes() for each in made.iterdir()} == {
            each.name: each.read_bytes() for each in by_hand.iterdir()
        }
    else:
        assert made.read_bytes() == by_hand.read_bytes()


@pytest.mark.parametrize("whom", FOR)
def test_a_report_for_somebody_is_the_one_that_the_command_line_writes(folder: Path, found: Found, whom: str):
    case = case_of(found, "DEMO-0350")
    before = set(case.parent.iterdir())
    done("report", folder, case, report=Report("md", whom=whom))  # type: ignore[arg-type]
    (made,) = set(case.parent.iterdir()) - before
    assert f"for-{whom}" in made.name
    printed = CliRunner().invoke(main, ["summary", str(case), "--format", "md", "--for", whom]).stdout
    assert made.read_text("utf-8") == printed


def test_entries_go_out_and_come_in_again(folder: Path, found: Found, tmp_path: Path):
    case = case_of(found, "DEMO-0350")
    known = done("export", folder, case, typed=".jsonl")
    file = case.with_suffix(".entries.jsonl")
    assert f"{file}: 57 entries exported." in known.text
    made = done("import", tmp_path, file=file).case
    assert made == tmp_path / "DEMO-0350" / "DEMO-0350.orroom"
    assert read_case(made).log == read_case(case).log
    again = attempted(Chosen("import", file=file), tmp_path)
    assert again.wrong
    assert "exists" in again.text


def test_a_copy_is_put_back(folder: Path, found: Found, tmp_path: Path):
    case = done("import", tmp_path, file=folder / "events.jsonl").case
    assert case is not None
    done("back up", tmp_path, case)
    copy = case.with_name("DEMO-0350.copy-1.orroom")
    case.write_bytes(b"gone")
    here = starting.found_in((tmp_path,))
    menus = OpenMenus(here, NOW_MS)
    for key in "221":
        menus.take(key, key, NOW_MS)
    assert menus.take("y", "y", NOW_MS) == Chosen("restore", case, file=copy, typed="keep")
    assert attempted(Chosen("restore", case, file=copy, typed="keep"), tmp_path).wrong  # what had it?
    assert "57 entries restored" in done("restore", tmp_path, case, file=copy, typed="lose").text
    assert read_case(case).seq == 57


def test_a_seal_is_compared_and_another_one_is_not_this_records(folder: Path, found: Found):
    case = case_of(found, "DEMO-0350")
    seal = re.search(r"Seal (\d+:[0-9a-f]+)", done("verify", folder, case).text)
    assert seal is not None
    assert "The printed seal is in this record." in done("verify seal", folder, case, typed=seal[1][:14]).text
    other = attempted(Chosen("verify seal", case, typed="57:00000000"), folder)
    assert other.wrong
    assert attempted(Chosen("verify seal", case, typed="seal"), folder).text.startswith("--seal takes NUMBER")


def test_what_is_read_is_what_the_command_line_prints(folder: Path, found: Found, tmp_path: Path):
    case, plan = case_of(found, "DEMO-0350"), folder / "plan.toml"
    for what, argv in {
        "check": ["check", str(plan)],
        "spacing": ["spacing", str(plan)],
        "density": ["spacing", "--density", "35"],
        "elasticity": ["elasticity", "35"],
        "fates": ["fates", str(case)],
        "re-plan": ["replan", str(case)],
        "flow": ["flow", str(case)],
        "key card": ["keys", "--role", "cutting"],
        "guide": ["guide", "values"],
    }.items():
        typed = {"key card": "cutting", "guide": "values"}.get(what, "35")
        shown = done(what, tmp_path, plan if what in {"check", "spacing"} else case, typed=typed)  # type: ignore[arg-type]
        printed = CliRunner().invoke(main, argv).stdout
        assert shown.text.startswith(printed.rstrip()), what
        assert shown.title
    assert (tmp_path / "key-card-cutting.txt").exists()
    for what in ("status", "hand over"):
        assert len(done(what, tmp_path, case).text.splitlines()) > 3  # type: ignore[arg-type]
    for typed in ("many", "0", "nan"):
        assert attempted(Chosen("density", typed=typed), tmp_path).wrong
    assert attempted(Chosen("elasticity", typed="90"), tmp_path).wrong


def test_a_drill_is_chosen_its_sheet_written_and_its_curve_shown(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    menus = OpenMenus(Found(), NOW_MS)
    for key in "p53":
        menus.take(key, key, NOW_MS)
    assert "level 3" in shown(menus)
    assert "1 to 9999" in shown(menus)
    for key in ("7", "enter", *"AB"):
        menus.take(key, key if len(key) == 1 else None, NOW_MS)
    chosen = menus.take("enter", None, NOW_MS)
    assert chosen == Chosen("drill", who="AB", typed="placing 3 7")
    asked: list[tuple[object, ...]] = []
    monkeypatch.setattr(training, "drilled", lambda *words: asked.append(words) or (0, "a score"))
    code, _, said = starting._done_outside(chosen, None, tmp_path)
    assert (code, said) == (0, Result("a score", title="Your drill"))
    assert asked == [(sheet_of("placing", 3, 7), "AB", None, None)]
    monkeypatch.setattr(training, "resumed", lambda *words: (143, f"{words[0]} goes on"))
    assert starting._done_outside(Chosen("drill", who="AB", typed=RESUME), None, tmp_path)[0] == 143
    sheet = done("drill sheet", tmp_path, typed="placing 3 7")
    assert sheet.text == sheet_text(sheet_of("placing", 3, 7))
    assert (tmp_path / "drill-placing-3-7.txt").read_text() == sheet.text
    for number in ("0", "10000", "seven", "²"):
        wrong = attempted(Chosen("drill sheet", typed=f"placing 3 {number}"), tmp_path)
        assert wrong.wrong
        assert "from 1 to 9999" in wrong.text
    assert "AB: no drills yet" in done("drill curve", tmp_path, who="AB").text


def test_a_paper_count_is_compared(folder: Path, found: Found, tmp_path: Path):
    paper = tmp_path / "paper.csv"
    paper.write_text("size,grafts,hairs\n1,5,5\n")
    known = done("compare", folder, case_of(found, "DEMO-0350"), file=paper)
    assert any("aper" in str(each) for each in known.blocks)


def test_a_closed_case_goes_into_an_archive(folder: Path, found: Found, tmp_path: Path):
    case, archive_ = case_of(found, "DEMO-0715-2"), tmp_path / "archive"
    assert "added as" in done("archive", folder, case, file=archive_).text
    assert starting.found_in((tmp_path,)).archives == (archive_,)
    few = attempted(Chosen("archive report", archive_, typed="text"), folder)
    assert "1 of the" in few.text


def test_a_closed_case_is_reopened_with_its_reason(folder: Path, found: Found, tmp_path: Path):
    case = done("import", tmp_path, file=SAMPLES / "two-days" / "events.jsonl").case
    assert done("reopen", tmp_path, case, who="EF", reason="one more look").text == "Reopened by EF."
    reopened = read_case(case).log[-1]
    assert (reopened.event.reason, reopened.stamp.who) == ("one more look", "EF")
    assert not read_case(case).tally.signed_off
    again = attempted(Chosen("reopen", case, who="EF", reason="again"), tmp_path)
    assert again.wrong
    assert "not signed off" in again.text
    assert attempted(Chosen("close", case, who="EF"), tmp_path).text == "Nobody has signed. Sign off again."
    assert attempted(Chosen("report", case), tmp_path).text == "No report was chosen. Choose a format."
    assert attempted(Chosen("import"), tmp_path).text == "No file was chosen. Choose one, or type its path."


@pytest.mark.parametrize(
    ("report", "name"),
    [
        (Report("md"), "DEMO-0350.summary.md"),
        (Report("md", "roles"), "DEMO-0350.summary.roles.md"),
        (Report("md", brief=True), "DEMO-0350.first-page.md"),
        (Report("md", whom="surgeon"), "DEMO-0350.for-surgeon.md"),
        (Report("md", whom="research"), "case.for-research.md"),
        (Report("md", "anonymous"), "case.summary.anonymous.md"),
        (Report("fhir"), "DEMO-0350.summary.fhir.json"),
        (Report("csv"), "DEMO-0350.summary.tables"),
    ],
)
def test_a_report_is_named_after_its_case_and_what_is_in_it(report: Report, name: str, tmp_path: Path):
    case = done("import", tmp_path, file=SAMPLES / "two-lots" / "events.jsonl").case
    assert case is not None
    for each in (name, name.replace(".md", ".2.md")) if name.endswith("summary.md") else (name,):
        assert done("report", tmp_path, case, report=report).text == f"{case.with_name(each)}"


def test_a_report_on_closed_cases_is_shown_or_written(tmp_path: Path):
    archive_ = tmp_path / "archive"
    add(archive_, *(written(tmp_path / f"{number}.orroom", closed_day(number)) for number in range(3)))
    shown_ = done("archive report", tmp_path, archive_, typed="text")
    printed = CliRunner().invoke(main, ["archive", "report", str(archive_)]).stdout
    assert (shown_.text.strip(), shown_.title) == (printed.strip(), "Report on closed cases")
    for form in ("html", "csv"):
        file = tmp_path / f"archive.report.{form}"
        assert done("archive report", tmp_path, archive_, typed=form).text == f"Report: {file}"
        argv = ["archive", "report", str(archive_), "--format", form]
        assert file.read_text("utf-8").strip() == CliRunner().invoke(main, argv).stdout.strip()
    few = attempted(Chosen("habits", archive_), tmp_path)
    assert few.wrong
    assert "10 are needed" in few.text


def test_taps_that_are_refused_are_shown_to_be_entered_by_hand(tmp_path: Path):
    from orroom.case.commands import CutGrafts
    from orroom.case.events import Stamp
    from orroom.record.rescue import write_rescue

    case = done("import", tmp_path, file=SAMPLES / "two-lots" / "events.jsonl").case
    assert case is not None
    last = read_case(case).log[-1].stamp
    stamp = Stamp(last.at_ms + 1, last.station, last.tap + 1, "GH")
    rescue = write_rescue(case, "DEMO-0350", [(stamp, CutGrafts(harvest="A", size="9"))])
    refused = attempted(Chosen("rescue", case, file=rescue), tmp_path)
    assert (refused.title, refused.wrong) == ("Some taps were refused", True)
    said, by_hand, *taps = refused.text.splitlines()
    assert said.endswith("0 already there, 1 refused.")
    assert by_hand == "Enter these by hand, or write them on paper:"
    assert taps == [
        f"tap {stamp.tap} of {stamp.station}: The plan has no such size. Size '9' is not one of 1, 2, 3."
    ]


def test_taps_of_a_rescue_file_are_added(folder: Path, found: Found, tmp_path: Path):
    from orroom.case.commands import AddNote
    from orroom.case.events import Stamp
    from orroom.record.rescue import write_rescue

    day = tmp_path / "events.jsonl"
    shutil.copy(SAMPLES / "two-lots" / "events.jsonl", day)
    case = done("import", tmp_path, file=day).case
    assert case is not None
    last = read_case(case).log[-1].stamp
    stamp = Stamp(last.at_ms + 1, last.station, last.tap + 1, "GH")
    rescue = write_rescue(case, "DEMO-0350", [(stamp, AddNote(text="kept"))])
    assert "1 tap added" in done("rescue", tmp_path, case, file=rescue).text
    assert rescue in starting.found_in((tmp_path,)).events


def test_thirty_cases_are_searched(found: Found):
    cases = tuple(a_case(f"T-{number}", signed_off=number % 3 == 0) for number in range(30))
    menus = OpenMenus(Found(cases), NOW_MS)
    assert "20 open" in shown(menus)
    assert "10 signed off" in shown(menus)
    for key in ("f", *"T-29", "enter"):
        menus.take(key, key if len(key) == 1 else None, NOW_MS)
    assert "1 case with “T-29”" in shown(menus)
    menus.take("1", "1", NOW_MS)
    assert "cutting station" in shown(menus)
    assert menus.top.case == Path("T-29.orroom")
    assert " find" not in shown(OpenMenus(Found(cases[:29]), NOW_MS))


def test_a_sample_day_is_one_key_away_and_stays_until_the_program_ends(monkeypatch: pytest.MonkeyPatch):
    menus = OpenMenus(Found(), NOW_MS)
    chosen = menus.take("l", "l", NOW_MS)
    assert chosen == Chosen("sample day")
    seen: list[Path] = []
    monkeypatch.setattr("orroom.cli.stations.replayed", lambda case, role, theme: seen.append(case) or 0)
    code, at, known = starting._done_outside(chosen, None, Path())
    assert (code, [at]) == (0, seen)
    assert known is not None
    assert "invented" in known.text
    assert at is not None
    state = read_case(at)
    assert state.tally.signed_off
    assert len(state.log) > 3000
    shutil.rmtree(at.parent)


def test_templates_are_plans_that_came_with_orroom(found: Found):
    assert {each.plan.case for each in found.templates if each.plan} >= {
        "DEMO-0112",
        "DEMO-0350",
        "DEMO-0417",
    }
    assert all(each.plan is not None for each in found.templates)


def test_from_a_template_to_the_first_tap_are_six_keys(found: Found, tmp_path: Path):
    menus = OpenMenus(Found(templates=found.templates, where=str(tmp_path)), NOW_MS)
    keys = ["t", "1", "1"]
    for key in keys[:-1]:
        menus.take(key, key, NOW_MS)
    make = menus.take(keys[-1], keys[-1], NOW_MS)
    assert make is not None
    made = attempted(make, tmp_path)
    assert made.case is not None
    menus.show_found(starting.found_in((tmp_path,)), NOW_MS)
    menus.go_to(made.case, NOW_MS)
    assert menus.take("1", "1", NOW_MS) is None
    opened = menus.take("1", "1", NOW_MS)
    assert opened is not None
    assert (opened.what, opened.role) == ("open", "cutting")
    assert len(keys) + 2 + 1 == 6  # the last one is the tap


def test_who_opened_the_case_is_offered_at_its_stations(found: Found):
    menus = OpenMenus(Found((a_case(opened_by="ZZ"),)), NOW_MS)
    for key in "11":
        menus.take(key, key, NOW_MS)
    assert "ZZ   opened the case" in shown(menus)
