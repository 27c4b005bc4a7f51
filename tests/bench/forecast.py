"""How well the finish is foretold: ``python -m tests.bench.forecast [--days 50]`` prints a table and JSON.

Days of seven kinds are simulated (``days.py``), turned into entries and folded, and the finish is foretold
when a quarter, half and three quarters of the grafts are done. *Plain* is the whole-case mean: what is left
over what is done, times the time since the beginning. Seeds from 0 to 49 served to choose the settings of
``figures/pace/forecast.py``; the table begins at 1000.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import sys
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import NamedTuple

sys.path.insert(0, str(Path(__file__).parent.parent))
sys.path.insert(0, str(Path(__file__).parent))

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
    low, middle, high = told.finish
    plain = now + (simulated.total - done) / done * (now - simulated.begun_ms)
    return Foretold(
        kind=simulated.kind,
        point=point,
        changed=simulated.changed_ms is not None and simulated.changed_ms <= now,
        covered=low <= simulated.finished_ms <= high,
        width=(high - low) / (simulated.finished_ms - now),
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


def main() -> None:
    """Simulate, foretell, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=int, default=50, help="days of each kind")
    parser.add_argument("--first", type=int, default=1000, help="number of the first day")
    parser.add_argument("--json", action="store_true")
    chosen = parser.parse_args()
    seeds = range(chosen.first, chosen.first + chosen.days)
    jobs = [(kind, seed) for kind in (*KINDS, SEGMENTS) for seed in seeds]
    with ProcessPoolExecutor(os.cpu_count()) as pool:
        told = [each for day in pool.map(foretold, *zip(*jobs, strict=True), chunksize=5) for each in day]
    rows = table(told)
    if chosen.json:
        print(json.dumps(rows, indent=1))
        return
    print("| days | at | n | 80 % interval held | width/left | error, min | plain | median | plain |")
    print("|---|---|---|---|---|---|---|---|---|")
    for each in rows:
        print(
            f"| {each['days']} | {each['at']:.0%} | {each['n']} "
            f"| {each['covered']:.0%} | {each['width']:.2f} "
            f"| {each['error_min']:.1f} | {each['plain_error_min']:.1f} | {each['median_error_min']:.1f} "
            f"| {each['plain_median_error_min']:.1f} |"
        )


if __name__ == "__main__":
    main()
