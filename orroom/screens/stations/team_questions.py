"""What is asked about the people at work: how many, their breaks, and each placer's lane."""

from collections.abc import Generator
from typing import Any

from orroom.case import commands as c
from orroom.case.care import in_lane
from orroom.case.state import CaseState
from orroom.case.terms import WORK_NAMES, WORKS, lane_name
from orroom.screens.stations.initials import person
from orroom.screens.stations.questions import numbered
from orroom.screens.terminal.asking import Choice, Dialogue, Number, Option, Step
from orroom.screens.terminal.keys import LANES


def team(state: CaseState | None = None) -> Dialogue:
    """How many people are at a work from now on, or who will rest; with a ``state`` also lanes."""
    options: list[tuple[str, object]] = [(WORK_NAMES[work], work) for work in WORKS]
    options.append(("a break is planned", None))
    if state is not None:
        options += [(does, ask) for does, ask in _LANE_QUESTIONS.items() if _possible(state, does)]
    work = yield Choice(
        "Who is at work?",
        numbered(options),
        means="The forecast of the finish uses it."
        + ("" if state is None else " A lane is one placer with the grafts in their hands."),
    )
    if callable(work):
        command: c.Command | None = yield from work(state)
        return command
    if work is not None:
        people = yield Number(f"How many people {WORK_NAMES[work]} from now on?")
        return c.ChangeTeam(work=work, people=people)
    resting: list[tuple[str, object]] = [("everybody", None), *((WORK_NAMES[each], each) for each in WORKS)]
    who = yield Choice("Who takes a break?", numbered(resting))
    start = yield Number("in how many minutes? (0 = now)", "min")
    minutes = yield Number("for how many minutes?", "min")
    return c.PlanBreak(in_minutes=start, minutes=minutes, work=who)


def _next_letter(state: CaseState) -> str | None:
    """The first letter whose lane is not open and has no grafts in it; ``None`` if there is none."""
    tally = state.tally
    free = (each for each in LANES if each not in tally.lanes and not in_lane(tally, each))
    return next(free, None)


def _possible(state: CaseState, does: str) -> bool:
    return _next_letter(state) is not None if does == _JOINS else bool(state.tally.lanes)


def _open(state: CaseState) -> Dialogue:
    letter = _next_letter(state) or ""
    by = yield from _placer(state, f"Who places in {lane_name(letter)}?")
    return c.OpenLane(lane=letter, by=by)


def _hand_over(state: CaseState) -> Dialogue:
    lane = yield from _which(state, "Hand over which lane, with its grafts?")
    by = yield from _placer(state, f"Who takes {lane_name(lane)} over from {state.tally.lanes[lane].by}?")
    return c.HandOverLane(lane=lane, by=by)


def _close(state: CaseState) -> Dialogue:
    lane = yield from _which(state, "Close which lane?")
    return c.CloseLane(lane=lane)


def _which(state: CaseState, ask: str) -> Generator[Step, Any, str]:
    """The letter of an open lane."""
    lanes = state.tally.lanes
    letter: str = yield Choice(ask, tuple(Option(each, lanes[each].by, each) for each in lanes))
    return letter


def _placer(state: CaseState, ask: str) -> Generator[Step, Any, str]:
    """Somebody who has no lane yet."""
    have = tuple(lane.by for lane in state.tally.lanes.values())
    return (yield from person(state, ask, have, role="placing", why_not="has a lane already"))


_JOINS = "a placer joins"
_LANE_QUESTIONS = {_JOINS: _open, "a lane is handed over": _hand_over, "a lane is closed": _close}
