"""The summary as a PDF: whole, the same every time, every text as it was written, nothing over the edge."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Sequence
from functools import cache
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from cases import Record, case_under_way, opened_case, records, small_plan
from hypothesis import given, settings
from hypothesis import strategies as st
from printed import poppler, text_of_pdf

from orroom.case import commands as c
from orroom.case.evolve import fold
from orroom.case.plan import CareRound, Harvest, Size, Zone
from orroom.case.terms import visible
from orroom.errors import OrroomError
from orroom.figures.wording import grafts
from orroom.formats.blocks import Table
from orroom.formats.chart import Chart
from orroom.formats.chart_words import in_words
from orroom.formats.chosen import WHOLE
from orroom.formats.pdf import as_data, block_data, set_on_pages, to_pdf
from orroom.formats.pdf_letters import PRINTED, in_known_letters
from orroom.formats.summary_blocks import after_first_page
from orroom.formats.summary_formats import to_html
from orroom.record.events_file import read_events
from orroom.summary.notes import Remark
from orroom.summary.summary import Summary, summarise

SAMPLES = Path(__file__).parents[2] / "sample_cases"
SEAL = "0123456789abcdef" * 4
A4_WIDTH, MARGIN = 595.28, 45.3  #: points; the margin is 16 mm
HOSTILE = "#eval(1) #panic() [x] \\ \\u{41} $a^2$ *b* _c_ <b>d</b> @ref `e` // -- ~ 'q' \"r\" = 1. +"


@cache
def day(sample: str) -> Summary:
    return summarise(fold(read_events(SAMPLES / sample / "events.jsonl")), SEAL)


@cache
def printed(sample: str) -> bytes:
    return to_pdf(day(sample))


def pages(pdf: bytes) -> list[str]:
    """The text of each page, a row a line in the order of reading, with single spaces."""
    found = poppler("pdftotext", pdf, "-raw").split("\f")
    assert found.pop() == ""
    return ["\n".join(" ".join(row.split()) for row in page.split("\n")) for page in found]


@pytest.mark.parametrize("sample", ["frontal-midscalp", "two-lots"])
def test_every_total_stands_in_the_pdf(sample: str):
    summary = day(sample)
    found = "\n".join(pages(printed(sample)))
    columns = (*summary.sizes, summary.in_all)
    for name, field in (
        ("planned", "planned"),
        ("cut in all", "cut_in_all"),
        ("in dishes", "dish"),
        ("placed", "placed"),
    ):
        assert "\n" + " ".join((name, *(grafts(getattr(each, field)) for each in columns))) in found
    for zone in summary.zones:
        counts = " ".join((zone.label, grafts(zone.grafts_planned), grafts(zone.grafts_placed)))
        rest = f"{grafts(zone.grafts_owed)} / {grafts(zone.grafts_over)}"
        assert f"\n{counts} {'—' if rest == '0 / 0' else rest} " in found


def test_a_broad_table_is_set_smaller_and_parts_no_label():
    summary = day("frontal-midscalp")
    times = tuple(
        each.model_copy(update={"over_limit_low": 0.25, "over_limit_high": 0.75})
        for each in summary.out_of_body_zones
    )
    limited = summary.model_copy(update={"out_of_body_limit_ms": 10_800_000, "out_of_body_zones": times})
    found = "\n".join(pages(to_pdf(limited)))
    assert "\nsecond line right 200 200 " in found
    assert found.count(" 25 %–75 %\n") >= len(times)


def test_every_page_says_which_case_and_record_it_is_of_and_its_number():
    summary = day("frontal-midscalp")
    found = pages(printed("frontal-midscalp"))
    assert len(found) == 5  # a day of 2,400 grafts
    for number, page in enumerate(found, 1):
        assert f"Case {summary.case} Page {number} of {len(found)}\n" in page
        assert f"\nSeal of the record {summary.entries}:{SEAL}\n" in page
    assert all(caution in found[0] for caution in summary.cautions)
    heading = "\ndue given round who how\n"  # of a table that goes on in the next column
    longer = summary.model_copy(update={"care_given": summary.care_given * 3})
    assert "\n".join(pages(to_pdf(longer))).count(heading) > 1


def test_a_chart_stands_on_one_page_with_its_title():
    found = [page.replace("\n", " ") for page in pages(printed("frontal-midscalp"))]
    for title, below in (
        ("Grafts cut and placed over the day", "time (hours:minutes)"),
        ("Time out of the body: share of grafts not yet placed", "hours out of the body"),
        ("Pace over the day", "time (hours:minutes)"),
    ):
        (page,) = (page for page in found if title in page)
        assert below in page.split(title)[1]


def test_it_is_tagged_on_a4_and_dated_by_its_record():
    found = poppler("pdfinfo", printed("two-lots"))
    assert re.search(r"^Tagged: +yes$", found, re.M)
    assert "(A4)" in found
    assert re.search(rf"^Title: +Case {day('two-lots').case}", found, re.M)
    assert b"pdfuaid:part" in printed("two-lots")
    assert b"pdfaid:part" in printed("two-lots")


@pytest.mark.parametrize("sample", ["frontal-midscalp", "two-lots", "hairline"])
@pytest.mark.parametrize("chosen", [WHOLE, ("areas",), ("times", "care")])
def test_an_independent_checker_finds_it_to_be_what_it_claims(sample: str, chosen: Sequence[str]):
    """PDF/UA-1 and PDF/A-2a by the rules of page-validation; its authors compare it with a public corpus."""
    page = pytest.importorskip("page")
    pdf = to_pdf(day(sample), chosen)
    for profile in (page.ValidationProfile.PDF_UA_1, page.ValidationProfile.PDF_A_2A):
        report = page.validate_pdf_bytes(pdf, profile=profile)
        assert report.rules.total > 100
        # it takes the last byte of a stream for the end of a line if it is a carriage return: read below
        found = [each.rule_id for each in report.failures if "STREAM-LENGTH" not in each.rule_id]
        assert found == []
    assert every_stream_is_as_long_as_it_says(pdf)
    assert not every_stream_is_as_long_as_it_says(re.sub(rb"/Length (\d+)", rb"/Length 1\1", pdf, count=1))
    broken = page.validate_pdf_bytes(pdf.replace(b"/Lang", b"/Lagn"), profile="ua1")
    assert not broken.is_compliant  # it does look


def every_stream_is_as_long_as_it_says(pdf: bytes) -> bool:
    """ISO 19005-2, 6.1.7.1 (from memory): so many bytes, the end of a line, ``endstream``."""
    place, streams = 0, 0
    while (
        begins := re.compile(rb"/Length (\d+)\b(?:(?!endobj).)*?stream\n", re.S).search(pdf, place)
    ) is not None:
        place = begins.end() + int(begins[1])
        if not pdf.startswith(b"\nendstream", place):
            return False
        streams += 1
    return streams > 10


def test_published_count_of_3715_grafts_and_7145_hairs():
    """1212×1 + 1756×2 + 567×3 + 180×4 = 3715 grafts, 7145 hairs, 1.9233 a graft: a published worked count."""
    sizes = tuple(Size(key=str(n), label=f"{n} hairs", hairs=n) for n in (1, 2, 3, 4))
    record = opened_case(small_plan(sizes=sizes, zones=(Zone(key="MID", label="mid-scalp", area_cm2=40),)))
    record.enter(c.StartHarvest(harvest="A"))
    for size, count in (("1", 1212), ("2", 1756), ("3", 567), ("4", 180)):
        record.enter(c.CutGrafts(harvest="A", size=size, count=count))
    found = "\n".join(pages(to_pdf(summarise(record.state))))
    assert "\ncut in all 1,212 1,756 567 180 3,715\n" in found
    assert "\nhairs usable 1,212 3,512 1,701 720 7,145\n" in found


def test_an_opened_case_and_one_without_a_head_are_printed():
    (first, *_) = pages(to_pdf(summarise(opened_case().state)))
    assert "SMALL-1" in first
    assert "Seal of the record" not in first


def test_a_record_that_is_not_intact_says_so_on_every_page():
    found = pages(to_pdf(summarise(case_under_way().state, SEAL, "Entry 3 was changed.")))
    assert len(found) > 1
    assert all("THE RECORD IS NOT INTACT\n" in page for page in found)
    assert "Entry 3 was changed." in found[0]


def test_texts_of_the_record_are_printed_as_they_were_written():
    record = case_under_way()
    record.enter(c.AddNote(text=HOSTILE))
    record.enter(c.AddNote(text="= no heading"))
    summary = summarise(record.state).model_copy(update={"title": f"{HOSTILE} \u202e\x1b[2J"})
    found = text_of_pdf(to_pdf(summary))
    assert found.count(HOSTILE) == 2
    assert f"{HOSTILE} ��[2J" in found
    assert "AB: = no heading" in found


@given(st.lists(st.text(min_size=1, max_size=60), min_size=20, max_size=20))
@settings(max_examples=6)
def test_any_text_can_be_printed(texts: list[str]):
    """The library stops at a letter that it has no font for, and panics at some that join."""
    summary = summarise(case_under_way().state)
    zone = summary.zones[0]
    notes = [Remark(seq=1, at=summary.opened, who="AB", text=each) for each in texts]
    zones = [zone.model_copy(update={"label": each[:40]}) for each in texts]
    changed = summary.model_copy(update={"notes": tuple(notes), "zones": tuple(zones), "title": texts[0]})
    assert to_pdf(changed).startswith(b"%PDF")


def test_every_letter_that_is_not_spelled_out_has_a_glyph():
    """PDF/UA asks for it, so typst refuses what has none; each is tried in a row, in bold and in a chart."""
    letters = [visible(chr(each)) for low, high in PRINTED for each in range(low, high + 1)]
    summary = summarise(case_under_way().state)
    rows = ["".join(letters[place : place + 40]) for place in range(0, len(letters), 40)]
    zones = [summary.zones[0].model_copy(update={"label": row}) for row in rows]
    changed = summary.model_copy(update={"zones": tuple(zones), "title": "".join(letters)})
    assert in_known_letters(changed) is changed
    assert to_pdf(changed).startswith(b"%PDF")


def test_letters_that_no_font_has_stand_as_their_numbers():
    plan = small_plan(zones=(Zone(key="A", label="额前 hair", area_cm2=4, targets={"1": 5}),))
    record = opened_case(plan)
    record.enter(c.AddNote(text="Zażółć gęślą jaźń, ığüşöç İ, Μετωπιαία, Лоб, 漢 x\u0302"))
    found = text_of_pdf(to_pdf(summarise(record.state)))
    assert "‹U+989D U+524D› hair" in found
    assert "Zażółć gęślą jaźń, ığüşöç İ, Μετωπιαία, Лоб, ‹U+6F22› x‹U+0302›" in found
    assert "a character that the fonts of this page lack" in found
    assert "fonts of this page" not in text_of_pdf(printed("two-lots"))


@pytest.mark.parametrize("letter", ["W", "x", "漢"])
def test_nothing_runs_over_the_edge(letter: str):
    long = letter * 40
    sizes = tuple(Size(key=key, label=long, hairs=n) for n, key in enumerate("1234M", 1))
    zones = tuple(
        Zone(key=f"Z{n}", label=long, area_cm2=99.9, targets=dict.fromkeys("1234M", 1999)) for n in range(12)
    )
    care = (CareRound(key="wet", label=long, kind="wet", every_minutes=15),)
    record = opened_case(
        small_plan(
            sizes=sizes,
            zones=zones,
            care=care,
            harvests=(Harvest(key="A", label=long, segments=9),),
            title=long,
        )
    )
    record.enter(c.StartHarvest(harvest="A"))
    for size in "1234M":
        record.enter(c.CutGrafts(harvest="A", size=size, count=2000))
        record.enter(c.PlaceGrafts(zone="Z1", size=size, count=1999))
    record.enter(c.GiveCare(care="wet"))
    record.enter(c.AddNote(text=letter * 200))
    found = poppler("pdftotext", to_pdf(summarise(record.state, SEAL)), "-bbox")
    ends = [tuple(map(float, each)) for each in re.findall(r'xMin="([\d.-]+)".*?xMax="([\d.-]+)"', found)]
    assert len(ends) > 500
    assert min(start for start, _ in ends) > MARGIN - 1
    assert max(end for _, end in ends) < A4_WIDTH - MARGIN + 1


def made_elsewhere(**environment: str) -> bytes:
    code = (
        "import sys; from pathlib import Path; from orroom.case.evolve import fold;"
        "from orroom.record.events_file import read_events; from orroom.formats.pdf import to_pdf;"
        "from orroom.summary.summary import summarise;"
        f"events = read_events(Path({str(SAMPLES / 'two-lots' / 'events.jsonl')!r}));"
        f"sys.stdout.buffer.write(to_pdf(summarise(fold(events), {SEAL!r})))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], env=os.environ | environment, capture_output=True, check=True
    )
    return done.stdout


def test_the_same_record_gives_the_same_bytes():
    here = printed("two-lots")
    assert to_pdf(day("two-lots")) == here
    assert made_elsewhere(PYTHONHASHSEED="1", TZ="Asia/Tokyo", LC_ALL="C") == here
    assert made_elsewhere(PYTHONHASHSEED="2", TZ="America/Lima", SOURCE_DATE_EPOCH="86400") == here


def test_without_the_library_a_sentence_says_what_to_install(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setitem(sys.modules, "typst", None)
    with pytest.raises(OrroomError) as refused:
        to_pdf(day("two-lots"))
    assert "pip install 'orroom[pdf]'" in str(refused.value)


def test_what_the_library_refuses_is_said_in_a_sentence(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("orroom.formats.pdf.as_data", lambda summary, brief: "{}")
    with pytest.raises(OrroomError, match=r"typst made no PDF: .* Print the summary as html instead"):
        to_pdf(day("two-lots"))


def words_of(part: Any) -> str:
    """All words of what the template is given, without the charts."""
    if isinstance(part, str):
        return part
    if isinstance(part, list):
        return "".join(map(words_of, part))
    return "".join(words_of(part[name]) for name in ("header", "rows", "of", "strong") if name in part)


@settings(max_examples=20)
@given(records())
def test_what_is_printed_is_what_html_tells(record: Record):
    summary = summarise(record.state)
    first, turned, *blocks = json.loads(as_data(summary))["blocks"]
    assert (first["kind"], turned["kind"]) == ("first page", "columns")
    page = re.sub("<figure.*?</figure>", "", to_html(summary).split("</article>")[1], flags=re.S)
    assert "".join(words_of(blocks).split()) == "".join(unescape(re.sub("<[^>]*>", "", page)).split())
    drawn = [block["title"] for block in blocks if block["kind"] == "chart"]
    assert drawn == [in_words(each) for each in after_first_page(summary) if isinstance(each, Chart)]


def test_what_names_a_row_keeps_room_where_figures_are_broad():
    rows = [["pieces from dividing", *["from 10:00 to 12:00"] * 6]]
    data = json.loads(as_data(day("two-lots"), ("notes",)))
    table = block_data(Table(["size", *"123456"], rows))
    found = pages(set_on_pages(json.dumps({**data, "blocks": [{"kind": "columns"}, table]}), ""))
    assert "\npieces from dividing " in f"\n{found[0]}"
