"""What the cases of an archive come to: each measure, over all cases, by year, by month and by site."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal

from orroom.archive import catalogue
from orroom.archive.groups import FEWEST_TOLD, Case, Group, Level, groups
from orroom.archive.intervals import Estimate, mean_of, median_of, middle_half, pooled_share, share_of_cases
from orroom.archive.parquet import database
from orroom.archive.pseudonyms import about
from orroom.errors import OrroomError

How = Literal["mean of cases", "median of cases", "share of all grafts", "share of cases"]


@dataclass(frozen=True, slots=True)
class Measure:
    """What is told: of ``value`` alone, or of ``value`` out of ``of`` (for a mean, ``value`` per ``of``).

    ``shared``: ``value`` is a share of ``of`` already.
    """

    key: str
    label: str
    unit: str
    how: How
    value: str
    of: str | None = None
    shared: bool = False


#: Where lots mix, times out of the body are known between two bounds (``figures/survival.py``): both.
MEASURES: Final = (
    Measure(
        "hairs_per_graft", "hairs per graft placed", "hairs/graft", "mean of cases", "hairs_per_graft_placed"
    ),
    Measure(
        "cutting_pace",
        "pace of cutting",
        "grafts/person-hour",
        "mean of cases",
        "cutting_done",
        "cutting_person_hours",
    ),
    Measure(
        "sites_pace",
        "pace of making sites",
        "sites/person-hour",
        "mean of cases",
        "sites_done",
        "sites_person_hours",
    ),
    Measure(
        "placing_pace",
        "pace of placing",
        "grafts/person-hour",
        "mean of cases",
        "placing_done",
        "placing_person_hours",
    ),
    Measure(
        "out_median_at_least",
        "median time out of the body, at least",
        "min",
        "median of cases",
        "out_median_low_min",
    ),
    Measure(
        "out_median_at_most",
        "median time out of the body, at most",
        "min",
        "median of cases",
        "out_median_high_min",
    ),
    Measure(
        "out_over_4_h_at_least",
        "over 4 h out of the body, at least",
        "share",
        "share of all grafts",
        "out_over_4_h_low",
        "out_grafts",
        shared=True,
    ),
    Measure(
        "out_over_4_h_at_most",
        "over 4 h out of the body, at most",
        "share",
        "share of all grafts",
        "out_over_4_h_high",
        "out_grafts",
        shared=True,
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
)


@dataclass(frozen=True, slots=True)
class Told:
    """One measure of one group: of how many cases, the figure, its limits, where the middle half lies."""

    group: Group
    measure: Measure
    cases: int
    figure: Estimate | None
    middle_half: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class Across:
    """A whole report: how many cases there are, and every measure of every group."""

    cases: int
    groups: tuple[Group, ...]
    told: tuple[Told, ...]

    def of(self, level: Level, measure: Measure | None = None) -> tuple[Told, ...]:
        """What is told at one level, of all measures or of one."""
        return tuple(
            each for each in self.told if each.group.level == level and measure in {None, each.measure}
        )


def across(folder: Path) -> Across:
    """The report of an archive.

    Raises ``OrroomError`` if the folder is none, cannot be read, or holds fewer cases than are told together.
    """
    about(folder)
    cases = read_cases(folder)
    if len(cases) < FEWEST_TOLD:
        raise OrroomError(
            f"{folder} holds {len(cases)} of the {FEWEST_TOLD} cases that a report needs.",
            "Fewer would tell of single cases: look at their summaries.",
        )
    return over(cases)


def over(cases: Sequence[Case]) -> Across:
    """The report of some cases, ``FEWEST_TOLD`` at least."""
    found = groups(cases)
    return Across(len(cases), found, tuple(_told(group, each) for group in found for each in MEASURES))


def read_cases(folder: Path) -> list[Case]:
    """The cases of an archive, with the figures that the measures need."""
    names = sorted({name for each in MEASURES for name in (each.value, each.of) if name is not None})
    with closing(database()) as connection:
        select = f"SELECT site, month, {', '.join(names)} FROM kept ORDER BY case_id"  # noqa: S608 - our own names
        rows = catalogue.rows(connection, folder, select)
    return [Case(site, month, dict(zip(names, figures, strict=True))) for site, month, *figures in rows]


def _told(group: Group, measure: Measure) -> Told:
    """A measure of the cases that have it; of too few, only how many they are."""
    values, wholes = _observed(group.cases, measure)
    if len(values) < FEWEST_TOLD:
        return Told(group, measure, len(values), None, None)
    spread = None if measure.how == "share of cases" else middle_half(_each(values, wholes))
    return Told(group, measure, len(values), _ESTIMATED[measure.how](values, wholes), spread)


def _observed(cases: Sequence[Case], measure: Measure) -> tuple[list[float], list[float]]:
    """Value and whole of each case that has both; 1 is the whole where a value stands alone."""
    values, wholes = [], []
    for case in cases:
        value = case.figures[measure.value]
        whole = 1 if measure.of is None else case.figures[measure.of]
        if value is not None and whole:
            values.append(value * whole if measure.shared else value)
            wholes.append(whole)
    return values, wholes


def _each(values: Sequence[float], wholes: Sequence[float]) -> list[float]:
    return [value / whole for value, whole in zip(values, wholes, strict=True)]


_ESTIMATED: Final[dict[How, Callable[[Sequence[float], Sequence[float]], Estimate | None]]] = {
    "mean of cases": lambda values, wholes: mean_of(_each(values, wholes)),
    "median of cases": lambda values, wholes: median_of(_each(values, wholes)),
    "share of all grafts": pooled_share,
    "share of cases": lambda values, wholes: share_of_cases([value > 0 for value in values]),
}
