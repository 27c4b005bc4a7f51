"""Sheets printed from a plan: all that is wanted is on them, to scale, the same every time."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from cases import small_plan
from click.testing import CliRunner, Result
from msgspec.structs import replace
from printed import poppler
from shapely.geometry import Polygon

from orroom.case.plan import CareRound, Harvest, Plan, Size, Zone
from orroom.case.shapes import Ellipse, Outline, Trapezoid, Triangle
from orroom.case.terms import CAUTIONS, SIZE_KEYS
from orroom.cli import main
from orroom.cli.sheets import NAMES
from orroom.cli.start_inside import attempted
from orroom.figures.zone_rows import rows_of
from orroom.files.plan_file import load_plan
from orroom.formats.drawing import MM, WIDTH, Drawing, breadth
from orroom.formats.sheets.labels import HIGH, LARGE, WIDE, label_pages, labels_of
from orroom.formats.sheets.pages import HIGHEST
from orroom.formats.sheets.sheet import SheetName, sheets_of
from orroom.formats.sheets.tally import BOXES, FIVE, care_page, cut_pages, tick_rows
from orroom.formats.sheets.written import to_html, to_pdf
from orroom.formats.sheets.zone_map import zone_pages
from orroom.screens.start.chosen import Chosen

SAMPLES = Path(__file__).parents[2] / "sample_cases"
DEMO = load_plan(SAMPLES / "frontal-midscalp" / "plan.toml")
VERTEX = load_plan(SAMPLES / "vertex" / "plan.toml")
HOSTILE = "<script>alert(1)</script> #panic() \"'&"


def largest() -> Plan:
    """As many parts as a plan may have, with names as long as they may be."""
    long = "mmmmmmmm wwwwwwww MMMMMMMM WWWWWWWW @@@@"
    sizes = tuple(Size(key=key, label=long, hairs=4.5 if key == "M" else int(key)) for key in SIZE_KEYS)  # type: ignore[arg-type]
    zones = tuple(
        Zone(
            key=f"WWWWWWWWW-{number}",
            label=long,
            side=(None, "left", "centre", "right")[number % 4],  # type: ignore[arg-type]
            area_cm2=number + 1,
            targets=dict.fromkeys(SIZE_KEYS, 10_000),  # type: ignore[arg-type]
        )
        for number in range(40)
    )
    return small_plan(
        case="C" * 32,
        sizes=sizes,
        zones=zones,
        harvests=tuple(Harvest(key=f"WW{number:02}", label=long) for number in range(20)),
        care=tuple(
            CareRound(key=f"c{number}", label=long, kind="wet", every_minutes=5) for number in range(10)
        ),
        cautions=("m" * 200,) * 10,
    )


def pages(pdf: bytes) -> list[str]:
    """The text of each page, with single spaces."""
    return [" ".join(page.split()) for page in poppler("pdftotext", pdf, "-layout").split("\f")[:-1]]


def drawings(plan: Plan) -> list[Drawing]:
    return [each for sheet in sheets_of(plan) for each in sheet.blocks if isinstance(each, Drawing)]


def said(drawing: Drawing) -> list[str]:
    return [each.words for each in drawing.words]


# Labels.


@pytest.mark.parametrize("plan", [DEMO, small_plan(), largest()], ids=["demo", "small", "largest"])
def test_every_dish_and_lane_has_one_label_with_marks_at_its_corners(plan: Plan):
    labels = labels_of(plan)
    dishes = [(each.large, each.beside) for each in labels if not each.blank]
    assert sorted(dishes) == sorted(
        (size.key, harvest.key) for size in plan.sizes for harvest in plan.harvests
    )
    assert [each.large for each in labels if each.blank] == ["a", "d", "g", "L", "q", "y"]
    found = list(label_pages(plan))
    large = [words.words for page in found for words in page.words if words.bold]
    assert large == [each.large for each in labels]
    words = [words for page in found for words in said(page)]
    assert words.count(plan.case) == len(labels)
    for name in {each.what for each in labels} | {each.beside for each in labels} - {""}:
        assert any(each == name or (each[-1] == "…" and name.startswith(each[:-1])) for each in words), name
    for page in found:
        rows = round((page.height - 6 * MM) / HIGH)
        ends = {
            float(y) for y in re.findall(r'd="M[\d.]+ ([\d.]+)L[\d.]+ \1"', "".join(map(str, page.parts)))
        }
        assert ends == {round(3 * MM + row * HIGH, 1) for row in range(rows + 1)}


def test_a_label_is_read_from_a_metre():
    """Letters 8 mm high and more (common practice, no source); capitals are two thirds of their size."""
    assert LARGE / MM * 0.65 >= 8
    assert WIDE / MM > 50


# The paper tally.


def test_boxes_are_enough_for_a_quarter_more_than_planned():
    """The demo plans 480, 1,110, 620, 90, 100; 120 to a row: 600, 1,388, 775, two rows at least, 125."""
    rows = [row.size for row in tick_rows(DEMO)]
    assert [rows.count(size) for size in "1234M"] == [5, 12, 7, 2, 2]
    assert FIVE * BOXES == 120
    assert [row.full for row in tick_rows(DEMO)][:6] == [120, 240, 360, 480, 600, 120]
    assert tick_rows(DEMO)[-1].label == "spoilt"
    drawn = "".join(str(part) for _, page in cut_pages(DEMO) for part in page.parts)
    assert drawn.count("<rect") == BOXES * len(tick_rows(DEMO))


def test_a_zone_has_its_plan_by_size_and_room_to_write():
    (page,) = (page for page in pages(to_pdf(DEMO, ["tally"])) if "Grafts placed" in page)
    for words in ("1 HL", "hairline left of 120 of 120", "of 380 of 220 of 600", "of 480 of 1,110 of 620"):
        assert words in page
    assert "of 90 of 100 of 2,400" in page


def test_care_has_a_box_for_every_time_of_the_day_and_lines_to_sign():
    """Every 15, 60 and 30 min on a day of 8 h: 32, 8 and 16 boxes; once is one."""
    page = care_page(DEMO)
    assert "".join(map(str, page.parts)).count("<rect") == 32 + 8 + 16
    once = CareRound(key="car", label="the car", kind="reminder", at="15:30", once=True)
    page = care_page(replace(DEMO, care=(once,)))
    assert "".join(map(str, page.parts)).count("<rect") == 1
    assert "the car: once at 15:30" in said(page)
    assert {"final count, first", "final count, second", "surgeon"} <= set(said(page))


# The zones for the wall.


def lying(plan: Plan) -> list[list[str]]:
    rows, _ = rows_of(plan.zones)
    return [[spot.zone.key for spot in sorted(row, key=lambda each: each.column)] for row in rows]


def test_zones_lie_from_front_to_back_and_left_to_right():
    assert lying(DEMO) == [["HL", "HR"], ["TL", "TR"], ["DL", "DR"], ["FT"], ["FC"], ["ML", "MR"]]
    assert lying(VERTEX) == [["VU"], ["VL", "VC", "VR"], ["VB"]]
    (page,) = zone_pages(VERTEX)
    at = {words.words: words for words in page.words}
    assert at["3 · VL"].x < at["2 · VC"].x < at["4 · VR"].x
    assert at["1 · VU"].y < at["2 · VC"].y < at["5 · VB"].y
    assert at["patient's LEFT"].x < at["▲ FRONT, seen from above"].x < at["patient's RIGHT"].x
    assert "49 × 1 · 270 × 2" in at


def test_zones_without_a_side_are_not_put_on_one():
    plan = small_plan()
    assert rows_of(plan.zones)[0] == []
    (page,) = zone_pages(plan)
    assert "zones without a side in the plan" in said(page)
    assert not any("patient" in words for words in said(page))


def test_shapes_have_one_scale_by_their_areas():
    """Areas drawn, by the shapely library, against those of the plan, on the line that says 1 cm."""
    shapes: list[Any] = [
        Ellipse(length_cm=4, width_cm=3),
        Trapezoid(front_cm=6, back_cm=8, depth_cm=2.5),
        Triangle(base_cm=6, height_cm=3),
        Outline(points_cm=((0, 0), (2, 0.5), (2.5, 3), (0.5, 4))),
        None,
    ]
    zones = tuple(
        Zone(
            key=f"Z{number}",
            label="z",
            side="centre",
            shape=shape,
            area_cm2=None if shape else 7,
            targets={"1": 3},
        )
        for number, shape in enumerate(shapes)
    )
    found = list(zone_pages(small_plan(zones=zones)))
    parts = [part for page in found for part in page.parts if isinstance(part, str)]
    (one_cm,) = {
        float(each[1]) for part in parts if (each := re.search(r'd="M0\.0 [\d.]+L([\d.]+) .*"3"', part))
    }
    areas = [
        Polygon([tuple(map(float, corner.split())) for corner in each[1].split("L")]).area / one_cm**2
        for part in parts
        if (each := re.search(r'd="M([^"]+)z"', part))
    ]
    assert areas == pytest.approx([zone.measured_cm2 for zone in zones], rel=0.02)


@pytest.mark.parametrize("plan", [DEMO, VERTEX, small_plan(), largest()], ids=lambda plan: plan.case[:6])
def test_every_zone_is_on_one_page_and_nothing_is_beyond_the_edge(plan: Plan):
    keys = [words for page in zone_pages(plan) for words in said(page) if re.match(r"\d+ · ", words)]
    assert sorted(keys) == sorted(f"{number} · {zone.key}" for number, zone in enumerate(plan.zones, 1))
    for drawing in drawings(plan):
        assert drawing.height <= HIGHEST + 1
        assert not [words for words in said(drawing) if "…" in words and "×" in words]
        for words in drawing.words:
            wide = breadth(words.words) * words.size / 12
            left = words.x - {"start": 0, "middle": wide / 2, "end": wide}[words.anchor]
            assert left >= -1, words
            assert left + wide <= WIDTH + 1, words
            assert 0 <= words.y <= drawing.height, words


# The figures.


def test_published_count_of_3715_grafts_and_7145_hairs():
    """1212×1 + 1756×2 + 567×3 + 180×4 = 3715 grafts, 7145 hairs, 1.9233 a graft: a published worked count."""
    sizes = tuple(Size(key=key, label=f"{key} hairs", hairs=int(key)) for key in ("1", "2", "3", "4"))  # type: ignore[arg-type]
    targets: Any = {"1": 1212, "2": 1756, "3": 567, "4": 180}
    plan = small_plan(sizes=sizes, zones=(Zone(key="MID", label="mid", area_cm2=50, targets=targets),))
    (page,) = pages(to_pdf(plan, ["figures"]))
    assert "3,715 grafts, 7,145 hairs; 1.92 hairs a graft; 50.0 cm²" in page
    assert "74.3 grafts and 142.9 hairs per cm²." in page
    assert "2 2 hairs 2 1,756 3,512" in page


def test_figures_say_what_the_donor_gives_with_its_range_and_the_plans_cautions():
    (page,) = pages(to_pdf(DEMO, ["figures"]))
    assert "2,400 grafts, 5,360 hairs; 2.23 hairs a graft" in page
    assert "2,418 grafts expected, 95 % range 2,307–2,530 from the spread of the readings alone." in page
    assert "Invented demonstration case." in page


# All of them, in both formats.


@pytest.mark.parametrize("plan", [DEMO, VERTEX], ids=["demo", "vertex"])
def test_each_begins_a_page_with_case_date_and_cautions(plan: Plan):
    found, sheets = pages(to_pdf(plan)), sheets_of(plan)
    assert len(found) == len(sheets)
    for page in found:
        assert re.match(rf"[^:]+: {plan.case}, date ____", page)
        assert all(caution in page for caution in CAUTIONS)
    printed = to_html(plan)
    assert printed.count("<section>") == printed.count(f": {plan.case}, date ____") == len(sheets)
    assert printed.count(CAUTIONS[0]) == len(sheets)
    assert "section + section { break-before: page; }" in printed
    assert "(A4)" in poppler("pdfinfo", to_pdf(plan, ["labels"]))


def test_the_largest_plan_has_a_page_for_each_sheet_but_its_figures():
    """Its 780 pages to tick are no higher than those of a plan with fewer grafts, which is printed."""
    plan = largest()
    few = dict.fromkeys(SIZE_KEYS, 100)
    fewer = replace(plan, zones=(plan.zones[0], *(replace(each, targets=few) for each in plan.zones[1:])))  # type: ignore[arg-type]
    assert max(each.height for each in drawings(plan)) == max(each.height for each in drawings(fewer))
    names: list[SheetName] = ["labels", "tally", "zones"]
    assert len(pages(to_pdf(fewer, names))) == len(sheets_of(fewer, names)) > 50


def test_the_same_plan_gives_the_same_bytes():
    again = load_plan(SAMPLES / "vertex" / "plan.toml")
    assert to_pdf(VERTEX) == to_pdf(again)
    assert to_html(VERTEX) == to_html(again)


class Tags(HTMLParser):
    """The names of all tags of a page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: set[str] = set()
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.add(tag)
        assert not any(name.startswith("on") or name in ("href", "src") for name, _ in attrs)


def test_hostile_words_are_printed_and_do_nothing():
    def labelled(parts: tuple[Any, ...]) -> tuple[Any, ...]:
        return tuple(replace(each, label=f"{HOSTILE[:36]} 中") for each in parts)

    plan = replace(
        DEMO,
        sizes=labelled(DEMO.sizes),
        zones=labelled(DEMO.zones),
        harvests=labelled(DEMO.harvests),
        care=labelled(DEMO.care),
        cautions=(HOSTILE,),
    )
    page = to_html(plan)
    assert "script" not in Tags(page).found
    assert "&lt;script&gt;" in page
    found = " ".join(pages(to_pdf(plan)))
    assert "<script>alert(1)</script> #panic() \"'&" in found
    assert "‹U+4E2D›" in found


# The command, and the start screen.


def orroom(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(each) for each in arguments])


def test_only_some_are_written_in_the_format_of_the_name(tmp_path: Path):
    plan, file = SAMPLES / "two-lots" / "plan.toml", tmp_path / "sheets"
    for name in NAMES:
        page = orroom("sheets", plan, "--only", name, "--output", "-").output
        assert page == to_html(load_plan(plan), [name])  # type: ignore[list-item]
    assert orroom("sheets", plan, "--only", "zones, labels", "--output", "-").output.count("<section>") == 2
    assert orroom("sheets", plan, "--output", f"{file}.pdf").exit_code == 0
    assert file.with_suffix(".pdf").read_bytes() == to_pdf(load_plan(plan))
    assert file.with_suffix(".pdf").stat().st_mode & 0o777 == 0o600
    for wrong, words in (
        (("--output", f"{file}.pdf"), "already exists"),
        (("--output", f"{file}.txt"), "a name that ends in .pdf or .html"),
        (("--output", f"{file}.html", "--only", "labels,walls"), "'walls' is not one of labels, tally"),
        ((), "Missing option '--output'"),
    ):
        result = orroom("sheets", plan, *wrong)
        assert result.exit_code != 0
        assert words in result.stderr


def test_the_start_screen_writes_them_beside_the_plan(tmp_path: Path):
    plan = tmp_path / "plan.toml"
    plan.write_bytes((SAMPLES / "two-lots" / "plan.toml").read_bytes())
    for name in ("plan.sheets.pdf", "plan.sheets.2.pdf"):
        result = attempted(Chosen("sheets", plan), tmp_path)
        assert name in result.text
        assert (tmp_path / name).read_bytes() == to_pdf(load_plan(plan))
