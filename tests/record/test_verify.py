"""Verifying, copying and locking: what was done to a file shows, and from which entry on."""

from __future__ import annotations

import random
import shutil
import sqlite3
from pathlib import Path

import pytest
from click.testing import CliRunner
from stations import entered, new_case, read_case, station

from orroom.case import commands as c
from orroom.cli import main
from orroom.errors import CaseFileError
from orroom.record.anchor import anchored
from orroom.record.case_file import CaseFile
from orroom.record.chain import EMPTY, Row, Seal, link
from orroom.record.copies import backup, locked_copy
from orroom.record.schema import GUARDS
from orroom.record.verify import Verdict, verify

TAPS = 40


@pytest.fixture
def case(tmp_path: Path) -> Path:
    path = new_case(tmp_path / "case.orroom")
    with station(path) as desk:
        for number in range(TAPS):
            entered(desk, c.CutGrafts(harvest="A", size="123"[number % 3]))
    return path


def tampered(case: Path, *statements: str) -> Verdict:
    """The verdict after somebody with a database tool has been at the file."""
    connection = sqlite3.connect(case)
    for name in GUARDS:
        connection.execute(f"DROP TRIGGER {name}")
    for statement in statements:
        connection.execute(statement)
    for name, guard in GUARDS.items():
        connection.execute(f"CREATE TRIGGER {name} {guard}")
    connection.commit()
    connection.close()
    return verify(case)


def rechained(case: Path) -> None:
    """Somebody who knows how makes the chain whole again."""
    connection = sqlite3.connect(case)
    connection.execute("DROP TRIGGER entry_never_changes")
    before = EMPTY.hash
    for values in connection.execute("SELECT * FROM entry ORDER BY seq").fetchall():
        before = link(before, Row(*values[:-1]))
        connection.execute("UPDATE entry SET hash = ? WHERE seq = ?", (before, values[0]))
    connection.execute(f"CREATE TRIGGER entry_never_changes {GUARDS['entry_never_changes']}")
    connection.commit()
    connection.close()


def test_a_record_as_it_was_is_sound(case: Path):
    verdict = verify(case)
    assert verdict.intact
    assert "entries are unchanged" in verdict.sentence
    assert verdict.seal == anchored(case).seal
    assert verdict.seal.seq == read_case(case).seq


def test_one_entry_is_told_in_the_singular(tmp_path: Path):
    assert verify(new_case(tmp_path / "new.orroom")).sentence.startswith("The one entry is unchanged.")


def test_an_edited_entry_is_named(case: Path):
    verdict = tampered(case, "UPDATE entry SET body = replace(body, '\"2\"', '\"3\"') WHERE seq = 10")
    assert verdict.from_entry == 10
    assert "Entry 10 was changed" in verdict.sentence


@pytest.mark.parametrize("column", ["at_ms = at_ms + 1", "station = 'x'", "station_tap = 999", "who = 'ZZ'",
                                    "kind = 'note_added'", "hash = 'z' || substr(hash, 2)"])  # fmt: skip
def test_every_column_is_in_the_hash(case: Path, column: str):
    assert tampered(case, f"UPDATE entry SET {column} WHERE seq = 20").from_entry in {20, 21}


def test_a_deleted_middle_entry_is_named(case: Path):
    verdict = tampered(case, "DELETE FROM entry WHERE seq = 15")
    assert verdict.from_entry == 15
    assert "Entry 15 is missing" in verdict.sentence


def test_a_deleted_and_renumbered_entry_is_found(case: Path):
    verdict = tampered(
        case, "DELETE FROM entry WHERE seq = 15", "UPDATE entry SET seq = seq - 1 WHERE seq > 15"
    )
    assert verdict.from_entry == 15


@pytest.mark.parametrize("gone", [1, 5])
def test_deleted_last_entries_are_counted(case: Path, gone: int):
    last = read_case(case).seq
    verdict = tampered(case, f"DELETE FROM entry WHERE seq > {last - gone}")
    assert verdict.from_entry == last - gone + 1
    assert "missing" in verdict.sentence


def test_a_swapped_pair_is_found(case: Path):
    verdict = tampered(
        case,
        "UPDATE entry SET seq = -1 WHERE seq = 12",
        "UPDATE entry SET seq = 12 WHERE seq = 13",
        "UPDATE entry SET seq = 13 WHERE seq = -1",
    )
    assert verdict.from_entry == 12


def test_a_change_with_the_chain_made_whole_again_is_found_by_the_anchor(case: Path):
    tampered(case, "UPDATE entry SET who = 'ZZ' WHERE seq = 10")
    rechained(case)
    verdict = verify(case)
    assert not verdict.intact
    assert "does not match the seal kept elsewhere" in verdict.sentence


def test_a_printed_seal_finds_what_a_forged_anchor_hides(case: Path):
    printed = verify(case).seal
    tampered(case, "UPDATE entry SET who = 'ZZ' WHERE seq = 10")
    rechained(case)
    case.with_name(case.name + ".seal").unlink()
    assert verify(case).intact
    assert not verify(case, printed).intact
    assert not verify(case, Seal(printed.seq, printed.hash[:12])).intact


def test_without_an_anchor_the_verdict_says_what_cannot_be_seen(case: Path):
    case.with_name(case.name + ".seal").unlink()
    assert ".seal file next to the case is missing" in verify(case).sentence


def test_flipped_bits_are_found(case: Path, tmp_path: Path):
    """Of 60 single flipped bits within entries' own pages, none goes unnoticed and changes what is told."""
    whole = read_case(case)
    random.seed(4)
    data = bytearray(case.read_bytes())
    for number in range(60):
        copy = tmp_path / f"flip-{number}.orroom"
        place = random.randrange(100, len(data))
        flipped = bytearray(data)
        flipped[place] ^= 1 << random.randrange(8)
        copy.write_bytes(flipped)
        shutil.copy(case.with_name(case.name + ".seal"), copy.with_name(copy.name + ".seal"))
        try:
            sound = verify(copy).intact
        except CaseFileError:
            continue
        if sound:
            assert read_case(copy) == whole


def test_the_command_says_it_in_a_sentence_and_an_exit_code(case: Path):
    good = CliRunner().invoke(main, ["verify", str(case)])
    assert good.exit_code == 0
    assert "entries are unchanged" in good.output
    seal = good.output.split("Seal ")[1].split()[0]
    assert CliRunner().invoke(main, ["verify", str(case), "--seal", seal[:14]]).exit_code == 0
    assert CliRunner().invoke(main, ["verify", str(case), "--head", seal[:14]]).exit_code == 0  # its old name
    assert CliRunner().invoke(main, ["verify", str(case), "--seal", "nonsense"]).exit_code == 2
    tampered(case, "UPDATE entry SET who = 'ZZ' WHERE seq = 10")
    bad = CliRunner().invoke(main, ["verify", str(case)])
    assert bad.exit_code == 6
    assert "from entry 10 on" in bad.stderr


def test_the_command_says_what_the_entries_add_up_to(case: Path):
    with station(case, who="EF") as desk:
        entered(desk, c.IssueGrafts(size="1", count=3))
        entered(desk, c.PlaceGrafts(zone="LINE", size="1", count=2))
        entered(desk, c.TakeBack(role="placing"))
    result = CliRunner().invoke(main, ["verify", str(case)]).output
    assert result.splitlines()[-1] == (
        f"Grafts: {TAPS} cut, 0 pieces from dividing, 0 divided, 0 placed, {TAPS - 3} in dishes, "
        "3 with the placers, 0 discarded, 0 not found."
    )


def test_more_found_than_tallied_is_not_a_negative_number_missing(case: Path):
    with station(case, who="EF") as desk:
        tallied = desk.state.tally.held("dish", "1", "A")
        entered(desk, c.CountDish(harvest="A", size="1", place="dish", found=tallied + 2))
    result = CliRunner().invoke(main, ["verify", str(case)]).output
    assert result.endswith(" 0 discarded, 2 more found in a hand count.\n")


def test_a_sound_record_that_this_version_cannot_read_says_so(case: Path):
    connection = sqlite3.connect(case)
    connection.execute("DROP TRIGGER entry_never_changes")
    connection.execute("UPDATE entry SET kind = 'moon_phase' WHERE seq = 10")
    connection.execute(f"CREATE TRIGGER entry_never_changes {GUARDS['entry_never_changes']}")
    connection.commit()
    connection.close()
    rechained(case)
    case.with_name(case.name + ".seal").unlink()
    result = CliRunner().invoke(main, ["verify", str(case)])
    assert result.exit_code == 0
    assert "entries are intact" in result.output
    assert "totals cannot be read: " in result.output
    assert "entry 10: kind 'moon_phase'" in result.output


def test_the_head_is_printed_on_the_summary(case: Path):
    seal = verify(case).seal
    result = CliRunner().invoke(main, ["summary", str(case), "--format", "md"]).output
    assert f"{seal.seq}:{seal.hash}" in result


def test_a_copy_made_while_a_station_is_at_it_is_whole(case: Path, tmp_path: Path):
    copy = tmp_path / "copy.orroom"
    with station(case, who="CD") as desk:
        entered(desk, c.CutGrafts(harvest="A", size="2"))
        assert backup(case, copy) == desk.state.seq
        assert read_case(copy) == desk.state
        entered(desk, c.CutGrafts(harvest="A", size="2"))
    assert verify(copy).intact
    assert copy.stat().st_mode & 0o777 == 0o600
    with pytest.raises(CaseFileError, match="already exists"):
        backup(case, copy)


def test_signing_off_makes_a_locked_copy_that_opens_read_only_anywhere(case: Path, tmp_path: Path):
    open_because = ("--open-because", "not counted", "--informed", "RS")
    done = CliRunner().invoke(main, ["sign-off", str(case), "--who", "AB", "--second", "CD", *open_because])
    assert done.exit_code == 0, done.output
    (sealed,) = case.parent.glob("*.sealed-*.orroom")
    assert sealed.stat().st_mode & 0o777 == 0o400
    elsewhere = tmp_path / "shelf"
    elsewhere.mkdir()
    alone = elsewhere / "alone.orroom"
    shutil.copy(sealed, alone)
    elsewhere.chmod(0o500)
    assert read_case(alone) == read_case(case)
    with CaseFile.open(alone, read_only=True) as case_file:
        assert case_file._connection.execute("PRAGMA journal_mode").fetchone()[0] == "delete"
    elsewhere.chmod(0o700)


def test_a_case_file_with_one_more_table_is_not_opened(case: Path):
    connection = sqlite3.connect(case)
    connection.execute("CREATE TRIGGER sneaky AFTER INSERT ON about BEGIN SELECT 1; END")
    connection.commit()
    connection.close()
    with pytest.raises(CaseFileError, match="sneaky"):
        CaseFile.open(case)


def test_a_guard_that_was_rewritten_is_noticed(case: Path):
    connection = sqlite3.connect(case)
    connection.execute("DROP TRIGGER entry_never_goes")
    connection.execute("CREATE TRIGGER entry_never_goes BEFORE DELETE ON entry BEGIN SELECT 1; END")
    connection.commit()
    connection.close()
    with pytest.raises(CaseFileError, match="entry_never_goes"):
        CaseFile.open(case)


def test_a_file_cut_in_half_is_told_in_a_sentence(case: Path):
    data = case.read_bytes()
    case.write_bytes(data[: len(data) // 2])
    result = CliRunner().invoke(main, ["verify", str(case)])
    assert result.exit_code in {3, 6}
    assert result.stderr.startswith("orroom: ")
    with pytest.raises(CaseFileError):
        locked_copy(case)


def test_a_file_that_is_not_a_case_is_not_called_a_damaged_one(tmp_path: Path):
    path = tmp_path / "notes.orroom"
    path.write_text("40 twos in dish A\n" * 500)
    with pytest.raises(CaseFileError, match="is not an orroom case file"):
        verify(path)
