"""Lanes at a placing station: keys and clicks choose them, entries go to them, screens show them."""

import json
import re
from pathlib import Path

import pytest
from cases import Record, case_under_way, small_plan
from hypothesis import given, settings
from hypothesis import strategies as st
from seats import harvested, seated
from stations import entered, new_case, station

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.plan import Person
from orroom.case.terms import LANE_LETTERS, PLACERS_CARE
from orroom.figures.lanes import lanes_now
from orroom.figures.lanes import not_needed as not_needed_in
from orroom.figures.next_zone import next_zone
from orroom.screens.stations.views.frame import NO_LANE, Glance
from orroom.screens.stations.views.lanes import lane_lines, lane_rows, suggested
from orroom.screens.stations.views.overview import overview_lines
from orroom.screens.stations.views.placing import placing_lines
from orroom.screens.terminal.keys import LANES, Keys
from orroom.screens.terminal.painting import text_of, width_of
from orroom.words.handover import handover
from orroom.words.status import present, status_at

PLACERS = ("GH", "JK", "MN", "PQ", "RS", "TU")
STAFF = (*small_plan().staff, *(Person(initials=who, role="placing") for who in PLACERS[:3]))


@pytest.fixture
def case(tmp_path: Path) -> Path:
    path = new_case(tmp_path / "case.orroom", small_plan(staff=STAFF))
    harvested(path)
    return path


def open_lanes(case: Path, count: int) -> None:
    with station(case, "overview", "EF") as desk:
        for letter, who in list(zip(LANES, PLACERS, strict=True))[:count]:
            entered(desk, c.OpenLane(lane=letter, by=who))


def with_lanes(count: int) -> Record:
    """So many lanes with twos in each but the last, handed out half a minute apart; each has placed one."""
    record = case_under_way()
    zones = [zone.key for zone in record.state.plan.zones[1:]]
    for number, (letter, who) in enumerate(list(zip(LANES, PLACERS, strict=True))[:count]):
        record.enter(c.OpenLane(lane=letter, by=who))
        record.enter(c.IssueGrafts(size="2", count=3 if number < count - 1 else 1, lane=letter))
        record.enter(c.PlaceGrafts(zone=zones[number % 2], size="2", count=1, lane=letter))
        record.wait(0.5)
    return record


def screen(record: Record, size: tuple[int, int], lane: str) -> list[str]:
    glance = Glance(role="placing", who="CD", width=size[0], height=size[1], lane=lane)
    painted = placing_lines(record.state, record.now_ms, glance)
    assert len(painted) == size[1]
    assert max(map(width_of, painted)) <= size[0]
    return [text_of(each) for each in painted]


# Keys.


def test_lanes_have_keys_of_their_own_at_placing_and_none_answers_a_question():
    keys = Keys.standard().of("placing")
    assert "".join(LANES) == LANE_LETTERS
    for letter, (name, _) in LANES.items():
        assert [key.action for key in keys if name in key.keys] == [f"lane('{letter}')"]
        assert name not in {"y", "n"}
        assert [key.action for key in keys if letter in key.keys] in ([f"lane('{letter}')"], [])


def test_a_clinic_that_has_bound_a_lanes_letter_keeps_its_binding():
    keys = Keys({"placing": {"note": ("a",)}})
    assert keys.action_for("placing", "a") == "note"
    assert keys.shown("placing", "lane('a')") == "F6"


# Opening, handing over, closing.


async def test_a_placer_joins_is_relieved_and_leaves_by_w(case: Path):
    async with seated(case, "placing", "CD") as seat:
        await seat.press("w", "5")
        assert "Who places in lane a?" in seat.text
        await seat.press("2")
        assert seat.last() == e.LaneOpened(lane="a", by="GH")
        await seat.press("w", "5", "1")
        assert seat.last() == e.LaneOpened(lane="d", by="CD")
        await seat.press("w", "6", "a")
        assert "Who takes lane a over from GH?" in seat.text
        await seat.press("0")
        await seat.type("CD")
        await seat.press("enter")
        assert "CD has a lane already" in seat.text
        await seat.type("XY")
        await seat.press("enter")
        assert seat.last() == e.LaneHandedOver(lane="a", by="XY", left="GH")
        await seat.press("w", "7", "d")
        assert seat.last() == e.LaneClosed(lane="d")


async def test_cutters_are_not_asked_about_lanes(case: Path):
    async with seated(case, "cutting", "AB") as seat:
        await seat.press("w")
        assert "a placer joins" not in seat.text


async def test_a_letter_whose_lane_was_opened_in_error_with_grafts_in_it_is_not_given_out_again(case: Path):
    with station(case, "overview", "EF") as desk:
        opened = entered(desk, c.OpenLane(lane="a", by="GH"))
        entered(desk, c.IssueGrafts(size="2", count=2, lane="a"))
        entered(desk, c.CorrectEntry(entry=opened.seq, reason="wrong"))
    async with seated(case, "placing", "CD") as seat:
        await seat.press("w", "5")
        assert "Who places in lane d?" in seat.text


# Entries.


async def test_without_a_lane_entries_have_none_and_with_one_they_have_it_by_the_same_keys(case: Path):
    async with seated(case, "placing", "CD") as seat:
        await seat.press("right", "5", "enter")
        assert seat.last() == e.GraftsPlaced(zone="LINE", size="2", count=5, drawn=seat.last().drawn)
        await seat.press("w", "5", "2")
        await seat.press("5", "enter")
        assert (seat.last().lane, seat.last().by, seat.last().count) == ("a", "GH", 5)


async def test_a_letter_before_a_number_enters_for_that_lane_and_every_entry_goes_to_it(case: Path):
    open_lanes(case, 3)
    async with seated(case, "placing", "CD") as seat:
        await seat.press("right", "d", "2", "0", "i")
        assert (seat.last().lane, seat.last().count) == ("d", 20)
        await seat.press("d", "2", "0", "enter")
        assert isinstance(seat.last(), e.GraftsPlaced)
        assert (seat.last().lane, seat.last().by, seat.last().count) == ("d", "JK", 20)
        for keys, kind in (
            (("4", "i"), e.GraftsIssued),
            (("i", "3", "enter"), e.GraftsIssued),
            (("1", "full_stop", "2"), e.GraftsPlaced),
            (("1", "r"), e.GraftsReturned),
            (("r", "1", "enter"), e.GraftsReturned),
            (("o",), e.GraftReseated),
            (("1", "x", "1"), e.GraftsDiscarded),
        ):
            await seat.press(*keys)
            assert isinstance(seat.last(), kind)
            assert (seat.last().lane, seat.last().by) == ("d", "JK")
        await seat.press("g", "3", "enter")
        assert (seat.last().lane, seat.last().by) == ("g", "MN")
        await seat.press("2", "enter")
        assert seat.last().lane == "g"  # the lane last used


async def test_each_lane_keeps_its_zone_and_size(case: Path):
    open_lanes(case, 2)
    async with seated(case, "placing", "CD") as seat:
        await seat.press("d", "down", "right", "a", "down", "down", "d", "1", "enter")
        assert (seat.last().zone, seat.last().size, seat.last().lane) == ("FRONT", "2", "d")
        await seat.press("a", "1", "enter")
        assert (seat.last().zone, seat.last().lane) == ("MID", "a")
    async with seated(case, "placing", "CD") as seat:  # by the record, at a station that has just begun
        await seat.press("d", "1", "enter")
        assert (seat.last().zone, seat.last().size) == ("FRONT", "2")


async def test_a_lanes_line_is_what_is_in_the_hands_and_the_cursor_stays_where_it_was(case: Path):
    open_lanes(case, 2)
    with station(case, "placing", "EF") as desk:
        entered(desk, c.PlaceGrafts(zone="MID", size="2", count=1, lane="d"))
    async with seated(case, "placing", "CD") as seat:
        await seat.press("d")
        with station(case, "placing", "EF") as desk:
            entered(desk, c.IssueGrafts(size="3", count=2, lane="d"))
        await seat.until("2 threes")
        assert "mid-scalp" in seat.text
        assert "twos, lane d (JK) → mid-scalp" in seat.text


async def test_a_lane_handed_over_in_mid_batch_keeps_grafts_and_place(case: Path):
    open_lanes(case, 2)
    async with seated(case, "placing", "CD") as seat:
        await seat.press("d", "down", "right", "9", "i", "4", "enter")
        assert seat.last().by == "JK"
        await seat.press("w", "6", "d", "2")
        assert seat.last() == e.LaneHandedOver(lane="d", by="MN", left="JK")
        await seat.press("5", "enter")
        assert (seat.last().zone, seat.last().size, seat.last().by) == ("FRONT", "2", "MN")
        assert [part.place for part in seat.last().drawn] == ["bench"]


async def test_undo_takes_back_the_entry_of_the_lane_it_was_made_for(case: Path):
    open_lanes(case, 2)
    async with seated(case, "placing", "CD") as seat:
        await seat.press("right", "d", "9", "i", "a", "u")
        assert isinstance(seat.last(), e.EntryCorrected)
        assert seat.desk.state.tally.held("bench") == 0


async def test_a_number_typed_for_one_lane_is_never_entered_for_another(case: Path):
    open_lanes(case, 2)
    async with seated(case, "placing", "CD") as seat:
        before = seat.desk.state.seq
        await seat.press("a", "2", "d")
        assert "2 was typed for lane a" in seat.text
        await seat.press("enter")
        assert seat.desk.state.seq == before
        await seat.press("2")
        with station(case, "overview", "EF") as desk:
            entered(desk, c.CloseLane(lane="d"))
        await seat.until("2 was typed for lane d")
        await seat.press("enter")
        assert not any(isinstance(each.event, e.GraftsPlaced) for each in seat.desk.state.log)


async def test_a_lane_that_is_not_open_is_not_chosen(case: Path):
    open_lanes(case, 2)
    async with seated(case, "placing", "CD") as seat:
        await seat.press("q", "3", "enter")
        assert seat.last().lane == "a"


async def test_a_click_on_a_lane_chooses_it(case: Path):
    open_lanes(case, 3)
    async with seated(case, "placing", "CD") as seat:
        await seat.press("right")
        await seat.click(" g  MN")
        await seat.press("2", "enter")
        assert seat.last().lane == "g"


async def test_at_a_placers_own_station_entries_are_for_their_lane(case: Path):
    open_lanes(case, 1)
    async with seated(case, "placing", "JK") as seat:
        await seat.press("right", "1", "enter")
        assert seat.last().lane == "a"
        with station(case, "overview", "EF") as desk:
            entered(desk, c.OpenLane(lane="d", by="JK"))
        await seat.settle()
        await seat.press("1", "enter")
        assert (seat.last().lane, seat.last().by) == ("d", "JK")
    async with seated(case, "placing", "JK") as seat:
        await seat.press("1", "enter")
        assert seat.last().lane == "d"


async def test_grafts_handed_out_before_the_first_lane_can_be_placed_from_no_lane(case: Path):
    async with seated(case, "placing", "CD") as seat:
        await seat.press("right", "8", "i", "w", "5", "2")
        assert "no lane" in seat.text
        await seat.press("equals_sign", "8", "enter")
        assert seat.last().lane is None
        assert [part.place for part in seat.last().drawn] == ["bench"]
        await seat.press("3", "enter")
        assert seat.last().lane == "a"
        await seat.press("equals_sign")
        assert "no grafts are with placers outside a lane" in seat.text


TAPS = st.lists(
    st.one_of(
        st.sampled_from([("a",), ("d",), ("g",)]),
        st.tuples(st.sampled_from("123"), st.sampled_from(["i", "enter", "o"])),
    ),
    max_size=14,
)


@given(taps=TAPS)
@settings(max_examples=12, deadline=None)
async def test_the_record_is_for_the_lane_of_the_last_letter(
    tmp_path_factory: pytest.TempPathFactory, taps: list[tuple[str, ...]]
):
    path = new_case(tmp_path_factory.mktemp("lanes") / "case.orroom", small_plan(staff=STAFF))
    harvested(path)
    open_lanes(path, 3)
    chosen, model = "a", []
    whose = dict(zip(LANES, PLACERS, strict=True))
    async with seated(path, "placing", "CD") as seat:
        begun = seat.desk.state.seq
        await seat.press("right")
        for keys in taps:
            await seat.press(*keys)
            if len(keys) == 1:
                chosen = keys[0]
            else:
                model.append((chosen, whose[chosen], int(keys[0])))
        made = [
            (each.event.lane, each.event.by, each.event.count)
            for each in seat.desk.state.log[begun:]
            if isinstance(each.event, e.GraftsIssued | e.GraftsPlaced | e.GraftReseated)
        ]
    assert made == model


# Zones by their numbers.


async def test_a_zone_is_gone_to_by_its_number_and_what_is_typed_stays(case: Path):
    async with seated(case, "placing", "CD") as seat:
        assert "2 ○ frontal" in seat.text
        await seat.press("right", "5", "asterisk", "2", "enter")
        assert (seat.last().zone, seat.last().size, seat.last().count) == ("FRONT", "2", 5)
        await seat.click(" * ")
        assert "Go to which zone?" in seat.text
        await seat.press("3", "1", "enter")
        assert seat.last().zone == "MID"


# What is shown.


def test_three_lanes_at_80x24_leave_the_grid_whole():
    rows = screen(with_lanes(3), (80, 24), "d")
    assert sum(zone.label in row for row in rows for zone in small_plan().zones if "/" in row) >= 3
    (names,) = [row for row in rows if "[d] JK" in row]
    assert " a  GH ◕ 2 twos first " in names
    below = rows[rows.index(names) + 1]
    assert "  1 min · frontal " in f"{below[: names.index('[d]')]} "
    assert " g  MN empty" in names
    assert not any("hidden" in row for row in rows)


def test_six_lanes_at_120x40_have_a_line_each():
    rows = screen(with_lanes(6), (120, 40), "l")
    lanes = [row for row in rows if any(f" {who} " in row[:11] for who in PLACERS)]
    assert [row[:10].split()[:-1] for row in lanes] == [["a"], ["d"], ["g"], ["[L]"], ["q"], ["F5", "y"]]
    assert len({row.index(who) for row, who in zip(lanes, PLACERS, strict=True)}) == 1
    assert ["first" in row for row in lanes] == [True, *[False] * 5]
    assert re.search(r"GH ! 2 twos, wet first, 3 min \d\d s since wet +frontal ", lanes[0])
    assert re.search(r"JK . 2 twos, 2 min \d\d s since wet +mid-scalp ", lanes[1])
    assert "empty" in lanes[5]
    assert lanes[5].rstrip().endswith("mid-scalp, twos")
    assert len({row.index(zone) for row, zone in zip(lanes, ("frontal", "mid-scalp") * 3, strict=True)}) == 1


def test_a_small_screen_has_the_chosen_and_the_most_pressing_lane_and_names_the_others():
    rows = screen(with_lanes(4), (40, 12), "g")
    assert rows[1].startswith(" [g] MN ◕ 2 twos, 1 min since wet")
    assert rows[2].startswith("  a  GH ◉ 2 twos first, 2 min since wet")
    assert any("hidden: lanes d L" in row for row in rows)


@pytest.mark.parametrize("lanes", [0, 1])
@pytest.mark.parametrize("size", [(80, 24), (120, 40), (40, 12)])
def test_one_lane_or_none_takes_no_room(lanes: int, size: tuple[int, int]):
    record = with_lanes(lanes)
    glance = Glance(role="placing", who="CD", width=size[0], height=size[1], lane="a" * lanes)
    assert lane_lines(record.state, record.now_ms, glance) == []


@pytest.mark.parametrize("count", range(2, 7))
@pytest.mark.parametrize("size", [(80, 24), (120, 40), (200, 60), (40, 12), (30, 10), (60, 20)])
def test_every_lane_is_shown_or_named_as_hidden(count: int, size: tuple[int, int]):
    rows = screen(with_lanes(count), size, "d")
    for letter, who in list(zip((*"adgLqy",), PLACERS, strict=True))[:count]:
        hidden = any("hidden" in row and f" {letter}" in row for row in rows)
        shown = any(f"{letter}{end} {who}" in row for row in rows for end in " ]")
        assert hidden or shown or size == (30, 10)


def test_the_overview_names_each_lane_and_status_has_a_line_for_each():
    record = with_lanes(3)
    glance = Glance(role="overview", who="EF", width=120, height=40)
    rows = "\n".join(text_of(each) for each in overview_lines(record.state, record.now_ms, glance))
    for letter, who, holds in (("a", "GH", "◕ 2 twos"), ("d", "JK", "◕ 2 twos"), ("g", "MN", "empty")):
        assert f" {letter}  {who} {holds}" in rows
    words = [each.words for each in present(status_at(record.state, record.now_ms))]
    assert [each.split(" since ")[0] for each in words if each.startswith("lane")] == [
        "lane a, GH: 2 twos",
        "lane d, JK: 2 twos",
        "lane g, MN: empty, frontal, twos",
    ]


def test_six_lanes_at_80x24_say_in_full_which_is_first():
    record = with_lanes(6)
    assert any(re.search(r" a  GH ! 2 twos first ", row) for row in screen(record, (80, 24), "d"))


def test_the_overview_has_letters_and_no_keys():
    record = with_lanes(6)
    rows = [
        text_of(each)
        for page in (0, 1)
        for each in overview_lines(
            record.state,
            record.now_ms,
            Glance(role="overview", who="EF", width=200, height=60, page=page),
        )
    ]
    assert any(re.search(r" lane y +TU empty +mid-scalp, twos", row) for row in rows)
    assert not any("F5" in row for row in rows)


async def test_a_size_that_was_handed_out_after_another_is_not_said_to_be_in_the_zone_before(case: Path):
    """GH placed twos in the front, where no ones are planned, and has ones now."""
    with station(case, "placing", "EF") as desk:
        for letter, who in (("a", "GH"), ("d", "JK")):
            entered(desk, c.OpenLane(lane=letter, by=who))
        entered(desk, c.PlaceGrafts(zone="MID", size="2", count=2, lane="a"))
        entered(desk, c.IssueGrafts(size="1", count=3, lane="a"))
        [lane, _] = lanes_now(desk.state)
        assert (lane.zone, lane.size) == (None, "1")
        glance = Glance(role="overview", who="EF", width=120, height=40)
        [first, _] = lane_lines(desk.state, desk.state.log[-1].stamp.at_ms, glance)
        assert text_of(first).startswith("  lane a  GH ◕ 3 ones, ")
        assert not re.search("mid-scalp|frontal", text_of(first))
    async with seated(case, "placing", "CD") as seat:
        await seat.press("a", "3", "enter")
        assert (seat.last().zone, seat.last().size) == ("LINE", "1")  # the first zone that is owed ones


def test_what_is_in_no_lane_has_a_line_while_lanes_are_open():
    record = case_under_way()
    record.enter(c.IssueGrafts(size="2", count=7))
    record.enter(c.OpenLane(lane="a", by="GH"))
    glance = Glance(role="placing", who="CD", width=80, height=24, lane=NO_LANE)
    words = [text_of(each) for each in lane_lines(record.state, record.now_ms, glance)]
    assert "[=] no lane ◕ 7 twos, " in words[0]


# What is in the hands, and whether it is needed there.


def not_needed() -> Record:
    """GH has 5 twos for the front, which has all of its twos; JK has threes, which no zone is owed."""
    record = case_under_way()
    for letter, who in (("a", "GH"), ("d", "JK"), ("g", "MN")):
        record.enter(c.OpenLane(lane=letter, by=who))
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=50, lane="a"))
    record.enter(c.IssueGrafts(size="2", count=5, lane="a"))
    record.enter(c.PlaceGrafts(zone="MID", size="3", count=20, lane="g"))
    record.enter(c.PlaceGrafts(zone="FRONT", size="3", count=20, lane="g"))
    record.enter(c.IssueGrafts(size="3", count=4, lane="d"))
    record.enter(c.IssueGrafts(size="1", count=3, lane="g"))
    return record


def test_a_lane_whose_grafts_are_not_needed_in_its_zone_is_known():
    state = not_needed().state
    first, second, third = lanes_now(state)
    assert not_needed_in(state, first) == ("2",)
    assert not_needed_in(state, second) == ("3",)
    assert not_needed_in(state, third) == ()  # the front is owed ones


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (200, 60), (60, 20), (40, 12)])
@pytest.mark.parametrize("role", ["placing", "overview"])
def test_a_lane_says_that_its_grafts_are_not_needed_there(role: str, size: tuple[int, int]):
    record = not_needed()
    glance = Glance(role=role, who="EF", width=size[0], height=size[1], lane="a")  # type: ignore[arg-type]
    rows = [text_of(each) for each in lane_rows(record.state, record.now_ms, glance, min(size[0], 60))]
    if role == "placing":
        rows = [text_of(each) for each in lane_lines(record.state, record.now_ms, glance)]
    text = "\n".join(rows)
    assert "5 twos" in text
    assert re.search("frontal needs no twos|not for frontal|wrong zone", text)
    if size[0] > 40 or role == "overview":
        assert (
            len(re.findall("needs no twos|no zone needs threes|not for frontal|wrong zone|none owed", text))
            == 2
        )


def test_status_and_hand_over_say_it_too():
    record = not_needed()
    words = [each.words for each in present(status_at(record.state, record.now_ms))]
    (lane,) = [each for each in words if each.startswith("lane a")]
    assert re.match(r"lane a, GH: 5 twos since \S+, frontal needs no twos$", lane)
    assert any(each.endswith("no zone needs threes") for each in words)
    (part,) = [
        each for each in handover(record.state, record.now_ms, None, brief=True) if each.name == "lanes"
    ]
    assert "a, GH: 5 twos, frontal needs no twos" in part.items


# The zone that is suggested.


def test_two_lanes_are_not_sent_into_one_zone():
    record = with_lanes(2)
    glance = Glance(role="placing", who="CD", lane="a")
    alone = next_zone(record.state)
    assert alone is not None
    glance.spots = {"d": (alone.zone, alone.size)}
    found = suggested(record.state, glance)
    assert found is not None
    assert found.zone != alone.zone


def test_what_another_lane_has_in_hand_is_not_suggested():
    record = case_under_way()
    for letter, who in (("a", "GH"), ("d", "JK")):
        record.enter(c.OpenLane(lane=letter, by=who))
    for size in ("1", "2", "3", "M"):
        record.enter(c.IssueGrafts(size=size, count=record.held("dish", size), lane="d"))
    assert suggested(record.state, Glance(role="placing", who="CD", lane="a")) is None
    assert suggested(record.state, Glance(role="placing", who="CD", lane="d")) is not None


# The work of the keyboard.

TESTS = Path(__file__).parents[1]
WITH_LANES = TESTS.parent / "sample_cases" / "frontal-midscalp" / "events.jsonl"
#: The same plan's day as it was recorded before there were lanes: one lead enters for all.
WITHOUT_LANES = TESTS / "recorded" / "day-without-lanes.jsonl"
#: What a lead enters with a number at placing.
NUMBERED = {"grafts_issued", "grafts_placed", "grafts_returned", "sites_made", "graft_reseated"}
#: ``w``, the number of the question, the placer's number or the lane's letter; then ``0``, two letters and
#: Enter for somebody who is not among the placers.
TEAM_KEYS = {"lane_opened": 3, "lane_closed": 3, "lane_handed_over": 7}


def keys_of_the_lead(events: Path) -> int:
    """Keys that a day's numbers, wettings of grafts with placers and lanes take.

    A number: the lane's letter where it is another lane, moves of the cursor in that lane, its digits, the
    key of what became of them. A zone is two keys away at most (``*`` and its number), a size as many as
    there are columns between. A wetting is one key.
    """
    rows = [json.loads(row) for row in events.read_text("utf-8").splitlines()]
    plan = next(row["event"]["plan"] for row in rows if row["kind"] == "case_opened")
    zones = [zone["key"] for zone in plan["zones"]]
    sizes = [size["key"] for size in plan["sizes"]]
    spots: dict[str | None, tuple[int, int]] = {}
    chosen: str | None = None
    keys = 0
    for row in rows:
        kind, event = row["kind"], row["event"]
        keys += TEAM_KEYS.get(kind, 0) + (kind == "care_given" and event["care"] == PLACERS_CARE)
        if kind not in NUMBERED:
            continue
        lane = chosen if kind == "sites_made" else event.get("lane")  # sites are of no lane: no letter
        keys += lane != chosen
        chosen = lane
        zone, size = spots.get(lane, (0, 0))
        to_zone = zones.index(event["zone"]) if "zone" in event else zone
        to_size = sizes.index(event["size"]) if "size" in event else size
        spots[lane] = to_zone, to_size
        keys += min(2, abs(to_zone - zone)) + abs(to_size - size) + len(str(event["count"])) + 1
    return keys


def test_a_day_of_three_lanes_takes_at_most_15_percent_more_keys():
    before, now = keys_of_the_lead(WITHOUT_LANES), keys_of_the_lead(WITH_LANES)
    assert before > 1500
    assert before < now <= 1.15 * before


async def test_a_key_makes_a_zone_stick_and_place_and_u_takes_it_back(tmp_path: Path):
    case = new_case(tmp_path / "case.orroom")
    async with seated(case, "placing") as seat:
        await seat.press("9", "t", "semicolon")
        assert "hairline: Stick and place from now on?" in seat.text
        await seat.press("n")
        assert isinstance(seat.last(), e.SitesMade)
        await seat.press("semicolon", "y")
        assert seat.last() == e.StickAndPlaceSet(zone="LINE", on=True)
        assert "stick and place, 9 sites made ahead free" in " ".join(seat.text.split())
        await seat.press("5", "t")
        assert isinstance(seat.last(), e.StickAndPlaceSet)  # sites are not entered there
        await seat.press("u")
        assert "sites 9 made, 9 free" in " ".join(seat.text.split())
