"""Where a tap's time goes on its way from the key to the paint: what limits its own repaint."""

from __future__ import annotations

import json
import os
import signal
from bisect import bisect_left
from collections.abc import Iterator, Mapping
from itertools import pairwise
from pathlib import Path

from tests.bench.measuring import Row, Topic, hand_pause
from tests.bench.sitters import PEERS, case_of, station_at

#: What is looked at, in a tap's order: whose function, and what its begin and end are called.
LOOKED_AT = (
    ("orroom.screens.terminal.driver", "StationDriver", "process_message", "read", "parsed"),
    ("orroom.screens.stations.app", "OrroomApp", "on_event", "in the event loop", ""),
    ("orroom.screens.stations.taps", "Taps", "_key", "at its screen", ""),
    ("orroom.desk", "Desk", "ask", "", "asked"),
    ("orroom.desk", "Desk", "_commit", "at the writer", ""),
    ("orroom.record.case_file", "CaseFile", "append", "decided", "inserted"),
    ("orroom.desk", "Desk", "_commit", "", "committed"),
    ("orroom.screens.stations.outcomes", "Outcomes", "came", "back in the event loop", ""),
    ("orroom.screens.stations.cutting", "CuttingScreen", "paint", "", "laid out"),
    ("textual.screen", "Screen", "_on_timer_update", "compared", ""),
    ("orroom.screens.terminal.driver", "StationDriver", "write", "composed", ""),
)
STAGES = tuple(name for *_, begin, end in LOOKED_AT for name in (begin, end) if name)
#: Slower than two close taps may be, so that each passes by itself.
APART_SECONDS = 0.1
TYPED, PAINTED = "typed", "painted"


def measure(folder: Path, *, quick: bool) -> Topic:
    """One station whose functions note when they begin and end."""
    topic = Topic(
        "stages of a tap",
        "The way of `taps`, piece by piece: from the stage before until each stage, in the order of a tap; "
        "the last until the new count is read from the terminal. To note them takes some 0.05 ms in all.",
    )
    case, known = case_of(folder / "staged.orroom"), folder / "stages"
    os.environ["TEXTUAL_FPS"] = "240"
    sitter = station_at(case, program=(str(PEERS / "staged.py"), str(known), json.dumps(LOOKED_AT)))
    taps = []
    try:
        for _ in range(30 if quick else 200):
            sitter.terminal.rest(APART_SECONDS + hand_pause())
            began, took_ms = sitter.tap()
            taps.append((began, began + took_ms / 1000))
        sitter.terminal.process.send_signal(signal.SIGUSR1)
        sitter.terminal.until(known.exists)
    finally:
        sitter.terminal.close()
        del os.environ["TEXTUAL_FPS"]
    found = list(_steps(known.read_text("ascii"), taps))
    topic.rows = [Row(stage, [steps[stage] for steps in found]) for stage in (*STAGES, PAINTED)]
    topic.notes.append(f"{len(found)} of {len(taps)} taps; the others met a clock's tick or a mark that went")
    return topic


def _steps(text: str, taps: list[tuple[float, float]]) -> Iterator[Mapping[str, float]]:
    """Of each tap that nothing else came between, how long after the stage before each stage was, in ms."""
    seen = [(float(at), stage) for at, _, stage in (line.partition(" ") for line in text.splitlines())]
    for began, painted in taps:
        passed = [each for each in seen[bisect_left(seen, (began, "")) :] if each[0] <= painted]
        if [stage for _, stage in passed] == list(STAGES):
            ways = pairwise([(began, TYPED), *passed, (painted, PAINTED)])
            yield {stage: (at - before) * 1000 for (before, _), (at, stage) in ways}
