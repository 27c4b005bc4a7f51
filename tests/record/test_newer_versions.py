"""A case that a newer version has used: what this one, the older, still does with it."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner
from stations import new_case, wait_until

from orroom.case.commands import AddNote, CutGrafts
from orroom.case.events import AnyEvent
from orroom.cli import main
from orroom.desk import Desk
from orroom.errors import CaseFileError
from orroom.record.bodies import body_text
from orroom.record.case_file import CaseFile
from orroom.record.rescue import read_rescue
from orroom.record.verify import verify
from orroom.recording import record_once

UNKNOWN = "later of note_added: is not a known field. Is it from a newer version?"


def used_by_a_newer_version(case: Path) -> None:
    """A note with a field that this version does not know."""

    def newer(event: AnyEvent) -> str:
        return f'{body_text(event).removesuffix("}")},"later":1}}'

    with pytest.MonkeyPatch.context() as patch, CaseFile.open(case) as case_file:
        patch.setattr("orroom.record.case_file.body_text", newer)
        record_once(case_file, AddNote(text="of a newer version"), "EF")


@pytest.fixture
def case(tmp_path: Path) -> Path:
    return new_case(tmp_path / "case.orroom")


@pytest.mark.parametrize("verb", ["status", "summary", "handover", "export"])
def test_it_cannot_be_read_and_says_why(verb: str, case: Path, tmp_path: Path):
    used_by_a_newer_version(case)
    output = [str(tmp_path / "events.jsonl")] if verb == "export" else []
    done = CliRunner().invoke(main, [verb, str(case), *output])
    assert (UNKNOWN in done.stderr, done.exit_code) == (True, CaseFileError.exit_code), done.output


def test_it_takes_no_station_and_stays_as_it_is(case: Path):
    used_by_a_newer_version(case)
    before = verify(case)
    with CaseFile.open(case) as case_file, pytest.raises(CaseFileError, match="newer version"):
        Desk(case_file, "cutting", "AB")
    assert (verify(case).seal, verify(case).intact) == (before.seal, True)


def test_it_can_be_verified_and_copied(case: Path, tmp_path: Path):
    used_by_a_newer_version(case)
    said = CliRunner().invoke(main, ["verify", str(case)])
    assert (said.exit_code, UNKNOWN in said.output) == (0, True)
    copy = tmp_path / "copy.orroom"
    assert CliRunner().invoke(main, ["backup", str(case), str(copy)]).exit_code == 0
    assert verify(copy).seal == verify(case).seal


def test_a_station_that_runs_meanwhile_keeps_its_taps_and_rescues_them(case: Path):
    desk = Desk(CaseFile.open(case), "cutting", "AB")
    used_by_a_newer_version(case)
    desk.ask(CutGrafts(harvest="A", size="2"))
    wait_until(lambda: desk.waiting and desk.trouble)
    assert UNKNOWN in (desk.trouble or "")
    rescue = desk.close()
    assert rescue is not None
    assert rescue.parent == case.parent
    assert any(isinstance(each, CutGrafts) for _, each in read_rescue(rescue).taps)
