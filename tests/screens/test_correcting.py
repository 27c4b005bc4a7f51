"""What was entered wrong: shown in words before it is cancelled, moved in one act, explained by one key."""

from __future__ import annotations

from pathlib import Path

import pytest
from cases import Record, case_under_way, small_plan
from seats import Seat, harvested, seated
from stations import entered, new_case, station

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.terms import ROLES, Role
from orroom.screens.stations import correcting
from orroom.screens.stations.correcting import REASONS
from orroom.screens.stations.questions import MOST_AT_ONCE
from orroom.screens.terminal import asking


@pytest.fixture
def case(tmp_path: Path) -> Path:
    path = new_case(tmp_path / "case.orroom")
    harvested(path)
    return path


def words(seat: Seat) -> str:
    return " ".join(seat.text.split())


async def placed(seat: Seat) -> int:
    """The number of the entry that put 12 ones into the hairline."""
    await seat.press("1", "2", "full_stop", "1")
    return seat.desk.state.seq


# Cancelling.


@pytest.mark.parametrize("role", ROLES)
async def test_an_entry_is_shown_in_words_before_anything_else_is_asked(case: Path, role: Role):
    with station(case, who="AB") as other:
        number = entered(other, c.CutGrafts(harvest="A", size="3", count=7)).seq
    async with seated(case, role, "EF") as seat:
        await seat.press("c", *str(number), "enter")
        assert f"Cancel entry {number}: +7 threes, strip (AB 07:30)? Because: 1: wrong zone" in words(seat)
        assert seat.desk.state.tally.held("cut", "3") == 7


@pytest.mark.parametrize("key", range(1, len(REASONS) + 1))
async def test_a_ready_reason_is_one_key(case: Path, key: int):
    async with seated(case, "cutting") as seat:
        await seat.press("2")
        number = seat.desk.state.seq
        await seat.press("c", *str(number), "enter", str(key))
        assert seat.last() == e.EntryCorrected(entry=number, reason=REASONS[key - 1])


async def test_a_reason_may_be_written_in_other_words(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("2")
        number = seat.desk.state.seq
        await seat.press("c", *str(number), "enter", "6")
        await seat.type("another")
        await seat.press("enter")
        assert seat.last() == e.EntryCorrected(entry=number, reason="another")


async def test_a_wrong_number_is_put_right_before_anything_is_cancelled(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("2", "3")
        right = seat.desk.state.seq
        await seat.press("c", *str(right - 1), "enter", "0")
        assert "Cancel which entry?" in seat.text
        await seat.press(*str(right), "enter", "3")
        assert seat.last() == e.EntryCorrected(entry=right, reason="wrong size")
        assert (seat.desk.state.tally.held("cut", "2"), seat.desk.state.tally.held("cut", "3")) == (61, 0)


@pytest.mark.parametrize(
    ("number", "why"),
    [("99", "There is no such entry to cancel. Enter a number from 1 to"), ("1", "Entry 1 opened the case")],
)
async def test_what_cannot_be_cancelled_is_said_at_once_and_another_number_asked(
    case: Path, number: str, why: str
):
    async with seated(case, "cutting") as seat:
        await seat.press("c", *number, "enter")
        assert why in words(seat)
        assert "Cancel which entry?" in words(seat)
        await seat.press("escape")
        assert not seat.desk.state.corrected_by


async def test_what_another_station_entered_since_the_question_opened_can_be_named(case: Path):
    async with seated(case, "placing", "GH") as seat:
        await seat.press("c")
        with station(case, who="AB") as other:
            number = entered(other, c.CutGrafts(harvest="A", size="3", count=7)).seq
        await seat.until(str(number))
        await seat.press(*str(number), "enter")
        assert f"Cancel entry {number}: +7 threes" in words(seat)


# Moving a placing.


async def test_the_newest_placing_of_ones_own_is_moved_by_three_keys(case: Path):
    async with seated(case, "placing", "GH") as seat:
        number = await placed(seat)
        await seat.press("m")
        assert f"1: 12 ones → hairline (entry {number})" in words(seat)
        await seat.press("1")
        assert f"hairline (entry {number}); they are in 1: hairline (now) 2: frontal" in words(seat)
        await seat.press("2")
        assert seat.last() == e.PlacingMoved(entry=number, from_zone="LINE", zone="FRONT", size="1", count=12)
        assert seat.desk.state.tally.placed == {("FRONT", "1"): 12}
        assert f"entry {number} moved to frontal: 12 ones" in seat.text
        assert f"↺ 12 ones → hairline — moved by no. {number + 1}" in seat.text
        await seat.press("u")
        assert "— moved by" not in seat.text


async def test_one_key_takes_a_move_back_and_the_next_the_placing(case: Path):
    async with seated(case, "placing", "GH") as seat:
        await placed(seat)
        await seat.press("m", "1", "2", "u")
        assert seat.desk.state.tally.placed == {("LINE", "1"): 12}
        await seat.press("u")
        await seat.rest()
        assert seat.desk.state.tally.placed == {}


async def test_a_placing_of_somebody_else_is_moved_by_its_number(case: Path):
    with station(case, role="placing", who="CD") as other:
        number = entered(other, c.PlaceGrafts(zone="LINE", size="1", count=9)).seq
    async with seated(case, "placing", "GH") as seat:
        await seat.press("m", "2", "enter")
        assert "Entry 2 is not a placing" in words(seat)
        await seat.press(*str(number), "enter")
        assert f"9 ones → hairline (entry {number}); they are in" in words(seat)
        await seat.press("3")
        assert seat.desk.state.tally.placed == {("MID", "1"): 9}


@pytest.mark.parametrize("role", ROLES)
async def test_whoever_cancels_a_placing_for_its_zone_may_say_where_it_went(case: Path, role: Role):
    with station(case, role="placing", who="CD") as other:
        number = entered(other, c.PlaceGrafts(zone="LINE", size="1", count=9)).seq
    async with seated(case, role, "EF") as seat:
        await seat.press("c", *str(number), "enter", "1", "2")
        assert seat.desk.state.tally.placed == {("FRONT", "1"): 9}
        await seat.press("c", *str(seat.desk.state.seq), "enter", "5")
        assert seat.desk.state.tally.placed == {("LINE", "1"): 9}
        await seat.press("c", *str(number), "enter", "1", "n")
        assert seat.last() == e.EntryCorrected(entry=number, reason="wrong zone")


async def test_where_there_is_no_other_zone_nothing_is_asked(tmp_path: Path):
    plan = small_plan(zones=small_plan().zones[:1])
    async with seated(new_case(tmp_path / "one.orroom", plan), "placing") as seat:
        await seat.press("m")
        assert "the plan has no other zone" in seat.text
        assert seat.screen.glance.question is None


def test_a_placing_that_was_moved_is_offered_from_where_it_is_now():
    record = case_under_way()
    number = record.enter(c.PlaceGrafts(zone="LINE", size="1", count=12), station="placing-1").seq
    record.enter(c.MovePlacing(entry=number, zone="MID"), station="placing-1")
    question = asking.Question(correcting.move(lambda: record.state, "AB"))
    question.press("1", "1")
    assert isinstance(question.step, asking.Choice)
    assert [each.label for each in question.step.options] == ["hairline", "frontal", "mid-scalp (now)"]


def test_every_zone_of_a_large_plan_can_be_chosen():
    zones = tuple(
        small_plan().zones[0].__class__(key=f"Z{n}", label=f"zone {n}", area_cm2=4, targets={"1": 9})
        for n in range(1, 24)
    )
    record = Record()
    record.enter(c.OpenCase(plan=small_plan(zones=zones)), "EF", station="overview-1")
    number = record.enter(c.PlaceGrafts(zone="Z1", size="1", count=2), station="placing-1").seq
    question = asking.Question(correcting.move(lambda: record.state, "AB"))
    for key in ("1", "0", "0", "5"):
        question.press(key, key)
    assert question.command == c.MovePlacing(entry=number, zone="Z23")


# Explaining.


def test_a_mismatch_is_explained_by_one_key():
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="LINE", size="2", count=41))
    question = asking.Question(correcting.explain(record.state))
    assert question.step is not None
    assert "An explanation changes no count" in question.step.means
    for key in ("1", "4"):
        question.press(key, key)
    assert isinstance(question.command, c.ExplainMismatch)
    assert question.command.text == "tap missed"
    record.enter(question.command)
    assert list(record.open_mismatches()) == ["short:dish:2:A"]


# Catching up.


async def test_several_of_one_size_are_one_entry_shown_and_taken_back_as_one(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("plus", "1", "2", "enter", "2")
        assert seat.last() == e.GraftsCut(harvest="A", size="2", count=12)
        assert "+12 twos" in words(seat)
        await seat.press("u")
        assert seat.desk.state.tally.held("cut", "2") == 60


async def test_several_are_of_the_harvest_on_the_board(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("l", "add", "3", "enter")
        assert "3 of size" in seat.text
        await seat.press("5")
        assert seat.last() == e.GraftsCut(harvest="B", size="M", count=3)


@pytest.mark.parametrize("number", ["0", str(MOST_AT_ONCE + 1)])
async def test_more_in_one_go_than_anybody_has_cut_is_not_taken(case: Path, number: str):
    async with seated(case, "cutting") as seat:
        await seat.press("plus", *number, "enter")
        assert "enter 1 to 200 in one go" in seat.text
        assert seat.screen.glance.question is not None
        await seat.press("escape")
        assert seat.desk.state.tally.held("cut") == 100
