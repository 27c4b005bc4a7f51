"""A case file put back from a copy: what is in its place is looked at first, and kept."""

import sqlite3
from contextlib import closing
from itertools import count
from pathlib import Path
from typing import Final

from msgspec import Struct

from orroom.errors import CaseFileError, OrroomError
from orroom.record import opening
from orroom.record.anchor import anchor, anchored
from orroom.record.copies import copied
from orroom.record.side_files import sync
from orroom.record.verify import verify

#: What is moved away with a case file: its log is of no other. Its anchor stays, and says what is missing.
_WITH_IT: Final = ("", "-wal", "-shm", "-journal")


class Restored(Struct, frozen=True):
    """What was done: entries put back, those that only the file before has, and where that file is now."""

    entries: int
    lost: int
    kept: Path | None


class _Chain(Struct, frozen=True):
    """The hash of each entry, or of none if they cannot be read, and whether the record is as it was made."""

    hashes: tuple[str, ...]
    intact: bool
    whole: bool = True


def restore(copy: Path, case: Path, *, lose: bool = False) -> Restored:
    """Put ``copy`` in place of ``case``; ``lose``: also where entries of ``case`` are not in ``copy``.

    What was in its place is kept under another name. If entries are lost, or were anchored and are in neither
    file, the record will say so from its next entry on. Raises ``CaseFileError`` if the copy is not intact,
    the case has all that the copy has and is intact, is another case, is open, or would lose entries.
    """
    copy = opening.find(copy)
    if case.is_dir():
        case = opening.find(case)
    verdict = verify(copy)
    if not (verdict.intact or verdict.says_so):
        raise CaseFileError(f"{copy} is not restored: {verdict.sentence}", "Take an earlier copy.")
    new = _chain(copy)
    old = _chain(case)
    same = next((at for at, (a, b) in enumerate(zip(old.hashes, new.hashes, strict=False)) if a != b), None)
    in_both = min(len(old.hashes), len(new.hashes)) if same is None else same
    lost = len(old.hashes) - in_both
    if old.hashes and not in_both:
        raise CaseFileError(f"{case} is another case than {copy}.", "Restore to another name.")
    if old.intact and in_both == len(new.hashes):
        more = f", and {lost:,} more" if lost else ""
        entries = "the 1 entry" if in_both == 1 else f"all {in_both:,} entries"
        has = f"{case} is intact and has {entries} of {copy}{more}."
        raise CaseFileError(has, "There is nothing to restore.")
    if (lost or not old.whole) and not lose:
        has = f"{lost:,} entries from entry {in_both + 1:,} on that {copy} does not have"
        raise CaseFileError(
            f"{case} has {has}."
            if lost
            else f"{case} cannot be read to its end, so it may have more entries.",
            "If they may be lost to the case, add --lose-entries: the file in its place is kept.",
        )
    return Restored(len(new.hashes), lost, _replaced(copy, case))


def _chain(path: Path) -> _Chain:
    if not path.exists():
        return _Chain((), intact=False)
    try:
        with closing(opening.reader(path)) as connection:
            rows = connection.execute("SELECT hash FROM entry ORDER BY seq").fetchall()
        return _Chain(tuple(str(each) for (each,) in rows), verify(path).intact)
    except (OrroomError, sqlite3.Error):
        return _Chain((), intact=False, whole=False)


def _replaced(copy: Path, case: Path) -> Path | None:
    """Put the copy in place; answers where what was there is now."""
    kept = None
    if case.exists():
        _refuse_open(case)
        names = (case.with_name(f"{case.name}.replaced-{number}") for number in count(1))
        kept = next(each for each in names if not each.exists())
        _move(case, kept)
    try:
        copied(copy, case)
    except OrroomError:
        if kept is not None:
            _move(kept, case)
        raise
    if anchored(case) is None:
        with closing(opening.reader(case)) as connection:
            anchor(connection, case, verify(case).seal)
    return kept


def _move(path: Path, to: Path) -> None:
    """Rename a case file and its log. Raises ``OSError``."""
    for ending in _WITH_IT:
        beside = path.with_name(path.name + ending)
        if beside.exists():
            beside.rename(to.with_name(to.name + ending))
    sync(to.parent)


def _refuse_open(case: Path) -> None:
    """Raise ``CaseFileError`` if a station has the case open: a shared log locks the file for others."""
    try:
        with closing(sqlite3.connect(case, timeout=0, isolation_level=None)) as connection:
            connection.execute("PRAGMA locking_mode = EXCLUSIVE")
            connection.execute("BEGIN EXCLUSIVE")
            connection.execute("ROLLBACK")
    except sqlite3.DatabaseError as problem:
        if getattr(problem, "sqlite_errorname", "").startswith("SQLITE_BUSY"):
            raise CaseFileError(f"{case} is open at a station.", "Leave all its stations first.") from None
