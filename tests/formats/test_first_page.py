"""The first page: what it says, that it is one page, and that a browser and print say the same."""

from __future__ import annotations

import re
from functools import cache
from html import unescape
from pathlib import Path

import pytest
from cases import MINUTE_MS, Record, case_under_way, opened_case, records, small_plan
from eventful_day import AT_OVERVIEW, closed_day, count_by_two, sign_off
from formats.test_pdf import pages
from hypothesis import given, settings
from msgspec.structs import replace

from orroom.case import commands as c
from orroom.case.evolve import fold
from orroom.case.plan import CareRound, Limits, Zone
from orroom.formats.blocks import plain
from orroom.formats.first_page.day import NARROW, day
from orroom.formats.first_page.looks import LEAST, MOST, looks
from orroom.formats.first_page.out_curve import HIGH, out_curve
from orroom.formats.first_page.page import NO_WORK, NOTHING_TO_LOOK_AT, first_page
from orroom.formats.first_page.zone_boxes import BREADTH, HEIGHTS, zone_boxes
from orroom.formats.pdf import to_pdf
from orroom.formats.summary_formats import to_html
from orroom.record.events_file import read_events
from orroom.summary.sharing import shared
from orroom.summary.summary import ShareLevel, Summary, summarise

SAMPLES = Path(__file__).parents[2] / "sample_cases"


@cache
def sample(name: str) -> Summary:
    return summarise(fold(read_events(SAMPLES / name / "events.jsonl")), "0" * 64)


def said(summary: Summary) -> str:
    """The first page of a browser as text."""
    page = to_html(summary).split("</article>")[0].split("<main>")[1]
    return " ".join(unescape(re.sub("<[^>]*>", " ", page)).split())


def test_the_four_figures_of_a_case_by_hand():
    """42 of 80 planned; 9 ones and 33 twos have 75 hairs; 12 cm² of zones."""
    record = opened_case()
    record.enter(c.StartHarvest(harvest="A"))
    record.enter(c.CutGrafts(harvest="A", size="1", count=9))
    record.enter(c.CutGrafts(harvest="A", size="2", count=33))
    record.wait(95)
    record.enter(c.PlaceGrafts(zone="FRONT", size="1", count=9))
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=33))
    summary = summarise(record.state)
    area = sum(zone.area_cm2 for zone in summary.zones)
    figures = {each.what: each.figure for each in first_page(summary).headlines}
    assert figures == {
        "grafts placed": "42",
        "hairs placed": "75",
        "grafts per cm²": f"{42 / area:.1f}",
        "longest out of the body": "1:35",
    }


def test_a_limit_that_was_broken_is_marked_with_its_share():
    """Limit of half an hour: the 5 placed after 20 min are within it, the 15 after 45 min are not."""
    plan = small_plan(limits=Limits(with_placers_seconds=120, out_of_body_hours=0.5))
    record = opened_case(plan)
    record.enter(c.StartHarvest(harvest="A"))
    record.enter(c.CutGrafts(harvest="A", size="1", count=20))
    record.wait(20)
    record.enter(c.PlaceGrafts(zone="FRONT", size="1", count=5))
    record.wait(25)
    record.enter(c.PlaceGrafts(zone="FRONT", size="1", count=15))
    summary = summarise(record.state)
    page = first_page(summary)
    assert (page.headlines[3].figure, page.headlines[3].beyond) == ("0:45", True)
    look = next(each for each in page.looks if each.what == "Out of the body longer than the limit")
    assert (look.mark, look.how) == ("beyond", "75 % of grafts; limit 0:30, longest 0:45")
    assert "limit 0:30; half placed by 0:45" in said(summary)
    within = summarise(fold([*record.state.log][:-1]))
    assert not first_page(within).headlines[3].beyond


def test_what_is_open_comes_first_then_limits_then_what_was_explained():
    found = looks(sample("frontal-midscalp"))
    order = ("open", "beyond", "explained")
    marks = [order.index(each.mark) for each in found]
    assert marks == sorted(marks)
    assert set(marks) >= {1, 2}
    late = next(each for each in found if each.what == "Wet the dishes: 1 late")
    assert (late.at, late.how) == ("09:42", "22 of 22 rounds given, the latest 7 min 03 s after it was due")
    warm = next(each for each in found if each.what == "Read the temperature: 8.8 °C")
    assert (warm.at, warm.how) == ("09:58", "wanted 2 to 8 °C; next 5.0 °C at 10:07")
    assert warm.said == "Done: fresh ice put under the dishes (NP 09:59)"


def test_care_that_stopped_says_how_many_were_missed_from_when():
    wet = CareRound(key="wet", label="wet the dishes", kind="wet", every_minutes=15)
    record = opened_case(small_plan(care=(wet,)))
    record.enter(c.StartHarvest(harvest="A"))
    for _ in range(4):
        record.wait(20)
        record.enter(c.CutGrafts(harvest="A", size="1"))
    summary = summarise(record.state)
    look = next(each for each in looks(summary) if each.what.startswith("Wet the dishes"))
    assert look.what == "Wet the dishes: 5 missed"
    assert look.how == "0 of 5 rounds given; none for 1:20 at the end"
    drawing = first_page(summary).day_broad
    assert drawing is not None
    assert str(drawing.parts).count("l7 7m0 -7") == 5  # a cross for each


def test_placing_that_goes_on_is_said_and_no_count_is_asked_for_yet():
    summary = summarise(case_under_way().state)
    words = [each.what for each in looks(summary)]
    assert words[0] == "Placing is not finished"
    assert not any("final count" in each for each in words)


def test_nothing_to_look_at_and_no_work_are_said():
    record = opened_case(small_plan(zones=small_plan().zones))
    summary = summarise(record.state)
    assert NO_WORK in said(summary)
    calm = summary.model_copy(
        update={"in_all": summary.in_all.model_copy(update={"owed": 0}), "still_open": ()}
    )
    assert NOTHING_TO_LOOK_AT in said(calm)


def test_more_than_fits_is_counted():
    found = sample("two-lots")
    one = found.mismatches[0]
    many = found.model_copy(
        update={"mismatches": tuple(one.model_copy(update={"explanation": "x"}) for _ in range(20))}
    )
    page = first_page(many)
    assert len(page.looks) == MOST
    left_out = len(looks(many)) - MOST
    assert page.left_out[0].words == f"{left_out} more in the whole summary."
    assert f"{left_out} more" in said(many)


@pytest.mark.parametrize("name", ["frontal-midscalp", "hairline", "two-lots"])
@pytest.mark.parametrize("level", ["full", "roles", "anonymous"])
def test_print_and_browser_say_the_same_on_one_page(name: str, level: ShareLevel):
    summary = shared(sample(name), level)
    printed = pages(to_pdf(summary))[0]
    page = first_page(summary)
    squeezed, browser = re.sub(r"\s", "", printed), re.sub(r"\s", "", said(summary))
    texts = [page.case, page.day, page.status, page.clock, page.entries, page.looks_of, page.cautions]
    texts += [text for each in page.headlines for text in (each.figure, each.what, each.detail)]
    texts += [each.at for each in page.looks]
    texts += [part.title for part in (page.sizes, page.out, page.count, page.people)]
    for text in texts:
        assert re.sub(r"\s", "", text) in browser, text
        assert re.sub(r"\s", "", text) in squeezed, text
    assert "Signatures" in printed
    assert "surgeon" in printed


@settings(max_examples=40)
@given(records())
def test_of_any_record_the_figures_are_those_of_the_summary(record: Record):
    summary = summarise(record.state)
    page = first_page(summary)
    rows = {str(row[0]): row for row in page.sizes.table.rows} if page.sizes.table else {}
    assert str(rows["planned"][-1]) == (f"{summary.in_all.planned:,}" if summary.in_all.planned else "·")
    for drawing in (*page.zones, page.day_broad, page.day_narrow, page.out_curve):
        if drawing is not None:
            assert all(0 <= words.x <= drawing.width for words in drawing.words)
            assert all(0 <= words.y <= drawing.height for words in drawing.words)


def test_zones_lie_as_they_do_on_the_head_and_are_to_scale():
    drawing = zone_boxes(sample("frontal-midscalp"))
    assert drawing is not None
    at = {words.words: words for words in drawing.words}
    order = ["temporal left", "hairline left", "hairline right", "temporal right"]
    assert [at[label].x for label in order] == sorted(at[label].x for label in order)
    assert len({at[label].y for label in order}) == 1
    assert at["hairline left"].y < at["second line left"].y < at["frontal core"].y < at["mid-scalp left"].y
    boxes = re.findall(
        r'class="box" x="([\d.]+)" y="([\d.]+)" width="([\d.]+)" height="([\d.]+)"',
        "".join(map(str, drawing.parts)),
    )
    areas = sorted(float(wide) * float(high) for _, _, wide, high in boxes)
    zones = sorted(zone.area_cm2 for zone in sample("frontal-midscalp").zones)
    scales = [area / zone for area, zone in zip(areas, zones, strict=True)]
    assert max(scales) / min(scales) < 1.1  # but for the gaps
    assert all(float(x) + float(wide) <= BREADTH for x, _, wide, _ in boxes)


@pytest.mark.parametrize("side", ["left", "right"])
def test_a_zone_of_one_side_alone_is_in_the_half_of_its_side(side: str):
    one = Zone(key="ONE", label="one side", kind="hairline", side=side, area_cm2=10, targets={"1": 50})  # type: ignore[arg-type]
    both = [
        Zone(key=key, label=key, kind="mid-scalp", side=each, area_cm2=20, targets={"1": 50})  # type: ignore[arg-type]
        for key, each in (("ML", "left"), ("MR", "right"))
    ]
    drawing = zone_boxes(summarise(opened_case(replace(small_plan(), zones=(one, *both))).state))
    assert drawing is not None
    [at] = [words.x for words in drawing.words if words.words == "one side"]
    [hand] = [words.x for words in drawing.words if words.words == f"patient's {side}"]
    assert (at < BREADTH / 2) == (hand < BREADTH / 2)


def test_what_is_shaded_beyond_the_limit_begins_at_the_share_that_is_out_then():
    """Limit 1 h: 5 of 20 are placed after 30 min, so three quarters are out when it is reached."""
    plan = small_plan(limits=Limits(with_placers_seconds=120, out_of_body_hours=1))
    record = opened_case(plan)
    record.enter(c.StartHarvest(harvest="A"))
    record.enter(c.CutGrafts(harvest="A", size="1", count=20))
    for minutes, count in ((30, 5), (60, 15)):
        record.wait(minutes)
        record.enter(c.PlaceGrafts(zone="FRONT", size="1", count=count))
    drawing = out_curve(summarise(record.state))
    assert drawing is not None
    parts = "".join(map(str, drawing.parts))
    [(foot, top)] = re.findall(r'class="beyond" d="M[\d.]+ ([\d.]+)V([\d.]+)H', parts)
    assert (float(foot) - float(top)) / HIGH == pytest.approx(0.75, abs=0.01)


def test_once_no_zone_is_owed_a_graft_what_is_left_is_said_to_have_no_fate():
    """Before the sign-off too; while a zone is owed one, what waits is not left."""
    record = opened_case(replace(small_plan(), zones=(small_plan().zones[0],)))  # 40 ones
    record.enter(c.CutGrafts(harvest="A", size="1", count=45))
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=39))
    assert "without a fate" not in said(summarise(record.state))
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=1))
    assert "5 grafts left without a fate in the record." in said(summarise(record.state))


def test_a_zone_is_filled_as_far_as_it_is_placed():
    record = opened_case()
    record.enter(c.CutGrafts(harvest="A", size="1", count=50))
    summary = summarise(record.state)
    first = summary.zones[0]
    half = first.grafts_planned // 2
    record.enter(c.PlaceGrafts(zone=first.zone, size="1", count=half))
    parts = "".join(map(str, zone_boxes(summarise(record.state)).parts))  # type: ignore[union-attr]
    (box, *_), (placed,) = (
        re.findall(rf'class="{name}" x="[\d.]+" y="[\d.]+" width="([\d.]+)"', parts)
        for name in ("box", "placed")
    )
    assert float(placed) / float(box) == pytest.approx(half / first.grafts_planned, abs=0.01)


def test_lower_maps_are_lower():
    highs = [zone_boxes(sample("frontal-midscalp"), high).height for high in HEIGHTS]  # type: ignore[union-attr]
    assert highs == sorted(highs, reverse=True)
    assert len(set(highs)) == len(highs)


def test_a_day_over_midnight_names_the_day_that_begins():
    record = opened_case()
    record.enter(c.StartHarvest(harvest="A"))
    record.enter(c.CutGrafts(harvest="A", size="1", count=9))
    record.wait(26 * 60)
    record.enter(c.PlaceGrafts(zone="FRONT", size="1", count=9))
    summary = summarise(record.state)
    words = [each.words for each in day(summary).words]  # type: ignore[union-attr]
    assert "day 2" in words
    assert first_page(summary).day == "Mon 5 to Tue 6 January 2026"
    hidden = shared(summary, "anonymous")
    assert "day 2" in [each.words for each in day(hidden).words]  # type: ignore[union-attr]
    assert first_page(hidden).day == ""


def test_what_was_late_is_drawn_where_it_was_late():
    """A triangle at the round that was late, with its words; the rounds in time are ticks."""
    wet = CareRound(key="wet", label="wet the dishes", kind="wet", every_minutes=15)
    record = opened_case(small_plan(care=(wet,)))
    started = record.enter(c.StartHarvest(harvest="A")).stamp.at_ms
    record.wait(15)
    record.enter(c.GiveCare(care="wet"))
    record.wait(24)
    late = record.enter(c.GiveCare(care="wet")).stamp.at_ms
    summary = summarise(record.state)
    for width in (NARROW, 720):
        drawing = day(summary, width)
        assert drawing is not None
        parts = [each for each in drawing.parts if isinstance(each, str)]
        (triangle,) = (each for each in parts if "l5 9h-10z" in each)
        ticks = [each for each in parts if "v-7" in each]
        assert len(ticks) == 1
        assert "9 min late" in [each.words for each in drawing.words]
        x = [float(re.search(r'd="M([\d.]+)', each)[1]) for each in (*ticks, triangle)]  # type: ignore[index]
        assert x[0] < x[1]
    assert late - started > 38 * MINUTE_MS


def test_a_first_graft_that_is_the_last_too_is_not_written_on_it():
    record = opened_case()
    record.enter(c.StartHarvest(harvest="A"))
    record.enter(c.CutGrafts(harvest="A", size="1", count=9))
    record.wait(60)
    record.enter(c.PlaceGrafts(zone="FRONT", size="1", count=9))
    drawing = day(summarise(record.state))
    assert drawing is not None
    first, last = (next(w for w in drawing.words if w.words.startswith(each)) for each in ("first", "latest"))
    assert (first.anchor, last.anchor) == ("end", "start")
    assert last.x - first.x >= 8


@pytest.mark.parametrize("again", [False, True])
def test_much_that_needs_a_look_gives_way_so_that_it_is_one_page(again: bool):
    """Counted by two who differ, fates, a long list of what is open: what is not shown is counted."""
    record = closed_day()
    if again:
        record.enter(c.ReopenCase(reason="a dish was found"), **AT_OVERVIEW)
        record.enter(c.CutGrafts(harvest="B", size="2", count=9))
        count_by_two(record)
        sign_off(record, "GH")
    summary = summarise(record.state, "0" * 64)
    found = looks(summary)
    (page,) = pages(to_pdf(summary, ("first",)))
    shown = " ".join(page.split())
    more = int(re.search(r"(\d+) more", shown)[1])
    assert sum(plain(each.what) in shown for each in found[:MOST]) == len(found) - more < MOST
    assert [each.words for each in first_page(summary).left_out] == [
        f"{len(found) - number} more in the whole summary." for number in range(MOST, LEAST - 1, -1)
    ]
