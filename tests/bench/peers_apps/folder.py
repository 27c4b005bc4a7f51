"""One way of replaying a file in a process of its own: ``python folder.py CASE NUMBER`` prints JSON."""

from __future__ import annotations

import json
import re
import sqlite3
import sys
import time
from contextlib import closing
from pathlib import Path

from tests.bench.ways_of_counting import WAYS


def memory_mb(name: str) -> float:
    """What this process holds now (``VmRSS``) or held at most (``VmHWM``).

    ``ru_maxrss`` would also tell what the process that started this one held.
    """
    found = re.search(rf"{name}:\s+(\d+) kB", Path("/proc/self/status").read_text("ascii"))
    assert found is not None
    return int(found[1]) / 1024


def main(path: Path, number: int) -> None:
    """Replay, tell entries a second and the memory it took."""
    way = list(WAYS.values())[number]
    with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as connection:
        entries = connection.execute("SELECT max(seq) FROM entry").fetchone()[0]
    before = memory_mb("VmRSS")
    start = time.perf_counter()
    kept = way(path)
    seconds = time.perf_counter() - start
    assert kept
    print(json.dumps({"per_second": entries / seconds, "more_mb": max(memory_mb("VmHWM") - before, 0.1)}))


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]))
