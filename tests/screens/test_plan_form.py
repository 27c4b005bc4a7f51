"""The form for a plan: what its screen says at every size, typed in by keys and by mouse, kept as a draft."""

from __future__ import annotations

import asyncio
import os
import re
import signal
import time
import tomllib
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from functools import partial
from pathlib import Path

import pytest
from cases import small_plan
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from larger_cases import SAMPLES, SOUND, every_shape
from msgspec.structs import replace
from seats import CHARACTERS
from start_menus import NOW_MS
from stations import entered, new_case, read_case, station
from terminals import Terminal
from textual import events
from textual.pilot import Pilot

from orroom.case import commands as c
from orroom.case.events import PlanRevised
from orroom.cli import main
from orroom.cli.plan_form import refused
from orroom.cli.start import found_in
from orroom.cli.start_inside import attempted
from orroom.figures.checks import advice_on
from orroom.figures.donor import expected_range
from orroom.files.plan_draft import Draft, draft_of, with_row
from orroom.files.plan_file import load_plan, load_raw, plan_from_raw
from orroom.files.plan_saving import PlanFile
from orroom.files.plan_text import text_of as written
from orroom.screens.plan_form import keys as form_keys
from orroom.screens.plan_form import screen as plan_form
from orroom.screens.plan_form.form import ADVICE, PAGE_NAMES, PROBLEMS, Form
from orroom.screens.plan_form.lines import form_lines
from orroom.screens.plan_form.naming import problem_in_words
from orroom.screens.plan_form.outlook import outlook
from orroom.screens.plan_form.screen import Outcome, PlanFormScreen, begin
from orroom.screens.settings.clinic import Clinic
from orroom.screens.start.chosen import Chosen, Found
from orroom.screens.start.menus import make_case
from orroom.screens.start.open_menus import OpenMenus, Result
from orroom.screens.terminal.board_app import BoardApp
from orroom.screens.terminal.hands import DOUBLE_CLICK
from orroom.screens.terminal.painting import text_of, width_of

FRONTAL = Path(__file__).parents[2] / "sample_cases" / "frontal-midscalp" / "plan.toml"

SIZES = [(80, 24), (40, 12), (120, 40), (30, 10), (200, 60)]


def form_of(draft: Draft | None = None, page: str = "case") -> Form:
    form = Form(draft if draft is not None else draft_of(small_plan()))
    form.page = PAGE_NAMES.index(page)
    return form


def text(form: Form, width: int = 80, height: int = 24) -> str:
    return "\n".join(text_of(each).rstrip() for each in form_lines(form, width, height))


def press(form: Form, *keys: str) -> Form:
    """Press keys by their names, or type a text that begins with ``=``."""
    for key in keys:
        for each in key[1:] if key.startswith("=") else (key,):
            form_keys.press(
                form, "space" if each == " " else each, CHARACTERS.get(each, each if len(each) == 1 else None)
            )
    return form


# What it says, without a terminal.


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("sample", SAMPLES, ids=lambda path: path.parent.name)
def test_every_page_fills_the_terminal_and_shows_the_cursor(sample: Path, size: tuple[int, int]):
    width, height = size
    form = Form(load_raw(sample))
    for page in range(len(PAGE_NAMES)):
        form.page, form.row, form.column = page, 0, 0
        for row in range(max(1, len(form.rows))):
            for column in range(len(form.rows[row].cells) if form.rows else 1):
                form.row, form.column = row, column
                lines = form_lines(form, width, height)
                assert len(lines) == height
                assert [each for each in lines if width_of(each) > width] == []
                if form.field is not None:
                    tones = [span for each in lines for span in each if span.tone == "cursor"]
                    assert any(span.action == f"field({row},{column})" for span in tones)


def test_all_pages_have_a_button_where_there_is_room_else_the_ones_beside():
    shown = text(form_of())
    assert all(name in shown for name in PAGE_NAMES)
    small = text(form_of(page="areas"), 40, 12)
    assert "zones" in small
    assert "targets" in small
    assert "5/15" in small


@pytest.mark.parametrize("size", [(80, 24), (40, 12), (120, 40)])
def test_totals_against_the_expected_yield_stand_on_every_page(size: tuple[int, int]):
    """180 planned; 6 × 0.5 cm × 62.5 = 187.5 grafts: 56 ones, 94 twos, 38 threes, no multi-unit grafts."""
    for page in PAGE_NAMES:
        shown = text(form_of(page=page), *size)
        assert "180/188" in shown
        assert "3: 40▲/38" in shown
        assert "M: 10▲/0" in shown
        assert not [
            row for row in shown.split("\n") if re.match(r"\S+: \d+▲?/\d", row)
        ]  # a wrapped row is indented


def test_the_case_is_named_whole_on_a_narrow_screen_and_apart_from_the_counts():
    form = form_of(draft_of(load_plan(SOUND[0])))
    code = load_plan(SOUND[0]).case
    for width in (40, 60, 80):
        head = text(form, width, 12).split("\n")[0]
        assert re.search(rf" {code} .*[●✗]", head), head
        assert "…" not in head


def test_hairs_and_the_range_of_the_donor_stand_in_the_totals():
    """Small plan: 50 ones, 80 twos, 40 threes, 10 of 4.5 are 375 hairs in 180 grafts, by hand."""
    assert "375 hairs, 2.08 a graft" in text(form_of())
    plan = small_plan()
    assert plan.donor is not None
    draft = draft_of(plan)
    draft["donor"]["grafts_per_cm2"] = [70, 90]
    low, high = expected_range(replace(plan.donor, grafts_per_cm2=(70.0, 90.0)))[:2]
    assert f"expected range {low:,.0f}–{high:,.0f}" in text(form_of(draft))


def test_a_range_that_begins_below_the_plan_is_marked():
    draft = draft_of(small_plan())
    draft["donor"]["grafts_per_cm2"] = [70, 90]
    low = expected_range(replace(small_plan().donor, grafts_per_cm2=(70.0, 90.0)))[0]
    assert low < small_plan().planned()
    assert re.search(r"expected range \d+–\d+ ▲ low", text(form_of(draft)))
    assert "▲ may be too few" in text(form_of(draft), 120, 40)
    draft["donor"]["grafts_per_cm2"] = [90, 91]
    assert "expected range" in text(form_of(draft))
    assert "low" not in text(form_of(draft))


def test_what_is_expected_of_each_size_adds_up_to_what_is_shown_in_all():
    """Of five shares of one donor four end in more than a half: rounded one by one they are one too many."""
    draft = draft_of(load_plan(FRONTAL))
    shown = " ".join(text(form_of(draft, "targets"), 160, 40).split())
    whole, *sizes = (int(each.replace(",", "")) for each in re.findall(r"\d▲?/([\d,]+)\b", shown)[:6])
    assert sum(sizes) == whole == 2418
    one_by_one = [round(each.expected) for each in form_of(draft).known.outlook.sizes]
    assert sum(one_by_one) == 2419


def test_a_plan_that_was_changed_says_that_it_is_not_saved():
    form = form_of(page="targets")
    assert "not saved" not in text(form)
    press(form, "=48", "enter")
    assert "not saved" in text(form).split("\n")[0]
    press(form, "u")
    assert "not saved" not in text(form)


def test_the_names_of_zones_are_in_their_rows_where_there_is_room():
    draft = draft_of(load_plan(FRONTAL))
    assert "HL hairline left" in text(form_of(draft, "areas"))
    assert "FC frontal core" in text(form_of(draft, "targets"), 120, 40)
    assert "FC frontal core" not in text(form_of(draft, "targets"))
    assert re.search(r"cm² +or shape +measures, cm", text(form_of(draft, "areas"), 120, 40))


def test_beside_remarks_no_problems_is_not_in_the_colour_of_all_well():
    form = form_of()
    assert form.known.outlook.advice
    (words,) = (s for row in form_lines(form, 80, 24) for s in row if s.text == "● no problems")
    assert words.tone == "plain"


def test_zones_left_out_of_a_check_are_named_among_the_remarks():
    draft = draft_of(small_plan())
    for each in draft["zones"]:
        each.pop("neighbours", None)
    shown = " ".join(text(form_of(draft, "remarks"), 120, 60).split())
    assert "No neighbours given, so steps are not checked: hairline, frontal, mid-scalp" in shown
    assert "No kind given, so some checks skip: hairline, frontal, mid-scalp" in shown


def test_as_many_as_the_donor_gives_rounded_up_are_not_over():
    form = form_of(page="targets")
    press(form, "=48", "enter")
    assert "188/188" in text(form)
    press(form, "left", "=49", "enter")
    assert "189▲/188" in text(form)


def test_an_outline_traced_twice_has_no_area_yet():
    draft = draft_of(every_shape())
    traced = next(zone for zone in draft["zones"] if zone.get("shape", {}).get("kind") == "outline")
    before = outlook(draft, None).zones
    traced["shape"]["points_cm"] = [*traced["shape"]["points_cm"]] * 2
    place = draft["zones"].index(traced)
    assert place in before
    assert set(before) - set(outlook(draft, None).zones) == {place}


def test_a_mix_of_nothing_adds_up_to_nothing():
    draft = draft_of(every_shape())
    draft["zones"][4]["density"]["mix"] = {"1": 0}
    assert sorted(outlook(draft, None).zones) == [0, 1, 2, 3]
    assert "(1 zone left out: not complete)" in text(form_of(draft, "targets"))


def test_the_zone_under_the_cursor_tells_its_density():
    form = form_of(page="targets")
    form.row = 1
    assert "frontal: 8.0 grafts/cm², 17.0 hairs/cm² (80 grafts on 10.00 cm²)" in text(form)
    assert "FRONT: 8.0 grafts/cm², 17.0 hairs/cm²" in text(form, 40, 12)
    press(form, "=60")
    assert "frontal: 13.0 grafts/cm², 22.0 hairs/cm²" in text(form)


def test_what_is_wrong_yet_is_left_out_of_the_totals_and_said():
    form = form_of(with_row(draft_of(small_plan()), "zones"), "zones")
    form.row = 3
    shown = text(form)
    assert "(1 zone left out: not complete)" in shown
    assert "this zone adds up to nothing yet" in shown
    assert "180/188" in shown


def test_a_zone_with_an_area_of_its_shape_shows_it():
    shown = text(form_of(draft_of(every_shape()), "areas"))
    assert re.search(r"Z0 zone 0 +. =9\.42 +ellipse +length 4 +width 3", shown)


def test_an_empty_field_shows_what_goes_without_it():
    form = form_of(page="limits")
    press(form, "backspace", *["backspace"] * 3, "enter")
    assert "with the placers, s" in text(form)
    assert "(150)" in text(form)


def test_the_number_of_problems_and_of_advices_stand_on_top():
    plan = small_plan()
    assert f"● no problems  remarks {len(advice_on(plan))}" in text(form_of())
    form = press(form_of(), "=small 1")
    assert "✗ 1 problem  remarks —" in text(form)


def test_the_advice_page_tells_every_advice_with_its_reason_and_source():
    form = form_of(page="remarks")
    shown = " ".join(text(form, 120, 60).split())
    assert advice_on(small_plan())
    for each in advice_on(small_plan()):
        assert each.sentence in shown
        assert f"Why: {each.reason}." in shown
        assert f"Source: {each.source}." in shown
    assert "None of these blocks the plan: the surgeon decides." in shown
    form.size = 40, 12
    small, pages = text(form, 40, 12), ""
    assert "more lines" in small
    for _ in range(60):
        pages += text(press(form, "down"), 40, 12)
    assert "the surgeon decides" in " ".join(pages.split())


def test_advice_waits_for_a_sound_plan():
    form = press(form_of(), "=a", "enter", "backspace", "f4")
    assert form.page == ADVICE
    form = form_of({}, "remarks")
    assert "Fix the problems first (p lists them)" in text(form)
    assert outlook({}, None).advice is None


def test_every_problem_stands_on_its_page_and_leads_to_its_field():
    broken = next(path for path in SAMPLES if path.parent.name == "broken")
    form = Form(load_raw(broken))
    seen = ""
    press(form, "f3")
    for place in range(len(form.known.wrongs)):
        shown = text(form, 40, 12)
        assert f"{place + 1} of {len(form.known.wrongs)} problems" in shown
        assert "▸✗" in shown
        seen += shown
        press(form, "down")
    for each in form.known.wrongs:
        assert problem_in_words(form.draft, each)[:20] in " ".join(seen.split())
    assert "targets: grafts of size" in seen  # as the form names it, not as the file does
    for place, each in enumerate(form.known.wrongs):
        form.page, form.row = PROBLEMS, place
        press(form, "enter")
        if each.page is None:
            assert "not in the form" in form.message
        else:
            assert form.page == each.page
            assert form.field == each.field
            if each.field is not None:
                assert "✗" in text(form)


def test_what_no_field_can_hold_is_taken_out_from_the_page_of_problems():
    form = form_of({**draft_of(small_plan()), "surgeon": "RS"})
    press(form, "f3")
    assert "surgeon: is not a known field" in text(form)
    press(form, "delete")
    assert "Take out surgeon?" in text(form)
    press(form, "y")
    assert form.known.wrongs == ()
    assert form.known.plan == small_plan()


@pytest.mark.parametrize("size", SIZES)
def test_advice_is_scrolled_to_its_last_line_and_up_again_at_once(size: tuple[int, int]):
    form = form_of(page="remarks")
    form.size = size
    top = text(form, *size)
    press(form, *["down"] * 300)
    bottom = text(form, *size)
    assert "the surgeon decides." in " ".join(bottom.split())
    assert "more line" not in bottom
    far = form.row
    press(form, "up")
    assert (text(form, *size) == bottom) is (far == 0)
    assert form.row == max(0, far - 1)
    if far:
        assert " 2 more lines" in text(form, *size)
    press(form, *["up"] * far)
    assert text(form, *size) == top
    assert ("more line" in top) is (far > 0)


async def test_the_arrow_stops_at_the_last_line_on_the_real_screen(tmp_path: Path):
    sound = next(each for each in SAMPLES if each.parent.name == "hairline")
    async with at_form(sound, tmp_path, (40, 12)) as desk:
        await desk.press("f4")
        for _ in range(9):
            await desk.press(*["down"] * 20)
        bottom = desk.text
        assert "more line" not in bottom
        await desk.press("up")
        assert "2 more lines" in desk.text
        await desk.press("f1")
        assert "Keys of the form for a plan" in desk.text
        await desk.click("Esc back")
        assert "2 more lines" in desk.text


# What keys do.


def test_errors_are_told_as_one_types_and_go_as_one_goes_on():
    form = form_of(page="zones")
    form.column = 4
    press(form, "=2")
    assert "is missing, but other zones have it" in form.known.wrongs[0].problem.wrong
    press(form, "escape")
    assert form.known.wrongs == ()
    form = form_of(page="areas")
    press(form, "=5x")
    assert '✗ "5x" is not valid; use a number above 0 and up to 400' in text(form)
    press(form, "backspace")
    assert "✗" not in text(form)
    press(form, "enter")
    assert form.draft["zones"][0]["area_cm2"] == 5


@pytest.mark.parametrize("leaving", ["enter", "tab", "down"])
def test_a_wrong_field_says_why_when_it_is_left(leaving: str):
    form = press(form_of(), "=AN NA", leaving)
    assert (form.page, form.row) != (0, 0)
    assert '✗ case code: "AN NA" is not valid; use 1 to 32 capitals' in text(form)
    press(form, "shift+tab" if leaving == "tab" else "down")
    assert form.message == ""
    assert '"AN NA" is not valid' in text(form)  # under its row, or under the fields where the cursor is
    press(form, "home", "up", "up", "=A1", "enter")
    assert "✗" not in text(form)


def test_fields_where_a_name_might_be_typed_say_that_none_belongs_there():
    for row in (0, 1):
        form = form_of()
        form.row = row
        assert "Never the patient's name or record number." in text(form)
    assert "Never a whole name." in text(form_of(page="staff"))
    assert "Never" not in text(form_of(page="limits"))


def test_from_an_empty_form_to_the_first_tap_are_fifteen_keys(tmp_path: Path):
    menus, now_ms = OpenMenus(Found(where=str(tmp_path)), NOW_MS), NOW_MS
    assert menus.take("n", "n", now_ms) == Chosen("write plan")
    form, _ = begin(None, tmp_path, opens=True)
    typed = ("tab", "F", "enter", "9", "enter", "5", "0")
    press(form, *typed)
    assert form_keys.press(form, "f5", None) == "open"
    plan = form.known.plan
    assert plan is not None
    assert (plan.zones[0].label, plan.planned("1", "F")) == ("zone F", 50)
    PlanFile(tmp_path).save(form.draft, tmp_path / "plan.toml", replace=False)
    menus.show_result(Result("", then=partial(make_case, tmp_path / "plan.toml", plan)))
    who = ("A", "B", "enter")
    for key in who:
        made = menus.take(key, key if len(key) == 1 else None, now_ms)
    assert made is not None
    case = attempted(made, tmp_path).case
    assert case is not None
    menus.show_found(found_in((tmp_path,)), now_ms)
    menus.go_to(case, now_ms)
    seated = ("1", "1")
    for key in seated:
        opened = menus.take(key, key, now_ms)
    assert opened == Chosen("open", case, "cutting", "AB")
    assert len(("n", *typed, "f5", *who, *seated, "tap")) == 15


def test_right_at_the_end_of_what_is_typed_goes_to_the_next_field():
    form = press(form_of(page="targets"), "4", "1", "right", "2", "enter")
    assert form.draft["zones"][0]["targets"] == {"1": 41, "2": 2}
    form = press(
        form_of(page="targets"), "4", "1", "left", "left", "right", "5", "right", "right", "2", "enter"
    )
    assert form.draft["zones"][0]["targets"] == {"1": 451, "2": 2}


@pytest.mark.parametrize(("letter", "wants"), [("s", "save"), ("o", "open")])
def test_a_letter_that_is_a_key_is_not_typed_as_well(letter: str, wants: str, tmp_path: Path):
    form, _ = begin(None, tmp_path, opens=True)
    press(form, "tab", "F", "enter", "9", "enter", "5", "0", "enter")  # in the empty field of another number
    assert form_keys.press(form, letter, letter) == wants
    assert form.typed is None
    assert form.known.plan is not None


def test_escape_gives_the_field_back_and_enter_takes_it_and_goes_on():
    form = form_of()
    press(form, "down", "=other", "escape")
    assert not form.changed
    press(form, "enter", "= one", "enter")
    assert form.draft["title"] == "a small case one"
    form = form_of(page="targets")
    press(form, "=41", "enter", "=2", "enter")
    assert form.draft["zones"][0]["targets"] == {"1": 41, "2": 2}


def test_typing_goes_on_at_the_caret():
    form = press(form_of(), "down", "enter", "home", "=so ", "right", "right", "delete", "end", "=!", "enter")
    assert form.draft["title"] == "so a mall case!"


@pytest.mark.parametrize("typed", ["0,0 " * 1900, "漢" * 150])
def test_of_a_long_text_the_part_around_the_caret_is_shown(typed: str):
    form = form_of(draft_of(every_shape()), "areas")
    form.row, form.column = 3, 2
    form.paste(typed)
    press(form, "9")
    for key in ("end", "home"):
        press(form, key)
        lines = form_lines(form, 40, 12)
        assert [each for each in lines if width_of(each) > 40] == []
        assert any("9▌" in text_of(each) for each in lines) == (key == "end")
    assert "Esc again leaves" in press(form_of(), "escape").message


def test_keys_are_typed_in_capitals_and_a_comma_is_a_point():
    form = form_of(page="zones")
    press(form, "=hl", "enter")
    assert form.draft["zones"][0]["key"] == "HL"
    form = form_of(page="areas")
    press(form, "=4,5", "enter")
    assert form.draft["zones"][0]["area_cm2"] == 4.5


def test_letters_are_typed_where_letters_belong_and_are_keys_elsewhere():
    form = form_of(page="zones")
    press(form, "right", "=nx", "enter")
    assert form.draft["zones"][0]["label"] == "nx"
    form = form_of(page="targets")
    press(form, "n")
    assert len(form.draft["zones"]) == 4
    assert form.row == 3
    press(form, "x")
    assert "Remove 4 of zones?" in text(form)
    press(form, "n")
    assert len(form.draft["zones"]) == 4
    press(form, "delete", "y")
    assert len(form.draft["zones"]) == 3


def test_letters_are_keys_after_esc_where_they_would_be_typed():
    form = form_of(page="zones")
    press(form, "escape", "n")
    assert len(form.draft["zones"]) == 4
    press(form, "=nx", "enter")  # the letter after that is typed again
    assert form.draft["zones"][3]["key"] == "NX"
    assert len(form.draft["zones"]) == 4
    press(form, "escape", "u")
    assert form.draft["zones"][3].get("key") != "NX"
    press(form, "escape", "p")
    assert form.page == PROBLEMS
    press(form, "r")
    assert form.page == ADVICE
    form = form_of()
    press(form, "escape", "down", "=s", "enter")  # a move ends it
    assert form.draft["title"] == "s"


def test_esc_leaves_and_s_saves_wherever_nothing_is_typed():
    words, numbers = form_of(), form_of(page="targets")
    assert [form_keys.press(words, "escape", None) for _ in range(2)] == ["", "leave"]
    assert form_keys.press(numbers, "escape", None) == "leave"
    press(numbers, "=4")
    assert form_keys.press(numbers, "escape", None) == ""  # the field is as it was
    assert form_keys.press(numbers, "s", "s") == "save"
    assert form_keys.press(words, "s", "s") == ""  # it is typed
    assert words.typed is not None
    press(words, "escape", "escape")
    assert form_keys.press(words, "s", "s") == "save"


@pytest.mark.parametrize("size", [(80, 24), (60, 18), (40, 12), (120, 40)])
def test_the_bar_names_no_function_key_but_the_help(size: tuple[int, int]):
    for page in PAGE_NAMES:
        bar = text(form_of(page=page), *size).split("\n")[-2:]
        assert "F1" in " ".join(bar)
        assert not re.search(r"F([2-9]|10)", " ".join(bar))
        words = " ".join(bar)
        assert ("s save" in words and "Esc leave" in words) or re.search(r"Esc:\s+save\s+leave", words)


def test_a_choice_is_offered_and_may_be_left_out():
    form = form_of(page="zones")
    press(form, "right", "right", "enter")
    assert "1: hairline" in text(form)
    press(form, "1")
    assert form.draft["zones"][0]["kind"] == "hairline"
    press(form, "f", "escape")
    assert form.draft["zones"][0]["kind"] == "hairline"
    press(form, "enter", "0")
    assert "kind" not in form.draft["zones"][0]


def test_a_zone_is_called_not_treated_by_a_choice_and_treated_again():
    form = form_of(page="zones")
    press(form, *["right"] * 8, "enter", "1")
    assert form.draft["zones"][0]["not_treated"] is True
    assert "yes" in text(form)
    assert "✗targets" in text(form)
    assert "of LINE: is set, but the zone is not treated" in text(form_of(form.draft, "problems"), 120, 40)
    press(form, "enter", "0")
    assert "not_treated" not in form.draft["zones"][0]
    assert form.draft == draft_of(small_plan())


def test_existing_hair_is_typed_and_added_to_the_new():
    """Small plan, frontal: 10 ones, 50 twos, 20 threes on 10 cm² are 17 hairs/cm²."""
    form = form_of(page="hairs")
    form.row = 1
    press(form, "=40", "enter")
    assert form.draft["zones"][1]["existing_hairs_per_cm2"] == 40
    form.row = 1
    assert "frontal: 8.0 grafts/cm², 17.0 hairs/cm², 57.0 with the old" in text(form)


def test_until_when_care_is_due_is_chosen_and_may_be_left_out():
    form = form_of(page="limits")
    press(form, *["down"] * 6, "enter", *"3.5", "enter", "enter", "2")
    assert form.draft["limits"]["out_of_body_hours"] == 3.5
    assert form.draft["limits"]["care_until"] == "end of work"
    assert not form.known.wrongs
    press(form, "enter", "0")
    assert "care_until" not in form.draft["limits"]


def test_a_reminder_is_filled_in_and_once_is_a_truth_in_the_file():
    form = form_of(page="care")
    place = len(form.draft.get("care", []))
    press(form, "f7", *"tea", "enter", *"a drink", "enter", "enter", "4")
    assert form.draft["care"][place] == {"key": "tea", "label": "a drink", "kind": "reminder"}
    assert "every_minutes: is missing" in " ".join(str(each.problem) for each in form.known.wrongs)
    press(form, *["right"] * 7, *"15:30", "enter", "enter", "1")
    assert form.draft["care"][place]["once"] is True
    assert not form.known.wrongs
    assert plan_from_raw(tomllib.loads(written(form.draft).text), "it").care[place].once is True
    assert "yes" in text(form)
    press(form, "enter", "0", "left", "left", "enter", "1")
    assert form.draft["care"][place]["starts"] == "opening"
    assert "once" not in form.draft["care"][place]
    assert "is set, and starts is too" in " ".join(str(each.problem) for each in form.known.wrongs)


def test_a_field_that_is_in_no_list_is_emptied():
    form = press(form_of(), "down", "f8")
    assert "title" not in form.draft
    press(form, "f6")
    assert form.draft["title"] == "a small case"
    assert not press(Form(draft_of(small_plan()), revising=True), "f8").changed
    form = press(form_of(), "down", "backspace", "backspace", "enter")
    assert form.draft["title"] == "a small ca"


def test_the_last_changes_are_taken_back_one_by_one():
    form = form_of(page="harvests")
    press(form, "f7", "f7", "f8", "y", "f6")
    assert [harvest["key"] for harvest in form.draft["harvests"]] == ["A", "B", "C", "D"]
    press(form, "f6", "f6")
    assert not form.changed
    press(form, "f6")
    assert "nothing to undo" in form.message


def test_pages_turn_with_what_is_typed_taken():
    form = press(form_of(), "=NEW-1", "tab")
    assert (form.page, form.draft["case"]) == (1, "NEW-1")
    press(form, "shift+tab")
    assert form.page == 0
    press(form, "pageup")
    assert form.page == PROBLEMS
    press(form, "pagedown")
    assert form.page == 0


def test_what_is_pasted_is_typed_in_one_line():
    form = form_of(draft_of(every_shape()), "areas")
    form.row, form.column = 3, 2
    form.paste("0,0\u202e 3,0 3,4")
    press(form, "enter")
    assert form.draft["zones"][3]["shape"]["points_cm"] == [[0, 0], [3, 0], [3, 4]]


def test_the_case_keeps_its_code_while_the_plan_is_changed():
    form = Form(draft_of(small_plan()), revising=True)
    press(form, "=X")
    assert "the case keeps its code" in text(form)
    press(form, "enter")
    form.paste("X")
    assert not form.changed


MOVING = [
    "up",
    "down",
    "left",
    "right",
    "home",
    "end",
    "enter",
    "escape",
    "tab",
    "shift+tab",
    "pagedown",
    "pageup",
    "space",
    "backspace",
]
OTHERS = ["delete", "insert", "f1", "f2", "f3", "f4", "f6", "f7", "f8", "f10", "ctrl+c", "kp_begin"]
KEYS_PRESSED = st.sampled_from((*MOVING, *OTHERS, *"0123456789ynxM.,- \"'é"))


@given(
    st.integers(0, len(SAMPLES) - 1),
    st.integers(0, len(PAGE_NAMES) - 1),
    st.lists(KEYS_PRESSED, max_size=40),
    st.sampled_from(SIZES),
)
def test_any_keys_leave_a_form_that_can_be_shown(
    sample: int, page: int, keys: list[str], size: tuple[int, int]
):
    form = Form(load_raw(SAMPLES[sample]), revising=page % 2 == 1)
    form.page = page
    form.size = size
    for key in keys:
        press(form, key)
        lines = form_lines(form, *size)
        assert len(lines) == size[1]
        assert [each for each in lines if width_of(each) > size[0]] == []


# On the real application.


class Desk:
    """Somebody at the form: presses keys, clicks on words, reads the screen."""

    def __init__(self, app: BoardApp[Outcome], pilot: Pilot[Outcome]) -> None:
        self.app, self.pilot = app, pilot
        self.at = time.monotonic()

    @property
    def text(self) -> str:
        return self.app.shown.board.text

    async def press(self, *keys: str) -> None:
        for key in keys:
            for each in key[1:] if key.startswith("=") else (key,):
                name = "space" if each == " " else each
                event = events.Key(name, CHARACTERS.get(name, each if len(each) == 1 else None))
                event.set_sender(self.app)
                self.app.post_message(event)
                await self.pilot.pause()

    async def click(self, words: str) -> None:
        """Click on the first place where ``words`` stand."""
        await asyncio.sleep(DOUBLE_CLICK + 0.05)  # what has only just come under the pointer is left out
        for row, line in enumerate(self.text.split("\n")):
            if words in line:
                await self.click_at(line.index(words) + len(words) // 2, row)
                return
        raise AssertionError(f"{words!r} is not on the screen:\n{self.text}")

    async def click_at(self, column: int, row: int) -> None:
        for kind in (events.MouseDown, events.MouseUp):
            event = kind(None, column, row, 0, 0, 1, False, False, False)
            event.set_sender(self.app)
            self.app.post_message(event)
        await self.pilot.pause()
        await self.pilot.pause()


@asynccontextmanager
async def at_form(
    begun: Form | Path | None, folder: Path, size: tuple[int, int] = (80, 24)
) -> AsyncIterator[Desk]:
    form, plan_file = (begun, PlanFile(folder)) if isinstance(begun, Form) else begin(begun, folder)
    app: BoardApp[Outcome] = BoardApp(PlanFormScreen(form, plan_file))
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        yield Desk(app, pilot)


@pytest.fixture(autouse=True)
def _no_settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(plan_form, "this_clinic", Clinic)


async def read_help(desk: Desk) -> str:
    """Every page of the help, turned by F1 until the form is there again."""
    found = []
    await desk.press("f1")
    while desk.app.shown.reading is not None:
        found += desk.text.split("\n")[2:-1]
        await desk.press("f1")
    return " ".join(" ".join(found).split())


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize(
    ("page", "column", "keys", "asked"),
    [
        ("case", 0, (), ""),
        ("case", 0, ("=NEW", "left"), "case code, typed: NEW▌"),
        ("zones", 0, ("f8",), "Remove LINE of zones?"),
    ],
)
async def test_f1_tells_what_is_asked_and_leads_back_to_the_field_with_what_is_typed(
    tmp_path: Path, size: tuple[int, int], page: str, column: int, keys: tuple[str, ...], asked: str
):
    form = form_of(page=page)
    form.column = column
    async with at_form(form, tmp_path, size) as desk:
        await desk.press(*keys)
        before, question, draft = desk.text, form.question, form.draft
        shown = await read_help(desk)
        assert "s save the plan; only a plan without problems can be saved" in shown
        assert "480/484 grafts planned" in shown
        assert asked in shown
        await desk.press("f1", "escape")
        assert desk.text == before
        assert (form.question, form.draft) == (question, draft)
        await desk.press("f1", "y")  # any other key closes the help and does its own work
        assert desk.app.shown.reading is None
        if question is not None:
            assert [each["key"] for each in form.draft["zones"]] == ["FRONT", "MID"]
        else:
            assert form.typed.text == ("NEYW" if keys else "Y")


async def test_a_small_plan_is_typed_from_nothing_by_keys_only(tmp_path: Path):
    async with at_form(None, tmp_path) as desk:
        await desk.press("=T-1", "enter", "=typed", "enter", "tab", "tab")
        for _ in "34":  # the clinic's sizes 3 and 4 are not used
            await desk.press("up", "up", "down", "down", "x", "y")
        await desk.press("tab", "=hl", "enter", "=hairline left", "enter", "enter", "1")
        await desk.press("f7", "=fc", "enter", "=frontal core", "enter", "enter", "4", "tab")
        await desk.press("=4", "enter", "down", "home", "right", "enter", "1", "right", "=5", "enter", "=4,5")
        await desk.press(
            "tab", "=120", "enter", "home", "down", "right", "=200", "enter", "tab", "tab", "tab"
        )
        await desk.press("=10", "enter", "=1", "enter", "=70 65", "enter", "=0,4", "enter", "=0,6", "enter")
        assert "320/675  1: 120/270  2: 200/405" in desk.text
        await desk.press("=2", "f2")
        assert "not saved: 1 problem" in desk.text
        await desk.press("f3", "enter")
        assert "✗ 2 is not valid; use a number from 0 to 1" in desk.text
        await desk.press("=0,1", "f2")
    assert [path.name for path in tmp_path.iterdir()] == ["T-1.toml"]
    plan = load_plan(tmp_path / "T-1.toml")
    assert (plan.title, plan.planned("1"), plan.planned("2")) == ("typed", 120, 200)
    assert [zone.kind for zone in plan.zones] == ["hairline", "frontal"]
    assert plan.zones[1].measured_cm2 == pytest.approx(17.67, abs=0.01)


async def test_fields_are_filled_in_by_mouse_only(tmp_path: Path):
    path = tmp_path / "plan.toml"
    path.write_bytes(SOUND[1].read_bytes())
    async with at_form(path, tmp_path) as desk:
        before = desk.app.shown.form.draft
        await desk.click("▸ DEMO-")
        for letter in "Z2":
            await desk.click(f" {letter} ")
        await desk.click(" Enter ")
        assert desk.app.shown.form.draft["case"] == f"{before['case']}Z2"
        await desk.click("zones")
        await desk.click("frontal")
        await desk.click("frontal")
        await desk.click("5: mid-scalp")
        row = desk.app.shown.form.row
        assert desk.app.shown.form.draft["zones"][row]["kind"] == "mid-scalp"
        await desk.click("targets")
        await desk.click("n add")
        await desk.click("x remove")
        await desk.click(" y yes ")
        await desk.click("s save")
    code = f"{before['case']}Z2"
    assert load_plan(tmp_path / f"{code}.toml").case == code
    assert path.read_bytes() == SOUND[1].read_bytes()


async def test_a_double_click_on_a_field_opens_it_and_a_letter_may_be_clicked_twice(tmp_path: Path):
    async with at_form(SOUND[0], tmp_path) as desk:
        row = next(row for row, line in enumerate(desk.text.split("\n")) if "title" in line)
        await desk.click_at(20, row)
        await desk.click_at(20, row)
        form = desk.app.shown.form
        assert form.typed is not None
        await desk.click(" L ")
        await desk.press("enter", "up")
        await desk.press("=A")
        column, row = next(
            (line.index(" L ") + 1, row) for row, line in enumerate(desk.text.split("\n")) if " L " in line
        )
        await asyncio.sleep(DOUBLE_CLICK + 0.05)
        await desk.click_at(column, row)
        await desk.click_at(column, row)
        assert form.typed.text == "ALL"


async def test_while_a_question_is_open_only_its_answers_can_be_clicked(tmp_path: Path):
    async with at_form(SOUND[0], tmp_path) as desk:
        await desk.press("tab", "delete")
        await desk.click("zones")
        assert "a question is open" in desk.text
        await desk.click("Esc back")
        assert not desk.app.shown.form.changed


async def test_a_file_is_replaced_only_when_asked_and_keeps_its_comments(tmp_path: Path):
    path = tmp_path / "plan.toml"
    before = SOUND[0].read_text("utf-8")
    path.write_text(before, "utf-8")
    async with at_form(path, tmp_path) as desk:
        await desk.press("down", "=other", "enter", "f2")
        assert "plan.toml is there already." in desk.text
        await desk.press("escape")
        assert path.read_text("utf-8") == before
        path.write_text(before + "# mine\n", "utf-8")
        await desk.press("f2")
        assert "Someone else has changed it." in desk.text
        await desk.press("2")
    assert path.read_text("utf-8") == before + "# mine\n"
    beside = tmp_path / "plan.2.toml"
    assert beside.read_text("utf-8") == before.replace(f'"{load_plan(path).title}"', '"other"')
    async with at_form(beside, tmp_path) as desk:
        await desk.press("down", "=third", "enter", "f2", "1")
    assert load_plan(beside).title == "third"


@pytest.mark.parametrize(("key", "opens"), [("s", False), ("o", True)])
async def test_saving_a_plan_and_opening_its_case_are_two_keys(tmp_path: Path, key: str, opens: bool):
    path = tmp_path / "plan.toml"
    path.write_text(SOUND[0].read_text("utf-8"), "utf-8")
    form, _ = begin(path, tmp_path, opens=True)
    async with at_form(form, tmp_path) as desk:
        assert "o save, open case" in desk.text
        await desk.press("escape", key)
    outcome = desk.app.return_value
    assert outcome is not None
    assert outcome.open_case is opens
    assert outcome.file is not None
    async with at_form(path, tmp_path) as desk:  # from the command line no case can be opened
        assert "open case" not in desk.text
        await desk.press("escape", "o")
        assert desk.app.return_value is None


async def test_a_plan_is_changed_and_saved_with_plain_keys_alone(tmp_path: Path):
    path = tmp_path / "plan.toml"
    path.write_text(SOUND[0].read_text("utf-8"), "utf-8")
    async with at_form(path, tmp_path) as desk:
        await desk.press("down", "=other", "enter", "up", "up", "escape", "p", "s")
        assert "plan.toml is there already." in desk.text
        await desk.press("1")
    assert load_plan(path).title == "other"
    async with at_form(path, tmp_path) as desk:
        await desk.press("down", "=third", "enter", "up", "up", "escape", "escape")
        assert "The plan is not saved. Leave?" in desk.text
        await desk.press("2")
    assert load_plan(path).title == "other"


async def test_a_file_that_cannot_be_written_is_said_and_nothing_is_lost(tmp_path: Path):
    async with at_form(SOUND[0], tmp_path / "gone") as desk:
        await desk.press("=NEW", "f2")
        assert "cannot be written" in " ".join(desk.text.split())
        assert desk.app.shown.form.draft["case"] == "NEW"


async def test_leaving_asks_what_becomes_of_what_was_changed(tmp_path: Path):
    async with at_form(SOUND[0], tmp_path) as desk:
        await desk.press("=X", "f10")
        assert "The plan is not saved. Leave?" in desk.text
        await desk.press("escape", "f10", "1")
        await desk.pilot.pause()
        outcome = desk.app.return_value
    assert outcome == Outcome(draft=tmp_path / "X.draft.toml")
    assert load_raw(tmp_path / "X.draft.toml")["case"] == "X"
    async with at_form(SOUND[0], tmp_path) as desk:
        await desk.press("f10")
        assert desk.app.return_value == Outcome()


async def test_an_earlier_cases_plan_begins_a_new_one_and_the_case_is_only_read(tmp_path: Path):
    case = new_case(tmp_path / "case.orroom")
    entries = read_case(case).seq
    async with at_form(case, tmp_path) as desk:
        assert re.search(r"PLAN  \d{6}-1 ", desk.text)  # a code of its own, to be typed over
        await desk.press("=NEXT-1", "f2")
    assert load_plan(tmp_path / "NEXT-1.toml") == small_plan(case="NEXT-1")
    assert read_case(case).seq == entries


async def test_the_form_is_shown_at_every_size_and_says_when_there_is_no_room(tmp_path: Path):
    async with at_form(SOUND[0], tmp_path, (120, 40)) as desk:
        for width, height in ((40, 12), (20, 5), (80, 24)):
            await desk.pilot.resize_terminal(width, height)
            await desk.pilot.pause()
            assert ("Too small" in desk.text) == (width == 20)
        assert "DEMO-" in desk.text


# Changes during a case.


async def test_a_plan_is_changed_with_a_reason_and_what_is_placed_stays(tmp_path: Path):
    case = new_case(tmp_path / "case.orroom")
    with station(case, who="EF") as desk:
        entered(desk, c.StartHarvest(harvest="A", minutes_ago=5))
        entered(desk, c.CutGrafts(harvest="A", size="1", count=9))
        entered(desk, c.PlaceGrafts(zone="LINE", size="1", count=5))
    state = read_case(case)
    form = Form(draft_of(state.plan), revising=True, why_not=lambda plan: refused(state, plan, "RS"))
    app: BoardApp[Outcome] = BoardApp(PlanFormScreen(form, PlanFile(tmp_path)))
    async with app.run_test(size=(80, 24)) as pilot:
        desk_ = Desk(app, pilot)
        await desk_.press("f2")
        assert "nothing is changed yet" in desk_.text
        await desk_.press("tab", "tab", "tab", "tab", "tab", "delete", "y")
        form.change({**form.draft, "zones": [zone | {"neighbours": []} for zone in form.draft["zones"]]})
        await desk_.press("f2")
        assert "Keep zone LINE in it" in desk_.text
        assert "✗ 1 problem" in desk_.text.splitlines()[0]
        await desk_.press("f6", "f6", "=44", "enter", "f2")
        assert "Why is the plan changed?" in desk_.text
        await desk_.press("0", "=more in front", "enter")
    assert app.return_value is not None
    assert app.return_value.reason == "more in front"
    assert app.return_value.plan is not None
    assert app.return_value.plan.planned("1", "LINE") == 44


def test_the_command_records_what_the_form_came_to(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    case = new_case(tmp_path / "case.orroom")
    outcomes = iter(
        [
            Outcome(plan=small_plan(title="other"), reason="as decided"),
            Outcome(),
        ]
    )
    asked = []

    def changed_in(plan: object, folder: Path, why_not: object) -> Outcome:
        asked.append((plan, folder))
        return next(outcomes)

    monkeypatch.setattr(plan_form, "changed_in", changed_in)
    result = CliRunner().invoke(main, ["revise", str(case), "--who", "RS"])
    assert result.exit_code == 0, result.output
    assert isinstance(event := read_case(case).log[-1].event, PlanRevised)
    assert (event.plan.title, event.reason) == ("other", "as decided")
    assert asked == [(small_plan(), tmp_path)]
    assert "the plan stays as it is" in CliRunner().invoke(main, ["revise", str(case), "--who", "RS"]).output


def test_what_the_record_refuses_after_all_is_kept_as_a_draft(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    case = new_case(tmp_path / "case.orroom")

    def meanwhile(plan: object, folder: Path, why_not: object) -> Outcome:
        with station(case, role="overview", who="EF") as desk:
            entered(desk, c.RevisePlan(plan=small_plan(title="theirs"), reason="theirs"))
        return Outcome(plan=small_plan(title="ours"), reason="ours")

    monkeypatch.setattr(plan_form, "changed_in", meanwhile)
    result = CliRunner().invoke(main, ["revise", str(case), "--who", "RS"])
    assert result.exit_code == 1
    assert "has been changed by someone else" in result.output
    assert load_plan(tmp_path / "SMALL-1.draft.toml").title == "ours"
    assert read_case(case).plan.title == "theirs"


def test_a_plan_file_needs_a_reason(tmp_path: Path):
    case = new_case(tmp_path / "case.orroom")
    result = CliRunner().invoke(main, ["revise", str(case), str(SOUND[0]), "--who", "RS"])
    assert result.exit_code == 2
    assert "--reason" in result.output


def test_without_a_terminal_there_is_no_form(tmp_path: Path):
    result = CliRunner().invoke(main, ["plan"])
    assert result.exit_code == 1
    assert "terminal" in result.output


# In a pseudo-terminal.


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGHUP, "the terminal goes away"])
def test_what_is_typed_is_kept_when_the_form_is_ended(how: signal.Signals | str, tmp_path: Path):
    plan = tmp_path / "mine.toml"
    terminal = Terminal("plan", str(plan))
    try:
        terminal.until(lambda: b"case code" in terminal.seen)
        terminal.type("KEPT-1")
        terminal.until(lambda: b"KEPT-1" in terminal.seen)
        terminal.rest(0.5)  # the program sleeps until something wakes it
        if isinstance(how, signal.Signals):
            terminal.process.send_signal(how)
        else:
            os.close(terminal.master)
            terminal.master = os.open(os.devnull, os.O_RDONLY)
        code = terminal.process.wait(10)
        assert code == 128 + (how if isinstance(how, signal.Signals) else signal.SIGHUP)
        if isinstance(how, signal.Signals):  # in order: the terminal is as it was before
            terminal.until(lambda: b"\x1b[?1049l" in terminal.seen)
    finally:
        terminal.close()
    draft = load_raw(tmp_path / "mine.draft.toml")
    assert draft["case"] == "KEPT-1"
    assert not plan.exists()


def test_a_draft_is_gone_on_with_and_becomes_the_plan(tmp_path: Path):
    kept = PlanFile(tmp_path).keep_draft({**draft_of(small_plan()), "title": ""})
    terminal = Terminal("plan", str(kept))
    try:
        terminal.until(lambda: b"1 problem" in terminal.seen)
        terminal.type("\x1b[B", apart=0.05)
        terminal.type("done\r", apart=0.05)
        terminal.until(lambda: b"no problems" in terminal.seen)
        terminal.send(b"\x1bOQ")
        terminal.until(lambda: terminal.process.poll() is not None)
    finally:
        terminal.close()
    assert terminal.process.returncode == 0
    assert load_plan(tmp_path / "SMALL-1.toml").title == "done"


def test_a_click_on_how_many_problems_or_remarks_there_are_leads_to_them():
    draft = draft_of(small_plan())
    for wrong in (False, True):
        form = Form({**draft, "title": "x" * 99} if wrong else draft)
        spans = [span for each in form_lines(form, 80, 24, "plan.toml") for span in each]
        words = "✗ 1 problem" if wrong else "● no problems"
        assert [span.action for span in spans if span.text == words] == [f"page({PROBLEMS})"]
        pages = {span.action for span in spans if span.action.startswith("page")}
        assert pages <= {f"page({number})" for number in range(len(PAGE_NAMES))}
