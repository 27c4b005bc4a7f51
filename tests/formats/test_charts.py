"""The charts of a summary: what they draw, that they are named, and that nothing stands outside them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import combinations, pairwise, product
from pathlib import Path
from xml.etree import ElementTree

import pytest
from cases import MINUTE_MS, MORNING_MS, opened_case, small_plan

from orroom.case import commands as c
from orroom.case.evolve import fold
from orroom.case.plan import CareRound, Size, Zone
from orroom.formats.chart import Band, Chart, Marks, Range
from orroom.formats.drawing import WIDTH, Drawing, Words, breadth, shortened
from orroom.formats.sections import charts
from orroom.formats.summary_formats import to_html
from orroom.formats.svg import BOTTOM, COLUMN, HEIGHT, INKS, TOP, drawn
from orroom.record.events_file import read_events
from orroom.summary.summary import Summary, summarise

SAMPLES = Path(__file__).parents[2] / "sample_cases"
DRAWN = (
    charts.progress,
    charts.pace,
    charts.out_of_body,
    charts.punctuality,
    charts.temperature,
)


@pytest.fixture(scope="module")
def day() -> Summary:
    return summarise(fold(read_events(SAMPLES / "frontal-midscalp" / "events.jsonl")))


def drawing(chart: Iterator[Chart], width: float = WIDTH) -> Drawing:
    (one,) = chart
    return drawn(one, width)


def said(chart: Iterator[Chart], width: float = WIDTH) -> list[str]:
    return [each.words for each in drawing(chart, width).words]


def test_every_chart_shows_its_title_and_its_units(day: Summary):
    units = ("grafts", "grafts an hour", "hours out of the body", "minutes after it was", "°C")
    for chart, unit in zip(DRAWN, units, strict=True):
        words = said(chart(day))
        assert drawing(chart(day)).title.startswith(f"{words[0]}. ")
        assert any(each.startswith(unit) for each in words)


def test_every_chart_says_its_data_to_somebody_who_hears_it(day: Summary):
    """Lines at each mark of the clock and at the end; of many marks how many, from where to where."""
    words = {chart.__name__: drawing(chart(day)).title for chart in DRAWN}
    (last,) = day.progress[-1:]
    assert f"14:00 2,432, at the end {last.cut_spoilt_left_out:,}. placed 2,402: " in words["progress"]
    assert words["progress"].endswith(f"at the end {last.placed:,}. plan 2,400.")
    (chart,) = charts.progress(day)
    at_ten = next(at for at, label in chart.ticks if label == "10:00")
    placed = pairwise(chart.shown[1].points)
    (before, early), (after, late) = next(pair for pair in placed if pair[0][0] <= at_ten < pair[1][0])
    assert f"10:00 {early + (late - early) * (at_ten - before) / (after - before):.0f}" in words["progress"]
    assert re.search(r"placing: 09:00 0, (?:\d\d:00 [\d.,]+, )+at the end \d+", words["pace"])
    assert ". published: 95 % at 2 h, 90 % at 4 h." in words["out_of_body"]
    late_s = [each.late_ms for each in day.care_given if each.care == "wet" and each.late_ms is not None]
    assert f": {len(late_s)} from 0 to {max(late_s) / 60_000:.1f}." in words["punctuality"]
    read = [f"{each.temperature_c:g}" for each in day.care_given if each.temperature_c is not None]
    assert words["temperature"].endswith(f". wanted 2 to 8 °C. read: {', '.join(read)}.")


@pytest.mark.parametrize("name", ["frontal-midscalp", "two-lots", "two-days", "hairline"])
def test_no_chart_of_a_page_is_without_its_data(name: str):
    """In its own words, or, where these say so, in the table below it."""
    summary = summarise(fold(read_events(SAMPLES / name / "events.jsonl")))
    labels = re.findall(r'<svg [^>]*aria-label="([^"]*)"', to_html(summary))
    assert len(labels) > 5
    for label in labels:
        _, data = label.split(". ", 1) if ". " in label else label.split(": ", 1)
        assert len(re.findall(r"\d", data)) > 3 or data == "The table below has its figures.", label


def test_published_survival_is_named_as_such(day: Summary):
    found = said(charts.out_of_body(day))
    assert {"95 % at 2 h", "90 % at 4 h", "published"} <= set(found)
    assert any("published survival in saline at 4 °C, for reference only" in each for each in found)


def test_pace_is_told_over_ten_minutes_or_more():
    record = opened_case()
    start = record.enter(c.StartHarvest(harvest="A", minutes_ago=0)).stamp.at_ms
    record.enter(c.CutGrafts(harvest="A", size="2", count=95))
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=5), at_ms=start + 30 * MINUTE_MS)
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=5), at_ms=start + 60 * MINUTE_MS)
    summary = summarise(record.state)
    svg = drawing(charts.pace(summary)).svg()
    words = said(charts.pace(summary))
    rates = {float(each.replace(",", "")) for each in words if re.fullmatch(r"[\d,]+", each)}
    assert max(rates) == 500  # 95 in the first ten minutes are 570 an hour
    steps = re.search(rf'<path d="M([^"]+)" fill="none" stroke="{INKS[0]}"', svg)
    assert steps is not None
    across = [float(each) for each in re.findall(r"H([\d.]+)", steps[1])]
    minute = (WIDTH - 56 - 200) / 65  # five minutes before the hour of work, and that hour
    assert min(b - a for a, b in pairwise(across)) >= 10 * minute - 1


def test_the_clock_of_a_chart_begins_five_minutes_before_the_first_work():
    """Opened the evening before: the first tick is that of the harvest's hour, not of the opening's."""
    record = opened_case()
    start = MORNING_MS + 14 * 60 * MINUTE_MS  # 21:30
    record.enter(c.GiveCare(care="wet"), at_ms=start - 2 * MINUTE_MS)
    record.enter(c.StartHarvest(harvest="A", minutes_ago=0), at_ms=start)
    for minute in range(10, 70, 10):
        record.enter(c.CutGrafts(harvest="A", size="1", count=10), at_ms=start + minute * MINUTE_MS)
    record.enter(c.GiveCare(care="wet"), at_ms=start + 60 * MINUTE_MS)
    summary = summarise(record.state)
    assert (summary.start_of_work, summary.progress[0].at, summary.progress[0].cut_spoilt_left_out) == (
        start,
        start,
        0,
    )
    for chart in (charts.progress, charts.pace, charts.punctuality):
        clock = [each for each in said(chart(summary)) if re.fullmatch(r"\d\d:\d\d", each)]
        assert (clock[0], clock[-1]) == ("21:30", "22:30")
    svg = drawing(charts.progress(summary)).svg()
    line = re.search(rf'<path d="M([\d.]+)[^"]*" fill="none" stroke="{INKS[0]}"', svg)
    assert line is not None
    width = WIDTH - 56 - 200
    assert float(line[1]) == pytest.approx(56 + width * 5 / 65, abs=1)  # five of 65 minutes


def test_a_day_without_grafts_has_no_pace_and_no_curve():
    summary = summarise(opened_case().state)
    assert [len(list(chart(summary))) for chart in DRAWN] == [0, 0, 0, 0, 0]


@pytest.mark.parametrize("letter", ["W", "x", "i", "漢", "ق", "0"])
def test_long_names_are_cut_short_and_stay_inside(letter: str):
    long = letter * 40
    record = opened_case(
        small_plan(
            sizes=tuple(Size(key=key, label=long, hairs=1) for key in "1234M"),
            zones=(Zone(key="Z", label=long, area_cm2=9, targets={"1": 9999}),),
            care=(CareRound(key="cold", label=long, kind="temperature", every_minutes=9, low_c=2, high_c=8),),
        )
    )
    record.enter(c.StartHarvest(harvest="A"))
    record.enter(c.CutGrafts(harvest="A", size="1", count=9999))
    record.wait(30)
    record.enter(c.PlaceGrafts(zone="Z", size="1", count=9999))
    record.enter(c.GiveCare(care="cold", temperature_c=4))
    summary = summarise(record.state)
    for chart, width in product(DRAWN, (WIDTH, COLUMN)):
        shown = drawing(chart(summary), width)
        assert f'viewBox="0 0 {width} {shown.height:.0f}"' in shown.svg()
        for each in shown.words:
            broad = breadth(each.words)
            left = each.x - {"start": 0, "middle": 0.5, "end": 1}[each.anchor] * broad
            assert left >= 0
            assert left + broad <= width
            assert 0 < each.y < shown.height


def test_in_a_column_no_words_of_a_chart_lie_on_others(day: Summary):
    for chart in DRAWN:
        shown = drawing(chart(day), COLUMN)
        boxes = []
        for each in shown.words:
            broad = breadth(each.words)
            left = each.x - {"start": 0, "middle": 0.5, "end": 1}[each.anchor] * broad
            boxes.append((left, left + broad, each.y - 9, each.y, each.words))
        for one, other in combinations(boxes, 2):
            apart = one[1] <= other[0] or other[1] <= one[0] or one[3] <= other[2] or other[3] <= one[2]
            assert apart, (one, other)
        names = {each.name for each in next(chart(day)).shown if not isinstance(each, Range)} - {""}
        assert names <= set(said(chart(day), COLUMN))


def test_stems_go_from_nothing_to_each_mark():
    marks = Marks([(0, 4), (1, -2)], "read", stems=True)
    svg = drawn(Chart("t", (0, 1), (-10, 10), "x", "y", [], [marks])).svg()
    unit, middle = (HEIGHT - TOP - BOTTOM) / 20, (HEIGHT - BOTTOM + TOP) / 2
    found = re.findall(r'<path d="M[\d.]+ ([\d.]+)V([\d.]+)" stroke="#000000"/>', svg)
    assert [float(end) for pair in found for end in pair] == pytest.approx(
        [middle, middle - 4 * unit, middle, middle + 2 * unit], abs=0.06
    )


def test_a_reading_before_the_first_work_is_on_the_chart():
    care = (CareRound(key="cold", label="cold", kind="temperature", every_minutes=30, low_c=2, high_c=8),)
    record = opened_case(small_plan(care=care))
    read = record.enter(c.GiveCare(care="cold", temperature_c=4)).stamp.at_ms
    record.wait(60)
    record.enter(c.StartHarvest(harvest="A", minutes_ago=0))
    record.enter(c.CutGrafts(harvest="A", size="1", count=10))
    (chart,) = charts.temperature(summarise(record.state))
    assert chart.x[0] == read - 5 * MINUTE_MS


@pytest.mark.parametrize(
    ("low", "high", "top", "bottom"),
    [
        (2, 8, 8, 2),
        (None, 8, 8, 0),
        (2, None, 10, 2),
        (-5, 15, 10, 0),
    ],
)
def test_a_band_goes_from_end_to_end_and_to_the_edge_without_one(
    low: float | None, high: float | None, top: float, bottom: float
):
    svg = drawn(Chart("t", (0, 1), (0, 10), "x", "y", [], [Band(low, high, "wanted")])).svg()
    found = re.search(r'<rect x="56" y="([\d.]+)" width="464" height="([\d.]+)" fill="#DDDDDD"', svg)
    assert found is not None
    unit = (HEIGHT - TOP - BOTTOM) / 10
    assert float(found[1]) == pytest.approx(HEIGHT - BOTTOM - top * unit, abs=0.06)
    assert float(found[2]) == pytest.approx((top - bottom) * unit, abs=0.06)


def test_cutting_short_keeps_what_fits():
    assert shortened("hairline", 200) == "hairline"
    assert shortened("", 0) == ""
    cut = shortened("the left side of the hairline", 100)
    assert cut.endswith("…")
    assert "the left side of the hairline".startswith(cut[:-1])
    assert breadth(cut) <= 100


def test_a_drawing_with_and_without_its_words_loses_nothing():
    words = Words(3, 4, 'x & "y" <b>', "end")
    one = Drawing("a < b", 40, [words, '<path d="M0 0"/>'])
    assert one.words == [words]
    page = ElementTree.fromstring(one.svg())  # noqa: S314 - our own text
    texts = [each for each in page if each.tag.endswith("text")]
    assert [each.text for each in texts] == ['x & "y" <b>']
    assert (texts[0].get("x"), texts[0].get("y"), texts[0].get("text-anchor")) == ("3.0", "4.0", "end")
    bare = one.svg(with_words=False)
    assert "<text" not in bare
    assert '<path d="M0 0"/>' in bare
    assert "<title>a &lt; b</title>" in bare


@pytest.mark.parametrize("width", [WIDTH, COLUMN])
def test_words_of_marks_close_together_are_one_below_the_other(width: float):
    marks = Marks([(2, 95), (4, 90)], "published", words=["95 % at 2 h", "90 % at 4 h"])
    shown = drawn(Chart("t", (0, 40), (0, 100), "x", "y", [], [marks]), width)
    upper, lower = (next(each for each in shown.words if each.words == words) for words in marks.words)
    assert lower.y - upper.y >= 12
    apart = drawn(Chart("t", (0, 6), (0, 100), "x", "y", [], [marks]), WIDTH)
    assert {each.anchor for each in apart.words if each.words in marks.words} == {"start"}
    near = [each for each in apart.words if each.words in marks.words]
    assert abs(near[1].y - near[0].y) < 10  # each next to its mark
