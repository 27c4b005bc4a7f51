"""The hash that ties every entry to all entries before it.

Each row carries the SHA-256 of the hash of the row before and of its own stored values, written as one JSON
array. What is hashed is the stored text itself, so nobody needs to know how a body was made to check it. The
same entries give the same hashes in every copy of a case, also in one that was exported and imported.
"""

import hashlib
from typing import Final, NamedTuple

from msgspec.json import Encoder

#: What stands before the first entry.
START: Final = "0" * 64


class Row(NamedTuple):
    """An entry as it is stored, without its hash."""

    seq: int
    at_ms: int
    station: str
    station_tap: int
    who: str
    kind: str
    body: str


#: The columns of ``Row`` in the table of entries.
COLUMNS: Final = ", ".join(Row._fields)


class Seal(NamedTuple):
    """The end of a chain: how many entries it has, and the hash of the last one."""

    seq: int
    hash: str


EMPTY: Final = Seal(0, START)
_as_json: Final = Encoder().encode


def link(before: str, row: Row) -> str:
    """The hash of ``row`` behind a row whose hash is ``before``: 64 hexadecimal digits."""
    return hashlib.sha256(_as_json((before, *row))).hexdigest()
