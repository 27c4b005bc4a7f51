"""Practice: a lesson for each work, step by step, at the station of a case that is deleted afterwards."""

from __future__ import annotations

import tempfile
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from cases import Record, SetClock
from click.testing import CliRunner
from seats import Seat, at
from stations import read_case

from orroom.case import commands as c
from orroom.case.evolve import fold
from orroom.case.parts import plain_table
from orroom.case.plan import Plan
from orroom.case.state import CaseState
from orroom.cli import main
from orroom.demo.lessons import CUTTING, FIRST_WETTING_SECONDS, LESSONS, NAMES, THERE, LessonName
from orroom.demo.practice import counted_words, lesson_line, progress, start_practice
from orroom.desk import Desk
from orroom.figures.prompts import prompts
from orroom.files.checker import checked
from orroom.files.plan_rules import RULES
from orroom.record.case_clock import case_clock
from orroom.record.verify import verify
from orroom.screens.stations.app import OrroomApp
from orroom.screens.stations.shared import Lesson
from orroom.screens.stations.views.cutting import cutting_lines
from orroom.screens.stations.views.frame import Glance
from orroom.screens.terminal.keys import Keys
from orroom.screens.terminal.painting import text_of

KEYS = Keys.standard()
#: What does each of the eleven steps.
DOING: tuple[c.Command, ...] = (
    c.CutGrafts(harvest="A", size="2"),
    c.CutGrafts(harvest="A", size="1"),
    c.CutGrafts(harvest="A", size="3"),
    c.CutGrafts(harvest="A", size="M"),
    c.CutGrafts(harvest="A", size="3"),
    c.TakeBack(role="cutting"),
    c.CutGrafts(harvest="A", size="2", count=6),
    c.DiscardGrafts(size="2", reason="transected", harvest="A"),
    c.DivideGrafts(size="3", into=("2", "1")),
    c.GiveCare(care="wet"),
    c.FinishSegment(harvest="A"),
)


@pytest.fixture
def practice(tmp_path: Path) -> Record:
    """A record of a practice case at which YO has just sat down."""
    with start_practice(tmp_path / "practice.orroom", CUTTING) as case_file:
        state = fold(case_file.entries_after(0))
        record = Record(state, case_clock(case_file).now_ms())
    record.enter(c.JoinStation(role="cutting"), "YO")
    return record


def line(state: CaseState) -> str:
    return lesson_line(CUTTING, state, lambda action: KEYS.shown("cutting", action))


def done(record: Record) -> int:
    return line(record.state).count("●")


def test_the_practice_plan_is_as_sound_as_any_other():
    for lesson in LESSONS.values():
        assert checked(plain_table(lesson.plan), Plan, RULES) == (lesson.plan, [])


def test_eleven_steps_each_ticked_when_it_is_done(practice: Record):
    assert len(DOING) == len(CUTTING.steps) == 11
    for number, command in enumerate(DOING):
        assert done(practice) == number
        practice.enter(command, "YO")
    assert done(practice) == 11
    assert "all done. F10, then y leaves" in line(practice.state)
    practice.enter(c.CutGrafts(harvest="A", size="1"), "YO")
    assert done(practice) == 11


def test_each_step_names_the_keys_that_do_it(practice: Record):
    found = []
    for command in DOING:
        found.append(line(practice.state).removeprefix("Practice ").lstrip("●○ "))
        practice.enter(command, "YO")
    assert [each.split(":")[0] for each in found[:4]] == ["Tap 2", "Tap 1", "Tap 3", "Tap 5"]
    for number, words in enumerate(
        (
            "tap 3",
            "undo it: u",
            "+, 6, Enter, then 2",
            "x, then why, then its size",
            "d, then 3, then 2 and 1",
            "Space",
            "g.",
        ),
        4,
    ):
        assert words.lower() in found[number].lower()
    assert not any("{" in each or "}" in each for each in found)


def test_no_step_says_now_twice_after_another_tap(practice: Record):
    for command in DOING:
        practice.enter(c.AddNote(text="hello"), "YO")
        assert "Now " in line(practice.state)
        assert "now now" not in line(practice.state).lower()
        practice.enter(command, "YO")


def test_keys_that_a_clinic_has_bound_are_the_ones_told(practice: Record):
    assert "Tap cut('2')!" in lesson_line(CUTTING, practice.state, lambda action: f"{action}!")


def test_another_tap_is_told_kindly_and_changes_no_step(practice: Record):
    practice.enter(c.CutGrafts(harvest="A", size="3"), "YO")
    found = line(practice.state)
    assert done(practice) == 0
    assert "That was one of 3 hairs: it counts too (u undoes it). Now tap 2" in found
    practice.enter(c.TakeBack(role="cutting"), "YO")
    assert "That undid one: fine. Now tap 2" in line(practice.state)
    practice.enter(c.AddNote(text="hello"), "YO")
    assert "does no harm" in line(practice.state)
    practice.enter(c.CutGrafts(harvest="A", size="2"), "YO")
    assert line(practice.state).endswith("Tap 1: a graft of one hair. One tap is one graft.")


def test_the_dishes_wetted_before_their_turn_count_when_it_comes(practice: Record):
    practice.enter(c.GiveCare(care="wet"), "YO")
    assert done(practice) == 0
    assert "harm" not in line(practice.state)
    for command in DOING[:9]:
        practice.enter(command, "YO")
    assert done(practice) == 10
    assert line(practice.state).endswith("is done: g.")


def test_nothing_entered_is_no_step_done():
    assert progress(CUTTING, ()).done == 0
    assert progress(CUTTING, ()).stray is None


def test_the_first_wetting_comes_due_while_one_practises(practice: Record):
    (wet,) = prompts(practice.state, practice.now_ms)
    assert wet.status == "waiting"
    assert 0 < wet.due_at_ms - practice.now_ms <= FIRST_WETTING_SECONDS * 1000


def test_what_was_counted_is_told_at_the_end(practice: Record):
    for command in DOING:
        practice.enter(command, "YO")
    found = counted_words(CUTTING, practice.state)
    assert found == (
        "Practice: 11 of 11 steps. Counted: 11 grafts (1 of 1 hair, 8 of 2 hairs, 1 of 3 hairs, 1 of multi), "
        "1 of them spoilt; 1 tap undone. The practice case is deleted."
    )
    assert "Counted: 0 grafts, 0 of them spoilt" in counted_words(
        CUTTING, CaseState(tally=practice.tally.__class__(plan=CUTTING.plan))
    )


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (40, 12), (30, 10)])
def test_the_lesson_stands_above_the_tiles_whole(practice: Record, size: tuple[int, int]):
    for command in (c.CutGrafts(harvest="A", size="3"), *DOING):
        lesson = line(practice.state)
        glance = Glance(role="cutting", who="YO", width=size[0], height=size[1], lesson=lesson)
        lines = [text_of(each) for each in cutting_lines(practice.state, practice.now_ms, glance)]
        assert len(lines) == size[1]
        assert lesson in " ".join(" ".join(lines).split())
        practice.enter(command, "YO")


def test_the_practice_case_is_sound(tmp_path: Path):
    path = tmp_path / "practice.orroom"
    start_practice(path, CUTTING).close()
    assert verify(path).intact
    assert read_case(path).seq == 2


async def test_the_eleven_steps_by_keys_on_the_real_screen(tmp_path: Path):
    case_file = start_practice(tmp_path / "practice.orroom", CUTTING)
    clock = SetClock(case_clock(case_file).now_ms())
    desk = Desk(case_file, "cutting", "YO", clock)
    app = OrroomApp(desk, lesson=Lesson(partial(lesson_line, CUTTING), "End practice? This case is deleted."))
    try:
        async with app.run_test(size=(80, 24)) as pilot:
            seat = Seat(app, pilot, clock)
            await seat.settle()
            assert "Practice ○○○○○○○○○○○ Tap 2" in seat.text
            await seat.press("2", "1", "3", "5", "3")
            await seat.rest()
            await seat.press("u")
            await seat.rest()
            await seat.press("plus", "6", "enter", "2")
            await seat.rest()
            await seat.press("x", "1")
            await seat.press("2")
            await seat.rest()
            await seat.press("d", "3", "2", "1")
            await seat.rest()
            assert "Practice ●●●●●●●●●○○ Wet" in seat.text
            clock.at_ms += FIRST_WETTING_SECONDS * 1000 + 1000
            app.repaint()
            await seat.press("space", "g")
            assert "Practice ●●●●●●●●●●● all done" in seat.text
            await seat.press("f10")
            assert "End practice? This case is deleted." in seat.text
            await seat.press("ctrl+q")
            await seat.press("n")
            assert "End practising?" not in seat.text
    finally:
        desk.close()


def test_practice_tells_what_was_counted_and_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    folders: list[Path] = []

    def sat(desk: Desk, theme: Any, lesson: Any) -> int:
        folders.append(desk._file.path.parent)
        assert lesson.says(desk.state, lambda _: "F9").startswith("Practice ○")
        assert desk.role == "cutting"
        desk.ask(c.CutGrafts(harvest="A", size="2")).result(10)
        desk.close()
        return 0

    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    monkeypatch.setattr("orroom.screens.stations.sitting.in_a_terminal", lambda: True)
    monkeypatch.setattr("orroom.screens.stations.sitting.sit_at", sat)
    result = CliRunner().invoke(main, ["practice", "--who", "XY"])
    assert result.exit_code == 0
    assert "Counted: 1 graft (1 of 2 hairs)" in result.output
    assert "is deleted" in result.output
    assert folders[0].parent == tmp_path
    assert not folders[0].exists()
    assert list(tmp_path.iterdir()) == []


# Placing with lanes, and the final count.


@asynccontextmanager
async def practising(folder: Path, name: LessonName, size: tuple[int, int] = (80, 24)) -> AsyncIterator[Seat]:
    """Somebody who has just sat down to a lesson."""
    lesson = LESSONS[name]
    case_file = start_practice(folder / "practice.orroom", lesson)
    clock = SetClock(case_clock(case_file).now_ms())
    desk = Desk(case_file, lesson.role, "YO", clock)
    app = OrroomApp(desk, lesson=Lesson(partial(lesson_line, lesson), "End practice?"))
    async with at(app, clock, size) as seat:
        yield seat


def steps_done(seat: Seat, name: LessonName) -> int:
    return lesson_line(LESSONS[name], seat.desk.state, lambda action: action).count("●")


async def keys(seat: Seat, *pressed: str) -> None:
    """Press keys, and wait so long after each that it may answer what the one before has asked."""
    for each in pressed:
        await seat.rest()
        await seat.press(each)


async def test_the_steps_of_placing_by_keys(tmp_path: Path):
    async with practising(tmp_path, "placing") as seat:
        ways = (
            ("w", "5", "1"),
            ("right", "1", "0", "i"),
            ("4", "enter"),
            ("w", "5", "1"),
            ("d", "3", "full_stop", "1"),
            ("a", "asterisk", "2", "2", "full_stop", "2"),
            ("m", "1", "1"),
            ("x", "5"),
            ("2", "r"),
        )
        for number, way in enumerate(ways):
            assert steps_done(seat, "placing") == number, seat.text
            await keys(seat, *way)
        assert "Wet GH's grafts: Space" in " ".join(seat.text.split())
        seat.clock.at_ms += FIRST_WETTING_SECONDS * 1000 + 1000
        seat.app.repaint()
        await keys(seat, "space")
        assert steps_done(seat, "placing") == 10
        await keys(seat, "5", "enter")
        await keys(seat, "u")
        assert steps_done(seat, "placing") == len(LESSONS["placing"].steps) == 12
        assert "all done. F10, then y leaves" in " ".join(seat.text.split())
        assert (
            counted_words(LESSONS["placing"], seat.desk.state)
            == "Practice: 12 of 12 steps. The practice case is deleted."
        )


async def test_a_batch_that_was_not_asked_for_is_named_and_does_no_step(tmp_path: Path):
    async with practising(tmp_path, "placing") as seat:
        await keys(seat, "4", "full_stop", "2")
        assert "That was" in seat.text
        assert "it counts too (u undoes it). Now open a lane: w" in " ".join(seat.text.split())
        assert steps_done(seat, "placing") == 0


async def one_counts(seat: Seat, who: str, *found: int) -> None:
    await keys(seat, "k", who)
    for each in found:
        await seat.type(str(each))
        await seat.press("enter")
    await keys(seat, "z", "y", "enter", "y")


async def test_the_steps_of_the_final_count_by_keys(tmp_path: Path):
    async with practising(tmp_path, "count") as seat:
        await keys(seat, "k", "1")
        assert steps_done(seat, "count") == 1
        assert "in the dishes are 6, 8, 4" in " ".join(seat.text.split()).lower()
        for each in THERE.values():
            await seat.type(str(each))
            await seat.press("enter")
        await keys(seat, "z", "y", "enter", "y")
        assert steps_done(seat, "count") == 2
        await one_counts(seat, "1", *THERE.values())
        assert steps_done(seat, "count") == 4
        await keys(seat, "a", "1")
        await seat.rest()
        await seat.type("lost")
        await keys(seat, "enter")
        assert steps_done(seat, "count") == 5
        assert seat.desk.state.tally.held("dish") == sum(THERE.values())
        await keys(seat, "g", "1", "y")
        assert steps_done(seat, "count") == 6
        await keys(seat, "o")
        for _ in range(20):
            if seat.screen.question is None:
                break
            ask = str(getattr(seat.screen.question.step, "ask", ""))
            await keys(seat, "1" if "igned by" in ask or "second person" in ask else "y")
        assert seat.desk.state.tally.signed_off, seat.text
        assert steps_done(seat, "count") == len(LESSONS["count"].steps) == 7
        assert "all done" in " ".join(seat.text.split())


async def test_a_count_of_other_numbers_does_no_step_and_says_how_to_go_on(tmp_path: Path):
    async with practising(tmp_path, "count") as seat:
        await one_counts(seat, "1", 6, 8, 5)
        assert steps_done(seat, "count") == 1
        assert "Other numbers were counted: k, then e stops that count" in " ".join(seat.text.split())
        await keys(seat, "k", "e")
        await one_counts(seat, "1", *THERE.values())
        assert steps_done(seat, "count") == 2


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (40, 12)])
@pytest.mark.parametrize("name", NAMES)
async def test_every_lesson_fits_above_its_screen(name: LessonName, size: tuple[int, int], tmp_path: Path):
    async with practising(tmp_path, name, size) as seat:
        said = lesson_line(LESSONS[name], seat.desk.state, partial(KEYS.shown, LESSONS[name].role))
        assert said in " ".join(seat.text.split())
        assert len(seat.text.split("\n")) == size[1]
        assert "F1" in seat.text
        if name == "count":
            await keys(seat, "k", "1")
            assert "6, 8, 4" in " ".join(seat.text.split())
            assert "▌" in seat.text


def test_each_lesson_names_keys_that_its_station_has():
    for name, lesson in LESSONS.items():
        for number, step in enumerate(lesson.steps):
            for action in [part.partition("}")[0] for part in step.says.split("{")[1:]]:
                assert KEYS.shown(lesson.role, action), (name, number, action)
