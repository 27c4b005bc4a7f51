"""The command line: whole journeys, and one clear sentence for every kind of bad input."""

from __future__ import annotations

import errno
import gc
import json
import os
import re
import shutil
import sqlite3
import subprocess
import sys
from contextlib import suppress
from pathlib import Path
from random import Random

import pytest
from cases import MORNING_MS, small_plan
from click.testing import CliRunner, Result
from hypothesis import example, given, settings
from hypothesis import strategies as st
from rich.cells import cell_len
from stations import entered, new_case, read_case, station

from orroom.case import commands as c
from orroom.case.events import CountedGroup, HandedOver, Stamp
from orroom.case.final_count import groups_to_count
from orroom.case.parts import plain_table
from orroom.case.plan import Plan
from orroom.case.terms import CAUTIONS
from orroom.cli import GROUPS, VERBS, main
from orroom.cli import plan as plans
from orroom.cli.characters import LIKENESS
from orroom.cli.stations import stationed
from orroom.errors import CaseFileError
from orroom.record.anchor import anchored
from orroom.record.case_file import CaseFile
from orroom.record.encoding import LINE_FIELDS, lines_of
from orroom.record.rescue import read_rescue, write_rescue
from orroom.record.schema import APPLICATION_ID
from orroom.record.verify import verify

SAMPLES = Path(__file__).parents[2] / "sample_cases"
PLAN = SAMPLES / "two-lots" / "plan.toml"


def orroom(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(each) for each in arguments])


#: One reason for whatever is open at the sign-off.
UNCOUNTED = ("--open-because", "not counted", "--informed", "RS")


def fails(result: Result, *words: str, code: int) -> None:
    """One sentence, an exit code, and no traceback."""
    assert result.exit_code == code, result.output
    assert isinstance(result.exception, SystemExit), repr(result.exception)
    for word in words:
        assert word in result.stderr
    assert "Traceback" not in result.stderr


@pytest.fixture
def case(tmp_path: Path) -> Path:
    path = new_case(tmp_path / "case.orroom")
    with station(path) as desk:
        entered(desk, c.StartHarvest(harvest="A", minutes_ago=30))
        entered(desk, c.CutGrafts(harvest="A", size="2", count=30))
        entered(desk, c.PlaceGrafts(zone="FRONT", size="2", count=12))
        entered(desk, c.AddNote(text="=1+1 | [/b] *x*"))
    return path


@pytest.fixture
def events(case: Path, tmp_path: Path) -> Path:
    path = tmp_path / "events.jsonl"
    assert orroom("export", case, path).exit_code == 0
    return path


def test_help_carries_the_cautions():
    text = " ".join(orroom("--help").output.split())
    for caution in CAUTIONS:
        assert caution in text


def test_every_verb_is_in_the_help_once_and_no_line_is_cut():
    text = CliRunner().invoke(main, ["--help"], env={"COLUMNS": "80"}).output
    titles = re.findall(r"^(\w[\w ]+):$", text, re.MULTILINE)
    assert titles == ["Options", *GROUPS]
    assert sorted(re.findall(r"^  ([a-z][a-z-]+)  +[A-Z]", text, re.MULTILINE)) == sorted(VERBS)
    assert len({len(each) for each in re.findall(r"^  [a-z][a-z-]+ +(?=[A-Z])", text, re.MULTILINE)}) == 1
    assert "..." not in text.split("Options:")[1]


@pytest.mark.parametrize("words", [*([verb] for verb in VERBS), ["archive", "add"], ["archive", "report"]])
def test_the_help_of_a_verb_fits(words: list[str]):
    shown = CliRunner().invoke(main, [*words, "--help"], env={"COLUMNS": "80"})
    assert shown.exit_code == 0
    assert [line for line in shown.output.splitlines() if cell_len(line) > 80] == []


def test_a_mistyped_verb_is_a_clear_error():
    fails(orroom("opne"), "No such command 'opne'", "Did you mean", "'open'", code=2)
    fails(orroom("archive", "ad"), "Did you mean 'add'?", code=2)
    fails(orroom("doctor"), "No such command 'doctor'. Did you mean 'machine'?", code=2)
    assert "Did you mean" not in orroom("xxxxx").stderr


def test_a_case_from_plan_to_summary(tmp_path: Path):
    case = tmp_path / "case.orroom"
    made = orroom("new", PLAN, "--case", case, "--who", "NP")
    assert made.exit_code == 0
    assert "400 grafts planned" in made.output
    assert orroom("sign-off", case, "--who", "AB", "--second", "CD").exit_code == 0
    assert "signed off" in orroom("summary", case, "--format", "md").output.lower()
    assert orroom("reopen", case, "--who", "AB", "--reason", "one more dish found").exit_code == 0
    assert not read_case(case).tally.signed_off


def test_a_case_is_opened_by_somebody_who_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    case = tmp_path / "case.orroom"
    fails(orroom("new", PLAN, "--case", case), "--who AB", code=2)
    assert not case.exists()
    monkeypatch.setattr(plans, "_answers", lambda: True)
    made = CliRunner().invoke(main, ["new", str(PLAN), "--case", str(case)], input="xy\n")
    assert made.exit_code == 0
    assert "Who opens the case? Initials" in made.stderr
    assert "opened by XY" in made.stdout
    assert read_case(case).log[0].stamp.who == "XY"


def test_a_new_case_is_in_a_folder_of_its_own_that_stands_for_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.chdir(tmp_path)
    assert orroom("new", PLAN, "--who", "NP").exit_code == 0
    folder = tmp_path / "DEMO-0350"
    assert folder.stat().st_mode & 0o777 == 0o700
    assert [each.name for each in folder.glob("*.orroom")] == ["DEMO-0350.orroom"]
    assert orroom("verify", "DEMO-0350").exit_code == 0
    assert orroom("sign-off", "DEMO-0350", "--who", "AB", "--second", "CD").exit_code == 0
    assert "Signed off" in orroom("summary", "DEMO-0350", "--format", "md").output
    fails(orroom("new", PLAN, "--who", "NP"), "already exists", code=3)


def test_a_broken_plan_makes_no_case(tmp_path: Path):
    case = tmp_path / "case.orroom"
    fails(
        orroom("new", SAMPLES / "broken" / "plan.toml", "--case", case, "--who", "NP"),
        "problems in the plan",
        code=2,
    )
    assert not case.exists()


def test_wrong_initials_make_no_case(tmp_path: Path):
    case = tmp_path / "case.orroom"
    fails(orroom("new", PLAN, "--case", case, "--who", "ann"), "initials", "'ann'", code=5)
    assert not case.exists()


def test_check_tells_every_error_at_once():
    result = orroom("check", SAMPLES / "broken" / "plan.toml")
    expected = (SAMPLES / "broken" / "expected_errors.txt").read_text("utf-8").splitlines()
    fails(result, *expected, code=2)


def test_check_shows_what_a_sound_plan_adds_up_to():
    result = orroom("check", SAMPLES / "frontal-midscalp" / "plan.toml")
    assert result.exit_code == 0
    assert "2,400" in result.output


def test_schema_is_a_json_schema():
    assert "properties" in json.loads(orroom("schema").output)


@pytest.mark.parametrize("form", ["md", "json", "html"])
def test_summary_is_the_same_after_export_and_import(case: Path, events: Path, tmp_path: Path, form: str):
    assert orroom("import", events, tmp_path / "copy.orroom").exit_code == 0
    copied, original = (
        orroom("summary", path, "--format", form) for path in (tmp_path / "copy.orroom", case)
    )
    assert original.exit_code == 0
    assert copied.stdout_bytes == original.stdout_bytes
    again = tmp_path / "again.jsonl"
    assert orroom("export", tmp_path / "copy.orroom", again).exit_code == 0
    assert again.read_bytes() == events.read_bytes()


def test_summary_goes_to_a_file_but_not_over_one(case: Path, tmp_path: Path):
    target = tmp_path / "summary.json"
    assert orroom("summary", case, "--format", "json", "--output", target).exit_code == 0
    assert target.read_text("utf-8") == orroom("summary", case, "--format", "json").output
    fails(orroom("summary", case, "--output", target), "already exists", code=1)


def test_summary_prints_through_rich(case: Path):
    result = orroom("summary", case)
    assert result.exit_code == 0
    assert "Grafts and hairs" in result.output


@pytest.mark.parametrize("verb", ["summary", "open"])
def test_a_path_that_is_no_case_is_told_in_a_sentence(verb: str, tmp_path: Path):
    letter = tmp_path / "letter.txt"
    letter.write_text("Dear all\n" * 100)
    fails(orroom(verb, tmp_path / "none.orroom"), "does not exist", "orroom new", code=3)
    fails(orroom(verb, tmp_path), "is a folder", code=3)
    fails(orroom(verb, letter), "is not an orroom case file", code=3)
    fails(orroom(verb, PLAN), "is not an orroom case file", code=3)


def test_a_pipe_or_a_device_is_not_waited_for(tmp_path: Path):
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    for path in (pipe, Path("/dev/zero")):
        fails(orroom("summary", path), "not an ordinary file", code=3)
        fails(orroom("verify", path), "not an ordinary file", code=3)
        fails(orroom("import", path, tmp_path / "case.orroom"), "not an ordinary file", code=3)
        fails(orroom("import", "--rescue", path, tmp_path / "case.orroom"), "not an ordinary file", code=3)
        fails(orroom("check", path), "not an ordinary file", code=1)


def test_a_station_needs_initials(case: Path):
    result = orroom("open", case, "--role", "cutting")
    assert result.exit_code == 2
    assert "--who AB" in result.stderr


def test_a_station_needs_a_terminal(case: Path):
    before = read_case(case).seq
    fails(orroom("open", case), "needs a terminal", code=1)
    fails(orroom("demo"), "needs a terminal", code=1)
    assert read_case(case).seq == before


def test_a_signed_off_case_stays_closed(case: Path):
    assert orroom("sign-off", case, "--who", "AB", "--second", "CD", *UNCOUNTED).exit_code == 0
    fails(orroom("sign-off", case, "--who", "AB", "--second", "CD"), "signed off", "Reopen", code=5)
    fails(orroom("reopen", case, "--who", "AB", "--reason", " "), "empty", code=5)


def code_of(case: Path) -> str:
    return read_case(case).plan.case


def test_rescued_taps_are_taken_into_the_case_once(case: Path, tmp_path: Path):
    stamp = Stamp(MORNING_MS, "desk", 77, "AB")
    rescue = write_rescue(
        case,
        code_of(case),
        [(stamp, c.CutGrafts(harvest="A", size="3")), (stamp, c.TakeBack(role="cutting"))],
    )
    before = read_case(case).tally.held("cut", "3")
    assert "1 tap added, 1 already there" in orroom("import", "--rescue", rescue, case).output
    assert "0 taps added, 2 already there" in orroom("import", "--rescue", rescue, case).output
    assert read_case(case).tally.held("cut", "3") == before + 1
    rescue.write_text("{}\n")
    fails(orroom("import", "--rescue", rescue, case), "line 1: not a tap", code=4)
    rescue.write_text("\n")
    fails(orroom("import", "--rescue", rescue, case), "has no taps in it", code=4)
    fails(orroom("import", "--rescue", tmp_path / "none", case), "does not exist", code=3)


def test_a_rescued_hand_over_of_an_earlier_version_is_taken(case: Path, tmp_path: Path):
    rescue = tmp_path / "rescue.jsonl"
    rescue.write_text(
        f'{{"case":"{code_of(case)}","at_ms":{MORNING_MS},"station":"desk","tap":77,"who":"CD",'
        '"command":"ChangeShift","fields":{"left":"AB"}}\n'
    )
    assert "1 tap added" in orroom("import", "--rescue", rescue, case).output
    assert read_case(case).log[-1].event == HandedOver(left="AB")


def test_a_rescued_sign_off_has_the_words_of_every_version(case: Path):
    stamp, signing = Stamp(MORNING_MS, "desk", 77, "AB"), c.SignOff(second="CD", informed="RS")
    rescue = write_rescue(case, code_of(case), [(stamp, signing)])
    assert '"told":"RS"' in rescue.read_text()
    assert read_rescue(rescue).taps == [(stamp, signing)]


def test_rescued_taps_that_are_refused_fail_the_command(case: Path):
    rescue = write_rescue(
        case, code_of(case), [(Stamp(MORNING_MS, "desk", 77, "AB"), c.CutGrafts(harvest="A", size="9"))]
    )
    result = orroom("import", "--rescue", rescue, case)
    fails(result, "no such size", "refused", code=5)


def test_rescued_taps_of_another_case_or_an_unknown_station_are_not_taken(case: Path):
    cut = c.CutGrafts(harvest="A", size="3")
    rescue = write_rescue(case, "OTHER-1", [(Stamp(MORNING_MS, "desk", 77, "AB"), cut)])
    fails(orroom("import", "--rescue", rescue, case), "taps of case OTHER-1", "nothing was added", code=3)
    first = read_case(case).log[0].stamp
    taken = Stamp(first.at_ms + 1, first.station, first.tap, first.who)
    strange = Stamp(MORNING_MS, "nobody-9", 2, "AB")
    before = read_case(case).seq
    rescue = write_rescue(case, code_of(case), [(taken, cut), (strange, cut)])
    result = orroom("import", "--rescue", rescue, case)
    fails(result, "Another tap already has that number", "never open here", code=5)
    assert "2 refused" in result.stdout
    assert read_case(case).seq == before


@pytest.mark.parametrize("seal", ["²:12345678", "0:12345678", "3:zzzzzzzz", "3", "3:12"])
def test_a_seal_that_is_none_is_not_compared(case: Path, seal: str):
    result = orroom("verify", case, "--seal", seal)
    assert result.exit_code == 2
    assert "NUMBER:HASH" in result.stderr


def test_import_new_and_sign_off_anchor_the_seal(case: Path, events: Path, tmp_path: Path):
    copy = tmp_path / "copy.orroom"
    assert orroom("import", events, copy).exit_code == 0
    assert anchored(copy).seal == verify(copy).seal
    assert orroom("sign-off", copy, "--who", "AB", "--second", "CD", *UNCOUNTED).exit_code == 0
    assert anchored(copy).seal == verify(copy).seal
    fresh = tmp_path / "fresh.orroom"
    assert orroom("new", PLAN, "--case", fresh, "--who", "NP").exit_code == 0
    assert anchored(fresh).seal == verify(fresh).seal


def test_an_altered_record_is_not_signed_off_and_its_summary_says_so(case: Path):
    connection = sqlite3.connect(case)
    guard = connection.execute("SELECT sql FROM sqlite_schema WHERE name = 'entry_never_changes'").fetchone()[
        0
    ]
    connection.execute("DROP TRIGGER entry_never_changes")
    connection.execute("UPDATE entry SET who = 'ZZ' WHERE seq = 3")
    connection.execute(guard)
    connection.commit()
    connection.close()
    fails(orroom("sign-off", case, "--who", "AB", "--second", "CD"), "Entry 3", "Not signed off", code=6)
    assert not read_case(case).tally.signed_off
    assert list(case.parent.glob("*sealed*")) == []
    assert "NOT INTACT" in orroom("summary", case, "--format", "md").stderr


def test_what_fails_takes_away_its_own_files_and_no_others(case: Path, events: Path, tmp_path: Path):
    folder = tmp_path / "full of things"
    folder.mkdir()
    others = [
        folder / name for name in ("day.toml", "day.orroom", "day-notes.txt", "day.bak", "precious.txt")
    ]
    for each in others:
        each.write_bytes(b"mine")
    bad = tmp_path / "bad.jsonl"
    bad.write_text(events.read_text("utf-8").replace('"seq":4,', '"seq":5,', 1), "utf-8")
    for name in ("day", "*", "d[a]y", "day?"):
        assert orroom("new", PLAN, "--case", folder / name, "--who", "lowercase").exit_code == 5
        assert orroom("import", bad, folder / name).exit_code == 4
    case.write_bytes(case.read_bytes().replace(b'"AB"', b'"ZZ"', 1) if b'"AB"' in case.read_bytes() else b"x")
    assert orroom("backup", case, folder / "day").exit_code in {3, 6}
    assert sorted(folder.iterdir()) == sorted(others)
    assert all(each.read_bytes() == b"mine" for each in others)
    assert case.exists()


def test_a_damaged_case_outlives_its_failed_backup(case: Path):
    connection = sqlite3.connect(case)
    guard = connection.execute("SELECT sql FROM sqlite_schema WHERE name = 'entry_never_changes'").fetchone()
    connection.execute("DROP TRIGGER entry_never_changes")
    connection.execute("UPDATE entry SET who = 'ZZ' WHERE seq = 3")
    connection.execute(guard[0])
    connection.commit()
    connection.close()
    before = sorted(each.name for each in case.parent.iterdir())
    fails(orroom("backup", case, case.with_suffix("")), "failed verification", code=3)
    after = {each.name for each in case.parent.iterdir()}
    assert set(before) <= after <= {*before, f"{case.name}-shm", f"{case.name}-wal"}


@pytest.mark.skipif(os.geteuid() != 0, reason="only root may mount a small disk")
def test_on_a_full_disk_a_sound_case_is_read_and_nothing_half_is_left(events: Path, tmp_path: Path):
    small = tmp_path / "small"
    small.mkdir()
    if subprocess.run(["mount", "-t", "tmpfs", "-o", "size=400k", "tmpfs", small], check=False).returncode:
        pytest.skip("mounting is not allowed here")
    try:
        case = small / "a.orroom"
        assert orroom("import", events, case).exit_code == 0
        with (small / "filler").open("wb", buffering=0) as filler, suppress(OSError):
            while filler.write(b"x" * 1000):
                pass
        assert orroom("verify", case).exit_code == 0
        assert orroom("summary", case, "--format", "md").exit_code == 0
        assert orroom("backup", case, tmp_path / "copy.orroom").exit_code == 0
        fails(orroom("export", case, small / "e.jsonl"), "No space", code=1)
        assert not (small / "e.jsonl").exists()
    finally:
        subprocess.run(["umount", small], check=True)


@pytest.mark.skipif(os.geteuid() != 0, reason="only root may mount a small disk")
def test_a_full_disk_leaves_no_half_made_case(events: Path, tmp_path: Path):
    small = tmp_path / "small"
    small.mkdir()
    if subprocess.run(["mount", "-t", "tmpfs", "-o", "size=60k", "tmpfs", small], check=False).returncode:
        pytest.skip("mounting is not allowed here")
    try:
        fails(orroom("new", PLAN, "--case", small / "a.orroom", "--who", "NP"), "full", code=3)
        fails(orroom("import", events, small / "b.orroom"), "full", code=3)
        assert list(small.iterdir()) == []
    finally:
        subprocess.run(["umount", small], check=True)


def test_one_person_does_not_sign_twice(case: Path):
    fails(orroom("sign-off", case, "--who", "AB", "--second", "AB"), "Two different people", code=5)


def test_an_import_does_not_overwrite(case: Path, events: Path):
    before = case.read_bytes()
    fails(orroom("import", events, case), "already exists", code=3)
    assert case.read_bytes() == before


GOOD = '{"seq":2,"at":"2026-01-05T07:30:00.000Z","station":"cutting-1","tap":1,"who":"AB","kind":'


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("{", ["line 2", "not valid JSON"]),
        ("[1,2]", ["line 2", "not a JSON object"]),
        ('{"seq":2}', ["line 2", "'at' is missing"]),
        (GOOD + '"note_added","event":{"text":"x"},"more":1}', ["'more' is not a known field"]),
        (GOOD + '"note_sung","event":{"text":"x"}}', ["kind 'note_sung'"]),
        (GOOD + '"note_added","event":{"text":5}}', ["text of note_added", "expected text"]),
        (GOOD + '"note_added","event":{}}', ["text of note_added: is missing"]),
        (GOOD + '"note_added","event":{"text":"a","by":"b"}}', ["by of note_added: is not a known field"]),
        (GOOD + '"note_added","event":{"text":"a","text":"b"}}', ["'text' appears twice"]),
        (GOOD + '"note_added","event":{"text":"a\\u202eb"}}', ["U+202E"]),
        (GOOD + '"note_added","event":{"text":"' + "x" * 300 + '"}}', ["This has 300"]),
        (GOOD + '"grafts_cut","event":{"lot":"A","size":"2","count":0}}', ["1 to 10,000"]),
        (GOOD + '"grafts_cut","event":{"lot":"A","size":"2","count":-4}}', ["1 to 10,000", "-4"]),
        (GOOD + '"grafts_cut","event":{"lot":"A","size":"2","count":10001}}', ["10,001"]),
        (GOOD + '"grafts_cut","event":{"lot":"A","size":"2","count":1.5}}', ["count of grafts_cut"]),
        (GOOD + '"grafts_cut","event":{"lot":"A","size":"2","count":NaN}}', ["NaN is not a number"]),
        (GOOD + '"grafts_cut","event":{"lot":"A","size":"9","count":1}}', ["no such size", "'9'"]),
        (GOOD + '"sites_made","event":{"zone":"XX","count":1}}', ["no such zone", "'XX'"]),
        (GOOD + '"entry_corrected","event":{"entry":9,"reason":"x"}}', ["no such entry", "not 9"]),
        (GOOD.replace("2", "7", 1) + '"break_started","event":{}}', ["entry 7", "Expected entry 2"]),
        (GOOD.replace('"seq":2', '"seq":true') + '"break_started","event":{}}', ["seq is True"]),
        (GOOD.replace("000Z", "000") + '"break_started","event":{}}', ["not a UTC time"]),
        (GOOD.replace('"AB"', '"Ann"') + '"break_started","event":{}}', ["initials"]),
        (GOOD.replace('"cutting-1"', '"desk"') + '"break_started","event":{}}', ["appears twice"]),
        ("[" * 100_000, ["nested too deeply"]),
        ("9" * 5000, ["line 2"]),
    ],
)  # fmt: skip
def test_a_bad_line_is_named_and_nothing_is_imported(tmp_path: Path, line: str, words: list[str]):
    opened = lines_of(read_case(new_case(tmp_path / "first.orroom")).log)
    bad = tmp_path / "bad.jsonl"
    bad.write_text(opened + line + "\n", "utf-8")
    case = tmp_path / "case.orroom"
    fails(orroom("import", bad, case), *words, code=4)
    assert not case.exists()


def test_a_recorded_plan_is_checked_like_a_file(tmp_path: Path):
    opened = json.loads(lines_of(read_case(new_case(tmp_path / "first.orroom")).log))
    opened["event"]["plan"]["zones"][0]["area_cm2"] = None
    bad = tmp_path / "bad.jsonl"
    bad.write_text(json.dumps(opened) + "\n", "utf-8")
    fails(orroom("import", bad, tmp_path / "case.orroom"), "line 1", "area_cm2", code=2)


def test_an_events_file_that_is_none_is_told_in_a_sentence(tmp_path: Path):
    target = tmp_path / "case.orroom"
    fails(orroom("import", tmp_path / "none", target), "does not exist", code=3)
    fails(orroom("import", tmp_path, target), "is a folder", code=3)
    (tmp_path / "empty").touch()
    fails(orroom("import", tmp_path / "empty", target), "has no entries", code=4)
    (tmp_path / "latin").write_bytes(b"\xff\xfe\x00")
    fails(orroom("import", tmp_path / "latin", target), "not UTF-8", code=4)
    assert not target.exists()


ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(), st.lists, max_leaves=5
)


@settings(max_examples=60)
@given(ANYTHING, st.data())
def test_no_events_file_ends_in_a_traceback(
    tmp_path_factory: pytest.TempPathFactory, value: object, data: st.DataObject
):
    folder = tmp_path_factory.mktemp("fuzz")
    raw = json.loads(GOOD + '"grafts_cut","event":{"lot":"A","size":"2","count":1}}')
    raw[data.draw(st.sampled_from(LINE_FIELDS))] = value
    opened = lines_of(read_case(new_case(folder / "first.orroom")).log)
    (folder / "bad.jsonl").write_text(opened + json.dumps(raw) + "\n", "utf-8")
    result = orroom("import", folder / "bad.jsonl", folder / "case.orroom")
    assert result.exit_code in {0, 4}, result.output
    assert result.exception is None or isinstance(result.exception, SystemExit)


def test_a_number_that_no_case_file_holds_is_refused_by_line(tmp_path: Path):
    raw = json.loads(GOOD + '"grafts_cut","event":{"lot":"A","size":"2","count":1}}') | {"tap": 2**63}
    opened = lines_of(read_case(new_case(tmp_path / "first.orroom")).log)
    (tmp_path / "bad.jsonl").write_text(opened + json.dumps(raw) + "\n", "utf-8")
    result = orroom("import", tmp_path / "bad.jsonl", tmp_path / "case.orroom")
    assert result.exit_code == 4
    assert "line 2: tap is 9223372036854775808" in " ".join(result.output.split())


@settings(max_examples=40)
@given(ANYTHING, st.sampled_from(("case", "at_ms", "station", "tap", "who", "command", "fields")))
@example(2**63, "tap")
@example(float("inf"), "at_ms")
def test_no_rescue_file_ends_in_a_traceback(
    tmp_path_factory: pytest.TempPathFactory, value: object, name: str
):
    folder = tmp_path_factory.mktemp("fuzz")
    case = new_case(folder / "case.orroom")
    tap = (Stamp(MORNING_MS, "desk", 77, "AB"), c.CutGrafts(harvest="A", size="3"))
    rescue = write_rescue(case, "SMALL-1", [tap])
    raw = json.loads(rescue.read_text("utf-8"))
    raw[name] = value
    rescue.write_text(json.dumps(raw), "utf-8")
    result = orroom("import", "--rescue", rescue, case)
    assert result.exit_code in {0, 3, 4, 5}, result.output
    assert result.exception is None or isinstance(result.exception, SystemExit)


DECOMPOSED, COMPOSED = "cafe\u0301", "caf\u00e9"


@pytest.mark.parametrize("label", ["a\u202eb", "[/b]", "", " x", "x" * 500])
def test_a_rescued_plan_with_a_label_that_no_plan_may_have_is_not_taken(case: Path, label: str):
    before = read_case(case).seq
    plan = small_plan(title=label)
    tap = (Stamp(MORNING_MS, "desk", 77, "RS"), c.RevisePlan(plan=plan, reason="later"))
    result = orroom("import", "--rescue", write_rescue(case, plan.case, [tap]), case)
    assert (result.exit_code, read_case(case).seq) == (4, before), result.output
    assert "not a tap" in result.output


def test_a_rescued_plan_is_taken_with_its_texts_composed(case: Path):
    plan = small_plan(title=DECOMPOSED)
    tap = (Stamp(MORNING_MS, "desk", 77, "RS"), c.RevisePlan(plan=plan, reason="later"))
    result = orroom("import", "--rescue", write_rescue(case, plan.case, [tap]), case)
    assert result.exit_code == 0, result.output
    assert read_case(case).plan == small_plan(title=COMPOSED)


def test_an_imported_plan_is_kept_with_its_texts_composed(case: Path, tmp_path: Path):
    lines = lines_of(read_case(case).log).replace('"title":"a small case"', f'"title":"{DECOMPOSED}"')
    (tmp_path / "events.jsonl").write_text(lines, "utf-8")
    assert orroom("import", tmp_path / "events.jsonl", tmp_path / "copy.orroom").exit_code == 0
    assert read_case(tmp_path / "copy.orroom").plan.title == COMPOSED


# What a verb does not need, it does not load.


def test_no_terminal_library_is_loaded_without_a_screen(case: Path):
    verbs = [["--help"], ["summary", str(case)], ["check", str(PLAN)], ["export", str(case), "-"]]
    code = (
        "import sys\nfrom orroom.cli import main\n"
        f"for verb in {verbs!r}:\n"
        "    try:\n        main(verb)\n"
        "    except SystemExit as end:\n        assert not end.code, verb\n"
        "    assert not [name for name in sys.modules if name.split('.')[0] == 'textual'], verb"
    )
    subprocess.run([sys.executable, "-c", code], check=True, capture_output=True)


@pytest.mark.parametrize("settings", [None, 'theme = "light"\n[limits]\nday_hours = 6\n'])
def test_a_station_does_not_load_what_only_reports_need(case: Path, tmp_path: Path, settings: str | None):
    file = tmp_path / "settings.toml"
    if settings is not None:
        file.write_text(settings)
    code = (
        "import sys\nfrom orroom.desk import Desk\nfrom orroom.record.case_file import CaseFile\n"
        "from orroom.screens.stations import cutting, overview, placing\n"
        "from orroom.screens.settings.clinic import this_clinic\n"
        f"from pathlib import Path\nfile = CaseFile.open(Path({str(case)!r}))\n"
        f"this_clinic({{'ORROOM_SETTINGS': {str(file)!r}}})\n"
        "Desk(file, 'cutting', 'AB').close()\n"
        "loaded = {name.split('.')[0] for name in sys.modules}\n"
        "assert not loaded & {'sqlite_utils', 'numpy', 'pydantic'}, loaded"
    )
    subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, env=dict(os.environ))


def test_a_station_without_settings_loads_nothing_for_what_seldom_happens(case: Path):
    code = (
        "import sys\nfrom orroom.desk import Desk\nfrom orroom.record.case_file import CaseFile\n"
        "from orroom.screens.stations import app, cutting\n"
        "from orroom.screens.terminal import driver\nfrom orroom.screens.settings.clinic import this_clinic\n"
        f"from pathlib import Path\nfile = CaseFile.open(Path({str(case)!r}))\n"
        "this_clinic({'ORROOM_SETTINGS': '/nowhere'})\nDesk(file, 'cutting', 'AB').close()\n"
        "loaded = {name.split('.')[0] for name in sys.modules}\n"
        "assert not loaded & {'pygments', 'attr', 'tomllib', 'pydantic'}, loaded\n"
        "ours = [module for name, module in sys.modules.items() if name.startswith('orroom')]\n"
        "slow = [each for module in ours for each in vars(module).values() if isinstance(each, type)\n"
        "    and each.__module__.startswith('orroom') and hasattr(each, '__dataclass_fields__')]\n"
        "assert not slow, slow"
    )
    subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, env=dict(os.environ))


def test_a_station_loads_no_openssl(case: Path):
    code = (
        "import sys\nfrom contextlib import suppress\nfrom pathlib import Path\n"
        "from orroom.cli.stations import stationed\nfrom orroom.errors import OrroomError\n"
        f"with suppress(OrroomError): stationed(Path({str(case)!r}), 'cutting', 'AB', None)\n"  # no terminal
        "import orroom.screens.stations.app\n"
        "loaded = {name for name, module in sys.modules.items() if module is not None}\n"
        "assert {'hashlib', 'asyncio'} <= loaded\nassert not loaded & {'_hashlib', '_ssl'}, loaded"
    )
    subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, env=dict(os.environ))


def test_the_small_plan_of_the_tests_is_sound():
    from orroom.files.checker import checked
    from orroom.files.plan_rules import RULES

    assert checked(plain_table(small_plan()), Plan, RULES) == (small_plan(), [])


def test_a_plan_is_revised_from_a_file(tmp_path: Path):
    case = tmp_path / "two.orroom"
    assert orroom("new", PLAN, "--case", case, "--who", "NP").exit_code == 0
    plan = tmp_path / "plan.toml"
    plan.write_text(
        PLAN.read_text("utf-8").replace("targets = { 1 = 100 }", "targets = { 1 = 105 }", 1), "utf-8"
    )
    result = orroom("revise", case, plan, "--who", "RS", "--reason", "five more in front")
    assert result.exit_code == 0, result.output
    assert read_case(case).plan.planned() == 405
    assert read_case(case).log[-1].event.kind == "plan_revised"
    again = orroom("revise", case, plan, "--who", "RS", "--reason", "five more in front")
    fails(again, "is the plan in force already", "Nothing was recorded", code=1)
    assert [entry.event.kind for entry in read_case(case).log].count("plan_revised") == 1


def test_signing_off_on_an_open_difference_names_the_options(tmp_path: Path):
    case = new_case(tmp_path / "case.orroom")
    with station(case, "overview", "AB") as desk:
        for who, found in (("AB", 0), ("CD", 1)):
            groups = [
                CountedGroup(size=group.size, harvest=group.harvest, place=group.place, found=found)
                for group in groups_to_count(desk.state)
            ]
            desk.ask(c.CountAll(since=desk.state.seq, groups=tuple(groups)), who).result(10)
    words = ("sign-off", case, "--who", "AB", "--second", "CD")
    fails(orroom(*words, "--informed", "RS"), "size 1 of harvest A", "--open-because", "--informed", code=5)
    assert orroom(*words, "--informed", "RS", "--open-because", "searched twice").exit_code == 0
    assert read_case(case).log[-1].event.confirmed is None


def test_sign_off_lists_what_is_open_and_takes_a_reason_for_each_by_its_key(case: Path):
    with station(case, "placing", "CD") as desk:
        entered(desk, c.PlaceGrafts(zone="LINE", size="2", count=1))
    words = ("sign-off", case, "--who", "AB", "--second", "CD")
    refused = orroom(*words)
    fails(refused, "no-count ", "no final count by two people", "misplaced:LINE:2 ", "hairline: 1", code=5)
    assert not refused.stdout
    one = ("--open", "no-count=the count sheet is on paper", "--open", "no-fate=kept")
    fails(orroom(*words, *one), "--informed", code=2)
    fails(orroom(*words, *one, "--informed", "RS"), "misplaced:LINE:2", "--open", code=5)
    fails(
        orroom(*words, "--open", "over:MID:2=why", "--informed", "RS"),
        "is not open",
        "misplaced:LINE:2",
        code=2,
    )
    assert not read_case(case).tally.signed_off
    done = orroom(*words, *one, "--open", "misplaced:LINE:2 = a gap = closed", "--told", "RS")  # its old name
    assert done.exit_code == 0
    assert "Left open: no-count: no final count by two people." in done.stderr
    assert [(each.key, each.because, each.informed) for each in read_case(case).log[-1].event.left_open] == [
        ("no-count", "the count sheet is on paper", "RS"),
        ("no-fate", "kept", "RS"),
        ("misplaced:LINE:2", "a gap = closed", "RS"),
    ]


def test_sign_out_items_are_told_at_the_command_line_too(case: Path):
    words = ("sign-off", case, "--who", "AB", "--second", "CD", *UNCOUNTED, "--confirmed")
    assert orroom(*words, "luck").exit_code == 2
    assert orroom(*words, "counts", "--confirmed", "specimens").exit_code == 0
    assert read_case(case).log[-1].event.confirmed == ("counts", "specimens")


def test_a_case_is_signed_off_twice_with_a_locked_copy_each_time(case: Path):
    assert orroom("sign-off", case, "--who", "AB", "--second", "CD", *UNCOUNTED).exit_code == 0
    seq = read_case(case).seq
    assert orroom("reopen", case, "--who", "AB", "--reason", "one more").exit_code == 0
    taken = case.with_name(f"{case.stem}.sealed-{seq + 2}.orroom")
    taken.write_bytes(b"something else")
    result = orroom("sign-off", case, "--who", "AB", "--second", "CD", *UNCOUNTED)
    assert result.exit_code == 0, result.output
    assert f"Next: orroom summary {case}" in result.output.replace("\n", " ")
    assert f"sealed-{seq + 2}-2.orroom" in " ".join(result.output.split())
    assert taken.read_bytes() == b"something else"


@pytest.mark.parametrize("option", ["--speed", "--skip"])
def test_a_demo_wants_numbers(option: str):
    assert orroom("demo", option, "nan").exit_code == 2


# What is wrong with a file is said, whatever it is asked for.


@pytest.mark.parametrize("seed", range(24))
def test_one_flipped_bit_ends_in_a_sentence_or_in_what_is_left(tmp_path: Path, seed: int):
    case = tmp_path / "case.orroom"
    assert orroom("import", SAMPLES / "two-lots" / "events.jsonl", case).exit_code == 0
    whole = bytearray(case.read_bytes())
    place = Random(seed).randrange(len(whole))
    whole[place] ^= 1 << Random(seed).randrange(8)
    case.write_bytes(whole)
    for verb in (["summary", case, "--format", "json"], ["export", case, tmp_path / "x.jsonl"]):
        result = orroom(*verb)
        assert result.exception is None or isinstance(result.exception, SystemExit), repr(result.exception)
        assert result.exit_code == 0 or result.stderr.startswith("orroom: ")


def test_entries_of_a_record_that_is_not_intact_are_exported_with_a_warning(case: Path, tmp_path: Path):
    with sqlite3.connect(case) as connection:
        connection.execute("PRAGMA writable_schema = ON")
        name, sql = connection.execute(
            "SELECT name, sql FROM sqlite_schema WHERE type = 'trigger' AND sql LIKE '%BEFORE UPDATE%'"
        ).fetchone()
        connection.execute(f"DROP TRIGGER {name}")
        connection.execute("UPDATE entry SET who = 'ZZ' WHERE seq = 1")
        connection.execute(sql)
    for name in ("x.jsonl", "x.parquet"):
        result = orroom("export", case, tmp_path / name)
        assert result.exit_code == 0
        assert "is NOT INTACT: Entry 1 was changed" in result.stderr


@pytest.mark.parametrize(
    ("name", "begins"), [("x.json", b"{"), ("x.html", b"<!DOCTYPE html>"), ("x.pdf", b"%PDF-"), ("x", b"# ")]
)
def test_a_summary_is_in_the_format_that_its_file_name_ends_in(
    case: Path, tmp_path: Path, name: str, begins: bytes
):
    assert orroom("summary", case, "--output", tmp_path / name).exit_code == 0
    assert (tmp_path / name).read_bytes().lower().startswith(begins.lower())


@pytest.mark.parametrize("installed", [True, False])
def test_a_bundle_that_no_published_model_has_checked_says_so(case: Path, monkeypatch, installed: bool):
    if not installed:
        monkeypatch.setitem(sys.modules, "fhir.resources.R4B.bundle", None)
    result = orroom("summary", case, "--format", "fhir")
    assert result.exit_code == 0
    assert ("Not checked against the published models" in result.stderr) is not installed


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_a_full_disk_behind_standard_output_is_one_sentence(case: Path):
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            [sys.executable, "-m", "orroom", "summary", str(case)],
            stdout=full,
            stderr=subprocess.PIPE,
            check=False,
        )
    assert done.returncode == 1
    assert done.stderr.decode() == "orroom: The output cannot be written: No space left on device.\n"


def test_a_station_that_does_not_open_leaves_collecting_on(tmp_path: Path):
    with pytest.raises(CaseFileError):
        stationed(tmp_path / "none.orroom", "cutting", "AB", None)
    assert gc.isenabled()


def test_no_rescue_file_is_left_empty_where_the_disk_takes_none(
    case: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    home = tmp_path / "home"
    home.mkdir()
    monkeypatch.setattr(Path, "home", lambda: home)
    real, failed = os.fsync, []

    def full(descriptor: int) -> None:
        if not failed:
            failed.append(descriptor)
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        real(descriptor)

    monkeypatch.setattr(os, "fsync", full)
    taps = [(Stamp(MORNING_MS, "cutting-1", 7, "AB"), c.CutGrafts(harvest="A", size="3"))]
    rescue = write_rescue(case, code_of(case), taps)
    assert rescue.parent == home
    assert read_rescue(rescue).taps == taps
    assert list(case.parent.glob("*rescue*")) == []


TOO_LONG = "x" * 300


@pytest.mark.parametrize(
    "words",
    [
        ["archive", "add", "CASE", "--to", TOO_LONG],
        ["archive", "add", "CASE", "--to", "x" * 253],
        ["archive", "report", TOO_LONG],
        ["check", TOO_LONG],
        ["import", TOO_LONG, "new.orroom"],
        ["export", "CASE", TOO_LONG],
        ["export", "CASE", f"{TOO_LONG}.parquet"],
        ["backup", "CASE", TOO_LONG],
        ["new", str(PLAN), "--case", TOO_LONG, "--who", "AB"],
        ["summary", "CASE", "--output", TOO_LONG],
        ["summary", "CASE", "--format", "csv", "--output", TOO_LONG],
        ["summary", "CASE", "--paper", TOO_LONG],
        ["verify", TOO_LONG],
        ["status", f"{TOO_LONG}/{TOO_LONG}"],
        ["machine", TOO_LONG],
        ["keys", "--role", "cutting", "--output", TOO_LONG],
        ["import", "--rescue", TOO_LONG, "CASE"],
    ],
    ids=lambda words: " ".join(words)[:24],
)
def test_a_path_that_is_too_long_is_told_in_a_sentence(case: Path, words: list[str]):
    result = orroom(*(case if each == "CASE" else each for each in words))
    assert result.exception is None or isinstance(result.exception, SystemExit), repr(result.exception)
    assert result.exit_code or words[0] == "machine"


LATIN_SAID = b"uses latin-1, not UTF-8: characters it lacks were replaced"


@pytest.mark.parametrize("words", [["summary"], ["summary", "--format", "md"], ["status"]])
def test_output_that_is_not_utf_8_has_likenesses_and_says_so_once(case: Path, words: list[str]):
    result = CliRunner(charset="latin-1").invoke(main, [words[0], str(case), *words[1:]])
    assert result.exit_code == 0, result.exception
    assert result.stderr_bytes.count(LATIN_SAID) == 1


def test_a_process_whose_output_is_not_utf_8_says_so_once(case: Path):
    latin = {**os.environ, "PYTHONIOENCODING": "latin-1"}
    command = [sys.executable, "-m", "orroom", "summary", str(case)]
    found = subprocess.run(command, env=latin, capture_output=True, check=True)
    assert found.stderr.count(LATIN_SAID) == 1
    assert b"Traceback" not in found.stderr


def test_what_programs_read_is_utf_8_whatever_the_terminal_takes(case: Path):
    forms = ("json", "html")
    code = (
        "from orroom.cli import main\n"
        f"for form in {forms!r}:\n"
        f"    try:\n        main(['summary', {str(case)!r}, '--format', form])\n"
        "    except SystemExit as end:\n        assert not end.code, form"
    )
    latin = {**os.environ, "PYTHONIOENCODING": "latin-1"}
    found = subprocess.run([sys.executable, "-c", code], env=latin, capture_output=True, check=True)
    here = [orroom("summary", case, "--format", form).stdout_bytes for form in forms]
    assert all(here)
    assert found.stdout == b"".join(here)
    assert found.stderr == b""


def test_a_likeness_is_ascii_and_as_wide_as_what_it_stands_for():
    assert len(LIKENESS) > 40
    assert all(chr(likeness).isascii() for likeness in LIKENESS.values())
    assert all(cell_len(chr(character)) == 1 for character in LIKENESS)


def test_a_file_of_the_first_day_says_that_it_is_of_an_earlier_version(tmp_path: Path):
    """Its one table of entries had no hashes."""
    first = tmp_path / "first.orroom"
    connection = sqlite3.connect(first)
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    connection.execute("PRAGMA user_version = 1")
    connection.execute("CREATE TABLE entry (seq INTEGER PRIMARY KEY, at_ms INTEGER, body TEXT)")
    connection.close()
    fails(orroom("verify", first), "was made by an earlier version of orroom", code=3)


needs_strace = pytest.mark.skipif(shutil.which("strace") is None, reason="strace is not installed")


@needs_strace
def test_a_disk_that_cannot_be_read_for_the_moment_is_no_damage(case: Path):
    """Whichever read fails (EIO), the record is sound or cannot be read, never called changed."""
    verified = [sys.executable, "-m", "orroom", "verify", str(case)]
    codes = set()
    for nth in range(1, 16):
        inject = ["-P", str(case), "-e", "trace=pread64", "-e", f"inject=pread64:error=EIO:when={nth}"]
        command = ["strace", "-f", "-o", os.devnull, *inject, *verified]
        found = subprocess.run(command, capture_output=True, text=True, check=False)
        codes.add(found.returncode)
        assert found.returncode in {0, 3}, found.stderr
        assert "Traceback" not in found.stderr
    assert codes == {0, 3}


@pytest.mark.parametrize(
    "verb",
    ["status", "handover", "flow", "replan", "fates", "summary", "verify", ("export", "-")],
    ids=str,
)
def test_a_verb_that_shows_a_case_opens_it_for_reading_only(
    verb: str | tuple[str, str], case: Path, monkeypatch: pytest.MonkeyPatch
):
    opened, usual = [], CaseFile.open

    def noted(path: Path, *, read_only: bool = False, **more: object) -> CaseFile:
        opened.append(read_only)
        return usual(path, read_only=read_only, **more)

    monkeypatch.setattr(CaseFile, "open", noted)
    first, *rest = (verb,) if isinstance(verb, str) else verb
    assert orroom(first, case, *rest).exit_code == 0
    assert False not in opened
    assert opened or first == "verify"
