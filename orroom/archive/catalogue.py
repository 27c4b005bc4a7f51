"""All rows of an archive in one file, so that a report need not open thousands: only what changed is read.

``FOLDER.catalogue.parquet`` is a copy of the rows under ``cases/``, with each file's name, size and time of
change. It lies next to the archive, since those times show when each case was added; it may be deleted at any
time, and is brought up to date whenever it is asked.
Opening 10,000 files takes seconds; looking whether they have changed takes a tenth of one.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from orroom.archive import case_row
from orroom.archive.parquet import exact, keep_table, quoted, read_row, reason
from orroom.archive.pseudonyms import beside
from orroom.errors import OrroomError

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

SUFFIX: Final = ".catalogue.parquet"
_OF_FILE: Final = "file VARCHAR, changed_ns BIGINT, bytes BIGINT"


class _File(NamedTuple):
    """A file of the archive, by its path within the folder; when it changed (ns) and its size (bytes)."""

    file: str
    changed_ns: int
    bytes: int


def rows(connection: DuckDBPyConnection, folder: Path, select: str) -> list[tuple[Any, ...]]:
    """What ``select`` (``SELECT … FROM kept``) finds in an archive's rows, with ``site`` and ``file``.

    Raises ``OrroomError`` for what cannot be read.
    """
    bring_up_to_date(connection, folder)
    return connection.execute(select).fetchall()


def bring_up_to_date(connection: DuckDBPyConnection, folder: Path) -> None:
    """Make the table ``kept`` of all rows; the catalogue is written again if any of them changed.

    A folder that may not be written to has its rows read all the same.
    """
    present = set(_files(folder))
    columns = ", ".join(f"{name} {kind}" for name, kind in case_row.COLUMNS.items())
    connection.execute(f"CREATE OR REPLACE TEMP TABLE kept (site VARCHAR, {columns}, {_OF_FILE})")
    known = _known(connection, folder)
    if known == present:
        return
    changed = present - known
    connection.execute(f"CREATE OR REPLACE TEMP TABLE there ({_OF_FILE})")
    if unchanged := present & known:
        connection.execute(_THERE, _listed(unchanged))
    connection.execute("DELETE FROM kept WHERE file NOT IN (SELECT file FROM there)")
    if changed:
        connection.execute(_THERE, _listed(changed))
        _read(connection, folder, changed)
    with suppress(OrroomError):
        keep_table(connection, "SELECT * FROM kept ORDER BY file", beside(folder, SUFFIX))


_THERE: Final = "INSERT INTO there SELECT unnest($1), unnest($2), unnest($3)"


def _listed(files: set[_File]) -> list[list[object]]:
    return [list(column) for column in zip(*files, strict=True)]


def _files(folder: Path) -> Iterator[_File]:
    for place in (folder / "cases").glob("site=*/year=*"):
        within = place.relative_to(folder).as_posix()
        with os.scandir(place) as entries:
            for entry in entries:
                if entry.name.endswith(".parquet") and not entry.name.startswith("."):
                    stat = entry.stat()
                    yield _File(f"{within}/{entry.name}", stat.st_mtime_ns, stat.st_size)


def _known(connection: DuckDBPyConnection, folder: Path) -> set[_File]:
    """The files whose rows the catalogue has, now in ``kept``; none if it is missing or cannot be used."""
    import duckdb

    catalogue = beside(folder, SUFFIX)
    if not catalogue.exists():
        return set()
    source = f"read_parquet({quoted(exact(catalogue))}, hive_partitioning = false)"
    try:
        connection.execute(f"INSERT INTO kept BY NAME FROM {source}")
        found = connection.execute("SELECT file, changed_ns, bytes FROM kept").fetchall()
    except duckdb.Error:
        connection.execute("DELETE FROM kept")
        return set()
    return {_File(*each) for each in found}


#: Rows as they are, and the file of each.
_ROWS: Final = "read_parquet($1, filename = 'path', hive_partitioning = false{})"


def _read(connection: DuckDBPyConnection, folder: Path, changed: set[_File]) -> None:
    import duckdb

    names = [f"{exact(folder)}/{each.file}" for each in sorted(changed)]
    columns = ", ".join(f"one.{name}" for name in case_row.COLUMNS)
    site = "regexp_extract(there.file, '^cases/site=([^/]+)/', 1)"  # a folder above may be named site=… too

    def take(rows: str) -> None:
        connection.execute(
            f"INSERT INTO kept SELECT {site}, {columns}, there.* FROM {rows} "  # noqa: S608 - our own names
            "AS one JOIN there ON there.file = regexp_extract(one.path, 'cases/[^/]+/[^/]+/[^/]+$')",
            [names],
        )

    try:
        with suppress(duckdb.Error):  # fast, where every row has every column
            return take(_ROWS.format(""))
        older = _ROWS.format(", union_by_name = true")
        names_of = {**dict.fromkeys(case_row.CAME_LATER), **case_row.EARLIER_NAMES}
        later = ", ".join(
            f"NULL::{case_row.COLUMNS[today]} AS {name}"
            for today, earlier in names_of.items()
            for name in filter(None, (today, earlier))
        )
        either = ", ".join(
            f"coalesce({today}, {earlier}) AS {today}" for today, earlier in case_row.EARLIER_NAMES.items()
        )
        every = f"SELECT {later} WHERE false UNION ALL BY NAME FROM {older}"  # noqa: S608 - our own names
        take(f"(SELECT * REPLACE ({either}) FROM ({every}))")  # noqa: S608 - our own names
    except duckdb.Error as problem:
        for each in sorted(changed):  # which of them?
            read_row(
                connection,
                folder / each.file,
                case_row.COLUMNS.keys() - {*case_row.CAME_LATER, *case_row.EARLIER_NAMES},
            )
        raise OrroomError(
            f"{folder} cannot be read: {reason(problem)}.",
            "Remove what orroom archive add did not put there.",
        ) from None
