"""Whether a record is what was recorded: its chain, its numbering, its anchor, and the database around it."""

import re
import sqlite3
from collections import Counter
from collections.abc import Iterator, Mapping
from contextlib import closing, suppress
from pathlib import Path
from typing import Final

from msgspec import Struct, field

from orroom.case.events import RecordDiffered, StationJoined, StationLeft
from orroom.case.evidence import what_differs
from orroom.case.timestamps import utc_stamp
from orroom.errors import CaseFileError
from orroom.record import opening
from orroom.record.anchor import Anchor, anchored, difference
from orroom.record.chain import COLUMNS, EMPTY, Row, Seal, link
from orroom.record.encoding import event_of

#: SQLite's number for a disk that could not be read, in the last byte (sqlite.org/rescode.html); and for one
#: that ended too soon, which is about the file.
_IO_ERROR, _SHORT_READ = 10, 522
#: From which entry on a record is not to be trusted, in words.
_FROM: Final = "Do not trust it from entry {} on."


class Verdict(Struct, frozen=True):
    """What was found: one sentence, and the first entry that is not to be trusted (``None``: intact).

    ``advice`` is what to make of it. ``says_so``: the record itself says what is wrong, and nothing else is.
    ``opened_with`` says how many stations were opened with a version (``None``: not recorded), and by whom.
    """

    sentence: str
    seal: Seal
    from_entry: int | None = None
    advice: str = ""
    says_so: bool = False
    opened_with: Mapping[tuple[str | None, str], int] = {}

    @property
    def intact(self) -> bool:
        """Whether nothing was found wrong."""
        return self.from_entry is None


class _Found(Struct):
    """What the entries say, read one by one."""

    seal: Seal = EMPTY
    differences: list[tuple[int, RecordDiffered]] = field(default_factory=list)
    stations: set[str] = field(default_factory=set)  # not left yet
    opened_with: Counter[tuple[str | None, str]] = field(default_factory=Counter)

    def take(self, row: Row, kept: str) -> None:
        self.seal = Seal(row.seq, kept)
        match row.kind:
            case StationJoined.kind:
                self.stations.add(row.station)
                with suppress(ValueError):  # one that this version cannot read
                    self.opened_with[getattr(event_of(row.kind, row.body), "version", None), row.who] += 1
            case StationLeft.kind:
                self.stations.discard(row.station)
            case RecordDiffered.kind:
                with suppress(ValueError):  # one that this version cannot read
                    event = event_of(row.kind, row.body)
                    if isinstance(event, RecordDiffered):
                        self.differences.append((row.seq, event))


def verify(path: Path, printed: Seal | None = None) -> Verdict:
    """The verdict on a case file, its anchor, a seal ``printed``. Raises ``CaseFileError`` if unreadable."""
    path = opening.find(path)
    try:
        return _read(path, printed)
    except sqlite3.DatabaseError as problem:
        if "not a database" in str(problem) or not opening.is_damage(problem):
            raise opening.error_of(path, problem) from None
    try:  # once more: a read that fails for the moment may look like damage
        return _read(path, printed)
    except sqlite3.DatabaseError as damage:
        return _not_intact(f"The database is damaged: {damage}.", EMPTY, 1)


def _read(path: Path, printed: Seal | None) -> Verdict:
    with closing(opening.reader(path)) as connection:
        return _verdict(path, connection, printed)


def _not_intact(sentence: str, seal: Seal, from_entry: int) -> Verdict:
    return Verdict(sentence, seal, from_entry, _FROM.format(from_entry))


def _verdict(path: Path, connection: sqlite3.Connection, printed: Seal | None) -> Verdict:
    found = _Found()
    for *values, kept in connection.execute(f"SELECT {COLUMNS}, hash FROM entry ORDER BY seq"):  # noqa: S608 - ours
        row = Row(*values)
        seal = found.seal
        due = seal.seq + 1
        if row.seq != due:
            return _not_intact(
                f"Entry {due} is missing: entry {row.seq} follows entry {seal.seq}.", seal, due
            )
        if link(seal.hash, row) != kept:
            return _not_intact(f"Entry {due} was changed, or does not belong there.", seal, due)
        found.take(row, kept)
        if printed is not None and row.seq == printed.seq and not kept.startswith(printed.hash):
            return _not_intact(
                f"An entry up to {due} was changed: the record does not match the seal kept elsewhere.",
                found.seal,
                1,
            )
    known = anchored(path)
    return next(
        _wrong(connection, found, known, printed), None
    ) or Verdict(_as_recorded(found, known), found.seal, opened_with=found.opened_with.copy())  # fmt: skip


def _wrong(
    connection: sqlite3.Connection, found: _Found, known: Anchor | None, printed: Seal | None
) -> Iterator[Verdict]:
    """What is wrong with a record whose chain is whole, the worst first."""
    seal = found.seal
    differed = None if known is None else difference(connection, known)
    said = {each.expected_hash for _, each in found.differences}
    if differed is not None and differed.expected_hash not in said:
        yield _not_anchored(differed, seal)
    if printed is not None and printed.seq > seal.seq:
        yield _missing(printed.seq, seal)
    damage = connection.execute("PRAGMA integrity_check(1)").fetchone()[0]
    if damage != "ok":
        unread = re.search(r"error code[ =](\d+)", damage)
        if unread and int(unread[1]) & 0xFF == _IO_ERROR and int(unread[1]) != _SHORT_READ:
            raise CaseFileError(f"The case cannot be read: {damage}.", "Is the disk full or gone?")
        about = f"The entries are intact, but the database around them is damaged: {damage}."
        yield _not_intact(about, seal, seal.seq + 1)
    if found.differences:
        shown = " ".join(
            f"Entry {seq} says that the record was changed: {what_differs(each)}."
            for seq, each in found.differences
        )
        first = min((each.same or 0) + 1 for _, each in found.differences)
        last = max(each.last for _, each in found.differences)
        places = f"entry {first}" if first == last else f"entries {first:,} to {last:,}"
        advice = f"Do not trust {places}." if first <= last else f"Entries are missing before entry {first}."
        yield Verdict(shown, seal, first, advice, says_so=True)


def _not_anchored(differed: RecordDiffered, seal: Seal) -> Verdict:
    """That the record is not the one that was anchored, and does not say so."""
    if differed.found_hash is None and differed.same in {None, differed.last}:
        return _missing(differed.anchored, seal)
    found = what_differs(differed)
    return _not_intact(
        f"{found[0].upper()}{found[1:]}: the record does not match the seal kept elsewhere.",
        seal,
        (differed.same or 0) + 1,
    )


def _missing(longest: int, seal: Seal) -> Verdict:
    gone = longest - seal.seq
    lost = f"The last {gone:,} entries are missing" if gone > 1 else "The last entry is missing"
    return _not_intact(f"{lost}: the seal kept elsewhere is entry {longest}.", seal, seal.seq + 1)


def _as_recorded(found: _Found, known: Anchor | None) -> str:
    """That all is as it was recorded, as far as that can be known."""
    seq = found.seal.seq
    if known is None:
        return (
            f"All {seq:,} entries are intact. The .seal file next to the case is missing or unreadable, so "
            "nothing shows whether later entries are missing."
        )
    when = "" if known.at_ms is None else f" at {utc_stamp(known.at_ms)[:19].replace('T', ' ')} UTC"
    if known.seal.seq < seq:
        since = f"entry {seq:,} was" if known.seal.seq == seq - 1 else f"those after {known.seal.seq:,} were"
        return (
            f"All {seq:,} entries are intact; {since} not anchored yet (last{when}), so nothing shows "
            "whether later ones are missing."
        )
    said = "The one entry is" if seq == 1 else f"All {seq:,} entries are"
    if not found.stations:
        return f"{said} unchanged."
    lost = f"entries lost after the last anchor{when} would not show"
    return f"{said} unchanged. Still open: {', '.join(sorted(found.stations))}; {lost}."
