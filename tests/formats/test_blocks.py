"""Blocks come out of every writer as they went in, held against readers of Markdown that are not ours.

CommonMark is read by markdown-it, as rich reads it for a terminal.
"""

from __future__ import annotations

import io
import json
import re
from collections.abc import Sequence
from pathlib import Path

import pytest
from cases import Record, opened_case, records
from hypothesis import example, given, settings
from hypothesis import strategies as st
from rich.console import Console
from rich.markdown import Markdown

from orroom.case import commands as c
from orroom.case.evolve import fold
from orroom.formats import blocks as b
from orroom.formats.blocks import Block, plain
from orroom.formats.chart import Chart, Line
from orroom.formats.chart_words import in_words
from orroom.formats.drawing import WIDTH
from orroom.formats.html import html
from orroom.formats.markdown import markdown
from orroom.formats.pdf import as_data
from orroom.formats.sections.changes_and_notes import notes
from orroom.formats.summary_blocks import after_first_page, blocks_of
from orroom.formats.svg import COLUMN, drawn
from orroom.formats.terminal import OnTerminal
from orroom.record.events_file import read_events
from orroom.summary.summary import Summary, summarise

SAMPLES = Path(__file__).parents[2] / "sample_cases"
SIGNS = "\\`*_{}[]<>#|~&+-.)=1 \n\t\u00a0a"
WORDS = st.text(st.sampled_from(SIGNS) | st.characters(exclude_categories=["Cs"]), min_size=1, max_size=20)


def day(sample: str) -> Summary:
    return summarise(fold(read_events(SAMPLES / sample / "events.jsonl")))


def body(page: str) -> str:
    """What is between the bounds of a page, without charts, and without what a row is the heading of."""
    found = re.sub(
        r"<figure.*?</figure>\n", "", page.split("<main>\n")[1].split("</main>", maxsplit=1)[0], flags=re.S
    )
    found = re.sub(r'<div class="scroll[ \w]*" tabindex="0">\n', "", found).replace(
        "</table>\n</div>\n", "</table>\n"
    )
    found = found.replace(' class="number"', ' style="text-align:right"')
    found = re.sub(
        r"<td([^>]*)></td>(?=((?!<tbody>|</tr>).)*</tr>\n</thead>)", r"<th\1></th>", found, flags=re.S
    )
    found = re.sub(r'<th((?: style="[^"]*")?) scope="row">(.*?)</th>', r"<td\1>\2</td>", found)
    found = re.sub(r'<h2 id="\w+">', "<h2>", found)
    return found.replace(' scope="col"', "")


def read(text: str) -> str:
    from markdown_it import MarkdownIt

    return MarkdownIt("commonmark", {"html": False}).enable("table").render(text)


def shown(what: object, width: int) -> str:
    console = Console(file=io.StringIO(), width=width, force_terminal=True, color_system="truecolor")
    with console.capture() as capture:
        console.print(what)
    return capture.get()


@given(WORDS, WORDS)
@example("< 1 %", "> 99 %")
@example("1. a", "- b")
@example("\\|", "![a](b)")
@settings(max_examples=200)
def test_any_words_in_any_block_are_read_from_markdown_as_html_has_them(one: str, other: str):
    words, more = (plain(each).strip() or "x" for each in (one, other))
    blocks: Sequence[Block] = (
        b.Heading(words),
        b.Paragraph((words, b.LINE_END, more)),
        b.Paragraph(("x ", b.Strong(f"x{more}x"), f" {words}")),
        b.List([words, (b.Strong("x"), f": {more}")]),
        b.Paragraph(words),
        b.Caution([words, more]),
        b.Table([words, "x"], [[more, words], [words, (b.Strong("x"), f" {more}")]]),
    )
    assert read(markdown(blocks)) == body(html("t", blocks))


@settings(max_examples=30)
@given(records())
def test_the_markdown_of_any_record_is_read_as_its_page(record: Record):
    blocks = [*blocks_of(summarise(record.state))]
    assert read(markdown(blocks)) == body(html("t", blocks))


@pytest.mark.parametrize("width", [40, 80, 120])
@pytest.mark.parametrize("sample", ["frontal-midscalp", "two-lots"])
def test_a_terminal_shows_what_a_reader_of_the_markdown_shows(sample: str, width: int):
    blocks = [*blocks_of(day(sample))]
    assert shown(OnTerminal(blocks), width) == shown(Markdown(markdown(blocks)), width)


def test_figures_below_and_above_are_read_raw_as_they_are():
    text = markdown(
        [b.Table(["harvest", "over 2 h"], [["> 1", "> 99 %"], ["<b>", "< 1 %"]]), b.Paragraph("> 9")]
    )
    assert "|   > 99 % |" in text
    assert "|    < 1 % |" in text
    assert "\\<b\\>" in text
    assert text.endswith("\n\\> 9\n")


def test_what_introduces_a_table_is_not_parted_from_it_in_print():
    printed = json.loads(as_data(day("frontal-midscalp")))["blocks"]
    leads = [place for place, each in enumerate(printed) if each["kind"] == "lead"]
    assert ["Left at the end:"] in [printed[place]["of"] for place in leads]
    assert all(printed[place + 1]["kind"] in {"table", "list"} for place in leads)
    assert not [each for each in printed if each["kind"] == "paragraph" and each["of"][-1].endswith(":")]


def test_what_comes_on_another_day_has_its_day():
    record = opened_case()
    record.enter(c.AddNote(text="same day"))
    record.wait(24 * 60)
    record.enter(c.AddNote(text="next day"))
    same, later = markdown([*notes(summarise(record.state))]).splitlines()[2:]
    assert re.fullmatch(r"- \d\d:\d\d AB: same day", same)
    assert re.fullmatch(r"- day 2 \d\d:\d\d AB: next day", later)


def test_what_leaves_no_mark_is_shown_by_every_writer():
    blocks = [b.Paragraph(("a\u202eb  c\nd", b.Strong("\x1b[2J")))]
    for page in (markdown(blocks), html("t", blocks), shown(OnTerminal(blocks), 80)):
        assert "a�b c d" in page
        assert "\u202e" not in page
        assert "\x1b[2J" not in page
    assert plain("a\u202eb  c\nd ") == "a�b c d "
    lines = [Line([(0, 0), (1, 1)], name) for name in ("zone \u202eA", "1 of 2")]
    chart = Chart("t \u202e", (0, 1), (0, 1), "x \u202e", "y \u202e", [(1, "1 \u202e")], lines)
    for width in (WIDTH, COLUMN):
        words = {each.words for each in drawn(chart, width).words}
        assert words >= {"t �", "zone �A", "1 of 2", "x �", "y �", "1 �"}
    assert "\u202e" not in html("t", [chart])


def test_every_chart_of_a_summary_is_in_print_where_it_is_on_the_page():
    """A chart comes last in its section, whatever the section is called."""

    def heading(block: Block) -> str:
        return f"chart {in_words(block)}" if isinstance(block, Chart) else str(block.words)

    summary = day("frontal-midscalp")
    shapes = (b.Heading, Chart)
    order = [heading(each) for each in after_first_page(summary) if isinstance(each, shapes)]
    assert order[2].startswith("chart Grafts cut and placed over the day. ")
    assert order[3] == "Final count"
    assert sum(each.startswith("chart ") for each in order) == 5
    printed = json.loads(as_data(summary))["blocks"]
    assert [
        f"chart {each['title']}" if each["kind"] == "chart" else "".join(each["of"])
        for each in printed
        if each["kind"] in {"chart", "heading"}
    ] == order
    page = re.sub('<figure class="narrow">.*?</figure>', "", html("t", after_first_page(summary)), flags=re.S)
    assert re.findall(r"<h[12][^>]*>(.*?)</h[12]>|<title>(.*?)</title>", page)[1:] == [
        ("", each.removeprefix("chart ")) if each.startswith("chart ") else (each, "") for each in order
    ]
