"""Numbers that do not add up: what is typed is more than there is, a count is below zero."""

from __future__ import annotations

import re

import pytest
from cases import MINUTE_MS, Record, case_under_way
from painted import said
from readme_screens import EVENTS
from seats import harvested, seated
from stations import new_case

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.evolve import fold
from orroom.case.terms import ROLES, Role
from orroom.figures.counts import by_size, by_zone
from orroom.figures.holding import harvest_ages
from orroom.figures.pace.rest_of_day import foretold
from orroom.figures.wording import marked
from orroom.record.events_file import read_events
from orroom.screens.stations.views.frame import Glance
from orroom.screens.stations.views.overview import overview_lines
from orroom.screens.stations.views.placing import placing_lines
from orroom.screens.stations.views.placing_stock import InHands, too_many
from orroom.screens.terminal.digits import Scale, block_digits
from orroom.screens.terminal.painting import text_of
from orroom.words.explanation import Asked
from orroom.words.handover import handover
from orroom.words.status import finish_expected, present, status_at
from orroom.words.worked_out import worked_out

SIZES = [(80, 24), (120, 40), (200, 60), (40, 12)]


def short() -> Record:
    """Four twos more are with the placers than were ever in dishes: −4 there."""
    record = case_under_way()
    dish = record.held("dish", "2")
    record.enter(c.IssueGrafts(size="2", count=dish + 4))
    assert record.held("dish", "2") == -4
    return record


# What is typed.


def remark(typed: int, *, dish: int, hands: int, zone: str = "LINE") -> tuple[str, ...]:
    record = case_under_way()
    count = by_size(record.state)["1"]
    there = next(each for each in by_zone(record.state) if each.zone.key == zone)
    changed = {"dish": dish, "dish_short": max(0, -dish)}
    fields = {each: getattr(count, each) for each in count.__struct_fields__} | changed
    return too_many(typed, type(count)(**fields), InHands("with the placers", {"1": hands}), there, "1")


def test_more_than_there_is_to_place_is_remarked_in_words():
    assert remark(12, dish=9, hands=0)[0] == "? 3 too many: 9 in dishes, 0 with the placers"
    assert remark(12, dish=9, hands=2)[1:] == ("? 1 too many: 11 ones there", "? 1 too many")
    assert remark(12, dish=9, hands=3) == ()
    assert remark(12, dish=-4, hands=11)[0] == "? 1 too many: −4 ≠ in dishes, 11 with the placers"


def test_more_than_the_zone_is_owed_is_remarked_too():
    assert remark(41, dish=50, hands=0)[0] == "▲ 1 over plan: 40 ones owed here"
    assert remark(40, dish=50, hands=0) == ()


@pytest.mark.parametrize("size", SIZES)
def test_the_remark_is_at_the_number_and_its_tile_is_marked(size: tuple[int, int]):
    record = case_under_way()
    width, height = size
    for typed, wrong in (("30", False), ("31", True)):  # 30 ones were cut
        glance = Glance(role="placing", who="AB", width=width, height=height, typed=typed)
        lines = placing_lines(record.state, record.now_ms, glance)
        rows = [text_of(row) for row in lines]
        assert any("? 1 too many" in row for row in rows) is wrong
        large = [each for row in lines for each in row if "█" in each.text]
        if size[0] >= 120:
            assert large[0].tone == ("wrong" if wrong else "mine")
        else:
            (number,) = [row for row in lines if f" {typed}▌" in text_of(row)]
            assert any(each.tone == "wrong" for each in number) is wrong


def test_only_what_is_in_the_chosen_lane_counts():
    record = case_under_way()
    record.enter(c.OpenLane(lane="a", by="GH"))
    record.enter(c.OpenLane(lane="d", by="JK"))
    record.enter(c.IssueGrafts(size="1", count=20, lane="a"))
    for lane, words in (("a", ""), ("d", "? 2 too many: 10 in dishes, 0 in lane d")):
        text = said(record, "placing", width=160, height=24, typed="12", lane=lane)
        assert (words in text) is True
        assert ("too many" in text) is bool(words)
    large = said(record, "placing", width=120, height=40, lane="a")
    assert "ONES IN LANE A" in large
    assert "WITH THE PLACERS" not in large


async def test_a_number_that_is_too_large_is_still_taken(tmp_path):
    case = new_case(tmp_path / "case.orroom")
    harvested(case)
    async with seated(case, "placing") as seat:
        await seat.type("41")
        assert "? 1 too many" in seat.text
        await seat.press("enter")
        assert isinstance(seat.last(), e.GraftsPlaced)
        assert "too many:" not in seat.text


# Counts below zero.


def test_a_count_below_zero_and_a_sum_with_one_have_the_mark_of_a_mismatch():
    assert marked(-4) == "−4 ≠"
    assert marked(444, 4) == "444 ≠"
    assert marked(1444) == "1,444"


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("role", ROLES)
def test_every_count_with_one_below_zero_in_it_is_marked(role: Role, size: tuple[int, int]):
    record, sound = short(), case_under_way()
    text = said(record, role, width=size[0], height=size[1])
    counts = by_size(record.state)
    for below in re.findall(r"−\d+.?.?", text):
        assert "≠" in below
    waiting = sum(each.waiting for each in counts.values())
    usable = counts["2"].usable
    if role == "overview":
        assert "USABLE ≠" in text
        assert re.search(rf"{waiting} ≠ (wait|with)|[+]{waiting} ≠|WAITING TO BE PLACED ≠", text)
        assert size == (40, 12) or re.search(rf"twos +{usable} ≠", text)
    elif role == "placing" and size[1] > 12:
        row = next(row for row in text.split("\n") if row.startswith("    in dishes"))
        assert re.search(r"−4(\+\d+)?≠", row)
        assert size[0] < 80 or re.search(r"all \d+(\+\d+)?≠", row)
    elif role == "cutting":
        assert re.search(rf"{usable} ?≠", text)
    assert "≠" not in said(sound, role, width=size[0], height=size[1])


def test_a_large_figure_below_zero_has_the_mark_at_its_name():
    text = said(short(), "placing", width=120, height=40, size=1)
    assert "TWOS IN DISHES ≠" in text
    assert re.search(r"all sizes \d+ ≠", text)


def test_a_harvest_knows_that_a_count_of_it_is_below_zero():
    record = short()
    assert {each.harvest: each.short for each in harvest_ages(record.state, record.now_ms)}["A"] == 4
    assert re.search(r"\d+ ≠ waiting", said(record, "overview", width=120, height=40))
    words = " ".join(part.words for part in handover(record.state, record.now_ms, None))
    assert re.search(r"\d+ ≠ in dishes", words)


def test_the_status_says_it_in_words_that_can_be_read_aloud():
    first = present(status_at(short().state, 0))[0].words
    assert "(in both sums is a count below zero)" in first
    assert "below zero" not in present(status_at(case_under_way().state, 0))[0].words


def test_how_figures_are_worked_out_marks_the_count_itself():
    record = short()
    asked = Asked(record.state, record.now_ms, "AB", "A", "FRONT", None)
    figures = {each.name: each for each in worked_out("overview", asked)}
    assert figures["USABLE"].value.endswith("≠")
    assert figures["waiting"].value.endswith("≠")
    assert re.match(r"\d+ ≠ in dishes \+ \d+ with the placers$", figures["waiting"].numbers)


@pytest.mark.parametrize("lanes", [0, 2])
def test_what_the_placers_have_has_a_row_where_there_is_room(lanes: int):
    record = case_under_way()
    for letter, who in list(zip("ad", ("GH", "JK"), strict=True))[:lanes]:
        record.enter(c.OpenLane(lane=letter, by=who))
    record.enter(c.IssueGrafts(size="1", count=12, lane="a" if lanes else None))
    assert re.search(r"with the placers +12 ", said(record, "placing", width=80, height=24))


def test_without_room_for_a_row_it_is_in_the_row_of_the_dishes():
    record = Record(fold(read_events(EVENTS)[:2300]))  # ten zones and three lanes
    rows = said(record, "placing", width=80, height=24).split("\n")
    row = next(each for each in rows if each.startswith("    in dishes"))
    assert re.match(r"    in dishes \+ placers +10\+13 +18\+15 +293\+23 +66 +82 all 469\+51 $", row)


# The finish while nobody places.


@pytest.fixture(scope="module")
def day() -> Record:
    """The sample's day: three placers, the last graft placed a moment ago."""
    state = fold(read_events(EVENTS)[:2000])
    return Record(state, state.log[-1].stamp.at_ms)


@pytest.mark.parametrize("size", SIZES)
def test_while_nobody_places_that_is_large_and_the_finish_small_with_its_condition(
    day: Record, size: tuple[int, int]
):
    record = day.copy()
    assert "PLACING" not in said(record, "overview", width=size[0], height=size[1])
    record.wait(27)
    text = said(record, "overview", width=size[0], height=size[1])
    assert "FINISH" not in text
    assert re.search("NOBODY PLACING FOR|NONE PLACING", text)
    assert re.search(r"\d\d:\d\d if resumed now|if now, \d\d:\d\d", text)
    if size == (40, 12):
        assert "0 h 27" in text
    else:
        glance = Glance(role="overview", who="OR", width=size[0], height=size[1])
        glance.foretold = foretold(record.state, record.now_ms)
        rows = [text_of(row) for row in overview_lines(record.state, record.now_ms, glance)]
        drawn = [block_digits("0h27", Scale(each, times)) for each in (3, 5, 6, 8, 10) for times in (1, 2)]
        assert any(all(any(part in row for row in rows) for part in each) for each in drawn)


def test_all_placers_silent_at_once_is_nobody_placing_but_one_of_them_may_well_be(day: Record):
    for minutes, none in ((3, None), (20, 20), (27, 27)):
        record = day.copy()
        record.wait(minutes)
        ahead = foretold(record.state, record.now_ms).outlook
        found = ahead.nobody_placing_ms(record.now_ms)
        assert (found is None) is (none is None)
        assert found is None or round(found / MINUTE_MS) in {none, none + 1}


def test_a_break_of_which_the_end_is_known_is_no_standstill_and_is_in_the_finish(day: Record):
    record, plain = day.copy(), day.copy()
    record.enter(c.PlanBreak(minutes=30, in_minutes=10), "NP", station="overview-1")
    for each in (record, plain):
        each.wait(1)
    with_break, without = (foretold(each.state, each.now_ms).outlook for each in (record, plain))
    placing, before = (
        next(each for each in known.works if each.work == "placing") for known in (with_break, without)
    )
    assert placing.breaks_ms == 30 * MINUTE_MS
    assert before.breaks_ms == 0
    assert placing.finish is not None
    assert before.finish is not None
    assert placing.finish.middle_ms - before.finish.middle_ms > 25 * MINUTE_MS
    assert "with 30 min of break" in said(record, "overview", width=200, height=60)
    assert "of break" not in said(plain, "overview", width=200, height=60)
    record.wait(25)
    during = foretold(record.state, record.now_ms).outlook
    assert during.nobody_placing_ms(record.now_ms) is None
    assert "EXPECTED FINISH" in said(record, "overview", width=120, height=40)


def test_status_and_the_page_of_figures_say_it_too(day: Record):
    record = day.copy()
    record.wait(27)
    (line,) = finish_expected(record.state, record.now_ms)
    assert re.match(r"nobody placing for 27 min; finish expected \d\d:\d\d if it goes on now$", line.words)
    known = foretold(record.state, record.now_ms)
    figures = {
        each.name: each.value
        for each in worked_out("overview", Asked(record.state, record.now_ms, "AB", "A", "HL", known))
    }
    assert figures["FINISH"].endswith("if placing goes on now: none for 27 min")


# Digits and marks at a first look.


@pytest.mark.parametrize("size", SIZES)
def test_a_zones_number_is_apart_from_its_ring(day: Record, size: tuple[int, int]):
    rows = said(day, "placing", width=size[0], height=size[1]).split("\n")
    assert any(re.match(r"4 ○ ", row) for row in rows)
    assert not any(re.match(r"[0-9b][○●▲≠]", row) for row in rows)


@pytest.mark.parametrize("size", SIZES)
def test_a_cell_that_is_over_plan_keeps_its_mark_under_the_cursor(day: Record, size: tuple[int, int]):
    text = said(day, "placing", width=size[0], height=size[1], zone=0, size=0)
    assert "[122/120▲" in text or "[▲2]" in text


def test_the_case_is_in_the_header_of_placing_and_cutting(day: Record):
    for role in ("placing", "cutting"):
        for width in (80, 120, 200):
            header = said(day, role, width=width, height=24).split("\n")[0]
            assert "DEMO-0417" in header
            assert role == "cutting" or re.search(r"\d+ with (the )?placers, .*\d+ (s|min)", header)


def test_what_was_spoilt_is_added_to_what_was_cut_not_in_it():
    record = case_under_way()
    record.enter(c.DiscardGrafts(size="1", count=5, reason="transected", harvest="A"))
    assert "you cut 95 + 5 spoilt (5.0 %)" in said(record, "cutting", width=80, height=24)


def test_nothing_owed_is_no_alarm_though_more_was_placed():
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=42))
    lines = placing_lines(record.state, record.now_ms, Glance(role="placing", who="AB", width=120, height=40))
    names = next(n for n, row in enumerate(lines) if "ONES OWED HERE" in text_of(row))
    zero = [each.tone for each in lines[names + 1] if "█" in each.text][-3:]
    assert zero[0] == "done"
    assert any(each.tone == "wrong" and "2 over plan" in each.text for row in lines for each in row)
    assert "owes" not in "\n".join(map(text_of, lines))
