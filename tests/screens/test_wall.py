"""The overview on a wall: figures that are read from 4 m, bars that use the room there is."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest
from cases import Record, opened_case
from hypothesis import given
from hypothesis import strategies as st

from orroom.case import commands as c
from orroom.figures.counts import by_zone
from orroom.figures.pace.rest_of_day import foretold
from orroom.files.plan_file import load_plan
from orroom.screens.stations.views.frame import Glance
from orroom.screens.stations.views.overview import overview_lines
from orroom.screens.terminal.digits import Scale, block_digits, largest_scale
from orroom.screens.terminal.painting import Line, beside, line, text_of, width_of

SAMPLES = Path(__file__).parents[2] / "sample_cases"
NAMES = ("USABLE", "PLACED", "WAITING", "LEFT TO PLACE", "FINISH")
#: A 24-inch screen of 16:9 is so high (mm), and so much ink is legible at 4 m: 19 mm, better 25.
SCREEN_MM, WIDE_MM, INK_MM = 299, 531, 25


def wall(record: Record, width: int, height: int) -> list[Line]:
    known = foretold(record.state, record.now_ms)
    glance = Glance(role="overview", who="OR", width=width, height=height, foretold=known)
    return overview_lines(record.state, record.now_ms, glance)


def digit_rows(lines: list[Line]) -> list[int]:
    return [n for n, each in enumerate(lines) if any(s.tone == "mine" and "█" in s.text for s in each)]


@pytest.mark.parametrize(
    ("size", "rows"), [((120, 40), 10), ((140, 50), 20), ((160, 45), 20), ((200, 60), 20)]
)
def test_every_figure_is_there_in_digits_that_are_read_from_4_m(
    busy: Record, size: tuple[int, int], rows: int
):
    lines = wall(busy, *size)
    text = "\n".join(text_of(each) for each in lines)
    for name in NAMES:
        assert name in text
    assert "OLDEST OUT" in text
    assert "oldest out" in text.split("\n")[0]
    found = digit_rows(lines)
    assert len(found) == rows
    high = rows // 2  # in two rows of figures
    assert high * SCREEN_MM / size[1] >= INK_MM
    stroke = min(
        len(run) for each in found for s in lines[each] if s.tone == "mine" for run in s.text.split()
    )
    assert stroke * WIDE_MM / size[0] >= 2.3  # 2 minutes of arc at 4 m: what half of full sight tells apart


def test_on_a_large_wall_figures_stand_in_two_rows_and_are_broader(busy: Record):
    lines = wall(busy, 200, 60)
    at = {
        name: next(n for n, each in enumerate(lines) if name in text_of(each))
        for name in (*NAMES, "OLDEST OUT")
    }
    assert (
        at["USABLE"]
        == at["PLACED"]
        == at["WAITING"]
        < at["LEFT TO PLACE"]
        == at["OLDEST OUT"]
        == at["FINISH"]
    )
    assert max(len(run) for s in lines[at["USABLE"] + 1] if s.tone == "mine" for run in s.text.split()) == 10
    assert all(width_of(each) <= 200 for each in lines)


def test_bars_are_two_rows_high_where_there_is_room(busy: Record):
    def bars(width: int, height: int) -> int:
        return sum(
            any(set(s.text) & set("▇░") or set(s.text) == {"█"} for s in each)
            for each in wall(busy, width, height)
        )

    zones = len(busy.state.plan.zones)
    assert bars(120, 40) == 2 * zones
    assert bars(120, 30) == zones


def test_bars_give_their_second_row_to_prompts_that_grow(busy: Record):
    busy.wait(300)
    lines = wall(busy, 120, 40)
    assert any("█" in s.text for each in lines for s in each if s.tone == "pressing")
    labels = [zone.label for zone in busy.state.plan.zones]
    for label in labels:
        assert any(label in text_of(each) for each in lines)
    assert len(digit_rows(lines)) == 10


@pytest.fixture
def few() -> Record:
    """Five zones of a sample plan, one of them over plan; nothing is due."""
    record = opened_case(load_plan(SAMPLES / "vertex" / "plan.toml"))
    zones = record.state.plan.zones
    assert len(zones) == 5
    record.enter(c.StartHarvest(harvest="A"))
    size = next(iter(zones[0].planned))
    record.enter(c.CutGrafts(harvest="A", size=size, count=400))
    record.enter(c.PlaceGrafts(zone=zones[0].key, size=size, count=zones[0].planned[size] + 3))
    return record


def test_few_zones_have_their_figures_large_and_fill_a_large_wall(few: Record):
    lines = wall(few, 200, 60)
    for count in by_zone(few.state):
        at = next(n for n, each in enumerate(lines) if count.zone.label in text_of(each))
        figures = f"{count.placed_total}/{count.planned_total}"
        for by, row in enumerate(block_digits(figures, Scale(6, 1))):
            blocks = [span.text.strip() for span in lines[at + by] if "█" in span.text]
            assert row.strip() in blocks
    rule = max(n for n, each in enumerate(lines) if text_of(each) == "─" * 200)
    middle = lines[rule + 1 : -4]
    assert sum(bool(text_of(each).strip()) for each in middle) >= 0.8 * len(middle)
    assert "▲ 3 over" in "\n".join(text_of(each) for each in lines)


def test_bars_grow_with_their_room_and_do_not_touch(few: Record):
    lines = wall(few, 120, 40)
    at = [
        next(n for n, each in enumerate(lines) if zone.label in text_of(each))
        for zone in few.state.plan.zones
    ]
    for first, following in pairwise(at):
        rows = [
            any(set(s.text) & set("▇█░") for s in each if s.tone != "mine") for each in lines[first:following]
        ]
        assert rows == [True] * (len(rows) - 1) + [False]
        assert len(rows) >= 4


@given(
    st.lists(st.integers(0, 99_999).map(str), min_size=1, max_size=6), st.integers(4, 80), st.integers(1, 30)
)
def test_no_digit_is_narrower_than_a_quarter_of_its_height(figures: list[str], width: int, height: int):
    """Cells are twice as high as wide. ISO 9241-303 asks for half (from memory): there is not always room."""
    scale = largest_scale(figures, width, height)
    assert not scale.width or scale.width / (2 * scale.height) >= 0.25


@given(
    st.lists(st.integers(0, 99_999).map(str), min_size=2, max_size=6), st.integers(8, 60), st.integers(1, 30)
)
def test_figures_beside_each_other_never_run_together(figures: list[str], width: int, height: int):
    """Between two of them there is at least three times the space between two digits."""
    scale = largest_scale(figures, width, height)
    if scale.width:
        drawn = [([line(row) for row in block_digits(each, scale)], width + 1) for each in figures]
        gap = 2 if scale.width >= 6 else 1
        for row in beside(*drawn):
            for span in row[:-1]:
                assert width_of((span,)) <= width + 1
        for each in figures:
            assert width + 1 - max(len(row) for row in block_digits(each, scale)) >= 3 * gap
