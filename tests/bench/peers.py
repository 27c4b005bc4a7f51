"""From a key at one station to the repaint at another, beside what looking every 50 ms gives."""

from __future__ import annotations

import time
from contextlib import ExitStack
from pathlib import Path

from tests.bench.measuring import Row, Target, Topic, hand_pause
from tests.bench.sitters import case_of, each_painted, peer, station_at

THERE = "at another station, painted"


def measure(folder: Path, *, quick: bool) -> Topic:
    """Each tap is looked for at its own station, at another, and by a program that polls."""
    topic = Topic(
        "key at A → committed → painted at B",
        "From the key written to A's pseudo-terminal until the new count is read from B's. Beside it, for "
        "the same taps, a program that looks at the file every 50 ms and writes the count, painting nothing.",
    )
    case = case_of(folder / "shared.orroom")
    found: dict[str, list[float]] = {"at its own station, painted": [], THERE: [], "by 50 ms polling": []}
    with ExitStack() as open_things:
        here, there = station_at(case), station_at(case, who="CD")
        poller = peer("poller.py", str(case))
        sitters = (here, there, poller)
        for sitter in sitters:
            open_things.callback(sitter.terminal.close)
        for _ in range(30 if quick else 300):
            for sitter in sitters:
                sitter.terminal.rest(hand_pause())
                sitter.terminal.seen = b""
            here.count += 1
            start = time.perf_counter()
            here.terminal.type(here.size)
            waiting = dict(zip(found, sitters, strict=True))
            for name, took in each_painted(waiting, here.count, start).items():
                found[name].append(took)
    rows = {name: Row(name, took) for name, took in found.items()}
    topic.rows += rows.values()
    topic.targets.append(Target("p50", rows[THERE].p50, 8, "ms"))
    topic.targets.append(Target("p99", rows[THERE].p99, 20, "ms"))
    return topic
