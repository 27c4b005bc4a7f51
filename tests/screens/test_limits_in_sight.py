"""A broken limit stays on every station's screen until somebody says what was done."""

from __future__ import annotations

from pathlib import Path

import pytest
from cases import Record, case_under_way
from painted import PAINTERS
from seats import seated
from stations import entered, new_case, station

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.terms import ROLES, Role
from orroom.figures.pace.rest_of_day import foretold
from orroom.screens.stations.views.frame import Glance
from orroom.screens.terminal.painting import text_of
from orroom.words.status import changes, present, status_at

SIZES = [(80, 24), (120, 40), (40, 12), (60, 18)]


def too_warm(*readings: float) -> Record:
    record = case_under_way()
    for reading in readings:
        record.wait(5)
        record.enter(c.GiveCare(care="cold", temperature_c=reading))
    return record


def rows(record: Record, role: Role, width: int, height: int) -> list[str]:
    known = foretold(record.state, record.now_ms)
    glance = Glance(role=role, who="AB", width=width, height=height, foretold=known)
    return [text_of(each).rstrip() for each in PAINTERS[role](record.state, record.now_ms, glance)]


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("role", ROLES)
def test_it_is_on_every_screen_with_a_mark_and_a_word(role: Role, size: tuple[int, int]):
    record = too_warm(9.4, 4.0)
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=41))  # and a mismatch beside it
    shown = rows(record, role, *size)
    [said] = [row for row in shown if "◇ LIMIT" in row]
    assert "9.4 °C" in said
    assert said.endswith((" · e", " · e: say what was done"))  # the key that answers it
    assert any(row.startswith(" ≠ ") for row in shown)
    record.enter(c.AnswerLimit(limit="temperature:cold", done="ice added"))
    assert "LIMIT" not in "".join(rows(record, role, *size))


def test_the_newest_is_in_words_and_the_others_are_counted():
    record = too_warm(9.4)
    record.enter(c.IssueGrafts(size="1", count=5))
    record.wait(4)
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=5))
    for size in SIZES:
        [said] = [row for row in rows(record, "placing", *size) if "◇" in row]
        assert "ith placers" in said or "with the placers" in said
        assert said.endswith("+1")


async def test_what_was_done_is_entered_by_digits_or_in_words(tmp_path: Path):
    case = new_case(tmp_path / "case.orroom")
    with station(case) as desk:
        entered(desk, c.StartHarvest(harvest="A", minutes_ago=30))
        entered(desk, c.GiveCare(care="cold", temperature_c=9.4))
    async with seated(case, "cutting") as seat:
        assert "◇ LIMIT BROKEN 07:30: holding solution 9.4 °C, too warm (limit 2 to 8 °C)" in seat.text
        await seat.press("e")
        assert "1: holding solution 9.4 °C" in seat.text
        await seat.press("1")
        assert "1: ice added" in seat.text
        await seat.press("1")
        assert seat.last() == e.LimitAnswered(limit="temperature:cold", done="ice added")
        assert "LIMIT" not in seat.text
        await seat.press("u")
        assert "◇ LIMIT" in seat.text
        await seat.press("e", "1", "7")
        await seat.type("lid was open")
        await seat.press("enter")
        assert seat.last() == e.LimitAnswered(limit="temperature:cold", done="lid was open")


def test_status_says_it_and_when_it_is_answered():
    record = too_warm(9.4)
    before = status_at(record.state, record.now_ms)
    said = "limit broken, nobody said what was done: holding solution 9.4 °C, too warm (limit 2 to 8 °C)"
    assert said in [each.words for each in present(before)]
    record.enter(c.AnswerLimit(limit="temperature:cold", done="ice added"))
    after = status_at(record.state, record.now_ms)
    words = [each.words for each in changes(before, after)]
    assert "limit answered: holding solution 9.4 °C, too warm (limit 2 to 8 °C)" in words
    assert said in [each.words for each in changes(after, before)]


def test_a_limit_that_a_count_hides_is_not_said_to_be_answered():
    record = case_under_way()
    record.enter(c.IssueGrafts(size="1", count=5))
    record.wait(4)
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=5))
    before = status_at(record.state, record.now_ms)
    assert list(before.limits) == ["with-placers"]
    record.enter(c.BeginCount(), "EF", station="overview-1")
    during = status_at(record.state, record.now_ms)
    assert not during.limits
    assert not any("limit" in each.words for each in changes(before, during))
