"""The clinic's own file of people's figures: SQLite, for one account, and forgetful where it must be.

Of a case it has the day, a hash by which the case is known again, and counts by person. What is deleted is
overwritten at once (``secure_delete``), the rest packed again, and no journal stays: the bytes are gone. Such
copies as somebody made are not. Cases are in order of their day, then of when they were added.
"""

import os
import sqlite3
import stat
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Final, Self

from orroom.errors import OrroomError
from orroom.people.agreement import Pair
from orroom.people.alike import Step
from orroom.people.from_case import Figure
from orroom.record.side_files import refuse_link

#: Its name, in the folder of the settings.
NAME: Final = "people.sqlite"
#: "orpp": what SQLite keeps in the file to say whose it is.
APPLICATION_ID: Final = 0x6F727070
FORMAT: Final = 1
#: How every SQLite file begins.
SQLITE: Final = b"SQLite format 3\0"
_TABLES: Final = (
    "CREATE TABLE one_case (id INTEGER PRIMARY KEY AUTOINCREMENT, begun TEXT UNIQUE, seal TEXT, day TEXT)",
    "CREATE TABLE figure (one_case INTEGER, who TEXT, measure TEXT, fault TEXT, count INTEGER,"
    " whole INTEGER)",
    "CREATE TABLE own_page (who TEXT PRIMARY KEY, seen_case INTEGER)",
    "CREATE TABLE agreement (first TEXT, second TEXT, both INTEGER, only_first INTEGER, only_second INTEGER,"
    " neither INTEGER)",
)


class PeopleFile:
    """The file, open. Raises ``OrroomError`` where it cannot be, or is not one."""

    def __init__(self, path: Path, *, make: bool = False) -> None:
        self.path = path
        try:
            refuse_link(path)
            if make and not path.exists():
                path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
                os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
            if _is_other(path):
                raise OrroomError(f"{path} is not a file of people's figures.", "Name another with --file.")
            if stat.S_IMODE(path.stat().st_mode) & 0o077:
                path.chmod(0o600)  # copied there by hand: nobody else's to read
        except FileNotFoundError:
            raise OrroomError(
                f"{path} does not exist.", "It is made by the first orroom people add CASE."
            ) from None
        except OSError as problem:
            raise OrroomError(
                f"{path} cannot be used: {problem.strerror}.", "It must belong to this account."
            ) from None
        self._db = sqlite3.connect(path, isolation_level=None)
        try:
            self._open(make=make)
        except sqlite3.Error as problem:
            self._db.close()
            raise OrroomError(f"{path} cannot be read: {problem}.", "Name another with --file.") from None
        except OrroomError:
            self._db.close()
            raise

    def _open(self, *, make: bool) -> None:
        self._db.execute("PRAGMA secure_delete = ON")
        self._db.execute("PRAGMA trusted_schema = OFF")
        self._db.execute("PRAGMA synchronous = FULL")
        if make and not self._one("PRAGMA user_version"):
            with self._all_or_nothing():
                for each in _TABLES:
                    self._db.execute(each)
                self._db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
                self._db.execute(f"PRAGMA user_version = {FORMAT}")
        if (made_by := self._one("PRAGMA user_version")) != FORMAT:
            raise OrroomError(f"{self.path} has format {made_by}.", f"This version knows format {FORMAT}.")

    def _one(self, select: str, *values: object) -> int:
        return int(self._db.execute(select, values).fetchone()[0] or 0)

    @contextmanager
    def _all_or_nothing(self) -> Iterator[None]:
        self._db.execute("BEGIN IMMEDIATE")
        try:
            yield
        except BaseException:
            self._db.execute("ROLLBACK")
            raise
        self._db.execute("COMMIT")

    def add(self, begun: str, seal: str, day: str, figures: Sequence[Figure]) -> str | None:
        """Add a case, or put it in place of what it was; who it has, or ``None`` if it is there as it is.

        Of a case that was there before only those are taken who still have figures: who was deleted stays so.
        """
        with self._all_or_nothing():
            known = self._db.execute("SELECT id, seal FROM one_case WHERE begun = ?", (begun,)).fetchone()
            if known is not None:
                if known[1] == seal:
                    return None
                people = set(self.people())
                figures = [each for each in figures if each.who in people]
                self._db.execute("DELETE FROM figure WHERE one_case = ?", (known[0],))
                self._db.execute("DELETE FROM one_case WHERE id = ?", (known[0],))
            self._db.execute("INSERT INTO one_case (begun, seal, day) VALUES (?, ?, ?)", (begun, seal, day))
            number = self._one("SELECT max(id) FROM one_case")
            self._db.executemany(
                "INSERT INTO figure VALUES (?, ?, ?, ?, ?, ?)",
                [(number, each.who, each.measure, each.fault, each.count, each.of) for each in figures],
            )
        return ", ".join(sorted({each.who for each in figures}))

    def remove(self, who: str) -> int:
        """Delete everything about a person; answers of how many cases. Nothing of them stays in the file."""
        with self._all_or_nothing():
            cases = self.people().get(who, 0)
            known = cases + self._one("SELECT count(*) FROM agreement WHERE ? IN (first, second)", who)
            self._db.execute("DELETE FROM figure WHERE who = ?", (who,))
            self._db.execute("DELETE FROM own_page WHERE who = ?", (who,))
            self._db.execute("DELETE FROM agreement WHERE ? IN (first, second)", (who,))
        if not known:
            raise self.unknown(who)
        self._db.execute("VACUUM")
        return cases

    def unknown(self, who: str) -> OrroomError:
        """The error that a person has nothing here."""
        return OrroomError(f"{self.path} has nothing about {who}.", "orroom people list shows who is in it.")

    def people(self) -> Mapping[str, int]:
        """Everybody with figures, in alphabetical order, and of how many cases."""
        select = "SELECT who, count(DISTINCT one_case) FROM figure GROUP BY who ORDER BY who"
        return dict(self._db.execute(select).fetchall())

    def days(self) -> tuple[int, str, str]:
        """How many cases there are, and the days of the first and last; no words without any."""
        count, first, last = self._db.execute("SELECT count(*), min(day), max(day) FROM one_case").fetchone()
        return count, first or "", last or ""

    def steps(self) -> dict[tuple[str, str], dict[str, list[Step]]]:
        """By measure and fault, and by person: case after case, how many of how many.

        A kind of fault that checks did not find in somebody's work is 0 of what they looked at.
        """
        rows = self._db.execute(
            "SELECT one_case, who, measure, fault, count, whole FROM figure JOIN one_case"
            " ON one_case.id = figure.one_case ORDER BY day, one_case.id, who, measure, fault"
        ).fetchall()
        counts = {(case, who, measure, fault): count for case, who, measure, fault, count, _ in rows}
        faults: dict[str, dict[str, None]] = {}
        for _, _, measure, fault, _, _ in rows:
            faults.setdefault(measure, {})[fault] = None
        found: dict[tuple[str, str], dict[str, list[Step]]] = {}
        for case, who, measure, fault, _, whole in rows:
            if not fault:
                for each in faults[measure]:
                    steps = found.setdefault((measure, each), {}).setdefault(who, [])
                    steps.append((counts.get((case, who, measure, each), 0), whole))
        return found

    def show(self, who: str) -> None:
        """Remember that a person's own page was shown with all cases that are there now."""
        newest = self._one("SELECT max(one_case) FROM figure WHERE who = ?", who)
        with self._all_or_nothing():
            self._db.execute("INSERT OR REPLACE INTO own_page VALUES (?, ?)", (who, newest))

    def seen(self) -> frozenset[str]:
        """Who has seen their own page with all of their cases."""
        select = (
            "SELECT who FROM own_page WHERE seen_case ="
            " (SELECT max(one_case) FROM figure WHERE figure.who = own_page.who)"
        )
        return frozenset(who for (who,) in self._db.execute(select))

    def agree(self, first: str, second: str, pair: Pair) -> None:
        """Keep that two checkers looked at the same grafts."""
        row = (first, second, pair.both, pair.first, pair.second, pair.neither)
        with self._all_or_nothing():
            self._db.execute("INSERT INTO agreement VALUES (?, ?, ?, ?, ?, ?)", row)

    def pairs(self) -> dict[tuple[str, str], Pair]:
        """Every two checkers, in alphabetical order, with all grafts that both looked at."""
        found: dict[tuple[str, str], Pair] = {}
        for first, second, both, one, other, neither in self._db.execute("SELECT * FROM agreement"):
            a, b, more = (
                (first, second, Pair(both, one, other, neither))
                if first < second
                else (second, first, Pair(both, other, one, neither))
            )
            had = found.get((a, b), Pair(0, 0, 0, 0))
            found[a, b] = Pair(
                had.both + more.both,
                had.first + more.first,
                had.second + more.second,
                had.neither + more.neither,
            )
        return dict(sorted(found.items()))

    def close(self) -> None:
        """Close it."""
        self._db.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def _is_other(path: Path) -> bool:
    """Whether something else is in the file, before anything opens it; an empty one may become ours."""
    with path.open("rb") as file:
        head = file.read(100)
    return bool(head) and (head[:16], head[68:72]) != (SQLITE, APPLICATION_ID.to_bytes(4, "big"))
