"""An export is written over an earlier one on purpose only, whole or not at all, and over nothing else."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from stations import new_case

from orroom.cli import main

PLAN = Path(__file__).parents[2] / "sample_cases" / "two-lots" / "plan.toml"

#: Every verb that exports, and what its file is called.
EXPORTS: dict[str, tuple[list[object], str]] = {
    "summary": (["summary", "CASE", "--output"], "out.html"),
    "pdf": (["summary", "CASE", "--output"], "out.pdf"),
    "entries": (["export", "CASE"], "out.jsonl"),
    "Parquet": (["export", "CASE"], "out.parquet"),
    "sheets": (["sheets", PLAN, "--output"], "out.html"),
    "key card": (["keys", "--role", "cutting", "--output"], "out.txt"),
}


@pytest.fixture
def case(tmp_path: Path) -> Path:
    return new_case(tmp_path / "case.orroom")


def orroom(*words: object) -> Result:
    return CliRunner().invoke(main, [str(each) for each in words])


@pytest.fixture(params=EXPORTS, ids=list(EXPORTS))
def export(request: pytest.FixtureRequest, case: Path, tmp_path: Path) -> tuple[Callable[..., Result], Path]:
    words, name = EXPORTS[request.param]
    target = tmp_path / name
    verb = [case if each == "CASE" else each for each in words]
    return lambda *more: orroom(*verb, target, *more), target


def test_every_export_refuses_an_earlier_one_and_replaces_it_when_asked(
    export: tuple[Callable[..., Result], Path],
):
    run, target = export
    assert run().exit_code == 0
    whole = target.read_bytes()
    target.write_bytes(b"older")
    target.chmod(0o640)
    refused = run()
    assert (refused.exit_code, target.read_bytes()) == (1, b"older")
    assert f"{target} already exists. Choose another name, or add --replace" in refused.stderr
    assert run("--replace").exit_code == 0
    assert target.read_bytes() == whole
    target.unlink()
    assert run("--replace").exit_code == 0  # nothing there: it is simply written
    assert target.stat().st_mode & 0o777 == 0o600


def test_a_file_in_place_of_another_stays_readable_by_whom_it_was(case: Path, tmp_path: Path):
    target = tmp_path / "out.html"
    target.touch(0o640)
    target.chmod(0o640)
    assert orroom("summary", case, "--output", target, "--replace").exit_code == 0
    assert target.stat().st_mode & 0o777 == 0o640


@pytest.mark.parametrize(
    "name", ["case.orroom", "plan.toml", "case.orroom.seal", "kept.key", "link.html", "."]
)
def test_a_record_a_plan_and_a_key_are_never_written_over(case: Path, tmp_path: Path, name: str):
    for each in ("plan.toml", "kept.key"):
        (tmp_path / each).write_text("mine")
    (tmp_path / "link.html").symlink_to(case)
    before = {each: each.read_bytes() for each in tmp_path.iterdir()}
    assert case.with_name("case.orroom.seal") in before
    refused = orroom("summary", case, "--format", "md", "--output", tmp_path / name, "--replace")
    assert (refused.exit_code, "is not written over" in refused.stderr) == (1, True)
    assert {each: each.read_bytes() for each in before} == before


def test_the_earlier_file_stays_where_the_new_one_cannot_be_finished(
    case: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    target = tmp_path / "out.html"
    target.write_text("older")

    def full(descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    refused = orroom("summary", case, "--output", target, "--replace")
    assert "No space left on device" in refused.stderr
    assert target.read_text() == "older"
    assert [each.name for each in tmp_path.iterdir() if "out.html" in each.name] == ["out.html"]


# A folder of tables.


def tables(case: Path, folder: Path, *more: object) -> Result:
    return orroom("summary", case, "--format", "csv", "--output", folder, *more)


def test_a_folder_of_tables_is_replaced_whole(case: Path, tmp_path: Path):
    folder = tmp_path / "tables"
    assert tables(case, folder).exit_code == 0
    whole = {each.name: each.read_bytes() for each in folder.iterdir()}
    (folder / "case.csv").write_text("older")
    (folder / "of_an_earlier_version.csv").write_text("older")
    assert "add --replace to write over it" in tables(case, folder).stderr
    assert tables(case, folder, "--replace").exit_code == 0
    assert {each.name: each.read_bytes() for each in folder.iterdir()} == whole
    assert [each.name for each in tmp_path.iterdir() if "tables" in each.name] == ["tables"]


def test_a_folder_with_anything_else_in_it_is_never_replaced(case: Path, tmp_path: Path):
    folder = tmp_path / "tables"
    folder.mkdir()
    for name in ("zones.csv", "notes.txt"):
        (folder / name).write_text("mine")
    refused = tables(case, folder, "--replace")
    assert (refused.exit_code, "nothing but .csv tables" in refused.stderr) == (1, True)
    assert sorted(each.name for each in folder.iterdir()) == ["notes.txt", "zones.csv"]
    assert not [each for each in tmp_path.iterdir() if each.name.startswith(".tables")]


def test_the_earlier_folder_is_put_back_where_the_new_one_cannot_be(
    case: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    folder = tmp_path / "tables"
    folder.mkdir()
    (folder / "case.csv").write_text("older")
    replace = Path.replace

    def refuse_the_new(path: Path, target: Path) -> Path:
        if target == folder and not path.name.endswith("-earlier"):
            raise OSError(5, "Input/output error")
        return replace(path, target)

    monkeypatch.setattr(Path, "replace", refuse_the_new)
    assert tables(case, folder, "--replace").exit_code == 1
    assert (folder / "case.csv").read_text() == "older"
    assert [each.name for each in tmp_path.iterdir() if "tables" in each.name] == ["tables"]
