"""The re-plan over the overview: opened, read page by page, accepted or dismissed, at every size."""

from __future__ import annotations

import asyncio
import threading
from pathlib import Path
from typing import Any

import pytest
from cases import opened_case, small_plan
from msgspec.structs import replace
from replans import ONE_HARVEST, cut_segments, plan_of, supply_of
from replans import zone as zone_of
from seats import Seat, seated
from stations import entered, new_case, station

from orroom.case import commands as c
from orroom.case import events as e
from orroom.figures.replan.dividing import Way
from orroom.figures.replan.problem import Aims
from orroom.figures.replan.proposal import NoProposal, Proposal, Supply, expected_supply, replan
from orroom.files.plan_file import load_plan
from orroom.screens.stations import questions
from orroom.screens.stations.over import replan as replan_screen
from orroom.screens.stations.views.frame import Glance
from orroom.screens.stations.views.replan import replan_page
from orroom.screens.terminal.asking import Question
from orroom.screens.terminal.painting import Line, text_of, width_of
from orroom.words.replan import PROPOSAL_ONLY

SAMPLES = Path(__file__).parents[2] / "sample_cases"
SIZES = [(80, 24), (120, 40), (200, 60), (40, 12), (60, 18), (30, 10)]


# What it says, without a terminal.


def painted(answer: Proposal | NoProposal | None, page: int = 0, **glance: Any) -> list[Line]:
    record = opened_case()
    shown = replan_page(
        record.state, record.now_ms, Glance(role="overview", who="RS", **glance), answer, page
    )
    return shown.lines


def text(answer: Proposal | NoProposal | None, page: int = 0, **glance: Any) -> str:
    return "\n".join(text_of(each) for each in painted(answer, page, **glance))


def short_of(plan_name: str) -> Proposal:
    """Ones and twos of a sample plan come out a tenth short."""
    plan = load_plan(SAMPLES / plan_name / "plan.toml")
    there = {size: plan.planned(size) * (9 if size in "12" else 10) // 10 for size in plan.size_by_key}
    answer = replan(plan, {}, {size: Supply(count, "given") for size, count in there.items()})
    assert isinstance(answer, Proposal)
    return answer


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("plan", ["frontal-midscalp", "hairline", "vertex", "two-lots"])
def test_every_page_fills_the_terminal_and_together_they_say_all(plan: str, size: tuple[int, int]):
    width, height = size
    answer = short_of(plan)
    assert answer.moves
    pages = []
    for page in range(40):
        lines = painted(answer, page, width=width, height=height)
        assert len(lines) == height
        assert [width_of(each) for each in lines if width_of(each) > width] == []
        body = [text_of(each) for each in lines[2:-1]]
        pages.append("\n".join(each for each in body if "prompts start" not in each))
    all_pages = " ".join(" ".join(pages).split()).replace("- ", "-")  # a line may end at a hyphen
    for zone in answer.zones:
        before, after = (f"{each:.1f}" for each in zone.hairs_per_cm2())
        assert (before if before == after else f"{before}→{after}") in all_pages
    for sentence in (*answer.sentences, PROPOSAL_ONLY):
        assert sentence in all_pages


@pytest.mark.parametrize("size", SIZES)
def test_every_figure_and_every_key_is_shown_whole(size: tuple[int, int]):
    width, height = size
    answer = short_of("frontal-midscalp")
    found = [painted(answer, page, width=width, height=height) for page in range(40)]
    every_row = {" ".join(text_of(row).split()) for lines in found for row in lines}
    for each in answer.sizes:
        figures = f"{each.supply.grafts:,} {each.used:,} {each.left_over:,}"
        assert any(row.startswith(f"{each.size} ") and row.endswith(figures) for row in every_row)
    for lines in found:
        assert "Esc" in text_of(lines[-1])
        assert "→" in text_of(lines[-1]) or found[0] == found[1]


@pytest.mark.parametrize("size", SIZES)
def test_it_is_accepted_on_its_last_page_only_until_all_has_been_read(size: tuple[int, int]):
    glance = Glance(role="overview", who="RS", width=size[0], height=size[1])
    answer, record = short_of("frontal-midscalp"), opened_case()
    shown = [replan_page(record.state, record.now_ms, glance, answer, page) for page in range(40)]
    assert any(each.last for each in shown)
    assert ["a accept" in text_of(each.lines[-1]) for each in shown] == [each.last for each in shown]
    for page in range(40):
        lines = replan_page(record.state, record.now_ms, glance, answer, page, read=True).lines
        assert "a accept" in text_of(lines[-1])


@pytest.mark.parametrize("size", [each for each in SIZES if each != (200, 60)])  # one page there
def test_before_all_was_read_it_says_how_to_get_to_accept(size: tuple[int, int]):
    answer, (width, height) = short_of("frontal-midscalp"), size
    first = text_of(painted(answer, 0, width=width, height=height)[-1])
    assert ("accept" in first) == (width > 30)
    assert "a accept" not in first
    assert "accept" not in text_of(painted(NoProposal(("It clashes.",)), width=width, height=height)[-1])


def test_in_bold_is_only_what_changes():
    answer = short_of("frontal-midscalp")
    rows = painted(answer, width=120, height=40)
    bold = {span.text.strip() for row in rows[2:14] for span in row if span.tone == "strong"}
    changed = {zone.zone.label for zone in answer.zones if zone.before != zone.after}
    assert changed <= bold
    assert all("→" in each for each in bold - changed)
    assert len(bold) > len(changed)


def test_totals_are_below_both_tables():
    found = [
        " ".join(each.split()) for page in range(3) for each in text(short_of("hairline"), page).split("\n")
    ]
    answer = short_of("hairline")
    by_size = [f"{each.planned:,}" + f"→{each.used:,}" * (each.planned != each.used) for each in answer.sizes]
    assert f"all {' '.join(by_size)}" in found
    columns = zip(*((e.planned, e.supply.grafts, e.used, e.left_over) for e in answer.sizes), strict=True)
    assert f"all {' '.join(f'{sum(column):,}' for column in columns)}" in found


def test_every_sentence_is_on_one_page():
    answer = short_of("frontal-midscalp")
    pages = [" ".join(text(answer, page).split()) for page in range(4)]
    for sentence in answer.sentences:
        assert any(sentence in page for page in pages), sentence


def test_after_the_last_page_comes_the_first():
    answer = short_of("frontal-midscalp")
    first = text(answer)
    pages = int(first.rsplit("page 1/", 1)[1].split()[0])
    assert pages > 1
    assert f"page {pages}/{pages}" in text(answer, pages - 1)
    assert text(answer, pages) == first


def test_grafts_by_size_where_there_is_room_else_in_all():
    answer = short_of("frontal-midscalp")
    assert "120→" in text(answer)
    assert "grafts" in text(answer, width=40, height=24).split("\n")[2]


def test_while_it_is_worked_out_there_is_nothing_to_accept():
    assert "calculating" in text(None)
    assert "a accept" not in text(None)
    assert "Esc dismiss" in text(None)


def test_no_proposal_says_why_and_cannot_be_accepted():
    shown = text(NoProposal(("Already placed are 60 ones, but only 50 will exist.",)))
    assert "Already placed are 60 ones, but only 50 will exist." in shown
    assert "a accept" not in shown


def test_no_change_cannot_be_accepted():
    plan = small_plan()
    answer = replan(plan, {}, supply_of(plan))
    assert isinstance(answer, Proposal)
    assert "Nothing changes" in text(answer)
    assert "a accept" not in text(answer)


def test_a_question_stands_in_place_of_the_keys():
    question = Question(
        questions.accept_replan(opened_case().state, c.RevisePlan(plan=small_plan(), reason="why"))
    )
    shown = text(short_of("hairline"), question=question)
    assert "Accept? All stations go by it at once." in shown
    assert "a accept" not in shown


def test_the_question_revises_the_plan_or_nothing():
    question = Question(
        questions.accept_replan(opened_case().state, c.RevisePlan(plan=small_plan(), reason="why"))
    )
    question.press("n", "n")
    assert question.over
    assert question.command is None
    question = Question(
        questions.accept_replan(opened_case().state, c.RevisePlan(plan=small_plan(), reason="why"))
    )
    question.press("y", "y")
    assert not question.over
    assert question.step.ask == "Who decides?"
    question.press("2", "2")
    assert question.over
    revise = c.RevisePlan(plan=small_plan(), reason="why")
    assert question.command == questions.RevisePlanBy(who="CD", revise=revise)


@pytest.mark.parametrize("size", SIZES)
def test_what_is_to_be_divided_is_on_every_screen_and_can_be_accepted(size: tuple[int, int]):
    width, height = size
    zones = zone_of("A", {"1": 20}, allowed=("1",)), zone_of("B", {"2": 30, "3": 30})
    plan, ways = plan_of(*zones), (Way("3", ("1", "2")),)
    answer = replan(plan, {}, supply_of(plan, s1=12, s2=28, s3=34), Aims(ways=ways))
    assert isinstance(answer, Proposal)
    again = replace(answer, moves=())
    pages = [painted(again, page, width=width, height=height) for page in range(20)]
    rows = {" ".join(text_of(row).split()) for lines in pages for row in lines}
    shown = " ".join(" ".join(text_of(row).strip(" ·") for lines in pages for row in lines[2:-1]).split())
    assert "Divide 8 threes into 1 + 2, counting on 8 ones and 8 twos" in shown
    assert any(row.startswith("3 ") and row.endswith("34 8 0 26 0") for row in rows)
    assert any(row.endswith("divided pieces used left") for row in rows)
    assert any("a accept" in text_of(lines[-1]) for lines in pages)


# On the real application.


@pytest.fixture
def case(tmp_path: Path) -> Path:
    """Three of four segments are cut: 40 ones, 72 twos, 40 threes and 8 multi-unit grafts to come."""
    path = new_case(tmp_path / "case.orroom", ONE_HARVEST)
    with station(path, who="EF") as desk:
        entered(desk, c.StartHarvest(harvest="A", minutes_ago=30))
        for _ in range(3):
            for size, count in (("1", 10), ("2", 18), ("3", 10), ("M", 2)):
                entered(desk, c.CutGrafts(harvest="A", size=size, count=count))
            entered(desk, c.FinishSegment(harvest="A"))
    return path


async def until_said(seat: Seat, words: str) -> None:
    async with asyncio.timeout(20):
        while words not in seat.text:
            await asyncio.sleep(0.01)
            await seat.pilot.pause()


async def opened(seat: Seat) -> None:
    await seat.press("y")
    await read_through(seat)


async def read_through(seat: Seat) -> None:
    """Wait for the answer, then turn its pages to the last one."""
    async with asyncio.timeout(20):
        while "calculating" in seat.text:
            await asyncio.sleep(0.01)
            await seat.pilot.pause()
    while "a accept" not in seat.text:
        await seat.press("right")


async def test_accepted_after_one_more_question_by_whoever_decides(case: Path):
    async with seated(case, "overview", who="OR", size=(120, 40)) as seat:
        await opened(seat)
        assert "10 fewer ones than planned are expected" in seat.text
        assert "72" in seat.text
        before = seat.desk.state.seq
        await seat.press("a")
        assert "Accept? All stations go by it at once." in seat.text
        assert seat.desk.state.seq == before
        await seat.press("y")
        assert "Who decides?" in seat.text
        assert seat.desk.state.seq == before
        await seat.press("0")
        await seat.rest()
        await seat.type("RS")
        await seat.press("enter")
        event = seat.last()
        assert isinstance(event, e.PlanRevised)
        assert event.reason.startswith("re-plan accepted: ")
        assert seat.desk.state.log[-1].stamp.who == "RS"
        assert event.plan.planned("2") == 72
        assert "LEFT TO PLACE" in seat.text
        assert "re-plan accepted" in seat.text
        await seat.rest()
        await seat.press("y")
        await until_said(seat, "Nothing changes")


async def test_the_plans_way_to_divide_is_offered_and_recorded(tmp_path: Path):
    """All segments are cut, 30 ones of 60 planned; one of ten threes divided so far lost two hairs."""
    sizes = tuple(
        replace(size, divided_into=("1+2",)) if size.key == "3" else size for size in ONE_HARVEST.sizes
    )
    path = new_case(tmp_path / "case.orroom", replace(ONE_HARVEST, sizes=sizes))
    with station(path, who="EF") as desk:
        entered(desk, c.StartHarvest(harvest="A", minutes_ago=30))
        for _ in range(4):
            for size, count in (("1", 7), ("2", 20), ("3", 25), ("M", 2)):
                entered(desk, c.CutGrafts(harvest="A", size=size, count=count))
            entered(desk, c.FinishSegment(harvest="A"))
        entered(desk, c.DivideGrafts(size="3", into=("1", "2"), count=9))
        entered(desk, c.DivideGrafts(size="3", into=("1",)))
    async with seated(path, "overview", who="OR", size=(160, 60)) as seat:
        await opened(seat)
        assert "threes into 1 + 2" in seat.text
        assert "going by the threes divided in this case so far" in seat.text
        await seat.press("a", "y", "0")
        await seat.rest()
        await seat.type("RS")
        await seat.press("enter")
        event = seat.last()
        assert isinstance(event, e.PlanRevised)
        (ask,) = event.divide or ()
        assert (ask.size, ask.into) == ("3", ("1", "2"))
        assert f"divide {ask.count} × 3 into 1+2" in event.reason


async def test_a_proposal_is_not_accepted_before_its_last_page_was_shown(case: Path):
    async with seated(case, "overview", size=(60, 18)) as seat:
        await seat.press("y")
        await until_said(seat, "→ page")
        assert "a accept" not in seat.text
        await seat.press("a")
        assert "read all its pages first" in seat.text
        assert seat.screen.glance.question is None
        await read_through(seat)
        await seat.press("right")
        assert "a accept" in seat.text  # all was read: on every page
        await seat.press("a")
        assert "Accept? All stations go by it at once." in seat.text


async def test_not_yet_and_dismissed_enter_nothing(case: Path):
    async with seated(case, "overview") as seat:
        await opened(seat)
        before = seat.desk.state.seq
        await seat.press("a", "n")
        assert "a accept" in seat.text
        await seat.press("a", "escape")
        assert "a accept" in seat.text
        await seat.rest()
        await seat.press("escape")
        assert "re-plan closed; nothing entered" in seat.text
        assert "LEFT TO PLACE" in seat.text
        await seat.press("a")
        assert "does nothing here" in seat.text
        assert seat.desk.state.seq == before


async def test_pages_turn_by_key_and_click(case: Path):
    async with seated(case, "overview", size=(40, 12)) as seat:
        await opened(seat)
        first = seat.text
        await seat.press("right")
        second = seat.text
        assert second != first
        await seat.press("pagedown")
        assert seat.text not in {first, second}
        await asyncio.sleep(1)  # a button that has only just come under the pointer is left out
        await seat.click("Esc dismiss")
        assert "re-plan closed" in seat.text


async def test_other_keys_and_screens_work_beside_it(case: Path):
    async with seated(case, "overview") as seat:
        await opened(seat)
        await seat.press("f1")
        assert "Keys of the re-plan" in seat.text
        await seat.press("escape", "n")
        await seat.type("hello")
        await seat.press("enter")
        assert isinstance(seat.last(), e.NoteAdded)
        await seat.press("f3")
        assert "PLACING" in seat.text
        await seat.press("f4")
        assert "RE-PLAN" in seat.text


async def test_a_count_at_another_station_hides_it_and_its_keys_until_it_is_over(case: Path):
    async with seated(case, "overview") as seat:
        await opened(seat)
        with station(case, "overview", "CD") as other:
            entered(other, c.BeginCount())
            await seat.until("A COUNT IS BEING MADE")
            await seat.press("a")
            assert seat.screen.glance.question is None
            assert "a does nothing here" in seat.text
            await seat.press("escape")
            entered(other, c.GiveUpCount())
        await seat.until("RE-PLAN: a proposal")


async def test_the_station_goes_on_while_it_is_worked_out(case: Path, monkeypatch: pytest.MonkeyPatch):
    go_on, threads = threading.Event(), []

    def slow(*given: Any) -> Proposal | NoProposal:
        threads.append(threading.current_thread())
        assert go_on.wait(20)
        return replan(*given)

    monkeypatch.setattr(replan_screen, "replan", slow)
    async with seated(case, "overview") as seat:
        await seat.press("y")
        assert "calculating" in seat.text
        await seat.press("a")
        assert "there is nothing to accept" in seat.text
        await seat.press("b")
        assert isinstance(seat.last(), e.BreakStarted)
        other = seat.screen.run_worker(lambda: NoProposal(("another answer",)), thread=True)
        await other.wait()
        await seat.settle()
        assert "calculating" in seat.text
        go_on.set()
        await read_through(seat)
    assert threads != [threading.main_thread()]


async def test_an_answer_that_comes_after_it_was_dismissed_opens_nothing(
    case: Path, monkeypatch: pytest.MonkeyPatch
):
    go_on, done = threading.Event(), threading.Event()

    def slow(*given: Any) -> Proposal | NoProposal:
        assert go_on.wait(20)
        done.set()
        return replan(*given)

    monkeypatch.setattr(replan_screen, "replan", slow)
    async with seated(case, "overview") as seat:
        await seat.press("y", "escape")
        go_on.set()
        assert await asyncio.to_thread(done.wait, 20)
        await seat.settle()
        assert "RE-PLAN" not in seat.text
        await opened(seat)


async def test_a_solver_that_fails_is_told(case: Path, monkeypatch: pytest.MonkeyPatch):
    def broken(*given: Any) -> Proposal:
        raise ImportError("no solver here")

    monkeypatch.setattr(replan_screen, "replan", broken)
    async with seated(case, "overview") as seat:
        await seat.press("y")
        await until_said(seat, "The solver failed: no solver here.")
        await seat.press("escape")
        assert "LEFT TO PLACE" in seat.text


@pytest.mark.parametrize("when", ["before the question", "before the answer"])
async def test_a_record_that_has_gone_on_is_worked_out_anew(case: Path, when: str):
    async with seated(case, "overview") as seat:
        await opened(seat)
        if when == "before the answer":
            await seat.press("a")
        entered(seat.desk, c.PlaceGrafts(zone="MID", size="2", count=30))
        before = seat.desk.state.seq
        await seat.press(*("y", "1") if when == "before the answer" else "a")
        assert "it is worked out again" in seat.text
        await read_through(seat)
        assert seat.desk.state.seq == before
        await seat.press("a", "y", "1")
        assert isinstance(event := seat.last(), e.PlanRevised)
        assert event.plan.zone_by_key["MID"].planned["2"] == 30


def test_the_projection_is_what_a_station_goes_by():
    record = opened_case(ONE_HARVEST)
    record.enter(c.StartHarvest(harvest="A"))
    cut_segments(record, 3)
    assert {each.source for each in expected_supply(record.state).values()} == {"projected"}
