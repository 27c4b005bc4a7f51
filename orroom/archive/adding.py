"""Adding closed cases to an archive, each once, without anything that names anybody.

An archive is a folder::

    archive.json                                       its format
    cases/site=…/year=…/PSEUDONYM.parquet              one row: the case's figures
    events/site=…/year=…/PSEUDONYM.parquet             its entries

Key, lock and catalogue lie next to it. A file is written whole and never changed; a case counts once its row
is there, and that is written last. One writes at a time; what a killed one left is swept by the next.
Only a case that is signed off and intact is taken: half a day has no figures to compare.
"""

from __future__ import annotations

import os
import re
import signal
import sqlite3
import sys
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, ProcessPoolExecutor
from contextlib import contextmanager, suppress
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING, Final, NamedTuple

from msgspec import Struct

from orroom.archive import anonymous, case_row, catalogue
from orroom.archive.parquet import database, read_row, write_rows
from orroom.archive.pseudonyms import NEW, archive_key, mark, turn_of
from orroom.archive.worked_out import SEAL, Marks, WorkedOut, worked_out
from orroom.errors import OrroomError
from orroom.record.case_file import CaseFile
from orroom.record.closed_case import ends_of

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

#: The mark of the seal in a row of any version, by whichever name it has there.
SEAL_MARK: Final = "COLUMNS('^(seal_mark|head_mark)$')"
SITE: Final = r"[a-z0-9][a-z0-9-]{0,31}"
ONE_SITE: Final = "here"
#: So many cases at least for each process that works cases out: beginning one takes as long as some cases.
FEWEST_EACH: Final = 8
#: So many cases are worked out ahead of the one that is written.
AHEAD: Final = 16


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


class _Begun(NamedTuple):
    """A case that is being worked out; without ``work`` it is in the archive already."""

    case: Path
    marks: Marks
    work: Callable[[], WorkedOut] | None


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
        self._cases = sum(1 for _ in (folder / "cases").glob("site=*/year=*/*.parquet"))

    def add(self, case: Path, how: How) -> str:
        """Add a case; answers in a sentence. Raises ``OrroomError`` or its kinds; no row has changed then."""
        return self._end(self._begin(case, how, None), how)

    def add_all(self, cases: Sequence[Path], how: How) -> Iterator[str | OrroomError]:
        """Add cases in order of their last entries; of each the sentence, or what is wrong with it.

        From ``FEWEST_EACH`` cases for each of two processors on, all processors work them out.
        """
        with _workers(len(cases)) as pool:
            waiting: deque[_Begun | OrroomError] = deque()
            for case in sorted(cases, key=_latest_ms):
                try:
                    waiting.append(self._begin(case, how, pool))
                except OrroomError as problem:
                    waiting.append(problem)
                except BrokenExecutor:
                    waiting.append(_ended_early(case))
                if len(waiting) > AHEAD:
                    yield self._ended(waiting.popleft(), how)
            while waiting:
                yield self._ended(waiting.popleft(), how)
        with suppress(OrroomError):  # so that the next report need not; a damaged row is for it to name
            catalogue.bring_up_to_date(self._connection, self.folder)

    def _ended(self, begun: _Begun | OrroomError, how: How) -> str | OrroomError:
        if isinstance(begun, OrroomError):
            return begun
        try:
            return self._end(begun, how)
        except OrroomError as problem:
            return problem
        except BrokenExecutor:
            return _ended_early(begun.case)

    def _begin(self, case: Path, how: How, pool: ProcessPoolExecutor | None) -> _Begun:
        """Look whether a case is to be added, and have it worked out."""
        begun, seal = ends_of(case)
        marks = Marks(mark(self._key, "case", begun), self._seal_mark(seal.hash))
        with self._turn.held():
            there = self._is_there(self._kept(marks.case_id), how, marks)
        if there and not how.replace:
            return _Begun(case, marks, None)
        work = partial(worked_out, case, seal, marks, self._key, keep_dates=how.keep_dates)
        return _Begun(case, marks, work if pool is None else pool.submit(work).result)

    def _end(self, begun: _Begun, how: How) -> str:
        """Write what was worked out, unless the case came in meanwhile."""
        case, marks = begun.case, begun.marks
        if begun.work is None:
            return f"{case}: is in the archive already, as {marks.case_id}."
        made = begun.work()
        with self._turn.held():
            kept = self._kept(marks.case_id)
            if kept and not how.replace:
                if self._is_there(kept, how, marks):
                    return f"{case}: is in the archive already, as {marks.case_id}."
                unlike = _unlike(kept, how, marks.seal_mark)
                raise OrroomError(
                    f"{case} is in the archive already, {unlike}, as {marks.case_id}.",
                    "To replace it, add --replace.",
                )
            self._write(made, marks.case_id, how, kept)
        return f"{case}: {'replaced' if kept else 'added'} as {marks.case_id}."

    def _seal_mark(self, seal: str) -> str:
        return mark(self._key, SEAL, seal)

    @staticmethod
    def _is_there(kept: Sequence[_Kept], how: How, marks: Marks) -> bool:
        return [each[1:] for each in kept] == [(how.site, marks.seal_mark, how.keep_dates)]

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

    def _write(self, made: WorkedOut, case_id: str, how: How, kept: Sequence[_Kept]) -> None:
        made.row["added_as"] = self._cases = self._cases + 1
        within = Path(f"site={how.site}", f"year={str(made.row['month'])[:4]}", f"{case_id}.parquet")
        for part, rows, fields, order in (
            ("events", made.entries, anonymous.COLUMNS, "seq"),
            ("cases", [made.row], case_row.COLUMNS, "case_id"),
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


def _ended_early(case: Path) -> OrroomError:
    return OrroomError(f"{case}: the process that worked it out has ended.", "Add it again.")


def _latest_ms(case: Path) -> int:
    """When the last entry was made; what cannot be read comes last, and is then refused."""
    try:
        with CaseFile.open(case, read_only=True) as case_file:
            return case_file.latest_ms()
    except (sqlite3.Error, OrroomError):
        return sys.maxsize


@contextmanager
def _workers(cases: int) -> Iterator[ProcessPoolExecutor | None]:
    """Processes that work cases out, as many as there are processors; none for few cases."""
    number = min(os.cpu_count() or 1, cases // FEWEST_EACH)
    if number < 2:
        yield None
        return
    # begun afresh: a copy of this process would have a copy of the database's threads
    context, stop = get_context("spawn"), (signal.SIGINT, signal.SIG_IGN)
    with ProcessPoolExecutor(number, context, initializer=signal.signal, initargs=stop) as pool:
        try:
            yield pool
        finally:
            pool.shutdown(cancel_futures=True)
