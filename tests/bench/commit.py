"""The durable commit of one tap, beside a bare write and sync, an event library and a table library."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import ExitStack, closing
from pathlib import Path

import sqlite_utils
from stations import new_case

from orroom.case import commands as c
from orroom.case.events import Entry, GraftsCut, Stamp
from orroom.desk import Desk
from orroom.record.case_file import CaseFile
from tests.bench.long_cases import sample_plan
from tests.bench.measuring import Row, SyncFloor, Target, Topic, hand_pause, interleaved, took_ms

FLOOR = "bare write and sync"
DESK = "a tap through the desk"
PLAIN = "SQLite alone"
#: An entry has these in every variant; what a library adds of its own is its own.
FIELDS = {"station": "cutting-1", "who": "AB", "harvest": "A", "size": "2", "count": 1}


def measure(folder: Path, *, quick: bool) -> Topic:
    """Back to back and at the pace of several hands, all variants in turn."""
    topic = Topic(
        "durable commit of one tap",
        "From the call until it returns with the entry on the disk: through the desk with its queue, thread, "
        "decision and fold; through the case file alone (turn, chain, insert, commit); beside an append of "
        "200 bytes and fsync or fdatasync, the same row in SQLite alone (the same journal and sync; no turn, "
        "chain, guard or index), `eventsourcing`'s `Application.save`, and sqlite-utils' `insert` with its "
        "defaults.",
    )
    with ExitStack() as open_things:
        variants = _variants(folder, open_things)
        for each in variants.values():  # what the first of each has to prepare
            each()
        back_to_back = interleaved(variants, 100 if quick else 1000)
        at_pace = interleaved(variants, 20 if quick else 200, hand_pause)
    for pace, found, limit in (
        ("back to back", back_to_back, 1.3),
        ("20–50 ms apart", at_pace, 1.7),
    ):
        rows = {name: Row(name, took, group=pace) for name, took in found.items()}
        topic.rows += rows.values()
        ratio = rows[DESK].p50 / rows[FLOOR].p50
        topic.targets.append(Target(f"p50 over {FLOOR}, {pace}", ratio, limit))
        topic.targets.append(Target(f"p50 over {PLAIN}, {pace}", rows[DESK].p50 / rows[PLAIN].p50, 1.5))
        least = rows[PLAIN].p50 / rows[FLOOR].p50
        topic.notes.append(f"{pace}: {PLAIN} takes {least:.2f} times a {FLOOR}, which is the least here")
    if "eventsourcing" not in " ".join(variants):
        topic.notes.append("`eventsourcing` is not installed here: left out")
    return topic


def _variants(folder: Path, open_things: ExitStack) -> dict[str, Callable[[], float]]:
    desk = Desk(CaseFile.open(new_case(folder / "desk.orroom", sample_plan())), "cutting", "AB")
    open_things.callback(desk.close)
    command = c.CutGrafts(harvest="A", size="2")
    case_file = open_things.enter_context(CaseFile.open(new_case(folder / "file.orroom", sample_plan())))
    case_file.make_room()  # as a desk's
    table = sqlite_utils.Database(folder / "defaults.db")
    open_things.callback(table.close)
    variants: dict[str, Callable[[], float]] = {
        FLOOR: SyncFloor(folder).once_ms,
        "bare write and fdatasync": SyncFloor(folder, data_only=True).once_ms,
        DESK: lambda: took_ms(lambda: desk.ask(command).result()),
        "case file alone": lambda: took_ms(lambda: _append(case_file)),
        PLAIN: _plain_row(folder / "plain.db", open_things),
        "sqlite-utils insert, defaults": lambda: took_ms(lambda: table["taps"].insert(FIELDS)),
    }
    library = _event_library(folder)
    return variants if library is None else variants | {"eventsourcing save": library}


def _append(case_file: CaseFile) -> None:
    with case_file.turn():
        seq = case_file.seal().seq + 1
        stamp = Stamp(1_767_598_200_000 + seq, "cutting-1", seq, "AB")
        case_file.append([Entry(seq, stamp, GraftsCut(harvest="A", size="2", count=1))])


def _plain_row(path: Path, open_things: ExitStack) -> Callable[[], float]:
    """A row as an entry's, committed by SQLite and nothing else; its log has room, as a case's."""
    connection = open_things.enter_context(closing(sqlite3.connect(path, isolation_level=None)))
    for pragma in ("journal_mode = WAL", "synchronous = FULL", "wal_autocheckpoint = 0"):
        connection.execute(f"PRAGMA {pragma}")
    connection.execute(
        "CREATE TABLE entry (seq INTEGER PRIMARY KEY, at_ms, station, tap, who, kind, body, hash)"
    )
    connection.execute("PRAGMA cache_size = 8")
    connection.execute("BEGIN")
    connection.executemany("INSERT INTO entry (body) VALUES (?)", [("0" * 2000,)] * 1000)
    connection.execute("ROLLBACK")  # what was spilt into the log stays as room
    connection.execute("PRAGMA cache_size = -2000")
    values = (
        1_767_598_200_000,
        "cutting-1",
        1,
        "AB",
        "grafts_cut",
        '{"count":1,"lot":"A","size":"2"}',
        "0" * 64,
    )

    def commit() -> None:
        connection.execute("BEGIN IMMEDIATE")
        connection.execute(
            "INSERT INTO entry (at_ms, station, tap, who, kind, body, hash) VALUES (?, ?, ?, ?, ?, ?, ?)",
            values,
        )
        connection.execute("COMMIT")

    return lambda: took_ms(commit)


def _event_library(folder: Path) -> Callable[[], float] | None:
    """One event saved through ``eventsourcing``, or ``None`` where it is not installed."""
    try:
        from eventsourcing.application import Application
        from eventsourcing.domain import Aggregate, event
    except ImportError:
        return None

    class Tally(Aggregate):
        @event("Cut")
        def cut(self, station: str, who: str, harvest: str, size: str, count: int) -> None:
            self.total = getattr(self, "total", 0) + count

    application = Application(
        env={"PERSISTENCE_MODULE": "eventsourcing.sqlite", "SQLITE_DBNAME": str(folder / "library.db")}
    )
    tally = Tally()
    application.save(tally)

    def save() -> None:
        tally.cut(**FIELDS)
        application.save(tally)

    return lambda: took_ms(save)
