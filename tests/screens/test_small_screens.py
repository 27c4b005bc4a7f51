"""A question is whole at every size: what is asked, each key that answers it, what is typed, and Esc."""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable, Iterator
from functools import partial

import pytest
from cases import opened_case
from larger_cases import crowded
from msgspec.structs import replace
from painted import PAINTERS

from orroom.case import commands as c
from orroom.case.mismatches import open_mismatches
from orroom.case.settings import Checks
from orroom.case.state import CaseState
from orroom.case.terms import MAX_TEXT, ROLES, Role
from orroom.figures.prompts import prompts
from orroom.screens.stations import (
    checking,
    correcting,
    prompt_questions,
    questions,
    site_making,
    team_questions,
)
from orroom.screens.stations.views import frame
from orroom.screens.stations.views.frame import Glance
from orroom.screens.stations.views.prompting import prompt_lines, wall_prompt_lines
from orroom.screens.terminal.asking import Choice, Dialogue, Number, Question, Step, Words
from orroom.screens.terminal.keys import shown_key
from orroom.screens.terminal.painting import Line, fitted, text_of
from orroom.screens.terminal.question_lines import QUESTION_ROWS, question_lines

SIZES = ((30, 10), (40, 12), (44, 14), (60, 18), (80, 24), (120, 40))

#: What else may want room on a screen at the same time.
AROUND: tuple[dict[str, object], ...] = (
    {},
    {"message": "✗ " + "a refusal that takes some lines to say what would be right instead, " * 3},
    {"trouble": "the disk is full and nothing more can be written to it for the time being", "waiting": 7},
    {"focused": False},
)

#: A text whose every piece is unlike every other, as long as a text may be.
LONGEST = " ".join(f"w{number:03d}" for number in range(99))[:MAX_TEXT]


RECORD = crowded()
STATE = RECORD.state
PROMPTS = prompts(STATE, RECORD.now_ms)
HARVESTS = tuple(STATE.plan.harvest_by_key)

#: The same plan, its zones not treated.
UNTREATED = opened_case(
    replace(
        STATE.plan,
        zones=tuple(replace(each, targets=None, density=None, not_treated=True) for each in STATE.plan.zones),
    )
).state

#: Every dialogue of ``questions.py`` and its neighbours, at its longest.
DIALOGUES: dict[str, Callable[[], questions.Dialogue]] = {
    "discard_while_cutting": partial(questions.discard_while_cutting, STATE, "L0"),
    "discard_waiting": partial(questions.discard_waiting, STATE, "M", 99_999),
    "divide": partial(questions.divide, STATE, "L0"),
    "go_to_zone": partial(questions.go_to_zone, STATE),
    "place_of_size": partial(questions.place_of_size, STATE, "Z1", 99_999),
    "there": partial(questions.there, UNTREATED, c.PlaceGrafts(zone="Z1", size="M", count=99_999)),
    "how_many": partial(
        questions.how_many, f"Sites made in {STATE.plan.zones[1].label}:", c.MakeSites, zone="Z1"
    ),
    "give_care": partial(prompt_questions.give_care, PROMPTS[-1]),
    "sites": partial(site_making.sites, STATE, None),
    "stick_and_place": partial(site_making.stick_and_place, STATE, "Z1"),
    "give_early": partial(prompt_questions.give_early, PROMPTS[-1]),
    "which_was_done": partial(prompt_questions.which_was_done, PROMPTS, PROMPTS[-1], "space"),
    "answer_which": partial(prompt_questions.answer_which, PROMPTS),
    "pause": partial(prompt_questions.pause, PROMPTS),
    "harvest": partial(questions.harvest, STATE),
    "explain": partial(correcting.explain, STATE),
    "correct": partial(correcting.correct, lambda: STATE, lambda _: None),
    "move": partial(correcting.move, lambda: STATE, "AB"),
    "cut_several": partial(questions.cut_several, STATE, "L0"),
    "note": questions.note,
    "count_dish": partial(questions.count_dish, STATE, HARVESTS),
    "spot_check": partial(checking.spot_check, STATE, "placing", "Z1", Checks()),
    "finish_segment": partial(questions.finish_segment, "L0"),
    "team": partial(team_questions.team, STATE),
    "hand_over": partial(questions.hand_over, "AB"),
    "set_aside": partial(questions.set_aside, "held", ("2",) * 12, "key"),
    "accept_replan": partial(
        questions.accept_replan, STATE, c.RevisePlan(plan=STATE.plan, reason="fewer grafts")
    ),
    "leave": questions.leave,
}


@pytest.fixture(scope="module", autouse=True)
def prompts_painted_once() -> Iterator[None]:
    """What the prompts of the one record take is worked out once for a size, not beside every question."""

    def once(paint: Callable[..., list[Line]]) -> Callable[..., list[Line]]:
        painted: dict[tuple[object, ...], list[Line]] = {}

        def lines(state: CaseState, *of: object) -> list[Line]:
            assert state is STATE
            if of not in painted:
                painted[of] = paint(state, *of)
            return list(painted[of])

        return lines

    with pytest.MonkeyPatch.context() as patch:
        for each in (prompt_lines, wall_prompt_lines):
            patch.setattr(frame, each.__name__, once(each))
        yield


def typed_into(question: Question, text: str) -> None:
    for each in text:
        question.press(each, each)


def after(dialogue: Callable[[], questions.Dialogue], answers: tuple[str, ...]) -> Question:
    """The question as it stands after answers: the key of a choice, or a text and Enter."""
    question = Question(dialogue())
    for answer in answers:
        if isinstance(question.step, Choice):
            question.press(answer, None)
        else:
            typed_into(question, answer)
            question.press("enter", None)
    return question


def look_of(step: Step) -> object:
    """What tells a step from others: words that differ in digits alone take the same room."""
    options = step.options if isinstance(step, Choice) else ()
    words = step.ask, getattr(step, "unit", ""), *(each.label for each in options)
    return type(step), [each.key for each in options], [re.sub(r"[0-9]", "0", each) for each in words]


def steps(dialogue: Callable[[], questions.Dialogue]) -> list[tuple[str, ...]]:
    """The answers that lead to each step of a dialogue, each step once."""
    found: list[tuple[str, ...]] = []
    seen: list[object] = []
    ahead: list[tuple[str, ...]] = [()]
    while ahead:
        answers = ahead.pop(0)
        step = after(dialogue, answers).step
        if step is None or look_of(step) in seen:
            continue
        seen.append(look_of(step))
        found.append(answers)
        match step:
            case Choice(options=options):
                ahead += [(*answers, each.key) for each in options]
            case Number():
                ahead += [(*answers, typed) for typed in ("1", "0")]
            case Words():
                ahead.append((*answers, LONGEST))
    return found


EVERY_STEP = [(name, answers) for name, dialogue in DIALOGUES.items() for answers in steps(dialogue)]


def asked() -> Iterator[tuple[str, Question]]:
    """Every question at every step, as it is asked and with the longest that can be typed."""
    for name, answers in EVERY_STEP:
        question = after(DIALOGUES[name], answers)
        yield name, question
        if isinstance(question.step, Number):
            for typed in ("7", "1234567"):
                question = after(DIALOGUES[name], answers)
                typed_into(question, typed)
                yield name, question
        elif isinstance(question.step, Words):
            question = after(DIALOGUES[name], answers)
            typed_into(question, LONGEST)
            yield name, question
            question = after(DIALOGUES[name], answers)
            typed_into(question, "無" * MAX_TEXT)
            yield name, question


def rows_of(role: Role, size: tuple[int, int], **glance: object) -> list[str]:
    width, height = size
    shown = Glance(role=role, who="AB", harvest="L0", zone=20, width=width, height=height, **glance)
    lines = PAINTERS[role](STATE, RECORD.now_ms, shown)
    assert len(lines) == height
    return [text_of(fitted(each, width)) for each in lines]


def assert_whole(rows: list[str], question: Question, why: str) -> None:
    """The question begins at the mark and ends with Esc; between them stands all that is needed."""
    said = [number for number, row in enumerate(rows) if row.startswith(" ▸ ")]
    assert len(said) == 1, why
    shown = rows[said[0] :]
    text = "".join("".join(shown).split())
    step = question.step
    assert step is not None
    assert "".join(step.ask.split()) in text, f"{why}: not all is asked"
    if isinstance(step, Choice):
        assert f" Esc {step.escape} " in "\n".join(shown), why
        for option in step.options:
            apart = ":" if option.key.isdigit() and option.label else ""
            key = f" {shown_key(option.key)}{apart} "
            begun = (f"{key}{option.label[:1]}", f"{key}…")
            assert any(each in row for each in begun for row in shown), f"{why}: {option} has no room"
    else:
        assert " Esc back " in "\n".join(shown), why
        end = f"{question.typed[-5:]}▌".replace(" ", "")
        assert end in text, f"{why}: {end} is not shown"


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("role", ROLES)
def test_a_question_with_all_its_answers_is_whole_at_every_size(role: Role, size: tuple[int, int]):
    """A question is the last lines of a screen; what is above them is painted once for as many lines."""
    width, height = size
    above: dict[tuple[int, ...], list[str]] = {}
    for name, question in asked():
        lines = rows_as_asked(question, width, min(QUESTION_ROWS, height - frame.MESSAGE_ROWS))
        as_high = len(lines), len(rows_as_asked(question, width, len(LONGEST)))
        for number, around in enumerate(AROUND):
            if (*as_high, number) not in above:
                rows = rows_of(role, size, question=question, **around)
                assert rows[-len(lines) :] == lines, f"{name} {question.step} with {around}"
                above[*as_high, number] = rows[: -len(lines)]
            rows = above[*as_high, number] + lines
            assert_whole(rows, question, f"{name} {question.step} with {around}")


def rows_as_asked(question: Question, width: int, rows: int) -> list[str]:
    return [text_of(fitted(each, width)) for each in question_lines(question, width, rows)]


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("role", ROLES)
def test_whether_keys_set_aside_count_is_asked_whole_at_every_size(role: Role, size: tuple[int, int]):
    keys = ("2", "enter", "f", "x", "space") * 8
    for cause in ("held", "burst"):
        doubt = Question(questions.set_aside(cause, keys, "key"))
        aside = {"doubt": doubt, "why_aside": questions.why_aside(cause, keys, "key"), "behind": 12}
        for around in AROUND:
            rows = rows_of(role, size, question=Question(questions.note()), **aside, **around)
            assert_whole(rows, doubt, f"{cause} with {around}")
        assert "y count" in "".join(rows)


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("role", ROLES)
def test_why_keys_were_set_aside_is_told_beside_the_question(role: Role, size: tuple[int, int]):
    keys = ("2",) * 12
    doubt = Question(questions.set_aside("held", keys, "key"))
    rows = rows_of(role, size, doubt=doubt, why_aside=questions.why_aside("held", keys, "key"))
    assert '? 12 × "2" came faster than' in "\n".join(rows)


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("role", ROLES)
def test_a_remark_on_an_answer_is_told_beside_the_question(role: Role, size: tuple[int, int]):
    width, height = size
    above: dict[tuple[object, ...], list[str]] = {}
    for name, answers in EVERY_STEP:
        question = after(DIALOGUES[name], answers)
        question.press("f9", "\x00")
        question.remark = question.remark or "type a text first, or Esc"
        lines = rows_as_asked(question, width, min(QUESTION_ROWS, height - frame.MESSAGE_ROWS))
        alike = len(lines), len(rows_as_asked(question, width, len(LONGEST))), question.remark
        if alike not in above:
            rows = rows_of(role, size, question=question)
            assert rows[-len(lines) :] == lines, name
            above[alike] = rows[: -len(lines)]
        assert f"✗ {question.remark.split()[0]}" in "\n".join(above[alike])
        assert_whole(above[alike] + lines, question, name)


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize("around", AROUND)
def test_without_a_question_a_crowded_screen_is_as_high_as_its_terminal(
    role: Role, size: tuple[int, int], around: dict[str, object]
):
    rows = rows_of(role, size, typed="25" if role == "placing" else "", **around)
    assert "F1 all keys" in "\n".join(rows)
    if role == "placing":
        assert "25▌" in "\n".join(rows)


def test_every_dialogue_there_is_is_asked_here():
    made = {
        name
        for module in (checking, questions, prompt_questions, correcting, site_making, team_questions)
        for name, each in inspect.getmembers(module, inspect.isfunction)
        if each.__module__ == module.__name__
        and not name.startswith("_")
        and each.__annotations__.get("return") in {Dialogue, "Dialogue"}
    }
    assert made == set(DIALOGUES)


def test_a_number_of_an_entry_is_seen_as_it_is_typed_on_a_narrow_screen():
    question = after(DIALOGUES["correct"], ())
    typed_into(question, "1234")
    for size in ((40, 12), (44, 14)):
        assert "1234▌" in "".join(rows_of("cutting", size, question=question))


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_every_mismatch_can_be_reached_to_be_explained_and_how_many_more_there_are_is_said(
    size: tuple[int, int],
):
    # 30 zones have a graft over plan, 19 of 20 harvests no harvest's start, and the twos were never counted
    # in.
    found = open_mismatches(STATE)
    assert len(found) == 50
    question = Question(correcting.explain(STATE))
    seen: list[object] = []
    while len(seen) < len(found):
        assert isinstance(question.step, Choice)
        assert f"({len(seen) + 1}–" in question.step.ask
        offered = [each.value for each in question.step.options if each.key != "0"]
        seen += offered
        more = f"0: {len(found) - len(seen)} more" if len(seen) < len(found) else "0: first"
        rows = rows_of("overview", size, question=question)
        assert more in "\n".join(rows)
        question.press("0", "0")
    assert seen == list(found)
    question.press("1", "1")
    question.press("6", "6")
    typed_into(question, "a spare")
    question.press("enter", None)
    assert isinstance(question.command, c.ExplainMismatch)
    assert question.command.mismatch == found[0].key
