"""The seal of the record, written next to the case file: what a chain of hashes alone cannot show.

Entries cut off at the end leave a chain that is whole, and so do a backup put back and a record made again.
The anchor still knows how long it was, and which entries it had. It is never written over an anchor that the
record does not go on from, unless the record itself says so; such an anchor is kept (``CASE.seal.1`` …).
"""

import json
import os
import sqlite3
from contextlib import suppress
from itertools import count as counting
from itertools import takewhile
from pathlib import Path
from typing import Final

from msgspec import Struct

from orroom.case.events import RecordDiffered
from orroom.clock import WallClock
from orroom.files.rights import file_mode
from orroom.record.chain import Seal
from orroom.record.encoding import event_of
from orroom.record.side_files import keep, refuse_link

SUFFIX: Final = ".seal"
#: Where earlier versions kept it: read where there is no other, and removed once the seal is kept again.
EARLIER_SUFFIX: Final = ".head"
#: This many digits of each entry's hash are kept, enough to see where two records part.
DIGITS: Final = 4


class Anchor(Struct, frozen=True):
    """A seal as it was anchored, the ``trail`` to it (``DIGITS`` of each entry's hash) and when (UTC ms).

    An anchor of an earlier version has no trail and no time.
    """

    seal: Seal
    trail: str = ""
    at_ms: int | None = None


def anchored(case: Path) -> Anchor | None:
    """The anchor next to the case, or ``None`` if there is none that can be read."""
    try:
        path = _file(case)
        refuse_link(path)
        raw = json.loads(path.read_text("ascii"))
        at_ms = raw.get("at_ms")
        return Anchor(
            Seal(int(raw["seq"]), str(raw["hash"])),
            str(raw.get("trail", "")),
            None if at_ms is None else int(at_ms),
        )
    except (OSError, ValueError, LookupError, TypeError, AttributeError):
        return None


def difference(connection: sqlite3.Connection, anchor: Anchor) -> RecordDiffered | None:
    """In what a record is not the one that was anchored; ``None`` if it goes on from there."""
    seal = anchor.seal
    row = connection.execute("SELECT hash FROM entry WHERE seq = ?", (seal.seq,)).fetchone()
    found = None if row is None else str(row[0])
    if found == seal.hash or seal.seq == 0:
        return None
    last = connection.execute("SELECT coalesce(max(seq), 0) FROM entry").fetchone()[0]
    same = None
    if len(anchor.trail) == seal.seq * DIGITS:
        pairs = zip(anchor.trail, _trail(connection, 0, seal.seq), strict=False)
        alike = sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], pairs))
        same = min(alike // DIGITS, seal.seq - 1)
    return RecordDiffered(anchored=seal.seq, expected_hash=seal.hash, found_hash=found, same=same, last=last)


def unsaid(connection: sqlite3.Connection, case: Path) -> RecordDiffered | None:
    """In what a record is not the one that was anchored, unless the record itself says so."""
    known = anchored(case)
    found = None if known is None else difference(connection, known)
    if found is None:
        return None
    said = connection.execute("SELECT kind, body FROM entry WHERE kind = ?", (RecordDiffered.kind,))
    for event in (event_of(kind, body) for kind, body in said):
        result = isinstance(event, RecordDiffered) and (event.anchored, event.expected_hash)
        if result == (found.anchored, found.expected_hash):
            return None
    return found


def anchor(connection: sqlite3.Connection, case: Path, seal: Seal) -> None:
    """Keep ``seal`` next to the case, synced: the record goes on from its anchor, or says why it does not.

    A folder that cannot be written leaves the case with the anchor it has; ``verify`` says so.
    """
    known = anchored(case)
    if known is not None and known.seal == seal:
        return
    path, before = case.with_name(case.name + SUFFIX), _file(case)
    with suppress(OSError):
        refuse_link(before)
        goes_on = known is not None and difference(connection, known) is None
        if not goes_on and before.exists():
            _set_aside(case, before)
        trail = known.trail if known is not None and goes_on else ""
        trail += _trail(connection, len(trail) // DIGITS, seal.seq)
        found = {**seal._asdict(), "at_ms": WallClock().now_ms(), "trail": trail}
        keep(path, json.dumps(found).encode() + b"\n", path.with_name(path.name + ".new"), file_mode(case))
        case.with_name(case.name + EARLIER_SUFFIX).unlink(missing_ok=True)


def set_aside(case: Path) -> None:
    """Keep the anchor of another record under a name of its own: a new case was made in its place."""
    for suffix in (SUFFIX, EARLIER_SUFFIX):
        path = case.with_name(case.name + suffix)
        with suppress(OSError):
            if path.exists():
                _set_aside(case, path)
                path.unlink()


def _file(case: Path) -> Path:
    """Where the anchor is, or will be."""
    path, earlier = (case.with_name(case.name + suffix) for suffix in (SUFFIX, EARLIER_SUFFIX))
    return earlier if not os.path.lexists(path) and os.path.lexists(earlier) else path


def _set_aside(case: Path, path: Path) -> None:
    names = (case.with_name(f"{case.name}{SUFFIX}.{number}") for number in counting(1))
    free = next(each for each in names if not os.path.lexists(each))
    keep(free, path.read_bytes(), case.with_name(f"{case.name}{SUFFIX}.new"), file_mode(case))


def _trail(connection: sqlite3.Connection, after: int, upto: int) -> str:
    """The first digits of the hash of each entry ``after`` one ``upto`` another, in order."""
    select = "SELECT substr(hash, 1, ?) FROM entry WHERE seq > ? AND seq <= ? ORDER BY seq"
    return "".join(digits for (digits,) in connection.execute(select, (DIGITS, after, upto)))
