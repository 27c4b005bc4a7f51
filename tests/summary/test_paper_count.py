"""A count on paper beside the record: published counts in every format, papers that contradict themselves."""

from __future__ import annotations

import re

import pytest
from cases import opened_case, small_plan
from printed import text_of_pdf

from orroom.case import commands as c
from orroom.case.plan import Harvest, Size, Zone
from orroom.errors import OrroomError
from orroom.formats.csv_tables import to_csv_tables
from orroom.formats.json_text import to_json
from orroom.formats.summary_formats import to_html, to_markdown, written
from orroom.summary.paper_count import read_paper
from orroom.summary.summary import Summary, summarise, with_paper


def counted(counts: dict[str, int]) -> Summary:
    """A case of so many grafts cut and placed by size."""
    sizes = tuple(Size(key=key, label=f"{key} hairs", hairs=int(key)) for key in "1234")
    zone = Zone(key="ALL", label="all of it", area_cm2=100, targets=counts)
    record = opened_case(
        small_plan(sizes=sizes, zones=(zone,), harvests=(Harvest(key="A", label="strip"),), donor=None)
    )
    record.enter(c.StartHarvest(harvest="A"))
    for size, count in counts.items():
        record.enter(c.CutGrafts(harvest="A", size=size, count=count))
        record.enter(c.PlaceGrafts(zone="ALL", size=size, count=count))
    return summarise(record.state)


#: 1212 + 1756 + 567 + 180 = 3715 grafts, 1212 + 3512 + 1701 + 720 = 7145 hairs: a published count (read).
PUBLISHED = {"1": 1212, "2": 1756, "3": 567, "4": 180}
PUBLISHED_PAPER = "size,grafts,hairs\n1,1212,1212\n2,1756,3512\n3,567,1701\n4,180,720\nall,3715,7145\n"
#: Printed on the same page: "1512 one-hair grafts (1212 hairs)", 1920 of two, 283 of three; right are 6201.
CONTRADICTORY = {"1": 1512, "2": 1920, "3": 283}
CONTRADICTORY_PAPER = "size,grafts,hairs\n1,1512,1212\n2,1920,\n3,283,\nall,,6201\n"
FLAG = "1,512 grafts of size 1 have 1,512 hairs, not 1,212"


def numbers(text: str) -> str:
    return re.sub(r"\b(\d{1,3}),(\d{3})\b", r"\1\2", text)


def every_format(summary: Summary) -> dict[str, str]:
    """The summary in each text format; PDF is read by a test of its own."""
    return {
        "md": to_markdown(summary),
        "html": to_html(summary),
        "json": to_json(summary),
        "tables": "\n".join(to_csv_tables(summary).values()),
        "r4b": str(written(summary, "fhir", "r4b")),
        "r5": str(written(summary, "fhir", "r5")),
    }


def test_the_published_count_comes_out_of_every_format() -> None:
    found = with_paper(counted(PUBLISHED), read_paper(PUBLISHED_PAPER, "paper.csv"))
    assert (found.in_all.placed, found.in_all.hairs_placed, found.in_all.hairs_per_graft_placed) == (
        3715,
        7145,
        1.9233,
    )
    for form, text in every_format(found).items():
        assert {"3715", "7145"} <= set(re.findall(r"\d+", numbers(text))), form
        assert "contradicts itself" not in text, form
    assert all(each.difference == 0 and each.contradiction is None for each in found.paper_count)
    assert "The paper does not contradict itself." in to_markdown(found)


def test_the_contradictory_count_is_flagged_in_every_format() -> None:
    found = with_paper(counted(CONTRADICTORY), read_paper(CONTRADICTORY_PAPER, "paper.csv"))
    assert (found.in_all.placed, found.in_all.hairs_placed) == (3715, 6201)
    for form, text in every_format(found).items():
        assert FLAG in text, form
        assert {"3715", "6201"} <= set(re.findall(r"\d+", numbers(text))), form
    assert [each.contradiction is None for each in found.paper_count] == [False, True, True, True]
    assert found.cautions[-1] == f"The paper count contradicts itself: {FLAG}."


def test_a_paper_whose_total_is_not_the_sum_of_its_sizes_is_flagged() -> None:
    paper = PUBLISHED_PAPER.replace("all,3715,7145", "all,3714,7155")
    found = with_paper(counted(PUBLISHED), read_paper(paper, "paper.csv"))
    assert found.paper_count[-1].contradiction == (
        "the sizes listed add up to 3,715 grafts, not 3,714; "
        "the sizes listed add up to 7,145 hairs, not 7,155"
    )
    assert found.paper_count[-1].difference == -1


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "not a paper count"),
        ("size,grafts,hairs\n", "not a paper count"),
        ("grafts,size,hairs\n1,2,3\n", "not a paper count"),
        ("size,grafts,hairs\n1,2\n", "line 2: this is not a size"),
        ("size,grafts,hairs\n1,2,-3\n", "line 2: this is not a size"),
        ("size,grafts,hairs\n1,2,2.5\n", "line 2: this is not a size"),
        ("size,grafts,hairs\n\n1,2,2\n,,\n2,2,-3\n", "line 5: this is not a size"),
        ("size,grafts,hairs\n1,9999999,2\n", "line 2: this is not a size"),
        (f"size,grafts,hairs\n1,{'9' * 5000},2\n", "line 2: this is not a size"),
        (f"size,grafts,hairs\n1,{'9' * 200_000},2\n", "not a paper count: field larger"),
        ("size,grafts,hairs\n1,2,2\n1,2,2\n", "line 3: size 1 is there twice"),
        ("size,grafts,hairs\n7,2,2\n", "has no size 7"),
    ],
)
def test_a_paper_that_cannot_be_read_is_refused_with_a_sentence(text: str, said: str) -> None:
    with pytest.raises(OrroomError, match=said):
        with_paper(counted(PUBLISHED), read_paper(text, "paper.csv"))


@pytest.mark.parametrize(
    "text",
    [
        "\ufeff" + PUBLISHED_PAPER,
        PUBLISHED_PAPER.replace(",", ";"),
        "\ufeff" + PUBLISHED_PAPER.replace(",", ";").replace("\n", "\r\n"),
        PUBLISHED_PAPER + ",,\n",
    ],
)
def test_a_paper_as_spreadsheets_write_it_is_read_too(text: str) -> None:
    assert read_paper(text, "paper.csv") == read_paper(PUBLISHED_PAPER, "paper.csv")


def test_sizes_that_a_paper_leaves_out_are_no_contradiction_but_more_than_all_is() -> None:
    def wrong(paper: str) -> list[str | None]:
        found = with_paper(counted(PUBLISHED), read_paper("size,grafts,hairs\n" + paper, "paper.csv"))
        return [each.contradiction for each in found.paper_count]

    assert wrong("1,1212,1212\n2,1756,\nall,3715,7145\n") == [None, None, None]
    assert wrong("1,1212,1212\n2,1756,\nall,2000,7145\n")[-1] == (
        "the sizes listed add up to 2,968 grafts, more than 2,000"
    )


def test_how_many_hairs_a_total_should_hold_is_told_only_if_every_size_is_there() -> None:
    def should(paper: str) -> float | None:
        found = with_paper(counted(PUBLISHED), read_paper("size,grafts,hairs\n" + paper, "paper.csv"))
        return found.paper_count[-1].hairs_of_these

    assert should(PUBLISHED_PAPER.partition("\n")[2]) == 7145
    assert should("1,1212,1212\nall,3715,7145\n") is None


def test_a_mean_rounded_in_its_row_may_be_rounded_in_the_total() -> None:
    summary = summarise(opened_case().state)  # multi-units hold 4.5 hairs in the mean
    rows = "size,grafts,hairs\n1,10,10\n2,0,0\n3,0,0\nM,3,14\nall,13,{}\n"
    for hairs, fine in ((24, True), (23, True), (22, False), (25, False)):
        paper = with_paper(summary, read_paper(rows.format(hairs), "paper.csv")).paper_count
        assert (paper[-1].contradiction is None) == fine, hairs
        assert paper[-2].contradiction is None


def test_the_published_counts_come_out_of_a_pdf() -> None:
    right = printed(with_paper(counted(PUBLISHED), read_paper(PUBLISHED_PAPER, "paper.csv")))
    wrong = printed(with_paper(counted(CONTRADICTORY), read_paper(CONTRADICTORY_PAPER, "paper.csv")))
    assert {"3715", "7145"} <= set(re.findall(r"\d+", right))
    assert {"3715", "6201"} <= set(re.findall(r"\d+", wrong))
    assert ("contradicts itself" in right, "contradicts itself" in wrong) == (False, True)


def printed(summary: Summary) -> str:
    pdf = written(summary, "pdf", "r5")
    assert isinstance(pdf, bytes)
    return numbers(text_of_pdf(pdf))
