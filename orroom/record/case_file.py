"""A case on disk: one SQLite file, append-only, shared by all stations of one machine.

Every entry is committed with a full disk sync before anybody is shown it. Writes begin immediate, so that
what a station decides on is the newest record and nobody writes in between.
"""

from __future__ import annotations

import json
import os
import sqlite3
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import AbstractContextManager, ExitStack, closing, contextmanager, nullcontext, suppress
from pathlib import Path
from typing import Self

from msgspec.structs import asdict

from orroom.case.events import Entry, EntryCorrected, Stamp
from orroom.case.evolve import added_up
from orroom.case.refusals.form import YEAR_2100_MS
from orroom.case.state import Tally
from orroom.clock import Clock, FastClock, SteadyClock, WallClock, steady_clock, this_boot
from orroom.errors import CaseFileError
from orroom.record import opening
from orroom.record.anchor import anchor, anchored, sync
from orroom.record.bodies import body_text
from orroom.record.chain import EMPTY, Head, Row, link
from orroom.record.encoding import compact, event_of
from orroom.record.ticks import TickWatch
from orroom.record.turns import TurnLock, identity, turn_file

#: Room in the log for some 240 taps, and how many come between two checkpoints at the most.
LOG_BYTES, CHECKPOINT_ENTRIES = 1_000_000, 100
_ROW = "seq, at_ms, station, station_tap, who, kind, body"
_INSERT = "INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?, ?, ?)"


class CaseFile:
    """An open case file. One thread at a time may use it; any may close it, also while another reads."""

    def __init__(self, path: Path, connection: sqlite3.Connection, turns: TurnLock | None) -> None:
        self.path = path
        self._connection = connection
        self._turns = turns
        self._abandoned = False
        self._reading = threading.RLock()  # SQLite frees what a read still uses, if it is closed meanwhile
        self._identity = identity(path)
        self._newest: Head | None = None  # as this turn found it, or the last one left it
        self._version: int | None = None  # what ``data_version`` was then

    @classmethod
    def create(cls, path: Path, fast_clock: FastClock | None = None) -> Self:
        """Make a new, empty case file that only its owner may read.

        Raises ``CaseFileError`` if the path exists or cannot be written.
        """
        opening.reserve(path)
        with ExitStack() as undoing:
            undoing.callback(opening.remove, path)
            turns = TurnLock(path)
            undoing.callback(turns.close)
            try:
                with turns.held():
                    connection = opening.connect(path, read_only=False)
                    undoing.callback(connection.close)
                    serialised = turns.usable or opening.wal_is_safe(sqlite3.sqlite_version_info)
                    opening.make(connection, write_ahead=serialised)
                    case_file = cls(path, connection, turns)
                    if fast_clock is not None:
                        case_file._tell_about("fast_clock", compact(asdict(fast_clock)))
            except sqlite3.Error as problem:
                raise CaseFileError(f"{path} cannot be made: {problem}.", "Is there room?") from problem
            undoing.pop_all()
        return case_file

    @classmethod
    def open(cls, path: Path, *, read_only: bool = False) -> Self:
        """Open an existing case file. Raises ``CaseFileError`` with what is wrong and what would be right."""
        path = opening.find(path)
        try:
            connection = opening.reader(path)
            if read_only:
                return cls(path, connection, None)
            connection.close()
            if not (os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)):
                raise CaseFileError(
                    f"{path} may not be written by this user.", "Ask its owner, or work on a copy."
                )
            turns = TurnLock(path)  # only beside what is a case file
            with turns.held():
                connection = opening.connect(path, read_only=False)
                opening.sync_fully(connection)
                opening.bring_up_to_date(connection)
        except sqlite3.DatabaseError as problem:
            raise opening.error_of(path, problem) from problem
        return cls(path, connection, turns)

    def make_room(self) -> None:
        """Make the write-ahead log as long as it will soon be: to overwrite is synced faster than to grow.

        SQLite spills a change that is too large for its cache into the log; taken back, it leaves the room
        and nothing else. Without that a commit takes 1.4 times a bare write and sync, with it 1.0 times.
        """
        log = self.path.with_name(f"{self.path.name}-wal")
        with suppress(sqlite3.Error, OSError), self.alone():
            if self.journal_mode() != "wal" or log.stat().st_size >= LOG_BYTES:
                return
            cache = self._connection.execute("PRAGMA cache_size").fetchone()[0]
            self._connection.execute("PRAGMA cache_size = 8")
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                self._tell_about("room", "0" * 2 * LOG_BYTES)  # the end of it stays in the cache
            finally:
                self._connection.execute("ROLLBACK")
                self._connection.execute(f"PRAGMA cache_size = {cache}")
            sync(log)

    def clock(self) -> Clock:
        """The case's clock: steady and shared by its stations, or faster than real time in a demo.

        The first station after a start of the machine sets the moment that all count from, later than every
        entry. A file that is only read before that, or a machine without a steady clock, has the machine's
        own time.
        Raises ``CaseFileError`` if nothing can be written now.
        """
        fast = self._about("fast_clock")
        if fast is not None:
            return FastClock(**json.loads(fast))
        if self._turns is None:
            return self._shared_clock() or WallClock()
        try:
            with self.turn():
                if (shared := self._shared_clock()) is not None:
                    return shared
                begun = steady_clock(self._latest_ms())
                if begun is None:
                    return WallClock()
                self._tell_about("steady_clock", compact(asdict(begun)))
                return begun
        except sqlite3.Error as problem:
            raise self.cannot_be_written(problem) from problem

    def _shared_clock(self) -> SteadyClock | None:
        """The steady clock of the case's stations, if one was begun since this start of the machine."""
        shared = self._about("steady_clock")
        known = None if shared is None else SteadyClock(**json.loads(shared))
        return known if known is not None and known.boot_id == this_boot() else None

    def _latest_ms(self) -> int:
        """The latest time of all entries that is one, UTC; 0 without any."""
        latest = "SELECT coalesce(max(at_ms), 0) FROM entry WHERE at_ms < ?"
        return int(self._connection.execute(latest, (YEAR_2100_MS,)).fetchone()[0])

    def cannot_be_written(self, problem: sqlite3.Error) -> CaseFileError:
        """Why nothing was written, in words: a full disk, or another program that keeps the file."""
        return CaseFileError(f"{self.path} cannot be written: {problem}.", "Check disk and owner.")

    def _about(self, name: str) -> str | None:
        with self._reading:
            row = self._connection.execute("SELECT value FROM about WHERE name = ?", (name,)).fetchone()
        return None if row is None else str(row[0])

    def _tell_about(self, name: str, value: str) -> None:
        self._connection.execute("INSERT OR REPLACE INTO about (name, value) VALUES (?, ?)", (name, value))

    def journal_mode(self) -> str:
        """How this file is kept safe while it is written: ``wal`` or ``delete``."""
        return str(self._connection.execute("PRAGMA journal_mode").fetchone()[0])

    def data_version(self) -> int:
        """A number that changes whenever another connection has committed."""
        return int(self._connection.execute("PRAGMA data_version").fetchone()[0])

    def tick(self) -> None:
        """Let the other stations know that something was committed, so that they need not wait to look."""
        if self._turns is not None:
            self._turns.tick()

    def watch(self, heard: Callable[[], None]) -> TickWatch:
        """Have ``heard`` called, from another thread, when any station has committed; close it afterwards."""
        return TickWatch(turn_file(self.path), heard)

    def check_there(self) -> None:
        """Raise ``CaseFileError`` if the path is not the file that was opened any more.

        SQLite would go on writing into a file that was deleted, which nobody finds again.
        """
        if identity(self.path) != self._identity:
            raise CaseFileError(
                f"{self.path} is gone, or another file is in its place.", "Put it back where it was."
            )

    def entries_after(self, seq: int) -> list[Entry]:
        """All entries behind number ``seq``, in order. Raises ``CaseFileError`` for one it cannot read."""
        return list(self._entries("seq > ?", seq))

    def news_after(self, seq: int) -> list[Entry]:
        """As ``entries_after``, where mostly there are none: what the head tells, and it is known already."""
        return self.entries_after(seq) if self.head().seq != seq else []

    def tally(self, seq: int) -> Tally:
        """What the entries up to number ``seq`` add up to, read one by one: however many, none is kept.

        The same as that of their ``fold``. Raises ``CaseFileError`` for an entry it cannot read.
        """
        corrections = self._entries("seq <= ? AND kind = ?", seq, EntryCorrected.kind)
        told = ((each.seq, each.event) for each in corrections)
        corrected = {
            event.entry for at, event in told if isinstance(event, EntryCorrected) and 1 <= event.entry < at
        }
        return added_up(Tally(), self._entries("seq <= ?", seq), corrected)

    def entry_of_tap(self, station: str, tap: int) -> Entry | None:
        """The entry that a station's tap became, or ``None`` if it is not in the file."""
        found = list(self._entries("station = ? AND station_tap = ?", station, tap))
        return found[0] if found else None

    def _entries(self, which: str, *values: object) -> Iterator[Entry]:
        """Some entries in order, one by one; to be taken to the end, since the file waits to be closed."""
        select = f"SELECT {_ROW} FROM entry WHERE {which} ORDER BY seq"  # noqa: S608 - constants
        texts: dict[str, str] = {}  # stations and initials, each kept once for all entries
        seq = 0
        try:
            with self._reading, closing(self._connection.execute(select, values)) as rows:
                for seq, at_ms, station, tap, who, kind, body in rows:
                    stamp = Stamp(at_ms, texts.setdefault(station, station), tap, texts.setdefault(who, who))
                    yield Entry(seq, stamp, event_of(kind, body))
        except ValueError as wrong:
            hint = "Is it from a newer version?"
            raise CaseFileError(f"{self.path}, entry {seq}: {wrong}.", hint) from wrong
        except sqlite3.DatabaseError as problem:
            raise opening.error_of(self.path, problem) from problem

    def head(self) -> Head:
        """The end of the chain: the number and hash of the last entry.

        What the last turn left is still the end if nobody else has committed since, and is not read again.
        """
        version = self.data_version()
        if self._newest is None or version != self._version:
            self._newest, self._version = self._read_head(), version
        return self._newest

    def _read_head(self) -> Head:
        row = self._connection.execute("SELECT seq, hash FROM entry ORDER BY seq DESC LIMIT 1").fetchone()
        return EMPTY if row is None else Head(*row)

    def head_at(self, seq: int) -> str | None:
        """The hash of one entry, which stands for the whole record up to it; ``None`` if there is no such."""
        try:
            row = self._connection.execute("SELECT hash FROM entry WHERE seq = ?", (seq,)).fetchone()
        except sqlite3.DatabaseError as problem:
            raise opening.error_of(self.path, problem) from problem
        return None if row is None else str(row[0])

    @contextmanager
    def turn(self) -> Iterator[None]:
        """A turn to write: nobody else writes until it ends; all or nothing is kept."""
        with self.alone():
            self.check_there()
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                yield
                self._connection.execute("COMMIT")
            except BaseException:
                self._newest = None  # whether it reached the disk is not known
                with suppress(sqlite3.Error):
                    self._connection.execute("ROLLBACK")
                raise

    def append(self, entries: Iterable[Entry]) -> None:
        """Add entries, each tied to the one before by its hash; only inside ``turn``."""
        newest = self.head()
        for entry in entries:
            stamp = entry.stamp
            row = Row(
                entry.seq,
                stamp.at_ms,
                stamp.station,
                stamp.tap,
                stamp.who,
                entry.event.kind,
                body_text(entry.event),
            )
            newest = Head(entry.seq, link(newest.hash, row))
            self._connection.execute(_INSERT, (*row, newest.hash))
        self._newest = newest

    def lost(self) -> int:
        """How many entries the anchor knows that the file has no more."""
        known = anchored(self.path)
        return 0 if known is None else max(0, known.seq - self.head().seq)

    def settle(self, *, anew: bool = False) -> None:
        """Anchor the head outside the file (see ``anchor``), and bring what is in the log into the file.

        The entries are on the disk already: what a full disk does not take now is for the next time.
        """
        with suppress(sqlite3.Error), self.alone():
            anchor(self.path, self.head(), anew=anew)
            self._checkpoint()

    def keep_room(self, seq: int, entered: int) -> None:
        """Begin the log anew if the hundredth entry was among the last ``entered`` ones: it need not grow."""
        if seq % CHECKPOINT_ENTRIES < entered:
            self._checkpoint()

    def _checkpoint(self) -> None:
        with suppress(sqlite3.Error), self.alone():
            self._connection.execute("PRAGMA wal_checkpoint(PASSIVE)")

    def close(self) -> None:
        """Close the file, unless it was abandoned. It can be closed twice."""
        if self._abandoned:
            return
        with self.alone(), self._reading:  # the last one to close writes the log back into the file
            self._connection.close()
        if self._turns is not None:
            self._turns.close()

    def abandon(self) -> None:
        """Never close the file: a thread that waits for its turn still has it, and ends with the process."""
        self._abandoned = True

    def alone(self) -> AbstractContextManager[None]:
        """Nobody else writes until the end of the block, in which turns may be taken."""
        return nullcontext() if self._turns is None else self._turns.held()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()
