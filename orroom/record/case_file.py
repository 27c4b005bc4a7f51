"""A case on disk: one SQLite file, append-only, shared by all stations of one machine.

Every entry is committed with a full disk sync before anybody is shown it. Writes begin immediate, so that
what a station decides on is the newest record and nobody writes in between.
"""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Self

from orroom.case.events import Entry, Stamp
from orroom.clock import Clock, FastClock, WallClock
from orroom.errors import CaseFileError
from orroom.record.encoding import body_of, compact, event_of

SUFFIX = ".orroom"
APPLICATION_ID = 0x4F52524D
FILE_FORMAT = 1
BUSY_SECONDS = 5.0


def wal_is_safe(version: tuple[int, ...]) -> bool:
    """Whether this SQLite may share a write-ahead log between processes.

    Versions before 3.51.3 can corrupt it when two connections write and checkpoint at the same moment
    (sqlite.org/wal.html#walresetbug); 3.50.7 and 3.44.6 carry the repair, 3.52.0 was withdrawn.
    """
    if version[:2] == (3, 52):
        return False
    if version[:2] == (3, 50):
        return version >= (3, 50, 7)
    if version[:2] == (3, 44):
        return version >= (3, 44, 6)
    return version >= (3, 51, 3)


class CaseFile:
    """An open case file. One thread at a time may use it."""

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        self.path = path
        self._connection = connection

    @classmethod
    def create(cls, path: Path, fast_clock: FastClock | None = None) -> Self:
        """Make a new, empty case file that only its owner may read.

        Raises ``CaseFileError`` if the path exists or cannot be written.
        """
        try:
            os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        except FileExistsError:
            raise CaseFileError(f"{path} exists already.", "Open it, or choose another name.") from None
        except OSError as problem:
            raise CaseFileError(
                f"{path} cannot be made: {problem.strerror}.", "Choose another folder."
            ) from None
        connection = _connect(path, read_only=False)
        _make(connection)
        if fast_clock is not None:
            text = compact(
                {
                    "real_origin_ms": fast_clock.real_origin_ms,
                    "case_origin_ms": fast_clock.case_origin_ms,
                    "speed": fast_clock.speed,
                }
            )
            connection.execute("INSERT INTO about (name, value) VALUES ('fast_clock', ?)", (text,))
        return cls(path, connection)

    @classmethod
    def open(cls, path: Path, *, read_only: bool = False) -> Self:
        """Open an existing case file. Raises ``CaseFileError`` with what is wrong and what would be right."""
        _check_readable(path)
        try:
            connection = _connect(path, read_only=read_only)
            _check_ours(path, connection)
            if not read_only:
                _sync_fully(connection)
        except sqlite3.DatabaseError as problem:
            if "not a database" in str(problem):
                raise CaseFileError(f"{path} is not a case file.", "Give a case file of orroom.") from None
            raise CaseFileError(
                f"{path} cannot be read: {problem}.", "Is it damaged? Use a copy."
            ) from problem
        return cls(path, connection)

    def clock(self) -> Clock:
        """The case's clock: the machine's, unless the case runs in faster time."""
        row = self._connection.execute("SELECT value FROM about WHERE name = 'fast_clock'").fetchone()
        return WallClock() if row is None else FastClock(**json.loads(row[0]))

    def journal_mode(self) -> str:
        """How this file is kept safe while it is written: ``wal`` or ``delete``."""
        return str(self._connection.execute("PRAGMA journal_mode").fetchone()[0])

    def data_version(self) -> int:
        """A number that changes whenever another connection has committed."""
        return int(self._connection.execute("PRAGMA data_version").fetchone()[0])

    def entries_after(self, seq: int) -> list[Entry]:
        """All entries behind number ``seq``, in order. Raises ``CaseFileError`` for one it cannot read."""
        rows = self._connection.execute(
            "SELECT seq, at_ms, station, station_tap, who, kind, body FROM entry WHERE seq > ? ORDER BY seq",
            (seq,),
        ).fetchall()
        return [self._entry(row) for row in rows]

    def entry_of_tap(self, station: str, tap: int) -> Entry | None:
        """The entry that a station's tap became, or ``None`` if it is not in the file."""
        row = self._connection.execute(
            "SELECT seq, at_ms, station, station_tap, who, kind, body FROM entry"
            " WHERE station = ? AND station_tap = ?",
            (station, tap),
        ).fetchone()
        return None if row is None else self._entry(row)

    def _entry(self, row: tuple[int, int, str, int, str, str, str]) -> Entry:
        seq, at_ms, station, tap, who, kind, body = row
        try:
            return Entry(seq, Stamp(at_ms, station, tap, who), event_of(kind, body))
        except ValueError as wrong:
            raise CaseFileError(
                f"{self.path}, entry {seq}: {wrong}.", "Is it from a newer version?"
            ) from wrong

    @contextmanager
    def turn(self) -> Iterator[None]:
        """A turn to write: nobody else writes until it ends; all or nothing is kept."""
        self._connection.execute("BEGIN IMMEDIATE")
        try:
            yield
            self._connection.execute("COMMIT")
        except BaseException:
            with suppress(sqlite3.Error):
                self._connection.execute("ROLLBACK")
            raise

    def append(self, entries: Iterable[Entry]) -> None:
        """Add entries; only inside ``turn``."""
        self._connection.executemany(
            "INSERT INTO entry (seq, at_ms, station, station_tap, who, kind, body)"
            " VALUES (?, ?, ?, ?, ?, ?, ?)",
            [
                (e.seq, e.stamp.at_ms, e.stamp.station, e.stamp.tap, e.stamp.who, e.event.kind,
                 compact(body_of(e.event)))
                for e in entries
            ],
        )  # fmt: skip

    def close(self) -> None:
        """Close the file. It can be closed twice."""
        self._connection.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def _connect(path: Path, *, read_only: bool) -> sqlite3.Connection:
    return sqlite3.connect(
        f"{path.absolute().as_uri()}?mode={'ro' if read_only else 'rw'}",
        uri=True,
        timeout=BUSY_SECONDS,
        isolation_level=None,  # transactions are begun by hand, immediate
        check_same_thread=False,  # opened by one thread, then used by the desk's only
    )


def _sync_fully(connection: sqlite3.Connection) -> None:
    """No commit is done before it is on the disk; without a write-ahead log that includes the folder."""
    mode = connection.execute("PRAGMA journal_mode").fetchone()[0]
    connection.execute(f"PRAGMA synchronous = {'FULL' if mode == 'wal' else 'EXTRA'}")


def _make(connection: sqlite3.Connection) -> None:
    """Make an empty file into an empty case file; the format is written last, when all else is there."""
    from orroom.record.tables import make_tables  # a station that opens a case needs no table maker

    mode = "WAL" if wal_is_safe(sqlite3.sqlite_version_info) else "DELETE"
    connection.execute(f"PRAGMA journal_mode = {mode}")
    _sync_fully(connection)
    make_tables(connection)
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version = {FILE_FORMAT}")


def _check_readable(path: Path) -> None:
    """Say plainly why a path cannot be a case file.

    The file is not opened for that: closing a second handle on it would drop the locks that SQLite holds on
    it for another connection of this process (sqlite.org/howtocorrupt.html, section 2.2).
    """
    try:
        if path.is_dir():
            raise CaseFileError(f"{path} is a folder.", f"Give a case file, which ends in {SUFFIX}.")
        if not path.exists():
            raise CaseFileError(f"{path} does not exist.", "Make a case from a plan: orroom new PLAN.toml")
    except OSError as problem:
        raise CaseFileError(f"{path} cannot be read: {problem.strerror}.", "Check the path.") from None
    if not os.access(path, os.R_OK):
        raise CaseFileError(f"{path} may not be read by this user.", "Ask its owner.")


def _check_ours(path: Path, connection: sqlite3.Connection) -> None:
    if connection.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        raise CaseFileError(
            f"{path} is not a case file of orroom.", "Make one from a plan: orroom new PLAN.toml"
        )
    version = connection.execute("PRAGMA user_version").fetchone()[0]
    if version > FILE_FORMAT:
        raise CaseFileError(
            f"{path} has file format {version}; this orroom reads up to {FILE_FORMAT}.",
            "Update orroom on this machine.",
        )
