"""The summary on the command line: every format of cases that are unfinished, empty, altered or no case."""

from __future__ import annotations

import json
import re
import sqlite3
from pathlib import Path
from typing import Any, get_args

import pytest
from click.testing import CliRunner
from printed import text_of_pdf
from stations import new_case

from orroom.cli import main
from orroom.cli import reports as verbs
from orroom.cli.reports import summed_up
from orroom.formats.chosen import FOR, NAMES, WHOLE, Whom
from orroom.formats.summary_formats import Format
from orroom.summary.summary import ShareLevel

SAMPLES = Path(__file__).parents[2] / "sample_cases"


def orroom(*arguments: object) -> Any:
    return CliRunner().invoke(main, [str(each) for each in arguments])


@pytest.fixture
def case(tmp_path: Path) -> Path:
    return new_case(tmp_path / "case.orroom")


OUTPUTS = ("md", "html", "json", "csv", "fhir", "pdf")


@pytest.mark.parametrize("form", OUTPUTS)
def test_a_case_in_which_nothing_was_done_has_a_summary_in_every_format(
    case: Path, tmp_path: Path, form: str
) -> None:
    target = tmp_path / f"told-{form}"
    result = orroom("summary", case, "--format", form, "--output", target)
    assert (result.exit_code, result.stderr) == (0, "")
    files = target.iterdir() if form == "csv" else [target]
    assert sum(each.stat().st_size for each in files) > 1000


def tampered(case: Path, change: str) -> Path:
    """The case changed by other hands, past a guard that is put back."""
    connection = sqlite3.connect(case)
    guards = "SELECT name, sql FROM sqlite_schema WHERE type = 'trigger' AND tbl_name = 'entry'"
    kept = connection.execute(guards).fetchall()
    for name, _ in kept:
        connection.execute(f"DROP TRIGGER {name}")
    connection.execute(change)
    for _, guard in kept:
        connection.execute(guard)
    connection.commit()
    connection.close()
    return case


@pytest.fixture
def two_lots(tmp_path: Path) -> Path:
    case = tmp_path / "two-lots.orroom"
    assert orroom("import", SAMPLES / "two-lots" / "events.jsonl", case).exit_code == 0
    return case


@pytest.mark.parametrize("form", OUTPUTS)
def test_every_format_says_of_an_altered_record_that_it_is_not_intact(
    two_lots: Path, tmp_path: Path, form: str
) -> None:
    tampered(two_lots, "UPDATE entry SET who = 'ZZ' WHERE seq = 9")
    target = tmp_path / f"told-{form}"
    result = orroom("summary", two_lots, "--format", form, "--output", target)
    assert (result.exit_code, "NOT INTACT" in result.stderr) == (0, True)
    target = target / "cautions.csv" if form == "csv" else target
    text = text_of_pdf(target.read_bytes()) if form == "pdf" else target.read_text("utf-8")
    assert "THE RECORD IS NOT INTACT. Entry 9 was changed" in text
    if form == "json":
        assert json.loads(text)["not_intact"].startswith("Entry 9 was changed")


def test_a_sound_record_is_not_said_to_be_anything_else(two_lots: Path) -> None:
    result = orroom("summary", two_lots, "--format", "json")
    assert (json.loads(result.output)["not_intact"], result.stderr) == (None, "")


@pytest.mark.parametrize("change", ["DELETE FROM entry WHERE seq = 15", "DELETE FROM entry WHERE seq > 50"])
def test_a_record_with_entries_missing_is_told_as_far_as_it_goes(two_lots: Path, change: str) -> None:
    result = orroom("summary", tampered(two_lots, change), "--format", "md")
    assert result.exit_code == 0
    assert "> - **THE RECORD IS NOT INTACT." in result.output
    assert "missing" in result.output


@pytest.mark.parametrize("change", ["DELETE FROM entry WHERE seq = 1", "DELETE FROM entry"])
def test_a_record_that_does_not_begin_is_one_clear_error(two_lots: Path, change: str) -> None:
    result = orroom("summary", tampered(two_lots, change), "--format", "md")
    assert (result.exit_code, result.output.count("\n")) == (1, 1)
    assert "nothing to summarise" in result.stderr


@pytest.mark.parametrize(("spoil", "code"), [(b"", 3), (b"no case at all", 3)])
def test_a_file_that_is_no_case_is_one_clear_error(tmp_path: Path, spoil: bytes, code: int) -> None:
    path = tmp_path / "x.orroom"
    path.write_bytes(spoil)
    result = orroom("summary", path, "--format", "html")
    assert (result.exit_code, result.output.count("\n"), "Traceback" in result.output) == (code, 1, False)


def test_every_format_and_level_that_there_is_can_be_asked_for() -> None:
    assert get_args(Format) == verbs.FORMATS
    assert get_args(ShareLevel) == verbs.LEVELS


def test_a_pdf_wants_a_file(case: Path) -> None:
    assert orroom("summary", case, "--format", "pdf").exit_code == 2


def test_a_paper_count_and_a_level_go_with_any_format(two_lots: Path, tmp_path: Path) -> None:
    paper = tmp_path / "paper.csv"
    paper.write_text("size,grafts,hairs\n1,206,200\n", "utf-8")
    result = orroom("summary", two_lots, "--paper", paper, "--share", "anonymous", "--format", "md").output
    assert "# Case ANONYMOUS" in result
    assert "206 grafts of size 1 have 206 hairs, not 200" in result
    assert "DEMO-0350" not in result
    assert orroom("summary", two_lots, "--paper", tmp_path / "none.csv").exit_code == 3


def test_entries_go_to_a_parquet_table_by_the_end_of_the_name(two_lots: Path, tmp_path: Path) -> None:
    target = tmp_path / "events.parquet"
    result = orroom("export", two_lots, target)
    assert (result.exit_code, result.stderr) == (0, "57 entries exported.\n")
    assert (target.read_bytes()[:4], target.read_bytes()[-4:]) == (b"PAR1", b"PAR1")


@pytest.mark.parametrize(("version", "named"), [("r4b", "performedPeriod"), ("r5", "occurrencePeriod")])
def test_fhir_is_of_the_version_asked_for(two_lots: Path, version: str, named: str) -> None:
    result = orroom("summary", two_lots, "--format", "fhir", "--fhir", version)
    assert (result.exit_code, json.loads(result.output)["resourceType"]) == (0, "Bundle")
    assert f'"{named}"' in result.output


@pytest.mark.parametrize("form", ["md", "html", "pdf"])
def test_the_first_page_can_be_had_alone(tmp_path: Path, form: str) -> None:
    case = tmp_path / "case.orroom"
    assert orroom("import", SAMPLES / "two-lots" / "events.jsonl", case).exit_code == 0
    whole, brief = tmp_path / f"whole.{form}", tmp_path / f"brief.{form}"
    assert orroom("summary", case, "--output", whole).exit_code == 0
    assert orroom("summary", case, "--output", brief, "--brief").exit_code == 0
    texts = [
        text_of_pdf(path.read_bytes()) if form == "pdf" else path.read_text("utf-8")
        for path in (whole, brief)
    ]
    assert all("400" in text and "Care rounds" not in texts[1] for text in texts)
    assert "Care rounds" in texts[0]
    if form == "pdf":
        assert "Page 1 of 1" in texts[1]


def test_the_first_page_alone_on_the_terminal(case: Path) -> None:
    shown = orroom("summary", case, "--brief").output
    assert "In short" in shown
    assert "Zones" not in shown


@pytest.mark.parametrize("form", ["json", "csv", "fhir"])
def test_what_is_for_programs_has_no_sections(case: Path, form: str) -> None:
    for how in (["--brief"], ["--sections", "care"], ["--for", "file"]):
        result = orroom("summary", case, *how, "--format", form)
        assert result.exit_code == 2
        assert f"{form} has all figures, no sections: leave out --brief, --sections" in result.output


def headings(case: Path, *how: str) -> list[str]:
    text = orroom("summary", case, "--format", "md", *how).output
    return re.findall(r"^#+ (.*)$", text, re.M)


def test_sections_are_chosen_by_name_and_come_in_the_order_of_the_page(two_lots: Path) -> None:
    assert headings(two_lots, "--sections", "times, zones,care")[1:] == ["Zones", "Times", "Care rounds"]
    assert headings(two_lots, "--sections", "first") == headings(two_lots, "--brief")
    assert headings(two_lots, "--sections", ",".join(WHOLE)) == headings(two_lots)


def test_a_wrong_section_is_answered_with_those_there_are(two_lots: Path) -> None:
    result = orroom("summary", two_lots, "--sections", "zones,graphs")
    assert result.exit_code == 2
    said = " ".join(result.output.split())
    assert "There is no section graphs. The sections are: first, areas, zones" in said
    assert orroom("summary", two_lots, "--sections", ",").exit_code == 2
    shown = " ".join(orroom("summary", "--help").output.split())
    assert all(name in shown for name in NAMES)


def test_sections_are_chosen_in_one_way_only(two_lots: Path) -> None:
    result = orroom("summary", two_lots, "--brief", "--for", "file")
    assert result.exit_code == 2
    assert "--for and --brief choose the sections in two ways: leave one out" in result.output
    result = orroom("summary", two_lots, "--for", "meeting", "--share", "full")
    assert result.exit_code == 2
    assert "--for meeting chooses how much is shared: leave out --share" in result.output


@pytest.mark.parametrize("form", ["md", "html", "pdf"])
@pytest.mark.parametrize("whom", FOR)
def test_one_word_chooses_sections_and_how_much_is_shared(two_lots: Path, whom: Whom, form: str) -> None:
    output = two_lots.with_name(f"{whom}.{form}")
    assert orroom("summary", two_lots, "--for", whom, "--output", output).exit_code == 0
    text = text_of_pdf(output.read_bytes()) if form == "pdf" else output.read_text("utf-8")
    with_care = {"meeting", "research"}
    assert ("Care rounds" in text) == (whom in with_care)
    assert ("In short" in text or "What needs a look" in text) == (whom in {"surgeon", "meeting", "research"})
    assert bool(re.search(r"\bNP\b", text)) == (whom == "surgeon")  # initials
    assert ("2026" in text) == (whom != "research")


def test_what_is_for_the_file_is_areas_and_sizes_and_nothing_of_the_team(two_lots: Path) -> None:
    text = orroom("summary", two_lots, "--for", "file", "--format", "md").output
    rows = " ".join(text.replace("|", " ").split())
    found = summed_up(two_lots)[0]
    for zone in found.zones:
        row = (f"{zone.area_cm2:.1f}", f"{zone.grafts_placed:,}", f"{zone.hairs_placed:,.0f}")
        assert " ".join((zone.label, *row)) in rows
    assert f"all 14.0 {found.in_all.placed} " in rows
    assert "**These figures may still change**: the case is not signed off; a mismatch" in text
    for word in ("discard", "late", "missed", "out of the body", "limit", "spoilt"):
        assert word not in text


def test_research_has_all_figures_for_programs_too(two_lots: Path) -> None:
    found = json.loads(orroom("summary", two_lots, "--for", "research", "--format", "json").output)
    assert (found["share_level"], found["case"]) == ("anonymous", "ANONYMOUS")
