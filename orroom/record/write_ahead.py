"""The write-ahead log next to a case file: room in it, bringing it into the file, whether it is still there.

A log that is deleted while a station has it open goes on taking entries that nobody finds again, and the next
station to open the case begins another: two logs over one file are the end of it. So a connection remembers
which files it has, and nothing is written once they are gone or others.
"""

import sqlite3
from contextlib import suppress
from pathlib import Path
from typing import Final

from orroom.record.side_files import sync
from orroom.record.turns import identity

#: Room in the log for some 240 taps.
LOG_BYTES: Final = 1_000_000
_SUFFIXES: Final = ("-wal", "-shm")


class WriteAheadLog:
    """The log that one connection writes to. A case with a rollback journal has none, and nothing to lose."""

    def __init__(self, case: Path, connection: sqlite3.Connection) -> None:
        """``connection`` is open and has its log, if the case has one."""
        self._connection = connection
        self._paths = [f"{case}{suffix}" for suffix in _SUFFIXES]
        self._used = str(connection.execute("PRAGMA journal_mode").fetchone()[0]) == "wal"
        connection.execute("SELECT 1 FROM about LIMIT 1").fetchone()  # now it has it
        found = [(path, identity(path)) for path in self._paths if self._used]
        self._watched = [(path, known) for path, known in found if known is not None]

    def changed(self) -> str | None:
        """The first of its files that is gone, or not the one that was opened; ``None`` if all is well."""
        for path, known in self._watched:
            if identity(path) != known:
                return path
        return None

    def replaced(self) -> bool:
        """Whether somebody has begun another log, so that this one must not reach the file any more."""
        return any(identity(path) not in {None, known} for path, known in self._watched)

    def bring_in(self) -> bool:
        """Bring it into the file; true if all of it is there now, on the disk. Waits for nobody."""
        busy, frames, brought = self._connection.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchone()
        return not busy and frames == brought

    def make_room(self) -> None:
        """Make the log as long as it will soon be: to overwrite is synced faster than to grow.

        SQLite spills a change that is too large for its cache into the log; rolled back, it leaves the room
        and nothing else. Without that a commit takes 1.4 times a bare write and sync, with it 1.0 times.
        """
        log = Path(self._paths[0])
        with suppress(sqlite3.Error, OSError):
            if not self._used or log.stat().st_size >= LOG_BYTES:
                return
            cache = self._connection.execute("PRAGMA cache_size").fetchone()[0]
            self._connection.execute("PRAGMA cache_size = 8")
            self._connection.execute("BEGIN IMMEDIATE")
            try:  # the end of it stays in the cache
                room = "INSERT OR REPLACE INTO about (name, value) VALUES ('room', ?)"
                self._connection.execute(room, ("0" * 2 * LOG_BYTES,))
            finally:
                self._connection.execute("ROLLBACK")
                self._connection.execute(f"PRAGMA cache_size = {cache}")
            sync(log)


def never_close(connection: sqlite3.Connection) -> None:
    """Keep a connection open until the process has ended, also while Python clears up.

    Closing the last one, SQLite writes its log into the file and deletes whatever has the log's name.
    """
    import ctypes  # no station needs it otherwise

    ctypes.pythonapi.Py_IncRef(ctypes.py_object(connection))
