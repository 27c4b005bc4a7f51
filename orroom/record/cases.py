"""Which cases and plans lie in some folders, and the state of each case: by SQL, without folding it.

Only looked at: a case file is opened as a reader opens it, and a plan file is only read.
"""

import sqlite3
from collections import defaultdict
from collections.abc import Iterable, Iterator
from contextlib import closing, suppress
from pathlib import Path
from typing import Final, NamedTuple

from msgspec import Struct
from msgspec.structs import replace

from orroom.case.events import Entry, Stamp, kinds_that
from orroom.case.evolve import added_up, fold
from orroom.case.final_count import count_running
from orroom.case.plan import Plan
from orroom.case.state import Tally
from orroom.case.terms import Role
from orroom.errors import CaseFileError, OrroomError, PlanInvalidError
from orroom.files.plan_file import load_plan
from orroom.record import opening
from orroom.record.chain import COLUMNS
from orroom.record.encoding import event_of
from orroom.record.verify import verify

#: A TOML file without these is something else than a plan.
PLAN_PARTS: Final = frozenset({"case", "sizes", "zones"})

_STANDS: Final = "seq NOT IN (SELECT json_extract(body, '$.entry') FROM entry WHERE kind = 'entry_corrected')"
#: Usable grafts (in dishes, with the placers or placed) and placed ones; a test holds it equal to the fold.
_COUNTS: Final = f"""
    SELECT coalesce(sum(CASE kind
            WHEN 'grafts_cut' THEN json_extract(body, '$.count')
            WHEN 'grafts_discarded'
                THEN iif(json_extract(body, '$.lot') IS NULL, -json_extract(body, '$.count'), 0)
            WHEN 'grafts_divided'
                THEN json_extract(body, '$.count') * (json_array_length(body, '$.into') - 1)
            WHEN 'dish_counted' THEN json_extract(body, '$.found') - json_extract(body, '$.tallied')
        END), 0) + (
            SELECT coalesce(sum(size.value), 0)
            FROM entry AS opened, json_each(opened.body, '$.plan.sessions') AS session,
                json_each(session.value, '$.kept') AS kept, json_each(kept.value, '$.grafts') AS size
            WHERE opened.seq = (
                SELECT min(seq) FROM entry WHERE kind IN ('case_opened', 'plan_revised')
                AND json_extract(body, '$.plan.sessions') IS NOT NULL)),
        coalesce(sum(json_extract(body, '$.count')) FILTER (WHERE kind = 'grafts_placed'
            OR json_extract(body, '$.into_zone') IS NOT NULL), 0)
    FROM entry WHERE kind IN ('grafts_cut', 'grafts_discarded', 'grafts_divided', 'dish_counted',
        'grafts_placed', 'fate_given') AND {_STANDS}"""  # noqa: S608 - constants
#: Which plan is in force, who sits where, whether the case is closed.
_TURNS: Final = f"""
    SELECT {COLUMNS} FROM entry WHERE kind IN
        ('case_opened', 'plan_revised', 'station_joined', 'station_left', 'case_signed_off', 'case_reopened')
        AND {_STANDS} ORDER BY seq"""  # noqa: S608 - constants
_BY_ANOTHER: Final = ", ".join(f"'{each.kind}'" for each in kinds_that(lambda does: does.by_another))
#: Who entered what last at each station, no matter who was there for a count or a signature.
_LAST_AT_STATIONS: Final = f"""
    SELECT station, who, max(seq) FROM entry WHERE kind NOT IN ({_BY_ANOTHER}) GROUP BY station"""  # noqa: S608 - constants
#: Whether a final count may be under way: one was begun or made since the case was signed off last.
_COUNTED: Final = """
    SELECT 1 FROM entry WHERE kind IN ('final_count_begun', 'final_counted')
    AND seq > (SELECT coalesce(max(seq), 0) FROM entry WHERE kind = 'case_signed_off') LIMIT 1"""
_ALL: Final = f"SELECT {COLUMNS} FROM entry ORDER BY seq"  # noqa: S608 - constants
_FIRST: Final = "SELECT hash, who FROM entry WHERE seq = 1"
_LAST: Final = "SELECT seq, at_ms FROM entry ORDER BY seq DESC LIMIT 1"


#: What was found wrong with files as they were at a time; the list of cases is made again all the time.
_VERIFIED: Final[dict[tuple[Path, int], str]] = {}


class OpenStation(NamedTuple):
    """A station that has not been left: its name, its role, and who made its last entry."""

    station: str
    role: Role
    who: str


class Standing(Struct, frozen=True):
    """The state of a case: its plan in force, what it adds up to, who is using it. ``last_at_ms`` is UTC ms.

    ``usable`` as on the screens: in dishes, with the placers or placed. ``begun`` is the hash
    of the first entry, which no other case has; ``shared_log`` is unlike a copy's own journal. While
    somebody is ``counting`` all that is left, nobody may be shown how much that is. ``opened_by`` are the
    initials in the first entry.
    """

    plan: Plan
    utc_offset_minutes: int
    signed_off: bool
    usable: int
    placed: int
    stations: tuple[OpenStation, ...]
    entries: int
    last_at_ms: int
    begun: str
    shared_log: bool
    counting: bool = False
    opened_by: str = ""

    @property
    def state(self) -> str:
        """The state in a word."""
        return "signed off" if self.signed_off else "open"


class FoundCase(Struct, frozen=True):
    """A case file: how it stands, or in one sentence why it cannot be read; whether it is a copy of another.

    ``changed_ms`` is when the record was last added to, or the file changed if it cannot be read; UTC ms.
    ``not_intact`` says in a sentence what is wrong with the record, if anything.
    """

    path: Path
    standing: Standing | None
    problem: str
    changed_ms: int
    copy: bool = False
    not_intact: str = ""


class FoundPlan(NamedTuple):
    """A plan file, and its plan, or every problem found in it."""

    path: Path
    plan: Plan | None
    problem: str = ""


def found_cases(folders: Iterable[Path]) -> tuple[FoundCase, ...]:
    """The cases in some folders and direct sub-folders: open ones, signed-off ones, what cannot be read.

    In each state the newest entry comes first; copies are behind all others.
    """
    found = [_looked_at(path) for path in _files(folders, f"*{opening.SUFFIX}")]
    same: defaultdict[str, list[FoundCase]] = defaultdict(list)
    for each in found:
        same[each.standing.begun if each.standing is not None else str(each.path)].append(each)
    marked = [
        replace(each, copy=place > 0 or _locked(each))
        for group in same.values()
        for place, each in enumerate(sorted(group, key=_likely_original))
    ]
    return tuple(sorted(marked, key=lambda each: (by_state(each), -each.changed_ms, str(each.path))))


def by_state(found: FoundCase) -> int:
    """Where a case is listed: open, signed off, not to be read, a copy of another."""
    standing = found.standing
    return 3 if found.copy else 2 if standing is None else int(standing.signed_off)


def found_plans(folders: Iterable[Path]) -> tuple[FoundPlan, ...]:
    """The plan files in some folders and their direct sub-folders, by path; also those with mistakes."""
    return tuple(found for path in _files(folders, "*.toml") if (found := _plan_at(path)) is not None)


def found_files(folders: Iterable[Path], pattern: str) -> tuple[Path, ...]:
    """Other files in some folders and their direct sub-folders, by path."""
    return tuple(_files(folders, pattern))


def _files(folders: Iterable[Path], pattern: str) -> list[Path]:
    """Files by a pattern, each once, in order; what may not be looked into has none."""
    paths: dict[Path, Path] = {}
    for folder in folders:
        for path in [*_matching(folder, pattern), *_matching(folder, f"*/{pattern}")]:
            with suppress(OSError):
                paths.setdefault(path.resolve(), path)
    return sorted(paths.values())


def _matching(folder: Path, pattern: str) -> Iterator[Path]:
    with suppress(OSError):
        yield from folder.glob(pattern)


def _looked_at(path: Path) -> FoundCase:
    try:
        standing = _standing(path)
        return FoundCase(path, standing, "", standing.last_at_ms, not_intact=_not_intact(path))
    except (CaseFileError, OSError) as problem:
        why = str(problem)
    except sqlite3.DatabaseError as problem:
        why = str(opening.error_of(path, problem))
    except ValueError as wrong:  # an entry that this version does not know
        why = f"{path} cannot be read: {wrong}. Is it from a newer version?"
    try:
        changed_ms = path.stat().st_mtime_ns // 1_000_000
    except OSError:
        changed_ms = 0
    return FoundCase(path, None, why, changed_ms)


def _not_intact(path: Path) -> str:
    """What ``verify`` finds wrong with a record. A file is looked at once until it changes."""
    known = path.resolve(), path.stat().st_mtime_ns
    if known not in _VERIFIED:
        verdict = verify(path)
        _VERIFIED[known] = "" if verdict.intact else f"{verdict.sentence} {verdict.advice}"
    return _VERIFIED[known]


def _standing(path: Path) -> Standing:
    """How the case in a file stands. Raises ``CaseFileError``, SQLite's error, or ``ValueError``."""
    with closing(opening.reader(opening.find(path))) as connection:
        begun = connection.execute(_FIRST).fetchone()
        last = connection.execute(_LAST).fetchone()
        usable, placed = connection.execute(_COUNTS).fetchone()
        turns = added_up(Tally(), _entries(connection, _TURNS), ())
        last_there = {station: who for station, who, _ in connection.execute(_LAST_AT_STATIONS)}
        counting = (  # only the fold can say, and few records ask for it
            connection.execute(_COUNTED).fetchone() is not None
            and count_running(fold(_entries(connection, _ALL))) is not None
        )
        shared_log = connection.execute("PRAGMA journal_mode").fetchone()[0] == "wal"
    if turns.plan is None:
        raise CaseFileError(f"{path} has no case in it yet.", "Make one from a plan.")
    return Standing(
        plan=turns.plan,
        utc_offset_minutes=turns.utc_offset_minutes,
        signed_off=turns.signed_off,
        usable=usable,
        placed=placed,
        stations=tuple(OpenStation(name, role, last_there[name]) for name, role in turns.stations.items()),
        entries=last[0],
        last_at_ms=last[1],
        begun=begun[0],
        shared_log=shared_log,
        counting=counting,
        opened_by=begun[1],
    )


def _entries(connection: sqlite3.Connection, query: str) -> Iterator[Entry]:
    for seq, at_ms, station, tap, who, kind, body in connection.execute(query):
        yield Entry(seq, Stamp(at_ms, station, tap, who), event_of(kind, body))


def _locked(found: FoundCase) -> bool:
    return f".{opening.LOCKED}-" in found.path.name


def _likely_original(found: FoundCase) -> tuple[object, ...]:
    """Files of one case in this order: the first is the case that goes on, the others are copies of it."""
    standing = found.standing
    if standing is None:
        return ()
    named = found.path.stem == standing.plan.case
    return (_locked(found), -standing.entries, not standing.shared_log, not named, str(found.path))


def _plan_at(path: Path) -> FoundPlan | None:
    try:
        return FoundPlan(path, load_plan(path))
    except PlanInvalidError as invalid:
        if {problem.where for problem in invalid.problems} >= PLAN_PARTS:
            return None
        return FoundPlan(path, None, str(invalid))
    except OrroomError as problem:
        return FoundPlan(path, None, str(problem))
