"""Adding closed cases to an archive, each once, without anything that names anybody.

An archive is a folder::

    archive.json                                       its format
    cases/site=…/year=…/PSEUDONYM.parquet              one row: the case's figures
    events/site=…/year=…/PSEUDONYM.parquet             its entries
    catalogue.parquet                                  all rows once more (``catalogue.py``)

A file is written whole and never changed; a case counts once its row is there, and that is written last.
Only a case that is signed off and sound is taken: half a day has no figures to compare.
"""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final, NamedTuple

from orroom.archive import anonymous, case_row
from orroom.archive.catalogue import bring_up_to_date
from orroom.archive.parquet import database, read_one, write_rows
from orroom.archive.pseudonyms import pseudonyms
from orroom.case.evolve import fold
from orroom.case.state import CaseState
from orroom.errors import OrroomError, RecordUnsoundError
from orroom.record.case_file import CaseFile
from orroom.record.chain import Head
from orroom.record.opening import error_of
from orroom.record.verify import verify
from orroom.reports.summary import summarise

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

SITE: Final = r"[a-z0-9][a-z0-9-]{0,31}"
ONE_SITE: Final = "here"
_ORDER: Final = {"cases": "case_id", "events": "seq"}
_FIELDS: Final = {"cases": case_row.COLUMNS, "events": anonymous.COLUMNS}


@dataclass(frozen=True)
class How:
    """Under which site; whether dates stay; whether a case that is there already is added anew."""

    site: str = ONE_SITE
    keep_dates: bool = False
    replace: bool = False


class _Kept(NamedTuple):
    """A case that is in the archive: its site, and the mark of the head it was added with."""

    path: Path
    site: str
    head_mark: str


class Archive:
    """An archive to add to. Raises ``OrroomError`` if the folder cannot be one."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._connection: DuckDBPyConnection = database()
        self._pseudonyms = pseudonyms(folder)

    def add(self, case: Path, how: How) -> str:
        """Add a case; answers in a sentence what was done.

        Raises ``CaseFileError``, ``RecordUnsoundError`` or ``OrroomError`` in a sentence, and then nothing
        has changed.
        """
        begun, head = _ends(case)
        case_id = self._pseudonyms.mark("case", begun)
        mark = self._pseudonyms.mark("head", head.hash)
        kept = self._kept(case_id)
        if kept is not None and kept[1:] == (how.site, mark) and not how.replace:
            return f"{case}: is in the archive already, as {case_id}."
        state = _closed(case, head)
        if kept is not None and not how.replace:
            elsewhere = f"under site {kept.site}" if kept.site != how.site else "with another end"
            raise OrroomError(
                f"{case} is in the archive already, {elsewhere}, as {case_id}.",
                "To put it in that one's place, add --replace.",
            )
        self._write(state, case_id, mark, how, kept)
        return f"{case}: {'replaced' if kept else 'added'} as {case_id}."

    def _kept(self, case_id: str) -> _Kept | None:
        for path in sorted((self.folder / "cases").glob(f"site=*/year=*/{case_id}.parquet")):
            mark = str(read_one(self._connection, path, "head_mark"))
            return _Kept(path, path.parents[1].name.removeprefix("site="), mark)
        return None

    def _write(self, state: CaseState, case_id: str, mark: str, how: How, kept: _Kept | None) -> None:
        row = case_row.case_row(summarise(state), case_id, mark, keep_dates=how.keep_dates)
        year = str(row["month"])[:4]
        if kept is not None and kept.site != how.site:  # first out, then in: never counted twice
            kept.path.unlink()
            self._path("events", kept.site, kept.path.parent.name, case_id).unlink(missing_ok=True)
        entries = anonymous.anonymous_entries(state, case_id, keep_dates=how.keep_dates)
        for part, rows in (("events", list(entries)), ("cases", [row])):
            path = self._path(part, how.site, f"year={year}", case_id)
            try:
                path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            except OSError as problem:
                raise OrroomError(f"{path.parent} cannot be made: {problem.strerror}.") from None
            write_rows(self._connection, rows, _FIELDS[part], _ORDER[part], path)

    def _path(self, part: str, site: str, year: str, case_id: str) -> Path:
        return self.folder / part / f"site={site}" / year / f"{case_id}.parquet"

    def close(self) -> None:
        """Done with it; what was added is in the catalogue."""
        with closing(self._connection):
            bring_up_to_date(self._connection, self.folder)


def check_site(site: str) -> str:
    """A site's name, which becomes a part of a path. Raises ``OrroomError`` for any other text."""
    if re.fullmatch(SITE, site) is None:
        raise OrroomError(
            f"{site!r} cannot name a site.",
            "Give 1 to 32 of a-z, 0-9 and -, no hyphen first, for example --site north.",
        )
    return site


def _ends(case: Path) -> tuple[str, Head]:
    """The hash of a case's first entry, which no other case has, and its head."""
    try:
        with CaseFile.open(case, read_only=True) as case_file:
            begun, head = case_file.head_at(1), case_file.head()
    except sqlite3.DatabaseError as damage:
        raise error_of(case, damage) from damage
    if begun is None:
        raise OrroomError(f"{case} holds no entry.", "Add a case that was signed off.")
    return begun, head


def _closed(case: Path, head: Head) -> CaseState:
    """A case as it stands at its head; only one that is sound and signed off."""
    verdict = verify(case, head)
    if not verdict.sound:
        raise RecordUnsoundError(f"{case} is not sound: {verdict.sentence}", "It was not added.")
    with CaseFile.open(case, read_only=True) as case_file:
        state = fold(case_file.entries_after(0))
    if state.seq != head.seq:
        raise OrroomError(f"{case} is being written to.", "Add it when all stations are left.")
    if state.tally.plan is None or not state.tally.signed_off:
        raise OrroomError(f"{case} is not signed off.", "Sign it off first: orroom sign-off CASE.orroom.")
    return state
