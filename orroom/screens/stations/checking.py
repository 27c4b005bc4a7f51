"""What a spot check asks: whose work, how many grafts, how many faulty, with what faults.

Digits and Enter alone answer all of it, so that a keypad does, but for a fault that is in no list.
"""

from collections.abc import Generator
from functools import partial
from typing import Any, Final

from msgspec.structs import replace

from orroom.case import commands as c
from orroom.case.events import FaultFound
from orroom.case.settings import Checks
from orroom.case.state import CaseState
from orroom.case.terms import CheckSubject, Role
from orroom.figures.wording import several
from orroom.screens.stations.questions import numbered
from orroom.screens.terminal.asking import Choice, Dialogue, Number, Option, Step, Words

#: More people have no number of one digit.
MOST_PEOPLE: Final = 9


def spot_check(state: CaseState, role: Role, zone: str | None, checks: Checks) -> Dialogue:
    """A close look at a few grafts; in cutting their follicles too."""
    subject: CheckSubject = "cutting" if role == "cutting" else "placing"
    people = _at_work(state, subject)
    whose = None
    if people:
        whose = yield Choice(
            "Spot check: whose work?",
            (*numbered((who, who) for who in people), Option("0", "nobody in particular", None)),
            means="By number: who placed or cut the grafts you look at.",
            unhurried=True,
        )
    looked_at = yield Number(
        "Spot check: how many did you look at?",
        means="Grafts looked at closely. No count changes; the share of faulty ones is reported.",
        unhurried=True,
    )
    faulty = yield Number("how many were faulty?", fault=partial(_more_than, looked_at), unhurried=True)
    found = (yield from _with_faults(faulty, checks.of(subject))) if faulty > 0 else None
    check = c.CheckSpot(
        subject=subject, looked_at=looked_at, faulty=faulty, zone=zone, whose=whose, faults=found
    )
    asked = Number("how many follicles in them? (0 = not counted)", unhurried=True)
    follicles = (yield asked) if role == "cutting" else 0
    if not follicles:
        return check
    transected = yield Number("transected?", unhurried=True)
    return replace(check, follicles=follicles, transected=transected)


def _at_work(state: CaseState, subject: CheckSubject) -> tuple[str, ...]:
    """Whose work there is to look at: those of the open lanes, or else all who placed; or all who cut."""
    tally, done = state.tally, "placed" if subject == "placing" else "cut"
    lanes = [lane.by for _, lane in sorted(tally.lanes.items())] if subject == "placing" else []
    return tuple(lanes or sorted({who for who, what, _ in tally.done if what == done}))[:MOST_PEOPLE]


def _with_faults(faulty: int, faults: tuple[str, ...]) -> Generator[Step, Any, tuple[FaultFound, ...]]:
    """Each faulty graft under one fault, until all have one."""
    found: dict[str, int] = {}
    while (left := faulty - sum(found.values())) > 0:
        ask = "what fault?" if left == faulty == 1 else f"{several(left, 'graft')} faulty, what fault?"
        fault = yield Choice(
            ask,
            numbered([*((each, each) for each in faults), ("other", None)]),
            means="Each faulty graft under one fault, its worst.",
            unhurried=True,
        )
        if fault is None:
            fault = (yield Words("what fault, in words?", unhurried=True)).strip()
        count = left
        if left > 1:
            count = yield Number(f"{fault}: how many of {left}?", fault=partial(_none_or_more_than, left))
        found[fault] = found.get(fault, 0) + count
    return tuple(FaultFound(fault=fault, count=count) for fault, count in found.items())


def _more_than(most: int, count: int) -> str:
    return f"only {most} were looked at" if count > most else ""


def _none_or_more_than(most: int, count: int) -> str:
    return "" if 1 <= count <= most else f"enter 1 to {most}"
