"""Whole copies of a case: one made while stations run, and the locked one made when it is closed."""

import sqlite3
from contextlib import closing
from pathlib import Path

from orroom.errors import CaseFileError
from orroom.files.rights import file_mode
from orroom.record import opening
from orroom.record.anchor import anchor, set_aside
from orroom.record.side_files import sync
from orroom.record.verify import verify


def backup(case: Path, copy: Path) -> int:
    """Copy a case file, also while stations write to it; answers how many entries the copy holds.

    The copy has no write-ahead log, so that it opens read-only anywhere, and an anchor of its own. Raises
    ``CaseFileError`` if the case cannot be read, the copy exists, or the copy is not intact.
    """
    case = opening.find(case)
    copied(case, copy, alone=True)
    verdict = verify(copy)
    if not (verdict.intact or verdict.says_so):
        opening.remove(copy)
        raise CaseFileError(
            f"The copy {copy} failed verification: {verdict.sentence}",
            "Run orroom verify on the case itself.",
        )
    with closing(opening.reader(copy)) as connection:
        anchor(connection, copy, verdict.seal)
    return verdict.seal.seq


def copied(case: Path, copy: Path, *, alone: bool = False) -> None:
    """Make ``copy`` of a case file, on the disk; ``alone``: an anchor that is there is of another record.

    Raises ``CaseFileError`` if the case cannot be read, or the copy exists or cannot be written.
    """
    try:
        source = opening.reader(case)
    except sqlite3.Error as damage:
        raise CaseFileError(f"{case} cannot be read: {damage}.", "Run orroom verify on it.") from damage
    with closing(source):
        opening.reserve(copy)  # from here on the copy is ours, and is taken away again if it fails
        if alone:
            set_aside(copy)
        try:
            with closing(sqlite3.connect(copy, isolation_level=None)) as target:
                source.backup(target)
                target.execute("PRAGMA journal_mode = DELETE")
        except sqlite3.Error as problem:
            opening.remove(copy) if alone else copy.unlink(missing_ok=True)
            raise CaseFileError(
                f"{case} cannot be copied to {copy}: {problem}.", "Is the disk full?"
            ) from problem
    sync(copy)
    sync(copy.parent)


def locked_copy(case: Path) -> Path:
    """The copy of a closed case that nobody may write to, named by its last entry. Raises as ``backup``."""
    case = opening.find(case)
    entries = verify(case).seal.seq
    for ending in ("", *(f"-{number}" for number in range(2, 100))):
        copy = case.with_name(f"{case.stem}.{opening.LOCKED}-{entries}{ending}{opening.SUFFIX}")
        if not copy.exists():
            break
    backup(case, copy)
    copy.chmod(file_mode(copy) & 0o440)
    return copy
