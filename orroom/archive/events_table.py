"""All entries of one case as one Parquet table, for tools that read columns. Nothing is left out of it."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, suppress
from pathlib import Path
from typing import Final

from orroom.archive.parquet import database, write_rows
from orroom.case.events import CaseOpened, EntryCorrected, PlanRevised
from orroom.case.plan import Plan
from orroom.case.timestamps import utc_stamp
from orroom.errors import CaseFileError
from orroom.files.whole_files import may_be_written
from orroom.record import opening
from orroom.record.chain import COLUMNS as COLUMN_NAMES
from orroom.record.chain import START, Row
from orroom.record.encoding import event_of
from orroom.words.entries import entry_words

#: The type of each column, and what it means; the meanings are part of ``orroom guide data``.
_MEANT: Final = {
    "seq": ("INTEGER", "number of the entry"),
    "at_utc": ("TIMESTAMP WITH TIME ZONE", "when it was entered, UTC, to the millisecond"),
    "station": ("VARCHAR", "station it was entered at"),
    "station_tap": ("INTEGER", "number of the tap at that station"),
    "who": ("VARCHAR", "initials of the person who entered it"),
    "kind": ("VARCHAR", "kind of entry"),
    "stands": ("BOOLEAN", "false: it was cancelled"),
    "size": ("VARCHAR", "key of the size, if it names one"),
    "size_name": ("VARCHAR", "what the plan called the size then"),
    "harvest": ("VARCHAR", "key of the harvest, if it names one"),
    "harvest_name": ("VARCHAR", "what the plan called the harvest then"),
    "zone": ("VARCHAR", "key of the zone, if it names one"),
    "zone_name": ("VARCHAR", "what the plan called the zone then"),
    "count": ("INTEGER", "how many it counts, if it counts"),
    "words": (
        "VARCHAR",
        "what it says in words, as screens do; they may name people",
    ),
    "body": ("JSON", "the entry as it is stored, which the hash ties to the one before"),
    "hash_before": ("VARCHAR", "hash of the entry before"),
    "hash": ("VARCHAR", "SHA-256 of this entry and the hash before it"),
}
COLUMNS: Final = {name: kind for name, (kind, _) in _MEANT.items()}
MEANINGS: Final = {name: meaning for name, (_, meaning) in _MEANT.items()}
#: The unit of each column that has one.
UNITS: Final = {"count": "grafts, sites or keys"}


def write_events(case: Path, output: Path, *, replace: bool = False) -> int:
    """Write all entries to a Parquet file; their number. Raises ``CaseFileError``, ``OrroomError``."""
    may_be_written(output, replace=replace)
    rows = list(_rows(case))
    with closing(database()) as connection:
        write_rows(connection, rows, COLUMNS, "seq", output)
    return len(rows)


def _rows(case: Path) -> Iterator[dict[str, object]]:
    case = opening.find(case)
    before = START
    names: dict[str, dict[str, str]] = {}
    plan: Plan | None = None
    try:
        with closing(opening.reader(case)) as reader:
            cancelled = _cancelled(reader)
            for *values, kept in reader.execute(f"SELECT {COLUMN_NAMES}, hash FROM entry ORDER BY seq"):  # noqa: S608 - ours
                row = Row(*values)
                try:
                    event, at_utc = event_of(row.kind, row.body), utc_stamp(row.at_ms)
                except (ValueError, OverflowError) as wrong:
                    what = f"{case}, entry {row.seq}: {wrong}."
                    raise CaseFileError(
                        what, "orroom verify shows from where on it is not intact."
                    ) from wrong
                if isinstance(event, CaseOpened | PlanRevised):
                    plan, names = event.plan, _names(event.plan)
                named = {name: getattr(event, name, None) for name in ("size", "harvest", "zone")}
                yield {
                    "seq": row.seq,
                    "at_utc": at_utc,
                    "station": row.station,
                    "station_tap": row.station_tap,
                    "who": row.who,
                    "kind": row.kind,
                    "stands": row.seq not in cancelled,
                    **named,
                    **{f"{name}_name": names.get(name, {}).get(key or "") for name, key in named.items()},
                    "count": getattr(event, "count", None),
                    "words": None if plan is None else entry_words(event, plan),
                    "body": row.body,
                    "hash_before": before,
                    "hash": kept,
                }
                before = kept
    except sqlite3.DatabaseError as problem:
        raise opening.error_of(case, problem) from problem


def _names(plan: Plan) -> dict[str, dict[str, str]]:
    """What a plan calls each size, harvest and zone, by its key."""
    return {
        "size": {each.key: each.label for each in plan.sizes},
        "harvest": {each.key: each.label for each in plan.harvests},
        "zone": {each.key: each.label for each in plan.zones},
    }


def _cancelled(reader: sqlite3.Connection) -> set[int]:
    """The numbers of the entries that were cancelled; one that cannot be read is for ``_rows`` to name."""
    cancelled = set()
    for seq, body in reader.execute("SELECT seq, body FROM entry WHERE kind = ?", (EntryCorrected.kind,)):
        with suppress(ValueError):
            event = event_of(EntryCorrected.kind, body)
            if isinstance(event, EntryCorrected) and 1 <= event.entry < seq:
                cancelled.add(event.entry)
    return cancelled
