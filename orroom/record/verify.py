"""Whether a record is what was recorded: its chain, its numbering, its anchor, and the database around it."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from pathlib import Path

from orroom.errors import CaseFileError
from orroom.record import opening
from orroom.record.anchor import anchored
from orroom.record.chain import EMPTY, Head, Row, link


@dataclass(frozen=True, slots=True)
class Verdict:
    """What was found: one sentence, and the first entry that is not to be trusted (``None``: sound)."""

    sentence: str
    head: Head
    from_entry: int | None = None

    @property
    def sound(self) -> bool:
        """Whether nothing was found wrong."""
        return self.from_entry is None


def verify(path: Path, printed: Head | None = None) -> Verdict:
    """The verdict on a case file, against its anchor and against a head ``printed`` elsewhere, if given.

    Raises ``CaseFileError`` for what is no case file at all.
    """
    path = opening.find(path)
    try:
        connection = opening.reader(path)
        try:
            return _verdict(path, connection, printed)
        finally:
            connection.close()
    except sqlite3.DatabaseError as damage:
        if "not a database" in str(damage):
            raise CaseFileError(f"{path} is not a case file.", "Give a case file of orroom.") from None
        if not opening.is_damage(damage):
            raise CaseFileError(f"{path} cannot be read: {damage}.", "Is the disk full or gone?") from None
        return Verdict(f"The database is damaged: {damage}.", EMPTY, 1)


def _verdict(path: Path, connection: sqlite3.Connection, printed: Head | None) -> Verdict:
    known = [head for head in (anchored(path), printed) if head is not None]
    hashes = {head.seq: head for head in known}
    head = EMPTY
    columns = ", ".join((*Row._fields, "hash"))
    for *values, kept in connection.execute(f"SELECT {columns} FROM entry ORDER BY seq"):  # noqa: S608 - ours
        row = Row(*values)
        due = head.seq + 1
        if row.seq != due:
            return Verdict(f"Entry {due} is missing: entry {row.seq} follows entry {head.seq}.", head, due)
        if link(head.hash, row) != kept:
            return Verdict(f"Entry {due} is not as it was recorded, or does not belong there.", head, due)
        head = Head(row.seq, kept)
        other = hashes.get(row.seq)
        if other is not None and not kept.startswith(other.hash):
            return Verdict(f"An entry up to {due} was changed: the head kept elsewhere is another.", head, 1)
    return _against_heads(path, connection, head, known)


def _against_heads(path: Path, connection: sqlite3.Connection, head: Head, known: list[Head]) -> Verdict:
    longest = max((each.seq for each in known), default=0)
    if longest > head.seq:
        gone = longest - head.seq
        lost = f"The last {gone:,} entries are missing" if gone > 1 else "The last entry is missing"
        return Verdict(f"{lost}: the head kept elsewhere is entry {longest}.", head, head.seq + 1)
    damage = connection.execute("PRAGMA integrity_check(1)").fetchone()[0]
    if damage != "ok":
        about = f"The entries are sound, the database around them is damaged: {damage}."
        return Verdict(about, head, head.seq + 1)
    if anchored(path) is None:
        return Verdict(
            f"All {head.seq:,} entries are sound as far as they go; no anchor beside the file tells whether "
            "any are missing at the end.",
            head,
        )
    if head.seq == 1:
        return Verdict("The one entry is as it was recorded.", head)
    return Verdict(f"All {head.seq:,} entries are as they were recorded.", head)
