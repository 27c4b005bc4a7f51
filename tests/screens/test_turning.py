"""A small overview turns its pages by itself; a large one has one page and stays."""

from __future__ import annotations

from pathlib import Path

import pytest
from cases import Record, opened_case
from seats import harvested, seated
from stations import new_case

from orroom.case import commands as c
from orroom.figures.pace.rest_of_day import foretold
from orroom.screens.stations.overview import MESSAGE_SECONDS, OverviewScreen
from orroom.screens.stations.turning import HANDS_SECONDS, TURN_SECONDS, Turning
from orroom.screens.stations.views.frame import Glance
from orroom.screens.stations.views.overview import overview_book, overview_lines
from orroom.screens.terminal.painting import text_of

NONE: frozenset[str] = frozenset()


def pages_of(record: Record, width: int, height: int) -> list[str]:
    """Every page as text."""
    known = foretold(record.state, record.now_ms)
    glance = Glance(role="overview", who="OR", width=width, height=height, foretold=known)
    texts = []
    for page in range(len(overview_book(record.state, record.now_ms, glance).pages)):
        glance.page = page
        lines = overview_lines(record.state, record.now_ms, glance)
        assert len(lines) == height
        texts.append("\n".join(text_of(each) for each in lines))
    return texts


@pytest.mark.parametrize("size", [(80, 24), (60, 20), (44, 14), (40, 12)])
def test_every_zone_and_size_stands_on_some_page_and_the_figures_on_all(busy: Record, size: tuple[int, int]):
    pages = pages_of(busy, *size)
    everything = "\n".join(pages)
    for zone in busy.state.plan.zones:
        assert zone.label in everything
    for each in busy.state.plan.sizes:
        assert each.label in everything
    assert "A out" in everything
    for number, page in enumerate(pages, 1):
        for words in ("USABLE", "PLACED", "LEFT", "FINISH", "100"):
            assert words in page
        assert (f"page {number}/{len(pages)}" in page) is (len(pages) > 1)


@pytest.mark.parametrize("size", [(120, 40), (200, 60)])
def test_a_wall_has_one_page(busy: Record, size: tuple[int, int]):
    assert len(pages_of(busy, *size)) == 1


def test_zones_that_are_owed_come_first_where_there_are_several_pages(busy: Record):
    assert "hairline left" in pages_of(busy, 40, 12)[0]
    busy.enter(c.PlaceGrafts(zone="HL", size="1", count=20))
    first, second, *_ = pages_of(busy, 40, 12)
    assert "hairline left" not in first
    assert "hairline left" in second


def test_pages_turn_after_their_time_and_begin_again():
    turning = Turning()
    seen = [turning.page_at(0.5 * half, 3, NONE, turns=True) for half in range(60)]
    assert seen[0] == 0
    assert [page for page, before in zip(seen[1:], seen, strict=False) if page != before] == [1, 2, 0]
    assert seen.index(1) == TURN_SECONDS / 0.5


def test_pages_stay_where_they_do_not_turn_by_themselves():
    turning = Turning()
    assert {turning.page_at(float(now), 3, NONE, turns=False) for now in range(100)} == {0}


def test_hands_at_the_keys_keep_the_page_for_a_while():
    turning = Turning()
    turning.turn(1, 5)
    turning.hands(5)
    assert turning.page_at(5 + HANDS_SECONDS - 0.1, 3, NONE, turns=True) == 1
    assert turning.page_at(5 + HANDS_SECONDS, 3, NONE, turns=True) == 2
    turning.turn(-3, 70)
    assert turning.page_at(70, 3, NONE, turns=True) == 2  # round the ends


def test_a_prompt_that_becomes_due_brings_the_first_page_once():
    turning = Turning(page=2)
    assert turning.page_at(1, 3, NONE, turns=True) == 2
    assert turning.page_at(2, 3, frozenset({"wet"}), turns=True) == 0
    assert turning.page_at(2 + TURN_SECONDS, 3, frozenset({"wet"}), turns=True) == 1
    assert turning.page_at(11, 3, frozenset({"wet", "cold"}), turns=True) == 0


def test_a_page_that_something_stood_over_has_its_time_anew():
    turning = Turning()
    turning.wait(100)
    assert turning.page_at(100 + TURN_SECONDS - 0.1, 3, NONE, turns=True) == 0
    assert turning.page_at(100 + TURN_SECONDS, 3, NONE, turns=True) == 1


async def test_a_small_overview_turns_by_itself_not_while_asked_and_by_keys_and_clicks(tmp_path: Path):
    case = new_case(tmp_path / "case.orroom")
    harvested(case)
    async with seated(case, "overview", "OR", size=(40, 12)) as seat:
        screen = seat.screen
        assert isinstance(screen, OverviewScreen)
        assert "→ page 1/" in seat.text
        screen.turning.since -= TURN_SECONDS
        screen.repaint()
        assert "→ page 2/" in seat.text
        await seat.press("n")
        screen.turning.since -= TURN_SECONDS
        screen.turning.free_from = 0
        screen.repaint()
        assert screen.glance.page == 1
        await seat.press("escape", "right")
        assert "→ page 3/" in seat.text
        screen.turning.since -= TURN_SECONDS
        screen.repaint()
        assert "→ page 3/" in seat.text  # a key was pressed just now
        await seat.press("left", "left")
        assert "→ page 1/" in seat.text
        await seat.click("→ page")
        assert "→ page 2/" in seat.text
        await seat.pilot.resize_terminal(120, 40)
        await seat.settle()
        assert "→ page" not in seat.text


async def test_a_message_leaves_a_wall_by_itself(tmp_path: Path):
    case = new_case(tmp_path / "case.orroom")
    async with seated(case, "overview", "OR", size=(120, 40)) as seat:
        screen = seat.screen
        assert isinstance(screen, OverviewScreen)
        for keys, words in ((("n", "x", "enter"), "note: x"), (("u", "u"), "✗ ")):
            await seat.press(*keys)
            screen.said_at -= MESSAGE_SECONDS - 5
            screen.repaint()
            assert words in seat.text.lower()
            screen.said_at -= 5
            screen.repaint()
            assert words not in seat.text.lower()


def test_what_the_last_key_did_is_not_run_together_with_what_closes_a_case():
    record = opened_case()
    record.enter(c.SignOff(second="CD"))
    glance = Glance(role="overview", who="OR", width=120, height=40, message="plan revised: too few twos")
    lines = [text_of(each) for each in overview_lines(record.state, record.now_ms, glance)]
    at = next(n for n, each in enumerate(lines) if "‖ signed off" in each)
    assert lines[at].endswith("reopened.")
    assert lines[at + 1] == " plan revised: too few twos"


def test_an_overview_of_an_empty_case_has_its_pages_too():
    assert pages_of(opened_case(), 40, 12)
