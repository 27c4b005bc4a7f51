"""Each station's keys and clicks, on the real application over a real case file."""

from __future__ import annotations

import asyncio
import sqlite3
from pathlib import Path

import pytest
from cases import MINUTE_MS, MORNING_MS, SetClock, small_plan
from msgspec.structs import replace
from seats import aside, harvested, held, revised_unseen, seated
from stations import entered, new_case, read_case, station
from textual import events

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.care import due_at_ms
from orroom.case.mismatches import open_mismatches
from orroom.case.plan import Harvest, Person, Zone
from orroom.case.settings import Checks, Settings
from orroom.case.state import CaseState
from orroom.case.terms import Role
from orroom.desk import Desk
from orroom.record.case_file import CaseFile
from orroom.record.rescue import read_rescue
from orroom.record.turns import TurnLock
from orroom.recording import record_once, record_rescued
from orroom.screens.settings.clinic import Clinic
from orroom.screens.stations.app import OrroomApp
from orroom.screens.stations.station import StationScreen
from orroom.screens.terminal.hands import MOST_KEPT, RELEASE, Press


@pytest.fixture
def case(tmp_path: Path) -> Path:
    return new_case(tmp_path / "case.orroom")


async def test_cutting_one_key_a_size(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("1", "2", "2", "3", "5", "m")
        tally = seat.desk.state.tally
        assert {size: tally.held("dish", size) for size in "123M"} == {"1": 1, "2": 2, "3": 1, "M": 2}
        assert "+1" in seat.text
        assert read_case(case) == seat.desk.state


async def test_the_mark_of_a_tap_is_not_taken_by_the_one_before(case: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("orroom.screens.stations.outcomes.FLASH_SECONDS", 600.0)
    async with seated(case, "cutting") as seat:
        await seat.press("1")
        first = seat.screen.outcomes._flash
        await seat.press("2")
        assert first is not None
        assert first.cancelled()
        assert seat.screen.glance.flashed == "2"
        seat.screen.outcomes._unflash()
        assert seat.screen.glance.flashed == ""


async def test_a_tap_is_painted_once_and_only_when_it_is_on_the_disk(
    case: Path, monkeypatch: pytest.MonkeyPatch
):
    async with seated(case, "cutting") as seat:
        await seat.press("1")
        painted: list[int] = []
        monkeypatch.setattr(seat.app, "repaint", lambda: None)  # neither the clock's tick nor the desk's
        paint = seat.screen.paint
        monkeypatch.setattr(
            seat.screen, "paint", lambda state, at: painted.append(state.seq) or paint(state, at)
        )
        before = seat.desk.state.seq
        await seat.press("2")
        assert painted == [before + 1]


async def test_what_is_typed_while_a_tap_waits_for_the_disk_is_painted(
    case: Path, monkeypatch: pytest.MonkeyPatch
):
    async with seated(case, "placing", "CD") as seat:
        monkeypatch.setattr(seat.app, "repaint", lambda: None)  # neither the clock's tick nor the desk's
        with TurnLock(case).held():
            await seat.tap("b")  # a break, which waits for somebody else's turn
            await seat.until("NOT ON DISK YET")
            await seat.tap("2", "5", "7")
            assert seat.desk.waiting == 1
            assert "257" in seat.text
            await seat.tap("escape")
            assert "257" not in seat.text
        await seat.settle()


@pytest.mark.parametrize("key", ["2", "kp_2"])
async def test_cutting_ignores_what_is_no_key_of_its_own(case: Path, key: str):
    async with seated(case, "cutting") as seat:
        await seat.press(key, "4", "y", "tab")
        assert seat.desk.state.tally.held("cut") == (1 if key == "2" else 0)


@pytest.mark.parametrize(
    "key", ["insert", "end", "down", "pagedown", "left", "kp_begin", "right", "home", "up"]
)
async def test_numlock_off_never_counts_and_says_so(case: Path, key: str):
    async with seated(case, "cutting") as seat:
        await seat.press(key)
        assert seat.desk.state.tally.held("cut") == 0
        assert "NumLock is off" in seat.text


async def test_cutting_by_mouse(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.click("twos")
        await seat.click("twos")
        await seat.click("team")
        assert seat.desk.state.tally.held("cut", "2") == 2
        assert seat.desk.state.tally.held("cut", "1") == 1
        await seat.click("undo")
        assert seat.desk.state.tally.held("cut", "1") == 0


async def test_take_back_is_a_correction_of_the_own_last_tap(case: Path):
    with station(case, who="CD") as other:
        entered(other, c.CutGrafts(harvest="A", size="3"))
        async with seated(case, "cutting", "AB") as seat:
            await seat.press("2", "1", "u")
            assert isinstance(seat.last(), e.EntryCorrected)
            assert seat.desk.state.tally.held("cut", "1") == 0
            assert seat.desk.state.tally.held("cut", "3") == 1
            await seat.press("minus")
            assert seat.desk.state.tally.held("cut", "2") == 0
            await seat.press("u")
            assert "no tap left to undo" in seat.text
            assert seat.desk.state.tally.held("cut", "3") == 1


async def test_discard_while_cutting_takes_reason_and_size(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("x", "1", "2")
        assert seat.last() == e.GraftsDiscarded(size="2", count=1, reason="transected", harvest="A")


async def test_discard_by_mouse(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.click("discard")
        await seat.click("dropped")
        await seat.click("3: threes")
        assert seat.last() == e.GraftsDiscarded(size="3", count=1, reason="dropped", harvest="A")


async def test_divide_ends_by_itself_when_no_hair_is_left(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("3", "d", "3", "1", "2")
        event = seat.last()
        assert isinstance(event, e.GraftsDivided)
        assert (event.size, event.into, event.hairs_lost) == ("3", ("1", "2"), 0)
        await seat.press("3", "d", "3", "1", "enter")
        event = seat.last()
        assert isinstance(event, e.GraftsDivided)
        assert (event.into, event.hairs_lost) == (("1",), 2)


async def test_escape_drops_a_question_and_enters_nothing(case: Path):
    async with seated(case, "cutting") as seat:
        before = seat.desk.state.seq
        await seat.press("x", "escape")
        assert seat.desk.state.seq == before
        await seat.press("2")
        assert isinstance(seat.last(), e.GraftsCut)


async def test_a_wrong_key_in_a_question_says_what_it_takes(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("x", "9")
        assert "press one of the keys shown" in seat.text
        await seat.press("1", "1")
        assert isinstance(seat.last(), e.GraftsDiscarded)


async def test_segments_count_up(case: Path):
    async with seated(case, "cutting") as seat:
        assert "0 of 4 segments done" in seat.text
        await seat.press("g", "g")
        assert "2 of 4 segments done" in seat.text
        await seat.press("g", "g", "g")
        assert "are finished" in seat.text
        assert seat.desk.state.tally.harvests["A"].segments == (1, 2, 3, 4)


async def test_the_next_harvest_takes_the_taps(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("2", "l", "2")
        assert seat.desk.state.tally.held("cut", "2", "B") == 1
        assert "harvest B" in seat.text


async def test_a_station_opened_again_goes_on_with_the_harvest_that_was_cut_there(case: Path):
    for taps in (1, 2):
        async with seated(case, "cutting") as seat:
            if taps == 1:
                await seat.press(
                    "h", "2", "0", "enter"
                )  # harvest B is harvested while harvest A is on the board
            await seat.press("1")
            assert seat.desk.state.tally.held("cut", "1", "A") == taps


@pytest.mark.parametrize("key", ["2", "g", "l"])
async def test_a_harvest_that_is_gone_while_the_help_is_read_ends_no_station_and_takes_no_tap(
    case: Path, key: str
):
    async with seated(case, "cutting") as seat:
        await seat.press("f1")
        await revised_unseen(seat, case, small_plan(harvests=(Harvest(key="B", label="punches"),)))
        before = seat.desk.state.seq
        await seat.press(key)
        assert seat.screen.glance.harvest == "B"
        assert "now harvest B" in seat.screen.glance.message
        events = [entry.event for entry in seat.desk.state.log[before:]]
        assert [each for each in events if not isinstance(each, e.StationLeft)] == []


@pytest.mark.parametrize("zones", [("MID",), ("MID", "LINE", "FRONT")])
async def test_a_number_typed_before_the_plan_changed_goes_into_no_other_zone(
    case: Path, zones: tuple[str, ...]
):
    async with seated(case, "placing", "CD") as seat:
        await seat.press("down", "7", "f1")  # FRONT
        changed = tuple(Zone(key=each, label=each, area_cm2=9, targets={"1": 50}) for each in zones)
        await revised_unseen(seat, case, small_plan(zones=changed))
        await seat.press("enter")
        assert set(seat.desk.state.tally.placed) == ({("FRONT", "1")} if "FRONT" in zones else set())


async def test_a_plan_that_is_revised_while_a_screen_is_painted_ends_no_station(
    case: Path, monkeypatch: pytest.MonkeyPatch
):
    async with seated(case, "placing", "CD") as seat:
        await seat.press("down", "down")
        follows, before = seat.screen.follows_plan, seat.desk.state
        fewer = small_plan(zones=(Zone(key="LINE", label="hairline", area_cm2=9, targets={"1": 50}),))
        revised = CaseState(before.log, before.corrected_by, replace(before.tally, plan=fewer))

        def then_revised(*case_state: CaseState) -> bool:
            """What the writer thread does may come between any two steps of this one."""
            kept = follows(*case_state)
            seat.desk.state = revised
            return kept

        monkeypatch.setattr(seat.screen, "follows_plan", then_revised)
        try:
            seat.screen.repaint()
        finally:
            seat.desk.state = before
        assert "mid-scalp" in seat.text


async def test_harvest_starts_a_harvests_clock(case: Path):
    async with seated(case, "cutting") as seat:
        assert "start not entered" in seat.text
        await seat.press("h", "1", "2", "0", "enter")
        assert seat.last() == e.HarvestStarted(harvest="A", started_at_ms=MORNING_MS - 20 * MINUTE_MS)
        assert "harvest A out 20 min" in seat.text
        await seat.press("h", "1")
        assert isinstance(seat.last(), e.HarvestEnded)


async def test_placing_twenty_five_twos_takes_four_keys(case: Path):
    harvested(case)
    async with seated(case, "placing") as seat:
        await seat.press("down")
        await seat.press("2", "5", "full_stop", "2")
        event = seat.last()
        assert isinstance(event, e.GraftsPlaced)
        assert (event.zone, event.size, event.count) == ("FRONT", "2", 25)
        assert "25/50" in seat.text


async def test_placing_at_the_cursor(case: Path):
    harvested(case)
    async with seated(case, "placing") as seat:
        await seat.press("1", "5", "enter")
        assert "15/40" in seat.text
        await seat.press("enter")
        assert "type how many first" in seat.text
        await seat.press("down", "right", "1", "0", "backspace", "2", "enter")
        event = seat.last()
        assert isinstance(event, e.GraftsPlaced)
        assert (event.zone, event.size, event.count) == ("FRONT", "2", 12)


async def test_issue_return_reseat_sites_and_discard(case: Path):
    harvested(case)
    async with seated(case, "placing") as seat:
        await seat.press("right", "2", "0", "i")
        assert seat.desk.state.tally.held("bench", "2") == 20
        await seat.press("5", "r")
        assert seat.desk.state.tally.held("bench", "2") == 15
        await seat.press("o")
        assert seat.last() == e.GraftReseated(zone="LINE", count=1)
        await seat.press("4", "4", "t")
        assert "sites 44 made, 44 free" in seat.text
        await seat.press("2", "x", "2")
        event = seat.last()
        assert isinstance(event, e.GraftsDiscarded)
        assert (event.count, event.reason, event.drawn[0].place) == (2, "dried", "bench")
        await seat.press("t", "6", "enter", "0")
        await seat.type("RS")
        await seat.press("enter")
        assert seat.last() == e.SitesMade(zone="LINE", count=6, by="RS")
        assert "sites 50 made, 50 free" in seat.text


async def test_placing_by_mouse(case: Path):
    harvested(case)
    async with seated(case, "placing", size=(100, 30)) as seat:
        await seat.click("frontal")
        await seat.click("0/50")
        await seat.click(" 2 3 4")
        await seat.click(" 5 6 7")
        await seat.click("Enter place")
        event = seat.last()
        assert isinstance(event, e.GraftsPlaced)
        assert (event.zone, event.size, event.count) == ("FRONT", "2", 25)


async def test_grafts_into_a_zone_that_is_not_treated_are_asked_about_once(tmp_path: Path):
    bare = Zone(key="BARE", label="forehead", area_cm2=5, not_treated=True)
    case = new_case(tmp_path / "case.orroom", small_plan(zones=(*small_plan().zones, bare)))
    harvested(case)
    async with seated(case, "placing") as seat:
        assert "— forehead" in seat.text
        await seat.press("down", "down", "down", "5", "enter")
        assert "forehead is not treated by the plan. Are the grafts there?" in " ".join(seat.text.split())
        await seat.press("n")
        assert not isinstance(seat.last(), e.GraftsPlaced)
        await seat.press("5", "enter", "y")
        assert isinstance(seat.last(), e.GraftsPlaced)
        assert "≠ forehead: 5 ones in a zone that is not treated" in seat.text
        await seat.press("2", "enter")
        assert "≠ forehead: 7 ones in a zone that is not treated" in seat.text
    moved_and_made = new_case(tmp_path / "third.orroom", read_case(case).plan)
    harvested(moved_and_made)
    async with seated(moved_and_made, "placing") as seat:
        await seat.press("4", "enter", "m", "1", "4")
        assert "forehead is not treated by the plan. Are the grafts there?" in " ".join(seat.text.split())
        await seat.press("n", "m", "1", "4", "y")
        assert isinstance(seat.last(), e.PlacingMoved)
    sites = new_case(tmp_path / "fourth.orroom", read_case(case).plan)
    async with seated(sites, "placing") as seat:
        await seat.press("down", "down", "down", "9", "t")
        assert "forehead is not treated by the plan. Are the sites there?" in " ".join(seat.text.split())
        await seat.press("n")
        assert not isinstance(seat.last(), e.SitesMade)
        await seat.press("t")  # and where the number is asked for
        assert "Are the sites there?" in " ".join(seat.text.split())
        await seat.press("y", "9", "enter", "escape", "9", "t", "y")
        assert isinstance(seat.last(), e.SitesMade)
        await seat.press("2", "t")
        assert seat.last().count == 2
    async with seated(new_case(tmp_path / "other.orroom", read_case(case).plan), "placing") as seat:
        await seat.press("down", "down", "down", "3", "full_stop", "2")
        assert "Are the grafts there?" in " ".join(seat.text.split())
        await seat.press("y")
        assert read_case(tmp_path / "other.orroom").tally.placed == {("BARE", "2"): 3}


async def test_over_plan_and_over_the_tally_are_recorded_and_stay_until_explained(case: Path):
    harvested(case)
    async with seated(case, "placing") as seat:
        await seat.press("7", "0", "full_stop", "2")
        assert isinstance(seat.last(), e.GraftsPlaced)
        assert "≠ hairline: 70 twos in a zone for ones  (and 1 more)" in seat.text
        await seat.press("e")
        assert "2: harvest A: 10 twos too many taken" in seat.text
        assert "1: hairline: 70 twos in a zone for ones" in seat.text
        await seat.press("1", "6")
        await seat.type("asked for by the surgeon")
        await seat.press("enter")
        assert isinstance(seat.last(), e.MismatchExplained)
        await seat.press("j", "1", "2", "1", "0", "enter")
        assert seat.last() == e.DishCounted(size="2", harvest="A", place="dish", tallied=-10, found=0)
        assert "more taken" not in seat.text
        assert open_mismatches(seat.desk.state) == ()


async def test_a_prompt_counts_down_is_due_is_overdue_and_is_answered_everywhere(case: Path):
    harvested(case)
    async with seated(case, "overview") as seat:
        with station(case, who="EF", clock=seat.clock) as other:
            entered(other, c.GiveCare(care="wet"))
            await asyncio.sleep(0.2)
            seat.app.repaint()
            assert "◷ wet the dishes in 15 min" in seat.text
            seat.clock.at_ms += 15 * MINUTE_MS
            seat.app.repaint()
            assert "◉ wet the dishes DUE NOW" in seat.text
            seat.clock.at_ms += 2 * MINUTE_MS + 1000
            seat.app.repaint()
            assert "! WET THE DISHES · 2 min late" in seat.text
            entered(other, c.GiveCare(care="wet"))
            await asyncio.sleep(0.2)
            seat.app.repaint()
            assert "◷ wet the dishes in 15 min" in seat.text
            event = seat.last()
            assert isinstance(event, e.CareGiven)
            assert event.due_at_ms == MORNING_MS + 15 * MINUTE_MS


async def test_space_twice_answers_the_most_urgent_of_two_prompts(case: Path):
    harvested(case)
    async with seated(case, "cutting") as seat:
        await seat.press("space", "space")
        event = seat.last()
        assert isinstance(event, e.CareGiven)
        assert event.care == "wet"
        assert "wet the dishes, 15 min late" in seat.text


async def test_a_temperature_round_takes_its_reading(case: Path):
    harvested(case)
    async with seated(case, "cutting") as seat:
        await seat.press("space", "3")
        assert "temperature: reading" in seat.text
        await seat.type("8,1")
        await seat.press("enter")
        event = seat.last()
        assert isinstance(event, e.CareGiven)
        assert event.temperature_c == 8.1
        assert "last 8.1 °C, too warm" in seat.text


async def test_a_reading_that_no_dish_has_is_refused_with_what_would_be_right(case: Path):
    harvested(case)
    async with seated(case, "cutting") as seat:
        await seat.press("space", "3", "9", "9", "enter")
        assert "from -20 to 60 °C" in seat.text
        assert seat.desk.state.tally.care.get("cold") is None


async def test_a_paused_prompt_says_until_when_and_comes_back(case: Path):
    harvested(case)
    async with seated(case, "cutting") as seat:
        await seat.press("p", "1", "3", "0", "enter")
        assert "‖ wet the dishes paused until 08:00" in seat.text
        seat.clock.at_ms += 30 * MINUTE_MS
        seat.app.repaint()
        assert "◉ wet the dishes DUE NOW" in seat.text


async def test_grafts_on_the_bench_are_prompted_before_180_seconds(case: Path):
    # 3 min drying on a glove: major damage (Dermatol Surg 2000;26(1):25-31); this plan prompts at 120 s.
    harvested(case)
    async with seated(case, "placing") as seat:
        await seat.press("1", "0", "i")
        assert "◕ wet the grafts with the placers in 2 min 00 s" in seat.text
        seat.clock.at_ms += 121_000
        seat.app.repaint()
        assert "◉ wet the grafts with the placers DUE NOW" in seat.text
        await seat.press("1", "0", "enter")
        assert "wet the grafts" not in seat.text


async def test_one_key_to_the_other_roles_and_back(case: Path):
    async with seated(case, "overview") as seat:
        await seat.press("f2")
        assert seat.text.startswith(" CUTTING")
        await seat.press("2", "f3")
        assert seat.text.startswith(" PLACING")
        await seat.press("f4")
        assert seat.text.startswith(" OVERVIEW")
        assert seat.desk.state.tally.held("cut", "2") == 1


async def test_the_overview_needs_no_key_and_counts_none(case: Path):
    harvested(case)
    async with seated(case, "overview") as seat:
        before = seat.desk.state
        await seat.press("1", "2", "5", "u", "x", "enter")
        assert seat.desk.state is before
        for word in (
            "USABLE",
            "PLACED",
            "waiting",
            "LEFT TO PLACE",
            "FINISH",
            "oldest out 30 min",
            "hairline",
        ):
            assert word in seat.text


async def test_help_shows_the_keys_and_swallows_no_tap(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("f1")
        assert "Keys of the cutting screen" in seat.text
        await seat.press("2")
        assert seat.desk.state.tally.held("cut", "2") == 1
        assert "Keys of" not in seat.text


async def test_a_hand_over_gives_the_station_to_the_next(case: Path):
    async with seated(case, "cutting", "AB") as seat:
        await seat.press("2", "s", "c", "d", "enter")
        assert seat.last() == e.HandedOver(left="AB")
        await seat.press("2")
        assert [entry.stamp.who for entry in seat.desk.state.log][-2:] == ["CD", "CD"]
        assert "CUTTING  initials CD" in seat.text


async def test_a_refused_hand_over_leaves_the_station_to_whoever_has_it(case: Path):
    async with seated(case, "cutting", "AB") as seat:
        entered(seat.desk, c.SignOff(second="EF"))
        await seat.press("s", "q", "z", "enter")
        assert "CUTTING  initials AB" in seat.text
        assert seat.desk.who == "AB"


async def test_a_break_is_shown_until_it_ends(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("b")
        assert "you are on a break" in seat.text
        await seat.press("b")
        assert "you are on a break" not in seat.text


async def test_any_entry_is_cancelled_by_its_number(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("2", "3")
        wrong = seat.desk.state.log[-2].seq
        await seat.press("c", *str(wrong), "enter", "3")
        assert seat.last() == e.EntryCorrected(entry=wrong, reason="wrong size")
        assert seat.desk.state.tally.held("cut", "2") == 0


async def test_a_note_shows_markup_as_it_was_typed(case: Path):
    async with seated(case, "cutting", size=(120, 30)) as seat:
        await seat.press("n")
        await seat.type("[/b] [@click=app.quit]x")
        await seat.press("enter")
        assert seat.last() == e.NoteAdded(text="[/b] [@click=app.quit]x")
        assert "[/b] [@click=app.quit]x" in seat.text


async def test_sites_are_the_surgeons_unless_somebody_else_is_chosen(tmp_path: Path):
    team = (Person(initials="GH", role="placing"), Person(initials="RS", role="surgeon"))
    case = new_case(tmp_path / "case.orroom", small_plan(staff=team))
    async with seated(case, "placing", "GH") as seat:
        await seat.press("4", "0", "t")
        assert seat.last() == e.SitesMade(zone="LINE", count=40, by="RS")
        await seat.press("t", "5", "enter", "1")
        assert seat.last() == e.SitesMade(zone="LINE", count=5, by="GH")


async def test_sites_are_entered_at_the_overview_too(case: Path):
    async with seated(case, "overview", "EF") as seat:
        await seat.press("t", "2", "3", "0", "enter", "0")
        await seat.type("RS")
        await seat.press("enter")
        assert seat.last() == e.SitesMade(zone="FRONT", count=30, by="RS")


async def test_a_spot_check_is_entered(case: Path):
    async with seated(case, "placing") as seat:
        await seat.press("v", "2", "0", "enter", "1", "enter", "1")
        one = (e.FaultFound(fault="too deep", count=1),)
        assert seat.last() == e.SpotChecked(
            subject="placing", zone="LINE", looked_at=20, faulty=1, fault=None, faults=one
        )


async def test_a_keypad_says_whose_work_was_looked_at_and_every_fault(case: Path):
    """Digits and Enter alone: the second lane's, 20 looked at, 3 faulty, of which 2 too high, 1 crushed."""
    with station(case, "placing", "GH") as desk:
        entered(desk, c.OpenLane(lane="a", by="GH"))
        entered(desk, c.OpenLane(lane="b", by="JK"))
    async with seated(case, "placing") as seat:
        await seat.press("v")
        assert "1: GH    2: JK    0: nobody in particular" in seat.text
        await seat.press(*"2", *"20", "enter", "3", "enter", "2", "2", "enter")
        assert "1 graft faulty, what fault?" in seat.text
        await seat.press("8")
        assert seat.last() == e.SpotChecked(
            subject="placing",
            zone="LINE",
            looked_at=20,
            faulty=3,
            fault=None,
            whose="JK",
            faults=(e.FaultFound(fault="too high", count=2), e.FaultFound(fault="crushed", count=1)),
        )
        assert "JK's placing checked in" in seat.text


async def test_more_faulty_than_looked_at_or_of_one_fault_than_are_left_go_on_being_asked(case: Path):
    async with seated(case, "placing") as seat:
        await seat.press("v", "5", "enter", "6", "enter")
        assert "only 5 were looked at" in seat.text
        await seat.press("backspace", "2", "enter", "1", "3", "enter")
        assert "enter 1 to 2" in seat.text
        await seat.press("backspace", "1", "enter", "9")
        await seat.type("bent")
        await seat.press("enter")
        assert seat.last().faults == (
            e.FaultFound(fault="too deep", count=1),
            e.FaultFound(fault="bent", count=1),
        )


async def test_a_check_asks_for_the_clinics_own_faults(case: Path):
    clinic = Clinic(Settings(checks=Checks(cutting=("ragged", "bare"))))
    async with seated(case, "cutting", clinic=clinic) as seat:
        await seat.press("1", "v", "1", "5", "enter", "1", "enter")
        assert "1: ragged    2: bare    3: other" in seat.text
        await seat.press("2", "0", "enter")
        assert (seat.last().whose, seat.last().faults) == (
            "AB",
            (e.FaultFound(fault="bare", count=1),),
        )


async def test_a_check_may_be_of_nobodys_work_in_particular(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("1", "v", "0", "5", "enter", "0", "enter", "0", "enter")
        assert seat.last() == e.SpotChecked(subject="cutting", zone=None, looked_at=5, faulty=0, fault=None)


async def test_a_check_of_cutting_may_count_follicles(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("v", "3", "enter", "0", "enter")
        assert "how many follicles in them? (0 = not counted)" in seat.text
        await seat.press("9", "enter", "3", "enter")
        counted = {"follicles": 9, "transected": 3}
        check = {"subject": "cutting", "zone": None, "looked_at": 3, "faulty": 0, "fault": None}
        assert seat.last() == e.SpotChecked(**check, **counted)
        await seat.press("v", "3", "enter", "0", "enter", "0", "enter")
        assert seat.last() == e.SpotChecked(**check)


async def test_a_segment_is_measured_where_the_plan_gives_the_strip_a_length(tmp_path: Path):
    harvests = (
        Harvest(key="A", label="strip", segments=4, strip_length_mm=40),
        Harvest(key="B", label="punches"),
    )
    case = new_case(tmp_path / "measured.orroom", small_plan(harvests=harvests))
    async with seated(case, "cutting") as seat:
        await seat.press("g")
        assert "Length of the finished segment? (0 = not measured)" in seat.text
        await seat.press("1", "0", "full_stop", "5", "enter")
        assert seat.last() == e.SegmentCut(harvest="A", segment=1, length_mm=10.5)
        await seat.press("g", "0", "enter")
        assert seat.last() == e.SegmentCut(harvest="A", segment=2)
        await seat.press("l", "g")
        assert seat.last() == e.SegmentCut(harvest="B", segment=1)


async def test_leaving_asks_first(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("ctrl+q")
        assert "Leave this station?" in seat.text
        await seat.press("n")
        assert seat.app.is_running
        await seat.press("f10", "y")
        await seat.pilot.pause()
        assert not seat.app.is_running


@pytest.mark.parametrize("stay", ["n", "escape"])
async def test_whoever_stays_finds_what_was_asked_and_typed(case: Path, stay: str):
    async with seated(case, "cutting") as seat:
        await seat.press("n")
        await seat.type("lamp")
        await seat.press("ctrl+q", "ctrl+q")
        assert "Leave this station?" in seat.text
        await seat.press(stay)
        assert "lamp" in seat.text
        await seat.type(" changed")
        await seat.press("enter")
        assert seat.last() == e.NoteAdded(text="lamp changed")


async def test_taps_that_are_not_on_the_disk_are_shown_as_waiting(
    case: Path, monkeypatch: pytest.MonkeyPatch
):
    async with seated(case, "cutting") as seat:

        def full(_: object) -> None:
            raise sqlite3.OperationalError("disk is full")

        monkeypatch.setattr(seat.desk._file, "append", full)
        await seat.tap("2", "1", "2")
        async with asyncio.timeout(5):
            while seat.desk.trouble is None:
                await asyncio.sleep(0.01)
        await asyncio.sleep(0.2)
        assert "TAPS NOT ON DISK YET" in seat.text
        assert "████" in seat.text.split("NOT ON DISK")[0].split("\n")[-1]  # the 3, large
        assert "disk is full" in seat.text
        assert seat.desk.state.tally.held("cut") == 0
        monkeypatch.undo()
        await seat.settle()
        assert seat.desk.state.tally.held("cut") == 3
        assert "NOT ON DISK" not in seat.text


async def test_no_tap_is_shown_as_waiting_once_all_are_on_the_disk(case: Path):
    async with seated(case, "cutting") as seat:
        seat.app.shared.waiting = 1  # as a tap's answer left it, while the next tap's was on its way
        seat.app.repaint()
        assert "NOT ON DISK" not in seat.text


async def test_taps_that_wait_are_told_of_on_whatever_screen_is_in_front(
    case: Path, monkeypatch: pytest.MonkeyPatch
):
    async with seated(case, "cutting") as seat:
        monkeypatch.setattr(seat.app, "repaint", lambda: None)  # neither the clock's tick nor the desk's
        with TurnLock(case).held():
            await seat.tap("1", "f3")
            await seat.until("1 tap NOT ON DISK YET")
            assert seat.screen.ROLE == "placing"
            await seat.tap("f4")
            await seat.until("NOT ON DISK")
            assert seat.screen.ROLE == "overview"
        await seat.settle()
        assert "NOT ON DISK" not in seat.text
        await seat.press("f2")
        assert "NOT ON DISK" not in seat.text
        assert seat.desk.state.tally.held("cut") == 1


async def test_a_tick_that_comes_while_the_station_ends_harms_nothing(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("1")
    assert seat.app.front is None
    seat.app.repaint()


async def test_a_window_without_focus_says_so(case: Path):
    async with seated(case, "cutting") as seat:
        seat.app.on_app_blur()
        assert "NO FOCUS: KEYS GO TO ANOTHER WINDOW" in seat.text
        seat.app.on_app_focus()
        assert "NO FOCUS" not in seat.text


async def test_twelve_taps_a_second_are_counted_in_full(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.tap(*("12" * 30), apart=1 / 12)
        await seat.settle()
        assert seat.desk.state.tally.held("cut") == 60
        assert aside(seat) == []


async def test_a_held_key_counts_once_and_asks_once(case: Path):
    async with seated(case, "cutting") as seat:
        await held(seat)
        assert '22 × "2" came faster than a hand can press: a key held down?' in seat.text
        assert "Count 22 keys set aside?" in seat.text
        await seat.press("n")
        assert seat.desk.state.tally.held("cut", "2") == 1
        assert aside(seat) == [e.KeysSetAside(cause="held", keys="2", count=22, counted=False)]
        assert seat.last() == e.EntryCorrected(entry=4, reason="held key")
        await seat.press("2")
        assert seat.desk.state.tally.held("cut", "2") == 2


async def test_a_held_take_back_takes_one_tap_back_and_no_more(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("1", "2", "3", "2")
        await held(seat, "u", repeats=5)
        await seat.press("n")
        tally = seat.desk.state.tally
        assert {size: tally.held("cut", size) for size in "123"} == {"1": 1, "2": 1, "3": 1}
        assert [(each.count, each.counted) for each in aside(seat)] == [(5, False)]


async def test_taking_back_twice_by_hand_is_taking_back_twice(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("1", "2", "3", "u", "u")
        await asyncio.sleep(RELEASE + 0.05)
        await seat.settle()
        assert seat.desk.state.tally.held("cut") == 1


async def test_a_held_key_counts_in_full_when_told_to(case: Path):
    async with seated(case, "cutting") as seat:
        await held(seat)
        seat.clock.at_ms += MINUTE_MS
        await seat.click("y count")
        assert seat.desk.state.tally.held("cut", "2") == 23
        assert [each.counted for each in aside(seat)] == [True]
        cuts = [each for each in seat.desk.state.log if isinstance(each.event, e.GraftsCut)]
        assert {each.stamp.at_ms for each in cuts} == {MORNING_MS}  # when it was pressed, not answered


async def test_taps_wait_while_a_question_about_keys_is_open(case: Path):
    async with seated(case, "cutting") as seat:
        await held(seat)
        await seat.press("1", "3")
        assert seat.desk.state.tally.held("cut", "1") == 0
        assert "2 later taps wait for the answer" in " ".join(seat.text.split())
        await seat.press("escape")
        tally = seat.desk.state.tally
        assert {size: tally.held("cut", size) for size in "123"} == {"1": 1, "2": 1, "3": 1}


async def test_a_scanner_enters_nothing(case: Path):
    harvested(case)
    async with seated(case, "placing") as seat:
        before = seat.desk.state.tally
        await seat.tap("4", *"234567", "enter", apart=0.002)
        await seat.rest()
        assert "8 keys came faster than a hand can press: 4 2 3 4 5 6 7 enter" in seat.text
        await seat.press("n")
        assert seat.desk.state.tally == before
        assert seat.screen.glance.typed == ""
        assert [each.cause for each in aside(seat)] == ["burst"]


async def test_keys_without_end_are_left_out_with_their_number_and_no_tap_waits_for_an_answer(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("3")
        seat.at += 1
        await seat.tap(*["2"] * (MOST_KEPT + 50), apart=0.0005)
        await seat.until("keys came at once")
        assert "1,050 keys came at once, too many to count: ignored" in " ".join(seat.text.split())
        assert seat.screen.glance.doubt is None
        await seat.press("1")
        assert aside(seat) == [e.KeysSetAside(cause="burst", keys="2", count=MOST_KEPT + 50, counted=False)]
        tally = seat.desk.state.tally
        assert {size: tally.held("cut", size) for size in "123"} == {"1": 1, "2": 0, "3": 1}


async def test_a_question_about_keys_is_whole_on_a_small_screen(case: Path):
    async with seated(case, "cutting", size=(40, 12)) as seat:
        await held(seat)
        for words in ("a key held down?", "Count 22 keys set aside?", "y count", "n leave out"):
            assert words in seat.text
        await seat.click("n leave out")
        assert seat.desk.state.tally.held("cut", "2") == 1


async def test_a_run_that_comes_while_another_is_asked_about_is_asked_about_next(case: Path):
    async with seated(case, "cutting") as seat:
        await held(seat)
        await held(seat, "3")
        assert "1 later tap waits" in " ".join(seat.text.split())
        await seat.press("n")
        assert '22 × "3"' in seat.text
        seat.at += 1  # it is read first
        await seat.press("n")
        assert len(aside(seat)) == 2
        tally = seat.desk.state.tally
        assert {size: tally.held("cut", size) for size in "23"} == {"2": 1, "3": 1}


async def test_one_close_pair_is_two_fingers(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.tap("1")
        await seat.tap("2", apart=0.01)
        seat.clock.at_ms += 1000
        await asyncio.sleep(RELEASE + 0.05)
        await seat.settle()
        assert seat.desk.state.tally.held("cut") == 2
        assert seat.desk.state.log[-1].stamp.at_ms == MORNING_MS  # the tap's own time
        assert aside(seat) == []


async def test_a_note_may_be_typed_fast(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("n")
        await seat.tap(*"wet", apart=0.03)
        await seat.press("enter")
        assert seat.last() == e.NoteAdded(text="wet")


async def test_a_paste_counts_nothing_and_says_so(case: Path):
    async with seated(case, "cutting") as seat:
        seat.app.post_message(events.Paste("22222"))
        await seat.settle()
        assert "a paste of 5 characters was ignored: nothing counted" in seat.text
        assert seat.desk.state.tally.held("cut") == 0


async def test_keys_that_waited_while_the_program_was_stopped_are_asked_about(case: Path):
    async with seated(case, "cutting") as seat:
        seat.screen.taps.went_on(seat.at)
        await seat.tap("2")
        await seat.rest()
        assert "1 key came faster than a hand can press" in seat.text
        await seat.press("y")
        assert seat.desk.state.tally.held("cut", "2") == 1


async def test_a_station_that_ends_takes_what_waits_and_tells_what_it_left_out(case: Path):
    async with seated(case, "cutting") as seat:
        await held(seat)
        await seat.press("1", "3")
        await seat.screen.taps.close_up()
        await seat.settle()
        tally = seat.desk.state.tally
        assert {size: tally.held("cut", size) for size in "123"} == {"1": 1, "2": 1, "3": 1}
        assert [each.counted for each in aside(seat)] == [False]


@pytest.mark.parametrize("scanned", ["l20240117", "x20240117", "smith19700101", "d3120", "n2024", "1l24"])
async def test_a_burst_that_is_left_out_leaves_the_screen_as_it_was(case: Path, scanned: str):
    async with seated(case, "cutting") as seat:
        await seat.tap(*scanned, apart=0.002)
        await seat.rest()
        await seat.press("n")
        assert seat.screen.glance.harvest == "A"
        assert seat.screen.glance.question is None
        assert seat.desk.state.tally.held("cut") == 0
        await seat.press("1", "2", "1")
        tally = seat.desk.state.tally
        assert (tally.held("cut", "1", "A"), tally.held("cut", "2", "A")) == (2, 1)
        assert [each.keys for each in aside(seat)] == ["several"]  # a name has no place in a record


async def test_what_a_held_key_entered_is_cancelled_in_the_rescue_file_too(
    case: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr("orroom.desk.CLOSING_SECONDS", 0.3)
    other = TurnLock(case)
    clock = SetClock(MORNING_MS)
    desk = Desk(CaseFile.open(case), "cutting", "AB", clock)
    with other.held():
        async with OrroomApp(desk).run_test(size=(80, 24)) as pilot:
            screen = pilot.app.screen
            assert isinstance(screen, StationScreen)
            at = 1000.0
            for apart in (1, 0.658, *[0.04] * 10):
                at += apart
                press = Press("1", "1", at, MORNING_MS)
                await screen.taps.sort(screen.taps.hands.take(press))
            await screen.taps.sort(screen.taps.hands.quiet())
            await screen.taps.answer_doubt("n")
        rescue = desk.close()
    assert rescue is not None
    desk._writer.join(10)
    other.close()
    with CaseFile.open(case) as again:
        record_rescued(again, read_rescue(rescue))
    assert read_case(case).tally.held("cut", "1") == 1


async def test_the_finish_is_worked_out_beside_the_screen_and_shown(case: Path):
    harvested(case)
    async with seated(case, "overview") as seat:
        await seat.until("not enough data")
        for _ in range(12):
            seat.clock.at_ms += MINUTE_MS
            entered(seat.desk, c.CutGrafts(harvest="A", size="2", count=3))
        await seat.until("/h by 1, done ~")
        assert "no placing yet" in seat.text


async def test_who_is_at_work_and_planned_breaks_are_entered_with_one_key_and_numbers(case: Path):
    async with seated(case, "placing", "CD") as seat:
        await seat.press("w", "3", "4", "enter")
        assert "4 people placing" in seat.text
        await seat.press("w", "4", "1", "9", "0", "enter", "3", "0", "enter")
        assert "break planned: everybody, 30 min" in seat.text
    teams = [entry.event for entry in read_case(case).log if entry.event.kind == "team_changed"]
    assert [(event.work, event.people) for event in teams] == [("placing", 4)]


async def test_a_revised_plan_that_drops_the_harvest_in_hand_leaves_the_station_at_work(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("l")
        assert "harvest B" in seat.text
        with CaseFile.open(case) as case_file:
            record_once(
                case_file,
                c.RevisePlan(plan=small_plan(harvests=(Harvest(key="A", label="strip"),)), reason="one"),
                "RS",
            )
        await seat.until("no such harvest any more")
        await seat.press("2")
        assert seat.last() == e.GraftsCut(harvest="A", size="2", count=1)


async def test_a_revised_plan_keeps_the_cursor_on_its_zone(case: Path):
    async with seated(case, "placing") as seat:
        await seat.press("down", "down", "4")
        plan = small_plan()
        zones = tuple(replace(zone, order=None) for zone in reversed(plan.zones))
        with CaseFile.open(case) as case_file:
            record_once(case_file, c.RevisePlan(plan=small_plan(zones=zones), reason="back first"), "RS")
        await seat.until("zone")
        await seat.press("enter")
        assert seat.last().zone == "MID"


async def test_taps_during_resizes_all_count(case: Path):
    async with seated(case, "cutting") as seat:
        for width, height in ((120, 40), (40, 12), (30, 10), (20, 5), (200, 60), (80, 24)):
            await seat.tap("2")
            await seat.pilot.resize_terminal(width, height)
            await seat.tap("1")
        await seat.settle()
        tally = seat.desk.state.tally
        assert (tally.held("cut", "2"), tally.held("cut", "1")) == (6, 6)


async def test_taps_around_a_change_of_screens_count_where_they_were_made(case: Path):
    harvested(case)
    async with seated(case, "cutting") as seat:
        await seat.tap("2", "2", "f3", "7", "enter", "f2", "3")
        await seat.settle()
        await seat.settle()
        tally = seat.desk.state.tally
        assert (tally.held("cut", "2"), tally.held("cut", "3")) == (62, 1)
        assert sum(tally.placed.values()) == 7


async def test_keys_keep_their_order_across_screens(case: Path, monkeypatch: pytest.MonkeyPatch):
    """A key that came before the screens changed goes before one that came after, however busy one is."""

    async def busy(screen: StationScreen, role: Role) -> None:
        await asyncio.sleep(0.02)
        screen.app.show_role(role)
        await asyncio.sleep(0.05)

    monkeypatch.setattr(StationScreen, "action_role", busy)
    harvested(case)
    async with seated(case, "cutting") as seat:
        for _ in range(3):
            await seat.tap("f3", "1", "2", apart=0.1)
            async with asyncio.timeout(5):
                while seat.screen.ROLE != "placing":
                    await asyncio.sleep(0.001)
            await seat.tap("3", "4", "i", "f2", apart=0.1)
            async with asyncio.timeout(5):
                while seat.screen.ROLE != "cutting":
                    await asyncio.sleep(0.001)
        await seat.settle()
        counts = [each.event.count for each in seat.desk.state.log if each.event.kind == "grafts_issued"]
        assert counts == [1234] * 3


async def test_a_key_that_waited_behind_the_change_of_screens_is_the_next_screens(case: Path):
    """The second u waits to be sure it is no held key: what follows it waits too, in its order."""
    harvested(case)
    async with seated(case, "cutting") as seat:
        await seat.press("2", "2")
        await seat.tap("u")
        await seat.tap("u")
        await seat.tap("f3", "7", "enter", apart=0.1)
        await seat.rest()
        await seat.settle()
        assert sum(seat.desk.state.tally.placed.values()) == 7


async def test_taps_while_help_or_a_question_is_open_count_or_are_visibly_answers(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("f1", "2")  # any other key closes the help and does its own work
        assert seat.desk.state.tally.held("cut", "2") == 1
        await seat.press("x", "2")  # an answer now, and said so
        assert "of size" in seat.text
        assert seat.desk.state.tally.held("cut", "2") == 1
        await seat.press("1")
        assert "discarded 1 one in cutting" in seat.text


async def test_a_key_is_set_apart_from_the_words_of_its_answer(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("w")
        assert "1: cutting    2: making sites    3: placing" in seat.text
        await seat.click("2: making sites")
        await seat.press("3", "enter")
        assert seat.last() == e.TeamChanged(work="sites", people=3)


async def test_taps_during_a_break_count_and_say_so_and_ring_once(
    case: Path, monkeypatch: pytest.MonkeyPatch
):
    async with seated(case, "cutting") as seat:
        rung: list[int] = []
        monkeypatch.setattr(seat.app, "bell", lambda: rung.append(1))
        await seat.press("b", "2", "2", "3")
        assert seat.desk.state.tally.held("cut") == 3
        assert "+1 three, strip · AB is on a break since 07:30: b ends it" in seat.text
        assert len(rung) == 1
        await seat.press("b", "2")
        assert "on a break" not in seat.text
        seat.clock.at_ms += MINUTE_MS
        await seat.press("b", "2")
        assert len(rung) == 2


@pytest.mark.parametrize(
    ("reading", "minutes", "said"),
    [("9", 10, "; outside 2–8 °C: again in 10 min"), ("5", 30, "temperature 5.0 °C")],
)
async def test_a_reading_outside_its_band_is_taken_again_sooner_as_the_plan_says(
    tmp_path: Path, reading: str, minutes: int, said: str
):
    *others, cold = small_plan().care
    case = new_case(tmp_path / "case.orroom", small_plan(care=(*others, replace(cold, outside_minutes=10))))
    harvested(case)
    async with seated(case, "cutting", size=(120, 40)) as seat:
        await seat.click("temperature")
        await seat.press(reading, "enter")
        assert said in seat.text
        assert due_at_ms(seat.desk.state.tally, "cold") == MORNING_MS + minutes * MINUTE_MS
