"""The re-plan of twelve zones and five sizes: the first in a process, with imports, and later ones."""

from __future__ import annotations

import json
import random
import subprocess
import sys
from pathlib import Path

from msgspec import to_builtins
from replans import a_full_plan

from orroom.case.plan import Plan
from orroom.figures.replan.dividing import Way
from orroom.figures.replan.problem import Aims
from orroom.figures.replan.proposal import NoProposal, Supply, replan
from tests.bench.measuring import Row, Target, Topic, took_ms
from tests.bench.sitters import PEERS

#: Larger grafts may be divided in these ways.
WAYS = (
    Way("3", ("1", "2")),
    Way("3", ("1", "1", "1")),
    Way("4", ("2", "2")),
    Way("4", ("1", "3")),
    Way("M", ("2", "2")),
)
FullPlan = tuple[Plan, dict[tuple[str, str], int], dict[str, Supply]]


def measure(folder: Path, *, quick: bool) -> Topic:
    """Problems of random numbers: each in turn in a process of its own and in this one."""
    topic = Topic(
        "re-plan 12 × 5",
        "From asking until the proposal with its sentences. The first in a process holds the imports of the "
        "solver; a station does it in a thread beside the taps. The process's own start and reading the "
        "problem are left out.",
    )
    problems = [a_full_plan(random.Random(10_000 + seed)) for seed in range(8 if quick else 200)]
    alone_every = 4 if quick else 8
    replan(*problems[0])  # the imports of this process
    _alone_ms(folder / "problem", problems[0])  # the first writes the bytecode
    alone, here, dividing = [], [], []
    for number, problem in enumerate(problems):
        if number % alone_every == 0:
            alone.append(_alone_ms(folder / "problem", problem))
        here.append(took_ms(lambda problem=problem: _solved(problem)))
        dividing.append(took_ms(lambda problem=problem: _solved(problem, Aims(ways=WAYS))))
    topic.rows += [Row("later ones", here), Row("the first in a process, imports included", alone)]
    topic.rows += [Row("later ones that may divide larger grafts", dividing)]
    imports_ms = topic.rows[1].p50 - topic.rows[0].p50
    topic.targets += [
        Target("p99 with the imports before", topic.rows[0].p99, 250, "ms"),
        Target("p99 of the first in a process", topic.rows[1].p99, 250, "ms"),
    ]
    topic.notes.append(f"imports alone: some {imports_ms:.0f} ms (the first's median less the later ones')")
    return topic


def _solved(problem: FullPlan, aims: Aims | None = None) -> None:
    assert not isinstance(replan(*problem, aims), NoProposal)


def _alone_ms(path: Path, problem: FullPlan) -> float:
    plan, placed, supply = problem
    parts = {"plan": to_builtins(plan), "placed": list(placed.items()), "supply": supply}
    path.write_text(json.dumps(parts), "utf-8")
    program = [sys.executable, str(PEERS / "replanner.py"), str(path)]
    return float(subprocess.run(program, check=True, capture_output=True).stdout)
