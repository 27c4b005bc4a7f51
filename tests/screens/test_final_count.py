"""The final count at the overview: blind, whole or not at all, compared group by group, closed by two."""

from __future__ import annotations

import asyncio
import json
import re
from pathlib import Path

import pytest
from cases import UNCOUNTED, Record, case_under_way
from free_keys import letter_beside
from seats import Seat, both_count, by, count, harvested, seated
from stations import entered, new_case, read_case, station

from orroom.case import commands as c
from orroom.case.closing import open_at_sign_off
from orroom.case.events import CaseSignedOff, CountedGroup, FateGiven, LeftOpen
from orroom.case.final_count import groups_to_count, open_differences, person_counts
from orroom.case.mismatches import open_mismatches
from orroom.case.state import Stock
from orroom.figures.recount import recount
from orroom.formats.csv_tables import to_csv_tables
from orroom.formats.fhir.bundle import to_fhir
from orroom.formats.json_text import to_json
from orroom.formats.summary_formats import to_html, to_markdown
from orroom.screens.stations.over.counting import Counting
from orroom.screens.stations.over.replan import Replan
from orroom.screens.stations.views.compared import compared_lines
from orroom.screens.stations.views.final_count import CountUnderWay, counting_lines
from orroom.screens.stations.views.frame import Glance
from orroom.screens.stations.views.over import COMPARING, COUNTING, REPLANNING
from orroom.screens.terminal.hands import DOUBLE_CLICK
from orroom.screens.terminal.painting import text_of, width_of
from orroom.summary.summary import Summary, summarise

SIZES = [(80, 24), (120, 40), (40, 12), (30, 10)]


@pytest.fixture
def case(tmp_path: Path) -> Path:
    case = new_case(tmp_path / "case.orroom")
    harvested(case)  # 60 twos and 40 ones of harvest A wait in dishes
    return case


async def test_two_people_count_blind_and_sign_off(case: Path):
    async with seated(case, "overview", "OR") as seat:
        await seat.press("k")
        assert "Who counts?" in seat.text
        await seat.press("1")
        assert "FINAL COUNT by AB: 0 of 8 groups" in seat.text
        assert "60" not in seat.text
        assert "40" not in seat.text.replace("40×", "")
        await seat.press("escape")
        assert "count was stopped: start again" in seat.text
        await seat.press("k")
        await count(seat, "AB", 40, 60, 0, 0)
        assert person_counts(seat.desk.state)[0].who == "AB"
        assert "AB's count saved (1 of 2). k: the second person counts." in seat.text
        await seat.rest()
        await seat.press("k")
        assert "Who makes the second count?" in seat.text
        assert "1: AB" not in seat.text.split("second count?")[1]
        await by(seat, "AB")
        assert "AB has already counted" in seat.text
        await seat.rest()
        await seat.press("escape", "k")
        await count(seat, "CD", 40, 60, 0, 0)
        assert "FINAL COUNT: all agree" in seat.text
        assert "CD's count saved (2 of 2)." in seat.text
        assert "second person" not in seat.text
        await seat.rest()
        await seat.press("g")
        assert "what becomes of them?" in seat.text
        await seat.press("1")
        await seat.rest()
        assert "The same for the other 1 group" in seat.text
        await seat.press("y")
        await seat.rest()
        await seat.until("all agree")
        await seat.press("g")
        assert "nothing is left without a fate" in seat.text
        await seat.press("o")
        for _ in range(5):
            await seat.press("y")
            await seat.rest()
        await seat.press("1")
        await seat.rest()
        await seat.press("1")
        await seat.until("case.sealed-")
        assert "next: orroom summary case.orroom" in " ".join(seat.text.split())
    state = read_case(case)
    assert state.tally.signed_off
    assert len(list(case.parent.glob("*sealed*.orroom"))) == 1
    signed = next(entry for entry in reversed(state.log) if entry.event.kind == "case_signed_off")
    assert (signed.stamp.who, signed.event.second) == ("AB", "CD")
    assert len(signed.event.confirmed) == 5


def fates_given(seat: Seat) -> list[FateGiven]:
    return [each.event for each in seat.desk.state.log if isinstance(each.event, FateGiven)]


async def test_some_of_what_is_left_is_placed_beyond_the_plan_by_whom_is_asked(case: Path):
    async with seated(case, "overview", "OR") as seat:
        await seat.press("k")
        await count(seat, "AB", 40, 60, 0, 0)
        await seat.rest()
        await seat.press("k")
        await count(seat, "CD", 40, 60, 0, 0)
        await seat.rest()
        await seat.press("g", "5")
        await seat.rest()
        assert "Placed into which zone?" in seat.text
        await seat.press("3")
        await seat.rest()
        await seat.press("9", "9")
        assert "enter 1 to 60" in " ".join(seat.text.split())
        await seat.press("backspace", "backspace", "4", "enter")
        await seat.rest()
        assert "Who placed them?" in seat.text
        await seat.press("2")
        await seat.rest()
        await seat.until("all agree")
        [fate] = fates_given(seat)
        assert (fate.count, fate.into_zone, fate.by) == (4, "MID", "CD")
        assert seat.desk.state.tally.placed[("MID", fate.size)] == 4
        assert len(person_counts(seat.desk.state)) == 2


async def test_the_help_ends_no_count_and_a_refusal_goes_with_the_next_digit(case: Path):
    async with seated(case, "overview", "OR") as seat:
        await seat.press("k", "1", "4")
        await seat.press("g")
        assert "use digits, Enter and arrows" in seat.text
        await seat.press("7")
        assert "only digits" not in seat.text
        await seat.press("f1")
        assert "Keys of the final count" in seat.text
        assert "one size of one harvest, in its dish or with the placers" in seat.text
        await seat.press("escape")
        assert "FINAL COUNT by AB" in seat.text
        await seat.press("f1")
        await seat.press("1")  # closes the help and counts
        assert "FINAL COUNT by AB: 0 of 8 groups" in seat.text
        await seat.press("enter")
        assert "FINAL COUNT by AB: 1 of 8 groups" in seat.text
        assert "471" in seat.text


async def test_a_tally_below_nothing_is_written_with_the_sign_of_all_figures(case: Path):
    with station(case, "placing", "CD") as desk:
        entered(desk, c.IssueGrafts(size="2", count=61))
    async with seated(case, "overview", "OR") as seat:
        await both_count(seat, 58, 58)
        await seat.rest()
        await seat.press("a")
        assert "Both counted 58, the tally says −1" in seat.text


async def test_what_both_find_sets_the_tally_right_with_its_cause(case: Path):
    async with seated(case, "overview", "OR") as seat:
        await both_count(seat, 58, 58)
        assert "FINAL COUNT: 1 group differs, 100 left" in seat.text
        assert "≠  dish: twos" in seat.text
        assert "a accepts 58: 2 twos are recorded as not found, and a cause is asked; or r counts again" in (
            " ".join(seat.text.split())
        )
        await seat.rest()
        await seat.press("a")
        assert "Both counted 58, the tally says 60" in seat.text
        await seat.press("1")
        await seat.rest()
        await seat.type("two under a lid")
        await seat.press("enter")
        assert "all agree" in seat.text
    state = read_case(case)
    assert state.tally.held("missing", "2") == 2
    assert open_differences(state) == ()
    assert list(state.tally.explained) == ["counted:2:A"]


async def test_the_cause_is_a_note_where_setting_the_tally_right_leaves_no_mismatch(case: Path):
    with station(case, who="AB") as desk:
        entered(desk, c.CountDish(size="2", harvest="A", place="dish", found=62))
    async with seated(case, "overview", "OR") as seat:
        await both_count(seat, 60, 60)
        assert "2 twos are recorded as not found" in " ".join(seat.text.split())
        await seat.rest()
        await seat.press("a")
        assert "Both counted 60, the tally says 62" in seat.text
        await seat.press("1")
        await seat.rest()
        await seat.type("two of them counted twice")
        await seat.press("enter")
        assert "all agree" in seat.text
    state = read_case(case)
    assert open_mismatches(state) == ()
    notes = [entry.event.text for entry in state.log if entry.event.kind == "note_added"]
    assert [note.endswith(": two of them counted twice") for note in notes] == [True]


async def test_why_a_group_differs_is_right_under_it_on_the_first_page(case: Path):
    with station(case, "placing", "CD") as desk:
        entered(desk, c.DiscardGrafts(size="2", reason="dried"))
    async with seated(case, "overview", "OR") as seat:
        await both_count(seat, 60, 60)
        rows = seat.text.split("\n")
        here = next(number for number, row in enumerate(rows) if row.startswith("▸ ≠  dish: twos"))
        why = " ".join(" ".join(rows[here + 1 : here + 6]).split())
        assert "a accepts 60: 1 two is added to the tally, and a cause is asked" in why
        assert "misplaced? 1 discarded" in why
        assert "before the count" in why
        assert "still in the dish?" in why


def test_the_summary_says_of_which_group_an_explanation_is():
    record = _counted_twice(ones=31)
    page = to_markdown(summarise(record.state))
    assert (
        "- ones, harvest A, in dishes: misplaced: size 2 has 1 too few: are they in each other's dish?"
        in page
    )
    assert (
        "- twos, harvest A, in dishes: misplaced: size 1 has 1 too many: are they in each other's dish?"
        in page
    )


async def test_grafts_that_move_during_a_count_start_it_again(case: Path):
    async with seated(case, "overview", "OR") as seat:
        await seat.press("k")
        await seat.press("1")
        with station(case, who="EF") as other:
            entered(other, c.CutGrafts(harvest="A", size="2"))
        for each in (40, 60, 0, 0, 0, 0, 0, 0):
            await seat.type(str(each))
            await seat.press("enter")
        await seat.rest()
        await seat.press("enter")
        await seat.rest()
        await seat.press("y")
        assert "count again from the start" in seat.text
    assert person_counts(read_case(case)) == ()


async def test_an_open_difference_is_closed_only_with_a_reason_and_somebody_told(case: Path):
    async with seated(case, "overview", "OR") as seat:
        await both_count(seat, 58, 57)
        assert "AB and CD differ: r counts this group again" in seat.text
        await seat.rest()
        await seat.press("a")
        assert "both counts must agree first: r counts again" in seat.text
        await seat.press("s")  # at every screen: hand over
        assert "HAND-OVER FROM OR" in seat.text
        await seat.press("escape", "k", "o")
        for _ in range(5):
            await seat.press("n")
            await seat.rest()
        assert (
            "Open (1 of 2): size 2 of harvest A, in dishes: AB counted 58, CD counted 57, the tally has 60."
            in " ".join(seat.text.split())
        )
        await seat.type("searched twice")
        await seat.press("enter")
        await seat.rest()
        await seat.type("RS")
        await seat.press("enter")
        await seat.rest()
        assert "Open (2 of 2): 100 grafts are left" in " ".join(seat.text.split())
        await seat.press("y")
        await seat.rest()
        await seat.press("1")
        await seat.rest()
        await seat.press("1")
        await seat.until("case.sealed-")
    signed = next(e for e in reversed(read_case(case).log) if e.event.kind == "case_signed_off")
    assert [(each.key, each.because, each.informed) for each in signed.event.left_open] == [
        ("difference:dish:2:A", "searched twice", "RS"),
        ("no-fate", "searched twice", "RS"),
    ]


@pytest.mark.parametrize("size", SIZES)
def test_every_size_of_terminal_shows_the_count_and_never_the_tally(size: tuple[int, int]):
    record, other = case_under_way(), case_under_way()
    other.enter(c.CutGrafts(harvest="A", size="2", count=77))
    width, height = size
    glance = Glance(role="overview", who="OR", width=width, height=height)
    under_way = CountUnderWay("AB", groups_to_count(record.state), record.state.seq)
    for _ in under_way.groups:
        lines = counting_lines(record.state, record.now_ms, glance, under_way)
        assert len(lines) == height
        text = "\n".join(text_of(each) for each in lines)
        assert all(width_of(each) <= width for each in lines)
        assert "▌" in text
        assert lines == counting_lines(other.state, record.now_ms, glance, under_way)
        under_way.press("7")
        under_way.press("enter")
    assert under_way.complete


@pytest.mark.parametrize("size", SIZES)
def test_a_comparison_names_each_difference(size: tuple[int, int]):
    record = _counted_twice()
    counts = person_counts(record.state)
    compared = recount(record.state, counts[0].found, counts[1].found)
    width, height = size
    glance = Glance(role="overview", who="OR", width=width, height=height)
    lines = compared_lines(record.state, record.now_ms, glance, compared, 1)
    assert len(lines) == height
    text = "\n".join(text_of(each) for each in lines)
    assert "▸ ≠  dish" in text  # the row that is chosen has a mark, not a colour alone
    assert width == 30 or "differ" in text


def _counted_twice(ones: int = 30) -> Record:
    record = case_under_way()
    for who, twos in (("AB", 39), ("CD", 39)):
        groups = []
        for group in groups_to_count(record.state):
            held = record.tally.stock.get(Stock(group.size, group.harvest, group.place), 0)
            found = {("2", "dish"): twos, ("1", "dish"): ones}.get((group.size, group.place), held)
            groups.append(
                CountedGroup(size=group.size, harvest=group.harvest, place=group.place, found=found)
            )
        record.enter(c.CountAll(groups=tuple(groups), since=record.state.seq), who)
    return record


def test_the_summary_tells_both_counts_and_how_the_case_was_closed():
    record = _counted_twice()
    record.enter(c.SignOff(second="CD", open_because="not found", informed="RS", confirmed=("counts",)), "AB")
    summary = summarise(record.state)
    assert summary.final_count is not None
    assert (summary.final_count.first_by, summary.final_count.differences) == ("AB", 1)
    rows = {(each.size, each.place): (each.tally, each.first, each.second) for each in summary.counted}
    assert rows["2", "in dishes"] == (40, 39, 39)
    page = to_markdown(summary)
    for words in (
        "AB and CD, 2026-01-05 07:30. **2 things left open**.",
        "- **Left open at sign-off: size 2 of harvest A, in dishes: AB counted 39, CD counted 39, "
        "the tally has 40**: not found (informed: RS).",
        "## Final count",
        "Said aloud (WHO checklist, sign out):\n\n- instrument, sponge and needle counts are correct",
        "Not said aloud (WHO checklist, sign out):\n\n- the name of the procedure is recorded\n- specimens",
        "1 difference",
    ):
        assert words in page
    assert Summary.model_validate_json(to_json(summary)) == summary


def test_every_summary_says_first_what_was_left_open_why_and_who_was_informed():
    record = case_under_way()
    record.enter(c.PlaceGrafts(zone="LINE", size="2", count=3))
    left = tuple(
        LeftOpen(key=each.key, sentence=each.sentence, because=f"why {each.key}", informed="RS")
        for each in open_at_sign_off(record.state)
    )
    assert [each.key for each in left] == ["no-count", "no-fate", "misplaced:LINE:2"]
    record.enter(c.SignOff(second="CD", left_open=left), "AB")
    summary = summarise(record.state)
    short = to_markdown(summary).split("## In short\n\n")[1].split("\n")
    assert short[:3] == [
        "- **Left open at sign-off: no final count by two people**: why no-count (informed: RS).",
        "- **Left open at sign-off: 92 grafts are left, and what becomes of them is not entered**: "
        "why no-fate (informed: RS).",
        "- **Left open at sign-off: hairline: 3 twos in a zone for ones**:"
        " why misplaced:LINE:2 (informed: RS).",
    ]
    page = to_html(summary)
    assert page.index("why misplaced:LINE:2 (informed: RS)") < page.index("<h2>The day</h2>")
    found = json.loads(to_json(summary))["left_open"]
    assert [(each["mismatch"], each["open_because"], each["informed"]) for each in found] == [
        ("no-count", "why no-count", "RS"),
        ("no-fate", "why no-fate", "RS"),
        ("misplaced:LINE:2", "why misplaced:LINE:2", "RS"),
    ]
    assert "why misplaced:LINE:2" in to_csv_tables(summary)["left_open.csv"]
    for version in ("r4b", "r5"):
        bundle = json.loads(to_fhir(summary, version))
        noted = [
            note["text"]
            for each in bundle["entry"]
            if each["resource"]["resourceType"] == "Procedure"
            for note in each["resource"]["note"]
            if note["text"].startswith("Left open")
        ]
        assert noted == [
            "Left open at sign-off: no final count by two people: why no-count (informed: RS)",
            "Left open at sign-off: 92 grafts are left, and what becomes of them is not entered: "
            "why no-fate (informed: RS)",
            "Left open at sign-off: hairline: 3 twos in a zone for ones: why misplaced:LINE:2 (informed: RS)",
        ]


def test_an_older_sign_off_tells_its_difference_in_the_same_place():
    record = case_under_way()
    record.take(CaseSignedOff(second="CD", open_because="not found", informed="RS"))
    words = "- **Left open at sign-off: a difference in the final count**: not found (informed: RS)."
    assert words in to_markdown(summarise(record.state))


def test_a_case_closed_without_a_count_says_so():
    record = case_under_way()
    record.enter(c.SignOff(second="CD", **UNCOUNTED), "AB")
    assert "**None.** No valid count by two people" in to_markdown(summarise(record.state))


async def test_an_open_mismatch_and_other_stations_end_no_count(case: Path):
    async with seated(case, "overview", "OR") as seat:
        await seat.press("k", "1", "4")
        with station(case, "placing", who="CD") as other:
            entered(other, c.PlaceGrafts(zone="LINE", size="2", count=10))
        await seat.settle()
        assert "FINAL COUNT by AB" in seat.text
        await seat.press("escape", "escape", "y")
        assert "RE-PLAN" in seat.text


async def test_a_count_is_not_taken_once_the_tally_is_another(case: Path):
    async with seated(case, "overview", "OR") as seat:
        await both_count(seat, 58, 58)
        await seat.rest()
        await seat.press("a", "1")
        await seat.rest()
        with station(case, "placing", who="EF") as other:
            entered(other, c.PlaceGrafts(zone="FRONT", size="2", count=10))
        await seat.type("two lost")
        await seat.press("enter")
        assert "The tally has 50, not 60" in " ".join(seat.text.split())
    tally = read_case(case).tally
    assert (tally.held("dish", "2"), tally.held("missing", "2")) == (50, 0)


async def test_a_group_beyond_all_sense_is_not_taken_and_nothing_is_lost(case: Path):
    async with seated(case, "overview", "OR") as seat:
        await seat.press("k", "1", *"4", "enter", *"99999", "enter")
        assert seat.count is not None
        assert seat.count.found == {groups_to_count(seat.desk.state)[0]: 4}
        assert "99999 is not a count of a group; enter 0 to 10,000" in seat.text
        await seat.press("enter")
        assert "type the number first; 0 if there are none" in seat.text


async def test_what_was_counted_stays_in_view_under_the_cursor(case: Path):
    async with seated(case, "overview", "OR") as seat:
        await seat.press("k", "1", *"47", "enter", "up")
        assert "47 ▌" in seat.text
        await seat.press("5")
        assert "5▌" in seat.text
        assert "47" not in seat.text
        await seat.press("escape")
        assert "47 ▌" in seat.text
        await seat.press("enter")  # it holds: on to the next group
        assert seat.count is not None
        assert (seat.count.at, list(seat.count.found.values())) == (1, [47])


async def test_what_is_counted_goes_only_when_that_is_answered(case: Path):
    async with seated(case, "overview", "OR") as seat:
        await seat.press("k", "1", *"47", "enter", "escape")
        assert "Stop this count? 1 of 8 groups would have to be counted again." in seat.text
        await seat.rest()
        await seat.press("n")
        assert "FINAL COUNT by AB: 1 of 8 groups" in seat.text
        await seat.rest()
        await seat.press("escape")
        await seat.rest()
        await seat.press("y")
        assert "count was stopped: start again" in seat.text
        assert seat.count is None


async def test_the_sign_off_leads_only_where_nothing_is_open_and_says_what_each_answer_records(case: Path):
    async with seated(case, "overview", "OR") as seat:
        await both_count(seat, 60, 60)
        assert "FINAL COUNT: all agree, 100 left" in seat.text
        assert "100 grafts left, not placed: 100 in dishes, 0 with the placers." in seat.text
        assert re.search(r"\d prompts? due or late\.", seat.text)
        assert "Open before the sign-off: what becomes of the grafts that are left (g)." in seat.text
        keys = seat.text.split("\n")[-1]
        assert keys.index("g what is left") < keys.index("o sign off, 1 open")
        await seat.rest()
        await seat.press("g", "1")
        await seat.rest()
        await seat.press("y")
        await seat.until("o sign off ")
        assert "o sign off" in seat.text.split("\n")[-1].split("  ")[0]
        assert "open" not in seat.text.split("\n")[-1]
        await seat.rest()
        await seat.press("o")
        asked = "1 of 5, WHO sign out. Was it said aloud that the name of the procedure is recorded?"
        assert asked in " ".join(seat.text.split())
        assert "y said" in seat.text
        assert "n not said" in seat.text
        await seat.press("f1")
        assert "Then two people's initials." in " ".join(seat.text.split())


async def test_a_list_of_groups_is_in_the_order_of_the_count_with_totals(case: Path):
    async with seated(case, "overview", "OR") as seat:
        await seat.press("k", "1")
        order = [row[3:].split("  ")[0] for row in seat.text.split("\n") if row[1:2] in "○●" and row[1:2]]
        await seat.press("escape")
        await both_count(seat, 58, 57)
        rows = [row for row in seat.text.split("\n") if row[2:3] in {"≠", "●"}]
        short = [row[5:].split("  ")[0] for row in rows]
        assert [each.split(":")[0] for each in order] == [each.split(":")[0] for each in short]
        assert short[:2] == ["dish: ones, strip", "dish: twos, strip"]
        assert re.search(r"all +100 +98 +97", seat.text)


async def test_a_closed_case_is_not_counted_in_vain(case: Path):
    with station(case, "overview", who="OR") as desk:
        entered(desk, c.SignOff(second="CD", **UNCOUNTED))
    async with seated(case, "overview", "OR") as seat:
        await seat.press("k", "1")
        assert seat.count is None
        assert "Reopen it" in " ".join(seat.text.split())


async def test_a_closed_case_asks_for_no_second_sign_off(case: Path):
    async with seated(case, "overview", "OR") as seat:
        await both_count(seat, 60, 60)
    with station(case, "overview", who="OR") as desk:
        entered(desk, c.SignOff(second="CD", open_because="kept", informed="RS"))
    async with seated(case, "overview", "OR") as seat:
        await seat.press("k", "o")
        assert "The case is signed off already." in " ".join(seat.text.split())
        assert seat.screen.glance.question is None


async def test_the_re_plan_takes_the_place_of_the_comparison_and_none_is_made_of_a_closed_case(case: Path):
    async with seated(case, "overview", "OR") as seat:
        await both_count(seat, 60, 60)
        await seat.rest()
        await seat.press("y")
        assert "RE-PLAN" in seat.text
        assert "FINAL COUNT: all agree" not in seat.text
        await seat.press("escape")
    with station(case, "overview", who="OR") as desk:
        entered(desk, c.SignOff(second="CD", open_because="kept", informed="RS"))
    async with seated(case, "overview", "OR") as seat:
        await seat.press("y")
        assert "RE-PLAN" not in seat.text
        assert "its plan is not divided again" in " ".join(seat.text.split())


async def test_a_refusal_goes_when_a_question_is_opened(case: Path):
    async with seated(case, "overview", "OR") as seat:
        await seat.press("a")
        assert "a does nothing here" in seat.text
        await seat.press("n")
        assert "does nothing here" not in seat.text


def test_counts_that_others_replaced_stay_in_the_summary():
    record = _counted_twice()
    groups = tuple(
        CountedGroup(size=group.size, harvest=group.harvest, place=group.place, found=0)
        for group in groups_to_count(record.state)
    )
    for who in ("GH", "IJ"):
        record.enter(c.CountAll(groups=groups, since=record.state.seq), who)
    summary = summarise(record.state)
    assert [(each.who, each.grafts, each.holds) for each in summary.counts_made] == [
        ("AB", 94, False),
        ("CD", 94, False),
        ("GH", 0, True),
        ("IJ", 0, True),
    ]
    assert "AB: 94 in all" in to_markdown(summary)


async def test_keys_left_out_leave_no_digit_in_a_count(case: Path):
    async with seated(case, "overview", "OR") as seat:
        await seat.press("k", "1")
        await seat.rest()
        await seat.tap(*["5"] * 8, apart=0.03)
        await seat.rest()
        await seat.press("n")
        await seat.rest()
        assert seat.count is not None
        await seat.press("7", "enter")
        assert list(seat.count.found.values()) == [7]
        await seat.press(letter_beside(each.press for each in COUNTING.keys))
        assert "Esc stops the count" in seat.text


@pytest.mark.parametrize("size", [(80, 24), (40, 12), (30, 10)])
async def test_the_help_of_a_count_tells_its_keys_and_numbers_and_keeps_what_is_typed(
    case: Path, size: tuple[int, int]
):
    async with seated(case, "overview", "OR", size=size) as seat:
        await seat.press("k", "1", "4")
        before = seat.text
        seen = await read_help(seat)
        assert seat.text == before
        for key in COUNTING.keys:
            assert f"{key.shown} {key.does}" in seen
        for shown, means in COUNTING.numbers:
            assert f"{shown} {means}" in seen
        assert "re-divide" not in seen
        await seat.press("enter", "0", "enter", "escape")
        before = seat.text
        assert "Stop this count?" in " ".join(before.split())
        seen = await read_help(seat)
        assert "After answering, keys of the final count:" in seen
        assert seat.text == before


async def test_the_help_of_two_counts_tells_what_keys_do_there(case: Path):
    async with seated(case, "overview", "OR") as seat:
        await both_count(seat, 58, 57)
        before = seat.text
        assert "FINAL COUNT: 1 group differs" in before
        shown = await read_help(seat)
        assert seat.text == before
        assert "Keys of the two counts" in shown
        assert "o sign off by two people" in shown
        assert "s hand this station over" in shown
        assert "n add a note" in shown
        assert "tally what the record says of the group" in shown


@pytest.mark.parametrize("key", ["enter", "escape"])
async def test_a_count_that_is_ended_elsewhere_while_a_question_about_it_is_open_enters_nothing(
    case: Path, key: str
):
    async with seated(case, "overview", "OR") as seat:
        await seat.press("k", "1", *("0", "enter") * 8)
        await seat.rest()
        await seat.press(key)
        assert seat.screen.glance.question is not None
        begun = seat.desk.state.seq
        with station(case, "overview", "CD") as other:
            entered(other, c.GiveUpCount(begun=begun))
        await seat.until("this count was stopped at another station")
        ended = seat.desk.state.seq
        await seat.rest()
        await seat.press("y")
        assert seat.desk.state.seq <= ended + 1  # the other station leaves
        assert person_counts(seat.desk.state) == ()


async def test_a_prompt_is_answered_by_a_click_while_somebody_counts(case: Path):
    async with seated(case, "overview", "OR") as seat:
        await seat.press("k", "1", "4")
        await asyncio.sleep(DOUBLE_CLICK)  # what has only just come under the pointer is left out
        await seat.click("WET THE DISHES")
        assert seat.desk.state.tally.care["wet"].given_at_ms == seat.clock.at_ms
        assert "FINAL COUNT by AB" in seat.text
        assert seat.screen.glance.typed == "4"


async def test_every_key_of_what_stands_over_a_screen_is_in_its_help(case: Path):
    async with seated(case, "overview", "OR") as seat:
        over = seat.screen.over
        for described, overlay in ((COMPARING, over.of(Counting).comparison), (REPLANNING, over.of(Replan))):
            found = {each.press or "escape" for each in described.keys}
            assert found == {key for key in overlay.keys if key not in {"pagedown", "pageup"}}


async def read_help(seat: Seat) -> str:
    """Every page of the help, turned by F1 until the screen is there again."""
    read = []
    await seat.press("f1")
    while seat.screen.glance.reading is not None:
        read.append("\n".join(each for n, each in enumerate(seat.text.split("\n")[:-1]) if not read or n > 1))
        await seat.press("f1")
    return " ".join(" ".join(read).split())


async def test_who_took_a_station_over_is_among_those_who_may_count(case: Path):
    with station(case, who="AB") as desk:
        desk.ask(c.HandOver(left="AB"), "XY").result(10)
    async with seated(case, "overview", "EF") as seat:
        await seat.press("k")
        assert "1: AB    2: CD    3: EF    4: XY    0: somebody else" in " ".join(seat.text.split("▸")[1:])
        await seat.press("4")
        assert "XY" in seat.text


def test_a_number_is_never_far_from_the_group_it_is_of():
    """On a wall of 200 columns too: no more than 48 columns from the edge where its group begins."""
    record = case_under_way()
    under_way = CountUnderWay("AB", groups_to_count(record.state), record.state.seq)
    under_way.press("7")
    for width in (40, 80, 200):
        glance = Glance(role="overview", who="OR", width=width, height=24)
        rows = [text_of(each) for each in counting_lines(record.state, record.now_ms, glance, under_way)]
        (row,) = (each for each in rows if "7▌" in each)
        assert len(row.rstrip()) <= min(width, 48)


def test_enter_goes_on_to_the_next_group_that_was_not_counted_round_the_end():
    count = CountUnderWay("AB", groups_to_count(case_under_way().state), 5)
    for key in ("down", "7", "enter"):  # the second
        count.press(key)
    assert count.at == 2
    for key in ("up", "up", "4", "enter"):  # the first: the second is counted already
        count.press(key)
    assert count.at == 2
    last = len(count.groups) - 1
    count.go_to(last)
    for key in ("1", "enter"):
        count.press(key)
    assert count.at == 2
    for key in ("1", "2", "backspace", "enter"):
        count.press(key)
    assert [count.found.get(count.groups[at]) for at in (0, 1, 2, last)] == [4, 7, 1, 1]
