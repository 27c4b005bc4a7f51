"""While a final count is made no screen shows what there is: from its beginning to the second whole count."""

from __future__ import annotations

from pathlib import Path

import pytest
from cases import MINUTE_MS, Record, case_under_way, opened_case, small_plan
from painted import PAINTERS
from seats import both_count, by, count, harvested, seated
from stations import entered, new_case, read_case, station

from orroom.case import commands as c
from orroom.case.events import CountedGroup, FinalCountBegun, FinalCounted, FinalCountGivenUp
from orroom.case.evolve import fold
from orroom.case.final_count import Group, count_running, filled_once, groups_to_count, person_counts
from orroom.case.plan import Limits
from orroom.case.terms import Role
from orroom.screens.stations.views.frame import Glance
from orroom.screens.terminal.painting import text_of, width_of
from orroom.words.final_count import LONG_MS


@pytest.fixture
def case(tmp_path: Path) -> Path:
    case = new_case(tmp_path / "case.orroom")
    harvested(case)  # 60 twos and 40 ones of harvest A wait in dishes
    return case


def counted(record: Record, who: str, **asked: str) -> None:
    """A person's whole count, of nothing anywhere."""
    groups = tuple(
        CountedGroup(size=each.size, harvest=each.harvest, place=each.place, found=0)
        for each in groups_to_count(record.state)
    )
    record.enter(c.CountAll(groups=groups, since=record.state.seq), who, **asked)


def two_days() -> tuple[Record, Record]:
    """Two cases that differ in what was cut, placed, spoilt and handed out, in numbers alone."""
    days = []
    for more in (0, 3):
        record = case_under_way()
        record.enter(c.CutGrafts(harvest="A", size="2", count=5 + more))
        record.enter(c.DiscardGrafts(size="1", reason="dried", count=1 + more))
        record.enter(c.IssueGrafts(size="2", count=6 + more))
        record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=4 + more))
        record.enter(c.PlaceGrafts(zone="MID", size="M", count=6 + more))  # more than there are
        days.append(record)
    return days[0], days[1]


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (40, 12), (30, 10), (200, 60)])
@pytest.mark.parametrize("role", PAINTERS)
def test_no_screen_depends_on_what_there_is_until_both_counts_are_in(role: Role, size: tuple[int, int]):
    few, more = two_days()

    def screens() -> list[str]:
        found = []
        for record in (few, more):
            glance = Glance(role=role, who="AB", width=size[0], height=size[1])
            lines = PAINTERS[role](record.state, record.now_ms, glance)
            assert len(lines) == size[1]
            assert all(width_of(each) <= size[0] for each in lines)
            found.append("\n".join(text_of(each) for each in lines))
        return found

    assert screens()[0] != screens()[1]
    for record in (few, more):
        record.enter(c.BeginCount(), "AB", station="overview-1")
    one, other = screens()
    assert one == other
    assert "COUNT" in one
    for record in (few, more):
        counted(record, "AB", station="overview-1")
    one, other = screens()
    assert one == other
    assert size[0] < 80 or "First count by AB done: second person, please: k" in " ".join(one.split())
    for record in (few, more):
        record.enter(c.BeginCount(), "CD", station="overview-1")
    assert screens()[0] == screens()[1]
    for record in (few, more):
        counted(record, "CD", station="overview-1")
    assert screens()[0] != screens()[1]


@pytest.mark.parametrize("role", PAINTERS)
def test_no_screen_says_whether_anything_is_left_at_all(role: Role):
    """Also not by a limit: what is left is out of the body for too long, what was placed is not."""
    found = []
    for placed in (30, 29):
        record = opened_case(small_plan(limits=Limits(out_of_body_hours=2)))
        record.enter(c.StartHarvest(harvest="A", minutes_ago=60))
        record.enter(c.CutGrafts(harvest="A", size="1", count=30))
        for _ in range(4):  # else its tissue is out of the body too
            record.enter(c.FinishSegment(harvest="A"))
        record.enter(c.PlaceGrafts(zone="LINE", size="1", count=placed))
        record.wait(90)
        record.enter(c.BeginCount(), "AB", station="overview-1")
        lines = PAINTERS[role](record.state, record.now_ms, Glance(role=role, who="AB"))
        found.append([text_of(each) for each in lines])
    assert found[0] == found[1]


def test_a_count_ends_with_its_station_its_result_or_when_it_is_given_up():
    record = case_under_way()
    record.enter(c.JoinStation(role="overview"), "OR", station="overview-1")
    begun = record.enter(c.BeginCount(), "AB", station="overview-1")
    running = count_running(record.state)
    assert running is not None
    assert [each.who for each in running.under_way] == ["AB"]
    record.enter(
        c.CutGrafts(harvest="A", size="2")
    )  # a graft that moves makes it worthless, but shows nothing
    assert count_running(record.state) is not None
    record.enter(c.LeaveStation(), "OR", station="overview-1")
    assert count_running(record.state) is None
    for end in (c.GiveUpCount(begun=begun.seq + 3), c.JoinStation(role="overview")):
        record.enter(c.BeginCount(), "AB", station="overview-1")
        assert count_running(record.state) is not None
        record.enter(end, "OR", station="overview-1")
        assert count_running(record.state) is None
    counted(record, "AB")
    assert count_running(record.state) is not None  # a second person is awaited
    record.enter(c.CutGrafts(harvest="A", size="2"))
    assert count_running(record.state) is None  # it holds no more
    counted(record, "AB")
    record.enter(c.SignOff(second="CD", open_because="late", informed="RS"), "AB")
    assert count_running(record.state) is None
    record.enter(c.ReopenCase(reason="one more"), "AB")
    assert count_running(record.state) is None
    assert fold(record.state.log).tally == record.tally


def test_after_a_long_time_it_is_said_how_to_end_a_count_that_was_left():
    record = case_under_way()
    record.enter(c.BeginCount(), "AB", station="overview-1")
    for role, where in (("overview", "stop it: k"), ("cutting", "stop it: k at the overview (F4)")):
        glance = Glance(role=role, who="AB", width=100, height=30)

        def told(later_ms: int, glance: Glance = glance, role: str = role) -> str:
            lines = PAINTERS[role](record.state, record.now_ms + later_ms, glance)
            return " ".join(" ".join(text_of(each) for each in lines).split())

        assert "AB counts since 07:30" in told(0)
        assert "stop it" not in told(LONG_MS - MINUTE_MS)
        assert where in told(LONG_MS)
        assert "No count has come for 25 minutes" in told(25 * MINUTE_MS)
        assert "No count has come for 20 h 10" in told((20 * 60 + 10) * MINUTE_MS)  # left over the night


async def test_another_station_knows_and_calls_for_the_second_person(case: Path):
    async with seated(case, "placing", "CD") as seat:
        assert "all 100" in seat.text
        with station(case, "overview", who="OR") as desk:
            desk.ask(c.BeginCount(), "AB").result(10)
            await seat.until("A COUNT IS BEING MADE")
            assert "100" not in seat.text
            assert "AB counts since" in seat.text
            await seat.press("1", "2")
            assert " 12▌" in seat.text  # what is typed stays in view
            await seat.press("f")
            assert "a count is being made: this is shown again after it" in seat.text
            groups = tuple(
                CountedGroup(size=each.size, harvest=each.harvest, place=each.place, found=0)
                for each in groups_to_count(desk.state)
            )
            desk.ask(c.CountAll(groups=groups, since=desk.state.seq), "AB").result(10)
            await seat.until("First count by AB done: second person, please: k at the overview (F4)")


@pytest.mark.parametrize(
    ("role", "key"),
    [("overview", "f"), ("overview", "y"), ("overview", "e"), ("placing", "j"), ("placing", "z")],
)
async def test_what_would_show_counts_waits_for_the_end_of_the_count(case: Path, role: Role, key: str):
    with station(case, "placing", "CD") as desk:
        entered(desk, c.PlaceGrafts(zone="FRONT", size="3", count=2))
    async with seated(case, role, "CD") as seat:
        with station(case, "overview", who="OR") as desk:
            desk.ask(c.BeginCount(), "AB").result(10)
            await seat.until("A COUNT IS BEING MADE")
            before = seat.desk.state.seq
            await seat.press(key)
            assert "this is shown again after it" in seat.text
            assert seat.screen.glance.question is None
            assert seat.desk.state.seq == before


async def test_this_keyboard_shows_nothing_either_while_it_asks_who_counts(case: Path):
    async with seated(case, "overview", "OR") as seat:
        assert "100" in seat.text
        await seat.press("k")
        assert "Who counts?" in seat.text
        assert "100" not in seat.text
        assert "Somebody is about to count" in seat.text
        await seat.press("escape")
        assert "100" in seat.text


async def test_a_count_is_in_the_record_from_its_beginning_to_its_end(case: Path):
    async with seated(case, "overview", "OR") as seat:
        await seat.press("k", "1", "4", "enter")
        assert isinstance(seat.last(), FinalCountBegun)
        assert seat.desk.state.log[-1].stamp.who == "AB"
        await seat.press("escape")
        await seat.rest()
        await seat.press("y")
        assert isinstance(seat.last(), FinalCountGivenUp)
        assert count_running(read_case(case)) is None
        await seat.rest()
        await seat.press("k")
        await count(seat, "AB", 40, 60, 0, 0)
        assert "First count by AB done: second person, please: k" in seat.text
        await seat.rest()
        await seat.press("k", "e")
        assert count_running(read_case(case)) is None
        assert person_counts(read_case(case)) == ()
        assert "100" in seat.text


async def test_a_count_that_somebody_left_is_ended_or_another_person_counts_too(case: Path):
    async with seated(case, "overview", "OR") as seat:
        with station(case, "overview", who="OR") as lost:
            lost.ask(c.BeginCount(), "AB").result(10)
            await seat.until("AB counts since")
            await seat.press("k")
            assert "AB counts since" in seat.text
            await seat.press("c")
            assert "1: CD" in seat.text
            await seat.press("1")
            assert "FINAL COUNT by CD" in seat.text
            await seat.press("escape")
            await seat.rest()
            await seat.press("k", "e")
            assert "What AB counted so far is lost. Stop it?" in " ".join(seat.text.split())
            await seat.rest()
            await seat.press("y")
            assert count_running(seat.desk.state) is None


async def test_a_count_that_is_ended_elsewhere_ends_here_too(case: Path):
    async with seated(case, "overview", "OR") as seat:
        await seat.press("k", "1", "4", "enter")
        begun = seat.desk.state.seq  # before the other station is heard to join
        with station(case, "overview", who="OR") as other:
            entered(other, c.GiveUpCount(begun=begun))
        await seat.until("this count was stopped at another station")
        assert seat.count is None
        assert "100" in seat.text


async def test_groups_that_never_held_a_graft_are_counted_as_none_by_one_key(case: Path):
    async with seated(case, "overview", "OR") as seat:
        await seat.press("k", "1")
        assert "z 0 where no graft ever was" in seat.text
        assert "6" not in seat.text.split("\n")[-1]  # how many that are is not said to who counts blind
        await seat.press(*"40", "enter", *"60", "enter", "2", "enter")  # two threes lie there all the same
        await seat.rest()
        await seat.press("z")
        assert "Enter 0 in 5 groups that never had a graft by the record?" in " ".join(seat.text.split())
        await seat.rest()
        await seat.press("n")
        assert len(seat.count.rest) == 5
        await seat.rest()
        await seat.press("z")
        await seat.rest()
        await seat.press("y")
        assert seat.count.complete
        await seat.press("z")
        assert "z is for groups that never had a graft: none is left" in seat.text
        await seat.press("enter")
        await seat.rest()
        await seat.press("y")
        event = seat.last()
        assert isinstance(event, FinalCounted)
        found = {(each.size, each.place): each.found for each in event.groups}
        assert len(found) == 8
        assert {group: each for group, each in found.items() if each} == {
            ("1", "dish"): 40,
            ("2", "dish"): 60,
            ("3", "dish"): 2,
        }


def test_a_group_that_is_empty_by_now_is_counted_like_any_other():
    record = case_under_way()
    record.enter(c.IssueGrafts(size="M", count=5))
    record.enter(c.PlaceGrafts(zone="MID", size="M", count=5))
    filled = {(each.size, each.place) for each in filled_once(record.state)}
    assert filled == {("1", "dish"), ("2", "dish"), ("3", "dish"), ("M", "dish"), ("M", "bench")}
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=41))  # more than there were
    assert Group("2", "A", "bench") not in filled_once(record.state)


async def test_a_recount_asks_only_what_differs_and_begins_with_the_chosen_group(case: Path):
    async with seated(case, "overview", "OR") as seat:
        await both_count(seat, 58, 57)
        assert "FINAL COUNT: 1 group differs" in seat.text
        second = person_counts(seat.desk.state)[1]
        await seat.rest()
        await seat.press("r")
        await by(seat, "CD")
        assert "FINAL COUNT by CD (a recount, not blind): 0 of 1 group" in seat.text
        assert "dish: twos" in seat.text
        await seat.press(*"58", "enter")
        await seat.rest()
        await seat.press("enter")
        await seat.rest()
        await seat.press("y")
        event = seat.last()
        assert isinstance(event, FinalCounted)
        assert (event.recount_of, len(event.groups)) == (second.seq, 1)
        counts = person_counts(seat.desk.state)
        assert [each.found[Group("1", "A", "dish")] for each in counts] == [40, 40]
        assert [each.found[Group("2", "A", "dish")] for each in counts] == [58, 58]
        assert "RECOUNT" not in seat.text
        assert "60" in seat.text  # compared again, beside the tally


async def test_a_recount_begins_with_the_group_that_was_chosen(case: Path):
    async with seated(case, "overview", "OR") as seat:
        for who, ones in (("AB", 39), ("CD", 38)):
            await seat.rest()
            await seat.press("k")
            await count(seat, who, ones, 58, 0, 0)
        await seat.rest()
        await seat.press("down", "r", "1")
        assert seat.count.groups == (Group("1", "A", "dish"), Group("2", "A", "dish"))
        assert seat.count.at == 1
