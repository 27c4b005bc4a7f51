"""Space answers the prompt that its screen showed when it was pressed; a care round has one number."""

from __future__ import annotations

from pathlib import Path

import pytest
from cases import MINUTE_MS, Record, case_under_way
from hypothesis import given
from hypothesis import strategies as st
from seats import Seat, harvested, seated
from stations import entered, new_case, station, wait_until

from orroom.case import commands as c
from orroom.case.events import CareGiven
from orroom.case.state import CaseState
from orroom.case.terms import ROLES, Role
from orroom.figures.prompts import Prompt, prompts, urgent_first
from orroom.record.turns import TurnLock
from orroom.screens.stations import prompt_questions
from orroom.screens.stations.answering import ANSWERED_LATELY, Answering
from orroom.screens.terminal.asking import Choice, Question

READING = {"cold": 4.0}


@pytest.fixture
def case(tmp_path: Path) -> Path:
    """Half an hour after the harvest: wetting is overdue, the temperature due, the solution not yet."""
    path = new_case(tmp_path / "case.orroom")
    harvested(path)
    return path


def given_care(seat: Seat) -> list[str]:
    return [each.event.care for each in seat.desk.state.standing() if isinstance(each.event, CareGiven)]


def given_ms(state: CaseState, care: str) -> int | None:
    return state.tally.care[care].given_at_ms if care in state.tally.care else None


async def heard(seat: Seat, seq: int) -> None:
    """Until the seat's desk has what another station entered, and its screen shows it."""
    wait_until(lambda: seat.desk.state.seq >= seq)
    await seat.settle()


def both_due() -> Record:
    """A case in which wetting is overdue and the solution is due; the temperature is not."""
    record = case_under_way()
    record.enter(c.GiveCare(care="cold", temperature_c=4.0))
    assert [each.care for each in due(record)] == ["wet", "renew"]
    return record


def due(record: Record) -> list[Prompt]:
    found = urgent_first(prompts(record.state, record.now_ms))
    return [each for each in found if each.status in {"due", "overdue"}]


@pytest.fixture
def one_due(case: Path) -> Path:
    """The same with the temperature read: of two due prompts one is left."""
    with station(case) as desk:
        entered(desk, c.GiveCare(care="cold", temperature_c=4.0))
    return case


async def test_space_says_which_prompt_it_answered(one_due: Path):
    async with seated(one_due, "cutting") as seat:
        await seat.press("space")
        assert given_care(seat) == ["cold", "wet"]
        assert "answered: wet the dishes, 15 min late" in seat.text


# Of several due prompts the wrong one is not ticked off: it is asked which was done.


@pytest.mark.parametrize("size", [(80, 24), (40, 12)])
@pytest.mark.parametrize("role", ROLES)
async def test_of_two_due_prompts_space_asks_which_was_done(case: Path, role: Role, size: tuple[int, int]):
    async with seated(case, role, "GH", size=size) as seat:
        await seat.press("space")
        said = " ".join(seat.text.split())
        assert "Which was done? Space wet the dishes 3: temp" in said
        assert " · Space" not in said  # next to the question it would seem to do what it does without one
        assert given_care(seat) == []
        await seat.press("space")
        assert given_care(seat) == ["wet"]


async def test_the_others_have_their_own_keys_and_esc_enters_nothing(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("space", "escape")
        assert given_care(seat) == []
        await seat.press("space", "3")
        assert "temperature: reading" in seat.text
        await seat.press("4", "enter")
        assert given_care(seat) == ["cold"]


@pytest.mark.parametrize("key", ["space", "enter", "3"])
def test_each_key_of_the_question_gives_what_it_names(key: str):
    found = tuple(due(both_due()))
    question = Question(prompt_questions.which_was_done(found, found[1], "space"))
    assert isinstance(question.step, Choice)
    assert [(each.key, each.label) for each in question.step.options] == [
        ("space", "renew solution"),
        ("1", "wet the dishes"),
    ]
    question.press({"3": "1"}.get(key, key), None)
    assert question.command == c.GiveCare(care="wet" if key == "3" else "renew")


def test_a_key_that_a_clinic_bound_to_prompts_takes_no_others_place():
    found = tuple(due(both_due()))
    (step,) = [next(prompt_questions.which_was_done(found, found[1], "1"))]
    assert isinstance(step, Choice)
    assert [each.key for each in step.options] == ["enter", "1"]


async def test_what_was_given_while_it_was_asked_is_not_given_twice(case: Path):
    async with seated(case, "placing", "GH") as seat:
        await seat.press("space")
        with station(case, who="AB") as other:
            await heard(seat, entered(other, c.GiveCare(care="wet")).seq)
        await seat.press("space")
        assert given_care(seat) == ["wet"]
        assert "wet the dishes was answered by AB at cutting" in " ".join(seat.text.split())


async def test_a_worn_space_that_bounces_answers_nothing(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.tap("space")
        await seat.tap("space", apart=0.02)
        await seat.rest()
        assert given_care(seat) == []
        assert "Which was done?" in seat.text
        assert "Space came twice at once: the second one is ignored" in seat.text


async def test_a_held_space_answers_nothing_before_that_is_asked(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.tap(*["space"] * 12, apart=0.04)
        await seat.rest()
        await seat.press("n")
        assert given_care(seat) == []


async def test_a_number_that_is_typed_stays_while_a_prompt_is_answered(case: Path):
    async with seated(case, "placing", "GH") as seat:
        await seat.press("1", "2", "space", "space")
        assert given_care(seat) == ["wet"]
        assert seat.screen.glance.typed == "12"


async def test_space_is_for_prompts_also_over_a_count_a_re_plan_and_a_comparison(case: Path):
    async with seated(case, "overview", "GH", size=(80, 24)) as seat:
        await seat.press("k", "1", "4")
        assert seat.count is not None
        before = seat.count.at, seat.count.found
        await seat.press("space")
        assert "Which was done?" in seat.text
        await seat.press("space")
        assert given_care(seat) == ["wet"]
        assert "FINAL COUNT by" in seat.text
        assert (seat.count.at, seat.count.found, seat.screen.glance.typed) == (*before, "4")
        await seat.press("escape", "escape")
        await seat.press("y")
        await seat.until("Esc dismiss")
        seat.at += ANSWERED_LATELY
        await seat.press("space")
        assert "temperature: reading" in seat.text
        await seat.press("4", "enter")
        assert given_care(seat) == ["wet", "cold"]
        assert "RE-PLAN" in seat.text


async def test_several_are_done_one_after_the_other_without_a_pause(case: Path):
    """Where it asks which each time, nobody ticks off a second one unseen: it does not first refuse."""
    with station(case) as desk:
        latest = entered(desk, c.IssueGrafts(size="1", count=1))
    async with seated(case, "cutting") as seat:
        await heard(seat, latest.seq)
        seat.clock.at_ms += 30 * MINUTE_MS
        seat.app.repaint()
        await seat.press("space", "space")
        assert len(given_care(seat)) == 1
        await seat.press("space")
        assert "Which was done?" in seat.text
        await seat.press("0")
        assert len(given_care(seat)) == 2


async def test_a_second_space_right_after_the_first_answers_nothing(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("space", "space", "space")
        assert given_care(seat) == ["wet"]
        said = " ".join(seat.text.split())
        assert "✗ wet the dishes was answered here 0 s ago: nothing entered. Space again answers temp" in said
        await seat.press("space")
        assert "temperature: reading" in seat.text


async def test_a_second_space_answers_at_once_when_the_first_was_long_ago(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("space", "space")
        seat.at += ANSWERED_LATELY
        await seat.press("space")
        assert "temperature: reading" in seat.text


@pytest.mark.parametrize("role", ROLES)
async def test_what_another_station_answered_under_the_hand_is_not_answered_again(case: Path, role: Role):
    async with seated(case, role, "GH") as seat:
        with station(case, who="AB") as other:
            await heard(seat, entered(other, c.GiveCare(care="wet")).seq)
            await seat.press("space")
            assert given_care(seat) == ["wet"]
            assert "wet the dishes was answered by AB at cutting" in seat.text
            assert "temperature: reading" not in seat.text
            await seat.press("space")
            assert "temperature: reading" in seat.text


async def test_what_another_station_answered_that_was_not_shown_first_is_no_reason_to_ask(case: Path):
    async with seated(case, "placing", "GH") as seat:
        with station(case, who="AB") as other:
            await heard(seat, entered(other, c.GiveCare(care="cold", temperature_c=4.0)).seq)
            await seat.press("space")
            assert given_care(seat) == ["cold", "wet"]


async def test_space_while_its_answer_waits_for_the_disk_answers_nothing_more(case: Path):
    async with seated(case, "cutting") as seat:
        with TurnLock(case).held():
            await seat.tap("space", "space")
            await seat.tap("space")
            assert "wet the dishes is answered, but not on the disk yet: nothing more" in seat.text
        await seat.settle()
        assert given_care(seat) == ["wet"]


async def test_an_answer_that_was_taken_back_is_given_again_at_once(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("space", "space", "u", "space", "space")
        assert given_care(seat) == ["wet"]
        assert seat.desk.state.log[-1].event == CareGiven(
            care="wet", due_at_ms=seat.clock.at_ms - 15 * MINUTE_MS
        )


async def test_space_over_a_page_that_covers_the_prompts_asks_which(case: Path):
    async with seated(case, "cutting") as seat:
        await seat.press("f1", "space")
        assert given_care(seat) == []
        assert "Which care was done?" in seat.text


def test_a_press_that_waited_answers_what_was_shown_when_it_was_made():
    record, shown = both_due(), Answering()
    shown.painted(10, record.state, record.now_ms, seen=True)
    record.enter(c.GiveCare(care="wet"))
    shown.painted(20, record.state, record.now_ms, seen=True)
    said = shown.meant(12, record.state, record.now_ms, "placing-1")
    assert said == (
        "wet the dishes was answered by AB at cutting-1 0 s ago: nothing entered. "
        "Space again answers renew solution"
    )
    again = shown.meant(21, record.state, record.now_ms, "placing-1")
    assert isinstance(again, Prompt)
    assert again.care == "renew"


def test_grafts_that_left_the_bench_meanwhile_need_no_answer():
    record, shown = both_due(), Answering()
    record.enter(c.IssueGrafts(size="1", count=5))
    for care in ("wet", "renew"):
        record.enter(c.GiveCare(care=care))
    record.wait(5)
    shown.painted(10, record.state, record.now_ms, seen=True)
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=5))
    said = shown.meant(11, record.state, record.now_ms, "cutting-1")
    assert (
        said
        == "wet the grafts with the placers needs no answer any more: nothing entered. Nothing else is due"
    )


@given(st.data())
def test_space_never_answers_what_the_screen_did_not_show(data: st.DataObject):
    """Whatever is given, paused or placed at other stations, and however late a press is taken."""
    record, shown, at = both_due(), Answering(), 100.0
    paints: list[tuple[float, CaseState, str | None]] = []
    said: set[str] = set()
    acts = (
        c.GiveCare(care="wet"),
        c.GiveCare(care="renew"),
        c.GiveCare(care="cold", temperature_c=4.0),
        c.GiveCare(care="bench"),
        c.PausePrompt(care="wet", minutes=3),
        c.IssueGrafts(size="1", count=2),
        c.PlaceGrafts(zone="LINE", size="1", count=2),
        c.TakeBack(role="cutting"),
    )
    for _ in range(data.draw(st.integers(1, 12))):
        at += data.draw(st.sampled_from((0.2, 1.0, 6.0)))
        record.wait(data.draw(st.sampled_from((0.01, 0.2, 3, 16))))
        first = due(record)[0].care if due(record) else None
        shown.painted(at, record.state, record.now_ms, seen=True)
        paints.append((at, record.state, first))
        if data.draw(st.booleans()):
            record.ask(data.draw(st.sampled_from(acts)))
        pressed = at + data.draw(st.sampled_from((-0.3, 0.0, 0.1)))
        seen = next((care for painted, _, care in reversed(paints) if painted <= pressed), None)
        meant = shown.meant(pressed, record.state, record.now_ms, "cutting-1")
        if isinstance(meant, Prompt):
            assert meant.care == seen
            assert meant.care in {each.care for each in due(record)}
            before = next(state for painted, state, _ in reversed(paints) if painted <= pressed)
            given_since = given_ms(record.state, meant.care) != given_ms(before, meant.care)
            assert not given_since or said & {meant.label}
        elif meant is not None:
            said |= {each.label for each in prompts(record.state, record.now_ms) if each.label in meant}


@given(st.permutations(("wet", "renew", "cold")), st.integers(0, 3))
def test_a_care_round_has_its_number_in_the_plan_in_every_list(order: list[str], given_first: int):
    record = case_under_way()
    record.enter(c.IssueGrafts(size="1", count=5))
    for care in order[:given_first]:
        record.wait(7)
        record.enter(c.GiveCare(care=care, temperature_c=READING.get(care)))
    found = prompts(record.state, record.now_ms)
    numbers = {"bench": "0", "wet": "1", "renew": "2", "cold": "3"}
    for dialogue in (
        prompt_questions.answer_which(urgent_first(found)),
        prompt_questions.pause(urgent_first(found)),
    ):
        step = next(dialogue)
        assert isinstance(step, Choice)
        shown = {each.value.care: each.key for each in step.options if isinstance(each.value, Prompt)}
        assert len(shown) == len(step.options) >= 3
        assert shown.items() <= numbers.items()


@pytest.mark.parametrize("role", ROLES)
async def test_the_same_number_is_the_same_round_for_space_and_for_a_pause(case: Path, role: Role):
    async with seated(case, role) as seat:
        with station(case) as other:
            for care in ("renew", "cold", "wet"):
                latest = entered(other, c.GiveCare(care=care, temperature_c=READING.get(care)))
        await heard(seat, latest.seq)
        seat.at += 2 * ANSWERED_LATELY
        await seat.press("space", "2")
        assert given_care(seat)[-1] == "renew"
        await seat.press("p", "2", "9", "enter")
        assert seat.desk.state.tally.care["renew"].paused_until_ms == seat.clock.at_ms + 9 * MINUTE_MS
