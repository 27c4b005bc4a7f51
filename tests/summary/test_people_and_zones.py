"""The sample day: what each person did adds up to the zones and the totals, in each format that shows it."""

from __future__ import annotations

import csv
import io
import json
import re
from collections import Counter
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path

import html5lib
import pytest
from printed import poppler

from orroom.case.evolve import fold
from orroom.formats.csv_tables import to_csv_tables
from orroom.formats.json_text import to_json
from orroom.formats.pdf import to_pdf
from orroom.formats.summary_formats import to_html, to_markdown
from orroom.record.events_file import read_events
from orroom.summary.summary import Summary, summarise

SAMPLE = Path(__file__).parents[2] / "sample_cases" / "frontal-midscalp" / "events.jsonl"
#: One row of the table: zone, person, sites made, placed, reseated.
Row = tuple[str, str, int, int, int]


@cache
def day() -> Summary:
    return summarise(fold(read_events(SAMPLE)))


def as_row(cells: list[str]) -> Row:
    zone, who, *numbers = (cell.strip() for cell in cells)
    sites, placed, reseated = (int(each.replace(",", "")) for each in numbers)
    return zone, who, sites, placed, reseated


def by_person(cells: list[str]) -> Iterator[Row]:
    """The rows of a zone of which the page has one: ``hairline | RS 122 | JK 89, LM 33 | JK 1``."""
    zone, *lists = (cell.strip() for cell in cells)
    done = [dict(re.findall(r"([A-Z]{2}) ([\d,]+)", each)) for each in lists]
    for who in dict.fromkeys(who for each in done for who in each):
        yield as_row([zone, who, *(each.get(who, "0") for each in done)])


def in_markdown() -> Iterator[Row]:
    (table,) = (each for each in to_markdown(day()).split("\n\n") if "| sites by | placed by" in each)
    for row in table.splitlines()[2:]:
        yield from by_person(row.strip("| ").split("|"))


def in_html() -> Iterator[Row]:
    page = html5lib.parse(to_html(day()), namespaceHTMLElements=False)
    for table in page.iter("table"):
        rows = [["".join(cell.itertext()) for cell in row] for row in table.iter("tr")]
        if rows[0] == ["zone", "sites by", "placed by", "reseated by"]:
            for row in rows[1:]:
                yield from by_person(row)


def in_pdf() -> Iterator[Row]:
    labels = "|".join(re.escape(zone.label) for zone in day().zones)
    done = r"([A-Z]{2} \d+(?:, [A-Z]{2} \d+)*|—)"
    row = re.compile(rf"^({labels}) {done} {done} {done}$", re.M)
    text = re.sub(" +", " ", poppler("pdftotext", to_pdf(day()), "-raw"))
    return (each for found in row.finditer(text) for each in by_person(list(found.groups())))


def in_json() -> Iterator[Row]:
    names = ("label", "who", "sites_made", "placed", "reseated")
    return (tuple(each[name] for name in names) for each in json.loads(to_json(day()))["zone_hands"])


def in_csv() -> Iterator[Row]:
    for each in csv.DictReader(io.StringIO(to_csv_tables(day())["zone_hands.csv"])):
        heads = ("label", "who", "sites_made", "placed_grafts", "reseated_grafts")
        yield as_row([each[name] for name in heads])


@pytest.mark.parametrize("read", [in_markdown, in_html, in_pdf, in_json, in_csv])
def test_who_made_sites_and_who_placed_adds_up_to_each_zone(read: Callable[[], Iterator[Row]]):
    rows = list(read())
    assert {who for _, who, *_ in rows} == {"AB", "JK", "LM", "RS", "VW"}  # not GH, who entered all of it
    assert {who for _, who, sites, *_ in rows if sites} == {"RS"}
    for zone in day().zones:
        mine = [row[2:] for row in rows if row[0] == zone.label]
        assert [sum(column) for column in zip(*mine, strict=True)] == [
            zone.sites_made, sum(zone.placed.values()), zone.reseated
        ]  # fmt: skip


def test_each_persons_figures_add_up_to_the_totals():
    summary = day()
    for size in summary.sizes:
        assert sum(each.placed.get(size.size, 0) for each in summary.people) == size.placed
    of_work = Counter[str]()
    for each in summary.pace_by_person:
        of_work[each.work] += each.done
    assert of_work == {each.work: each.done for each in summary.pace}
    for whole in summary.quality:
        mine = [each for each in summary.quality_by_person if each.measure == whole.measure]
        if mine:
            assert sum(each.count for each in mine) == whole.count
            assert sum(each.of for each in mine) == whole.of
    assert {each.measure for each in summary.quality_by_person} >= {
        "reseated", "spot check, placing", "spot check, cutting"
    }  # fmt: skip


def test_every_group_that_is_left_has_its_fate():
    summary = day()
    assert sum(each.grafts for each in summary.fates) == summary.in_all.left_at_end > 0
    assert summary.in_all.dish == summary.in_all.with_placers == 0
    assert len({each.fate for each in summary.fates}) == 3
    assert summary.left_open == ()
