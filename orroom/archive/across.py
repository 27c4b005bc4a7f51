"""The figures of an archive's cases: each measure, over all cases, by year, by month and by site."""

from collections.abc import Callable, Sequence
from contextlib import closing
from datetime import date
from pathlib import Path
from typing import Final, Literal

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
from orroom.archive.parquet import ADD_AGAIN, database
from orroom.archive.pseudonyms import about
from orroom.errors import OrroomError
from orroom.figures.pace.rates import LEAST_MINUTES

How = Literal[
    "mean of cases",
    "all done by all person-hours",
    "median of cases",
    "share of all grafts",
    "share of all rounds",
    "share of cases",
]
#: A case with fewer person-hours of a work has no pace of it; rows of older versions may have fewer.
LEAST_HOURS: Final = LEAST_MINUTES / 60
#: Places of a figure by its unit: no finer, lest a case's own figure be known by its digits.
_PLACES: Final = {"min": 0, "hairs/graft": 2, "share": 3}
#: What to do about a case that is there twice.
ADD_INSTEAD: Final = "Add that case again with --replace, or delete the older file."
#: No case has a figure above this; sums stay numbers below it.
_MOST: Final = 1e9


class Measure(Struct, frozen=True):
    """What is reported: of ``value``, of its share of ``of``, or by ``of``, in cases with ``least`` of it."""

    key: str
    label: str
    unit: str
    how: How
    value: str
    of: str | None = None
    shared: bool = False
    least: float = 0

    @property
    def places(self) -> int:
        """To how many places its figures are shown."""
        return _PLACES.get(self.unit, 1)

    def of_case(self, case: Case) -> tuple[float, float] | None:
        """Value and whole of a case that has both; 1 is the whole where a value stands alone."""
        value = case.figures[self.value]
        whole = 1 if self.of is None else case.figures[self.of]
        if value is None or not whole or whole < self.least:
            return None
        return value * whole if self.shared else value, whole


#: Where harvests mix, times out of the body are known between two bounds (``figures/out_of_body.py``): both.
ENDS: Final = (("least", "low"), ("most", "high"))
MEASURES: Final = (
    Measure(
        "hairs_per_graft", "hairs per graft placed", "hairs/graft", "mean of cases", "hairs_per_graft_placed"
    ),
    *(
        Measure(
            f"{work}_pace",
            f"pace of {label}",
            f"{what}/person-hour",
            "all done by all person-hours",
            f"{work}_done",
            f"{work}_person_hours",
            least=LEAST_HOURS,
        )
        for work, label, what in (
            ("cutting", "cutting", "grafts"),
            ("sites", "making sites", "sites"),
            ("placing", "placing", "grafts"),
        )
    ),
    *(
        Measure(
            f"out_median_at_{end}",
            f"median time out of the body, at {end}",
            "min",
            "median of cases",
            f"out_median_{bound}_min",
        )
        for end, bound in ENDS
    ),
    *(
        Measure(
            f"out_over_4_h_at_{end}",
            f"over 4 h out of the body, at {end}",
            "share",
            "share of all grafts",
            f"out_over_4_h_{bound}",
            "out_grafts",
            shared=True,
        )
        for end, bound in ENDS
    ),
    Measure(
        "transected", "transected in cutting", "share", "share of all grafts", "transected", "transected_of"
    ),
    Measure(
        "final_count_difference",
        "closed with a difference in the final count",
        "share",
        "share of cases",
        "final_count_differences",
    ),
    Measure("care_on_time", "care given on time", "share", "share of all rounds", "care_on_time", "care_due"),
    Measure("care_missed", "care missed", "share", "share of all rounds", "care_missed", "care_due"),
)


class Reported(Struct, frozen=True):
    """One measure of one group of cases that have it: the figure, its range, where the middle half lies."""

    group: Group
    measure: Measure
    figure: Estimate
    middle_half: tuple[float, float] | None


class Across(Struct, frozen=True):
    """A whole report: how many cases, from which month to which, and every measure of its groups."""

    cases: int
    first: date
    last: date
    figures: tuple[Reported, ...]

    def of(self, level: Level, measure: Measure) -> tuple[Reported, ...]:
        """What is reported of a measure at one level."""
        return tuple(each for each in self.figures if each.group.level == level and each.measure is measure)


def across(folder: Path) -> Across:
    """The report of an archive. Raises ``OrroomError`` if it cannot be read or has too few cases."""
    about(folder)
    cases = read_cases(folder)
    if len(cases) < FEWEST_SHOWN:
        raise OrroomError(
            f"{folder} has {len(cases)} of the {FEWEST_SHOWN} cases that a report needs.",
            "Fewer would identify single cases; see their summaries.",
        )
    return over(cases)


def over(cases: Sequence[Case]) -> Across:
    """The report of some cases, one at least. Groups are made for each measure, of the cases that have it."""
    months = [each.month for each in cases]
    figures = [
        _reported(group, measure)
        for measure in MEASURES
        for group in groups([each for each in cases if measure.of_case(each)])
    ]
    return Across(len(cases), min(months), max(months), tuple(figures))


def read_cases(folder: Path) -> list[Case]:
    """The cases of an archive, with the figures that the measures need.

    Raises ``OrroomError`` for what cannot be read, or no case can have, and for a case that is there twice: a
    replacement under another site that was killed leaves both rows.
    """
    names = sorted({name for each in MEASURES for name in (each.value, each.of) if name is not None})
    with closing(database()) as connection:
        select = f"SELECT case_id, file, site, month, {', '.join(names)} FROM kept ORDER BY case_id, file"  # noqa: S608 - our own names
        rows = catalogue.rows(connection, folder, select)
    found: list[Case] = []
    files: dict[str, str] = {}
    for case_id, file, site, month, *figures in rows:
        if (other := files.setdefault(case_id, file)) != file:
            raise OrroomError(f"{folder} has a case twice: {other} and {file}.", ADD_INSTEAD)
        if month is None or not all(each is None or 0 <= each <= _MOST for each in figures):
            raise OrroomError(f"{folder / file} has figures that no case can have.", ADD_AGAIN)
        found.append(Case(site, month, dict(zip(names, figures, strict=True))))
    return found


def _reported(group: Group, measure: Measure) -> Reported:
    pairs = [pair for each in group.cases if (pair := measure.of_case(each))]
    values, wholes = [value for value, _ in pairs], [whole for _, whole in pairs]
    spread = None if measure.how == "share of cases" else middle_half(_each(values, wholes))
    return Reported(group, measure, _ESTIMATED[measure.how](values, wholes), spread)


def _each(values: Sequence[float], wholes: Sequence[float]) -> list[float]:
    return [value / whole for value, whole in zip(values, wholes, strict=True)]


_ESTIMATED: Final[dict[How, Callable[[Sequence[float], Sequence[float]], Estimate]]] = {
    "mean of cases": lambda values, wholes: mean_of(_each(values, wholes)),
    "all done by all person-hours": pooled_pace,
    "median of cases": lambda values, wholes: median_of(_each(values, wholes)),
    "share of all grafts": pooled_share,
    "share of all rounds": pooled_share,
    "share of cases": lambda values, wholes: share_of_cases([value > 0 for value in values]),
}
