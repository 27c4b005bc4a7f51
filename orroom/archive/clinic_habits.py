"""A clinic's habits from its archive: what the forecasts of its last closed cases had wrong."""

from contextlib import closing
from pathlib import Path
from typing import Any

from orroom.archive import catalogue
from orroom.archive.case_row import WRONG_FINISH
from orroom.archive.parquet import database
from orroom.archive.pseudonyms import about
from orroom.case.habits import FEWEST_CASES, MOST_CASES, Habits
from orroom.errors import OrroomError
from orroom.figures.wording import several


def clinic_habits(folder: Path) -> Habits:
    """Those of an archive's latest cases, by month and then by when they were added.

    Raises ``OrroomError`` if it cannot be read, or has too few cases of both works.
    """
    about(folder)
    columns = [column for columns in WRONG_FINISH.values() for column in columns]
    select = f"SELECT {', '.join(columns)} FROM kept ORDER BY month DESC, changed_ns DESC"  # noqa: S608 - ours
    with closing(database()) as connection:
        rows = catalogue.rows(connection, folder, select)
    found: dict[str, Any] = {}
    for place, (work, mine) in enumerate(WRONG_FINISH.items()):
        first = place * len(mine)
        cases = (row[first : first + len(mine)] for row in rows)
        known = [case for case in cases if any(each is not None for each in case)]
        found[work] = tuple(sorted(known[:MOST_CASES], key=str))  # in no order of time
    if all(len(cases) < FEWEST_CASES for cases in found.values()):
        most = max(len(cases) for cases in found.values())
        raise OrroomError(
            f"{folder} has {several(most, 'case')} with a forecast to look back on; {FEWEST_CASES} are "
            "needed.",
            "Cases added before this version count once they are added again with --replace.",
        )
    return Habits(**found)
