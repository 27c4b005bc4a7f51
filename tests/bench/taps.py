"""From a key to its own repaint, in a real terminal, beside a screen of tables and a bare echo."""

from __future__ import annotations

import os
import threading
import time
from contextlib import ExitStack
from pathlib import Path

from tests.bench.measuring import Row, SyncFloor, Target, Topic, hand_pause, interleaved
from tests.bench.sitters import SIZES, Sitter, case_of, counts, peer, station_at

STATION = "one cutting station"
ECHO = "bare echo, no commit"
#: Taps of each of four stations a second.
PACE = 10


def measure(folder: Path, *, quick: bool) -> Topic:
    """One station, its peers in turn; then four stations at once."""
    topic = Topic(
        "key → committed → own repaint",
        "From the key written to a pseudo-terminal of 80×24 until its new count is read from it: the key "
        "parsed, guarded, numbered, committed with full sync, folded and painted on the full cutting screen. "
        "The table screen commits too, with plain SQLite; the echo commits nothing. All at the same frame "
        "rate (`TEXTUAL_FPS` 240).",
    )
    os.environ["TEXTUAL_FPS"] = "240"
    try:
        _one_station(topic, folder, 30 if quick else 300)
        _four_stations(topic, folder, 15 if quick else 300)
    finally:
        del os.environ["TEXTUAL_FPS"]
    return topic


def _one_station(topic: Topic, folder: Path, times: int) -> None:
    case = case_of(folder / "one.orroom")
    floor = SyncFloor(folder)
    with ExitStack() as open_things:
        sitters = {
            STATION: station_at(case),
            "tables of the library, plain commit": peer("table_app.py", str(folder / "table.db")),
            ECHO: peer("echo_app.py"),
        }
        for sitter in sitters.values():
            open_things.callback(sitter.terminal.close)
            sitter.tap_ms()  # the first of each has more to do
        variants = {name: sitter.tap_ms for name, sitter in sitters.items()}
        found = interleaved({"bare write and sync": floor.once_ms} | variants, times, hand_pause)
    rows = {name: Row(name, took) for name, took in found.items()}
    topic.rows += rows.values()
    topic.targets.append(Target("p50", rows[STATION].p50, 5, "ms"))
    topic.targets.append(Target("p99", rows[STATION].p99, 10, "ms"))
    topic.targets.append(Target(f"p50 over a {ECHO}", rows[STATION].p50 / rows[ECHO].p50, 1.6))
    for name in list(rows)[2:]:
        topic.notes.append(f"{STATION} over {name}: {rows[STATION].p50 / rows[name].p50:.2f} (p50)")
    assert counts(case)["1"] == sitters[STATION].count, "a tap that was painted is not in the file"


def _four_stations(topic: Topic, folder: Path, times: int) -> None:
    """Each taps a size of its own, so that its count on the screen is nobody else's."""
    case = case_of(folder / "four.orroom")
    took: list[float] = []
    with ExitStack() as open_things:
        sitters = []
        for size, who in zip(SIZES, ("AB", "CD", "EF", "GH"), strict=True):
            sitters.append(station_at(case, size, who))
            open_things.callback(sitters[-1].terminal.close)
        seats = [
            threading.Thread(target=_sit, args=(sitter, times, place / PACE / len(SIZES), took))
            for place, sitter in enumerate(sitters)
        ]
        for seat in seats:
            seat.start()
        for seat in seats:
            seat.join()
    topic.rows.append(Row("each of four stations at once", took, group=f"{PACE} a second each"))
    found = counts(case)
    assert all(found[each.size] == each.count for each in sitters), "a painted tap is not in the file"


def _sit(sitter: Sitter, times: int, late: float, took: list[float]) -> None:
    """Tap at an even pace, beginning ``late`` s after the others; what others changed is read meanwhile."""
    begin = time.perf_counter() + late
    for number in range(1, times + 1):
        sitter.terminal.rest(max(0.0, begin + number / PACE - time.perf_counter()))
        took.append(sitter.tap_ms())
