"""What is overdue grows in size and in words, covers no count and takes no tap away."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from cases import MINUTE_MS, Record, case_under_way, opened_case, records, small_plan
from hypothesis import given, settings
from hypothesis import strategies as st
from painted import PAINTERS
from seats import Seat, seated
from stations import entered, new_case, station

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.plan import CareRound
from orroom.case.terms import ROLES, Role
from orroom.figures.holding import harvest_ages
from orroom.figures.pace.rest_of_day import foretold
from orroom.figures.prompts import prompts, urgent_first
from orroom.screens.stations.views.frame import Glance
from orroom.screens.stations.views.prompting import LEAST_NAME, prompt_lines, wall_prompt_lines
from orroom.screens.terminal.digits import Scale, block_digits, largest_scale
from orroom.screens.terminal.painting import Line, text_of, width_of

SIZES = [(80, 24), (120, 40), (200, 60), (40, 12), (60, 18)]


def answered() -> Record:
    """A case in which every round was given just now: the dishes are due in 15 minutes, 2 minutes' grace."""
    record = case_under_way()
    for care in ("wet", "renew", "cold"):
        record.enter(c.GiveCare(care=care, temperature_c=4.0 if care == "cold" else None))
    return record


def rows(record: Record, width: int = 80, most: int = 3) -> list[str]:
    return [text_of(each).rstrip() for each in prompt_lines(record.state, record.now_ms, width, most)]


def painted(record: Record, role: Role, width: int, height: int) -> list[Line]:
    known = foretold(record.state, record.now_ms)
    glance = Glance(role=role, who="AB", width=width, height=height, foretold=known)
    return PAINTERS[role](record.state, record.now_ms, glance)


def test_it_grows_step_by_step():
    record = answered()
    record.wait(15.5)
    assert rows(record)[0].startswith(" ◉ wet the dishes DUE NOW")
    assert "temperature" in rows(record)[0]
    record.wait(0.5)  # now is a minute long, whatever its grace
    assert rows(record)[0] == " ! WET THE DISHES · 1 min late"
    record.wait(1.9)
    assert rows(record)[0] == " ! WET THE DISHES · 2 min late"
    record.wait(101.6)
    assert " ! WET THE DISHES · 1 h 44 late" in rows(record)


def test_all_that_is_late_is_in_one_block_and_the_first_says_which_key_answers_it():
    record = answered()
    record.enter(c.GiveCare(care="renew"))
    record.wait(33)  # the dishes are long overdue, the others not so long
    lines = prompt_lines(record.state, record.now_ms, 80, answer="Space")
    late = [each for each in lines if "late" in text_of(each).lower()]
    assert len(late) >= 2
    assert {(span.tone, width_of(each)) for each in late for span in each} == {("pressing", 80)}
    assert [text_of(each).count("Space when done") for each in late] == [1] + [0] * (len(late) - 1)
    record.enter(c.GiveCare(care="wet"))
    record.enter(c.GiveCare(care="renew"))
    (first, *_) = prompt_lines(record.state, record.now_ms, 80, answer="0")
    assert text_of(first).startswith(" ! TEMPERATURE · ")
    assert " · 0 to enter it" in text_of(first)


def test_a_whole_row_is_its_button_and_has_a_tone_of_its_own():
    record = answered()
    record.wait(25)
    (span,) = prompt_lines(record.state, record.now_ms, 80)[0]
    assert width_of((span,)) == 80
    assert (span.tone, span.action) == ("pressing", "answer_prompt('wet')")


@pytest.mark.parametrize("width", [30, 40, 60])
def test_where_there_is_little_room_the_name_is_shortened_never_what_is_the_matter(width: int):
    record = answered()
    record.wait(25)
    (row,) = rows(record, width, 1)
    assert "10 min late" in row.lower()
    assert row.endswith("and 2 more" if width >= 40 else "  +2")
    assert len(row) <= width
    assert len(row.split(" ·")[0]) >= LEAST_NAME


@pytest.mark.parametrize("minutes", [25, 120])
def test_a_late_prompt_keeps_its_key_where_its_words_are_shortened(minutes: int):
    record = answered()
    record.wait(minutes)
    (line,) = prompt_lines(record.state, record.now_ms, 40, 1, answer="Space")
    row = text_of(line)
    assert re.match(r" ! WET.* · \d.* LATE · Space +\+2$", row, re.IGNORECASE), row
    assert len(row) <= 40


def test_of_two_prompts_that_begin_alike_the_small_screen_says_which_is_late():
    record = answered()
    record.enter(c.IssueGrafts(size="2", count=5))
    record.wait(38)
    (line,) = prompt_lines(record.state, record.now_ms, 40, 1, answer="Space")
    assert re.match(r" ! WET GRAFTS · \d+ min late · Space +\+3$", text_of(line), re.IGNORECASE)


@pytest.mark.parametrize("label", ["wet the dishes", "renew holding solution", "read the temperature"])
def test_a_name_is_shortened_by_whole_words_and_no_bracket_is_left_open(label: str):
    plan = small_plan(
        care=(
            CareRound(key="cold", label=label, kind="temperature", every_minutes=30, low_c=2, high_c=8),
            CareRound(key="wet", label="shake", kind="wet", every_minutes=40),
        )
    )
    record = opened_case(plan)
    record.enter(c.StartHarvest(harvest="A"))
    record.enter(c.GiveCare(care="cold", temperature_c=11.5))
    for minutes in (1, 30, 4, 10, 60):
        record.wait(minutes)
        for width in range(30, 60):
            (row,) = rows(record, width, 1)
            assert row.count("(") == row.count(")"), row
            shown = re.match(r" . (.*?)( DUE| ·| in \d)", row)
            assert shown is not None, row
            assert set(shown[1].lower().split()) <= {*label.split(), "…"}, row


@pytest.mark.parametrize("most", [1, 2, 3, 6])
def test_they_take_no_more_rows_than_they_are_given(most: int):
    record = answered()
    record.wait(300)
    lines = prompt_lines(record.state, record.now_ms, 80, most)
    assert len(lines) <= most
    shown = sum(bool(span.action) for each in lines for span in each)
    left_out = len(prompts(record.state, record.now_ms)) - shown
    assert (f"and {left_out} more late" in text_of(lines[-1])) is (left_out > 0)


@settings(max_examples=60)
@given(records(), st.integers(0, 600), st.sampled_from((30, 40, 80, 120)), st.integers(1, 6))
def test_no_case_breaks_them(record: Record, minutes: int, width: int, most: int):
    record.wait(minutes)
    for paint in (prompt_lines, wall_prompt_lines):
        lines = paint(record.state, record.now_ms, width, most)
        assert all(width_of(each) <= width for each in lines)
        assert lines
    assert len(prompt_lines(record.state, record.now_ms, width, most)) <= most


# On a wall.


def test_on_a_wall_it_is_larger_still():
    record = answered()
    record.wait(18)
    for minutes, words in (
        ("3 MIN", "! WET THE DISHES · 3 min late"),
        ("13 MIN", "! WET THE DISHES · 13 min late"),
    ):
        large = band(record, 120, 40)
        assert text_of(large[-1]).strip() == f"{words} · Space when done"
        drawn = block_digits(f"WET DISHES · {minutes} LATE", Scale(4, 1))
        assert [text_of(each).strip() for each in large[1:-1]] == [row.strip() for row in drawn]
        assert all(span.action == "answer_prompt('wet')" for each in large for span in each)
        record.wait(10)


def band(record: Record, width: int, height: int) -> list[Line]:
    """The rows of the most urgent prompt on an overview."""
    lines = painted(record, "overview", width, height)
    first = next(n for n, each in enumerate(lines) if {span.tone for span in each} == {"pressing"})
    return lines[first : first + 7]


def test_the_latest_comes_first_whatever_its_grace():
    """The temperature has a longer grace than the dishes, and has been due for longer."""
    care = (
        CareRound(key="wet", label="wet the dishes", kind="wet", every_minutes=20, grace_minutes=1),
        CareRound(key="cold", label="temperature", kind="temperature", every_minutes=15, grace_minutes=30),
    )
    record = opened_case(small_plan(care=care))
    record.enter(c.StartHarvest(harvest="A", minutes_ago=25))
    first, second = rows(record)[:2]
    assert first == " ! TEMPERATURE · 10 min late"
    assert second == " ! WET THE DISHES · 5 min late"


def test_what_is_late_and_has_no_room_is_counted_as_late():
    record = answered()
    record.wait(33)  # the dishes and the temperature are late, the solution is not due yet
    assert rows(record, 60, 1)[0].endswith("and 2 more, 1 late")
    record.wait(33)
    assert rows(record, 60, 2)[-1].endswith("and 1 more late")
    assert rows(record, 40, 1) == [" ! WET DISHES · 51 min late   +2 late"]
    record = answered()
    record.wait(16)  # the others are not due yet
    assert rows(record, 40, 1) == [" ! WET DISHES · 1 min late   and 2 more"]


def test_a_tall_wall_has_all_that_is_late_in_letters_of_one_size():
    record = answered()
    record.wait(33)
    shown = [text_of(each).strip() for each in painted(record, "overview", 200, 60)]
    late = [
        each.label.upper() for each in urgent_first(prompts(record.state, record.now_ms)) if each.pressing
    ]
    assert len(late) == 2
    minutes = [each.late_ms // MINUTE_MS for each in urgent_first(prompts(record.state, record.now_ms))]
    acts = [
        f"{each.replace('THE ', '')} · {late} MIN LATE" for each, late in zip(late, minutes, strict=False)
    ]
    found = [
        scale
        for scale in (Scale(digit, 1) for digit in (6, 5, 4, 3))
        if all(row.strip() in shown for act in acts for row in block_digits(act, scale))
    ]
    assert len(found) == 1, (acts, shown)


def late_by_15(label: str) -> Record:
    """A round of this name is late by 15 minutes, and nothing else is."""
    record = opened_case(small_plan(care=(CareRound(key="wet", label=label, kind="wet", every_minutes=15),)))
    record.enter(c.StartHarvest(harvest="A"))
    record.wait(30)
    return record


@pytest.mark.parametrize("size", [(120, 40), (160, 50), (200, 60)])
@pytest.mark.parametrize("label", ["renew holding solution", "wet the dishes", "wet grafts", "öffnen"])
def test_no_large_figure_on_a_wall_is_without_what_is_late(label: str, size: tuple[int, int]):
    """What is late and for how long where both fit, at the largest scale; else what is late alone."""
    act = {"öffnen": "OFFNEN"}.get(label, label.upper())
    both = f"{act} · 15 MIN LATE"
    scale, without = (largest_scale([each], size[0] - 4, 5) for each in (both, both.replace("THE ", "")))
    large = both if scale.width else act
    if without.width > scale.width:  # an article gives way to size
        scale, large = without, both.replace("THE ", "")
    scale = scale if scale.width else largest_scale([act], size[0] - 4, 5)
    assert scale.width
    rows = band(late_by_15(label), *size)
    assert [text_of(each).strip() for each in rows[1:6]] == [
        each.strip() for each in block_digits(large, scale)
    ]
    assert f"! {label.upper()} · 15 min late" in text_of(rows[-1])


@pytest.mark.parametrize("label", ["смочить", "more words than a wall of this width has room for"])
def test_words_without_large_letters_are_right_above_their_minutes(label: str):
    rows = band(late_by_15(label), 120, 40)
    assert text_of(rows[0]).startswith(f" ! {label.upper()} · 15 min late")
    drawn = [each.strip() for each in block_digits("15 MIN LATE", Scale(6, 1))]
    assert [text_of(each).strip() for each in rows[1:6]] == drawn


def test_on_a_wall_grafts_with_placers_and_in_a_lane_are_named_in_large_letters():
    record = answered()
    record.enter(c.IssueGrafts(size="2", count=3))
    record.wait(14)
    assert_large(record, "WET GRAFTS")
    record.enter(c.ReturnGrafts(size="2", count=record.state.tally.held("bench")))
    record.enter(c.OpenLane(lane="a", by="GH"))
    record.enter(c.IssueGrafts(size="2", count=3, lane="a"))
    for care in ("wet", "renew", "cold"):
        record.enter(c.GiveCare(care=care, temperature_c=4.0 if care == "cold" else None))
    record.wait(14)
    assert_large(record, "WET LANE A")


def assert_large(record: Record, act: str) -> None:
    """What the wall says in large letters begins with ``act``."""
    drawn = [each.strip() for each in block_digits(act, Scale(4, 1))]
    rows = [text_of(each).strip() for each in band(record, 120, 40)[1:6]]
    assert [row[: len(each)] for row, each in zip(rows, drawn, strict=True)] == drawn


# Near, not yet due.


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("role", ROLES)
def test_what_is_due_within_two_minutes_has_a_mark_and_a_weight_of_its_own(role: Role, size: tuple[int, int]):
    record = answered()
    record.wait(12)
    for mark, tone in (("◷", "dim"), ("◕", "strong")):
        spans = [each for row in painted(record, role, *size) for each in row if "wet" in each.text]
        assert [(each.text.strip()[0], each.tone) for each in spans if each.text.strip()[0] in "◷◕"] == [
            (mark, tone)
        ]
        record.wait(1)


# What the key answers is named where all keys are.


def test_the_key_line_names_the_prompt_that_space_answers():
    record = answered()

    def keys(size: tuple[int, int]) -> str:
        return " ".join(text_of(each) for each in painted(record, "cutting", *size)[-2:])

    for size in SIZES[:3]:
        assert "Space prompt done? " in keys(size)  # it asks which
    record.wait(15.5)
    for size in SIZES[:3]:
        assert "Space done: wet the dishes " in keys(size)
    record.enter(c.GiveCare(care="wet"))
    record.enter(c.IssueGrafts(size="2", count=3))
    record.wait(10)
    for size in SIZES[:3]:
        assert "Space done: wet grafts " in keys(size)
    record.enter(c.ReturnGrafts(size="2", count=record.state.tally.held("bench")))
    record.wait(15)
    record.enter(c.GiveCare(care="wet"))
    record.wait(10)
    record.enter(c.GiveCare(care="renew"))
    for size in SIZES[:3]:
        assert "Space temperature " in keys(size)  # a reading is asked for


@pytest.mark.parametrize("size", [(119, 40), (120, 39), (80, 24)])
def test_off_the_wall_it_is_not(size: tuple[int, int]):
    record = answered()
    record.wait(30)
    assert drawn_large(painted(record, "overview", *size)) == []


@pytest.mark.parametrize("role", ["cutting", "placing"])
def test_only_an_overview_hangs_on_a_wall(role: Role):
    record = answered()
    record.wait(30)
    assert drawn_large(painted(record, role, 120, 40)) == []


def drawn_large(lines: list[Line]) -> list[Line]:
    return [each for each in lines if any(s.tone == "pressing" and "█" in s.text for s in each)]


# It covers nothing.


@pytest.mark.parametrize("size", SIZES)
def test_no_count_of_the_cutting_screen_moves_or_goes_when_prompts_grow(size: tuple[int, int]):
    calm = answered()
    late = answered()
    late.wait(300)
    before, after = (painted(each, "cutting", *size) for each in (calm, late))
    last = max(n for n, each in enumerate(before) if any(s.action.startswith("cut(") for s in each))
    assert last >= 4
    assert [text_of(each) for each in after[1 : last + 1]] == [text_of(each) for each in before[1 : last + 1]]


@pytest.mark.parametrize("size", SIZES)
def test_every_zone_stays_on_the_placing_screen_when_prompts_grow(size: tuple[int, int]):
    late = answered()
    late.wait(300)
    text = "\n".join(text_of(each) for each in painted(late, "placing", *size))
    for zone in late.state.plan.zones:
        assert zone.label in text or zone.label[:4] in text
    assert "how many?" in text


@pytest.mark.parametrize("size", SIZES)
def test_the_large_figures_of_the_overview_stay_when_prompts_grow(size: tuple[int, int]):
    calm, late = answered(), answered()
    late.wait(300)
    before, after = (painted(each, "overview", *size) for each in (calm, late))
    blocks = [n for n, each in enumerate(before) if any("█" in s.text and s.tone == "mine" for s in each)]
    for number in blocks:
        mine, was = ([s.text for s in each[number] if s.tone == "mine"] for each in (after, before))
        assert mine[0] == was[0]
        assert len(mine) == len(was)


# It takes no tap away.


@pytest.fixture
def case(tmp_path: Path) -> Path:
    path = new_case(tmp_path / "case.orroom")
    with station(path) as desk:
        entered(desk, c.StartHarvest(harvest="A", minutes_ago=30))
        entered(desk, c.CutGrafts(harvest="A", size="2", count=60))
    return path


async def grown(seat: Seat) -> None:
    """Everything has been overdue for an hour."""
    seat.clock.at_ms += 120 * MINUTE_MS
    seat.app.repaint()
    await seat.settle()
    assert "late" in seat.text


async def test_taps_while_a_prompt_grows_are_all_counted(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("2")
        await grown(seat)
        await seat.press("2", "2")
        await seat.click("2  twos")
        cut = [each for each in seat.desk.state.log if isinstance(each.event, e.GraftsCut)]
        assert len(cut) == 1 + 4


async def test_what_is_typed_stays_while_a_prompt_grows(case: Path):
    async with seated(case, "placing", "CD") as seat:
        await seat.press("down", "right", "1")
        await grown(seat)
        await seat.press("2", "enter")
        assert isinstance(placed := seat.last(), e.GraftsPlaced)
        assert (placed.zone, placed.size, placed.count) == ("FRONT", "2", 12)


@pytest.mark.parametrize("role", ROLES)
async def test_an_overdue_row_is_answered_by_a_click_anywhere_on_it(case: Path, role: Role):
    async with seated(case, role, size=(120, 40)) as seat:
        await grown(seat)
        row = next(n for n, text in enumerate(seat.text.split("\n")) if "! " in text[:22])
        await seat.click_at(100, row)
        assert isinstance(seat.last(), e.CareGiven) or "°C" in seat.text


def test_the_time_out_of_the_body_of_an_old_record_stops_with_its_prompts():
    """It is that of the last entry, until somebody works on: then what waits is out for as long as it is."""
    record = opened_case()
    record.enter(c.StartHarvest(harvest="A"))
    record.wait(10)
    record.enter(c.CutGrafts(harvest="A", size="2", count=5))
    record.wait(20)
    record.enter(c.AddNote(text="the last for long"))
    record.wait(5 * 60)
    assert harvest_ages(record.state, record.now_ms)[0].out_ms // MINUTE_MS == 330  # silent for less than 6 h
    record.wait(100 * 24 * 60)
    record.enter(c.AddNote(text="looked at"))
    assert harvest_ages(record.state, record.now_ms)[0].out_ms // MINUTE_MS == 30
    glance = Glance(role="overview", who="OR", width=120, height=40)
    wall = [text_of(each) for each in PAINTERS["overview"](record.state, record.now_ms, glance)]
    assert "out 30 min" in wall[0]
    record.enter(c.CutGrafts(harvest="A", size="2"))
    assert harvest_ages(record.state, record.now_ms)[0].out_ms // MINUTE_MS == 100 * 24 * 60 + 330


def test_an_old_records_prompts_do_not_run():
    """What was due before 6 h of silence rests; given once more, it runs again."""
    record = opened_case()
    record.enter(c.StartHarvest(harvest="A"))
    record.wait(6 * 60 + 14)
    late = {each.care: each.status for each in prompts(record.state, record.now_ms)}
    assert set(late.values()) == {"overdue"}  # 5:59 after the first was due
    record.wait(24 * 60)
    found = prompts(record.state, record.now_ms)
    assert {each.status for each in found} == {"resting"}
    assert {each.step for each in found} == {"resting"}
    for width in (80, 40, 30):
        (known,) = prompt_lines(record.state, record.now_ms, width, 3)
        assert width_of(known) <= width
        assert "2026-01-05" in text_of(known)
        assert known[0].action == "answer"
    assert "prompts are off" in text_of(prompt_lines(record.state, record.now_ms, 80, 3)[0])
    record.enter(c.AddNote(text="opened again"))  # what comes later does not wake them
    record.wait(1)
    assert {each.status for each in prompts(record.state, record.now_ms)} == {"resting"}
    record.enter(c.GiveCare(care="wet"))
    now = {each.care: each for each in prompts(record.state, record.now_ms)}
    assert {care: each.status for care, each in now.items()} == {
        "wet": "waiting",
        "renew": "resting",
        "cold": "resting",
    }
    text = " ".join(text_of(each) for each in prompt_lines(record.state, record.now_ms, 120, 3))
    assert "temperature is off: record of 2026-01-05" in text


def test_rounds_that_nobody_answers_run_on_while_entries_come():
    record = opened_case()
    record.enter(c.StartHarvest(harvest="A"))
    for _ in range(20):
        record.wait(30)
        record.enter(c.CutGrafts(harvest="A", size="1"))
    assert {each.status for each in prompts(record.state, record.now_ms)} == {"overdue"}
