"""What somebody reads who sees a screen for the first time: each figure says of what it is."""

from __future__ import annotations

import re
from pathlib import Path
from typing import NamedTuple

import pytest
from cases import Record, case_under_way, opened_case, small_plan
from msgspec.structs import replace
from painted import PAINTERS
from readme_screens import EVENTS

from orroom.case import commands as c
from orroom.case.events import CountedGroup
from orroom.case.evolve import fold
from orroom.case.final_count import groups_to_count, person_counts
from orroom.case.plan import Zone
from orroom.case.state import CaseState
from orroom.case.terms import ROLES, Role
from orroom.figures.pace.rest_of_day import foretold
from orroom.figures.recount import Recount, recount
from orroom.record.events_file import read_events
from orroom.screens.stations.over.pages import Figures
from orroom.screens.stations.views.compared import compared_lines
from orroom.screens.stations.views.final_count import CountUnderWay, counting_lines
from orroom.screens.stations.views.frame import Glance
from orroom.screens.stations.views.handover import in_rows
from orroom.screens.stations.views.overview import overview_book
from orroom.screens.stations.views.pages import figure_blocks
from orroom.screens.terminal.asking import Choice, Dialogue, Option, Question
from orroom.screens.terminal.keys import Keys, key_named, shown_key
from orroom.screens.terminal.pages import page_shown
from orroom.screens.terminal.painting import Line, text_of
from orroom.screens.terminal.question_lines import question_lines
from orroom.words.explanation import Asked
from orroom.words.handover import handover
from orroom.words.worked_out import worked_out

WITHOUT_LANES = Path(__file__).parents[1] / "recorded" / "day-without-lanes.jsonl"
SIZES = [(80, 24), (120, 40), (200, 60), (40, 12)]


class Moment(NamedTuple):
    """A case as it was when its last entry was made."""

    state: CaseState
    now_ms: int


@pytest.fixture(scope="module")
def day() -> Moment:
    """The sample's day while its finish is forecast and half of its harvest is placed."""
    state = fold(read_events(EVENTS)[:2000])
    return Moment(state, state.log[-1].stamp.at_ms)


def screen(record: Record | Moment, role: Role, size: tuple[int, int], **glance: object) -> list[str]:
    return [text_of(each) for each in painted(record, role, size, **glance)]


def painted(record: Record | Moment, role: Role, size: tuple[int, int], **glance: object) -> list[Line]:
    known = foretold(record.state, record.now_ms)
    looks = Glance(role=role, who="AB", width=size[0], height=size[1], foretold=known, **glance)  # type: ignore[arg-type]
    return PAINTERS[role](record.state, record.now_ms, looks)


def all_pages(record: Record | Moment, size: tuple[int, int]) -> str:
    """Every page of an overview, as one text."""
    known = foretold(record.state, record.now_ms)
    glance = Glance(role="overview", who="AB", width=size[0], height=size[1], foretold=known)
    pages = overview_book(record.state, record.now_ms, glance).pages
    rows = (row for page in range(len(pages)) for row in screen(record, "overview", size, page=page))
    return " ".join(" ".join(rows).split())


# Prompts.


@pytest.mark.parametrize("size", SIZES)
def test_a_prompt_of_a_lane_names_the_lane(size: tuple[int, int]):
    record = case_under_way()
    for care in ("wet", "renew", "cold"):
        record.enter(c.GiveCare(care=care, temperature_c=4.0 if care == "cold" else None))
    record.enter(c.OpenLane(lane="l", by="GH"))
    record.enter(c.IssueGrafts(size="2", count=3, lane="l"))
    for minutes in (1, 6):
        record.wait(minutes)
        rows = "\n".join(screen(record, "cutting", size))
        assert re.search(r"[◕!] wet lane l", rows, re.IGNORECASE)
        assert "lane l" not in rows  # an l reads like a 1


@pytest.mark.parametrize("size", SIZES[:3])
def test_the_next_zone_is_said_in_whole_reasons(day: Moment, size: tuple[int, int]):
    (row,) = [row for row in screen(day, "placing", size) if " next: " in row]
    assert "…" not in row


@pytest.mark.parametrize("size", SIZES[:3])
@pytest.mark.parametrize("role", ROLES)
def test_no_prompt_touches_the_edge(day: Moment, role: Role, size: tuple[int, int]):
    rows = [row for row in screen(day, role, size) if re.search("[◷◕◉] wet", row)]
    assert rows
    assert [row for row in rows if len(row.rstrip()) >= size[0]] == []


# Shares and sums.


@pytest.mark.parametrize("size", SIZES)
def test_a_share_of_the_plan_says_that_it_is_placed(day: Moment, size: tuple[int, int]):
    below = [row for row in screen(day, "overview", size) if re.search(r"\d % placed|  \d over  ", row)]
    assert len(below) == 1
    assert not re.search(r"\d %(?! placed)", below[0])


@pytest.mark.parametrize("size", SIZES)
def test_planned_less_placed_and_what_is_over_is_what_is_left(size: tuple[int, int]):
    """1,200 planned, 1,036 placed, 4 of them over plan: 168 left."""
    zone = Zone(key="FRONT", label="frontal", area_cm2=30, targets={"1": 600, "2": 600})
    record = opened_case(small_plan(zones=(zone,)))
    record.enter(c.PlaceGrafts(zone="FRONT", size="1", count=604))
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=432))
    rows = screen(record, "overview", size)
    named = r"(placed, 4 over plan|placed, 4 over|placed ▲4|  4 over|1,200 − 1,036 [+] 4 over)(  |$)"
    assert len([row for row in rows if re.search(named, row)]) == 1
    if size == SIZES[-1]:  # figures are in plain text there
        assert any(row.split() == ["0", "1,036", "168", "—"] for row in rows)


@pytest.mark.parametrize("size", SIZES)
def test_a_zone_with_more_than_its_plan_is_done_not_100_percent(size: tuple[int, int]):
    record = opened_case()
    zone = record.state.plan.zones[0]
    for key, planned in zone.targets.items():
        record.enter(c.PlaceGrafts(zone=zone.key, size=key, count=planned + 1))
    text = all_pages(record, size)
    assert size == SIZES[2] or re.search(r"\d+/\d+ +done ▲ ?\d", text)  # a large wall has it in digits
    assert " done " in text
    assert "100 %" not in text


# The finish.


@pytest.mark.parametrize("size", SIZES[:3])
def test_a_finish_is_expected_between_two_times_and_as_large_as_its_neighbours(
    day: Moment, size: tuple[int, int]
):
    rows = screen(day, "overview", size)
    known = foretold(day.state, day.now_ms)
    assert known.outlook.finish is not None
    assert any("EXPECTED FINISH" in row for row in rows)
    assert any(re.search(r"\d\d:\d\d( to |–)\d\d:\d\d", row) for row in rows)
    large = [each for row in painted(day, "overview", size) for each in row if each.tone == "mine"]
    assert large
    assert all("█" in each.text or not each.text.strip() for each in large)


@pytest.mark.parametrize("size", [(80, 24), (90, 30), (100, 24), (110, 40)])
def test_figures_of_their_own_widths_stay_apart(day: Moment, size: tuple[int, int]):
    rows = screen(day, "overview", size)
    first = next(n for n, row in enumerate(rows) if "USABLE" in row)
    names = re.split(r"  +", rows[first].strip())
    assert names[:2] == ["USABLE", "PLACED"]
    below = next(row for row in rows[first:] if "of 2,400" in row)
    assert len(re.split(r"  +", below.strip())) == len(names)


# Whose, and of which harvest.


@pytest.mark.parametrize("role", ROLES)
def test_initials_are_called_so_where_harvests_have_letters(role: Role):
    for size in SIZES[:3]:
        assert screen(case_under_way(), role, size)[0].startswith(f" {role.upper()}  initials AB")


@pytest.mark.parametrize("size", SIZES)
def test_a_harvest_in_a_header_is_never_a_bare_letter(size: tuple[int, int]):
    record = case_under_way()
    record.wait(60)
    record.enter(c.StartHarvest(harvest="B"))
    record.wait(10)
    for harvest in "AB":
        header = screen(record, "cutting", size, harvest=harvest)[0]
        assert re.findall(r"\b[A-Z]\b", header)
        assert not re.search(r"(?<!harvest )\b[AB]\b", header), header


@pytest.mark.parametrize("size", SIZES)
def test_half_of_a_harvest_is_a_whole_sentence(day: Moment, size: tuple[int, int]):
    text = all_pages(day, size)
    assert "half of harvest A was placed" in text
    assert re.search(r"\d h \d\d out of the body", text)


def test_numbers_below_each_other_on_a_narrow_screen_are_named():
    assert " your count, the team's, its % of plan" in screen(case_under_way(), "cutting", (40, 12))


@pytest.mark.parametrize("size", SIZES)
def test_a_group_of_a_count_calls_its_harvest_one(size: tuple[int, int]):
    record = case_under_way()
    glance = Glance(role="overview", who="OR", width=size[0], height=size[1])
    count = CountUnderWay("AB", groups_to_count(record.state), record.state.seq)
    rows = [text_of(each) for each in counting_lines(record.state, record.now_ms, glance, count)]
    groups = [row for row in rows if row[1:2] in {"○", "●"}]
    assert groups
    assert all(re.search(r"harvest [AB]\b|, strip", row) for row in groups), groups


# Keys.


def test_no_key_reads_like_a_digit():
    assert shown_key("l") == "L"
    assert key_named("L") == "l"
    for role in ROLES:
        assert not any(each.shown in {"l", "O", "I"} for each in Keys.standard().of(role))


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("role", ROLES)
def test_the_help_is_not_followed_by_a_number(role: Role, size: tuple[int, int]):
    (keys,) = [row for row in screen(case_under_way(), role, size) if " F1 " in row]
    assert re.search(r" F1 (help|all keys)( |$)", keys)
    assert not re.search(r"\+ ?\d|\d more", keys)


# What is late, and what has no room.


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("minutes", [0.9, 20])
def test_a_marked_prompt_does_not_end_with_its_last_letter(size: tuple[int, int], minutes: float):
    record = three_lanes()
    record.wait(2.5 + minutes)
    for role in ROLES:
        late = [each for row in painted(record, role, size) for each in row if each.tone == "pressing"]
        assert late
        assert [each.text for each in late if not each.text.endswith(" ") and "█" not in each.text] == []


def three_lanes() -> Record:
    """Grafts wait in three lanes, wetted a moment ago."""
    record = case_under_way()
    record.enter(c.CutGrafts(harvest="A", size="2", count=30))
    for lane, who in (("a", "GH"), ("d", "JK"), ("g", "LM")):
        record.enter(c.OpenLane(lane=lane, by=who))
        record.enter(c.IssueGrafts(size="2", count=5, lane=lane))
        record.enter(c.GiveCare(care="bench", lane=lane))
    return record


def test_how_many_more_mismatches_there_are_leaves_a_margin():
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=45))
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=90))
    for role in ROLES:
        (row,) = [row for row in screen(record, role, (40, 12)) if row.startswith(" ≠")]
        assert re.search(r"ones .*  \+\d$", row)
        assert len(row) < 40
    assert any("(and 3 more)" in row for row in screen(record, "cutting", (80, 24)))


def test_what_is_hidden_says_how_many_other_things_are():
    record = three_lanes()
    for size in ((40, 12), (80, 24)):
        for role in ROLES:
            for row in screen(record, role, size):
                if "hidden: " in row:
                    assert not re.search(r"\+\d|;|\d more", row)
                    assert len(row.rstrip()) < size[0]


@pytest.mark.parametrize(("title", "number"), [("Keys of the cutting screen", 9), ("x" * 38, 11)])
def test_the_number_of_a_page_is_whole_on_a_narrow_screen(title: str, number: int):
    heading = text_of(page_shown([[]] * number, 0, title, "F1", (40, 12))[0])
    assert re.search(rf"(, page 1 of {number}|1/{number})$", heading)
    assert len(heading) < 40


def test_the_title_of_the_figures_is_whole_at_40_columns():
    heading = text_of(page_shown([[]] * 11, 0, Figures.TITLE, "f", (40, 12))[0])
    assert heading == f" {Figures.TITLE} 1/11"


@pytest.mark.parametrize("size", SIZES)
def test_the_end_of_a_work_is_no_promise(day: Moment, size: tuple[int, int]):
    assert re.search(r"placing \d+/h.*(expected to finish at|done ~)", all_pages(day, size))
    stopped = fold(read_events(WITHOUT_LANES)[:2000])
    text = all_pages(Moment(stopped, stopped.log[-1].stamp.at_ms + 25 * 60_000), size)
    assert re.search(r"placing: none for \d+ min", text)
    assert not re.search(r"none for \d+ min, |done at", text)
    assert size[0] < 120 or re.search(r"none for \d+ min; if it goes on now, done ~\d\d:\d\d", text)


def test_the_time_with_the_placers_is_that_of_the_longest():
    record = case_under_way()
    record.enter(c.IssueGrafts(size="1", count=5))
    record.wait(3)
    for size in SIZES[:3]:
        assert re.search(r"5 with (the )?placers, 3 min 00 s since wet", screen(record, "placing", size)[0])


# Counts and re-plans.


@pytest.mark.parametrize("size", SIZES)
def test_a_group_is_a_place_and_a_size_never_a_numbered_dish(size: tuple[int, int]):
    record = case_under_way()
    glance = Glance(role="overview", who="OR", width=size[0], height=size[1])
    compared = both_counted(record, 0)
    rows = [
        text_of(each)
        for turned in range(4)
        for each in compared_lines(record.state, record.now_ms, glance, compared, 1, turned)
    ]
    count = CountUnderWay("AB", groups_to_count(record.state), record.state.seq)
    rows += [text_of(each) for each in counting_lines(record.state, record.now_ms, glance, count)]
    assert any("placers: " in row for row in rows)
    assert [row for row in rows if re.search(r"\b(dish|placers?) \d", row)] == []


def test_the_key_that_accepts_a_count_says_which_number():
    record = case_under_way()
    compared = both_counted(record, 37)
    for width in (80, 40):
        glance = Glance(role="overview", who="OR", width=width, height=24)
        lines = compared_lines(record.state, record.now_ms, glance, compared, 0)
        assert " a accept 37 " in [each.text for row in lines for each in row]


def both_counted(record: Record, ones: int) -> Recount:
    """Two people found so many ones in their dish, and nothing else."""
    for who in ("AB", "CD"):
        record.enter(c.BeginCount(), who)
        groups = tuple(
            CountedGroup(
                size=each.size,
                harvest=each.harvest,
                place=each.place,
                found=ones * (each.size == "1" and each.place == "dish"),
            )
            for each in groups_to_count(record.state)
        )
        record.enter(c.CountAll(groups=groups), who)
    first, second = person_counts(record.state)
    return recount(record.state, first.found, second.found)


# What was broken, and who comes.


@pytest.mark.parametrize("size", SIZES)
def test_a_broken_limit_is_no_order_to_read_the_temperature(size: tuple[int, int]):
    plan = small_plan()
    read = replace(plan.care[2], label="read the temperature")
    record = case_under_way(replace(plan, care=(*plan.care[:2], read)))
    record.enter(c.GiveCare(care="cold", temperature_c=9.5))
    for role in ROLES:
        (row,) = [row for row in screen(record, role, size) if "LIMIT" in row]
        assert "read" not in row
        assert re.search(r"9.5 °C, too warm.* · e(: say what was done)?$", row.rstrip())
    two = (*plan.care[:2], read, replace(read, key="room", label="read the room"))
    record = case_under_way(replace(plan, care=two))
    record.enter(c.GiveCare(care="room", temperature_c=9.5))
    assert any("read the room: 9.5 °C" in row for row in screen(record, "cutting", (80, 24)))


def test_the_hand_over_says_more_lanes_not_more_grafts():
    record = three_lanes()
    parts = handover(record.state, record.now_ms, "CD")
    (lanes,) = [part for part in parts if part.name == "lanes"]
    assert lanes.left_out(1) == "1 more lane at placing"
    assert lanes.left_out(2) == "2 more lanes at placing"
    for width in range(62, 100):
        (row,) = [row.words for row in in_rows([lanes], width, 1)]
        assert re.search(r"(; (and )?\d more lanes?( at placing)?| \+\d more lanes?)$", row), row


def test_lanes_of_an_overview_begin_below_each_other():
    rows = [row for row in screen(three_lanes(), "overview", (120, 40)) if re.search(" lane [adg]  ", row)]
    assert len(rows) == 3
    assert len({re.search("[◷◕◉!] 5", row).start() for row in rows}) == 1  # type: ignore[union-attr]
    assert sum("first" in row for row in rows) == 1


def test_a_question_names_its_help_where_that_takes_no_line():
    def sure() -> Dialogue:
        yield Choice("Sure?", (Option("y", "yes", True),))
        return None

    question = Question(sure())
    for width, words in ((80, " F1 help "), (38, " F1 "), (33, None)):
        lines = question_lines(question, width, 6)
        buttons = [each.text for row in lines for each in row if "F1" in each.text]
        assert buttons == ([] if words is None else [words]), width
        assert len(lines) == len(question_lines(question, width, 6, helps=False))


@pytest.mark.parametrize("size", [*SIZES, (30, 10)])
def test_no_figure_or_its_explanation_touches_the_edge(day: Moment, size: tuple[int, int]):
    for role in ROLES:
        glance = Glance(role=role, who="AB", width=size[0], height=size[1])
        known = foretold(day.state, day.now_ms)
        explained = worked_out(role, Asked(day.state, day.now_ms, "AB", "A", "HL", known))
        rows = [text_of(row).rstrip() for block in figure_blocks(glance, explained) for row in block]
        assert len(rows) > 9
        assert [row for row in rows if len(row) >= size[0]] == []
        assert not any(re.search(r"\d × [1-4M]\b", row) for row in rows)
