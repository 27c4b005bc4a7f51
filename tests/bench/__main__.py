"""Benchmarks, apart from the tests: ``python -m tests.bench [--quick] [--json] [--only NAME …]``.

Each topic is a module with ``measure``; its variants are taken in turn in one run. Figures of one machine say
little, the ratios between variants more. Nothing here fails for being slow.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

TESTS = Path(__file__).parents[1]
sys.path.insert(0, str(TESTS))
os.environ["PYTHONPATH"] = os.pathsep.join(  # for the processes that are measured, wherever this was started
    [str(TESTS.parent), *filter(None, [os.environ.get("PYTHONPATH")])]
)

from terminals import NO_SETTINGS

from orroom.errors import OrroomError
from tests.bench import (
    across,
    commit,
    crowd,
    growth,
    idle,
    peers,
    replanning,
    replaying,
    reports,
    stages,
    stall,
    start,
    taps,
)
from tests.bench.measuring import Topic, as_json, as_markdown, machine

TOPICS: dict[str, Callable[..., Topic]] = {
    "commit": commit.measure,
    "taps": taps.measure,
    "stages": stages.measure,
    "peers": peers.measure,
    "crowd": crowd.measure,
    "stall": stall.measure,
    "start": start.measure,
    "replaying": replaying.measure,
    "seeking": replaying.measure_seeking,
    "idle": idle.measure,
    "replanning": replanning.measure,
    "reports": reports.measure,
    "across": across.measure,
    "growth": growth.measure,
}


def main() -> None:
    """Measure and print Markdown, or JSON with --json."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="small samples, to see that all of it runs")
    parser.add_argument("--json", action="store_true", help="print JSON instead of Markdown")
    parser.add_argument("--only", nargs="+", choices=TOPICS, metavar="NAME", help=", ".join(TOPICS))
    chosen = parser.parse_args()
    os.environ["ORROOM_SETTINGS"] = NO_SETTINGS
    topics: dict[str, Topic] = {}
    failed: list[str] = []
    with tempfile.TemporaryDirectory(prefix="orroom-bench-") as name:
        # Programs start as installed ones do, with their bytecode at hand, and leave none in the source tree.
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
        os.environ["PYTHONPYCACHEPREFIX"] = str(Path(name) / "bytecode")
        about = machine(Path(name))
        for topic in chosen.only or TOPICS:
            begun = time.perf_counter()
            folder = Path(name) / topic
            folder.mkdir()
            try:
                topics[topic] = TOPICS[topic](folder, quick=chosen.quick)
            except (AssertionError, OSError, OrroomError, subprocess.CalledProcessError) as problem:
                failed.append(f"{topic} could not be measured: {problem}")
            except KeyboardInterrupt:  # what is measured already is worth its table
                failed.append(f"stopped while {topic} was measured")
                break
            print(f"{topic}: {time.perf_counter() - begun:.0f} s", file=sys.stderr)
            shutil.rmtree(folder)
    if chosen.json:
        print(json.dumps(as_json(about, topics), indent=2, ensure_ascii=False))
    else:
        print(as_markdown(about, topics))
    if failed:
        sys.exit("\n".join(failed))


if __name__ == "__main__":
    main()
