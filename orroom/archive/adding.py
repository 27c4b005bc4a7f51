"""Adding closed cases to an archive, each once, without anything that names anybody.

An archive is a folder::

    archive.json                                       its format
    cases/site=…/year=…/PSEUDONYM.parquet              one row: the case's figures
    events/site=…/year=…/PSEUDONYM.parquet             its entries

Key, lock and catalogue lie next to it. A file is written whole and never changed; a case counts once its row
is there, and that is written last. One adds at a time; what a killed one left is swept by the next.
Only a case that is signed off and intact is taken: half a day has no figures to compare.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Final, NamedTuple

from msgspec import Struct

from orroom.archive import anonymous, case_row
from orroom.archive.parquet import database, read_row, write_rows
from orroom.archive.pseudonyms import NEW, archive_key, mark, turn_of
from orroom.archive.wrong_finish import wrong_finish
from orroom.case.state import CaseState
from orroom.errors import OrroomError
from orroom.record.closed_case import closed_case, ends_of
from orroom.summary.summary import summarise

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

#: The mark of the seal in a row of any version, by whichever name it has there.
SEAL_MARK: Final = "COLUMNS('^(seal_mark|head_mark)$')"
SITE: Final = r"[a-z0-9][a-z0-9-]{0,31}"
ONE_SITE: Final = "here"


class How(Struct, frozen=True):
    """Under which site; whether dates stay; whether a case that is there already is added again."""

    site: str = ONE_SITE
    keep_dates: bool = False
    replace: bool = False


class _Kept(NamedTuple):
    """A row that is in the archive; the mark of the seal it was added with, ``None`` if it cannot be read."""

    path: Path
    site: str
    seal_mark: str | None
    dated: bool


class Archive:
    """An archive to add to. Raises ``OrroomError`` if the folder cannot be one."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._connection: DuckDBPyConnection = database()
        self._turn = turn_of(folder)
        with self._turn.held():
            self._key = archive_key(folder)
            if self._turn.usable:
                sweep(folder)

    def add(self, case: Path, how: How) -> str:
        """Add a case; answers in a sentence. Raises ``OrroomError`` or its kinds; no row has changed then."""
        begun, seal = ends_of(case)
        case_id = mark(self._key, "case", begun)
        seal_mark = mark(self._key, "head", seal.hash)  # its word since the first archive
        with self._turn.held():
            kept = self._kept(case_id)
            there = [each[1:] for each in kept] == [(how.site, seal_mark, how.keep_dates)]
            if there and not how.replace:
                return f"{case}: is in the archive already, as {case_id}."
            state = closed_case(case, seal)
            if kept and not how.replace:
                raise OrroomError(
                    f"{case} is in the archive already, {_unlike(kept, how, seal_mark)}, as {case_id}.",
                    "To replace it, add --replace.",
                )
            self._write(state, case_id, seal_mark, how, kept)
        return f"{case}: {'replaced' if kept else 'added'} as {case_id}."

    def _kept(self, case_id: str) -> list[_Kept]:
        """Every row of a case; more than one only where files were copied by hand."""
        found = []
        for path in sorted((self.folder / "cases").glob(f"site=*/year=*/{case_id}.parquet")):
            try:
                seal_mark, day = read_row(self._connection, path, (SEAL_MARK, "day"))
            except OrroomError:
                seal_mark = day = None
            found.append(_Kept(path, path.parents[1].name.removeprefix("site="), seal_mark, day is not None))
        return found

    def _write(self, state: CaseState, case_id: str, seal_mark: str, how: How, kept: Sequence[_Kept]) -> None:
        row = case_row.case_row(summarise(state), case_id, seal_mark, keep_dates=how.keep_dates)
        wrong = wrong_finish(state)
        for work, columns in case_row.WRONG_FINISH.items():
            row |= zip(columns, wrong[work], strict=True)
        within = Path(f"site={how.site}", f"year={str(row['month'])[:4]}", f"{case_id}.parquet")
        entries = anonymous.anonymous_entries(state, case_id, keep_dates=how.keep_dates)
        for part, rows, fields, order in (
            ("events", list(entries), anonymous.COLUMNS, "seq"),
            ("cases", [row], case_row.COLUMNS, "case_id"),
        ):
            path = self.folder / part / within
            try:
                path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            except OSError as problem:
                raise OrroomError(f"{path.parent} was not created: {problem.strerror}.") from None
            write_rows(self._connection, rows, fields, order, path)
        for other in {each.path.relative_to(self.folder / "cases") for each in kept} - {within}:
            (self.folder / "cases" / other).unlink()
            (self.folder / "events" / other).unlink(missing_ok=True)

    def close(self) -> None:
        """Done with it."""
        self._connection.close()
        self._turn.close()


def _unlike(kept: Sequence[_Kept], how: How, seal_mark: str) -> str:
    """In what the first row of a case is unlike what is to be added."""
    one = kept[0]
    if len(kept) > 1:
        return f"{len(kept)} times"
    if one.seal_mark is None:
        return "its row damaged"
    if one.site != how.site:
        return f"under site {one.site}"
    if one.seal_mark != seal_mark:
        return "with another end"
    return "with its dates" if one.dated else "without its dates"


def sweep(folder: Path) -> None:
    """Delete what a killed run left: half-written files, entries of a case without a row, empty folders.

    Where there is no row at all, the rows were moved away by somebody, and entries are left alone.
    """
    if not any((folder / "cases").glob("site=*/year=*/*.parquet")):
        return
    for part in ("events", "cases"):
        for place in (folder / part).glob("site=*/year=*"):
            for path in place.iterdir():
                unfinished = path.name.startswith(".") and path.name.endswith(NEW)
                row = folder / "cases" / path.relative_to(folder / part)
                if unfinished or (path.suffix == ".parquet" and not row.exists()):
                    path.unlink(missing_ok=True)
            for emptied in (place, place.parent):
                with suppress(OSError):  # not empty
                    emptied.rmdir()


def check_site(site: str) -> str:
    """A site's name, which becomes a part of a path. Raises ``OrroomError`` for any other text."""
    if re.fullmatch(SITE, site) is None:
        raise OrroomError(
            f"{site!r} is not a valid site name.",
            "Use 1 to 32 of a-z, 0-9 and -, not starting with a hyphen, for example --site north.",
        )
    return site
