"""A station without a screen: it taps, and writes down every entry once it was answered.

Each tap cuts as many grafts as its own number, so that an entry itself tells which tap it came from.
As a program it takes the fields of ``Orders`` as JSON.
"""

from __future__ import annotations

import json
import sqlite3
import sys
import threading
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import NamedTuple, Protocol, Self

from orroom import desk as desks
from orroom.case.commands import CutGrafts
from orroom.case.events import Entry
from orroom.desk import Desk
from orroom.errors import CaseFileError
from orroom.record import opening, ticks, turns
from orroom.record.case_file import CaseFile
from orroom.record.turns import TurnLock


class Orders(NamedTuple):
    """What a tapper does: ``taps`` in each of its ``sittings``, of which ``at_once`` are asked at a time."""

    case: str
    told: str
    taps: int
    who: str = "AB"
    sittings: int = 1
    at_once: int = 1
    pause: float = 0.0
    without_turns: bool = False
    unsynced: bool = False
    deaf: bool = False


class Told(NamedTuple):
    """An entry that somebody was told of: the tap of ``station`` that cut ``count`` grafts."""

    seq: int
    station: str
    tap: int
    count: int
    at_ms: int
    steady_ms: int

    @classmethod
    def of(cls, entry: Entry) -> Self:
        stamp = entry.stamp
        return cls(
            entry.seq,
            stamp.station,
            stamp.tap,
            entry.event.count,
            stamp.at_ms,
            round(time.monotonic() * 1000),
        )

    def line(self) -> bytes:
        return json.dumps(self).encode() + b"\n"

    @classmethod
    def read(cls, text: bytes) -> list[Self]:
        return [cls(*json.loads(line)) for line in text.splitlines()]


class Signal(Protocol):
    """Something to wait for."""

    def wait(self, seconds: float) -> bool: ...

    def is_set(self) -> bool: ...


def tap(orders: Orders, begin: Signal | None = None) -> None:
    """Do as ordered, once ``begin`` is given."""
    desks.RETRY_SECONDS = 0.01
    desks.SETTLE_SECONDS = 0.02
    if orders.deaf:  # a trace of two threads at once is cut up, and one station has nobody to hear of
        ticks._inotify = lambda path: None
    if orders.without_turns:
        forget_turns()
    if begin is not None:
        begin.wait(60)
    with Path(orders.told).open("ab", buffering=0) as found:
        for _ in range(orders.sittings):
            desk = _seated(orders)
            for first in range(1, orders.taps + 1, orders.at_once):
                counts = range(first, first + orders.at_once)
                for asked in [desk.ask(CutGrafts(harvest="A", size="2", count=count)) for count in counts]:
                    found.write(Told.of(asked.result(60)).line())
                threading.Event().wait(orders.pause)  # time.sleep fails while the clock is faked
            desk.close()


def forget_turns(change: Callable[[object, str, object], None] = setattr) -> None:
    """Be a machine without turns and with an old SQLite, which keeps a rollback journal."""
    change(turns, "fcntl", None)
    change(opening, "wal_is_safe", lambda _: False)


def _seated(orders: Orders) -> Desk:
    """Join the case, as often as it takes."""
    while True:
        try:
            case_file = CaseFile.open(Path(orders.case))
        except CaseFileError:
            continue
        if orders.unsynced:
            case_file._connection.execute("PRAGMA synchronous = OFF")
        try:
            return Desk(case_file, "cutting", orders.who)
        except (CaseFileError, sqlite3.Error):
            case_file.close()


def open_and_close(case: Path, stop: Signal) -> None:
    """Open, settle and close the case all the time, until ``stop``."""
    while not stop.is_set():
        with CaseFile.open(case) as case_file:
            case_file.settle()


def clear_the_log(case: Path, stop: Signal) -> None:
    """Bring the log into the file and empty it all the time, in turns, until ``stop``."""
    turn = TurnLock(case)
    while not stop.is_set():
        with turn.held(), closing(sqlite3.connect(case)) as connection:
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")


if __name__ == "__main__":
    tap(Orders(**json.loads(sys.argv[1])))
