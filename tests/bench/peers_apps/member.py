"""One of eight that enter grafts as fast as they can: ``python member.py CASE TAPS desk|plain``.

Waits for a line on its input, then prints JSON: ``took`` in ms for each tap acknowledged, ``errors``, and
when the last was (monotonic seconds, the same in all processes).
"""

from __future__ import annotations

import json
import sqlite3
import sys
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import NamedTuple


class Told(NamedTuple):
    """What one of the eight tells."""

    took: list[float]
    errors: list[str]
    ended: float


def through_the_desk(path: Path, ready: Callable[[], None], times: int) -> Told:
    """Taps of a station, each waited for."""
    from orroom.case import commands as c
    from orroom.case.events import Entry
    from orroom.desk import Desk
    from orroom.record.case_file import CaseFile

    with CaseFile.open(path) as case_file, closing(Desk(case_file, "cutting", "AB")) as desk:
        command = c.CutGrafts(harvest="A", size="2")
        ready()

        def tap() -> str:
            outcome = desk.ask(command).result()
            return "" if isinstance(outcome, Entry) else str(outcome)

        return _timed(tap, times)


def plainly(path: Path, ready: Callable[[], None], times: int) -> Told:
    """BEGIN IMMEDIATE with SQLite's own busy timeout: read the last number, insert, commit."""
    connection = sqlite3.connect(path, timeout=5.0, isolation_level=None)
    connection.execute("PRAGMA synchronous = FULL")
    ready()

    def tap() -> str:
        try:
            connection.execute("BEGIN IMMEDIATE")
            seq = connection.execute("SELECT coalesce(max(seq), 0) + 1 FROM tap").fetchone()[0]
            connection.execute("INSERT INTO tap VALUES (?, ?, ?)", (seq, "AB", "x" * 200))
            connection.execute("COMMIT")
        except sqlite3.Error as problem:
            if connection.in_transaction:
                connection.rollback()
            return str(problem)
        return ""

    return _timed(tap, times)


def _timed(tap: Callable[[], str], times: int) -> Told:
    took: list[float] = []
    errors: list[str] = []
    for _ in range(times):
        start = time.perf_counter()
        error = tap()
        if error:
            errors.append(error)
        else:
            took.append((time.perf_counter() - start) * 1000)
    return Told(took, errors, time.monotonic())


def main(path: str, times: str, how: str) -> None:
    """Say READY, wait to be told to begin, tap, tell."""

    def ready() -> None:
        print("READY", flush=True)
        sys.stdin.readline()

    found = (through_the_desk if how == "desk" else plainly)(Path(path), ready, int(times))
    print(json.dumps(found._asdict()), flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
