"""One re-plan in a process of its own: ``python replanner.py PROBLEM`` prints the ms that it took."""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path

from msgspec import convert

from orroom.case.plan import Plan


def main(path: Path) -> None:
    """Read the problem, then import the solver and solve it."""
    parts = json.loads(path.read_text("utf-8"))
    plan = convert(parts["plan"], Plan)
    placed = {(zone, size): count for (zone, size), count in parts["placed"]}
    start = time.perf_counter()
    from orroom.figures.replan.proposal import Supply, replan

    replan(plan, placed, {size: Supply(*each) for size, each in parts["supply"].items()})
    print((time.perf_counter() - start) * 1000)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
