"""While something is asked, digits are shown for its answers alone."""

from __future__ import annotations

import re

import pytest
from painted import PAINTERS
from readme_screens import EVENTS

from orroom.case.evolve import fold
from orroom.case.state import CaseState
from orroom.case.terms import Role
from orroom.record.events_file import read_events
from orroom.screens.stations import questions
from orroom.screens.stations.views.frame import Glance
from orroom.screens.terminal.asking import Dialogue, Question
from orroom.screens.terminal.keys import Keys
from orroom.screens.terminal.painting import Line, Span, text_of

SIZES = [(80, 24), (120, 40), (200, 60), (60, 18), (40, 12)]


@pytest.fixture(scope="module")
def day() -> CaseState:
    """The sample's day: ten zones, three lanes."""
    return fold(read_events(EVENTS)[:2300])


def asked(
    state: CaseState, role: Role, size: tuple[int, int], dialogue: Dialogue, **glance: str
) -> list[Line]:
    looks = Glance(role=role, who="AB", width=size[0], height=size[1], question=Question(dialogue), **glance)  # type: ignore[arg-type]
    return PAINTERS[role](state, state.log[-1].stamp.at_ms, looks)


def spoilt(state: CaseState) -> Dialogue:
    return questions.discard_while_cutting(state, "A", Keys.standard())


def keys_shown(lines: list[Line]) -> list[Span]:
    return [
        each for row in lines for each in row if re.fullmatch(r" ?[0-9b] ?", each.text) and each.text.strip()
    ]


@pytest.mark.parametrize("size", SIZES)
def test_a_size_has_no_key_while_it_is_asked_how_a_graft_was_spoilt(day: CaseState, size: tuple[int, int]):
    lines = asked(day, "cutting", size, spoilt(day))
    assert any("3: crushed" in text_of(row) for row in lines)
    assert keys_shown(lines) == []
    assert not any(each.tone == "mine" for row in lines for each in row)
    plain = PAINTERS["cutting"](day, 0, Glance(role="cutting", who="AB", width=size[0], height=size[1]))
    assert [each.text.strip() for each in keys_shown(plain) if each.tone == "button"] == list("12345")
    assert any(each.tone == "mine" for row in plain for each in row)


def test_keys_that_were_set_aside_are_asked_about_without_other_keys(day: CaseState):
    doubt = Question(questions.set_aside("held", ("1", "1"), "key"))
    for role in ("cutting", "placing"):
        glance = Glance(role=role, who="AB", doubt=doubt)  # type: ignore[arg-type]
        lines = PAINTERS[role](day, 0, glance)
        assert keys_shown(lines) == []


@pytest.mark.parametrize("typed", ["", "12"])
@pytest.mark.parametrize("size", SIZES)
def test_no_zone_has_a_number_and_none_is_typed_while_something_is_asked(
    day: CaseState, size: tuple[int, int], typed: str
):
    lines = asked(day, "placing", size, questions.note(), typed=typed)
    assert keys_shown(lines) == []
    actions = {each.action for row in lines for each in row}
    assert not any(each.startswith("type(") for each in actions)
    assert "how many?" not in "\n".join(map(text_of, lines))
    plain = PAINTERS["placing"](day, 0, Glance(role="placing", who="AB", width=size[0], height=size[1]))
    assert any(each.text.strip() == "4" for each in keys_shown(plain))


@pytest.mark.parametrize("size", SIZES)
def test_zones_without_room_under_a_question_are_counted(day: CaseState, size: tuple[int, int]):
    lines = asked(day, "placing", size, questions.go_to_zone(day))
    rows = [text_of(row) for row in lines]
    first = next((n for n, row in enumerate(rows) if row.startswith((" ▸", "▸"))), len(rows))
    shown = sum(re.match(r"  [▲●○—≠] ", row) is not None for row in rows[:first])
    more = [int(found[1]) for row in rows if (found := re.match(r" and (\d+) more zones?$", row.rstrip()))]
    if shown:
        assert shown + sum(more) == len(day.plan.zones)
    else:
        assert size == (40, 12)  # the question lists all of them
