"""Whether a tap and a start take longer the more entries a case has."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path

from tests.bench.measuring import Row, Target, Topic, hand_pause, interleaved
from tests.bench.sitters import case_of, station_at
from tests.bench.stages import APART_SECONDS
from tests.bench.start import STATION, Starting

LENGTHS = (500, 5_000, 50_000)
FLAT = 1.5


def measure(folder: Path, *, quick: bool) -> Topic:
    """Stations at cases of each length, tapped and started in turn."""
    lengths = LENGTHS[:2] if quick else LENGTHS
    topic = Topic(
        "growth",
        f"A cutting station at cases of {', '.join(f'{length:,}' for length in lengths)} entries: "
        "from a key until its own repaint, and from the start of a process until its first paint, as in "
        "`taps` and `start`.",
    )
    cases = {f"{length:,} entries": case_of(folder / f"{length}.orroom", length) for length in lengths}
    with ExitStack() as open_things:
        sitters = {name: station_at(case) for name, case in cases.items()}
        for sitter in sitters.values():
            open_things.callback(sitter.terminal.close)
            sitter.tap_ms()
        taps = interleaved(
            {name: sitter.tap_ms for name, sitter in sitters.items()},
            12 if quick else 150,
            lambda: APART_SECONDS + hand_pause(),  # one person's taps: faster ones are asked about
        )
    starting = {name: Starting(STATION, case) for name, case in cases.items()}
    starting[next(iter(starting))].first_paint_ms()  # the first start writes the bytecode
    starts = interleaved({name: each.first_paint_ms for name, each in starting.items()}, 1 if quick else 7)
    for what, found in (("tap → repaint", taps), ("start → first paint", starts)):
        rows = [Row(name, took, group=what) for name, took in found.items()]
        topic.rows += rows
        for row in rows[1:]:
            ratio = row.p50 / rows[0].p50
            topic.targets.append(Target(f"{what}, {row.what} over {rows[0].what}", ratio, FLAT))
    return topic
