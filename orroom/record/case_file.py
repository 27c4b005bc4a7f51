"""A case on disk: one SQLite file, append-only, shared by all stations of one machine.

Every entry is committed with a full disk sync before anybody is shown it. Writes begin immediate, so that
what a station decides on is the newest record and nobody writes in between.
"""

import os
import sqlite3
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import AbstractContextManager, ExitStack, closing, contextmanager, nullcontext, suppress
from pathlib import Path
from typing import Self

from msgspec.structs import asdict

from orroom.case.events import Entry, EntryCorrected, RecordDiffered, Stamp
from orroom.case.evolve import added_up
from orroom.case.refusals.form import YEAR_2100_MS
from orroom.case.state import Tally
from orroom.clock import FastClock
from orroom.errors import CaseFileError
from orroom.record import opening
from orroom.record.anchor import anchor, set_aside, unsaid
from orroom.record.bodies import body_text
from orroom.record.chain import COLUMNS, EMPTY, Row, Seal, link
from orroom.record.encoding import compact, event_of
from orroom.record.ticks import TickWatch
from orroom.record.turns import TurnLock, identity, turn_file
from orroom.record.write_ahead import WriteAheadLog, never_close

#: How many entries come between two checkpoints at the most.
CHECKPOINT_ENTRIES = 100
#: What to do at a station whose log was deleted.
LEAVE_AND_OPEN = "Leave this station and open it again; waiting taps are kept in a rescue file."
_INSERT = "INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?, ?, ?)"


class CaseFile:
    """An open case file. One thread at a time may use it; any may close it, also while another reads."""

    def __init__(self, path: Path, connection: sqlite3.Connection, turns: TurnLock | None) -> None:
        self.path = path
        self._connection = connection
        self._turns = turns
        self._abandoned = self._closed_for_new_log = False
        self._reading = threading.RLock()  # SQLite frees what a read still uses, if it is closed meanwhile
        self._name = str(path)
        self._identity = identity(path)
        self._log = WriteAheadLog(path, connection)
        #: Up to which entry all are known to be in the file itself, whatever becomes of the log.
        self.in_file = 0
        self._newest: Seal | None = None  # as this turn found it, or the last one left it
        self._version: int | None = None  # what ``data_version`` was then

    @classmethod
    def create(cls, path: Path, fast_clock: FastClock | None = None) -> Self:
        """Make a new, empty case file for its owner only. Raises ``CaseFileError`` if it cannot be."""
        opening.refuse_links(path)
        opening.reserve(path)
        set_aside(path)
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
                        case_file.keep_about("fast_clock", compact(asdict(fast_clock)))
            except sqlite3.Error as problem:
                raise CaseFileError(f"{path} cannot be made: {problem}.", "Is the disk full?") from problem
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
                    f"{path} is not writable by this user.", "Ask its owner, or work on a copy."
                )
            turns = TurnLock(path)  # only next to what is a case file
            with turns.held():
                connection = opening.connect(path, read_only=False)
                opening.sync_fully(connection)
                opening.bring_up_to_date(connection)
                return cls(path, connection, turns)
        except sqlite3.DatabaseError as problem:
            raise opening.error_of(path, problem) from problem

    def make_room(self) -> None:
        """Make the write-ahead log as long as it will soon be; see ``WriteAheadLog.make_room``."""
        with self.alone():
            if self._log.changed() is None:
                self._log.make_room()

    @property
    def read_only(self) -> bool:
        """Whether nothing is written into it here."""
        return self._turns is None

    def latest_ms(self) -> int:
        """The latest time of all entries that is one, UTC; 0 without any."""
        latest = "SELECT coalesce(max(at_ms), 0) FROM entry WHERE at_ms < ?"
        return int(self._connection.execute(latest, (YEAR_2100_MS,)).fetchone()[0])

    def cannot_be_written(self, problem: sqlite3.Error) -> CaseFileError:
        """Why nothing was written, in words: a full disk, or another program that keeps the file."""
        return CaseFileError(
            f"{self.path} cannot be written: {problem}.", "Check the disk and the file's owner."
        )

    def about(self, name: str) -> str | None:
        """What the file holds of itself next to its entries, ``None`` if there is nothing of this name."""
        with self._reading:
            row = self._connection.execute("SELECT value FROM about WHERE name = ?", (name,)).fetchone()
        return None if row is None else str(row[0])

    def keep_about(self, name: str, value: str) -> None:
        """Have the file hold something of itself next to its entries; only inside ``turn``, or alone."""
        self._connection.execute("INSERT OR REPLACE INTO about (name, value) VALUES (?, ?)", (name, value))

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
        """Raise ``CaseFileError`` if the path, or the log next to it, is not what was opened any more.

        SQLite would go on writing into a file that was deleted, which nobody finds again. A log that is gone
        while nobody has begun another is brought into the file, and a new one begun.
        """
        if identity(self._name) != self._identity:
            raise CaseFileError(
                f"{self.path} is gone, or another file is in its place.", "Put it back where it was."
            )
        if self._closed_for_new_log or self._log.changed() is not None:
            with self.alone(), self._reading:
                self._begin_log_again()

    def _begin_log_again(self) -> None:
        lost = self._log.changed()
        if not self._closed_for_new_log:
            if lost is None:
                return
            if self._turns is None or self._log.replaced() or not self._log.bring_in():
                hint = "Start it again." if self._turns is None else LEAVE_AND_OPEN
                raise CaseFileError(f"{lost} is gone, or another file is in its place.", hint)
            self._newest, self.in_file = None, self.seal().seq
            self._connection.close()
            self._closed_for_new_log = True
        self._connection = opening.connect(self.path, read_only=False)
        opening.sync_fully(self._connection)
        self._log = WriteAheadLog(self.path, self._connection)
        self._closed_for_new_log, self._newest = False, None

    def entries_after(self, seq: int) -> list[Entry]:
        """All entries behind number ``seq``, in order. Raises ``CaseFileError`` for one it cannot read."""
        return list(self._entries("seq > ?", seq))

    def tally(self, seq: int) -> Tally:
        """What the entries up to ``seq`` add up to, none kept. Raises ``CaseFileError`` for a bad one."""
        corrections = self._entries("seq <= ? AND kind = ?", seq, EntryCorrected.kind)
        found = ((each.seq, each.event) for each in corrections)
        corrected = {
            event.entry for at, event in found if isinstance(event, EntryCorrected) and 1 <= event.entry < at
        }
        return added_up(Tally(), self._entries("seq <= ?", seq), corrected)

    def entry_of_tap(self, station: str, tap: int) -> Entry | None:
        """The entry that a station's tap became, or ``None`` if it is not in the file."""
        found = list(self._entries("station = ? AND station_tap = ?", station, tap))
        return found[0] if found else None

    def _entries(self, which: str, *values: object) -> Iterator[Entry]:
        """Some entries in order, one by one; to be taken to the end, since the file waits to be closed."""
        select = f"SELECT {COLUMNS} FROM entry WHERE {which} ORDER BY seq"  # noqa: S608 - constants
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

    def seal(self) -> Seal:
        """The number and hash of the last entry; read again only if somebody else has committed."""
        version = self.data_version()
        if self._newest is None or version != self._version:
            row = self._connection.execute("SELECT seq, hash FROM entry ORDER BY seq DESC LIMIT 1").fetchone()
            self._newest, self._version = EMPTY if row is None else Seal(*row), version
        return self._newest

    def hash_at(self, seq: int) -> str | None:
        """The hash of one entry, which vouches for the whole record up to it; ``None`` if there is none."""
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
        newest = self.seal()
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
            newest = Seal(entry.seq, link(newest.hash, row))
            self._connection.execute(_INSERT, (*row, newest.hash))
        self._newest = newest

    def difference(self) -> RecordDiffered | None:
        """In what this is not the anchored record, if it does not say so yet; see ``anchor.py``."""
        return unsaid(self._connection, self.path)

    def settle(self) -> RecordDiffered | None:
        """Anchor the seal outside the file, and bring what is in the log into the file.

        Where the record is not the one that is anchored nothing is, and the answer is in what it differs: to
        be recorded first. Entries are on the disk already: what a full disk does not take is for next time.
        """
        with suppress(sqlite3.Error), self.alone():
            if (found := self.difference()) is not None:
                return found
            anchor(self._connection, self.path, self.seal())
            self._bring_in()
        return None

    def keep_room(self, seq: int, entered: int) -> None:
        """Begin the log again if the hundredth entry was among the last ``entered``: it need not grow."""
        if seq % CHECKPOINT_ENTRIES < entered:
            with suppress(sqlite3.Error), self.alone():
                self._bring_in()

    def _bring_in(self) -> None:
        if self._log.changed() is None:
            seal = self.seal()
            if self._log.bring_in():
                self.in_file = seal.seq

    def close(self) -> bool:
        """Close the file, unless it was abandoned; false if its log was lost. It can be closed twice."""
        if self._abandoned:
            return True
        with self.alone(), self._reading:  # the last one to close writes the log back into the file
            if lost := self._turns is not None and self._log_was_replaced():
                never_close(self._connection)
                self._abandoned = True
            else:
                self._connection.close()
        if self._turns is not None:
            self._turns.close()
        return not lost

    def _log_was_replaced(self) -> bool:
        """Whether another log has begun, so that to close would write this one over it, and delete it."""
        with suppress(CaseFileError, sqlite3.Error):
            self.check_there()
        return self._log.replaced()

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
