"""How well the finish is foretold: ``python -m tests.bench.forecast [--days 50]`` prints a table and JSON.

Days of seven kinds are simulated (``tests/days.py``), turned into entries and folded, and the finish is
foretold when a quarter, half and three quarters of the grafts are done. *Plain* is the whole-case mean: what
is left over what is done, times the time since the beginning. Seeds from 0 to 49 served to choose the
settings of ``figures/pace/forecast.py``; the table begins at 1000.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

from days import KINDS, SEGMENTS
from foretold_days import foretold, table


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
