"""The names of sections, and the page on which each is."""

from __future__ import annotations

import json
import re
from functools import cache

import pytest
from formats.test_pdf import SEAL, day, pages, printed

from orroom.formats.blocks import Heading, Table
from orroom.formats.chosen import AREAS, BRIEF, FOR, NAMES, WHOLE, named
from orroom.formats.first_page.looks import MOST, looks
from orroom.formats.pdf import as_data, to_pdf
from orroom.formats.sections.areas import areas
from orroom.formats.summary_blocks import SECTIONS, sections_of
from orroom.formats.summary_formats import to_html
from orroom.summary.summary import Summary


def test_every_name_is_a_section_and_every_reader_has_names_that_there_are():
    assert set(SECTIONS) == set(NAMES) - {"first"}
    assert [name for name in SECTIONS if name != AREAS] == [name for name in WHOLE if name != "first"]
    for choice in FOR.values():
        assert [*named(",".join(choice.sections))] == [*choice.sections]  # in the order of the page


def test_each_section_has_one_heading_which_bears_its_name():
    for section in sections_of(day("frontal-midscalp"), NAMES):
        headings = [each for each in section if isinstance(each, Heading)]
        assert headings == [section[0]]
        assert headings[0].name in NAMES


def test_the_first_page_names_the_page_of_each_section_that_follows():
    first, *rest = pages(printed("frontal-midscalp"))
    follows = json.loads(as_data(day("frontal-midscalp")))["blocks"][0]["page"]["follows"]
    assert len(follows) > 15
    listed = " ".join(first.split("On page ")[1].split("3,230 entries")[0].split())
    for number, page in enumerate(rest, 2):
        here = re.search(rf"(?:^| ){number} ([^\d]+)", listed)
        assert here is not None
        titles = here[1].strip().split(", ")
        assert all(f"\n{title}" in f"\n{page}" for title in titles)


@cache
def with_many_looks() -> Summary:
    summary = day("two-lots")
    explained = summary.mismatches[0].model_copy(update={"explanation": "x"})
    return summary.model_copy(update={"mismatches": (explained,) * 20})


def test_what_is_left_out_of_the_first_page_is_named_with_its_page():
    known = with_many_looks()
    left_out = len(looks(known)) - MOST
    first, *rest = pages(to_pdf(known))
    found = re.search(rf"{left_out} more: Mismatches, page (\d+)", first)
    assert found is not None
    assert "\nMismatches\n" in rest[int(found[1]) - 2]
    page = to_html(known)
    assert f'<strong>{left_out} more</strong>: <a href="#mismatches">Mismatches</a>' in page
    assert '<h2 id="mismatches">Mismatches</h2>' in page


def test_where_the_first_page_is_alone_the_whole_summary_is_named():
    found = with_many_looks()
    (first,) = pages(to_pdf(found, BRIEF))
    assert f"{len(looks(found)) - MOST} more in the whole summary." in first
    assert "On page" not in first
    assert "<nav>" not in to_html(found, BRIEF)


@pytest.mark.parametrize("chosen", [("care",), ("times", "notes"), (AREAS,)])
def test_without_the_first_page_a_title_says_which_case_and_day(chosen: tuple[str, ...]):
    summary = day("frontal-midscalp")
    first = pages(to_pdf(summary, chosen))[0]
    for page in (first, to_html(summary, chosen)):
        assert "Case DEMO-0417: front and mid-scalp" in page
        assert "Thursday 5 March 2026" in page
        assert "Signed off 14:17" in page
        assert "not a medical device" in page
    assert SEAL in first


def test_areas_add_up_to_the_whole():
    summary = day("frontal-midscalp")
    by_area, by_size = (each for each in areas(summary) if isinstance(each, Table))
    *rows, whole = [[*map(str, row)] for row in by_area.rows]
    assert sum(int(row[2].replace(",", "")) for row in rows) == summary.in_all.placed
    assert whole == ["all", "80.0", "2,402", "5,362", "30.0", "67.0"]  # 2,402 / 80 and 5,362 / 80
    assert [*map(str, by_size.rows[-1])] == ["all", "2,402", "5,362"]
