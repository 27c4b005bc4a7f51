"""README and guide are true: their commands run, in order; so is what they say of formats and values."""

from __future__ import annotations

import csv
import os
import re
import shlex
import sqlite3
from contextlib import closing
from pathlib import Path
from tomllib import loads

import click
import duckdb
import pytest
from click.testing import CliRunner
from msgspec.structs import replace
from rich.cells import cell_len
from stations import read_case
from terminals import Terminal

from orroom import __version__, errors
from orroom.case import commands as c
from orroom.case.plan import Limits
from orroom.case.settings import Settings
from orroom.cli import VERBS, main
from orroom.cli.common import record
from orroom.cli.guide import ALL_PAGES, PAGES, text_of
from orroom.errors import OrroomError
from orroom.figures import checks
from orroom.figures.prompts import SILENCE_MS
from orroom.figures.survival import SURVIVAL_REFERENCE
from orroom.record.rescue import write_rescue
from orroom.record.schema import FILE_FORMAT
from orroom.summary.summary import Summary

ROOT = Path(__file__).parent.parent
SAMPLES = ROOT / "sample_cases"
FOLDER = ROOT / "orroom" / "guide"
TEXTS = {"README": ROOT / "README.md", **{page: FOLDER / f"{page}.md" for page in PAGES}}
#: These open a screen: only their options and their help are tried.
SCREENS = {"demo", "drill", "open", "plan", "practice", "replay", "start"}


def commands_in(text: str) -> list[list[str]]:
    """What follows ``orroom`` in blocks of code, line by line, and between backticks, in order."""
    code = (block or words for block, words in re.findall(r"```\w*\n(.*?)```|`([^`]+)`", text, re.DOTALL))
    lines = (line.split() for each in code for line in (each.splitlines() if "\n" in each else [each]))
    return [
        shlex.split(" ".join(words)) for first, *words in filter(None, lines) if first == "orroom" and words
    ]


def only_looked_at(words: list[str]) -> bool:
    """Whether a command opens a screen, or goes on until it is stopped."""
    if words[0] in SCREENS or "--follow" in words:
        return True
    return words == ["settings"] or (words[0] == "revise" and "--reason" not in words)


def imported(sample: str, path: Path) -> None:
    path.parent.mkdir(exist_ok=True)
    done = CliRunner().invoke(main, ["import", str(SAMPLES / sample / "events.jsonl"), str(path)])
    assert done.exit_code == 0, done.output


@pytest.fixture
def room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with what the pages name: plans, cases, a count on paper, a rescue file."""
    monkeypatch.chdir(tmp_path)
    plan = (SAMPLES / "two-lots" / "plan.toml").read_text("utf-8").replace("DEMO-0350", "CASE")
    Path("PLAN.toml").write_text(plan, "utf-8")
    Path("NEW-PLAN.toml").write_text(plan.replace("two strips", "five more in front"), "utf-8")
    Path("paper.csv").write_text("size,grafts,hairs\n1,200,200\n2,120,240\n", "utf-8")
    Path("sample_cases").symlink_to(SAMPLES)
    Path("FOLDER").mkdir()
    monkeypatch.setattr("orroom.archive.clinic_habits.FEWEST_CASES", 1)  # three are added, ten are needed
    return tmp_path


def provided(text: str) -> None:
    """The cases of a page that does not make its own, and the taps that its station could not write."""
    if "orroom new PLAN.toml" not in text:
        imported("two-lots", Path("CASE/CASE.orroom"))
    if "archive add" in text:
        Path("FOLDER").rmdir()
        for name, sample in (("ONE", "hairline"), ("TWO", "frontal-midscalp"), ("THREE", "two-lots")):
            imported(sample, Path(f"{name}.orroom"))
        signed = "sign-off THREE.orroom --who AB --second CD --open-because late --informed RS"
        assert CliRunner().invoke(main, signed.split()).exit_code == 0
    if "RESCUE" in text:
        case = read_case(Path("CASE"))
        stamp = replace(case.log[-1].stamp, tap=9_000)
        code = case.tally.plan.case
        write_rescue(Path("CASE/CASE.orroom"), code, [(stamp, c.AddNote(text="late"))]).rename("RESCUE.jsonl")


@pytest.mark.parametrize("name", TEXTS)
def test_every_command_runs_in_the_order_of_its_page(name: str, room: Path):
    text = TEXTS[name].read_text("utf-8")
    provided(text)
    for words in commands_in(text):
        verb, *rest = words
        if looked_at := only_looked_at(words):
            command = main.get_command(click.Context(main), verb)
            assert command is not None, words
            command.make_context(verb, rest)
        done = CliRunner().invoke(main, [verb, "--help"] if looked_at else words)
        assert done.exit_code == 0, (words, done.output)
        assert done.output or Path(words[-1]).exists(), words
        if verb == "new":
            record(Path("CASE"), c.CutGrafts(harvest="A", size="1", count=7), "AB")


def test_a_page_names_every_way_to_read_it_and_no_page_is_left_out():
    listed = CliRunner().invoke(main, ["guide"]).output
    assert {each.name for each in FOLDER.iterdir()} == {f"{page}.md" for page in PAGES}
    for page in ALL_PAGES:
        title = text_of(page).splitlines()[0]
        assert re.search(rf"^  {page} +{re.escape(title.removeprefix('# '))}$", listed, re.MULTILINE)
    assert all(cell_len(line) <= 80 for line in listed.splitlines())


@pytest.mark.parametrize("page", PAGES)
def test_a_page_is_plain_text_outside_a_terminal_and_fits(page: str):
    text = TEXTS[page].read_text("utf-8")
    assert CliRunner().invoke(main, ["guide", page]).output == text
    assert [line for line in text.splitlines() if cell_len(line) > 79] == []


#: Numbers of something, without a unit: of an entry, of a tap, or that it was cancelled.
NUMBERED = {"seq", "station_tap", "entry", "corrected"}


def test_the_page_on_data_has_every_column_of_tables_parquet_and_views(tmp_path: Path):
    """What a CSV folder, a Parquet file and a case file really have, each with its meaning."""
    imported("two-lots", tmp_path / "case.orroom")
    folder, parquet = tmp_path / "tables", tmp_path / "events.parquet"
    case = str(tmp_path / "case.orroom")
    made = CliRunner().invoke(main, ["summary", case, "--format", "csv", "--output", str(folder)])
    assert made.exit_code == 0
    assert CliRunner().invoke(main, ["export", case, str(parquet)]).exit_code == 0
    page = CliRunner().invoke(main, ["guide", "data"]).output
    assert [line for line in page.splitlines() if cell_len(line) > 79] == []
    assert "- `area_cm2` (cm²): " in page
    assert "- `grafts_placed` (grafts): " in page
    csv_part, rest_of_page = page.split("## Parquet")
    parquet_part, views_part = rest_of_page.split("## Views")

    def units_of(section: str) -> dict[str, str]:
        found = dict(re.findall(r"^- `(\w+)` \(([^)]+)\): \S", section, re.MULTILINE))
        assert len(found) == section.count("\n- `")  # every column says its unit, or that it has none
        return found

    def columns_of(part: str, table: str) -> dict[str, str]:
        return units_of(part.split(f"### {table}\n")[1].split("\n##", maxsplit=1)[0])

    for table in folder.glob("*.csv"):
        if table.stem != "tables":
            with table.open(encoding="utf-8", newline="") as file:
                columns, known = columns_of(csv_part, table.stem), csv.DictReader(file)
                assert set(known.fieldnames or ()) <= set(columns), table
                cells = [cell for row in known for cell in row.items()]
            parted = {name for name, cell in cells if re.fullmatch(r"-?\d+\.\d+", cell)}
            assert {name for name in parted if columns[name] == "no unit"} == set(), table
    with closing(duckdb.connect()) as connection:
        described = connection.execute(f"DESCRIBE SELECT * FROM '{parquet}'").fetchall()
    in_parquet = units_of(parquet_part)
    assert [*in_parquet] == [name for name, *_ in described]
    numbers = {name for name, kind, *_ in described if kind == "INTEGER"} - NUMBERED
    assert {name for name, unit in in_parquet.items() if unit != "no unit"} == numbers
    with closing(sqlite3.connect(tmp_path / "case.orroom")) as connection:
        views = [name for (name,) in connection.execute("SELECT name FROM sqlite_schema WHERE type = 'view'")]
        for view in views:
            cursor = connection.execute(f"SELECT * FROM {view}")
            names, rows = [each[0] for each in cursor.description], cursor.fetchall()
            units = columns_of(views_part, view)
            assert [*units] == names
            for name, *cells in zip(names, *rows, strict=True):
                numbers = any(isinstance(each, int | float) for each in cells) and name not in NUMBERED
                assert (units[name] != "no unit") == numbers or not any(cells), (view, name)


def test_the_page_on_commands_has_every_verb_with_every_option():
    page = CliRunner().invoke(main, ["guide", "commands"]).output
    assert [line for line in page.splitlines() if cell_len(line) > 79] == []
    headings = re.findall(r"^### orroom (.+)$", page, re.MULTILINE)
    assert [each for each in headings if " " not in each] == list(VERBS)
    assert {"archive add", "archive report", "people show", "people remove"} <= set(headings)
    for verb in VERBS:
        section = page.split(f"### orroom {verb}\n")[1].split("\n### ")[0]
        command = main.get_command(click.Context(main), verb)
        assert command is not None
        for each in command.params:
            if isinstance(each, click.Option):
                assert each.opts[0] in section, (verb, each.opts)


def test_a_terminal_shows_a_page_without_its_marks(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("PAGER", "cat")
    terminal = Terminal("guide", "plan")
    terminal.until(lambda: b"two harvests and a mismatch" in terminal.seen)
    assert b"The plan file" in terminal.seen
    assert b"# The plan file" not in terminal.seen
    assert b"```" not in terminal.seen
    assert terminal.process.wait(20) == 0


def test_an_unknown_page_is_a_clear_error():
    done = CliRunner().invoke(main, ["guide", "statoins"])
    assert done.exit_code == 2
    assert "no page 'statoins'; orroom guide lists its pages. Did you mean 'stations'?" in done.stderr
    assert "Did you mean" not in CliRunner().invoke(main, ["guide", "zzz"]).stderr


@pytest.mark.parametrize(
    ("typed", "offered"),
    [("orroom su", "summary"), ("orroom open CASE --role pl", "placing"), ("orroom guide tr", "trouble")],
)
def test_a_shell_completes_commands_options_and_pages(
    typed: str, offered: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    """As bash asks: with ``_ORROOM_COMPLETE`` and the words so far."""
    monkeypatch.setenv("_ORROOM_COMPLETE", "bash_complete")
    monkeypatch.setenv("COMP_WORDS", typed)
    monkeypatch.setenv("COMP_CWORD", str(len(typed.split()) - 1))
    with pytest.raises(SystemExit) as ended:
        main(prog_name="orroom")
    assert (ended.value.code, capsys.readouterr().out) == (0, f"plain,{offered}\n")


def test_what_is_not_python_is_in_the_package():
    """Every data file of the package matches a pattern by which a wheel takes it in."""
    package = ROOT / "orroom"
    project = loads((ROOT / "pyproject.toml").read_text("utf-8"))
    patterns = project["tool"]["setuptools"]["package-data"]["orroom"]
    files = [Path(top, name) for top, _, names in os.walk(package, followlinks=True) for name in names]
    data = [each.relative_to(package) for each in files if each.suffix not in {".py", ".pyc"}]
    assert len(data) > len(PAGES)
    samples = {each.relative_to(SAMPLES) for each in SAMPLES.rglob("*") if each.is_file()}
    assert {each.relative_to("samples") for each in data if each.parts[0] == "samples"} == samples
    assert [each for each in data if not any(each.match(pattern) for pattern in patterns)] == []


def test_the_changes_name_this_version_and_todays_formats():
    text = TEXTS["changes"].read_text("utf-8")
    assert text.split("## ")[1].startswith(__version__)
    plan = loads((SAMPLES / "hairline" / "plan.toml").read_text("utf-8"))["format"]
    summary = Summary.model_fields["format"].default
    assert f"plan {plan} · case file {FILE_FORMAT} · summary {summary}" in text


def test_the_values_are_those_that_are_used():
    text = " ".join(TEXTS["values"].read_text("utf-8").split())
    survived = re.findall(r"(\d+) % (?:\w+ )?after (\d+) h", SURVIVAL_REFERENCE)
    assert len(survived) == 4
    limits, care = Limits(), {each.kind: each for each in Settings().care}
    for words in (
        f"a prompt after {limits.with_placers_seconds} seconds, overdue "
        f"{limits.with_placers_grace_seconds} seconds later",
        f"above {limits.dense_grafts_per_cm2:g} grafts per cm²",
        f"A day of {limits.day_hours:g} hours",
        f"Placing: {checks.PLACED_PER_PLACER_HOUR} grafts an hour",
        f"{checks.GRAFTS_PER_PERSON_HOUR:g} grafts a person-hour",
        f"density above {checks.MOST_DENSITY_STEP:.0%}".replace("%", " %"),
        f"hairs per graft above {checks.MOST_HAIRS_PER_GRAFT_STEP}",
        f"before {SILENCE_MS // 3_600_000} hours without an entry",
        f"wetting every {care['wet'].every_minutes:g} minutes",
        f"changing the solution every {care['renew'].every_minutes:g}",
        f"reading the temperature every {care['temperature'].every_minutes:g}",
        f"{care['temperature'].low_c:g} to {care['temperature'].high_c:g} °C",
        *(f"{share} % at {hours} h" for share, hours in survived),
    ):
        assert words in text, words


def test_the_exit_codes_are_those_of_the_errors():
    listed = re.findall(r"^- (\d+): ", TEXTS["it"].read_text("utf-8"), re.MULTILINE)
    codes = {
        each.exit_code
        for each in vars(errors).values()
        if isinstance(each, type) and issubclass(each, OrroomError)
    }
    assert sorted(map(int, listed)) == [0, *sorted(codes)]


def test_what_is_said_of_installing_and_completing_is_so():
    text = TEXTS["it"].read_text("utf-8")
    project = loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    named = {extra for each in re.findall(r"'\.\[([\w,]+)\]'", text) for extra in each.split(",")}
    assert named == {"pdf", "fhir", "archive"} <= set(project["optional-dependencies"])
    assert f"Python {project['requires-python'].removeprefix('>=')} or newer" in text
    shells = re.findall(r"(\w+)_source", text)
    assert set(shells) == {"bash", "zsh", "fish"}
    for shell in shells:
        done = CliRunner().invoke(main, env={"_ORROOM_COMPLETE": f"{shell}_source"}, prog_name="orroom")
        assert done.exit_code == 0, done.output
        assert "_ORROOM_COMPLETE" in done.output
