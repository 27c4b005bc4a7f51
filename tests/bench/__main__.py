"""Benchmarks, apart from the tests: ``python -m tests.bench [--quick]`` prints a table of what was measured.

Figures of one machine say little; the ratios beside them are taken in the same run.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import sqlite3
import statistics
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent.parent))

from stations import new_case, read_case
from terminals import Terminal

from orroom.case import commands as c
from orroom.case.events import Entry, GraftsCut, Stamp
from orroom.desk import record_all, record_once
from orroom.record.case_file import CaseFile
from orroom.record.events_file import read_events
from orroom.record.plan_file import load_plan

PLAN = Path(__file__).parents[2] / "sample_cases" / "frontal-midscalp" / "plan.toml"
#: Each of the four stations taps a size of its own, so that its count on the screen is nobody else's.
STATIONS = (("1", "AB"), ("2", "CD"), ("3", "EF"), ("4", "GH"))


def sync_floor_ms(folder: Path, times: int) -> list[float]:
    """What one bare write and full sync of 200 bytes takes at the pace of the taps, in ms."""
    took = []
    with (folder / "floor").open("ab", buffering=0) as file:
        for _ in range(times):
            time.sleep(0.02)
            start = time.perf_counter()
            file.write(b"x" * 200)
            os.fsync(file.fileno())
            took.append((time.perf_counter() - start) * 1000)
    return took


def tap_to_repaint_ms(folder: Path, taps: int, per_second: float) -> list[float]:
    """From a key written to a terminal until its new count is painted, four stations at once, in ms.

    A count is painted only after its commit, so this holds key, decision, commit, fold and repaint.
    """
    case = new_case(folder / "case.orroom", load_plan(PLAN))
    with CaseFile.open(case) as case_file:
        for size, who in STATIONS:
            record_once(case_file, c.CutGrafts(lot="A", size=size, count=1000 * int(size)), who)
    terminals = [Terminal("open", str(case), "--role", "cutting", "--who", who) for _, who in STATIONS]
    took: list[float] = []
    try:
        for terminal in terminals:
            terminal.until(lambda terminal=terminal: b"CUTTING" in terminal.seen)
        time.sleep(1)

        def sit(terminal: Terminal, size: str, late: float) -> None:
            begin = time.perf_counter() + late
            for number in range(1, taps + 1):
                while time.perf_counter() < begin + number / per_second:
                    terminal.read(until=begin + number / per_second)
                terminal.seen = b""
                painted = f"team {1000 * int(size) + number:,}".encode()
                start = time.perf_counter()
                terminal.type(size)
                while painted not in terminal.seen:
                    terminal.read(until=start + 5)
                took.append((time.perf_counter() - start) * 1000)

        seats = [
            threading.Thread(target=sit, args=(terminal, size, place / per_second / len(STATIONS)))
            for place, (terminal, (size, _)) in enumerate(zip(terminals, STATIONS, strict=True))
        ]
        for seat in seats:
            seat.start()
        for seat in seats:
            seat.join()
    finally:
        for terminal in terminals:
            terminal.close()
    kept = {size: read_case(case).tally.held("cut", size) - 1000 * int(size) for size, _ in STATIONS}
    assert set(kept.values()) == {taps}, kept
    return took


def long_case(folder: Path, entries: int) -> Path:
    """A case with so many entries, all taps of a full day over and over."""
    recorded = read_events(PLAN.with_name("events.jsonl"))
    body = [each for each in recorded[1:] if isinstance(each.event, GraftsCut)]
    many = [recorded[0]]
    for number in range(entries - 1):
        each = body[number % len(body)]
        stamp = Stamp(each.stamp.at_ms + number, "cutting-1", number + 1, each.stamp.who)
        many.append(Entry(number + 2, stamp, each.event))
    with CaseFile.create(folder / f"long-{entries}.orroom") as case_file:
        record_all(case_file, many, "made for this")
    return folder / f"long-{entries}.orroom"


def first_paint_ms(times: int, arguments: list[str], shows: bytes, program: tuple[str, ...]) -> list[float]:
    """From the start of a process until what it shows is on its terminal, in ms."""
    took = []
    for _ in range(times):
        start = time.perf_counter()
        terminal = Terminal(*arguments, program=program)
        try:
            terminal.until(lambda terminal=terminal: shows in terminal.seen)
            took.append((time.perf_counter() - start) * 1000)
        finally:
            terminal.close()
    return took


def row(name: str, took: list[float]) -> dict[str, Any]:
    """Median, 99th percentile and worst of a measurement."""
    cuts = statistics.quantiles(took, n=100, method="inclusive")
    figures = {"p50_ms": cuts[49], "p99_ms": cuts[98], "worst_ms": max(took)}
    return {"what": name, "times": len(took), **{key: round(value, 2) for key, value in figures.items()}}


def main() -> None:
    """Measure and print a table, or JSON with --json."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="a tenth of the taps, to see that it runs")
    parser.add_argument("--json", action="store_true")
    chosen = parser.parse_args()
    taps = 50 if chosen.quick else 500
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        floor = row("bare write and sync, 50 a second", sync_floor_ms(folder, taps))
        tap = row(
            "tap → committed → repainted, 4 stations × 10 a second", tap_to_repaint_ms(folder, taps, 10)
        )
        with CaseFile.open(folder / "case.orroom", read_only=True) as case_file:
            mode = case_file.journal_mode()
        starts = 3 if chosen.quick else 15
        empty = row(
            "start of an empty app of the library",
            first_paint_ms(starts, [], b"READY", (str(Path(__file__).with_name("empty_app.py")),)),
        )
        station = ["open", str(long_case(folder, 5000)), "--role", "cutting", "--who", "AB"]
        started = row(
            "start of a cutting station, 5,000 entries",
            first_paint_ms(starts, station, b"CUTTING", ("-m", "orroom")),
        )
    rows = [floor, tap, empty, started]
    about = {
        "machine": f"{platform.machine()}, {os.cpu_count()} cores, {platform.system()} {platform.release()}",
        "python": platform.python_version(),
        "sqlite": f"{sqlite3.sqlite_version}, journal {mode}",
    }
    if chosen.json:
        print(json.dumps({"about": about, "rows": rows}, indent=2, ensure_ascii=False))
        return
    print("\n".join(f"{key}: {value}" for key, value in about.items()), "\n")
    print(f"start of a station beside an empty app: {started['p50_ms'] / empty['p50_ms']:.2f}\n")
    print("| what | times | p50 ms | p99 ms | worst ms | p50 × floor |\n|---|---|---|---|---|---|")
    for each in rows:
        ratio = f"{each['p50_ms'] / floor['p50_ms']:.1f}"
        print("| " + " | ".join(str(value) for value in (*each.values(), ratio)) + " |")


if __name__ == "__main__":
    main()
