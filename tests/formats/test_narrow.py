"""A table that is too broad for the page goes on below, with all of its cells."""

from __future__ import annotations

import re

from orroom.formats.blocks import Paragraph, Strong, Table
from orroom.formats.html import STYLE, html
from orroom.formats.markdown import markdown
from orroom.formats.narrow import RAW, narrowed

HEADER = ["zone", "planned", "placed", "1", "2", "cm²"]
ROWS = [
    ["hairline " * 3, "120", "122", "122 / 120", "—", "4.0"],
    ["crown", "20", (Strong("9"),), "9", "—", "8"],
]
BROAD = Table(HEADER, ROWS, 1, (2, 2, 1))


def test_what_fits_stays_as_it_is():
    assert [*narrowed([BROAD, Paragraph("x")])] == [
        Table(HEADER, ROWS, 1),
        Paragraph("x"),
    ]


def test_what_does_not_fit_goes_on_below_under_the_same_rows():
    parts = [*narrowed([BROAD], 60)]
    assert [each.header for each in parts if isinstance(each, Table)] == [
        ["zone", "planned", "placed"],
        ["zone", "1", "2", "cm²"],
    ]
    assert [row[0] for each in parts if isinstance(each, Table) for row in each.rows] == [
        row[0] for row in ROWS
    ] * 2
    assert max(map(len, markdown(parts).splitlines())) <= 60


def test_a_table_that_just_fits_stays_and_with_a_column_less_it_is_parted():
    """Also where a column of figures is narrower than the line below its heading."""
    rows = [["hairline", *ROWS[0][1:]], ROWS[1]]
    broad = max(map(len, markdown([Table(HEADER, rows, 1)]).splitlines()))
    assert len([*narrowed([Table(HEADER, rows, 1, (2, 2, 1))], broad)]) == 1
    assert len([*narrowed([Table(HEADER, rows, 1, (2, 2, 1))], broad - 1)]) == 2


def test_a_group_that_is_too_broad_by_itself_is_not_torn_apart():
    parts = [*narrowed([BROAD], 10)]
    assert [len(each.header) for each in parts if isinstance(each, Table)] == [3, 3, 2]


def test_a_table_without_groups_is_left_alone():
    one = Table(["x" * RAW, "y"], [["a", "b"]])
    assert [*narrowed([one], 10)] == [one]


def test_a_page_in_a_browser_sets_it_smaller_and_without_parting_words():
    assert '<div class="scroll broad" tabindex="0">' in html("t", [BROAD])
    assert '<div class="scroll" tabindex="0">' in html("t", [Table(HEADER, ROWS, 1)])
    assert re.search(r"\.broad th, \.broad td \{[^}]*white-space: nowrap", STYLE)
