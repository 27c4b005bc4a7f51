"""What is worked out of a state is kept as long as it is right, and no longer."""

from __future__ import annotations

from cases import MINUTE_MS, Record

from orroom.case import commands as c
from orroom.case.state import CaseState, Tally, at_a_time, while_same


def test_what_is_found_at_a_time_is_found_again_at_another_and_of_another_state(under_way: Record):
    asked: list[int] = []

    @at_a_time
    def cut_and_now(state: CaseState, now_ms: int) -> tuple[int, int]:
        asked.append(now_ms)
        return state.tally.held("cut"), now_ms

    state, now_ms = under_way.state, under_way.now_ms
    assert cut_and_now(state, now_ms) == cut_and_now(state, now_ms) == (95, now_ms)
    assert len(asked) == 1
    assert cut_and_now(state, now_ms + MINUTE_MS) == (95, now_ms + MINUTE_MS)
    under_way.enter(c.CutGrafts(harvest="A", size="2", count=1))
    assert cut_and_now(under_way.state, now_ms) == (96, now_ms)
    assert cut_and_now(state, now_ms) == (95, now_ms)


def test_what_is_made_of_some_parts_is_made_again_once_one_of_them_is_another(under_way: Record):
    asked: list[Tally] = []

    @while_same("lanes", "placers_moves")
    def with_placers(tally: Tally) -> int:
        asked.append(tally)
        return sum(each.grafts for each in tally.placers_moves)

    before = under_way.tally
    assert with_placers(before) == with_placers(before) == 0
    under_way.enter(c.CutGrafts(harvest="A", size="2", count=1))
    assert with_placers(under_way.tally) == 0
    assert asked == [before]
    under_way.enter(c.IssueGrafts(size="2", count=7))
    assert with_placers(under_way.tally) == 7
    assert with_placers(before) == 0
