"""Case files and desks for tests: a small case on disk and stations at it."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from cases import MORNING_MS, SetClock, small_plan

from orroom.case import commands as c
from orroom.case.events import Entry
from orroom.case.evolve import fold
from orroom.case.plan import Plan
from orroom.case.state import CaseState
from orroom.case.terms import Role
from orroom.desk import Desk
from orroom.record.case_file import CaseFile
from orroom.recording import record_once

PATIENCE = 10.0


def new_case(path: Path, plan: Plan | None = None) -> Path:
    """An opened case file with nothing else in it."""
    with CaseFile.create(path) as case_file:
        record_once(case_file, c.OpenCase(plan=plan or small_plan()), "EF")
    return path


def read_case(path: Path) -> CaseState:
    """The state that the file alone tells."""
    with CaseFile.open(path, read_only=True) as case_file:
        return fold(case_file.entries_after(0))


@contextmanager
def station(
    path: Path, role: Role = "cutting", who: str = "AB", clock: SetClock | None = None
) -> Iterator[Desk]:
    """A desk at the case, closed at the end."""
    desk = Desk(CaseFile.open(path), role, who, clock or SetClock(MORNING_MS))
    try:
        yield desk
    finally:
        desk.close()


def entered(desk: Desk, command: c.Command) -> Entry:
    """The entry that a command became, once it is on the disk."""
    outcome = desk.ask(command).result(PATIENCE)
    assert isinstance(outcome, Entry), outcome
    return outcome


def wait_until(true: Callable[[], object], seconds: float = PATIENCE) -> None:
    """Wait for something that another thread or process does."""
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "waited in vain"
        time.sleep(0.01)
