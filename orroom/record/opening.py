"""How a case file is made, found to be one, and connected to; what else it may be is said in a sentence."""

import os
import sqlite3
import time
from collections.abc import Mapping
from contextlib import closing
from pathlib import Path
from typing import Final

from orroom.errors import CaseFileError
from orroom.files.rights import make_folder, opened
from orroom.record.earlier_views import EARLIER_VIEWS
from orroom.record.schema import APPLICATION_ID, ENTRY_COLUMNS, FILE_FORMAT, GUARDS
from orroom.record.views import VIEWS

SUFFIX: Final = ".orroom"
#: What the name of a locked copy has in it.
LOCKED: Final = "sealed"
BUSY_SECONDS: Final = 5.0
#: Within so long a running station notices that its log is gone (``desk.HEARING_LOOK_SECONDS``, and some).
LOG_SECONDS: Final = 0.6
#: What SQLite, the turns and the anchor keep next to a case file: its name and one of these. Earlier versions
#: kept the anchor in ``.head``.
BESIDE: Final = ("-wal", "-shm", "-journal", ".turn", ".seal", ".seal.new", ".head", ".head.new")
#: How SQLite's errors begin where it may not, or cannot, write what it wants next to a file to read it.
NO_ROOM_BESIDE: Final = ("SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_IOERR_SHM", "SQLITE_FULL")
#: How those begin that are about the disk or the moment, not the file.
NO_DAMAGE: Final = (*NO_ROOM_BESIDE, "SQLITE_IOERR", "SQLITE_BUSY", "SQLITE_PERM", "SQLITE_NOMEM")
#: No value in a case file is longer; the largest is a plan.
LONGEST_VALUE: Final = 4_000_000
#: A log that grew longer while nobody paused is cut to this, in bytes, once all of it is in the file.
LONGEST_LOG: Final = 8_000_000
#: What else a case file has, and no more.
_NO_VIEWS: Final = {("table", "entry"), ("table", "about"), ("index", "one_tap_one_entry")}
_NOT_OURS: Final = "is not an orroom case file."
_MAKE_ONE: Final = "Make one from a plan: orroom new PLAN.toml --who AB"


def wal_is_safe(version: tuple[int, ...]) -> bool:
    """Whether this SQLite may share a write-ahead log between processes without a lock of ours.

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


def is_damage(problem: sqlite3.Error) -> bool:
    """Whether an error is about the file, and not about the disk or the moment."""
    name = getattr(problem, "sqlite_errorname", "")
    return not name.startswith(NO_DAMAGE) or name.endswith("SHORT_READ")


def error_of(path: Path, problem: sqlite3.DatabaseError) -> CaseFileError:
    """What SQLite found wrong with a file, in words."""
    if "not a database" in str(problem):
        return CaseFileError(f"{path} {_NOT_OURS}", f"Give a file that ends in {SUFFIX}.")
    hint = "Is it damaged? Use a copy." if is_damage(problem) else "Is the disk full or gone?"
    log, index = _log_and_index(path)
    if index.exists() and getattr(problem, "sqlite_errorname", "").startswith("SQLITE_IOERR"):
        hint = f"Is the disk full or gone? If {log.name} was deleted, close all stations and open it again."
    return CaseFileError(f"{path} cannot be read: {problem}.", hint)


def _log_and_index(path: Path) -> tuple[Path, Path]:
    return path.with_name(f"{path.name}-wal"), path.with_name(f"{path.name}-shm")


def own_folder(code: str, within: Path = Path()) -> Path:
    """The path of a new case in a folder named by its code, which only its owner or group may look into.

    That folder is made ``within`` another. ``code`` is a plan's, whose pattern lets nothing of a path in.
    Raises ``CaseFileError`` if that fails.
    """
    folder = within / code
    try:
        make_folder(folder)
    except OSError as problem:
        raise CaseFileError(
            f"{folder} cannot be made: {problem.strerror}.", "Choose a path with --case PATH."
        ) from None
    return folder / f"{code}{SUFFIX}"


def reserve(path: Path) -> None:
    """Make an empty file that only its owner or group may read. Raises ``CaseFileError`` if that fails."""
    try:
        os.close(opened(path, os.O_EXCL | os.O_WRONLY))
    except FileExistsError:
        raise CaseFileError(f"{path} already exists.", "Open it, or choose another name.") from None
    except FileNotFoundError:
        raise CaseFileError(f"{path.parent} does not exist.", "Make that folder first.") from None
    except OSError as problem:
        raise CaseFileError(f"{path} cannot be made: {problem.strerror}.", "Choose another folder.") from None


def remove(path: Path) -> None:
    """Take away a case file that was only just made, and what was made next to it: these names, no others."""
    for ending in ("", *BESIDE):
        path.with_name(path.name + ending).unlink(missing_ok=True)


def refuse_links(path: Path) -> None:
    """Raise ``CaseFileError`` where a symbolic link has the name of what is kept next to a case file."""
    for ending in BESIDE:
        beside = path.with_name(path.name + ending)
        if beside.is_symlink():
            raise CaseFileError(f"{beside} is a symbolic link.", "Remove it: orroom makes that file itself.")


def make(connection: sqlite3.Connection, *, write_ahead: bool) -> None:
    """Make an empty file into an empty case file; the format is written last, when all else is there."""
    from orroom.record.tables import make_tables  # a station that opens a case needs no table maker

    connection.execute(f"PRAGMA journal_mode = {'WAL' if write_ahead else 'DELETE'}")
    sync_fully(connection)
    make_tables(connection)
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version = {FILE_FORMAT}")


def _views(version: int) -> Mapping[str, str]:
    """The views of a case file of a format, by name."""
    return EARLIER_VIEWS.get(version) or {name: view.select for name, view in VIEWS.items()}


def bring_up_to_date(connection: sqlite3.Connection) -> None:
    """Give a case file of an earlier format today's views; its entries stay as they were written."""
    if connection.execute("PRAGMA user_version").fetchone()[0] == FILE_FORMAT:
        return
    connection.execute("BEGIN IMMEDIATE")
    try:
        version = connection.execute("PRAGMA user_version").fetchone()[0]
        for name in _views(version):
            connection.execute(f"DROP VIEW {name}")
        for name, select in _views(FILE_FORMAT).items():
            connection.execute(f"CREATE VIEW {name} AS {select}")
        connection.execute(f"PRAGMA user_version = {FILE_FORMAT}")
        connection.execute("COMMIT")
    except BaseException:
        connection.execute("ROLLBACK")
        raise


def find(path: Path) -> Path:
    """The case file that ``path`` is, or that is in that folder: alone, or with the folder's name.

    The file is not opened for that: closing a second handle on it would drop the locks that SQLite holds on
    it for another connection of this process (sqlite.org/howtocorrupt.html, section 2.2). Raises
    ``CaseFileError`` saying plainly why there is none.
    """
    try:
        if path.is_dir():
            found = [each for each in path.glob(f"*{SUFFIX}") if f".{LOCKED}-" not in each.name]
            named = path / f"{path.resolve().name}{SUFFIX}"
            if named in found:  # what is next to it are copies
                found = [named]
            if not found and not os.access(path, os.R_OK | os.X_OK):
                raise CaseFileError(f"{path} is not readable by this user.", "Ask its owner.")
            if len(found) != 1:
                what = "no case file" if not found else f"{len(found)} case files"
                raise CaseFileError(
                    f"{path} is a folder with {what} in it.", f"Give a file that ends in {SUFFIX}."
                )
            path = found[0]
        if not path.exists():
            raise CaseFileError(f"{path} does not exist.", _MAKE_ONE)
        if not path.is_file():  # a pipe or a device would keep the reader waiting for ever
            raise CaseFileError(
                f"{path} is not an ordinary file.", f"Give a case file, which ends in {SUFFIX}."
            )
        if path.is_symlink():  # what lies next to a case lies next to the file itself
            path = path.resolve()
        refuse_links(path)
    except OSError as problem:
        raise CaseFileError(f"{path} cannot be read: {problem.strerror}.", "Check the path.") from None
    if not os.access(path, os.R_OK):
        raise CaseFileError(f"{path} is not readable by this user.", "Ask its owner.")
    return path


def connect(path: Path, *, read_only: bool, immutable: bool = False) -> sqlite3.Connection:
    """A connection that trusts nothing in the file: neither its schema nor its cells."""
    connection = sqlite3.connect(
        f"{path.absolute().as_uri()}?mode={'ro' if read_only else 'rw'}{'&immutable=1' * immutable}",
        uri=True,
        timeout=BUSY_SECONDS,
        isolation_level=None,  # transactions are begun by hand, immediate
        check_same_thread=False,  # opened by one thread, then used by the desk's only
    )
    connection.execute("PRAGMA trusted_schema = OFF")
    connection.execute("PRAGMA cell_size_check = ON")
    connection.execute("PRAGMA mmap_size = 0")
    connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, LONGEST_VALUE)
    return connection


def reader(path: Path) -> sqlite3.Connection:
    """A connection that only reads, to what is certainly a case file.

    Where a power cut has left a write half done, it is undone first. Where nothing may be written, as on a
    full disk or for another user, a case at which no station is open is read as it lies there. Raises
    ``CaseFileError`` for what is not a case file, and SQLite's own error for one that is damaged.
    """
    log, index = _log_and_index(path)
    if index.exists() and not log.exists():  # it was deleted: a station that runs brings its own in first
        time.sleep(LOG_SECONDS)
    try:
        return _checked(path, connect(path, read_only=True))
    except sqlite3.OperationalError as problem:
        name = getattr(problem, "sqlite_errorname", "")
        if name == "SQLITE_READONLY_ROLLBACK":
            _undo_half_done(path)
            return _checked(path, connect(path, read_only=True))
        if not name.startswith(NO_ROOM_BESIDE):
            raise
    if log.exists() and log.stat().st_size:
        raise CaseFileError(
            f"{path} cannot be read now: its newest entries are in a second file, and this disk or folder "
            "cannot be written.",
            "Is the disk full? Otherwise ask someone with write access for a copy: orroom backup.",
        )
    return _checked(path, connect(path, read_only=True, immutable=True))


def _checked(path: Path, connection: sqlite3.Connection) -> sqlite3.Connection:
    try:
        check_ours(path, connection)
    except UnicodeDecodeError as garbled:  # in a name of the schema
        connection.close()
        raise sqlite3.DatabaseError(str(garbled)) from garbled
    except BaseException:
        connection.close()
        raise
    return connection


def _undo_half_done(path: Path) -> None:
    """Let SQLite roll back what a power cut interrupted: that needs a connection that may write.

    Whose file it is, is looked at first, without touching it.
    """
    with closing(sqlite3.connect(f"{path.absolute().as_uri()}?immutable=1", uri=True)) as untouched:
        untouched.execute("PRAGMA writable_schema = ON")  # answers also for a file that was cut short
        if untouched.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
            raise CaseFileError(f"{path} {_NOT_OURS}", _MAKE_ONE)
    with closing(connect(path, read_only=False)) as connection:
        connection.execute("PRAGMA user_version").fetchone()


def check_ours(path: Path, connection: sqlite3.Connection) -> None:
    """Refuse a database that is not exactly a case file, or one of a format this version does not know."""
    if connection.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        raise CaseFileError(f"{path} {_NOT_OURS}", _MAKE_ONE)
    version = connection.execute("PRAGMA user_version").fetchone()[0]
    if version > FILE_FORMAT:
        raise CaseFileError(
            f"{path} has file format {version}; this orroom reads up to {FILE_FORMAT}.",
            "Update orroom on this machine.",
        )
    rows = connection.execute("SELECT type, name, sql FROM sqlite_schema").fetchall()
    found = {(kind, name): str(sql) for kind, name, sql in rows if not name.startswith("sqlite_")}
    columns = [row[1] for row in connection.execute("PRAGMA table_info(entry)")]
    if columns and "hash" not in columns:
        raise CaseFileError(
            f"{path} was made by an earlier version of orroom, whose entries have no hashes.",
            "This version cannot read it: export it with the earlier one.",
        )
    made = {("trigger", name): sql for name, sql in GUARDS.items()}
    made |= {("view", name): sql for name, sql in _views(version).items()}
    odd = {name for _, name in found.keys() ^ (made.keys() | _NO_VIEWS)}
    odd |= {name for (kind, name), sql in found.items() if not sql.endswith(made.get((kind, name), ""))}
    odd |= {"entry"} if columns != list(ENTRY_COLUMNS) else set()
    if odd:
        what = ", ".join(sorted(odd))
        raise CaseFileError(
            f"{path} {_NOT_OURS} Unexpected in it: {what}.", "Was it changed by hand? Use a copy."
        )


def sync_fully(connection: sqlite3.Connection) -> None:
    """No commit is done before it is on the disk; without a write-ahead log that includes the folder."""
    connection.execute("PRAGMA fullfsync = ON")  # macOS: else a commit may be in the disk's own memory
    connection.execute("PRAGMA wal_autocheckpoint = 0")  # never while a tap waits; see CaseFile.settle
    connection.execute(f"PRAGMA journal_size_limit = {LONGEST_LOG}")
    mode = connection.execute("PRAGMA journal_mode").fetchone()[0]
    connection.execute(f"PRAGMA synchronous = {'FULL' if mode == 'wal' else 'EXTRA'}")
