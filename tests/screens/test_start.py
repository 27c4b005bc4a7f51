"""The start screen: what lies in the folders, what it says and asks, days by keys and by mouse alone."""

from __future__ import annotations

import asyncio
import os
import shutil
import signal
import time
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from cases import MINUTE_MS, MORNING_MS, Record, case_under_way, small_plan
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec import structs
from rich.cells import cell_len
from seats import harvested
from start_menus import NOW_MS, UNREADABLE, a_case, menus_of, press, shown
from stations import PATIENCE, entered, new_case, read_case, station
from terminals import Terminal
from textual import events
from textual.pilot import Pilot

from orroom.case import commands as c
from orroom.case.closing import open_at_sign_off
from orroom.case.events import CountedGroup, LeftOpen
from orroom.case.final_count import groups_to_count
from orroom.case.plan import Person
from orroom.case.terms import CAUTIONS, SIGN_OUT, Role
from orroom.cli import main, reports, training
from orroom.cli import plan as plans
from orroom.cli import start as starting
from orroom.cli import stations as live
from orroom.cli.start_inside import attempted
from orroom.demo.recorded import entries_of
from orroom.demo.start import demo_plan
from orroom.demo.workday import workday
from orroom.errors import CaseFileError, OrroomError
from orroom.figures.counts import by_size
from orroom.formats.blocks import Paragraph
from orroom.record.case_file import CaseFile
from orroom.record.cases import OpenStation, Standing, found_cases, found_plans
from orroom.record.copies import backup, locked_copy
from orroom.recording import record_all, record_once
from orroom.screens.start.case_menus import sign_off
from orroom.screens.start.chosen import Chosen, Found
from orroom.screens.start.lines import Menu, Text, text_rows
from orroom.screens.start.open_menus import OpenMenus, Result
from orroom.screens.start.screen import start_app
from orroom.screens.terminal.board_app import BoardApp
from orroom.screens.terminal.hands import DOUBLE_CLICK, SAME_ANSWER

SAMPLES = Path(__file__).parents[2] / "sample_cases"
SIZES = [(80, 24), (120, 40), (40, 12)]


# What lies in the folders.


def standing_of(path: Path) -> Standing:
    (found,) = [each for each in found_cases([path.parent]) if each.path.name == path.name]
    assert found.standing is not None, found.problem
    return found.standing


def usable(path: Path) -> tuple[int, int]:
    counts = by_size(read_case(path)).values()
    return sum(each.usable for each in counts), sum(each.placed for each in counts)


def test_counts_told_by_sql_are_those_of_the_fold(tmp_path: Path):
    plan = demo_plan()
    turns = list(workday(plan, 417))
    for gone in (0, 40, 700, len(turns)):
        path = tmp_path / f"day-{gone}.orroom"
        entries = entries_of(plan, turns[:gone], MORNING_MS, 60)
        with CaseFile.create(path) as case_file:
            record_all(case_file, entries, "day")
        standing, state = standing_of(path), read_case(path)
        assert (standing.usable, standing.placed) == usable(path)
        assert standing.entries == len(entries)
        assert standing.last_at_ms == entries[-1].stamp.at_ms
        assert standing.plan == state.plan
        assert {each.station: each.role for each in standing.stations} == state.tally.stations
        assert standing.utc_offset_minutes == 60


def test_all_that_moves_grafts_is_in_the_counts_told_by_sql(tmp_path: Path):
    path = new_case(tmp_path / "case.orroom")
    with station(path, who="EF") as desk:
        for command in (
            c.StartHarvest(harvest="A", minutes_ago=30),
            c.CutGrafts(harvest="A", size="3", count=20),
            c.CutGrafts(harvest="A", size="2", count=20),
            c.DiscardGrafts(size="2", reason="transected", harvest="A"),
            c.DiscardGrafts(size="2", reason="dried", count=2),
            c.DivideGrafts(size="3", into=("2", "1"), count=3),
            c.CountDish(size="2", harvest="A", place="dish", found=19),
            c.PlaceGrafts(zone="FRONT", size="2", count=5),
            c.PlaceGrafts(zone="FRONT", size="3", count=4),
        ):
            entered(desk, command)
        entered(desk, c.TakeBack(role="placing"))
        standing = standing_of(path)
        assert standing.stations == (OpenStation("cutting-1", "cutting", "EF"),)
    assert (standing.usable, standing.placed) == usable(path) == (39, 5)
    assert standing_of(path).stations == ()


def test_who_counts_or_signs_at_a_station_does_not_sit_there(tmp_path: Path):
    path = new_case(tmp_path / "case.orroom")
    with station(path, "overview", who="OR") as desk:
        state = read_case(path)
        groups = tuple(
            CountedGroup(size=group.size, harvest=group.harvest, place=group.place, found=0)
            for group in groups_to_count(state)
        )
        desk.ask(c.CountAll(groups=groups, since=read_case(path).seq), "AB").result(PATIENCE)
        assert read_case(path).log[-1].stamp.who == "AB"
        assert [each.who for each in standing_of(path).stations] == ["OR"]
        desk.ask(c.SignOff(second="CD"), "AB").result(PATIENCE)
        assert [each.who for each in standing_of(path).stations] == ["OR"]


def test_signed_off_and_revised_as_the_record_stands(tmp_path: Path):
    path = new_case(tmp_path / "case.orroom")

    def enter(command: c.Command) -> None:
        with CaseFile.open(path) as case_file:
            record_once(case_file, command, "EF")

    enter(c.RevisePlan(plan=small_plan(title="another"), reason="why"))
    enter(c.SignOff(second="RS"))
    assert standing_of(path).signed_off
    assert standing_of(path).plan.title == "another"
    enter(c.ReopenCase(reason="why"))
    assert not standing_of(path).signed_off


def test_newest_first_copies_behind_and_what_cannot_be_read_says_why(tmp_path: Path):
    old = new_case(tmp_path / "old.orroom", small_plan(case="OLD"))
    (tmp_path / "SMALL-1").mkdir()
    case = new_case(tmp_path / "SMALL-1" / "SMALL-1.orroom")
    with CaseFile.open(case) as case_file:
        record_once(case_file, c.AddNote(text="later"), "EF")
    backup(case, tmp_path / "again.orroom")
    sealed = locked_copy(case)
    with CaseFile.open(case) as case_file:
        record_once(case_file, c.AddNote(text="later still"), "EF")
    (tmp_path / "deep" / "deeper").mkdir(parents=True)
    new_case(tmp_path / "deep" / "deeper" / "unseen.orroom")
    (tmp_path / "bad.orroom").write_text("no case")
    os.mkfifo(tmp_path / "pipe.orroom")
    os.utime(tmp_path / "bad.orroom", (1, 1))
    found = {each.path: each for each in found_cases([tmp_path, tmp_path])}
    assert {path.name for path in found} == {
        "old.orroom", "SMALL-1.orroom", "again.orroom", sealed.name, "bad.orroom", "pipe.orroom",
    }  # fmt: skip
    assert {path for path, each in found.items() if each.copy} == {tmp_path / "again.orroom", sealed}
    order = [path for path, each in found.items() if each.standing is not None]
    assert order[:2] == [case, old]
    with CaseFile.open(case) as case_file:
        record_once(case_file, c.SignOff(second="CD"), "EF")
    again = [each.path for each in found_cases([tmp_path]) if not each.copy]
    assert again == [old, case, tmp_path / "pipe.orroom", tmp_path / "bad.orroom"]
    assert "is not an orroom case file" in found[tmp_path / "bad.orroom"].problem
    assert "not an ordinary file" in found[tmp_path / "pipe.orroom"].problem


def test_a_file_without_an_entry_and_a_folder_that_is_not_there(tmp_path: Path):
    CaseFile.create(tmp_path / "empty.orroom").close()
    (found,) = found_cases([tmp_path, tmp_path / "nowhere"])
    assert found.standing is None
    assert "cannot be read" in found.problem or "has no case in it" in found.problem


def test_damage_is_told_in_a_sentence(tmp_path: Path):
    path = new_case(tmp_path / "case.orroom")
    data = bytearray(path.read_bytes())
    data[4096:] = b"\xff" * (len(data) - 4096)
    path.write_bytes(data)
    (found,) = found_cases([tmp_path])
    assert found.standing is None
    assert str(path) in found.problem


def test_looking_changes_no_file(tmp_path: Path):
    path = new_case(tmp_path / "case.orroom")
    before = {each.name: each.read_bytes() for each in tmp_path.iterdir()}
    found_cases([tmp_path])
    assert {each.name: each.read_bytes() for each in tmp_path.iterdir() if each.name in before} == before
    assert path.read_bytes() == before[path.name]


def test_fifty_cases_of_three_thousand_entries_are_looked_through(tmp_path: Path):
    plan = demo_plan()
    first = tmp_path / "first.orroom"
    with CaseFile.create(first) as case_file:
        record_all(case_file, entries_of(plan, workday(plan, 417), MORNING_MS, 0), "day")
    for number in range(49):
        shutil.copy(first, tmp_path / f"case-{number}.orroom")
    found = found_cases([tmp_path])
    assert len(found) == 50
    assert all(each.standing is not None and each.standing.entries > 3000 for each in found)


def test_plans_those_with_mistakes_and_what_is_none(tmp_path: Path):
    shutil.copy(SAMPLES / "two-lots" / "plan.toml", tmp_path / "plan.toml")
    shutil.copy(SAMPLES / "broken" / "plan.toml", tmp_path / "broken.toml")
    (tmp_path / "other.toml").write_text('[project]\nname = "x"\n')
    found = {each.path.name: each for each in found_plans([tmp_path])}
    assert set(found) == {"plan.toml", "broken.toml"}
    assert found["plan.toml"].plan is not None
    assert "problems in the plan" in found["broken.toml"].problem


# What it says, without a terminal.


def flat(text: str) -> str:
    return " ".join(text.split())


def test_a_key_that_does_nothing_is_called_as_it_is_written():
    menus = menus_of(a_case())
    for key, written in (("question_mark", "?"), ("f3", "F3")):
        press(menus, key)
        assert f"✗ {written} does nothing here" in shown(menus)


@pytest.mark.parametrize("size", SIZES)
def test_a_case_tells_state_counts_last_entry_and_who_is_at_it(size: tuple[int, int]):
    found = flat(shown(menus_of(a_case()), size))
    for words in (
        "T-1", "○ open", "120 usable, 40 placed of 180, 80 waiting", "last entry 07:30",
        "in use by: cutting AB, overview OR", "n new case", "F10 leave",
    ):  # fmt: skip
        assert words in found
    assert "2026-01-05" in shown(OpenMenus(Found((a_case(),)), NOW_MS + 24 * 60 * MINUTE_MS), size)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_the_cautions_stand_on_it_or_are_a_key_away(size: tuple[int, int]):
    for caution in CAUTIONS:
        assert caution in shown(menus_of(a_case()), size)
    menus = menus_of(a_case())
    press(menus, "c")
    pages = []
    for _ in range(2):
        pages += shown(menus, (40, 12)).split("\n")[2:-1]
        press(menus, "space")
    for caution in CAUTIONS:
        assert caution in flat(" ".join(pages))


@pytest.mark.parametrize("size", SIZES)
def test_every_menu_and_text_fills_the_terminal_and_shows_its_cursor(size: tuple[int, int]):
    found = Found(
        (*(a_case(f"T-{number}") for number in range(30)), a_case("OLD", signed_off=True), UNREADABLE),
        tuple(found_plans([SAMPLES])),
    )
    menus = OpenMenus(found, NOW_MS)
    for _ in range(len(found.cases) + 8):
        assert shown(menus, size).count("▸") == 1
        if menus.top.look.cursor < len(found.cases):
            press(menus, "enter")
            for _ in range(12):
                shown(menus, size)
                press(menus, "down")
            press(menus, "escape")
        press(menus, "down")
    press(menus, "n")
    assert "DEMO-0350" in shown(menus, (80, 60))
    shown(menus, size)


def test_a_long_list_says_how_much_of_it_is_shown():
    menus = menus_of(*(a_case(f"T-{number}") for number in range(30)))
    assert "1–" in shown(menus)
    assert "of 30" in shown(menus)
    press(menus, *["pagedown"] * 10)
    assert menus.top.look.cursor == len(menus.opened[0].shows.all) - 1  # type: ignore[union-attr]


def test_cases_of_one_code_say_where_they_lie():
    twice = menus_of(a_case(path=Path("T-1/T-1.orroom")), a_case(path=Path("demo.orroom")), a_case("T-2"))
    found = shown(twice)
    assert "T-1/T-1.orroom" in found
    assert "demo.orroom" in found
    assert "T-2.orroom" not in found


def test_copies_are_under_the_case_that_they_are_of():
    sealed, backup_ = (a_case(path=Path(f"T-1.{name}.orroom"), copy=True) for name in ("sealed-9", "copy-1"))
    alone = a_case("T-9", path=Path("T-9.sealed-3.orroom"), copy=True)
    menus = menus_of(a_case(), sealed, backup_, alone)
    home = shown(menus)
    assert "sealed-9" not in home
    assert "copy-1" not in home
    assert "a copy, ○ open" in home  # its case is not here
    press(menus, "1")
    assert "c  2 copies" in shown(menus, (80, 40))
    press(menus, "c")
    assert "T-1.sealed-9.orroom" in shown(menus)
    press(menus, "2")
    assert press(menus, "1") == Chosen("summary", backup_.path)
    menus.go_to(sealed.path, NOW_MS)
    assert "so far" not in shown(menus)  # nothing is added to a copy
    assert press(menus, "1") == Chosen("summary", sealed.path)


def test_what_cannot_be_read_says_why_and_can_be_verified():
    menus = menus_of(UNREADABLE)
    assert "is not an orroom case file" in shown(menus)
    press(menus, "1")
    assert press(menus, "1") == Chosen("verify", UNREADABLE.path)


def test_the_plans_staff_is_offered_those_of_the_role_first():
    menus = menus_of(a_case())
    assert press(menus, "1", "2") is None
    text = shown(menus)
    assert text.index("CD   placing") < text.index("AB   cutting")
    assert press(menus, "1") == Chosen("open", Path("T-1.orroom"), "placing", "CD")


def test_initials_are_typed_in_capitals_and_nothing_else_is_taken():
    menus = menus_of(a_case())
    press(menus, "1", "1", "9")
    assert "initials are a letter" in shown(menus)
    press(menus, "x", "y", "1", "2", "3")
    assert "XY12▌" in shown(menus)
    assert press(menus, "backspace", "enter") == Chosen("open", Path("T-1.orroom"), "cutting", "XY1")


def signing_off(record: Record) -> OpenMenus:
    """Somebody has chosen to sign a case off: it is asked now."""
    menus = menus_of(a_case())
    assert press(menus, "1", "9") == Chosen("sign off", Path("T-1.orroom"))
    menus.show_result(Result("", then=partial(sign_off, Path("T-1.orroom"), record.state)))
    return menus


def test_sign_off_asks_what_a_station_asks_takes_two_people_and_asks_once_more():
    menus = signing_off(case_under_way())
    for words in SIGN_OUT.values():
        for key in ("enter", "space", "down", "enter"):  # only y or n answers
            assert press(menus, key) is None
            assert f"WHO sign out. Was it said aloud that {words}?" in flat(shown(menus))
            assert ("press one of the keys shown" in shown(menus)) is (key != "down")
        press(menus, "n" if words == SIGN_OUT["specimens"] else "y")
    assert "Open (1 of 2): no final count by two people. Left open because:" in flat(shown(menus))
    press(menus, "enter")
    assert "type it, then Enter" in shown(menus)
    press(menus, *"late", "enter", *"RS", "enter")
    assert "Open (2 of 2): 95 grafts are left" in flat(shown(menus))
    press(menus, "y")
    press(menus, "3")
    assert "EF" not in shown(menus).split("second person")[1]
    press(menus, "0", "r", "s", "enter")
    assert "Sign off SMALL-1 by EF and RS?" in shown(menus)
    assert "Stays open: no final count by two people: late" in flat(shown(menus))
    confirmed = tuple(each for each in SIGN_OUT if each != "specimens")
    left = tuple(
        LeftOpen(key=each.key, sentence=each.sentence, because="late", informed="RS")
        for each in open_at_sign_off(case_under_way().state)
    )
    assert [each.key for each in left] == ["no-count", "no-fate"]
    closing = c.SignOff(second="RS", confirmed=confirmed, left_open=left)
    assert press(menus, "y") == Chosen("close", Path("T-1.orroom"), who="EF", sign_off=closing)
    menus = signing_off(case_under_way())
    press(menus, *["y"] * len(SIGN_OUT), *"late", "enter", *"RS", "enter", "y", "3", "0", "r", "s", "enter")
    assert press(menus, "enter") is None
    assert "Sign off SMALL-1 by EF and RS?" in shown(menus)
    assert press(menus, "n") is None
    assert "nothing done" in shown(menus)


def test_an_open_difference_is_signed_off_there_too_only_with_a_reason_and_who_was_told():
    record = case_under_way()
    groups = tuple(
        CountedGroup(size=each.size, harvest=each.harvest, place=each.place, found=0)
        for each in groups_to_count(record.state)
    )
    for who in ("AB", "CD"):
        record.enter(c.CountAll(groups=groups, since=record.state.seq), who)
    menus = signing_off(record)
    press(menus, *["y"] * len(SIGN_OUT))
    assert "in dishes: AB counted 0, CD counted 0, the tally has 30. Left open because:" in flat(shown(menus))
    press(menus, *"lost", "enter")
    assert "Who was informed?" in shown(menus)
    press(menus, *"RS", "enter")
    assert "'lost', RS informed: here too?" in flat(shown(menus))
    press(menus, "n", *"thrown", "enter", *"surgeon", "enter")
    chosen = press(menus, "y", "y", "y", "1", "2", "y")
    assert chosen is not None
    assert chosen.sign_off is not None
    assert [(each.key, each.because, each.informed) for each in chosen.sign_off.left_open] == [
        ("difference:dish:1:A", "lost", "RS"),
        ("difference:dish:2:A", "thrown", "surgeon"),
        ("difference:dish:3:A", "thrown", "surgeon"),
        ("difference:dish:M:A", "thrown", "surgeon"),
        ("no-fate", "thrown", "surgeon"),
    ]
    assert (chosen.who, chosen.sign_off.second) == ("AB", "EF")


def test_f10_leaves_from_everywhere_that_nothing_is_typed_in():
    leave = Chosen("leave")
    menus = menus_of(a_case())
    assert press(menus, "1", "f10") == leave
    assert press(menus, "1", "f10") == leave  # who sits there?
    press(menus, "a")
    assert press(menus, "f10") is None
    assert "A▌" in shown(menus)
    assert "F10 leaves while nothing is typed" in shown(menus)
    assert press(menus, "escape", "escape", "c", "f10") == leave
    assert press(menus, "escape", "n", "ctrl+q") == leave
    assert press(signing_off(case_under_way()), "f10") == leave


@pytest.mark.parametrize("size", [(80, 24), (40, 12), (30, 10)])
def test_initials_can_be_typed_without_a_keyboard(size: tuple[int, int]):
    menus = menus_of(a_case())
    press(menus, "1", "1")
    found = {span.action for each in menus.lines(*size) for span in each}
    assert {f"type('{letter}')" for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ"} <= found
    assert {"type('enter')", "type('backspace')"} <= found
    press(menus, "R", "S")
    assert "RS▌" in shown(menus, size)


def test_the_final_count_is_offered_while_a_case_is_open():
    menus = menus_of(a_case())
    press(menus, "1")
    assert press(menus, "k") == Chosen("final count", Path("T-1.orroom"))
    menus = menus_of(a_case(signed_off=True))
    press(menus, "1")
    assert "final count" not in shown(menus, (80, 40))


def test_a_signed_off_case_is_told_and_reopened_only():
    menus = menus_of(a_case(signed_off=True))
    assert "● signed off" in shown(menus)
    press(menus, "1")
    assert "cutting station" not in shown(menus)
    for place, item in enumerate(menus.top.shows.items):  # type: ignore[union-attr]
        if item.label == "reopen it":
            menus.pick(place, NOW_MS)
    assert press(menus, "r", "s", "enter") is None
    assert press(menus, *"too", "space", *"soon", "enter") == Chosen(
        "reopen", Path("T-1.orroom"), who="RS", reason="too soon"
    )


def test_once_a_case_is_signed_off_the_cursor_stands_on_what_can_be_done_first():
    menus = menus_of(a_case())
    press(menus, "1", "up", "up", "up")
    menus.show_found(Found((a_case(),)), NOW_MS)
    assert "▸ 0  replay" in shown(menus)
    menus.show_found(Found((a_case(signed_off=True),)), NOW_MS)
    assert "▸ 1  summary" in shown(menus)


def help_in(menus: OpenMenus, size: tuple[int, int]) -> str:
    """Every page of the help, turned by F1 until what it was opened over is there again."""
    over, found = menus.top, []
    press(menus, "f1")
    while menus.top is not over:
        found += shown(menus, size).split("\n")[2:-1]
        press(menus, "f1")
    return flat(" ".join(found))


@pytest.mark.parametrize("size", [*SIZES, (30, 10)])
@pytest.mark.parametrize("keys", [(), ("1",), ("1", "1"), ("1", "1", "a"), ("n",)])
def test_f1_tells_keys_and_choices_whole_and_leads_back_to_what_was_typed(
    size: tuple[int, int], keys: tuple[str, ...]
):
    menus = menus_of(a_case())
    press(menus, *keys)
    before, menu = shown(menus, size), menus.top.shows
    assert isinstance(menu, Menu)
    assert ("F1 help" if size[0] >= 40 else " F1") in before
    found = help_in(menus, size)
    assert shown(menus, size) == before
    for words in (menu.title, *menu.about, *(f"{each.key} {each.label}" for each in menu.items)):
        assert flat(words) in found
    assert "Enter chooses; so does Space" in found
    press(menus, "f1", "escape")
    assert shown(menus, size) == before
    if "a" in keys:
        press(menus, "f1", "q")  # any other key closes the help and is typed
        assert "AQ▌" in shown(menus, size)
    else:
        assert press(menus, "f1", "f10") == Chosen("leave")


@pytest.mark.parametrize("size", [(30, 10), (40, 12)])
def test_a_list_says_how_much_of_it_is_hidden(size: tuple[int, int]):
    case = a_case()
    assert case.standing is not None
    staff = tuple(Person(initials=each, role="cutting") for each in ("AB", "CD", "EF", "GH", "RS"))
    plan = structs.replace(case.standing.plan, staff=staff)
    menus = menus_of(structs.replace(case, standing=structs.replace(case.standing, plan=plan)))
    press(menus, "1", "1")
    assert press(menus, "enter") is None  # nobody is chosen before a key has named one
    assert "press one of the keys shown" in flat(shown(menus))
    for place in range(len(staff)):
        press(menus, "down")
        text = shown(menus, size)
        assert f"▸ {place + 1}  {staff[place].initials}" in text
        there = sum(each.initials in text for each in staff)
        assert f"+{len(staff) - there} more" in text or f"of {len(staff)}" in text
    assert "5  RS" in shown(menus, size)


def test_escape_goes_back_one_by_one_and_drops_what_was_asked():
    menus = menus_of(a_case())
    press(menus, "1", "9", "1")
    press(menus, "escape")
    assert "sign off, by two people" in shown(menus)
    press(menus, "escape", "escape")
    assert "choose a case" in shown(menus)
    assert "F10 leaves" in shown(menus)
    assert press(menus, "q") == press(menus, "f10") == Chosen("leave")


def test_a_new_case_begins_with_an_earlier_ones_plan():
    menus = menus_of(a_case("T-1"), a_case("T-2"), a_case("T-2", copy=True, path=Path("copy.orroom")))
    press(menus, "n")
    press(menus, "e")
    assert "from which earlier one?" in shown(menus)
    assert "copy" not in shown(menus)
    assert press(menus, "2") == Chosen("write plan", Path("T-2.orroom"))
    nothing = menus_of()
    press(nothing, "n")
    assert "earlier" not in shown(nothing)


def test_a_plan_with_mistakes_can_be_put_right_or_read():
    plans = list(found_plans([SAMPLES / "broken"]))
    menus = menus_of(plans=tuple(plans))
    press(menus, "n", "1")
    assert press(menus, "1") == Chosen("write plan", plans[0].path)
    press(menus, "2")
    assert "problems in the plan" in flat(shown(menus))  # wherever the path breaks the line


def test_cases_keep_their_places_while_looked_at_and_new_ones_come_first():
    one, two, new = a_case("ONE"), a_case("TWO"), a_case("NEW")
    menus = menus_of(one, two)
    press(menus, "down")
    menus.show_found(Found((new, two, one)), NOW_MS)
    assert [each.path.stem for each in menus.found.cases] == ["NEW", "ONE", "TWO"]
    assert menus.top.look.cursor == 2
    press(menus, "enter")
    menus.show_found(Found((a_case("TWO", usable=121), new, one)), NOW_MS)
    assert "121 usable" in shown(menus)
    press(menus, "escape", "down")
    bar = menus.top.look.cursor
    menus.show_found(Found((a_case("MORE"), new, one, two)), NOW_MS)
    assert menus.top.look.cursor == bar + 1


def test_what_was_told_is_a_line_or_a_text():
    menus = menus_of(a_case())
    menus.show_result(Result("it went wrong", wrong=True))
    assert "✗ it went wrong" in shown(menus)
    menus.show_result(Result("a\n  b", title="Verify"))
    assert " Verify" in shown(menus)
    press(menus, "space")
    assert "choose a case" in shown(menus)


def test_a_text_is_turned_page_by_page_and_closed_at_its_end():
    menus = menus_of(a_case())
    menus.show_result(Result("\n".join(f"line {number}" for number in range(50)), title="Text"))
    assert "page 1 of 3" in shown(menus)
    press(menus, "space", "pagedown")
    assert "line 49" in shown(menus)
    press(menus, "pageup")
    assert "page 2 of 3" in shown(menus)
    menus.scroll("down", NOW_MS)
    menus.scroll("down", NOW_MS)
    assert "page 3 of 3" in shown(menus)
    press(menus, "enter")
    assert "choose a case" in shown(menus)


@settings(max_examples=60)
@given(st.text(max_size=120), st.integers(30, 120))
def test_any_text_is_set_in_rows_that_fit(text: str, width: int):
    for blocks in ((), (Paragraph(text),)):
        rows = text_rows(Text("t", text, blocks), width)
        assert all(cell_len(row) <= width for row in rows)


def test_while_a_final_count_is_made_no_counts_are_shown(tmp_path: Path):
    case = new_case(tmp_path / "case.orroom")
    harvested(case)
    assert "100 usable, 0 placed" in shown(menus_of(*found_cases([tmp_path])))
    with station(case, "overview", who="OR") as desk:
        desk.ask(c.BeginCount(), "AB").result(10)
        text = shown(menus_of(*found_cases([tmp_path])))
        assert "‖ a count is being made" in text
        assert "100" not in text
    assert "100 usable, 0 placed" in shown(menus_of(*found_cases([tmp_path])))


def test_a_case_that_is_not_intact_says_so_before_its_code(tmp_path: Path):
    new_case(tmp_path / "case.orroom")
    (found,) = found_cases([tmp_path])
    assert "NOT INTACT" not in shown(menus_of(found))
    assert "≠ NOT INTACT  SMALL-1" in shown(menus_of(structs.replace(found, not_intact="entry 3 differs")))


# On the real application.


class Front:
    """Somebody at the start screen: presses keys, clicks on words, reads the screen."""

    def __init__(self, app: BoardApp[Chosen], pilot: Pilot[Chosen]) -> None:
        self.app, self.pilot = app, pilot
        self.at = time.monotonic()

    @property
    def text(self) -> str:
        return self.app.shown.board.text

    async def press(self, *keys: str, apart: float = SAME_ANSWER + 0.1) -> None:
        for key in keys:
            self.at += apart
            event = events.Key(key, {"space": " ", "enter": "\r"}.get(key, key if len(key) == 1 else None))
            event.time = self.at
            event.set_sender(self.app)
            self.app.post_message(event)
            await self.pilot.pause()

    async def click(self, words: str) -> None:
        for row, line in enumerate(self.text.split("\n")):
            if words in line:
                await self.click_at(line.index(words) + 1, row)
                return
        raise AssertionError(f"{words!r} is not on the screen:\n{self.text}")

    async def click_at(self, column: int, row: int, apart: float = DOUBLE_CLICK + 0.5) -> None:
        self.at = max(self.at, time.monotonic()) + apart
        for kind in (events.MouseDown, events.MouseUp):
            event = kind(None, column, row, 0, 0, 1, False, False, False)
            event.time = self.at
            event.set_sender(self.app)
            self.app.post_message(event)
        await self.pilot.pause()
        await self.pilot.pause()

    async def until(self, words: str) -> None:
        ends = time.monotonic() + 20
        while words not in self.text:
            assert time.monotonic() < ends, f"{words!r} is not on the screen:\n{self.text}"
            await asyncio.sleep(0.02)
            await self.pilot.pause()


@asynccontextmanager
async def in_front(folder: Path, size: tuple[int, int] = (80, 24), **started: Any) -> AsyncIterator[Front]:
    app = start_app(partial(starting.found_in, (folder,)), partial(attempted, within=folder), **started)
    async with app.run_test(size=size) as pilot:
        front = Front(app, pilot)
        await pilot.pause()
        yield front


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with a plan in it."""
    shutil.copy(SAMPLES / "two-lots" / "plan.toml", tmp_path / "plan.toml")
    return tmp_path


def case_in(folder: Path) -> Path:
    return folder / "DEMO-0350" / "DEMO-0350.orroom"


async def test_from_a_plan_to_the_sign_off_by_keys_only(folder: Path):
    async with in_front(folder) as front:
        assert "No cases yet" in front.text
        await front.press("n", "1", "i")
        assert "Case DEMO-0350 from plan.toml: who opens it?" in front.text
        await front.press("enter")  # nobody is written down by a key that named nobody
        assert "press one of the keys shown, or type it" in front.text
        await front.press("n", "p", "enter")
        await front.until("opened by NP, 400 grafts planned")
        await front.press("5")
        await front.until("Case DEMO-0350")
        await front.press("escape", "6")
        await front.until("Seal 1:")
        assert "is unchanged" in front.text
        await front.press("escape", "h")
        await front.until("summary.html: open it")  # a long path breaks at the case's hyphen
        await front.press("p")
        await front.until("summary.pdf")
        assert (case_in(folder).parent / "DEMO-0350.summary.pdf").read_bytes().startswith(b"%PDF")
        await front.press("7")
        await front.until("copied and verified")
        assert (case_in(folder).parent / "DEMO-0350.copy-1.orroom").exists()
        await front.press("9")
        await front.until("said aloud")
        await front.press("y", "y", "y", "y", "y", "0", "n", "p", "enter", "0", "r", "s", "enter")
        assert "Sign off DEMO-0350 by NP and RS?" in front.text
        await front.press("n")
        assert not read_case(case_in(folder)).tally.signed_off
        await front.press("9")
        await front.until("said aloud")
        await front.press("y", "y", "y", "y", "y", "0", "n", "p", "enter", "0", "r", "s", "enter", "y")
        await front.until("Signed off by NP and RS")
        assert read_case(case_in(folder)).tally.signed_off
        assert "● signed off" in front.text
        await front.press("h")
        await front.until("open it in a browser")
        assert (case_in(folder).parent / "DEMO-0350.summary.2.html").read_text().startswith("<!DOCTYPE html>")
        await front.press("2")
        await front.until("Locked copy:")
        await front.press("c")
        assert "Copies of DEMO-0350" in front.text
        await front.press("f10")
    assert front.app.return_value == Chosen("leave")


async def test_from_a_plan_to_the_sign_off_by_mouse_only(folder: Path):
    async with in_front(folder) as front:
        await front.click("n new case")
        await front.click("DEMO-0350")
        await front.click("somebody else opens it")
        for words in (" N", " P", "  Enter"):
            await front.click(words)
        await front.until("cutting station")
        await front.click("summary")
        await front.until("Case DEMO-0350")
        await front.click("Space next")
        assert "page 2" in front.text
        await front.click("Esc close")
        await front.click("sign off, by")
        await front.until("said aloud")
        for _ in range(5):
            await front.click("y  said")
        await front.click("  NP")
        await front.click("somebody else")
        for words in (" X", " Y", "  Enter"):
            await front.click(words)
        assert "by NP and XY?" in front.text
        await front.click("y  sign off")
        await front.until("Signed off by NP and XY")
        await front.click("Esc back")
        await front.click("F10 leave")
    assert front.app.return_value == Chosen("leave")


async def test_a_station_is_chosen_and_afterwards_its_case_is_open(folder: Path):
    path, _ = plans.made(folder / "plan.toml", "NP", within=folder)
    async with in_front(folder) as front:
        await front.press("enter", "enter", "a", "b", "enter")
    assert front.app.return_value == Chosen("open", path, "cutting", "AB")
    async with in_front(folder, at=path, result=Result("as told")) as front:
        await front.until("as told")
        assert "cutting station" in front.text


async def test_the_list_follows_what_others_do(folder: Path):
    async with in_front(folder) as front:
        path, _ = plans.made(folder / "plan.toml", "NP", within=folder)
        front.app.shown.look_again()
        await front.until("DEMO-0350  ○ open")
        with station(path, who="CD") as desk:
            entered(desk, c.CutGrafts(harvest="A", size="2", count=7))
            front.app.shown.look_again()
            await front.until("7 usable, 0 placed of 400")
            assert "in use by: cutting CD" in front.text


async def test_a_held_key_and_a_paste_choose_nothing(folder: Path):
    plans.made(folder / "plan.toml", "NP", within=folder)
    async with in_front(folder) as front:
        await front.press("enter")
        await front.press(*["enter"] * 20, apart=0.04)
        await asyncio.sleep(0.3)
        await front.pilot.pause()
        assert "sign off, by two people" in front.text
        front.app.post_message(events.Paste("1111"))
        await front.pilot.pause()
        assert "sign off, by two people" in front.text


async def test_a_second_tap_of_the_key_that_chose_means_nothing(folder: Path):
    plans.made(folder / "plan.toml", "NP", within=folder)
    async with in_front(folder) as front:
        await front.press("enter")
        await front.press("enter", apart=0.2)
        assert "sign off, by two people" in front.text
        assert "again so soon: ignored" in front.text
        await front.press("enter", apart=0.2)
        assert "who sits there?" in front.text


async def test_a_double_click_chooses_once(folder: Path):
    plans.made(folder / "plan.toml", "NP", within=folder)
    async with in_front(folder) as front:
        row = next(row for row, line in enumerate(front.text.split("\n")) if "0 placed" in line)
        await front.click_at(10, row)
        assert "cutting station" in front.text.split("\n")[row]
        await front.click_at(10, row, apart=0.2)
        assert "sign off, by two people" in front.text
        assert "left out" in front.text


async def test_the_click_that_brings_the_keyboard_back_chooses_nothing(folder: Path):
    plans.made(folder / "plan.toml", "NP", within=folder)
    async with in_front(folder) as front:
        front.app.on_app_blur()
        await front.click("0 placed")
        assert "brings the keyboard here" in front.text
        front.app.on_app_focus()
        await front.click("0 placed")
        assert "cutting station" in front.text


@pytest.mark.parametrize("size", SIZES)
async def test_an_error_is_one_sentence_and_the_screen_goes_on(folder: Path, size: tuple[int, int]):
    plans.made(folder / "plan.toml", "NP", within=folder)
    async with in_front(folder, size) as front:
        await front.press("n", "1", "i", "n", "p", "enter")
        await front.until("That did not work" if len(str(folder)) > 90 else "exists")
        assert "Traceback" not in front.text


async def test_a_fault_of_the_program_is_told_too(folder: Path, monkeypatch: pytest.MonkeyPatch):
    path, _ = plans.made(folder / "plan.toml", "NP", within=folder)

    def broken(case: Path) -> Any:
        raise ZeroDivisionError(f"in {case.name}")

    monkeypatch.setattr(reports, "summed_up", broken)
    async with in_front(folder, at=path) as front:
        await front.press("5")
        await front.until("could not do that: ZeroDivisionError")


async def test_a_key_that_does_nothing_rings_once(folder: Path, monkeypatch: pytest.MonkeyPatch):
    rung: list[int] = []
    async with in_front(folder) as front:
        monkeypatch.setattr(front.app, "bell", lambda: rung.append(1))
        await front.press("x")
        assert "x does nothing here" in front.text
        assert len(rung) == 1
        await front.press("down")
        assert len(rung) == 1


async def test_too_small_a_terminal_says_so(folder: Path):
    async with in_front(folder, (28, 8)) as front:
        assert "Too small" in front.text


# The loop around it.


class Chooser:
    """Stands for the start screen: chooses one thing after the other, and keeps what it was told."""

    def __init__(self, *chosen: Chosen) -> None:
        self.chosen = list(chosen)
        self.told: list[Result | None] = []
        self.at: list[Path | None] = []
        self.return_code = 0
        self.find: Any = None
        self.do: Any = None

    def __call__(self, find: Any, do: Any, *, result: Result | None, at: Path | None, **_: Any) -> Chooser:
        self.find, self.do = find, do
        self.told.append(result)
        self.at.append(at)
        return self

    def run_to_its_end(self) -> Chosen | None:
        return self.chosen.pop(0)


def run(monkeypatch: pytest.MonkeyPatch, chooser: Chooser, *folders: Path) -> Any:
    monkeypatch.setattr("orroom.screens.start.screen.start_app", chooser)
    monkeypatch.setattr("orroom.screens.stations.sitting.in_a_terminal", lambda: True)
    return CliRunner().invoke(main, ["start", *map(str, folders)], catch_exceptions=False)


def test_new_cases_are_made_in_the_clinics_folder_and_plans_here_are_offered_too(
    folder: Path, tmp_path: Path, settings_file: Path, monkeypatch: pytest.MonkeyPatch
):
    clinics = tmp_path / "clinic"
    clinics.mkdir()
    settings_file.write_text(f'cases = "{clinics}"\n')
    monkeypatch.chdir(folder)
    chooser = Chooser(Chosen("leave"))
    run(monkeypatch, chooser)
    found = chooser.find()
    assert (found.where, [each.path.name for each in found.plans]) == (str(clinics), ["plan.toml"])
    made = chooser.do(Chosen("make", found.plans[0].path, who="NP"))
    assert made.case == clinics / "DEMO-0350" / "DEMO-0350.orroom"


def test_leaving_a_station_comes_back_until_it_is_left(folder: Path, monkeypatch: pytest.MonkeyPatch):
    path, _ = plans.made(folder / "plan.toml", "NP", within=folder)
    sat: list[tuple[Path, Role, str]] = []
    monkeypatch.setattr(live, "stationed", lambda case, role, who, theme: sat.append((case, role, who)) or 0)
    chooser = Chooser(Chosen("open", path, "cutting", "AB"), Chosen("open", path), Chosen("leave"))
    assert run(monkeypatch, chooser, folder).exit_code == 0
    assert sat == [(path, "cutting", "AB"), (path, "overview", "OR")]
    assert chooser.at == [None, path, path]


@pytest.mark.parametrize(
    ("problem", "words"),
    [
        (CaseFileError("It is gone.", "Look for it."), "It is gone. Look for it."),
        (ValueError("odd"), "orroom failed there: ValueError('odd')."),
        (1, "The station failed."),
    ],
)
def test_what_goes_wrong_at_a_station_is_told(
    folder: Path, monkeypatch: pytest.MonkeyPatch, problem: Exception | int, words: str
):
    def station_of(*_: Any) -> int:
        if isinstance(problem, Exception):
            raise problem
        return problem

    monkeypatch.setattr(live, "stationed", station_of)
    chooser = Chooser(Chosen("open", folder / "x.orroom", "cutting", "AB"), Chosen("leave"))
    assert run(monkeypatch, chooser, folder).exit_code == 0
    found = chooser.told[1]
    assert found is not None
    assert found.wrong
    assert words in found.text


def test_a_signal_ends_the_loop_with_its_code(folder: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(live, "stationed", lambda *_: 143)
    chooser = Chooser(Chosen("open", folder / "x.orroom", "cutting", "AB"))
    assert run(monkeypatch, chooser, folder).exit_code == 143
    error = OrroomError("Some taps are in a rescue file.")
    error.exit_code = 129

    def rescued(*_: Any) -> int:
        raise error

    monkeypatch.setattr(live, "stationed", rescued)
    again = run(monkeypatch, Chooser(Chosen("open", folder / "x.orroom", "cutting", "AB")), folder)
    assert again.exit_code == 129
    assert "rescue file" in again.stderr


def test_machine_and_practice_are_shown_on_the_start_screen(folder: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(training, "practised", lambda lesson, who, theme: (0, f"{who} counted {lesson}"))
    chooser = Chooser(Chosen("machine"), Chosen("practice", typed="count"), Chosen("leave"))
    run(monkeypatch, chooser, folder)
    machine, practice = chooser.told[1:]
    assert machine is not None
    assert "disk" in machine.text
    assert practice is not None
    assert practice.text == "YO counted count"


def test_a_plan_written_in_the_form_becomes_a_case(folder: Path, monkeypatch: pytest.MonkeyPatch):
    from orroom.screens.plan_form.screen import Outcome

    saved = Outcome(file=folder / "plan.toml", open_case=True)
    outcomes = [saved, Outcome(file=folder / "plan.toml"), Outcome(draft=folder / "x.draft"), Outcome()]
    monkeypatch.setattr("orroom.screens.plan_form.screen.filled_in", lambda *_, **__: outcomes.pop(0))
    chooser = Chooser(*[Chosen("write plan")] * 4, Chosen("leave"))
    run(monkeypatch, chooser, folder)
    assert not case_in(folder).exists()  # the plan is saved; who opens the case is asked next
    asks = chooser.told[1].then()
    assert "Case DEMO-0350 from plan.toml: who opens it?" in next(asks).title
    with pytest.raises(StopIteration) as ended:
        asks.send("RS")
    assert ended.value.value == Chosen("make", folder / "plan.toml", who="RS")
    attempted(ended.value.value, folder)
    assert read_case(case_in(folder)).log[0].stamp.who == "RS"
    assert [found.text for found in chooser.told[2:] if found] == [
        f"{folder / 'plan.toml'}: the plan is saved; n makes a case of it.",
        f"Draft saved: {folder / 'x.draft'}",
        "No plan written.",
    ]


def test_without_a_terminal_the_help_is_shown():
    result = CliRunner().invoke(main, [])
    assert "Usage: main" in result.output or "Usage: orroom" in result.output
    assert "practice" in result.output
    alone = CliRunner().invoke(main, ["start"])
    assert alone.exit_code == 1
    assert "needs a terminal" in alone.stderr


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT, signal.SIGHUP])
@pytest.mark.parametrize("at_a_station", [False, True])
def test_a_signal_gives_the_terminal_back(
    folder: Path, monkeypatch: pytest.MonkeyPatch, number: signal.Signals, *, at_a_station: bool
):
    monkeypatch.chdir(folder)
    path, _ = plans.made(folder / "plan.toml", "NP")
    terminal = Terminal()
    try:
        terminal.until(lambda: b"choose a case" in terminal.seen)
        if at_a_station:
            for key, words in (("1", b"sign off, by"), ("3", b"OVERVIEW")):
                terminal.type(key)
                terminal.until(lambda words=words: words in terminal.seen)
                terminal.rest(SAME_ANSWER + 0.1)
        terminal.seen = b""
        terminal.process.send_signal(number)
        terminal.until(lambda: terminal.process.poll() is not None)
        assert terminal.process.returncode == 128 + number
        terminal.rest(0.1)
        assert b"\x1b[?1049l" in terminal.seen
    finally:
        terminal.close()
    assert read_case(path).tally.stations == {}


def test_what_no_hand_sends_ends_no_start_screen(folder: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.chdir(folder)
    terminal = Terminal()
    try:
        terminal.until(lambda: b"choose a case" in terminal.seen)
        for data in (b"\xff", b"\x1b[49;1:2u", b"\x1b[8;24;80t", b"\x1b]11;rgb:1111/1111/1111\x07", b"\x03"):
            terminal.send(data)
            terminal.rest(0.2)
        assert terminal.process.poll() is None
        assert b"from which plan?" not in terminal.seen
        terminal.type("n")
        terminal.until(lambda: b"from which plan?" in terminal.seen)
    finally:
        terminal.close()


def test_a_whole_morning_in_a_terminal(folder: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.chdir(folder)
    terminal = Terminal()
    pause = SAME_ANSWER + 0.1

    def typed(keys: str, words: str) -> None:
        terminal.seen = b""
        terminal.type(keys)
        terminal.until(lambda: words.encode() in terminal.seen)
        terminal.rest(pause)

    try:
        terminal.until(lambda: b"No cases yet" in terminal.seen)
        typed("n", "from which plan?")
        typed("1", "NP   opens the case DEMO-0350")
        typed("4", "opened by NP")
        typed("1", "who sits there?")
        typed("1", "CUTTING")
        for number, key in enumerate("223", 1):
            terminal.rest(0.12)
            terminal.type(key)
            terminal.until(lambda number=number: read_case(case_in(folder)).tally.held("cut") == number)
        typed("\x1b[21~", "Leave this station")
        typed("y", "3 usable, 0 placed of 400")
        typed("k", "Who counts?")
        typed("\x1b", "nothing entered")
        typed("\x1b[21~", "Leave this station")
        typed("y", "3 usable, 0 placed of 400")
        typed("\x1b", "choose a case")
        terminal.type("\x1b[21~")
        terminal.until(lambda: terminal.process.poll() is not None)
        assert terminal.process.returncode == 0
    finally:
        terminal.close()
