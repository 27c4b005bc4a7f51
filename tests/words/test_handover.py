"""What the person who comes is shown: every line exact, never more than ten, blind while a count is made."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from cases import UNCOUNTED, Record, all_fated, case_under_way, opened_case, records, small_plan
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from stations import entered, new_case, station

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.evolve import fold
from orroom.case.final_count import count_running, groups_to_count
from orroom.case.plan import Harvest
from orroom.cli import main
from orroom.figures.counts import by_zone
from orroom.figures.lanes import held_in
from orroom.figures.next_zone import sized
from orroom.figures.pace.finish import Finish, Outlook, WorkOutlook
from orroom.figures.pace.rates import Pace
from orroom.figures.wording import grafts
from orroom.screens.stations.views.handover import MOST_ROWS, in_rows
from orroom.screens.terminal.painting import line, width_of
from orroom.words.handover import handover


def lines(record: Record, left: str | None = None, **asked: bool) -> list[str]:
    return [
        f"{each.mark} {each.words}".lstrip() for each in handover(record.state, record.now_ms, left, **asked)
    ]


def cared_for(record: Record) -> Record:
    for care in ("wet", "renew", "cold"):
        record.enter(c.GiveCare(care=care, temperature_c=4.0 if care == "cold" else None), "EF")
    return record


def counted(record: Record, who: str, found: int) -> None:
    groups = tuple(
        e.CountedGroup(size=each.size, harvest=each.harvest, place=each.place, found=found)
        for each in groups_to_count(record.state)
    )
    record.enter(c.CountAll(groups=groups, since=record.state.seq), who)


def test_a_case_that_has_not_begun():
    assert lines(opened_case(), "EF") == [
        "no graft or tissue of any harvest waits",
        "○ 0 of 180 placed; 0 of 3 zones done",
        "since EF's last entry at 07:30: nothing",
    ]


def test_a_day_under_way():
    """Harvest A left the body at 06:30; all care was given at 07:30, so the first is due at 07:45."""
    record = cared_for(case_under_way())
    record.enter(c.IssueGrafts(size="2", count=12), "CD")
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=7), "CD")
    record.wait(16)
    assert lines(record) == [
        "! 14 min late: wet the grafts with the placers; 1 min late: wet the dishes",
        "95 usable, 88 waiting, 5 of them with the placers; harvest A: oldest out 1 h 16, 83 in dishes,"
        " 0 of 4 segments done",
        "with the placers: 5 grafts since 07:30:10",
        "○ 7 of 180 placed; 0 of 3 zones done; frontal 7/80",
        "◷ next: temperature at 08:00; renew solution at 08:30",
    ]
    assert lines(record, brief=True) == [
        "! 14 min late: wet the grafts with the placers; 1 min late: wet the dishes",
        "88 waiting, 5 with placers; A: oldest out 1 h 16, 83 in dishes, 0 of 4",
        "with placers: 5 since 07:30",
        "○ 7/180 placed; zones 0/3; frontal 7/80",
        "◷ next: temperature at 08:00; renew solution at 08:30",
    ]


def test_each_lane_is_named_that_of_who_leaves_first_then_the_longest_dry():
    record = cared_for(case_under_way())
    for lane, by, zone in (("a", "GH", "FRONT"), ("d", "JK", "MID"), ("g", "MN", "FRONT")):
        record.enter(c.OpenLane(lane=lane, by=by), "CD")
        record.enter(c.IssueGrafts(size="2", count=6, lane=lane), "CD")
        record.enter(c.PlaceGrafts(zone=zone, size="2", count=2 if lane != "g" else 6, lane=lane), "CD")
    [mine] = [each for each in handover(record.state, record.now_ms, "JK") if each.name == "lanes"]
    assert mine.items == (
        "lane d, still JK's: 4 twos since 07:30:14, mid-scalp",
        "lane a, GH: 4 twos since 07:30:11, frontal",
        "lane g, MN: empty, frontal, twos",
    )
    [briefly] = [
        each for each in handover(record.state, record.now_ms, "XY", brief=True) if each.name == "lanes"
    ]
    assert briefly.items == (
        "a, GH: 4 twos, frontal",
        "d, JK: 4 twos, mid-scalp",
        "g, MN: 0, frontal, twos",
    )
    record.enter(c.HandOverLane(lane="d", by="PQ"), "CD")  # in the middle of a batch
    assert "lane d, PQ: 4 twos since 07:30:14, mid-scalp" in lines(record, "JK")[1]


def test_two_harvests_the_oldest_first_and_one_whose_start_nobody_entered():
    record = cared_for(case_under_way())
    record.enter(c.CutGrafts(harvest="B", size="2", count=4))
    found = lines(record)
    assert (
        "99 usable, 99 waiting, 0 of them with the placers; "
        "harvest A: oldest out 1 h 00, 95 in dishes, 0 of 4 segments done; "
        "harvest B: time out not known: no start entered, 4 in dishes, 0 of 3 segments done"
    ) in found
    assert found[-1] == "◷ next: wet the dishes at 07:45; temperature at 08:00; renew solution at 08:30"
    record.enter(c.StartHarvest(harvest="B", minutes_ago=20))
    assert "harvest B: time out not known: starts after its grafts" not in " ".join(lines(record))
    assert "harvest B: out 20 min, 4 in dishes, 0 of 3 segments done" in " ".join(lines(record))


def test_tissue_out_of_the_body_is_said_before_a_graft_of_it_is_cut():
    plan = replace(small_plan(), harvests=(Harvest(key="A", label="strip"),))
    record = opened_case(plan)
    record.enter(c.StartHarvest(harvest="A", minutes_ago=20))
    assert "harvest A: oldest out 20 min, 0 in dishes" in " ".join(lines(record))


def test_what_is_open_goes_before_where_things_are():
    record = cared_for(case_under_way())
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=41), "CD")
    assert lines(record)[:2] == [
        "≠ harvest A: 11 ones too many taken from the dishes; hairline: 1 one placed over plan",
        "95 ≠ usable, 54 ≠ waiting, 0 of them with the placers; harvest A: oldest out 1 h 00, 54 ≠ in dishes,"
        " 0 of 4 segments done",
    ]


def test_a_broken_limit_is_said_until_somebody_says_what_was_done():
    record = cared_for(case_under_way())
    record.enter(c.GiveCare(care="cold", temperature_c=9.5), "EF")
    assert lines(record)[0] == "◇ limit broken: holding solution 9.5 °C, too warm (limit 2 to 8 °C)"
    assert lines(record, brief=True)[0] == "◇ limit broken: 9.5 °C, too warm"
    assert "open:" not in " ".join(lines(record))
    record.wait(1)
    record.enter(c.AnswerLimit(limit="temperature:cold", done="fresh ice"), "EF")
    assert not any(each.startswith("◇") for each in lines(record))
    assert "fresh ice" in lines(record, "AB")[-1]


def test_a_size_that_will_be_short_is_said_as_at_the_overview():
    record = cared_for(opened_case())
    record.enter(c.StartHarvest(harvest="A"))
    record.enter(c.StartHarvest(harvest="B"))
    for harvest, segments in (("A", 4), ("B", 3)):
        record.enter(c.CutGrafts(harvest=harvest, size="2", count=30))
        for _ in range(segments):
            record.enter(c.FinishSegment(harvest=harvest))
    [short] = [each.words for each in handover(record.state, record.now_ms, None) if each.name == "too few"]
    assert short == "cutting: ones short by 50; twos short by 20; threes short by 40; multi-unit short by 10"


def test_after_the_final_count_its_differences_and_fates_are_open():
    record = case_under_way()
    for who, found in (("AB", 3), ("CD", 3)):
        record.enter(c.BeginCount(), who)
        counted(record, who, found)
    [still] = [each for each in handover(record.state, record.now_ms, None) if each.name == "open"]
    assert still.items[0] == "size 1 of harvest A, in dishes: AB counted 3, CD counted 3, the tally has 30"
    assert still.items[-1] == "95 grafts are left, and what becomes of them is not entered"
    assert not any("no final count" in each for each in still.items)
    all_fated(record)
    [still] = [each for each in handover(record.state, record.now_ms, None) if each.name == "open"]
    assert not any("what becomes" in each for each in still.items)


def test_the_final_count_is_missing_only_once_nothing_is_owed():
    record = case_under_way()
    assert not any(each.name == "open" for each in handover(record.state, record.now_ms, None))
    for zone in record.state.plan.zones:
        for size, count in zone.planned.items():
            record.enter(c.PlaceGrafts(zone=zone.key, size=size, count=count), "CD")
    assert "? open: no final count by two people" in lines(record)


def test_a_signed_off_case_says_by_whom_and_runs_no_prompt():
    record = case_under_way()
    record.enter(c.SignOff(second="CD", **UNCOUNTED), "AB")
    found = lines(record)
    assert found[0] == "‖ signed off by AB and CD"
    assert not any("next:" in each or "late" in each or "open:" in each for each in found)


def test_an_old_record_says_that_prompts_are_off():
    record = case_under_way()
    record.wait(20 * 60)
    found = lines(record)
    assert found[-1] == "‖ old record (2026-01-05): prompts are off"
    assert "harvest A: oldest out 1 h 00 at the last entry, 95 in dishes, 0 of 4 segments done" in " ".join(
        found
    )


def test_what_is_paused_says_until_when_also_on_the_next_day():
    record = cared_for(case_under_way())
    record.wait(23 * 60 + 45)
    cared_for(record)
    record.enter(c.PausePrompt(care="wet", minutes=20), "EF")
    assert lines(record)[-1] == (
        "◷ next: temperature at day 2 07:45; renew solution at day 2 08:15; "
        "wet the dishes paused until day 2 07:35"
    )


# What changed.


def test_what_others_entered_since_is_added_up_and_said():
    record = cared_for(case_under_way())
    record.wait(5)
    record.enter(c.CutGrafts(harvest="A", size="3", count=2))  # AB's last entry
    record.wait(1)
    record.enter(c.AddNote(text="head rest raised"), "EF")
    record.enter(c.CutGrafts(harvest="A", size="1", count=3), "GH")
    wrong = record.enter(c.CutGrafts(harvest="A", size="1", count=500), "GH")
    record.enter(c.TakeBack(role="cutting"), "GH")
    assert record.state.corrected_by[wrong.seq]
    record.enter(c.CutGrafts(harvest="A", size="2", count=1), "JK")
    record.enter(c.FinishSegment(harvest="A"), "JK")
    record.enter(c.MakeSites(zone="FRONT", count=20, by="RS"), "CD")
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=11), "CD")
    record.enter(c.GiveCare(care="wet"), "EF")
    record.enter(c.GiveCare(care="wet"), "EF")
    record.enter(c.GiveCare(care="cold", temperature_c=4), "EF")
    assert lines(record, "AB")[-1] == (
        "since AB's last entry at 07:35: note: head rest raised (EF); 11 placed by CD; 4 cut by GH, JK; "
        "20 sites made by RS; 1 segment finished by JK; wet the dishes 2×; temperature"
    )
    assert lines(record, "AB", brief=True)[-1].startswith(
        "since 07:35: note: head rest raised (EF); 11 placed"
    )
    assert lines(record, "EF")[-1].endswith(": nothing")
    assert not any("since" in each for each in lines(record, "XY")[-1:])  # who never entered anything


@given(records(), st.sampled_from(["AB", "CD", "EF"]))
def test_what_changed_adds_up_with_the_tally_before_and_after(record: Record, left: str):
    state = record.state
    mine = [each.seq for each in state.log if each.stamp.who == left]
    if (
        not mine
        or count_running(state)
        or any(isinstance(each.event, e.EntryCorrected) for each in state.log)
    ):
        return
    then = fold(list(state.log[: mine[-1]])).tally
    words = handover(state, record.now_ms, left)[-1].words
    later = [each.event for each in state.log[mine[-1] :]]
    spoilt = sum(each.count for each in later if isinstance(each, e.GraftsDiscarded) and each.harvest)
    at_the_end = sum(each.count for each in later if isinstance(each, e.FateGiven) and each.into_zone)
    for word, account, less in (("placed", "placed", at_the_end), ("cut", "cut", spoilt)):
        found = re.search(rf"([\d,]+) {word} by", words)
        assert (
            int(found[1].replace(",", "") if found else 0)
            == state.tally.held(account) - then.held(account) - less
        )


# The room there is.


@given(records(), st.integers(20, 140), st.integers(2, 10), st.booleans())
def test_never_more_rows_nor_wider_than_the_screen(record: Record, width: int, most: int, brief: bool):
    parts = handover(record.state, record.now_ms, "AB", brief=brief)
    assert len(parts) <= MOST_ROWS
    rows = in_rows(parts, width, most)
    assert len(rows) <= most
    assert all(width_of(line(each.words)) <= width - 2 for each in rows)
    firsts = [each for each in rows if each.first and not each.words.startswith("hidden: ")]
    assert [each.mark for each in firsts] == [
        each.mark for each in parts[: len(firsts)]
    ]  # none is passed over
    if len(parts) > most:
        assert rows[-1].words.startswith("hidden: ")


@given(records(), st.integers(30, 140), st.booleans())
def test_no_number_is_cut_and_none_is_made_up(record: Record, width: int, brief: bool):
    parts = handover(record.state, record.now_ms, "AB", brief=brief)
    known = {number for part in parts for number in re.findall(r"\S*\d\S*", part.words)}
    for row in in_rows(parts, width):
        more = r" ?\+\d+( more( \w+)?)?$|(and )?\d+ more( \w+)?( at .*| due| among .*)?$|^hidden: .*"
        said = re.sub(more, "", row.words)
        assert {each.rstrip(";,:…") for each in re.findall(r"\S*\d\S*", said)} <= {
            each.rstrip(";,:…") for each in known
        }


@given(records())
def test_every_figure_is_that_of_the_screens(record: Record):
    state = record.state
    parts = {each.name: each for each in handover(state, record.now_ms, None)}
    if "zones" not in parts:
        return  # a count is being made
    half = [each for each in by_zone(state) if each.owed_total and each.placed_total > 0]
    assert parts["zones"].items[1:] == tuple(
        f"{each.zone.label} {grafts(each.placed_total)}/{grafts(each.planned_total)}" for each in half
    )
    for lane in state.tally.lanes:
        (item,) = [each for each in parts["lanes"].items if each.startswith(f"lane {lane}, ")]
        held = [sized(count, size) for size, count in held_in(state, lane).items()] or ["empty"]
        assert set(item.partition(": ")[2].partition(" since ")[0].partition(",")[0].split(" + ")) == set(
            held
        )
    for item in parts["harvests"].items:
        if found := re.match(r"harvest (\w+): .*?([−\d,]+) in dishes", item):
            assert found[2] == grafts(state.tally.held("dish", harvest=found[1]))


def test_where_there_is_no_room_the_most_pressing_stays_and_the_rest_is_counted():
    record = case_under_way()
    for lane, by in (("a", "GH"), ("d", "JK"), ("g", "MN")):
        record.enter(c.OpenLane(lane=lane, by=by), "CD")
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=41), "CD")
    record.enter(c.AddNote(text="tea"), "EF")
    parts = handover(record.state, record.now_ms, "AB", brief=True)
    assert [each.words for each in in_rows(parts, 40, 6)] == [
        "45 min late: wet the dishes +2 more",
        "harvest A: 11 ones too many … +1 more",
        "54 ≠ waiting, 0 with placers; A …",
        "a, GH: 0; d, JK: 0; g, MN: 0",
        "41/180 placed; zones 1/3",
        "since 07:30: note: tea (EF) +4 more",
    ]
    assert in_rows(parts, 60, 4)[-1].words == "hidden: lanes, zones, changes (make the window larger)"
    parts = handover(record.state, record.now_ms, None)
    assert in_rows(parts, 90, 5)[1].words == (
        "harvest A: 11 ones too many taken from the dishes; hairline: 1 one placed over plan"
    )


def test_when_all_will_be_done_is_said_and_that_somebody_has_to_go_on():
    record = case_under_way()
    work = WorkOutlook("placing", Pace(9, 1, None, None, None, None, None, ()), 9, None, None)
    times = Finish(*(record.now_ms + minutes * 60_000 for minutes in (10, 20, 30, 40)))
    ahead = Outlook((work,), times, "placing", None, ())
    (zones,) = (
        part for part in handover(record.state, record.now_ms, "AB", ahead=ahead) if part.name == "zones"
    )
    assert zones.words.startswith("0 of 180 placed, expected to finish at 07:50; 0 of 3")
    idle = replace(ahead, works=(replace(work, none_for_ms=60_000),))
    (zones,) = (
        part for part in handover(record.state, record.now_ms, "AB", ahead=idle) if part.name == "zones"
    )
    assert "expected to finish at 07:50 if placing goes on now; " in zones.words


# While a final count is made.


def two_days() -> list[Record]:
    """Two cases that differ in numbers alone: cut, placed, handed to a lane, discarded, moved, counted."""
    days = []
    for more in (0, 3):
        record = case_under_way()
        record.enter(c.GiveCare(care="cold", temperature_c=9.5), "EF")
        record.enter(c.OpenLane(lane="a", by="GH"), "CD")
        record.enter(c.CutGrafts(harvest="A", size="2", count=5 + more))
        record.enter(c.IssueGrafts(size="2", count=6 + more, lane="a"), "CD")
        record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=2 + more), "CD")
        placed = record.enter(c.PlaceGrafts(zone="LINE", size="1", count=40 - more), "CD")
        record.enter(c.MovePlacing(entry=placed.seq, zone="FRONT"), "CD")
        record.enter(c.CountDish(size="3", harvest="A", place="dish", found=15 + more), "EF")
        record.enter(c.AddNote(text="tea"), "EF")
        record.wait(30)
        days.append(record)
    return days


@pytest.mark.parametrize("brief", [False, True])
def test_no_line_depends_on_what_there_is_while_a_count_is_made(brief: bool):
    few, more = two_days()
    assert lines(few, "AB", brief=brief) != lines(more, "AB", brief=brief)
    for record in (few, more):
        record.enter(c.BeginCount(), "EF", station="overview-1")
    assert lines(few, "AB", brief=brief) == lines(more, "AB", brief=brief)
    assert lines(few, "AB")[0] == "‖ final count under way: counts are hidden. EF counts since 08:00"
    assert "wet lane a's grafts (GH)" in lines(few, "AB")[1]
    assert lines(few, "AB")[-1].endswith("note: tea (EF)")
    assert len(lines(few, "AB")) == 4
    assert lines(few, "AB")[2] == "◇ limit broken: holding solution 9.5 °C, too warm (limit 2 to 8 °C)"


# The command.


def handed_over(*arguments: object) -> Result:
    return CliRunner().invoke(main, ["handover", *map(str, arguments)])


@pytest.fixture
def case(tmp_path: Path) -> Path:
    path = new_case(tmp_path / "case.orroom")
    with station(path) as desk:
        entered(desk, c.StartHarvest(harvest="A"))
        entered(desk, c.CutGrafts(harvest="A", size="1", count=30))
    return path


def test_the_command_prints_the_same_lines_with_their_time_and_enters_nothing(case: Path):
    before = case.read_bytes()
    result = handed_over(case, "--from", "AB")
    assert result.exit_code == 0
    said = [
        re.sub(r"^\d\d:\d\d:\d\d |^day \d+ \d\d:\d\d:\d\d ", "", each) for each in result.stdout.splitlines()
    ]
    assert len(said) <= MOST_ROWS
    assert "○ 0 of 180 placed; 0 of 3 zones done" in said
    assert any(each.startswith("since AB's last entry at ") for each in said)
    assert "since AB" not in handed_over(case).stdout
    plain = handed_over(case, "--plain")
    assert not set("≠◷◉‖●○") & set(plain.stdout)
    assert "0 of 3 zones done" in plain.stdout
    assert case.read_bytes() == before


def test_hostile_text_of_an_older_record_is_made_visible(case: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("orroom.words.handover.entry_words", lambda event, plan: "note: \x1b[2J")
    with station(case, "overview", "EF") as desk:
        entered(desk, c.AddNote(text="tea"))
    found = handed_over(case, "--from", "AB").stdout
    assert "note: " in found
    assert "\x1b" not in found


def test_a_hand_over_from_nobody_in_the_record_is_refused(case: Path):
    result = handed_over(case, "--from", "XY")
    assert result.exit_code == 1
    assert result.stderr == f"orroom: XY has entered nothing in {case}. Who has: AB, EF.\n"


def test_no_case_is_one_sentence(tmp_path: Path):
    result = handed_over(tmp_path / "nothing.orroom")
    assert result.exit_code == 3
    assert "does not exist" in result.stderr
