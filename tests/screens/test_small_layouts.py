"""At every size a screen says what it leaves out, cuts nothing unmarked, keeps what is to be pressed."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from cases import MINUTE_MS, Record, case_under_way, opened_case
from free_keys import free_keys
from larger_cases import crowded
from painted import PAINTERS

from orroom.case import commands as c
from orroom.case.events import CountedGroup, RecordDiffered
from orroom.case.final_count import groups_to_count, person_counts, replaced_counts
from orroom.case.state import Stock
from orroom.case.terms import CAUTIONS, ROLES, Role
from orroom.figures.pace.rest_of_day import Foretold, foretold
from orroom.figures.recount import recount
from orroom.files.plan_draft import draft_of
from orroom.files.plan_file import load_plan
from orroom.screens.plan_form.form import PAGE_NAMES, Form
from orroom.screens.plan_form.keys import press
from orroom.screens.plan_form.lines import form_lines
from orroom.screens.settings.lines import Look, settings_lines
from orroom.screens.settings.pages import pages as settings_pages
from orroom.screens.settings.sheet import Sheet
from orroom.screens.start.chosen import Found, initials_menu
from orroom.screens.start.lines import MenuLook, menu_lines
from orroom.screens.start.menus import home_menu
from orroom.screens.stations import questions
from orroom.screens.stations.views.compared import compared_lines
from orroom.screens.stations.views.cutting import cutting_lines
from orroom.screens.stations.views.final_count import CountUnderWay, counting_lines
from orroom.screens.stations.views.frame import Glance
from orroom.screens.stations.views.overview import overview_book, overview_lines
from orroom.screens.stations.views.pages import figure_blocks, help_blocks, page_lines
from orroom.screens.stations.views.placing import placing_lines
from orroom.screens.terminal.asking import Question
from orroom.screens.terminal.keys import Keys
from orroom.screens.terminal.pages import AROUND, paged
from orroom.screens.terminal.painting import Line, fitted, text_of, width_of
from orroom.words.explanation import Asked
from orroom.words.worked_out import worked_out

SAMPLES = Path(__file__).parents[2] / "sample_cases"
SIZES = ((80, 24), (60, 20), (44, 14), (40, 12), (30, 10))


def day() -> Record:
    """Ten zones of a sample plan: cutting and placing go on, some prompts are overdue."""
    record = opened_case(load_plan(SAMPLES / "frontal-midscalp" / "plan.toml"))
    record.enter(c.StartHarvest(harvest="A"))
    for _ in range(20):
        record.wait(5)
        record.enter(c.CutGrafts(harvest="A", size="1", count=60))
        record.enter(c.PlaceGrafts(zone="HL", size="1", count=5))
    return record


def read_too_warm() -> Record:
    """A small case whose temperature was read, too warm: its prompt says so in brackets."""
    record = case_under_way()
    care = next(each.key for each in record.state.plan.care if each.kind == "temperature")
    record.enter(c.GiveCare(care=care, temperature_c=11.5))
    return record


def counted(*found: tuple[str, int]) -> Record:
    """A small case whose grafts were counted by each, so many twos in the dish."""
    record = case_under_way()
    for who, twos in found:
        groups = []
        for group in groups_to_count(record.state):
            held = record.tally.stock.get(Stock(group.size, group.harvest, group.place), 0)
            twos_there = (group.size, group.place) == ("2", "dish")
            groups.append(
                CountedGroup(
                    size=group.size,
                    harvest=group.harvest,
                    place=group.place,
                    found=twos if twos_there else held,
                )
            )
        record.enter(c.CountAll(groups=tuple(groups), since=record.state.seq), who)
    return record


CROWDED = crowded()
RECORDS = {"small": case_under_way(), "day": day(), "crowded": CROWDED}


def actions_in(lines: list[Line], width: int) -> set[str]:
    """What can be clicked on the lines as they are shown."""
    return {span.action for each in lines for span in fitted(each, width) if span.action}


def words_in(lines: list[Line]) -> str:
    return "\n".join(text_of(each) for each in lines)


@cache
def foretold_now(record: Record) -> Foretold:
    return foretold(record.state, record.now_ms)


def glance_of(record: Record, role: Role, size: tuple[int, int]) -> Glance:
    return Glance(
        role=role,
        who="AB",
        width=size[0],
        height=size[1],
        harvest=next(iter(record.state.plan.harvest_by_key)),
        foretold=foretold_now(record),
    )


def assert_marked(lines: list[Line], size: tuple[int, int], why: object) -> None:
    """So many lines, none wider than the terminal: what is too long was cut by the screen, with its mark."""
    assert len(lines) == size[1], why
    assert [text_of(each) for each in lines if width_of(each) > size[0]] == [], why


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("role", ROLES)
def test_no_line_of_a_live_screen_that_asks_something_is_wider_than_its_terminal(
    role: Role, size: tuple[int, int]
):
    for name, record in RECORDS.items():
        for asked in (Question(questions.leave()), Question(questions.harvest(record.state))):
            glance = glance_of(record, role, size)
            glance.question = asked
            for page in range(len(overview_book(record.state, record.now_ms, glance).pages)):
                glance.page = page
                lines = PAINTERS[role](record.state, record.now_ms, glance)
                assert_marked(lines, size, (name, asked.step))


@pytest.mark.parametrize("size", [*SIZES, (120, 40), (160, 45), (200, 60)], ids=str)
@pytest.mark.parametrize("role", ROLES)
def test_no_sentence_of_a_live_screen_ends_in_mid_bracket_nor_at_the_edge(role: Role, size: tuple[int, int]):
    for name, record in {**RECORDS, "read": read_too_warm()}.items():
        for late in (0, 25, 90):
            glance = glance_of(record, role, size)
            now_ms = record.now_ms + late * MINUTE_MS
            for page in range(len(overview_book(record.state, now_ms, glance).pages)):
                glance.page = page
                lines = PAINTERS[role](record.state, now_ms, glance)
                assert_marked(lines, size, (name, late))
                for row in map(text_of, lines):
                    assert (row.count("("), row.count("[")) == (row.count(")"), row.count("]")), (name, row)


@pytest.mark.parametrize("size", [each for each in SIZES if each[1] < 20 or each[0] < 70], ids=str)
def test_a_cutting_screen_without_its_facts_says_so(size: tuple[int, int]):
    for record in RECORDS.values():
        text = words_in(cutting_lines(record.state, record.now_ms, glance_of(record, "cutting", size)))
        assert "hidden: segment, team" in text


def test_a_full_screen_hides_nothing_and_says_nothing_of_it():
    for role in ROLES:
        glance = glance_of(RECORDS["day"], role, (80, 24))
        assert "hidden" not in words_in(PAINTERS[role](RECORDS["day"].state, RECORDS["day"].now_ms, glance))


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_a_placing_screen_shows_every_zone_and_size_or_says_that_some_are_hidden(size: tuple[int, int]):
    for record in RECORDS.values():
        state, glance = record.state, glance_of(record, "placing", size)
        lines = placing_lines(state, record.now_ms, glance)
        text = words_in(lines)
        shown = {each for each in actions_in(lines, size[0]) if each.startswith("go(")}
        rows = {each.split(",")[0] for each in shown}
        assert (len(rows) == len(state.plan.zones)) or "(↑ ↓)" in text
        columns = {each for each in shown if not each.endswith("'')")}
        per_row = len(columns) // max(1, len(rows))
        assert per_row == len(state.plan.sizes) or "hidden" in text


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_on_a_placing_screen_the_cursor_is_always_seen(size: tuple[int, int]):
    for record in RECORDS.values():
        glance = glance_of(record, "placing", size)
        for zone in range(len(record.state.plan.zones)):
            for column in range(len(record.state.plan.sizes)):
                glance.zone, glance.size = zone, column
                lines = placing_lines(record.state, record.now_ms, glance)
                plan = record.state.plan
                assert any(
                    span.action == f"go('{plan.zones[zone].key}', '{plan.sizes[column].key}')"
                    and span.tone == "cursor"
                    for each in lines
                    for span in fitted(each, size[0])
                )


@pytest.mark.parametrize("size", [*SIZES, (120, 40)], ids=str)
@pytest.mark.parametrize("role", ROLES)
def test_every_key_is_on_the_key_line_or_the_help_says_that_it_has_all(role: Role, size: tuple[int, int]):
    record = RECORDS["small"]
    lines = PAINTERS[role](record.state, record.now_ms, glance_of(record, role, size))
    on_it = actions_in(lines, size[0])
    named = [each for each in Keys.standard().of(role) if each.on_key_line]
    left_out = [each for each in named if each.action not in on_it and each.action != f"role('{role}')"]
    assert ("F1 all keys" if left_out else "F1 help") in words_in(lines)


@pytest.mark.parametrize("role", ROLES)
def test_a_key_without_a_place_on_the_key_line_has_its_own_button_or_is_an_arrow(role: Role):
    record = RECORDS["day"]
    shown = actions_in(PAINTERS[role](record.state, record.now_ms, glance_of(record, role, (80, 24))), 80)
    elsewhere = ("lane(", "no_lane", "stick_and_place")  # where a lane is open; at the help, once in a case
    for each in Keys.standard().of(role):
        if not each.on_key_line and not each.action.startswith(elsewhere):
            assert each.action in shown or each.action in {"up", "down", "left", "right"}


def test_what_matters_most_at_an_overview_is_on_its_key_lines_at_80_columns():
    record = RECORDS["day"]
    text = words_in(overview_lines(record.state, record.now_ms, glance_of(record, "overview", (80, 24))))
    for words in ("y re-plan", "k final count", "w team", "Space done: which of 3?"):
        assert words in text


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("role", ROLES)
def test_help_and_figures_are_read_whole_page_by_page(role: Role, size: tuple[int, int]):
    record = RECORDS["day"]
    glance = glance_of(record, role, size)
    zone = record.state.plan.zones[0].key
    asked = Asked(record.state, record.now_ms, "AB", "A", zone, glance.foretold)
    for blocks in (help_blocks(glance, CAUTIONS), figure_blocks(glance, worked_out(role, asked))):
        pages = paged(blocks, size[1] - AROUND)
        for page in pages:
            assert_marked(page_lines(glance, "How the figures are worked out", "f", [page]), size, page)
        said = " ".join(words_in(page) for page in pages)
        assert "…" not in said
    helped = " ".join(" ".join(words_in(page) for page in paged(help_blocks(glance, CAUTIONS), 9)).split())
    for each in Keys.standard().of(role):
        assert each.help in helped


def comparisons(record: Record, size: tuple[int, int], at: int) -> Iterator[str]:
    counts = person_counts(record.state)
    compared = recount(record.state, counts[0].found, counts[1].found)
    glance = glance_of(record, "overview", size)
    for turned in range(8):
        lines = compared_lines(record.state, record.now_ms, glance, compared, at, turned)
        assert_marked(lines, size, turned)
        actions = actions_in(lines, size[0])
        assert {"press('escape')", "press('r')", "press('o')"} <= actions
        assert ("press('a')" in actions) is (at == 1)
        yield words_in(lines)


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_a_comparison_is_read_whole_page_by_page_with_all_its_keys(size: tuple[int, int]):
    record = counted(("AB", 39), ("CD", 39))
    groups = len(groups_to_count(record.state))
    for at in range(groups):
        pages = list(comparisons(record, size, at))
        if at == 1:
            assert "39" in pages[0]
            said = " ".join(" ".join(pages).split())
            assert "nothing in the record" in said
        shown = {line for page in pages for line in page.split("\n") if line[1:3].strip() in {"●", "≠"}}
        assert len(shown) == groups


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_a_recount_says_that_it_is_not_blind_and_what_it_replaced(size: tuple[int, int]):
    record = counted(("AB", 39), ("CD", 38), ("GH", 40), ("IJ", 40))
    said = " ".join(" ".join(" ".join(comparisons_of_agreeing(record, size)).split()).split())
    assert "GH's count at 07:30 is a recount, not blind" in said
    assert "superseded, still in the record: AB 07:30 (94 in all), CD" in said
    assert [each.who for each in replaced_counts(record.state)] == ["AB", "CD"]
    assert [each.blind for each in person_counts(record.state)] == [False, False]
    blind = counted(("AB", 40), ("CD", 40))
    assert "blind" not in " ".join(comparisons_of_agreeing(blind, size))


def comparisons_of_agreeing(record: Record, size: tuple[int, int]) -> list[str]:
    counts = person_counts(record.state)
    compared = recount(record.state, counts[0].found, counts[1].found)
    glance = glance_of(record, "overview", size)
    return [
        words_in(compared_lines(record.state, record.now_ms, glance, compared, 0, turned))
        for turned in range(8)
    ]


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_who_counts_again_is_told_so_while_counting(size: tuple[int, int]):
    record = counted(("AB", 40), ("CD", 40))
    under_way = CountUnderWay("AB", groups_to_count(record.state), record.state.seq, blind=False)
    lines = counting_lines(record.state, record.now_ms, glance_of(record, "overview", size), under_way)
    assert_marked(lines, size, "recount")
    assert "not blind" in words_in(lines).lower()
    assert {f"type('{digit}')" for digit in "0123456789"} <= actions_in(lines, size[0])


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_every_way_out_of_a_menu_is_seen(size: tuple[int, int]):
    plan = case_under_way().state.plan
    for menu in (home_menu(Found(), 0), initials_menu("Cutting station: who sits there?", plan)):
        lines = menu_lines(menu, MenuLook(width=size[0], height=size[1]))
        assert_marked(lines, size, menu.title)
        shown = actions_in(lines, size[0])
        bar = range(len(menu.items), len(menu.all))
        assert {f"pick({number})" for number in bar} <= shown
        assert not menu.items or "pick(0)" in shown


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_settings_and_plan_form_fit_every_size(size: tuple[int, int], tmp_path: Path):
    sheet = Sheet(tmp_path / "settings.toml")
    for page, each in enumerate(settings_pages(sheet)):
        for row in range(len(each.rows)):
            look = Look(page=page, row=row, width=size[0], height=size[1])
            lines = settings_lines(settings_pages(sheet), "settings.toml", None, look)
            assert_marked(lines, size, each.name)
            assert {"press('escape')", "press('enter')"} <= actions_in(lines, size[0])
            assert f"change({row})" in actions_in(lines, size[0])
    form = Form(draft_of(RECORDS["small"].state.plan))
    for page in range(len(PAGE_NAMES)):
        form.go(page)
        press(form, "escape", None)  # a field that was there already is open now
        lines = form_lines(form, *size, "plan.toml")
        assert_marked(lines, size, PAGE_NAMES[page])
        assert {"press('f2')", "press('f10')"} <= actions_in(lines, size[0]), PAGE_NAMES[page]


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_whoever_has_no_keyboard_types_initials_where_a_station_asks_for_them(size: tuple[int, int]):
    glance = glance_of(RECORDS["small"], "cutting", size)
    glance.question = Question(questions.hand_over("AB"))
    lines = cutting_lines(RECORDS["small"].state, RECORDS["small"].now_ms, glance)
    letters = {f"press('{letter}')" for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ"}
    assert letters | {"press('enter')", "press('escape')"} <= actions_in(lines, size[0])


def test_how_many_more_mismatches_there_are_is_never_cut():
    for size in SIZES:
        glance = glance_of(CROWDED, "cutting", size)
        text = words_in(cutting_lines(CROWDED.state, CROWDED.now_ms, glance))
        assert "(and 49 more)" in text or "+49" in text


def test_a_key_of_another_screen_says_where_it_works():
    keys = Keys.standard()
    assert keys.elsewhere("placing", "y") == "does nothing here. On the overview screen (F4) it is: re-plan."
    assert keys.elsewhere("overview", free_keys(*ROLES)[0]) == "does nothing here; F1 shows the keys."


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("role", ROLES)
def test_that_the_record_is_not_intact_stays_on_every_screen(role: Role, size: tuple[int, int]):
    """As it was found on opening, and as the record says itself; also while something is typed."""
    width, height = size
    record = day()
    glance = Glance(
        role=role, who="AB", width=width, height=height, not_intact=3, message="x" * 200, typed="12"
    )
    for state in (record.state, changed_record().state):
        lines = PAINTERS[role](state, record.now_ms, glance)
        assert len(lines) == height
        (said,) = [each for each in map(text_of, lines) if "NOT INTACT from entry 3 on" in each]
        assert said.startswith(" ≠ ")
    glance.not_intact = None
    assert "NOT INTACT" not in "".join(map(text_of, PAINTERS[role](record.state, record.now_ms, glance)))
    said = "".join(map(text_of, PAINTERS[role](changed_record().state, record.now_ms, glance)))
    assert "NOT INTACT from entry 10 on" in said


def changed_record() -> Record:
    record = day()
    record.take(RecordDiffered(anchored=19, expected_hash="a" * 64, found_hash=None, same=9, last=17))
    return record
