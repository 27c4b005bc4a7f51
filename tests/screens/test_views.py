"""What the screens say, at every size, without a terminal."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import pairwise, zip_longest
from pathlib import Path

import pytest
from cases import MINUTE_MS, UNCOUNTED, Record, case_under_way, opened_case, records, small_plan
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace
from painted import PAINTERS, said
from rich.cells import cell_len

from orroom.case import commands as c
from orroom.case.plan import Harvest, Plan, Size, Zone
from orroom.case.state import CaseState
from orroom.case.terms import ROLES, Role
from orroom.figures.pace.rest_of_day import foretold
from orroom.figures.prompts import prompts, urgent_first
from orroom.figures.wording import Times, percent
from orroom.files.plan_file import load_plan
from orroom.screens.stations import prompt_questions, questions
from orroom.screens.stations.views.frame import (
    Glance,
    Reading,
    out_words,
)
from orroom.screens.stations.views.pages import figure_blocks, help_blocks, page_lines
from orroom.screens.stations.views.prompting import prompt_lines, prompt_words
from orroom.screens.terminal import asking
from orroom.screens.terminal.digits import Scale, block_digits, largest_scale
from orroom.screens.terminal.keys import KEYS, NUMLOCK_OFF, Keys, plain_name
from orroom.screens.terminal.pages import AROUND, paged
from orroom.screens.terminal.painting import (
    Line,
    Span,
    bar,
    fitted,
    padded,
    shortened,
    text_of,
    width_of,
    wrapped,
)
from orroom.words.explanation import Asked
from orroom.words.status import present, status_at
from orroom.words.worked_out import worked_out

SAMPLES = Path(__file__).parents[2] / "sample_cases"
SIZES = [(80, 24), (120, 40), (200, 60), (40, 12), (60, 18)]
#: Smaller is not painted; nothing but help and a question must fit here.
SMALLEST = (30, 10)


def painted(state: CaseState, role: Role, width: int = 80, height: int = 24, **glance: object) -> list[Line]:
    return PAINTERS[role](state, 0, Glance(role=role, who="AB", width=width, height=height, **glance))


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize("plan", ["frontal-midscalp", "hairline", "vertex", "two-lots"])
def test_every_screen_fills_its_terminal_exactly(plan: str, role: Role, size: tuple[int, int]):
    record = opened_case(load_plan(SAMPLES / plan / "plan.toml"))
    record.enter(c.StartHarvest(harvest="A"))
    width, height = size
    lines = painted(record.state, role, width, height)
    assert len(lines) == height
    assert [width_of(each) for each in lines if width_of(each) > width] == []


@settings(max_examples=40)
@given(records(), st.sampled_from(ROLES), st.sampled_from([*SIZES, SMALLEST]))
def test_no_record_breaks_a_screen(record: Record, role: Role, size: tuple[int, int]):
    width, height = size
    known = foretold(record.state, record.now_ms)
    glance = Glance(role=role, who="AB", width=width, height=height, foretold=known)
    lines = PAINTERS[role](record.state, record.now_ms, glance)
    assert len(lines) == height


def test_every_number_of_a_full_case_is_shown_whole():
    zones = tuple(
        Zone(key=f"Z{number}", label=f"zone {number}", area_cm2=20, targets={"2": 1250})
        for number in range(12)
    )
    record = opened_case(small_plan(zones=zones))
    record.enter(c.CutGrafts(harvest="A", size="2", count=10_000))
    record.enter(c.PlaceGrafts(zone="Z3", size="2", count=1250))
    assert "1,250/1,250" in said(record, "placing")
    assert "15,000" in said(record, "overview")
    assert "10,000" in said(record, "cutting")


def test_no_pace_is_told_of_a_few_seconds():
    record = opened_case()
    record.enter(c.StartHarvest(harvest="A"))
    for _ in range(5):
        record.wait(1 / 60)
        record.enter(c.CutGrafts(harvest="A", size="2"))
    assert "cutting —/h by 1" in said(record, "overview", width=160, height=45)
    for _ in range(11):
        record.wait(1)
        record.enter(c.CutGrafts(harvest="A", size="2"))
    assert re.search(r"cutting \d+/h by 1", said(record, "overview", width=160, height=45))


def test_a_figure_too_long_for_block_digits_is_written_out():
    scale = largest_scale(["123456"], 10, 5)
    rows = block_digits("123456", scale)
    assert [row.strip() for row in rows if row.strip()] == ["123456"]
    assert len(rows) == 5


@pytest.mark.parametrize("height", [5, 10, 15])
@pytest.mark.parametrize("width", [12, 16, 24, 40])
def test_figures_side_by_side_are_drawn_at_one_scale_that_fits_them_all(width: int, height: int):
    figures = ["0", "42", "−20", "1:42"]
    scale = largest_scale(figures, width, height)
    for figure in figures:
        rows = block_digits(figure, scale)
        assert len(rows) == scale.height <= height
        assert max(map(len, rows)) <= width


def large_figures(lines: list[Line]) -> Iterator[list[set[int]]]:
    """The columns with ink of each large figure, of those side by side together."""
    side_by_side: list[set[int]] = []
    for each in [*lines, ()]:
        inked, start = [], 0
        for span in each:
            if span.tone == "mine" and not span.action.startswith("type("):
                inked.append({start + at for at, letter in enumerate(span.text) if letter == "█"})
            start += len(span.text)
        if len(inked) != len(side_by_side) and side_by_side:
            yield side_by_side
            side_by_side = []
        side_by_side = [one | other for one, other in zip_longest(side_by_side, inked, fillvalue=set[int]())]


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (200, 60)])
@pytest.mark.parametrize("counts", [(10, 5, 12, 10, 11), (62, 104, 286, 100, 208), (8, 8, 8, 8, 8)])
@pytest.mark.parametrize("role", ["cutting", "overview"])
def test_two_figures_side_by_side_never_read_as_one(role: Role, counts: Sequence[int], size: tuple[int, int]):
    # What is nearer together is seen as one group (M. Wertheimer, 1923, from memory); three times: no source.
    record = opened_case(load_plan(SAMPLES / "frontal-midscalp" / "plan.toml"))
    record.enter(c.StartHarvest(harvest="A", minutes_ago=60))
    for key, count in zip("1234M", counts, strict=True):
        record.enter(c.CutGrafts(harvest="A", size=key, count=count))
    measured = 0
    glance = Glance(role=role, who="AB", width=size[0], height=size[1])
    for figures in large_figures(PAINTERS[role](record.state, record.now_ms, glance)):
        within = [
            right - left - 1
            for inked in figures
            for left, right in pairwise(sorted(inked))
            if right - left > 1
        ]
        for left, right in pairwise(figures):
            assert min(right) - max(left) - 1 >= 3 * max(within, default=1)
            measured += 1
    assert measured >= 3


def test_a_larger_terminal_never_gets_smaller_digits():
    widths = [largest_scale(["2400", "7"], width, 10).width for width in range(10, 80)]
    assert widths == sorted(widths)
    assert widths[-1] == 10


def test_every_digit_looks_different():
    looks = {tuple(block_digits(digit, Scale(6, 1))) for digit in "0123456789"}
    assert len(looks) == 10


def test_a_figure_that_is_cut_short_says_so():
    assert text_of(fitted((Span("team 210"),), 7)) == "team 2…"


@pytest.mark.parametrize("size", SIZES)
def test_no_count_on_the_cutting_screen_is_cut_short(size: tuple[int, int]):
    record = opened_case(load_plan(SAMPLES / "frontal-midscalp" / "plan.toml"))
    for key, count in (("1", 1234), ("2", 2345), ("3", 999), ("4", 10), ("M", 1000)):
        record.enter(c.CutGrafts(harvest="A", size=key, count=count), "CD")
    text = "\n".join(text_of(each) for each in painted(record.state, "cutting", *size)).replace(",", "")
    for count in ("1234", "2345", "999", "10", "1000"):
        assert count in re.split(r"[\s/]", text)


def test_a_bar_is_full_only_when_all_is_done():
    assert bar(0, 40, 8) == "░" * 8
    assert bar(1, 400, 8) == "▇" + "░" * 7
    assert bar(399, 400, 8) == "▇" * 7 + "░"
    assert bar(400, 400, 8) == "▇" * 8
    assert bar(500, 400, 8) == "▇" * 7 + "▲"  # over plan looks different from done
    assert bar(0, 0, 8) == "·" * 8


@pytest.mark.parametrize(
    ("share", "places", "words"),
    [
        (2391 / 2400, 0, "> 99 %"),
        (599 / 600, 0, "> 99 %"),
        (1 / 600, 0, "< 1 %"),
        (1 - 1e-6, 1, "> 99.9 %"),
        (1e-6, 1, "< 0.1 %"),
        (0.9949, 0, "99 %"),
        (0.0051, 0, "1 %"),
        (0.9996, 1, "> 99.9 %"),
        (0, 0, "0 %"),
        (1, 0, "100 %"),
        (1, 1, "100.0 %"),
        (sum([0.1] * 10), 0, "100 %"),  # 0.9999999999999999
        (1 - sum([0.1] * 10), 1, "0.0 %"),
        (1.5, 0, "150 %"),
        (-0.1, 0, "−10 %"),
        (None, 1, "—"),
    ],
)
def test_less_than_all_is_never_100_per_cent_and_some_never_none(
    share: float | None, places: int, words: str
):
    assert percent(share, places) == words


@settings(max_examples=200)
@given(
    st.integers(1, 10_000).flatmap(lambda of: st.tuples(st.integers(0, of), st.just(of))), st.integers(0, 2)
)
def test_only_all_is_100_per_cent_and_only_nothing_0(part: tuple[int, int], places: int):
    count, of = part
    words = percent(count / of, places)
    assert (words == f"{100:.{places}f} %") is (count == of)
    assert (words == f"{0:.{places}f} %") is (count == 0)


@pytest.mark.parametrize("size", [(60, 18), (80, 24)])
def test_what_is_over_plan_pays_for_nothing_that_is_owed(size: tuple[int, int]):
    # 52 ones of 50 and 38 threes of 40: 90 placed of 90 planned, 88 of them within plan, 2 over, 2 owed.
    zone = Zone(key="FRONT", label="frontal", area_cm2=10, targets={"1": 50, "3": 40})
    record = opened_case(small_plan(zones=(zone,)))
    record.enter(c.PlaceGrafts(zone="FRONT", size="1", count=52))
    record.enter(c.PlaceGrafts(zone="FRONT", size="3", count=38))
    width, height = size
    for role in ("overview", "placing"):
        rows = said(record, role, width=width, height=height).split("\n")
        row = next(row for row in rows if "▲" in row[1:3])
        assert "▇░" in row  # the bar is not full
    over = "▲ 2 over" if width == 60 else "▲2"
    assert f"90/90  98 % {over}" in said(record, "overview", width=width, height=height)
    record.enter(c.PlaceGrafts(zone="FRONT", size="3", count=2))
    found = said(record, "overview", width=width, height=height)
    assert f"92/90  done {over}" in found
    assert "░" not in next(row for row in found.split("\n") if row[1:2] == "▲")


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_what_is_over_plan_is_named_below_what_is_left(size: tuple[int, int]):
    # 100 planned, 55 placed, 5 of them over: 50 left, so that planned less placed is not what is left.
    zone = Zone(key="FRONT", label="frontal", area_cm2=10, targets={"1": 50, "3": 50})
    record = opened_case(small_plan(zones=(zone,)))
    record.enter(c.PlaceGrafts(zone="FRONT", size="1", count=55))
    width, height = size
    rows = said(record, "overview", width=width, height=height).split("\n")
    named = r"(50 % placed, 5 over( plan)?|50 % placed ▲5|  5 over|100 − 55 [+] 5 over)(  |$)"
    assert any(re.search(named, row) for row in rows)


@pytest.mark.parametrize("size", [*SIZES, SMALLEST], ids=str)
@pytest.mark.parametrize("role", ROLES)
def test_nothing_is_said_to_be_out_while_grafts_wait_without_a_harvest(role: Role, size: tuple[int, int]):
    record = opened_case()
    assert "none out" in out_words(record.state, record.now_ms)
    record.enter(c.CutGrafts(harvest="A", size="1"))
    text = said(record, role, width=size[0], height=size[1])
    if size != SMALLEST:
        assert re.search("no start|start not entered", text)
    for untrue in ("nothing is out", "none out", "nothing waits"):
        assert untrue not in text
    record.enter(c.StartHarvest(harvest="A", minutes_ago=20))
    assert "not known" not in said(record, role, width=size[0], height=size[1])


def test_a_harvest_without_a_harvest_is_named_beside_the_oldest_that_has_one():
    record = case_under_way()
    record.enter(c.CutGrafts(harvest="B", size="1"))
    overview, placing = (said(record, role, width=120, height=40) for role in ("overview", "placing"))
    assert "oldest out 1 h 00, harvest B not known: no start" in overview.split("\n")[0]
    assert "out 1 h 00, harvest B not known" in placing.split("\n")[0]
    assert "harvest A; B not known" in said(record, "overview", width=160, height=40)
    asked = Asked(record.state, record.now_ms, "AB", "A", "FRONT", None)
    figures = {each.name: each for each in worked_out("overview", asked)}
    assert figures["OLDEST OUT"].numbers.endswith("harvest B: not known, no start entered")


def test_segments_are_counted_the_same_everywhere():
    record = case_under_way()
    record.enter(c.FinishSegment(harvest="A"))
    cutting, overview = (said(record, role, width=120, height=40) for role in ("cutting", "overview"))
    assert "harvest A: 1 of 4 segments done" in cutting
    assert "A out 1 h 00 · 95 waiting · 1 of 4 segments done" in overview
    assert "harvest A: 1 of 4 segments done" in [
        each.words for each in present(status_at(record.state, record.now_ms))
    ]


def test_a_harvest_of_which_nothing_waits_says_so_once():
    record = opened_case(small_plan(harvests=(Harvest(key="A", label="strip", segments=1),)))
    record.enter(c.StartHarvest(harvest="A"))
    record.enter(c.CutGrafts(harvest="A", size="1"))
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=1))
    assert "A out 0 min · not all cut · 0 of 1 segment done" in said(record, "overview", width=120, height=40)
    record.enter(c.FinishSegment(harvest="A"))
    text = said(record, "overview", width=120, height=40)
    assert "A nothing waits · 1 of 1 segment done" in text
    assert "0 waiting ·" not in text


def test_a_cancelled_entry_always_says_by_which_entry():
    record = case_under_way()
    record.enter(c.AddNote(text="a note that is far longer than the column beside the facts is wide"))
    record.enter(c.TakeBack(role="cutting"))
    text = said(record, "cutting")
    assert f"… — cancelled by no. {record.state.seq}" in text


@pytest.mark.parametrize("width", [80, 100, 120])
def test_a_persons_entries_do_not_run_into_the_facts_beside_them(width: int):
    record = case_under_way()
    for _ in range(8):
        record.enter(
            c.AddNote(text="a note that is far longer than the column beside the facts is wide " * 2)
        )
    record.enter(c.CutGrafts(harvest="A", size="1", count=9000))
    record.enter(c.DiscardGrafts(size="1", count=1100, reason="transected", harvest="A"))
    rows = said(record, "cutting", width=width).split("\n")
    for fact in ("harvest A: 0 of 4 segments done", "you cut 9,095 + 1,100 spoilt (10.8 %)", "you divided 0"):
        row = next(each for each in rows if fact in each)
        assert row[: row.index(fact)].endswith("  ")


@pytest.mark.parametrize("size", [(40, 12), (30, 10)])
def test_a_narrow_tile_says_plainly_that_one_more_was_counted(size: tuple[int, int]):
    tile = next(
        each
        for each in painted(case_under_way().state, "cutting", *size, flashed="2")
        if any(span.tone == "cursor" for span in each)
    )
    assert [span.text for span in tile if span.tone == "cursor"] == [" +1 "]
    assert "…" not in text_of(fitted(tile, size[0]))


@pytest.mark.parametrize("size", [(120, 40), (160, 50), (200, 60)])
@pytest.mark.parametrize("plan", ["frontal-midscalp", "vertex"])
def test_the_number_typed_is_large_where_there_is_room(plan: str, size: tuple[int, int]):
    record = opened_case(load_plan(SAMPLES / plan / "plan.toml"))
    record.enter(c.StartHarvest(harvest="A"))
    for typed, least in (("1", 6), ("25", 6), ("500", 6), ("10000", 4)):
        legible = [
            Scale(width, times) for width in (4, 5, 6, 8, 10, 12) for times in (1, 2, 3) if width >= least
        ]
        lines = painted(record.state, "placing", *size, typed=typed)
        drawn = [s.text.rstrip() for each in lines for s in each if s.tone == "wrong" and "█" in s.text]
        assert drawn in [[f" {row}".rstrip() for row in block_digits(typed, each)] for each in legible]
        shown = {span.action for each in lines for span in fitted(each, size[0])}
        assert {f"type('{digit}')" for digit in "0123456789"} | {"type('backspace')"} <= shown
        zones = [zone.label for zone in record.state.plan.zones]
        assert all(any(label in text_of(each) for each in lines) for label in zones)
    assert "how many?" in "\n".join(text_of(each) for each in painted(record.state, "placing", *size))


@pytest.mark.parametrize("size", [(120, 40), (160, 45), (200, 60)])
def test_what_is_owed_and_what_waits_at_the_cursor_is_large_where_there_is_room(size: tuple[int, int]):
    record = case_under_way()  # 30 ones cut, of 40 planned for the hairline
    record.enter(c.IssueGrafts(size="1", count=12))
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=5))
    lines = painted(record.state, "placing", *size)
    text = "\n".join(text_of(each) for each in lines)
    for name in ("ONES OWED HERE", "ONES IN DISHES", "ONES WITH THE PLACERS", "5 of 40 placed"):
        assert name in text
    rows = [text_of(each) for each in lines]
    names = next(row for row in rows if "ONES OWED HERE" in row)
    first = rows.index(names) + 1
    for name, figure in (("ONES OWED HERE", "35"), ("ONES IN DISHES", "18"), ("ONES WITH THE PLACERS", "7")):
        at = names.index(name)
        shapes = [
            block_digits(figure, Scale(width, times)) for width in (6, 8, 10, 12) for times in (1, 2, 3)
        ]
        assert any(
            all(row[at : at + len(drawn)] == drawn for row, drawn in zip(rows[first:], each, strict=False))
            for each in shapes
        ), name
    small = said(record, "placing", width=80, height=24)
    assert "OWED HERE" not in small
    assert all(zone.label in small for zone in record.state.plan.zones)


def test_what_is_over_plan_at_the_cursor_is_named_below_its_large_figure():
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=42))
    assert "42 of 40 placed, 2 over plan" in said(record, "placing", width=120, height=40)


@pytest.mark.parametrize(("size", "rows"), [((80, 24), 1), ((120, 40), 1), ((200, 60), 2)])
def test_zones_take_the_rows_and_columns_that_are_free(size: tuple[int, int], rows: int):
    record = opened_case(load_plan(SAMPLES / "frontal-midscalp" / "plan.toml"))
    lines = painted(record.state, "placing", *size)
    bars = [
        each for each in lines if any(span.text.strip("▇█░ ") == "" and "░" in span.text for span in each)
    ]
    assert len(bars) == rows * len(record.state.plan.zones)
    assert all(size[0] - 2 <= len(text_of(each).rstrip()) for each in lines if "/cm²" in text_of(each)[-8:])


def test_zones_do_not_give_way_to_a_large_number():
    zones = tuple(
        Zone(key=f"Z{number}", label=f"zone {number}", area_cm2=20, targets={"1": 10}) for number in range(25)
    )
    record = opened_case(small_plan(zones=zones))
    text = [text_of(each) for each in painted(record.state, "placing", 120, 40, typed="25")]
    assert sum(" zone " in each for each in text if each[2:3] == "○") == 25
    assert any(each.startswith(" 25▌") for each in text)


WIDE = ("前頭部", "頭頂部の右側とその周囲の区域", "plain")


def wide_plan(targets: int = 200) -> Plan:
    """Labels whose letters take two columns, among others."""
    return small_plan(
        sizes=tuple(
            Size(key=key, label=label, hairs=int(key)) for key, label in zip("123", WIDE, strict=True)
        ),
        zones=tuple(
            Zone(key=f"Z{number}", label=label, area_cm2=20, targets={"1": targets, "2": 2 * targets})
            for number, label in enumerate(WIDE)
        ),
    )


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("role", ["placing", "overview"])
def test_letters_of_two_columns_shift_no_column(role: Role, size: tuple[int, int]):
    lines = painted(opened_case(wide_plan()).state, role, *size)
    zones = [text_of(each) for each in lines if "○ " in text_of(each)[1:4]]
    assert len(zones) == len(WIDE)
    figure = "0/200" if "0/200" in zones[0] else "200" if role == "placing" else "0/600"
    if role == "overview" and size[1] >= 40:  # so few zones have their figures in blocks
        figure = "░"
    assert len({cell_len(row[: row.index(figure)]) for row in zones}) == 1


def test_sizes_with_letters_of_two_columns_stand_under_their_names():
    lines = [text_of(each) for each in painted(opened_case(wide_plan()).state, "overview", 120, 40)]
    head = next(row for row in lines if row.endswith("plan placed") or "plan placed" in row)
    end = cell_len(head[: head.index("plan") + len("plan")])
    for label, planned in (("前頭部", "600"), ("頭頂", "1,200")):
        row = next(row for row in lines if f" {label}" in row[40:])
        assert cell_len(row[: row.rindex(planned) + len(planned)]) == end


def test_columns_of_large_numbers_do_not_touch():
    harvests = tuple(
        Zone(key=f"Z{number}", label=f"zone {number}", area_cm2=20, targets={"1": 10_000, "2": 10_000})
        for number in range(20)
    )
    record = opened_case(small_plan(zones=harvests))
    for number in range(12):
        record.enter(c.CutGrafts(harvest="A", size="1", count=10_000))
        record.enter(c.PlaceGrafts(zone=f"Z{number}", size="1", count=10_000))
    row = next(row for row in said(record, "overview").split("\n") if " ones " in row)
    assert row.split()[-4:] == ["ones", "120,000", "200,000", "120,000"]


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
@pytest.mark.parametrize("role", ["cutting", "placing"])
def test_a_number_of_an_entry_is_read_as_one(role: Role, size: tuple[int, int]):
    record = case_under_way()
    for _ in range(2):
        record.enter(c.CutGrafts(harvest="A", size="2", count=3))
        record.enter(c.PlaceGrafts(zone="LINE", size="1", count=5))
    rows = [row for row in said(record, role, width=size[0], height=size[1]).split("\n") if " AB " in row[9:]]
    assert rows
    for row in rows[1:]:  # the first is the header
        assert re.match(r" +no\. \d+ \d\d:\d\d(:\d\d)? AB ", row), row


@given(st.text("a 前頭長い", max_size=40), st.integers(4, 30))
def test_texts_are_cut_filled_and_broken_by_columns(text: str, width: int):
    short = shortened(text, width)
    assert cell_len(short) <= width
    assert cell_len(padded(short, width)) == width
    rows = wrapped(text, width)
    assert all(0 < cell_len(row) <= width for row in rows)
    assert "".join("".join(rows).split()) == "".join(text.split())


def test_zone_marks_say_owed_done_and_over():
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=30))
    record.enter(c.PlaceGrafts(zone="MID", size="M", count=12))
    text = said(record, "placing")
    assert "○ hairline" in text
    assert "▲ mid-scalp" in text
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=10))
    assert "● hairline" in said(record, "placing")


def test_density_is_placed_of_planned_in_the_zone():
    # 30 grafts in 4 cm² are 7.5/cm², 40 planned are 10.0/cm² (arithmetic).
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=30))
    assert "grafts/cm² 7.5 of 10.0 · hairs/cm² 7.5 of 10.0 · 4.0 cm²" in said(record, "placing")


def test_grafts_put_back_are_shown_beside_sites_and_what_is_over_plan():
    zone = Zone(key="CORE", label="frontal core", area_cm2=8, targets={"2": 120, "3": 80})
    record = opened_case(small_plan(zones=(zone,)))
    record.enter(c.MakeSites(zone="CORE", count=179))
    record.enter(c.PlaceGrafts(zone="CORE", size="2", count=92))
    record.enter(c.PlaceGrafts(zone="CORE", size="3", count=82))
    record.enter(c.ReseatGraft(zone="CORE", count=16))
    shown = said(record, "placing", width=80, height=24)
    assert "174 of 200 placed, 2 over · owed 28 twos · sites 179 made, 5 free" in shown
    assert "reseated 16" in shown


def test_overview_adds_up_cut_is_solution_bench_and_placed():
    record = case_under_way()
    record.enter(c.IssueGrafts(size="2", count=10))
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=4))
    text = said(record, "overview", width=160, height=40)
    for words in ("of 180 planned", "6 with the placers", "harvest A out 1 h 00 · 91 waiting"):
        assert words in text


def test_a_tally_below_nothing_stands_with_one_sign():
    record = case_under_way()
    record.enter(c.ReturnGrafts(size="2", count=1))
    text = said(record, "overview", width=160, height=40)
    assert "−1 ≠ with the placers" in text
    assert "+ −" not in text


def test_two_lots_show_the_oldest_and_each_of_their_own():
    record = case_under_way()
    record.enter(c.StartHarvest(harvest="B"))
    record.enter(c.CutGrafts(harvest="B", size="2", count=5))
    record.wait(10)
    text = said(record, "overview", width=120, height=40)
    assert "A out 1 h 10 · 95 waiting" in text
    assert "B out 10 min · 5 waiting" in text
    assert "harvest B out 10 min · oldest harvest A 1 h 10" in said(record, "cutting", harvest="B")


def test_no_harvests_time_runs_on_once_the_case_is_closed():
    record = case_under_way()
    record.enter(c.SignOff(second="CD", **UNCOUNTED))
    record.wait(120)
    assert "harvest A out 1 h 00" in said(record, "cutting", harvest="A")
    assert "oldest out 1 h 00" in said(record, "overview")


def test_prompts_are_never_the_tone_of_what_is_wrong():
    record = case_under_way()
    record.wait(300)
    tones = {span.tone for each in prompt_lines(record.state, record.now_ms, 200, 3) for span in each}
    assert "wrong" not in tones
    assert "pressing" in tones


def test_the_most_urgent_prompt_stands_first():
    record = case_under_way()
    record.enter(c.GiveCare(care="wet"))
    record.wait(16)
    rows = [text_of(each).split(" ·")[0] for each in prompt_lines(record.state, record.now_ms, 80)]
    assert rows[:2] == [" ! TEMPERATURE", " ! RENEW SOLUTION"]
    assert rows[2].startswith(" ! WET THE DISHES")


@pytest.mark.parametrize(("width", "rows"), [(40, 1), (60, 1), (80, 1), (40, 2)])
def test_prompts_that_find_no_room_are_counted(width: int, rows: int):
    record = case_under_way()
    record.wait(300)
    lines = prompt_lines(record.state, record.now_ms, width, rows)
    shown = sum(bool(span.action) for each in lines for span in each)
    more = len(prompts(record.state, record.now_ms)) - shown
    assert more > 0
    assert text_of(lines[-1]).removesuffix(" late").endswith((f"and {more} more", f"+{more}"))
    assert text_of(lines[-1]).endswith("more late") or width < 60
    assert len(lines) <= rows
    assert all(width_of(each) <= width for each in lines)
    first = prompt_words(urgent_first(prompts(record.state, record.now_ms))[0], Times())
    assert first.split(" · ")[-1] in text_of(lines[0]).replace("H", "h").replace(
        "LATE", "late"
    )  # how late it is is not what is left out


@pytest.mark.parametrize("size", SIZES)
def test_large_numbers_are_shown_whole_with_their_thousands(size: tuple[int, int]):
    plan = small_plan()
    zone = replace(plan.zones[0], targets={"1": 12_345})
    record = opened_case(replace(plan, zones=(zone, *plan.zones[1:])))
    width, height = size
    for role in ("placing", "overview"):
        text = "\n".join(text_of(each) for each in painted(record.state, role, width, height))
        assert "12345" not in text
        if role == "overview" and not re.search(r"\d/\d", text):  # so few zones have theirs in blocks
            drawn = block_digits("0/12345", Scale(6, 1))
            assert all(any(row.rstrip() in each for each in text.split("\n")) for row in drawn)
        else:
            assert "12,345" in text


def test_mismatches_stay_and_say_how_many_more():
    record = case_under_way()
    for size in ("1", "2", "3"):
        record.enter(c.PlaceGrafts(zone="MID", size=size, count=60))
    assert "(and 5 more)" in said(record, "placing")


def test_only_what_fits_is_cut_with_an_ellipsis():
    plan = small_plan(
        sizes=(Size(key="2", label="two hairs in a graft, quite long label", hairs=2),),
        zones=(
            Zone(key="A", label="a zone with a label of forty letters....", area_cm2=9, targets={"2": 9}),
        ),
    )
    for size in SIZES:
        for role in ROLES:
            for each in painted(opened_case(plan).state, role, *size):
                assert width_of(each) <= size[0]


@pytest.mark.parametrize("size", SIZES)
def test_a_side_that_no_label_says_stands_beside_it(size: tuple[int, int]):
    zones = tuple(
        Zone(key=side[0].upper(), label=label, side=side, area_cm2=9, targets={"1": 9})
        for side, label in (("left", "temple"), ("right", "temple"), ("centre", "crown"))
    )
    record = opened_case(small_plan(zones=zones))
    screens = [said(record, "placing", width=size[0], height=size[1], zone=zone) for zone in range(3)]
    rows = [row for screen in screens for row in screen.split("\n")]
    for side in ("left", "right"):
        assert any(row[2:].startswith("○ te") and side in row[:20] for row in rows)
    assert not any("crown, centre" in row for row in rows)


@pytest.mark.parametrize("size", SIZES)
def test_left_and_right_stay_apart_at_every_width(size: tuple[int, int]):
    record = opened_case(load_plan(SAMPLES / "frontal-midscalp" / "plan.toml"))
    lines = [text_of(each) for each in painted(record.state, "placing", *size)]
    names = [each[4:].split("  ")[0].split(" ▇")[0].split(" ░")[0] for each in lines if each[2:3] == "○"]
    assert len(names) == len(set(names)) > 1


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("role", ROLES)
def test_the_way_to_help_is_always_shown(role: Role, size: tuple[int, int]):
    said_there = "".join(text_of(each) for each in painted(opened_case().state, role, *size))
    assert re.search(r" F1 (help|all keys) ", said_there)


def test_fitted_fills_and_cuts_to_the_width():
    assert text_of(fitted((), 3)) == "   "
    assert width_of(fitted(painted(opened_case().state, "cutting")[0], 10)) == 10


# Keys.


@pytest.mark.parametrize("role", ROLES)
def test_no_key_means_two_things(role: Role):
    keys = [name for key in Keys.standard().of(role) for name in key.keys]
    assert len(keys) == len(set(keys))


def test_no_key_of_a_keypad_without_numlock_counts_a_graft():
    for name in NUMLOCK_OFF:
        for role in ROLES:
            action = Keys.standard().action_for(role, name)
            assert action is None or action in {"up", "down", "left", "right"}


@pytest.mark.parametrize(
    ("pressed", "name"),
    [
        ("add", "plus"),
        ("subtract", "minus"),
        ("decimal", "full_stop"),
        ("divide", "slash"),
        ("Q", "q"),
        ("7", "7"),
    ],
)
def test_a_key_has_one_name_however_the_terminal_calls_it(pressed: str, name: str):
    assert plain_name(pressed) == name


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("role", ROLES)
def test_help_names_every_key_of_the_role_and_the_cautions(role: Role, size: tuple[int, int]):
    width, height = size
    glance = Glance(role=role, who="AB", width=width, height=height)
    pages = paged(help_blocks(glance, ("be careful",)), height - AROUND)
    text = []
    for number in range(len(pages)):
        glance.reading = Reading("help", number)
        lines = page_lines(glance, "Keys", "F1", pages)
        assert len(lines) == height
        text += [" ".join(text_of(each).split()) for each in lines]
    whole = " ".join(text)
    for key in KEYS:
        assert (" ".join(key.help.split()[:3]) in whole) >= (role in key.roles)
        assert (key.help in whole) is (role in key.roles) or width < 60
    assert "be careful" in whole


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("role", ROLES)
def test_every_figure_says_how_it_is_worked_out(role: Role, size: tuple[int, int]):
    record = case_under_way()
    record.enter(c.FinishSegment(harvest="A"))
    record.enter(c.IssueGrafts(size="2", count=8))
    for _ in range(5):
        record.wait(4)
        record.enter(c.CutGrafts(harvest="A", size="2", count=6))
        record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=9))
    record.enter(c.FinishSegment(harvest="A"))
    known = foretold(record.state, record.now_ms)
    explained = worked_out(role, Asked(record.state, record.now_ms, "AB", "A", "FRONT", known))
    width, height = size
    glance = Glance(role=role, who="AB", width=width, height=height)
    pages = paged(figure_blocks(glance, explained), height - AROUND)
    assert all(len(page) <= height - AROUND for page in pages)
    assert all(width_of(each) <= width for page in pages for each in page)
    words = {word for page in pages for each in page for word in text_of(each).split()}
    for each in explained:
        assert all(text.strip() for text in (each.name, each.value, each.how, each.numbers, each.source))
        assert {*each.how.split(), *each.numbers.split(), *each.source.split()} <= words
    names = {each.name for each in explained}
    both = {"PLACED", "waiting", "LEFT TO PLACE", "OLDEST OUT", "prompts"}
    ahead = {"FINISH", "cutting", "placing", "one more", "the oldest by then", "probably"}
    expected = {
        "cutting": {"large figures", "spoilt", "harvest A out", "USABLE", "prompts"},
        "placing": {"frontal /cm²", "frontal still owed", *both},
        "overview": {"USABLE", *both, *ahead},
    }
    assert expected[role] <= names


def test_what_is_explained_is_what_is_shown():
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=25))
    asked = Asked(record.state, record.now_ms, "AB", "A", "FRONT", foretold(record.state, record.now_ms))
    shown = said(record, "overview", width=120, height=16)  # no room for block digits: figures are text
    for each in worked_out("overview", asked):
        if each.name in {"USABLE", "PLACED", "LEFT TO PLACE", "OLDEST OUT"}:
            assert each.value in shown


# Questions run without a terminal.


def answered(dialogue: asking.Dialogue, *keys: str) -> asking.Question:
    question = asking.Question(dialogue)
    for key in keys:
        question.press(key, key if len(key) == 1 else None)
    return question


def test_a_divided_multi_unit_graft_takes_pieces_until_done():
    question = answered(questions.divide(case_under_way().state, "A"), "5", "2", "2", "enter")
    assert question.over
    assert question.command == c.DivideGrafts(size="M", into=("2", "2"), harvest="A")


def test_a_number_takes_digits_only():
    question = answered(questions.finish_segment("A"), "1", "x", "2")
    assert question.typed == "12"
    question.press("enter", None)
    assert question.command == c.FinishSegment(harvest="A", length_mm=12)


def test_an_empty_answer_is_asked_for_again():
    question = answered(questions.note(), "enter")
    assert not question.over
    assert "type a text" in question.remark


def test_a_reading_that_is_no_number_is_asked_for_again():
    record = case_under_way()
    record.wait(45 * MINUTE_MS / MINUTE_MS)
    from orroom.figures.prompts import prompts

    cold = next(each for each in prompts(record.state, record.now_ms) if each.takes_reading)
    question = answered(prompt_questions.give_care(cold), "-", ".", "enter")
    assert not question.over
    assert "type a number" in question.remark


def test_new_initials_are_asked_until_they_are_some():
    question = answered(questions.hand_over("AB"), "1", "enter")
    assert isinstance(question.step, asking.Words)
    assert question.step.ask.startswith("1: use a capital")
    for key in ("c", "d", "enter"):
        question.press(key, key if len(key) == 1 else None)
    assert question.command == questions.HandOverTo(left="AB", initials="CD")
