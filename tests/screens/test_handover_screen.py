"""The hand-over at a station: the lines lie above the question who comes, as long as that is asked."""

from __future__ import annotations

from pathlib import Path

import pytest
from cases import case_under_way
from seats import harvested, seated
from stations import entered, new_case, station

from orroom.case import commands as c
from orroom.case import events as e
from orroom.screens.stations import questions
from orroom.screens.stations.views.frame import Glance
from orroom.screens.stations.views.handover import handover_lines
from orroom.screens.terminal.asking import Question
from orroom.screens.terminal.painting import text_of, width_of


@pytest.fixture
def case(tmp_path: Path) -> Path:
    path = new_case(tmp_path / "case.orroom")
    harvested(path)  # 60 twos and 40 ones of harvest A wait in dishes
    return path


@pytest.mark.parametrize("size", [(80, 24), (40, 12), (120, 40)])
@pytest.mark.parametrize("role", ["cutting", "placing", "overview"])
async def test_the_lines_lie_above_the_question_until_it_is_answered(
    case: Path, role: str, size: tuple[int, int]
):
    async with seated(case, role, "AB", size=size) as seat:
        await seat.press("s")
        shown = " ".join(seat.text.split())
        assert "HAND-OVER" in shown
        assert "100 in dishes" in shown
        assert "Who takes over from AB? Initials:" in shown
        assert seat.screen.question is not None
        assert seat.screen.question.step.unhurried  # ten lines are read before it is answered
        await seat.press("c", "d", "enter")
        assert seat.last() == e.HandedOver(left="AB")
        assert "HAND-OVER" not in seat.text
        assert seat.text.split()[:1] == [role.upper()]
        assert " CD " in seat.text.splitlines()[0]


async def test_esc_closes_the_lines_and_nobody_took_over(case: Path):
    async with seated(case, "cutting", "AB") as seat:
        await seat.press("s", "escape")
        assert "HAND-OVER" not in seat.text
        await seat.press("2")
        assert isinstance(seat.last(), e.GraftsCut)
        assert seat.desk.who == "AB"


async def test_a_tap_elsewhere_changes_the_lines_at_once(case: Path):
    async with seated(case, "placing", "CD") as seat:
        await seat.press("s")
        assert "100 in dishes" in seat.text
        with station(case, "cutting", "AB") as desk:
            entered(desk, c.CutGrafts(harvest="A", size="2", count=7))
        await seat.until("107 in dishes")
        assert "since CD's last entry" in seat.text
        assert "7 cut by AB" in seat.text


async def test_the_hand_over_takes_the_place_of_a_re_plan(case: Path):
    async with seated(case, "overview", "EF") as seat:
        await seat.press("s", "escape", "y")  # the re-plan is opened last, and would lie above
        assert "RE-PLAN" in seat.text
        await seat.press("s")
        assert "HAND-OVER FROM EF" in seat.text


async def test_while_a_count_is_made_no_count_is_shown(case: Path):
    async with seated(case, "placing", "CD") as seat:
        with station(case, "overview", "EF") as desk:
            entered(desk, c.BeginCount())
            await seat.until("COUNT")
            await seat.press("s")
            assert "final count under way: counts are hidden. EF counts since" in seat.text
            assert "in dishes" not in seat.text
            assert "zones" not in seat.text


@pytest.mark.parametrize("size", [(80, 24), (40, 12), (120, 40), (30, 10), (200, 60)])
def test_it_fills_the_screen_exactly_also_with_a_wrong_answer(size: tuple[int, int]):
    record = case_under_way()
    for lane, by in zip("adglqy", ("GH", "JK", "MN", "PQ", "RS", "TU"), strict=True):
        record.enter(c.OpenLane(lane=lane, by=by), "CD")
        record.enter(c.IssueGrafts(size="2", count=3, lane=lane), "CD")
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=41), "CD")
    record.wait(10)
    glance = Glance(role="placing", who="AB", width=size[0], height=size[1])
    glance.question = Question(questions.hand_over("AB"))
    for key in ("", "a", "b", "enter"):
        if key:
            glance.question.press(key, key if len(key) == 1 else None)
        lines = handover_lines(record.state, record.now_ms, glance, "AB")
        assert len(lines) == size[1]
        assert all(width_of(each) <= size[0] for each in lines)
        said = "\n".join(map(text_of, lines))
        assert "Esc" in said
        assert "late" in said
        assert "Initials:" in said
        assert "since 07:30" in said or "hidden: " in said  # the last line, or that it is left out
    assert "not your own" in " ".join(said.split())
