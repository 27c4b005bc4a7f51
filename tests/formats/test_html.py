"""The summary as a page with charts: self-contained, harmless, right."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import pytest
from cases import MINUTE_MS, Record, case_under_way, opened_case, records, small_plan
from hypothesis import given, settings

from orroom.case import commands as c
from orroom.case.evolve import fold
from orroom.figures.curves import progress, waiting_curve
from orroom.formats.chart import Chart, Line
from orroom.formats.first_page.page import first_page
from orroom.formats.html import STYLE
from orroom.formats.sections import charts
from orroom.formats.summary_formats import to_html
from orroom.formats.svg import COLUMN, INKS, drawn, nice_step
from orroom.record.events_file import read_events
from orroom.summary.sharing import shared
from orroom.summary.summary import ShareLevel, Summary, summarise

SAMPLES = Path(__file__).parents[2] / "sample_cases"
CHARTS = (
    charts.progress,
    charts.pace,
    charts.out_of_body,
    charts.punctuality,
    charts.temperature,
)
VOID = {"meta", "br", "hr"}


class Strict(HTMLParser):
    """What a page must and must not hold beyond well-formed HTML, told as it is read."""

    def __init__(self) -> None:
        super().__init__()
        self.faults: list[str] = []
        self.ids: list[str] = []
        self.cells_without_scope = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        held = {name: value or "" for name, value in attrs}
        self.ids += [held["id"]] if "id" in held else []
        self.cells_without_scope += tag == "th" and held.get("scope") not in {"col", "row"}
        if tag in {"script", "iframe", "object", "embed", "link", "base", "form", "img"}:
            self.faults.append(f"{tag} has no place here")
        self.faults += [f"{tag} has {name}" for name in held if name.startswith("on")]
        self.faults += [
            f"{tag} loads {value}"
            for name, value in held.items()
            if name != "xmlns" and re.search(r"(?:^|[^#\w])(?:https?:|//|url\((?!#))", value)
        ]
        if tag == "svg" and not (held.get("role") == "img" and held.get("aria-label")):
            self.faults.append("a drawing without words")
        if tag == "stop" and "offset" not in held:
            self.faults.append("a step of a fill that stands nowhere")
        if tag == "html" and not held.get("lang"):
            self.faults.append("no language")

    handle_startendtag = handle_starttag


def faults_of(page: str) -> list[str]:
    """What is wrong with a page: read by the HTML standard's own rules, and by ours."""
    import html5lib

    reader = html5lib.HTMLParser(strict=True)
    try:
        reader.parse(page)
    except html5lib.html5parser.ParseError as wrong:
        return [str(wrong)]
    strict = Strict()
    strict.feed(page)
    faults = strict.faults
    if len(set(strict.ids)) != len(strict.ids):
        faults.append(f"an id twice in {strict.ids}")
    if strict.cells_without_scope:
        faults.append(f"{strict.cells_without_scope} headings of nothing")
    head = page[: page.index("<body>")]
    for wanted in ('<meta charset="utf-8">', "Content-Security-Policy", "default-src 'none'", "<title>"):
        if wanted not in head:
            faults.append(f"no {wanted}")
    return faults


class Balanced(HTMLParser):
    """Every element is closed in order; says which there are and what they refer to."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.seen: list[str] = []
        self.refers: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append(tag)
        self.refers += [value or "" for name, value in attrs if name in {"src", "href", "xlink:href", "data"}]
        assert not [name for name, _ in attrs if name.startswith("on")]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def day(sample: str) -> Summary:
    return summarise(fold(read_events(SAMPLES / sample / "events.jsonl")))


@pytest.mark.parametrize("sample", ["frontal-midscalp", "hairline", "two-lots"])
def test_a_page_is_whole_and_needs_nothing_from_elsewhere(sample: str):
    summary = day(sample)
    page = to_html(summary)
    parser = Balanced()
    parser.feed(page)
    assert parser.open == []
    assert all(each.startswith("#") for each in parser.refers)  # only within the page
    assert "script" not in parser.seen
    assert not re.search(r"url\((?!#)", page)
    assert all(caution in page for caution in summary.cautions[:3])
    assert f"<title>Case {summary.case}</title>" in page
    assert page.count("<h2") > 8
    first = first_page(summary)
    drawn = [first.day_broad, first.day_narrow, *first.zones[:1], first.out_curve]
    assert parser.seen.count("svg") == len(drawn) + 2 * sum(
        len(list(chart(summary))) for chart in CHARTS
    )  # broad, narrow
    assert str(summary.in_all.placed) in page.replace(",", "")


@pytest.mark.parametrize("level", ["full", "roles", "anonymous"])
@pytest.mark.parametrize("sample", ["frontal-midscalp", "two-lots"])
def test_a_page_is_valid_html_and_does_nothing(sample: str, level: ShareLevel):
    assert faults_of(to_html(shared(day(sample), level))) == []


def test_a_page_of_an_empty_and_of_a_hostile_case_is_valid_html():
    assert faults_of(to_html(summarise(opened_case().state))) == []
    hostile = "<script>alert(1)</script>\"'><img src=x onerror=y> ]]> <!-- & &amp; `x` | a"
    record = opened_case(small_plan(title=hostile[:25], cautions=(hostile,)))
    record.enter(c.AddNote(text=hostile))
    assert faults_of(to_html(summarise(record.state, None, hostile))) == []


@pytest.mark.parametrize(
    ("broken", "fault"),
    [
        ("</div>", "seen too early"),
        ("<script>1</script>", "script"),
        ('<p onclick="x">y</p>', "onclick"),
        ('<p style="background: url(http://example.invalid)">y</p>', "loads"),
        ('<p id="a">x</p><p id="a">y</p>', "twice"),
        ("<table><thead><tr><th>x</th></tr></thead></table>", "headings"),
        ('<svg role="img"></svg>', "without words"),
    ],
)
def test_the_checks_of_a_page_find_what_is_wrong(broken: str, fault: str):
    page = to_html(summarise(opened_case().state))
    assert fault in " ".join(faults_of(page.replace("</main>", f"{broken}</main>")))


def test_rows_and_columns_say_what_they_are_headings_of():
    page = to_html(day("two-lots"))
    assert '<th scope="row">hairline left</th>' in page
    assert page.count('scope="row"') > 50
    assert "<td>hairline left</td>" not in page


@settings(max_examples=30)
@given(records())
def test_any_record_makes_a_page_and_every_chart_is_sound(record: Record):
    summary = summarise(record.state)
    parser = Balanced()
    parser.feed(to_html(summary))
    assert parser.open == []
    for chart in CHARTS:
        for each in chart(summary):
            svg = drawn(each).svg()
            root = ElementTree.fromstring(svg)  # noqa: S314 - our own text
            assert root.find("{http://www.w3.org/2000/svg}title") is not None
            assert "nan" not in svg
            assert "inf" not in svg.replace("infer", "")


def test_texts_of_the_record_stay_texts():
    record = opened_case(small_plan(title="<b>x</b> & co"))
    record.enter(c.AddNote(text="<script>alert(1)</script> [a](javascript:x) <img src=x>"))
    page = to_html(summarise(record.state))
    assert "<script>" not in page
    assert "<img" not in page
    assert "<b>" not in page
    parser = Balanced()
    parser.feed(page)
    assert all(each.startswith("#") for each in parser.refers)  # only within the page


def test_progress_is_what_was_cut_and_placed_by_then():
    record = case_under_way()
    start = record.state.log[0].stamp.at_ms
    record.wait(60)
    wrong = record.enter(c.CutGrafts(harvest="A", size="2", count=500))
    record.enter(c.CorrectEntry(entry=wrong.seq, reason="typed twice"))
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=25))
    steps = progress(record.state, 10)
    assert (steps[0].at_ms, steps[-1].at_ms) == (start, record.now_ms)
    assert [each.cut for each in steps] == sorted(each.cut for each in steps)
    assert (steps[-1].cut, steps[-1].placed) == (95, 25)
    assert (steps[5].cut, steps[5].placed) == (95, 0)
    assert progress(opened_case().state, 10) == ()


def test_the_curve_of_a_harvest_begins_whole_and_ends_where_what_waits_remains():
    record = case_under_way()
    record.wait(30)
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=38))
    (curve,) = waiting_curve(record.state, record.now_ms).values()
    assert curve[0] == (0, 1.0)
    assert curve[-1].share == pytest.approx(1 - 38 / 95)
    assert curve[-1].out_ms >= 90 * MINUTE_MS


@pytest.mark.parametrize(("span", "step"), [(2400, 500), (1.2, 0.2), (7, 2), (100, 20), (0, 1), (6, 1)])
def test_axes_are_marked_at_round_numbers(span: float, step: float):
    assert nice_step(span) == pytest.approx(step)


def test_names_beside_lines_do_not_stand_on_each_other():
    lines = [Line([(0, 0), (1, 0.01 * number)], f"line {number}", number) for number in range(5)]
    chart = drawn(Chart("t", (0, 1), (0, 10), "x", "y", [], lines))
    rows = sorted(float(y) for y in re.findall(r'y="([\d.]+)"[^>]*>line', chart.svg()))
    assert all(later - earlier >= 12 for earlier, later in pairwise(rows))
    assert rows[-1] <= chart.height


def test_a_day_of_a_few_minutes_has_its_time_on_the_axis():
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=5))
    (chart,) = charts.progress(summarise(record.state))
    assert "07:30" in [words for _, words in chart.ticks]


# What axe-core, the Nu validator and html-validate looked at by hand found, and WCAG's own arithmetic.


def test_no_heading_of_a_table_is_empty_and_no_table_has_styles_of_its_own():
    page = to_html(day("frontal-midscalp"))
    assert re.findall(r"<th[^>]*></th>", page) == []
    assert re.findall(r"<t[hdr][^>]* style=", page) == []
    assert page.count('<td class="number"') > 100
    assert ".number { text-align: right; }" in STYLE


def test_a_chart_is_drawn_for_a_telephone_too_and_only_one_of_the_two_is_shown():
    page = to_html(day("frontal-midscalp"))
    after = page.split("</article>")[1]
    broad, narrow = (after.count(f'<figure class="{name}">') for name in ("broad", "narrow"))
    assert broad == narrow > 2
    assert after.count(f'viewBox="0 0 {COLUMN} ') == narrow
    small = STYLE.split("(max-width: 40rem)")[1]
    assert ".broad { display: none; } .narrow { display: block; }" in small
    assert ".narrow { display: none; }" in STYLE.split("(max-width: 40rem)")[0]


def luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.2, its definition of that word)."""
    digits = colour.removeprefix("#")
    digits = "".join(each * 2 for each in digits) if len(digits) == 3 else digits
    parts = [int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4)]
    red, green, blue = (
        each / 12.92 if each <= 0.04045 else ((each + 0.055) / 1.055) ** 2.4 for each in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio (WCAG 2.2, success criterion 1.4.3)."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_words_and_lines_are_legible_on_a_light_and_a_dark_page():
    light, dark = (dict(re.findall(r"--(\w+): (#\w+)", part)) for part in STYLE.split("@media", 2)[:2])
    assert contrast("#000", "#fff") == pytest.approx(21)  # WCAG's own example
    for colours in (light, dark):
        for words in ("ink", "faint", "accent"):
            assert contrast(colours[words], colours["paper"]) >= 4.5  # 1.4.3
    changed = {old.upper(): new for old, new in re.findall(r'\[stroke="(#\w+)"\] \{ stroke: (#\w+)', STYLE)}
    named = {old.upper() for old in re.findall(r'\[stroke="(#\w+)"\] \{ stroke: var\(--ink', STYLE)}
    for ink in INKS:
        assert contrast(ink, light["paper"]) >= 2.9  # 1.4.11 asks for 3; dashes and names tell lines apart
        assert contrast(dark["ink"] if ink in named else changed.get(ink, ink), dark["paper"]) >= 3
