"""How well the finish of harsh days is foretold: ``python -m tests.bench.harsh [--days 40] [--first 5000]``.

Days of ``tests/harsh_days.py`` are folded; the finish of placing is foretold when a quarter, half and three
quarters of the grafts are placed. A cell has how many days; how often the range at this pace had the time of
the last entry (breaks to come that nobody entered left out) and its width over what was left; the same to the
later end; the error of the middle in minutes, in brackets that of the mean since the beginning and of the
last 30 minutes, past breaks left out. Seeds below 1000 chose the settings, a report begins at 5000.
With ``--habit`` each day is of a clinic whose last 25 closed cases were of its kind.
"""

from __future__ import annotations

import argparse
import os
import sys
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

from harsh_days import KINDS
from harsh_forecasts import POINTS, STRIPS, asked, cell, clinic, harsh, rows

from orroom.case.habits import NO_HABITS

#: The first seed of a clinic's closed cases.
CLOSED = 3000


def main() -> None:
    """Simulate, foretell, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=int, default=40, help="days of each kind")
    parser.add_argument("--first", type=int, default=5000, help="number of the first day")
    parser.add_argument("--kinds", nargs="*", help="only days of these kinds")
    parser.add_argument("--processes", type=int, default=os.cpu_count())
    parser.add_argument("--habit", action="store_true", help="each kind as a clinic's habit")
    chosen = parser.parse_args()
    kinds = chosen.kinds or (KINDS if chosen.habit else (*KINDS, *STRIPS))
    habits = {kind: clinic([kind], CLOSED, 25) if chosen.habit else NO_HABITS for kind in kinds}
    seeds = range(chosen.first, chosen.first + chosen.days)
    jobs = [(kind, seed, habits[kind]) for kind in kinds for seed in seeds]
    with ProcessPoolExecutor(chosen.processes) as pool:
        found = [each for day in pool.map(harsh, *zip(*jobs, strict=True), chunksize=5) for each in day]
    print("| days | " + " | ".join(f"at {point:.0%}" for point in POINTS) + " |")
    print("|---" * (1 + len(POINTS)) + "|")
    for name, mine in rows(found):
        if not mine:
            continue
        cells = (cell([each for each in mine if each.point == point]) for point in POINTS)
        print(f"| {name} | " + " | ".join(cells) + " |")
    print(asked(found))


if __name__ == "__main__":
    main()
