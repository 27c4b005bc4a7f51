"""A case put back from its copy: nothing is lost unasked, and what was there is kept."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from click.testing import CliRunner
from stations import entered, new_case, read_case, station

from orroom.case import commands as c
from orroom.cli import main
from orroom.errors import CaseFileError
from orroom.record import restoring
from orroom.record.copies import backup
from orroom.record.restoring import restore
from orroom.record.schema import GUARDS
from orroom.record.verify import verify


def cut(case: Path, grafts: int) -> None:
    with station(case, who="CD") as desk:
        for _ in range(grafts):
            entered(desk, c.CutGrafts(harvest="A", size="2"))


def damaged(case: Path, entry: int = 3) -> None:
    """Somebody with a database tool has been at an entry."""
    with closing(sqlite3.connect(case)) as connection:
        connection.execute("DROP TRIGGER entry_never_changes")
        connection.execute("UPDATE entry SET who = 'ZZ' WHERE seq = ?", (entry,))
        connection.execute(f"CREATE TRIGGER entry_never_changes {GUARDS['entry_never_changes']}")
        connection.commit()


@pytest.fixture
def case(tmp_path: Path) -> Path:
    made = new_case(tmp_path / "case.orroom")
    cut(made, 5)
    return made


@pytest.fixture
def copy(case: Path, tmp_path: Path) -> Path:
    backup(case, tmp_path / "copy.orroom")
    return tmp_path / "copy.orroom"


def test_a_case_that_is_gone_is_as_it_was(case: Path, copy: Path):
    before = read_case(case)
    case.unlink()
    done = restore(copy, case)
    assert (done.entries, done.lost, done.kept) == (before.seq, 0, None)
    assert read_case(case) == before
    assert verify(case).intact
    assert case.stat().st_mode & 0o777 == 0o600


def test_a_file_that_is_no_database_any_more_is_kept_and_replaced(case: Path, copy: Path):
    case.write_bytes(b"x" * 9000)
    with pytest.raises(CaseFileError, match=r"so it may have more entries\. If they may be lost"):
        restore(copy, case)
    done = restore(copy, case, lose=True)
    assert done.kept == case.with_name("case.orroom.replaced-1")
    assert done.kept.read_bytes() == b"x" * 9000
    assert verify(case).intact


def test_an_intact_case_with_all_that_the_copy_has_is_not_touched(case: Path, copy: Path):
    before = case.read_bytes()
    with pytest.raises(CaseFileError, match=r"intact and has all .* There is nothing to restore"):
        restore(copy, case, lose=True)
    cut(case, 2)
    with pytest.raises(CaseFileError, match=r"has all \d+ entries of .*, and \d+ more"):
        restore(copy, case, lose=True)
    assert before != case.read_bytes()
    assert not case.with_name("case.orroom.replaced-1").exists()


def test_entries_that_only_the_case_has_are_not_lost_unasked(case: Path, copy: Path):
    cut(case, 2)
    entries = read_case(case).seq
    damaged(case)
    with pytest.raises(CaseFileError, match=r"entries from entry \d+ on that .* does not have"):
        restore(copy, case)
    assert not verify(case).intact
    done = restore(copy, case, lose=True)
    assert done.lost == entries - done.entries
    assert "are missing" in verify(case).sentence
    cut(case, 1)
    assert verify(case).says_so


def test_a_changed_record_with_the_length_of_its_copy_loses_nothing(case: Path, copy: Path):
    damaged(case)
    assert not verify(case).intact
    done = restore(copy, case)
    assert done.lost == 0
    assert verify(case).intact


def test_what_an_earlier_restore_kept_stays(case: Path, copy: Path):
    kept = []
    for entry in (3, 4):
        damaged(case, entry)
        before = case.read_bytes()
        kept.append((restore(copy, case).kept, before))
    assert [path.name for path, _ in kept if path] == ["case.orroom.replaced-1", "case.orroom.replaced-2"]
    assert all(path and path.read_bytes() == before for path, before in kept)


def test_another_case_is_never_replaced(copy: Path, tmp_path: Path):
    other = new_case(tmp_path / "other.orroom")
    cut(other, 1)
    before = read_case(other)
    with pytest.raises(CaseFileError, match="is another case"):
        restore(copy, other, lose=True)
    assert read_case(other) == before


def test_a_copy_that_is_not_intact_replaces_nothing(case: Path, copy: Path):
    damaged(copy)
    case.unlink()
    with pytest.raises(CaseFileError, match="is not restored: Entry 3 was changed"):
        restore(copy, case)
    assert not case.exists()


def test_a_case_at_which_a_station_is_open_is_not_replaced(case: Path, copy: Path):
    with station(case, who="CD") as desk:
        damaged(case)
        with pytest.raises(CaseFileError, match="is open at a station"):
            restore(copy, case, lose=True)
        desk.close()
    assert not case.with_name("case.orroom.replaced-1").exists()


def test_what_was_in_its_place_is_put_back_if_the_copy_fails(
    case: Path, copy: Path, monkeypatch: pytest.MonkeyPatch
):
    damaged(case)
    before = case.read_bytes()

    def full(*_: object, **__: object) -> None:
        raise CaseFileError("no room")

    monkeypatch.setattr(restoring, "copied", full)
    with pytest.raises(CaseFileError, match="no room"):
        restore(copy, case, lose=True)
    assert case.read_bytes() == before
    assert not case.with_name("case.orroom.replaced-1").exists()


def test_the_verb_says_what_it_did(case: Path, copy: Path):
    entries = read_case(case).seq
    case.unlink()
    done = CliRunner().invoke(main, ["restore", str(copy), str(case)])
    assert done.output == f"{case}: {entries} entries restored from {copy}.\n"
    cut(case, 2)
    damaged(case)
    refused = CliRunner().invoke(main, ["restore", str(copy), str(case)])
    assert refused.exit_code == 3
    assert "--lose-entries" in refused.output
    done = CliRunner().invoke(main, ["restore", str(copy), str(case), "--lose-entries"])
    assert f"What was in its place: {case}.replaced-1" in done.output
    assert "are in that file only" in done.output
