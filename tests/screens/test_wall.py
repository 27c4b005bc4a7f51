"""The overview on a wall: figures that are read from 4 m, bars that use the room there is."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path

import pytest
from cases import Record, opened_case, small_plan
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from orroom.case import commands as c
from orroom.case.evolve import fold
from orroom.case.plan import Zone
from orroom.case.state import CaseState
from orroom.figures.counts import ZoneCount, by_zone
from orroom.figures.pace.rest_of_day import foretold
from orroom.files.plan_file import load_plan
from orroom.record.events_file import read_events
from orroom.screens.stations.views.frame import Glance
from orroom.screens.stations.views.overview import overview_lines
from orroom.screens.stations.views.zone_picture import LEAST_ZONE, placed_by_size, zone_picture
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


def overview(state: CaseState, width: int, height: int) -> list[Line]:
    now_ms = state.log[-1].stamp.at_ms
    glance = Glance(role="overview", who="OR", width=width, height=height, foretold=foretold(state, now_ms))
    return overview_lines(state, now_ms, glance)


@pytest.fixture
def only_bars(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the picture of the zones, which has their names and blocks too."""
    monkeypatch.setattr("orroom.screens.stations.views.overview.zone_picture", lambda *_: [])


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


@pytest.mark.usefixtures("only_bars")
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


@pytest.mark.usefixtures("only_bars")
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


def test_the_zones_are_drawn_as_they_lie_where_rows_are_left(monkeypatch: pytest.MonkeyPatch):
    state = fold(read_events(SAMPLES / "frontal-midscalp" / "events.jsonl")[:2000])
    with_it = [text_of(each).rstrip() for each in overview(state, 200, 60)]
    monkeypatch.setattr("orroom.screens.stations.views.overview.zone_picture", lambda *_: [])
    without = [text_of(each).rstrip() for each in overview(state, 200, 60)]
    assert len(with_it) == len(without) == 60
    changed = [(new, old) for new, old in zip(with_it, without, strict=True) if new != old]
    assert all(new.startswith(old) for new, old in changed)  # nothing that was there is smaller or gone
    drawn = "\n".join(new.removeprefix(old) for new, old in changed)
    assert "patient's left" in drawn
    assert drawn.index("front") < drawn.index("hairline left") < drawn.index("mid-scalp left")
    for zone in state.plan.zones:
        assert zone.label in drawn
    row = next(each for each in drawn.split("\n") if "second line left" in each)
    assert row.index("second line left") < row.index("second line right")
    assert "2▒▒ 2 hairs" in drawn  # each size by its letter and its pattern
    assert re.search("2▒{15,}3▓{10,} *$", drawn, re.MULTILINE)  # the frontal tuft, done


@pytest.mark.parametrize("size", [(80, 24), (40, 12), (119, 60), (120, 40)])
def test_no_picture_takes_the_place_of_what_is_needed(size: tuple[int, int]):
    state = fold(read_events(SAMPLES / "frontal-midscalp" / "events.jsonl")[:2000])
    assert "patient's left" not in "\n".join(text_of(each) for each in overview(state, *size))


def test_a_plan_without_sides_has_no_picture():
    assert zone_picture(opened_case().state, 40, 90) == []
    assert zone_picture(opened_case(load_plan(SAMPLES / "hairline" / "plan.toml")).state, 40, 90) != []
    assert zone_picture(opened_case(load_plan(SAMPLES / "hairline" / "plan.toml")).state, 5, 90) == []


def test_where_a_zone_would_be_too_narrow_for_its_name_none_is_drawn():
    """Half of the room for a zone alone, so 9 columns of 18: the picture has 3 columns around it."""
    one = Zone(key="ONE", label="crown", kind="mid-scalp", side="centre", area_cm2=9, targets={"1": 9})
    state = opened_case(replace(small_plan(), zones=(one,))).state
    assert zone_picture(state, 40, 2 * LEAST_ZONE + 3) != []
    assert zone_picture(state, 40, 2 * LEAST_ZONE + 2) == []


@given(
    st.fixed_dictionaries({size: st.integers(0, 500) for size in ("1", "2", "M")}),
    st.integers(0, 600),
    st.integers(3, 60),
)
def test_a_zone_is_drawn_to_scale_and_as_broad_as_it_is(placed: dict[str, int], planned: int, wide: int):
    count = ZoneCount(
        zone=opened_case().state.plan.zones[0],
        planned={"1": planned},
        placed=placed,
        extra=0,
        sites_made=None,
        reseated=0,
        hairs_planned=0,
        hairs_placed=0,
    )
    drawn = placed_by_size(count, wide)
    assert len(drawn) == wide
    whole = max(planned, sum(placed.values()))
    assert drawn.count("·") == wide - (round(sum(placed.values()) * wide / whole) if whole else 0)
    for size, pattern in (("1", "░"), ("2", "▒"), ("M", "▚")):
        share = placed[size] * wide / whole if whole else 0
        assert abs(drawn.count(size) + drawn.count(pattern) - share) <= 1
