"""All entries of one case as one Parquet table, for tools that read columns. Nothing is left out of it."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, suppress
from pathlib import Path
from typing import Final

from orroom.archive.parquet import database, write_rows
from orroom.case.events import EntryCorrected
from orroom.case.timestamps import utc_stamp
from orroom.errors import CaseFileError
from orroom.files.whole_files import may_be_written
from orroom.record import opening
from orroom.record.chain import COLUMNS as COLUMN_NAMES
from orroom.record.chain import START, Row
from orroom.record.encoding import event_of

#: ``at_utc`` has milliseconds; ``stands`` is false for an entry that was cancelled; ``size`` to ``count`` are
#: the event's own where it has them, else null; ``body`` is the event as it is stored, which ``hash`` ties to
#: ``hash_before`` (``record/chain.py``).
COLUMNS: Final = {
    "seq": "INTEGER",
    "at_utc": "TIMESTAMP WITH TIME ZONE",
    "station": "VARCHAR",
    "station_tap": "INTEGER",
    "who": "VARCHAR",
    "kind": "VARCHAR",
    "stands": "BOOLEAN",
    "size": "VARCHAR",
    "lot": "VARCHAR",  # the harvest, as the first archives called it
    "zone": "VARCHAR",
    "count": "INTEGER",
    "body": "JSON",
    "hash_before": "VARCHAR",
    "hash": "VARCHAR",
}


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
                yield {
                    "seq": row.seq,
                    "at_utc": at_utc,
                    "station": row.station,
                    "station_tap": row.station_tap,
                    "who": row.who,
                    "kind": row.kind,
                    "stands": row.seq not in cancelled,
                    **{name: getattr(event, name, None) for name in ("size", "zone", "count")},
                    "lot": getattr(event, "harvest", None),
                    "body": row.body,
                    "hash_before": before,
                    "hash": kept,
                }
                before = kept
    except sqlite3.DatabaseError as problem:
        raise opening.error_of(case, problem) from problem


def _cancelled(reader: sqlite3.Connection) -> set[int]:
    """The numbers of the entries that were cancelled; one that cannot be read is for ``_rows`` to name."""
    cancelled = set()
    for seq, body in reader.execute("SELECT seq, body FROM entry WHERE kind = ?", (EntryCorrected.kind,)):
        with suppress(ValueError):
            event = event_of(EntryCorrected.kind, body)
            if isinstance(event, EntryCorrected) and 1 <= event.entry < seq:
                cancelled.add(event.entry)
    return cancelled
