"""Three ways from a case file to its counts: the program's own, a dictionary an entry, one SQL statement."""

from __future__ import annotations

import json
import sqlite3
from collections import Counter
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from orroom.case.evolve import fold
from orroom.case.state import CaseState, Tally
from orroom.record.case_file import CaseFile

OURS = "decoded, checked and folded"
STREAMED = "the same one by one, none kept"
#: Only what was cut and placed, not what was taken back: less than any replay has to know.
SQL = """
    SELECT kind, json_extract(body, '$.size'), sum(json_extract(body, '$.count')) FROM entry
    WHERE kind IN ('grafts_cut', 'grafts_placed') GROUP BY 1, 2"""


def replayed(path: Path) -> CaseState:
    """The state that a file tells, through the real decoder and fold."""
    with CaseFile.open(path, read_only=True) as case_file:
        return fold(case_file.entries_after(0))


def added_up(path: Path) -> Tally:
    """The tally alone, through the same decoder and fold: no entry is kept."""
    with CaseFile.open(path, read_only=True) as case_file:
        return case_file.tally(case_file.seal().seq)


def counted(path: Path) -> Counter[tuple[str, str]]:
    """Counts by kind and size, with a dictionary an entry and no check of anything."""
    found: Counter[tuple[str, str]] = Counter()
    with closing(_read_only(path)) as connection:
        for kind, body in connection.execute("SELECT kind, body FROM entry ORDER BY seq"):
            event = json.loads(body)
            if "count" in event and "size" in event:
                found[kind, event["size"]] += event["count"]
    return found


def grouped(path: Path) -> list[tuple[str, str, int]]:
    """The same as one SQL statement has it."""
    with closing(_read_only(path)) as connection:
        return connection.execute(SQL).fetchall()


def _read_only(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)


WAYS: dict[str, Callable[[Path], object]] = {
    OURS: replayed,
    STREAMED: added_up,
    "json.loads and a dictionary": counted,
    "SQL GROUP BY over the JSON": grouped,
}
