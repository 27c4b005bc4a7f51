"""How well run-out times are foretold: ``python -m tests.bench.run_outs [--days 24 --first 5000]``.

Simulated days of three plans; every twenty minutes each size of which 20 wait and 30 are owed is looked at.
A size has run out when fewer than 15 of it wait, the smallest batch that the simulated lead hands out, and 15
or more are owed. By plan, for those foretold within half an hour and within an hour: how many, how often
the range of 8 in 10 had the time, how often it came sooner and later than the range, how often never, the
median error where it came, the median width of the ranges that end within three hours, and how many do not.
Then of those not foretold within an hour how many ran out within one.
"""

from __future__ import annotations

import argparse
from bisect import bisect_left
from collections.abc import Iterator
from math import inf
from pathlib import Path
from statistics import median
from typing import NamedTuple

from orroom.case.evolve import evolve
from orroom.case.plan import Plan
from orroom.case.state import CaseState
from orroom.demo.recorded import recorded
from orroom.demo.start import demo_plan
from orroom.figures.counts import by_size
from orroom.figures.flow.found import MINUTE_MS, Dry
from orroom.figures.pace.rest_of_day import foretold
from orroom.files.plan_file import load_plan

EVERY_MS = 20 * MINUTE_MS
BATCH = 15
WAIT, OWED = 20, 30
OPENED_MS = 1_767_600_000_000
SAMPLES = Path(__file__).parents[2] / "sample_cases"


class Looked(NamedTuple):
    """A size at a time: what was foretold, and when it ran out. Minutes from then, ``inf`` for never."""

    low: float
    middle: float
    high: float
    came: float

    @property
    def held(self) -> bool:
        """Whether the range has the time."""
        return self.low <= self.came <= self.high


def looked_at(plan: Plan, seed: int) -> Iterator[Looked]:
    """All that is looked at on a day."""
    state, states = CaseState(), list[CaseState]()
    for entry in recorded(plan, seed, OPENED_MS, 0):
        state = evolve(state, entry)
        states.append(state)
    times = [each.log[-1].stamp.at_ms for each in states]
    counts = [by_size(each) for each in states]
    for at_ms in range(times[0] + EVERY_MS, times[-1], EVERY_MS):
        place = bisect_left(times, at_ms + 1) - 1
        found = foretold(states[place], at_ms).flow
        for each in found.sizes:
            if each.waiting < WAIT or each.owed < OWED:
                continue
            later = range(place, len(states))
            came = (n for n in later if _run_out(counts[n][each.size].waiting, counts[n][each.size].owed))
            when = next((max(0.0, (times[n] - at_ms) / MINUTE_MS) for n in came), inf)
            yield Looked(*_minutes(each.dry, at_ms), when)


def _run_out(waiting: int, owed: int) -> bool:
    return waiting < BATCH <= owed


def _minutes(dry: Dry | None, at_ms: int) -> tuple[float, float, float]:
    if dry is None:
        return inf, inf, inf
    low, middle, high = (
        inf if each is None else (each - at_ms) / MINUTE_MS
        for each in (dry.low_ms, dry.middle_ms, dry.high_ms)
    )
    return low, middle, high


def row(name: str, within: int, looked: list[Looked]) -> str:
    """One row of the table."""
    foretold_ = [each for each in looked if each.middle <= within]
    if not foretold_:
        return f"| {name} | {within} min | 0 | | | | | |"
    sooner = sum(each.came < each.low for each in foretold_)
    later = sum(each.came > each.high for each in foretold_)
    never = sum(each.came == inf for each in foretold_)
    held = sum(each.held for each in foretold_) / len(foretold_)
    errors = [abs(each.came - each.middle) for each in foretold_ if each.came < inf]
    widths = [each.high - each.low for each in foretold_ if each.high < inf]
    error, width = (f"{median(each):.1f}" if each else "" for each in (errors, widths))
    return (
        f"| {name} | {within} min | {len(foretold_)} | {held:.0%}; {sooner}, {later} | {never} "
        f"| {error} | {width} | {len(foretold_) - len(widths)} |"
    )


def main() -> None:
    """Simulate and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=int, default=24)
    parser.add_argument("--first", type=int, default=5000)
    chosen = parser.parse_args()
    plans = {"demo": demo_plan()}
    plans |= {name: load_plan(SAMPLES / name / "plan.toml") for name in ("vertex", "two-lots")}
    whole: list[Looked] = []
    print(
        "| plan | foretold within | number | held; sooner, later | never | error, min | width, min | open |"
    )
    print("|---|---|---|---|---|---|---|---|")
    for name, plan in plans.items():
        days = range(chosen.first, chosen.first + chosen.days)
        found = [each for seed in days for each in looked_at(plan, seed)]
        whole += found
        print(row(name, 30, found), row(name, 60, found), sep="\n", flush=True)
    print(row("all", 30, whole), row("all", 60, whole), sep="\n")
    others = [each for each in whole if each.middle > 60]
    surprises = sum(each.came <= 60 for each in others)
    print(f"Of {len(others)} not foretold within an hour {surprises} ran out in it.")


if __name__ == "__main__":
    main()
