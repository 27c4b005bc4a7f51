"""How well the finish of simulated days is foretold, beside the whole-case mean."""

from __future__ import annotations

import statistics
from collections.abc import Sequence
from typing import NamedTuple

from days import KINDS, SEGMENTS, Day, day

from orroom.case import events as e
from orroom.case.evolve import evolve
from orroom.case.state import CaseState
from orroom.figures.pace.finish import outlook
from orroom.figures.yields import yields

POINTS = (0.25, 0.5, 0.75)


class Foretold(NamedTuple):
    """One forecast beside what came: minutes, and the width of the interval over what was left."""

    kind: str
    point: float
    changed: bool
    covered: bool
    width: float
    error: float
    plain_error: float


def foretold(kind: str, seed: int, at: Sequence[float] = POINTS) -> list[Foretold]:
    """The forecasts of one day, when so large parts of its grafts are done."""
    simulated = day(kind, seed)
    found, points, done = [], list(at), 0
    state = CaseState()
    work = "placing" if kind == "batches" else "cutting"
    counted = e.GraftsPlaced if work == "placing" else e.GraftsCut
    for entry in simulated.entries:
        state = evolve(state, entry)
        if isinstance(entry.event, counted):
            done += entry.event.count
            if points and done >= points[0] * simulated.total:
                found.append(_foretold(simulated, state, done, points.pop(0), work))
    return found


def _foretold(simulated: Day, state: CaseState, done: int, point: float, work: str) -> Foretold:
    now = state.log[-1].stamp.at_ms
    told = next(each for each in outlook(state, yields(state, 80), now).works if each.work == work)
    assert told.finish is not None
    low, middle, _, later = told.finish
    plain = now + (simulated.total - done) / done * (now - simulated.begun_ms)
    return Foretold(
        kind=simulated.kind,
        point=point,
        changed=simulated.changed_ms is not None and simulated.changed_ms <= now,
        covered=low <= simulated.finished_ms <= later,
        width=(later - low) / (simulated.finished_ms - now),
        error=abs(middle - simulated.finished_ms) / 60_000,
        plain_error=abs(plain - simulated.finished_ms) / 60_000,
    )


def row(name: str, told: Sequence[Foretold]) -> dict[str, object]:
    """One line of the table."""
    return {
        "days": name,
        "at": told[0].point,
        "n": len(told),
        "covered": statistics.mean(each.covered for each in told),
        "width": statistics.mean(each.width for each in told),
        "error_min": statistics.mean(each.error for each in told),
        "plain_error_min": statistics.mean(each.plain_error for each in told),
        "median_error_min": statistics.median(each.error for each in told),
        "plain_median_error_min": statistics.median(each.plain_error for each in told),
    }


def table(told: Sequence[Foretold]) -> list[dict[str, object]]:
    """All days, those whose pace had changed before, and each kind, at each point.

    Days cut by segments, where it is not known what is left either, are not among all days.
    """
    rows = []
    for point in POINTS:
        segments = [each for each in told if each.point == point and each.kind == SEGMENTS]
        here = [each for each in told if each.point == point and each.kind != SEGMENTS]
        rows += [row(SEGMENTS, segments)] if segments else []
        rows.append(row("all", here))
        rows.append(row("pace changed before", [each for each in here if each.changed]))
        for kind in KINDS:
            mine = [each for each in here if each.kind == kind]
            rows.append(row(kind, mine))
            changed = [each for each in mine if each.changed]
            if 0 < len(changed) < len(mine):
                rows.append(row(f"{kind}, already", changed))
    return rows
