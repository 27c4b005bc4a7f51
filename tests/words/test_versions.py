"""Who opened stations with which version: in the record, in ``verify`` and in the summary."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner
from stations import read_case

from orroom import __version__
from orroom.case.events import StationJoined
from orroom.cli import main
from orroom.desk import Desk
from orroom.record.case_file import CaseFile
from orroom.record.encoding import body_of
from orroom.words.entries import entry_words
from orroom.words.versions import opened_with_words

RECORDED = Path(__file__).parents[1] / "recorded"


def opened_by(case: Path, who: str) -> None:
    with CaseFile.open(case) as file:
        Desk(file, "cutting", who).close()


def said(*arguments: object) -> str:
    result = CliRunner().invoke(main, list(map(str, arguments)))
    assert result.exit_code == 0, result.output
    return " ".join(result.output.split())


@pytest.mark.parametrize("number", range(1, 6))
def test_a_case_of_an_earlier_version_says_who_opened_it_with_this_one(number: int, tmp_path: Path):
    case = tmp_path / "old.orroom"
    shutil.copy(RECORDED / f"format-{number}.orroom", case)
    assert "Stations opened" not in said("verify", case) + said("summary", case)
    opened_by(case, "XY")
    opened_by(case, "XY")
    for words in (said("verify", case), said("summary", case), said("summary", case, "--format", "html")):
        assert "Stations opened with an earlier version: " in words
        assert f"; with orroom {__version__}: XY (2)." in words


def test_a_station_records_its_version_once_with_its_opening(tmp_path: Path):
    case = tmp_path / "old.orroom"
    shutil.copy(RECORDED / "format-5.orroom", case)
    before = len(read_case(case).log)
    opened_by(case, "XY")
    state = read_case(case)
    first, *others = (entry.event for entry in state.log[before:])
    assert isinstance(first, StationJoined)
    assert first.version == __version__
    assert entry_words(first, state.plan) == "cutting station opened"  # stations have room for no more
    assert all("version" not in body_of(each) for each in others)


def test_what_an_earlier_version_recorded_is_written_as_it_was():
    assert body_of(StationJoined(role="cutting")) == {"role": "cutting"}


def test_versions_in_words():
    some = (("0.1.0", "AB", 2), (None, "EF", 1), ("0.1.0", "CD", 1))
    words = "Stations opened with orroom 0.1.0: AB (2), CD; with an earlier version: EF."
    assert opened_with_words(some) == words
    assert opened_with_words([(None, "EF", 3)]) == opened_with_words([]) == ""
