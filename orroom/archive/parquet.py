"""Rows into Parquet files, by DuckDB: typed, sorted, compressed, and whole on the disk or not there at all.

DuckDB is kept from fetching or loading anything: JSON and Parquet are built into it. It never sees a case
file; what is in one comes through ``orroom.record``.
"""

from __future__ import annotations

import errno
import os
import re
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from msgspec.json import encode as encoded

from orroom.errors import OrroomError
from orroom.record.side_files import make_new, refuse_link, sync

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

#: Column names and their DuckDB types.
Columns = Mapping[str, str]
Row = Mapping[str, object]

#: What to do about a row that is not as it was written.
ADD_AGAIN: Final = "Delete it and add that case again."
_DISK_FAULTS: Final = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO, errno.EROFS, errno.EACCES)

_NOTHING_FROM_ELSEWHERE: Final[dict[str, str | bool | int | float | list[str]]] = {
    "autoinstall_known_extensions": False,
    "autoload_known_extensions": False,
}


def database() -> DuckDBPyConnection:
    """An empty database in memory, in UTC. Raises ``OrroomError`` where DuckDB is not installed."""
    try:
        import duckdb
    except ImportError:
        raise OrroomError(
            "Parquet needs DuckDB, which is not installed.", "Install it: pip install 'orroom[archive]'"
        ) from None
    connection = duckdb.connect(":memory:", config=_NOTHING_FROM_ELSEWHERE)
    connection.execute("SET TimeZone = 'UTC'")
    return connection


def write_rows(
    connection: DuckDBPyConnection, rows: Iterable[Row], columns: Columns, sort: str, path: Path
) -> None:
    """Write rows to ``path``, sorted; moments and dates come as RFC 3339 text, no data as ``None``."""
    chosen = ", ".join(f'"{name}"::{kind} AS "{name}"' for name, kind in columns.items())
    read_as = {name: "VARCHAR" if kind == "JSON" else kind for name, kind in columns.items()}
    keep_table(
        connection,
        f"SELECT {chosen} FROM (SELECT unnest(from_json_strict($1, $2), recursive => true)) ORDER BY {sort}",  # noqa: S608 - our own names
        path,
        [encoded(list(rows)).decode(), encoded([read_as]).decode()],
    )


def keep_table(connection: DuckDBPyConnection, select: str, path: Path, given: Sequence[object] = ()) -> None:
    """Write what ``select`` finds to ``path``, whole or not at all. Raises ``OrroomError``."""
    import duckdb

    beside = path.with_name(f".{path.name}.{os.getpid()}.new")
    try:
        refuse_link(path)
        os.close(make_new(beside))
        connection.execute(
            f"COPY ({select}) TO {quoted(beside)} (FORMAT parquet, COMPRESSION zstd, USE_TMP_FILE false)",
            list(given),
        )
        sync(beside)
        beside.replace(path)
        sync(path.parent)
    except (duckdb.Error, OSError) as problem:
        with suppress(OSError):
            beside.unlink()
        raise OrroomError(
            f"{path} cannot be written: {reason(problem)}.", "Is the folder there, and is there room?"
        ) from None


def read_row(connection: DuckDBPyConnection, path: Path, columns: Iterable[str]) -> tuple[Any, ...]:
    """Columns of the first row of a file. Raises ``OrroomError`` if it cannot be read or has none."""
    import duckdb

    select = f"SELECT {', '.join(columns)} FROM read_parquet($1, hive_partitioning = false)"  # noqa: S608 - our own names
    try:
        row = connection.execute(select, [exact(path)]).fetchone()
    except duckdb.Error as problem:
        raise OrroomError(f"{path} cannot be read: {reason(problem)}.", ADD_AGAIN) from None
    if row is None:
        raise OrroomError(f"{path} has no rows.", ADD_AGAIN)
    return row


def exact(path: Path) -> str:
    """A path as DuckDB takes it: marks that would match other names are made plain."""
    return re.sub(r"([*?\[])", r"[\1]", str(path))


def quoted(path: Path | str) -> str:
    """A path as SQL text: COPY takes no parameter for it."""
    return "'" + str(path).replace("'", "''") + "'"


def reason(problem: Exception) -> str:
    """What went wrong, in the system's words where it was the disk."""
    said = str(problem)
    faults = (os.strerror(number) for number in _DISK_FAULTS)
    return getattr(problem, "strerror", None) or next(
        (fault for fault in faults if fault in said), said.partition("\n")[0].rstrip(".")
    )
