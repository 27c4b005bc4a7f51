"""A record that was changed, forked or shortened says so for ever: no act of the program wipes that out."""

from __future__ import annotations

import json
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from cases import MORNING_MS, UNCOUNTED, small_plan
from click.testing import CliRunner, Result
from seats import seated
from stations import entered, new_case, read_case, station, wait_until

from orroom.case import commands as c
from orroom.case.events import EntriesLost, Entry, RecordDiffered, Stamp
from orroom.cli import main
from orroom.errors import CaseFileError
from orroom.record.anchor import Anchor, anchored
from orroom.record.case_file import CaseFile
from orroom.record.cases import found_cases
from orroom.record.chain import EMPTY, Row, Seal, link
from orroom.record.copies import backup
from orroom.record.rescue import read_rescue, write_rescue
from orroom.record.schema import GUARDS
from orroom.record.verify import verify
from orroom.recording import record_once, record_rescued
from orroom.screens.start.chosen import Found
from orroom.screens.start.menus import home_menu

SEAL = ".seal"


@pytest.fixture
def case(tmp_path: Path) -> Path:
    """A case of 10 entries: two stations that came and went, and six cuts."""
    path = new_case(tmp_path / "case.orroom")
    with station(path) as desk:
        for _ in range(6):
            entered(desk, c.CutGrafts(harvest="A", size="2"))
        entered(desk, c.AddNote(text="all dishes wet"))
    assert read_case(path).seq == 10
    return path


def seal_file(case: Path) -> Path:
    return case.with_name(case.name + SEAL)


def rebuilt(case: Path, seq: int = 3, count: int = 9) -> None:
    """A count is changed, and all hashes are made anew: the chain is whole again."""
    with sqlite3.connect(case) as connection:
        for name in GUARDS:
            connection.execute(f"DROP TRIGGER {name}")
        connection.execute("UPDATE entry SET body = json_set(body, '$.count', ?) WHERE seq = ?", (count, seq))
        before = EMPTY.hash
        for values in connection.execute("SELECT * FROM entry ORDER BY seq").fetchall():
            before = link(before, Row(*values[:-1]))
            connection.execute("UPDATE entry SET hash = ? WHERE seq = ?", (before, values[0]))
        for name, guard in GUARDS.items():
            connection.execute(f"CREATE TRIGGER {name} {guard}")
    connection.close()


def cut_more(case: Path, number: int, who: str = "AB") -> None:
    with station(case, who=who) as desk:
        for _ in range(number):
            entered(desk, c.CutGrafts(harvest="A", size="1"))


def noted(case: Path) -> None:
    """An ordinary act of a command line."""
    with CaseFile.open(case) as case_file:
        record_once(case_file, c.AddNote(text="one more"), "EF")


def sat_down(case: Path) -> None:
    """Opening and leaving a station."""
    with station(case, who="CD"):
        pass


def revised(case: Path) -> None:
    plan = small_plan(title="revised")
    with CaseFile.open(case) as case_file:
        record_once(case_file, c.RevisePlan(plan=plan, reason="five fewer"), "RS")


def signed_off(case: Path) -> None:
    with CaseFile.open(case) as case_file:
        record_once(case_file, c.SignOff(second="CD", **UNCOUNTED), "AB")


def rescued(case: Path) -> None:
    stamp = Stamp(MORNING_MS, "cutting-1", 99, "AB")
    taps = write_rescue(case, "SMALL-1", [(stamp, c.CutGrafts(harvest="A", size="3"))])
    with CaseFile.open(case) as case_file:
        assert record_rescued(case_file, read_rescue(taps)) == (1, 0, [])


ACTS = [noted, sat_down, revised, signed_off, rescued]


def differences(case: Path) -> list[RecordDiffered]:
    return [each.event for each in read_case(case).log if isinstance(each.event, RecordDiffered)]


@pytest.mark.parametrize("act", ACTS)
def test_a_changed_record_stays_unsound_whatever_is_done_with_it(case: Path, act: Callable[[Path], None]):
    before = anchored(case)
    rebuilt(case)
    assert "Entries 3 to 10 gone, 8 others in their place" in verify(case).sentence
    act(case)
    (said,) = differences(case)
    assert (said.anchored, said.expected_hash, said.same, said.last) == (10, before.seal.hash, 2, 10)
    assert said.found_hash not in {None, before.seal.hash}
    for again in (noted, sat_down):
        verdict = verify(case)
        assert verdict.says_so
        assert not verdict.intact
        assert verdict.from_entry == 3
        assert "entries 3 to 10 gone, 8 others in their place" in verdict.sentence
        assert verdict.advice == "Do not trust entries 3 to 10."
        if act is not signed_off:
            again(case)
    assert len(differences(case)) == 1
    kept = json.loads(seal_file(case).with_name(f"{case.name}.seal.1").read_text())
    assert Seal(kept["seq"], kept["hash"]) == before.seal
    assert anchored(case).seal == verify(case).seal


def test_a_record_changed_twice_is_not_trusted_from_the_first_change_on(case: Path):
    rebuilt(case)
    noted(case)
    rebuilt(case, seq=8)
    noted(case)
    assert [each.same for each in differences(case)] == [2, 7]
    verdict = verify(case)
    assert verdict.from_entry == 3
    assert verdict.advice == "Do not trust entries 3 to 12."


def test_a_station_of_a_signed_off_case_finds_a_change_too(case: Path):
    signed_off(case)
    rebuilt(case)
    sat_down(case)
    assert len(differences(case)) == 1
    assert not verify(case).intact


def test_a_loss_is_counted_right_though_only_a_command_line_came_by(case: Path, tmp_path: Path):
    """A backup of 10 entries over a record of 14: entries 11 to 14 are gone, whatever came after them."""
    earlier = tmp_path / "earlier.orroom"
    backup(case, earlier)
    cut_more(case, 2)
    assert read_case(case).seq == 14
    shutil.copy(earlier, case)
    assert verify(case).sentence.startswith("The last 4 entries are missing")
    for _ in range(6):
        noted(case)
    (said,) = differences(case)
    assert (said.anchored, said.found_hash, said.same, said.last) == (14, None, 10, 10)
    verdict = verify(case)
    assert verdict.from_entry == 11
    assert "entries 11 to 14 gone." in verdict.sentence
    assert verdict.advice == "Entries are missing before entry 11."


def test_a_fork_says_how_many_are_gone_and_how_many_came(case: Path, tmp_path: Path):
    """A copy of 10 entries was worked on elsewhere, 8 entries, and put over a record with 9 others."""
    elsewhere = tmp_path / "elsewhere.orroom"
    backup(case, elsewhere)
    cut_more(elsewhere, 6, "GH")
    cut_more(case, 7)
    assert (read_case(elsewhere).seq, read_case(case).seq) == (18, 19)
    for beside in ("-wal", "-shm"):
        case.with_name(case.name + beside).unlink(missing_ok=True)
    shutil.copy(elsewhere, case)
    assert "Entries 11 to 19 gone, 8 others in their place" in verify(case).sentence
    with station(case, who="CD") as desk:
        (mismatch,) = desk.state.tally.differences.values()
        assert (mismatch.anchored - mismatch.same, mismatch.last - mismatch.same) == (9, 8)
    assert "entries 11 to 19 gone, 8 others in their place" in verify(case).sentence


def test_a_record_changed_while_a_station_runs_is_told_before_it_is_anchored(
    case: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr("orroom.desk.SETTLE_SECONDS", 0.05)
    with station(case, who="CD") as desk:
        wait_until(lambda: anchored(case).seal.seq == desk.state.seq)
        rebuilt(case)
        entered(desk, c.CutGrafts(harvest="A", size="1"))
        wait_until(lambda: desk.state.tally.differences)
    assert len(differences(case)) == 1
    verdict = verify(case)
    assert verdict.says_so
    assert not verdict.intact


def test_an_anchor_of_an_earlier_version_knows_less_and_is_believed_all_the_same(case: Path):
    seal = anchored(case).seal
    seal_file(case).write_text(json.dumps(seal._asdict()))
    assert anchored(case) == Anchor(seal)
    rebuilt(case)
    noted(case)
    (said,) = differences(case)
    assert (said.anchored, said.same) == (10, None)
    assert "an entry up to 10 was changed" in verify(case).sentence
    assert verify(case).from_entry == 1


def test_an_anchor_that_cannot_be_read_is_kept_beside_the_new_one(case: Path):
    seal_file(case).write_text("{")
    noted(case)
    assert seal_file(case).with_name(f"{case.name}.seal.1").read_text() == "{"
    assert anchored(case).seal.seq == 11


# An anchor of an earlier version, in CASE.orroom.head.


@pytest.fixture
def earlier(case: Path) -> Path:
    """The case as an earlier version left it."""
    seal_file(case).rename(head_file(case))
    return case


def head_file(case: Path) -> Path:
    return case.with_name(case.name + ".head")


def test_the_recorded_case_of_format_1_is_checked_against_its_head_file(tmp_path: Path):
    recorded = Path(__file__).parents[1] / "recorded" / "format-1-every-kind.orroom"
    case = tmp_path / "case.orroom"
    shutil.copy(recorded, case)
    shutil.copy(recorded.with_name(recorded.name + ".head"), head_file(case))
    assert anchored(case).seal == verify(case).seal
    rebuilt(case, seq=verify(case).seal.seq)
    assert "does not match the seal kept elsewhere" in verify(case).sentence


def test_an_earlier_anchor_gives_way_to_one_of_today(earlier: Path):
    before = json.loads(head_file(earlier).read_text())
    assert verify(earlier).sentence == "All 10 entries are unchanged."
    assert head_file(earlier).exists()  # nothing was written
    noted(earlier)
    assert not head_file(earlier).exists()
    after = json.loads(seal_file(earlier).read_text())
    assert after["seq"] == 11
    assert after["trail"].startswith(before["trail"])
    assert verify(earlier).sentence == "All 11 entries are unchanged."


def test_a_change_is_found_by_an_earlier_anchor_which_is_kept(earlier: Path):
    before = head_file(earlier).read_text()
    rebuilt(earlier)
    noted(earlier)
    assert len(differences(earlier)) == 1
    assert seal_file(earlier).with_name(f"{earlier.name}.seal.1").read_text() == before
    assert not head_file(earlier).exists()
    assert verify(earlier).says_so


@pytest.mark.parametrize("lost", ["before the rename", "before the removal"])
def test_a_power_cut_between_the_two_anchors_is_harmless(
    earlier: Path, lost: str, monkeypatch: pytest.MonkeyPatch
):
    """A stop at either moment leaves an anchor that is whole, and the next entry brings all in order."""

    def stopped(*_: object, **__: object) -> None:
        raise OSError("stopped here")

    with monkeypatch.context() as patch:
        patch.setattr(Path, "replace" if lost == "before the rename" else "unlink", stopped)
        noted(earlier)
    assert head_file(earlier).exists()
    assert seal_file(earlier).exists() == (lost == "before the removal")
    known = 10 if lost == "before the rename" else 11
    assert anchored(earlier).seal.seq == known
    verdict = verify(earlier)
    assert verdict.intact
    assert verdict.sentence.startswith("All 11 entries are ")
    sat_down(earlier)
    assert not head_file(earlier).exists()
    assert differences(earlier) == []
    assert anchored(earlier).seal.seq == 13
    assert verify(earlier).sentence == "All 13 entries are unchanged."


def test_what_an_earlier_version_kept_aside_stays_beside_what_is_kept_now(earlier: Path):
    aside = earlier.with_name(f"{earlier.name}.head.1")
    aside.write_text("evidence")
    rebuilt(earlier)
    noted(earlier)
    assert aside.read_text() == "evidence"
    assert earlier.with_name(f"{earlier.name}.seal.1").exists()


@pytest.mark.parametrize("place", [seal_file, head_file])
def test_a_new_case_in_place_of_one_that_was_deleted_keeps_its_anchor_and_is_intact(
    case: Path, place: Callable[[Path], Path]
):
    before = seal_file(case).read_text()
    seal_file(case).rename(place(case))
    case.unlink()
    new_case(case)
    assert seal_file(case).with_name(f"{case.name}.seal.1").read_text() == before
    assert not head_file(case).exists()
    assert differences(case) == []
    assert verify(case).intact


def test_a_copy_in_place_of_one_of_another_case_is_intact(case: Path, tmp_path: Path):
    copy, other = tmp_path / "copy.orroom", new_case(tmp_path / "other.orroom")
    cut_more(other, 9)
    backup(other, copy)
    copy.unlink()
    assert backup(case, copy) == 10
    assert verify(copy).sentence == "All 10 entries are unchanged."


def test_a_backup_of_a_record_that_says_it_was_changed_can_be_made(case: Path, tmp_path: Path):
    rebuilt(case)
    noted(case)
    copy = tmp_path / "copy.orroom"
    assert backup(case, copy) == 12
    assert verify(copy).says_so


def test_losses_in_old_records_are_still_read(case: Path):
    with CaseFile.open(case) as case_file, case_file.turn():
        case_file.append([Entry(11, Stamp(MORNING_MS, "desk", 9, "AB"), EntriesLost(count=4))])
    assert read_case(case).tally.losses == {11: 4}


@pytest.mark.parametrize("ending", [".seal", ".seal.new", ".head", ".turn", "-wal"])
def test_a_link_in_place_of_a_file_of_ours_is_refused_and_its_target_left_alone(
    case: Path, tmp_path: Path, ending: str
):
    precious = tmp_path / "precious"
    precious.write_text("precious")
    beside = case.with_name(case.name + ending)
    beside.unlink(missing_ok=True)
    beside.symlink_to(precious)
    for words in (["verify", str(case)], ["reopen", str(case), "--who", "AB", "--reason", "x"]):
        refused = CliRunner().invoke(main, words)
        assert refused.exit_code == 3
        assert f"{beside.name} is a symbolic link" in refused.stderr
    case.unlink()
    with pytest.raises(CaseFileError, match="symbolic link"):
        CaseFile.create(case)
    assert precious.read_text() == "precious"
    assert beside.is_symlink()


def test_a_case_reached_by_a_link_has_its_files_beside_itself(case: Path, tmp_path: Path):
    (tmp_path / "elsewhere").mkdir()
    link_to = tmp_path / "elsewhere" / "link.orroom"
    link_to.symlink_to(case)
    noted(link_to)
    assert [each.name for each in link_to.parent.iterdir()] == ["link.orroom"]
    assert anchored(case).seal.seq == 11


# What verify can know.


def test_entries_that_are_not_anchored_yet_are_named(case: Path, monkeypatch: pytest.MonkeyPatch):
    with station(case, who="CD") as desk:
        wait_until(lambda: anchored(case).seal.seq == desk.state.seq)  # the join
        joined = verify(case)
        assert "Still open: cutting-2; entries lost after the last anchor at 20" in joined.sentence
        for _ in range(3):
            entered(desk, c.CutGrafts(harvest="A", size="1"))
        verdict = verify(case)
        assert verdict.intact
        assert (
            "All 14 entries are intact; those after 11 were not anchored yet (last at 20" in verdict.sentence
        )
    assert verify(case).sentence == "All 15 entries are unchanged."


KILLED = """
import os, signal, sys, time
from pathlib import Path
from orroom.case import commands as c
from orroom.desk import Desk
from orroom.record.anchor import anchored
from orroom.record.case_file import CaseFile

case = Path(sys.argv[1])
desk = Desk(CaseFile.open(case), "cutting", "CD")
while anchored(case).seal.seq < desk.state.seq:
    time.sleep(0.01)
for _ in range(8):
    desk.ask(c.CutGrafts(harvest="A", size="1")).result(10)
os.kill(os.getpid(), signal.SIGKILL)
"""


def test_taps_that_went_with_the_log_of_a_killed_station_are_not_denied(case: Path):
    subprocess.run([sys.executable, "-c", KILLED, str(case)], check=False)
    for beside in ("-wal", "-shm"):
        case.with_name(case.name + beside).unlink()
    verdict = verify(case)
    assert read_case(case).seq == 11  # the join is there, eight taps are not
    assert verdict.intact
    assert "Still open: cutting-2; entries lost after the last anchor" in verdict.sentence
    assert "would not show" in verdict.sentence


# Who says that a record is not sound.


def changed_by_hand(case: Path) -> None:
    """Somebody with a database tool changed who made entry 3; the chain is broken there."""
    with sqlite3.connect(case) as connection:
        connection.execute("DROP TRIGGER entry_never_changes")
        connection.execute("UPDATE entry SET who = 'ZZ' WHERE seq = 3")
        connection.execute(f"CREATE TRIGGER entry_never_changes {GUARDS['entry_never_changes']}")
    connection.close()


def orroom(*words: object) -> Result:
    return CliRunner().invoke(main, [str(each) for each in words])


@pytest.mark.parametrize("harm", [changed_by_hand, rebuilt])
def test_status_and_reports_say_that_a_record_is_not_intact(case: Path, harm: Callable[[Path], None]):
    harm(case)
    for verb in ("status", "handover"):
        result = orroom(verb, case)
        assert result.exit_code == 6
        assert "segments done" in result.stdout
        assert "is NOT INTACT" in result.stderr
        assert "Do not trust it from entry 3 on." in result.stderr
    page = orroom("summary", case, "--format", "md").stdout.split("\n")
    assert any("THE RECORD IS NOT INTACT" in each for each in page[:4])


def test_a_record_that_says_it_was_changed_can_be_signed_off_with_a_reason(case: Path):
    rebuilt(case)
    assert orroom("sign-off", case, "--who", "AB", "--second", "CD", *UNCOUNTED_WORDS).exit_code == 6
    noted(case)
    refused = orroom("sign-off", case, "--who", "AB", "--second", "CD")
    assert refused.exit_code == 5
    assert "record changed before entry 11" in refused.stderr
    done = orroom("sign-off", case, "--who", "AB", "--second", "CD", *UNCOUNTED_WORDS)
    assert done.exit_code == 0, done.stderr
    (sealed,) = case.parent.glob("*.sealed-*.orroom")
    assert verify(sealed).says_so


UNCOUNTED_WORDS = ("--open-because", "nobody knows who", "--informed", "RS")


def test_the_start_screen_marks_a_record_that_is_not_intact(case: Path):
    (sound,) = found_cases([case.parent])
    assert sound.not_intact == ""
    changed_by_hand(case)
    (found,) = found_cases([case.parent])
    (item,) = home_menu(Found((found,)), MORNING_MS).items
    assert item.label.startswith("≠ NOT INTACT  SMALL-1")
    assert "Entry 3 was changed" in item.more[0]


async def test_a_station_finds_on_opening_that_its_record_is_not_intact(
    case: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr("orroom.screens.stations.app.VERIFY_SECONDS", 0.01)
    changed_by_hand(case)
    async with seated(case, "cutting", size=(40, 12)) as seat:
        await seat.until("RECORD NOT INTACT from entry 3 on")
        await seat.press("1")
        assert "RECORD NOT INTACT from entry 3 on" in seat.text
