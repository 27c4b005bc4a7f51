"""Rows into Parquet files, by DuckDB: typed, sorted, compressed, and whole on the disk or not there at all.

DuckDB is kept from fetching or loading anything: JSON and Parquet are built into it. It never sees a case
file; what is in one comes through ``orroom.record``.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Final

from orroom.errors import OrroomError
from orroom.record.anchor import sync

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

#: Column names and their DuckDB types.
Columns = Mapping[str, str]
Row = Mapping[str, object]

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
    """Write rows to ``path``, sorted by a column, as ``keep_table`` does.

    Moments and dates come as RFC 3339 text, no data as ``None``.
    """
    chosen = ", ".join(f'"{name}"::{kind} AS "{name}"' for name, kind in columns.items())
    read_as = {name: "VARCHAR" if kind == "JSON" else kind for name, kind in columns.items()}
    keep_table(
        connection,
        f"SELECT {chosen} FROM (SELECT unnest(from_json_strict($1, $2), recursive => true)) ORDER BY {sort}",  # noqa: S608 - our own names
        path,
        [json.dumps(list(rows), ensure_ascii=False), json.dumps([read_as])],
    )


def keep_table(connection: DuckDBPyConnection, select: str, path: Path, given: Sequence[object] = ()) -> None:
    """Write what ``select`` finds to ``path``, in place of what was there; only its owner may read it.

    Written beside, synced and renamed. Raises ``OrroomError`` if the file cannot be written.
    """
    import duckdb

    beside = path.with_name(f".{path.name}.{os.getpid()}.new")
    try:
        os.close(os.open(beside, os.O_CREAT | os.O_TRUNC | os.O_WRONLY, 0o600))
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
        why = getattr(problem, "strerror", None) or _first_line(problem)
        raise OrroomError(
            f"{path} cannot be written: {why}.", "Is the folder there, and is there room?"
        ) from None


def read_one(connection: DuckDBPyConnection, path: Path, column: str) -> object:
    """One column of the first row of a file. Raises ``OrroomError`` if it cannot be read or has none."""
    import duckdb

    try:
        row = connection.execute(f"SELECT {column} FROM read_parquet($1)", [exact(path)]).fetchone()  # noqa: S608 - our own name
    except duckdb.Error as problem:
        raise explained(path, problem) from None
    if row is None:
        raise OrroomError(f"{path} holds no row.", "Delete it and add the case again.")
    return row[0]


def explained(path: Path, problem: Exception) -> OrroomError:
    """What DuckDB could not read, in words."""
    return OrroomError(
        f"{path} cannot be read: {_first_line(problem)}.",
        "An archive must hold only what orroom archive add put there.",
    )


def exact(path: Path) -> str:
    """A path as DuckDB takes it: marks that would stand for other names are made plain."""
    return re.sub(r"([*?\[])", r"[\1]", str(path))


def quoted(path: Path | str) -> str:
    """A path as SQL text: COPY takes no parameter for it."""
    return "'" + str(path).replace("'", "''") + "'"


def _first_line(problem: Exception) -> str:
    return str(problem).splitlines()[0].rstrip(".")
