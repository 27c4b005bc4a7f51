"""``orroom flow``: the table, the picture, what would change; and the lines on the screens."""

from __future__ import annotations

from pathlib import Path

import pytest
from cases import MINUTE_MS, MORNING_MS, UNCOUNTED, Record
from click.testing import CliRunner
from flow_days import day_under_way, two_harvests
from msgspec.structs import replace

from orroom.case import commands as c
from orroom.cli import main
from orroom.figures.flow.found import Dry, Flow, SizeFlow
from orroom.figures.pace.rest_of_day import Foretold, foretold
from orroom.figures.wording import Times
from orroom.record.encoding import lines_of
from orroom.screens.stations.views.cutting import cutting_lines
from orroom.screens.stations.views.frame import Glance
from orroom.screens.stations.views.overview import overview_lines
from orroom.screens.terminal.painting import text_of
from orroom.words.explanation import Asked
from orroom.words.flow import next_line, out_in, out_range, wanted_line
from orroom.words.worked_out import worked_out

DIVIDES = {"divided_into": ("1+2",)}


def asked(tmp_path: Path, record: Record, *options: str) -> tuple[int, str]:
    """What the verb prints about a case with these entries."""
    events, case = tmp_path / "events.jsonl", tmp_path / "case.orroom"
    events.write_text(lines_of(record.state.log))
    runner = CliRunner()
    if not case.exists():
        assert runner.invoke(main, ["import", str(events), str(case)]).exit_code == 0
    done = runner.invoke(main, ["flow", str(case), *options])
    return done.exit_code, done.output


def now(record: Record) -> Foretold:
    return foretold(record.state, record.now_ms)


def painted(
    record: Record, known: Foretold | None, role: str, width: int = 80, height: int = 24, page: int = 0
) -> list[str]:
    glance = Glance(role=role, who="AB", width=width, height=height, page=page, foretold=known)  # type: ignore[arg-type]
    lines = cutting_lines if role == "cutting" else overview_lines
    return [text_of(each).rstrip() for each in lines(record.state, record.now_ms, glance)]


def both_pages(record: Record) -> str:
    """The rows of both pages of an overview."""
    known = now(record)
    return "\n".join(row for page in (0, 1) for row in painted(record, known, "overview", 160, 45, page))


def test_the_table_has_a_row_for_each_size_and_the_picture_a_bar(tmp_path: Path):
    code, text = asked(tmp_path, day_under_way(**DIVIDES))
    assert code == 0
    assert "ones run out now; dividing 16 threes into 1+2 would help" in text
    assert "| ones   | run out at " in text
    assert "16 threes divided: ones last; 60 threes can be spared" in text
    assert "       ones |............|" in text
    assert "     threes |============|" in text


def test_with_too_few_data_it_says_so_and_nothing_else(tmp_path: Path):
    code, text = asked(tmp_path, day_under_way(minutes=8))
    title, said = text.strip().split("\n\n")
    assert (code, title[:10], said) == (
        0,
        "# Flow at ",
        "Nothing can be said: fewer than 3 segments are finished.",
    )
    code, text = asked(tmp_path, day_under_way(minutes=8), "--format", "svg")
    assert (code, "There is no picture" in text) == (1, True)


def test_what_if_says_what_would_change(tmp_path: Path):
    record = day_under_way()
    plain = asked(tmp_path, record)[1]
    for change in ("placers=4", "cutters=3", "divide=20x3=1+2"):
        code, text = asked(tmp_path, record, "--what-if", change)
        assert code == 0
        assert f"If {change}:" in text
        table, before = (each[each.index("| ones") :] for each in (text, plain))
        assert table != before


def test_a_harvest_that_starts_later_is_asked_about(tmp_path: Path):
    code, text = asked(tmp_path, two_harvests())
    assert code == 0
    assert "each hour earlier costs 162 graft-hours" in text
    code, text = asked(tmp_path, two_harvests(), "--what-if", "start=B:90")
    assert (code, "graft-hours" in text) == (0, False)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("quicker", "is not like cutters=4"),
        ("cutters=0", "is not like"),
        ("cutters=1e9", "is not like"),
        ("start=Z:10", "the plan has no harvest Z"),
        ("start=A:10", "harvest A has begun"),
        ("divide=8x3=1+M", "cannot be divided into 1+M"),
        ("divide=900x3=1+2", "60 of size 3 are in dishes, not 900"),
    ],
)
def test_a_change_that_cannot_be_is_refused_with_what_would_be_right(tmp_path: Path, change: str, said: str):
    code, text = asked(tmp_path, day_under_way(), "--what-if", change)
    assert (code, said in text) == (2, True)


def test_the_page_and_the_picture_have_a_line_for_each_size(tmp_path: Path):
    record = day_under_way()
    for form, ending in (("html", "</html>\n"), ("svg", "</svg>\n")):
        code, text = asked(tmp_path, record, "--format", form)
        assert code == 0
        assert text.endswith(ending)
        for name in ("ones", "twos", "threes"):
            assert f">{name}</text>" in text


@pytest.mark.parametrize(
    ("width", "said"),
    [
        (80, " ones run out now; dividing 16 threes into 1+2 would help"),
        (40, " ones run out now"),
        (17, " ones run out now"),
        (13, " ones run out"),
    ],
)
def test_the_cutting_screen_says_what_runs_out_in_one_line(width: int, said: str):
    record = day_under_way(**DIVIDES)
    assert said in painted(record, now(record), "cutting", width)
    assert not any("run out" in each for each in painted(record, None, "cutting", width))


def test_minutes_count_down_until_it_is_worked_out_again():
    record = day_under_way(minutes=30)
    known = now(record).flow
    first = known.wanted()[0].dry
    assert first is not None
    assert first.middle_ms is not None
    left = round((first.middle_ms - known.at_ms) / MINUTE_MS)
    assert left > 2
    assert wanted_line(known, known.at_ms)[0] == f"ones run out in {left} min"
    assert wanted_line(known, known.at_ms + 2 * MINUTE_MS)[0] == f"ones run out in {left - 2} min"
    ones = next(each for each in known.sizes if each.size == "1")
    assert wanted_line(known, known.at_ms + 60 * MINUTE_MS)[0] == f"ones are down to {ones.waiting}"
    assert out_in(replace(ones, waiting=0), known.at_ms + 60 * MINUTE_MS) == "run out now"


def test_the_overview_has_two_lines_where_there_is_room():
    record = two_harvests()
    record.wait(1)
    rows = both_pages(record)
    assert "harvest B: start by " in rows
    record = day_under_way(**DIVIDES)
    rows = both_pages(record)
    assert "ones run out now; dividing 16 threes into 1+2 would help" in rows
    small = painted(record, now(record), "overview", 40, 12)
    assert len(small) == 12


def test_the_size_that_runs_dry_second_is_named_after_the_first():
    at = MORNING_MS
    sizes = tuple(
        SizeFlow(size, 10, 10, 50, 30, Dry(at, at + minutes * MINUTE_MS, None))
        for size, minutes in (("1", 25), ("2", 6), ("3", 31))
    )
    assert next_line(Flow(at, sizes=sizes), at, Times()) == ("then ones run out in 25 min",)
    assert next_line(Flow(at, sizes=sizes[1:]), at, Times()) == ()


@pytest.mark.parametrize(
    ("middle", "high", "said"),
    [
        (20, 30, "run out at 07:50 (07:40 to 08:00)"),
        (20, None, "run out at 07:50 (07:40 to later)"),
        (None, None, "may run out from 07:40 on"),
    ],
)
def test_a_size_that_may_last_still_says_when_it_will_probably_run_out(
    middle: int | None, high: int | None, said: str
):
    """Opened at 07:30; dry in 10 minutes at the soonest."""
    ends = [None if each is None else MORNING_MS + each * MINUTE_MS for each in (middle, high)]
    size = SizeFlow("2", 9, 0, 30, 0, Dry(MORNING_MS + 10 * MINUTE_MS, *ends))
    assert out_range(size, Times(0)) == said


def test_lines_that_have_no_room_make_no_page_more():
    record = day_under_way(**DIVIDES)
    known = now(record)
    without = replace(known, flow=Flow(known.at_ms, "nothing"))
    for height in range(12, 40):
        pages = {
            row.split(" page ")[1].split()[0]
            for each in (known, without)
            for row in painted(record, each, "overview", 60, height)
            if " page " in row
        }
        assert len(pages) <= 1


@pytest.mark.parametrize("role", ["cutting", "overview"])
def test_the_explanation_has_the_numbers_of_each_size(role: str):
    record = day_under_way(**DIVIDES)
    asked_for = Asked(record.state, record.now_ms, "AB", "A", "LINE", now(record))
    found = {each.name: each for each in worked_out(role, asked_for)}  # type: ignore[arg-type]
    assert found["supply"].value.startswith("ones run out now; dividing 16 threes into 1+2 would help")
    assert "ones: 0 wait, 50 owed, 58 cut an hour, run out at " in found["supply"].numbers
    assert "dry" not in f"{found['supply']}"  # which is what grafts are that die
    early = replace(asked_for, foretold=now(day_under_way(minutes=8)))
    assert "supply" not in {each.name for each in worked_out(role, early)}  # type: ignore[arg-type]


def test_a_signed_off_case_has_no_flow(tmp_path: Path):
    record = day_under_way()
    record.enter(c.SignOff(second="GH", **UNCOUNTED))
    code, text = asked(tmp_path, record)
    assert (code, "is signed off" in text) == (1, True)
