"""The figures of an archive's cases: each measure, over all cases, by year, by month and by site."""

from collections.abc import Callable, Mapping, Sequence
from contextlib import closing
from datetime import date
from pathlib import Path
from typing import Final

from msgspec import Struct

from orroom.archive import catalogue
from orroom.archive.groups import FEWEST_SHOWN, Case, Group, Level, groups
from orroom.archive.intervals import (
    Estimate,
    mean_of,
    median_of,
    middle_half,
    pooled_pace,
    pooled_share,
    share_of_cases,
)
from orroom.archive.measures import MEASURES, SHARES_OF_ALL, How, Measure
from orroom.archive.parquet import ADD_AGAIN, database
from orroom.archive.pseudonyms import about
from orroom.errors import OrroomError

#: What to do about a case that is there twice.
ADD_INSTEAD: Final = "Add that case again with --replace, or delete the older file."
#: No case has a figure above this; sums stay numbers below it.
_MOST: Final = 1e9


class Reported(Struct, frozen=True):
    """One measure of one group of cases that have it: the figure, its range, where the middle half lies."""

    group: Group
    measure: Measure
    figure: Estimate
    middle_half: tuple[float, float] | None


class Series(Struct, frozen=True):
    """One measure case by case, in order of time: month and value of each case that has it.

    ``not_recorded`` cases are of a version that did not keep it; ``without`` have none.
    """

    measure: Measure
    points: tuple[tuple[date, float], ...]
    not_recorded: int
    without: int


class Across(Struct, frozen=True):
    """A whole report: how many cases, from which month to which, and every measure of its groups.

    ``series`` has a row for each measure that was chosen. ``going_on`` cases go on with an earlier one of
    this archive, ``going_on_elsewhere`` with one that it does not have.
    """

    cases: int
    first: date
    last: date
    figures: tuple[Reported, ...]
    series: tuple[Series, ...]
    going_on: int
    going_on_elsewhere: int

    def of(self, level: Level, measure: Measure) -> tuple[Reported, ...]:
        """What is reported of a measure at one level."""
        return tuple(each for each in self.figures if each.group.level == level and each.measure is measure)


def across(folder: Path, measures: Sequence[Measure] = MEASURES) -> Across:
    """The report of an archive. Raises ``OrroomError`` if it cannot be read or has too few cases."""
    about(folder)
    cases = read_cases(folder)
    if len(cases) < FEWEST_SHOWN:
        raise OrroomError(
            f"{folder} has {len(cases)} of the {FEWEST_SHOWN} cases that a report needs.",
            "Fewer would identify single cases; see their summaries.",
        )
    return over(cases, measures)


def over(cases: Sequence[Case], measures: Sequence[Measure] = MEASURES) -> Across:
    """The report of some cases in order of time, one at least.

    Groups are made for each measure, of the cases that have it.
    """
    months = [each.month for each in cases]
    known: dict[tuple[bool, ...], tuple[Group, ...]] = {}
    figures: list[Reported] = []
    series: list[Series] = []
    for measure in measures:
        pairs = [measure.of_case(each) for each in cases]
        having = tuple(pair is not None for pair in pairs)
        if having not in known:
            known[having] = groups([each for each, has in zip(cases, having, strict=True) if has])
        by_case = {id(each): pair for each, pair in zip(cases, pairs, strict=True) if pair is not None}
        figures += (_reported(group, measure, by_case) for group in known[having])
        not_recorded = sum(measure.not_recorded(each) for each in cases)
        points = tuple(
            (each.month, pair[0] / pair[1])
            for each, pair in zip(cases, pairs, strict=True)
            if pair is not None
        )
        series.append(
            Series(
                measure,
                points,
                not_recorded,
                len(cases) - sum(having) - not_recorded,
            )
        )
    here, elsewhere = (sum(each.goes_on is has for each in cases) for has in (True, False))
    return Across(len(cases), min(months), max(months), tuple(figures), tuple(series), here, elsewhere)


#: Cases in order of time: by month, by day where that is kept, else as they were added.
IN_ORDER: Final = "month, day, added_as NULLS FIRST, changed_ns, file"


def read_cases(folder: Path) -> list[Case]:
    """The cases of an archive in order of time, with the figures that the measures need.

    Raises ``OrroomError`` for what cannot be read, or no case can have, and for a case that is there twice: a
    replacement under another site that was killed leaves both rows.
    """
    names = sorted({name for each in MEASURES for name in (each.value, each.of) if name is not None})
    with closing(database()) as connection:
        goes_on = "if(goes_on_mark IS NULL, NULL, goes_on_mark IN (SELECT seal_mark FROM kept))"
        columns = ", ".join(("case_id", "file", "site", "month", "row_version", goes_on, *names))
        select = f"SELECT {columns} FROM kept ORDER BY {IN_ORDER}"  # noqa: S608 - our own names
        rows = catalogue.rows(connection, folder, select)
    found: list[Case] = []
    files: dict[str, str] = {}
    for case_id, file, site, month, version, goes_on, *figures in rows:
        if (other := files.setdefault(case_id, file)) != file:
            first, second = sorted((other, file))
            raise OrroomError(f"{folder} has a case twice: {first} and {second}.", ADD_INSTEAD)
        if month is None or not all(each is None or 0 <= each <= _MOST for each in figures):
            raise OrroomError(f"{folder / file} has figures that no case can have.", ADD_AGAIN)
        found.append(Case(site, month, dict(zip(names, figures, strict=True)), version or 0, goes_on))
    return found


def _reported(group: Group, measure: Measure, by_case: Mapping[int, tuple[float, float]]) -> Reported:
    """The figure of a group; ``by_case`` has value and whole of each case by its ``id``."""
    pairs = [by_case[id(each)] for each in group.cases]
    values, wholes = [value for value, _ in pairs], [whole for _, whole in pairs]
    spread = None if measure.how == "share of cases" else middle_half(_each(values, wholes))
    return Reported(group, measure, _ESTIMATED[measure.how](values, wholes), spread)


def _each(values: Sequence[float], wholes: Sequence[float]) -> list[float]:
    return [value / whole for value, whole in zip(values, wholes, strict=True)]


_ESTIMATED: Final[dict[How, Callable[[Sequence[float], Sequence[float]], Estimate]]] = {
    "mean of cases": lambda values, wholes: mean_of(_each(values, wholes)),
    "all done by all person-hours": pooled_pace,
    "all placed by all planned": pooled_pace,
    "median of cases": lambda values, wholes: median_of(_each(values, wholes)),
    **dict.fromkeys(SHARES_OF_ALL, pooled_share),
    "share of cases": lambda values, wholes: share_of_cases([value > 0 for value in values]),
}
