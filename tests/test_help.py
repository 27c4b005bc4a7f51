"""The help of a screen: why something was refused comes first, then keys, then what the numbers mean."""

from __future__ import annotations

from pathlib import Path

import pytest
from cases import case_under_way
from stations import entered, new_case, station
from test_screens import seated

from orroom.case import commands as c
from orroom.case.rules import RULES, Refusal
from orroom.case.terms import ROLES, Role
from orroom.figures.foretold import foretold
from orroom.reports.meanings import meanings_of
from orroom.screens.views.cutting import cutting_lines
from orroom.screens.views.frame import Glance, Reading
from orroom.screens.views.overview import overview_lines
from orroom.screens.views.pages import AROUND, help_blocks, page_lines, paged
from orroom.screens.views.painting import text_of, width_of
from orroom.screens.views.placing import placing_lines

SIZES = [(80, 24), (120, 40), (200, 60), (40, 12), (30, 10)]
CAUTION = "be careful"


def help_of(role: Role, size: tuple[int, int] = (80, 24), refusal: Refusal | None = None) -> list[list[str]]:
    """The pages of a role's help, as rows of text."""
    glance = Glance(role=role, who="AB", width=size[0], height=size[1], refusal=refusal)
    pages = paged(help_blocks(glance, (CAUTION,)), size[1] - AROUND)
    return [[text_of(each) for each in page] for page in pages]


def refusal() -> Refusal:
    return case_under_way().refusal(c.CutGrafts(lot="A", size="9", count=1))


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("role", ROLES)
def test_every_number_and_mark_of_the_screen_is_told(role: Role, size: tuple[int, int]):
    whole = " ".join(" ".join(row for page in help_of(role, size) for row in page).split())
    for each in meanings_of(role):
        assert f"{each.shown} {each.means}" in whole


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("role", ROLES)
def test_the_rule_behind_a_refusal_stands_first_and_whole(role: Role, size: tuple[int, int]):
    found = refusal()
    pages = help_of(role, size, found)
    assert "The last entry was refused" in pages[0][0]
    begun = "".join("".join(row.split()) for row in pages[0])
    for words in (found.sentence, found.right, found.rule):
        assert "".join(words.split()) in begun
    assert found.rule in {rule.__name__ for rule in RULES}


@pytest.mark.parametrize("role", ROLES)
def test_nothing_is_said_of_a_refusal_where_there_was_none(role: Role):
    assert "refused" not in " ".join(row for row in help_of(role)[0])


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("role", ROLES)
def test_keys_come_before_numbers_before_cautions_and_all_fits(role: Role, size: tuple[int, int]):
    rows = [row for page in help_of(role, size) for row in page]
    at = [
        next(n for n, row in enumerate(rows) if words in row) for words in ("Space", "What the num", CAUTION)
    ]
    assert at == sorted(at)
    glance = Glance(role=role, who="AB", width=size[0], height=size[1])
    numbers = [each for block in help_blocks(glance, ()) for each in block if not any(s.action for s in each)]
    assert [text_of(each) for each in numbers if width_of(each) > size[0]] == []


def test_the_names_in_the_help_are_on_the_screens():
    record = case_under_way()
    record.enter(c.FinishSegment(lot="A"))
    record.enter(c.FinishSegment(lot="A"))
    record.enter(c.IssueGrafts(size="1", count=5))
    record.enter(c.MakeSites(zone="LINE", count=50))
    for minutes in range(1, 5):
        record.wait(minutes)
        record.enter(c.PlaceGrafts(zone="LINE", size="1", count=5))
    paint = {"cutting": cutting_lines, "placing": placing_lines, "overview": overview_lines}
    examples = {
        "large",
        "oldest A",
        "69 %",
        "60/140",
        "38/40 /cm²",
        "bench 1:20",
        "sites free",
        "140/200 +2",
        "603/h by 3",
    }
    for role in ROLES:
        known = foretold(record.state, record.now_ms)
        glance = Glance(role=role, who="AB", width=160, height=45, foretold=known)
        text = "\n".join(text_of(each) for each in paint[role](record.state, record.now_ms, glance))
        for each in meanings_of(role):
            if each.shown not in examples and not set(each.shown) & set("◷○≠"):
                assert each.shown in text, (role, each.shown)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("role", ROLES)
def test_the_last_page_says_that_the_key_leads_back_and_no_other_does(role: Role, size: tuple[int, int]):
    glance = Glance(role=role, who="AB", width=size[0], height=size[1])
    pages = paged(help_blocks(glance, (CAUTION,)), size[1] - AROUND)
    for number in range(len(pages)):
        glance.reading = Reading("help", number)
        bar = text_of(page_lines(glance, "Keys", "F1", pages)[-1])
        assert ("F1 back" in bar) is (number == len(pages) - 1)
        assert ("F1 next page" in bar) is (number < len(pages) - 1)
        assert "Esc back" in bar


async def test_the_last_refusal_is_explained_until_something_else_is_said(tmp_path: Path):
    case = new_case(tmp_path / "case.orroom")
    with station(case) as desk:
        entered(desk, c.StartHarvest(lot="A", minutes_ago=30))
    async with seated(case, "cutting") as seat:
        await seat.press("u")
        assert "✗" in seat.text
        await seat.press("f1")
        assert "The last entry was refused" in seat.text
        assert "the rule: refuse_nothing_to_take_back" in seat.text
        assert " 1 " in seat.text
        await seat.press("escape", "2", "f1")
        assert "refused" not in seat.text
        assert seat.screen.glance.reading is not None
