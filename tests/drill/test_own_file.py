"""The trainee's own file and the verb: what is kept, where, what is deleted, what a power cut leaves."""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from stations import PATIENCE
from trainees import command_of

from orroom.case import commands as c
from orroom.case.plan import Plan
from orroom.cli import main
from orroom.desk import Desk
from orroom.drill.curve import NEWEST, curve_text
from orroom.drill.making import sheet_of
from orroom.drill.own_file import Done, OwnFile, delete_own, own_path, read_own, write_own
from orroom.drill.sheet import Line
from orroom.drill.times import Typical
from orroom.errors import OrroomError
from orroom.figures.shares import Range
from orroom.record.case_file import CaseFile
from orroom.recording import record_once

#: A file as the first version wrote it: it must stay readable.
FORMAT_1 = """{
  "format": 1,
  "drills": [
    {
      "day": "2026-12-01",
      "kind": "cutting",
      "level": 2,
      "seed": 7,
      "asked": 29,
      "as_read": 27,
      "missed": 1,
      "doubled": 0,
      "wrong": 1,
      "set_right": 2,
      "wait": {
        "seconds": 1.5,
        "of": 28,
        "range": {
          "low": 1.25,
          "high": 1.75
        }
      },
      "answer": {
        "seconds": 9.0,
        "of": 1,
        "range": null
      },
      "unanswered": 0,
      "left": null
    }
  ],
  "under_way": {
    "kind": "count",
    "level": 3,
    "seed": 12,
    "case": "/gone/orroom-drill-x/drill.orroom"
  }
}
"""


#: The case of that file.
GONE = "/gone/orroom-drill-x/drill.orroom"


def done(**changes: Any) -> Done:
    parts: dict[str, Any] = {
        "day": "2026-12-01", "kind": "cutting", "level": 1, "seed": 1, "asked": 23, "as_read": 22,
        "missed": 1, "doubled": 0, "wrong": 0, "set_right": 0,
        "wait": Typical(1.5, 22, Range(1.2, 1.9)), "answer": None,
    }  # fmt: skip
    return Done(**(parts | changes))


@pytest.fixture
def drills(settings_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder of the trainees' files; temporary folders are made in a place of their own."""
    temporary = tmp_path / "temporary"
    temporary.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(temporary))
    monkeypatch.setattr("orroom.screens.stations.sitting.in_a_terminal", lambda: True)
    return settings_file.parent / "drills"


def sits(
    monkeypatch: pytest.MonkeyPatch, does: Callable[[Desk], object] = lambda _: None, code: int = 0
) -> list[Desk]:
    """Somebody sits at the station, does that, and leaves with this exit code."""
    sat: list[Desk] = []

    def sit_at(desk: Desk, theme: Any, lesson: Any) -> int:
        sat.append(desk)
        does(desk)
        desk.close()
        return code

    monkeypatch.setattr("orroom.screens.stations.sitting.sit_at", sit_at)
    return sat


def lines_entered(desk: Desk, lines: tuple[Line, ...]) -> None:
    for line in lines:
        if line.struck is None:
            for item in line.asks:
                desk.ask(command_of(item)).result(PATIENCE)


def drill(*words: str) -> Result:
    return CliRunner().invoke(main, ["drill", *words])


def test_a_file_of_the_first_format_is_read_and_written_as_it_was(tmp_path: Path):
    path = tmp_path / "AB.json"
    path.write_text(FORMAT_1)
    own = read_own(path)
    assert own.drills == (
        done(level=2, seed=7, asked=29, as_read=27, wrong=1, set_right=2,
             wait=Typical(1.5, 28, Range(1.25, 1.75)), answer=Typical(9.0, 1)),
    )  # fmt: skip
    assert own.under_way is not None
    write_own(path, own)
    assert path.read_text() == FORMAT_1


def test_a_field_of_a_later_version_is_let_be(tmp_path: Path):
    path = tmp_path / "AB.json"
    path.write_text(FORMAT_1.replace('"seed": 7,', '"seed": 7, "mood": "good",'))
    assert read_own(path).drills[0].seed == 7


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("{", "truncated"),
        ("not a file", "malformed"),
        ('{"drills": []}', "missing required field `format`"),
        ('{"format": 0}', "$.format"),
        (FORMAT_1.replace('"as_read": 27', '"as_read": "many"'), "$.drills[0].as_read"),
        (FORMAT_1.replace('"level": 2', '"level": 9'), "$.drills[0].level"),
        (FORMAT_1.replace('"kind": "cutting"', '"kind": "knitting"'), "$.drills[0].kind"),
        (FORMAT_1.replace("2026-12-01", "yesterday"), "$.drills[0].day"),
    ],
)
def test_a_file_that_is_not_right_is_said_and_left(text: str, says: str, drills: Path, monkeypatch: Any):
    sat = sits(monkeypatch)
    drills.mkdir()
    path = drills / "AB.json"
    path.write_text(text)
    for words in (("cutting", "--seed", "7"), ("--show",), ("--resume",), ("--forget",)):
        found = drill(*words, "--who", "AB")
        assert found.exit_code == 1
        assert str(path) in found.stderr
        assert says in found.stderr
        assert "It was left as it is. Mend that, or move it away" in found.stderr
    assert path.read_text() == text
    assert sat == []


def test_a_file_of_a_newer_version_is_not_touched(drills: Path, monkeypatch: pytest.MonkeyPatch):
    sits(monkeypatch)
    drills.mkdir()
    (drills / "AB.json").write_text('{"format": 2, "laps": []}')
    found = drill("cutting", "--who", "AB")
    assert found.exit_code == 1
    assert "has format 2; this version of orroom knows 1" in found.stderr
    assert (drills / "AB.json").read_text() == '{"format": 2, "laps": []}'


def test_only_the_trainee_may_read_it_and_nothing_else_has_the_name(
    drills: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    logs = tmp_path / "logs"
    monkeypatch.setenv("ORROOM_LOGS", str(logs))
    sheet = sheet_of("cutting", 1, 7)
    sits(monkeypatch, lambda desk: lines_entered(desk, sheet.lines))
    assert drill("cutting", "--seed", "7", "--who", "ZQX").exit_code == 0
    path = drills / "ZQX.json"
    assert path.stat().st_mode & 0o777 == 0o600
    assert drills.stat().st_mode & 0o777 == 0o700
    files = [each for each in tmp_path.rglob("*") if each.is_file()] + [path]
    named = [each for each in files if "ZQX" in each.name or b"ZQX" in each.read_bytes()]
    assert named == [path]
    assert b"ZQX" not in path.read_bytes()


def test_a_drill_is_scored_kept_and_its_case_deleted(
    drills: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    sheet = sheet_of("cutting", 1, 7)
    folders: list[Path] = []

    def enters(desk: Desk) -> None:
        folders.append(desk.path.parent)
        assert desk.state.plan.case == "DRILL"
        under_way = read_own(drills / "AB.json").under_way
        assert under_way is not None
        assert under_way.case == str(desk.path)
        lines_entered(desk, sheet.lines)

    sits(monkeypatch, enters)
    found = drill("cutting", "--seed", "7", "--who", "ab")
    assert found.exit_code == 0, found.output
    assert "It is printed by:\norroom drill cutting --level 1 --seed 7 --sheet\n" in found.output
    assert "Drill cutting, level 1, sheet 7: 23 of 23 entered as read." in found.output
    assert f"Kept in {drills / 'AB.json'}" in found.output
    assert folders[0].parent == tmp_path / "temporary"
    assert not folders[0].exists()
    own = read_own(drills / "AB.json")
    assert own.under_way is None
    (kept,) = own.drills
    assert (kept.kind, kept.level, kept.seed, kept.asked, kept.as_read) == ("cutting", 1, 7, 23, 23)


def test_a_drill_that_goes_on_elsewhere_is_neither_taken_for_cut_off_nor_gone_on_with(
    drills: Path, monkeypatch: pytest.MonkeyPatch
):
    sheet = sheet_of("cutting", 1, 7)

    def enters(desk: Desk) -> None:
        for again in (("cutting", "--seed", "8"), ("--resume",)):
            refused = drill(*again, "--who", "AB")
            assert refused.exit_code != 0
            assert "is going on at another terminal. End it there first, with F10." in refused.output
        lines_entered(desk, sheet.lines)

    sits(monkeypatch, enters)
    found = drill("cutting", "--seed", "7", "--who", "AB")
    assert "23 of 23 entered as read" in found.output
    assert [each.seed for each in read_own(drills / "AB.json").drills] == [7]


def test_without_a_number_it_is_the_next_sheet_of_the_level(drills: Path, monkeypatch: pytest.MonkeyPatch):
    sits(monkeypatch)
    write_own(drills / "AB.json", OwnFile(drills=(done(seed=1), done(seed=2, level=2), done(seed=3))))
    assert "level 1 · sheet 2" in drill("cutting", "--who", "AB", "--sheet").output
    assert "level 2 · sheet 1" in drill("cutting", "--level", "2", "--who", "AB", "--sheet").output
    assert "placing · level 1 · sheet 1" in drill("placing", "--sheet").output


def test_a_sheet_is_written_to_a_file(drills: Path, tmp_path: Path):
    page = tmp_path / "sheet.txt"
    words = ("count", "--level", "3", "--seed", "12", "--sheet")
    assert drill(*words, "--output", str(page)).exit_code == 0
    assert page.read_text() == drill(*words).output
    assert drill(*words, "--output", str(page)).exit_code == 1
    assert drill(*words, "--output", str(page), "--replace").exit_code == 0


def cut_off(drills: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A cutting drill whose station was ended by a signal after nine lines; where its case is."""
    sheet = sheet_of("cutting", 1, 7)
    sat = sits(monkeypatch, lambda desk: lines_entered(desk, sheet.lines[:9]), code=143)
    found = drill("cutting", "--seed", "7", "--who", "AB")
    assert found.exit_code == 143
    assert "The drill was cut off: orroom drill --who AB --resume goes on." in found.output
    return sat[0].path


def test_a_drill_that_was_cut_off_goes_on_where_it_was(drills: Path, monkeypatch: pytest.MonkeyPatch):
    case = cut_off(drills, monkeypatch)
    sheet = sheet_of("cutting", 1, 7)
    sits(monkeypatch, lambda desk: lines_entered(desk, sheet.lines[9:]))
    found = drill("--resume", "--who", "AB")
    assert found.exit_code == 0, found.output
    assert "23 of 23 entered as read" in found.output
    assert not case.exists()
    assert len(read_own(drills / "AB.json").drills) == 1
    again = drill("--resume", "--who", "AB")
    assert again.exit_code == 1
    assert "No drill of AB was cut off" in again.stderr


def test_a_drill_that_was_cut_off_is_kept_as_far_as_it_went_once_another_begins(
    drills: Path, monkeypatch: pytest.MonkeyPatch
):
    case = cut_off(drills, monkeypatch)
    sits(monkeypatch)
    found = drill("cutting", "--seed", "8", "--who", "AB")
    assert "The drill cutting 1, sheet 7, was cut off after line 9: kept as far as it went." in found.output
    assert not case.exists()
    first, second = read_own(drills / "AB.json").drills
    assert (first.seed, first.left, second.seed, second.left) == (7, 9, 8, 0)


def test_a_drill_goes_on_after_the_program_died(drills: Path, monkeypatch: pytest.MonkeyPatch):
    """Power fails, or the program is killed: nothing after the last entry is done any more."""
    sheet = sheet_of("cutting", 1, 7)

    def dies(desk: Desk) -> None:
        lines_entered(desk, sheet.lines[:9])
        raise RuntimeError("power")

    sits(monkeypatch, dies)
    assert drill("cutting", "--seed", "7", "--who", "AB").exit_code == 1
    assert read_own(drills / "AB.json").drills == ()
    sits(monkeypatch, lambda desk: lines_entered(desk, sheet.lines[9:]))
    assert "23 of 23 entered as read" in drill("--resume", "--who", "AB").output


def test_a_drill_whose_case_is_gone_has_no_score(drills: Path, monkeypatch: pytest.MonkeyPatch):
    case = cut_off(drills, monkeypatch)
    case.unlink()
    found = drill("--resume", "--who", "AB")
    assert found.exit_code == 1
    assert f"{case}, is gone" in found.stderr
    assert "orroom drill cutting --level 1 --seed 7" in found.stderr
    sits(monkeypatch)
    assert "its case is gone: it has no score" in drill("cutting", "--seed", "8", "--who", "AB").output
    assert [each.seed for each in read_own(drills / "AB.json").drills] == [8]


def test_a_real_case_is_never_a_drills(
    drills: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, small_case_plan: Plan
):
    """Whatever a file says: neither opened as a drill nor deleted."""
    sat = sits(monkeypatch)
    folder = tmp_path / "orroom-drill-real"
    folder.mkdir()
    cases = (folder / "drill.orroom", tmp_path / "real.orroom")
    for case in cases:
        with CaseFile.create(case) as case_file:
            record_once(case_file, c.OpenCase(plan=small_case_plan), "EF")
        text = FORMAT_1.replace(GONE, str(case))
        drills.mkdir(exist_ok=True)
        (drills / "AB.json").write_text(text)
        assert drill("--resume", "--who", "AB").exit_code == 1
        assert sat == []
        assert drill("cutting", "--seed", "8", "--who", "AB").exit_code == 0
        assert case.exists()
        sat.clear()


@pytest.fixture
def small_case_plan() -> Plan:
    from cases import small_plan

    return small_plan()


def test_a_score_that_cannot_be_kept_is_shown_all_the_same(drills: Path, monkeypatch: pytest.MonkeyPatch):
    sheet = sheet_of("cutting", 1, 7)

    def enters(desk: Desk) -> None:
        lines_entered(desk, sheet.lines)
        (drills / "AB.json").write_text("{")

    sits(monkeypatch, enters)
    found = drill("cutting", "--seed", "7", "--who", "AB")
    assert found.exit_code == 1
    assert "23 of 23 entered as read" in found.stderr
    assert "This score was not kept." in found.stderr
    assert (drills / "AB.json").read_text() == "{"


def test_everything_is_deleted_when_it_is_asked(drills: Path):
    write_own(drills / "AB.json", OwnFile(drills=(done(), done(seed=2))))
    assert (
        drill("--show", "--who", "AB")
        .output.rstrip()
        .endswith("To delete it: orroom drill --who AB --forget")
    )
    found = drill("--forget", "--who", "AB")
    assert found.output == f"{drills / 'AB.json'} is deleted, with 2 drills.\n"
    assert list(drills.iterdir()) == []
    again = drill("--forget", "--who", "AB")
    assert again.exit_code == 1
    assert "does not exist" in again.stderr


def test_a_file_of_ones_own_elsewhere(drills: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    sits(monkeypatch)
    mine = tmp_path / "stick" / "mine.json"
    assert drill("cutting", "--who", "AB", "--file", str(mine)).exit_code == 0
    assert not drills.exists()
    assert len(read_own(mine).drills) == 1
    assert delete_own(mine) == 1


@pytest.mark.skipif(os.geteuid() == 0, reason="root writes everywhere")
def test_a_folder_that_cannot_be_written_is_said(drills: Path):
    drills.mkdir(mode=0o500)
    with pytest.raises(OrroomError, match="was not written: Permission denied"):
        write_own(drills / "AB.json", OwnFile())


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ((), "Which drill? cutting, placing, count"),
        (("knitting",), "is not one of 'cutting', 'placing', 'count'"),
        (("cutting", "--level", "4", "--who", "AB"), "4 is not in the range 1<=x<=3"),
        (("cutting", "--seed", "0", "--who", "AB"), "0 is not in the range 1<=x<=9999"),
        (("cutting",), "Give --who and initials"),
        (("--show",), "Give --who and initials"),
        (("cutting", "--who", "../AB"), "is not a person's initials"),
        (("--show", "--forget", "--who", "AB"), "Only one of"),
        (("cutting", "--who", "AB", "--output", "x"), "--output goes with --sheet"),
        (("--sheet",), "Which drill?"),
    ],
)
def test_what_is_asked_wrongly_is_said(words: tuple[str, ...], says: str, drills: Path):
    found = drill(*words)
    assert found.exit_code == 2
    assert says in found.stderr
    assert not drills.exists()


def test_a_drill_needs_a_terminal(drills: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("orroom.screens.stations.sitting.in_a_terminal", lambda: False)
    found = drill("cutting", "--who", "AB")
    assert found.exit_code == 1
    assert "needs a terminal" in found.stderr
    assert not drills.exists()


def test_it_is_next_to_the_settings_under_the_initials():
    assert own_path("AB", {"ORROOM_SETTINGS": "/home/ab/settings.toml"}) == Path("/home/ab/drills/AB.json")


def test_what_is_written_is_plain_json(drills: Path):
    write_own(drills / "AB.json", OwnFile(drills=(done(),)))
    assert json.loads((drills / "AB.json").read_text())["drills"][0]["as_read"] == 22


# The curve.


def rows_of(text: str) -> list[str]:
    return [line for line in text.splitlines() if "2026-" in line]


def test_the_curve_has_a_row_a_drill_with_its_range():
    text = curve_text("AB", [done(), done(day="2026-12-02", seed=2, as_read=23, answer=Typical(8.04, 2))])
    one, other = rows_of(text)
    assert one.split()[:5] == ["2026-12-01", "1", "1", "96", "%"]
    # 22 of 23: 79.0 to 99.2 % (E. B. Wilson, J Am Stat Assoc 1927;22:209; worked by hand from its formula)
    assert "79–99 %" in one
    assert "●" in one
    assert one.index("●") < other.index("●")
    assert other.rstrip().endswith("8.0 s")
    assert "2 drills" in text


def test_the_curve_says_where_a_drill_was_left_and_what_was_not_answered():
    text = curve_text(
        "AB", [done(left=9, asked=8, as_read=8), done(unanswered=1), done(as_read=5), done(asked=0)]
    )
    first, second, third, fourth = rows_of(text)
    assert "left 9" in first
    assert "missed" in second
    assert "◂" in third
    assert "—" in fourth


def test_the_newest_are_compared_with_those_before_of_the_same_level():
    before = [done(as_read=15) for _ in range(4)]
    alike = curve_text("AB", [*before, *[done(as_read=16) for _ in range(NEWEST)]])
    assert "Level 1: 70 % as read in the newest 3" in alike
    assert "65 % in 4 before" in alike
    assert "chance alone may do that" in alike
    better = curve_text("AB", [*before, *[done(as_read=23) for _ in range(NEWEST)]])
    assert "more than chance" in better
    other = curve_text("AB", [*before, done(level=2)])
    assert "From 4 whole drills of a level on" in other
    left = curve_text("AB", [*before[:3], done(left=4)])
    assert "From 4 whole drills of a level on" in left


@pytest.mark.parametrize("width", [77, 37])
def test_a_curve_of_many_drills_fits_a_terminal(width: int):
    many = [
        done(kind=kind, day=f"2026-11-{number % 28 + 1:02}", seed=number + 1, level=number % 3 + 1, left=None)
        for kind in ("cutting", "placing", "count")
        for number in range(60)
    ]
    for kind in (None, "cutting"):
        text = curve_text("AB", many, kind, width)  # type: ignore[arg-type]
        assert max(map(len, text.splitlines())) <= width
        assert "cutting: 60 drills" in text
        if width == 77:
            assert len(text.splitlines()) <= 21  # below it, where it is kept
    alone = rows_of(curve_text("AB", many, "cutting", width))
    assert len(alone) == 16
    assert "60" in alone[-1]


def test_without_a_drill_the_curve_says_how_to_begin():
    assert curve_text("AB", []) == "AB: no drills yet. orroom drill cutting --who AB begins one."
    assert "orroom drill placing --who AB" in curve_text("AB", [done()], "placing")
