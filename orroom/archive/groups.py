"""Which cases are told together: all, by year, by month of a year, by site; never fewer than ``FEWEST_TOLD``.

A month with one or two cases would tell those cases' own figures to everybody who knows who was there. It is
told together with the months after it, at the end of a year with those before; so are years, and small sites
as one. Months stay within what is told as a year, so that no difference of two groups is a single case.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from itertools import groupby
from typing import Final, Literal, NamedTuple, TypeVar

Level = Literal["all", "year", "month", "site"]
#: The fewest cases whose figures are told together. Common practice in small-count reporting, no source.
FEWEST_TOLD: Final = 3


class Case(NamedTuple):
    """A case of an archive: its site, its month, and its figures by column, ``None`` for no data."""

    site: str
    month: date
    figures: dict[str, float | None]


class Group(NamedTuple):
    """Cases told together, and the months they are of."""

    level: Level
    name: str
    first: date
    last: date
    cases: tuple[Case, ...]


_T = TypeVar("_T")
_Part = tuple[list[_T], list[Case]]


def groups(cases: Sequence[Case]) -> tuple[Group, ...]:
    """All groups, each level in order; empty below ``FEWEST_TOLD`` cases."""
    if len(cases) < FEWEST_TOLD:
        return ()
    found = [_group("all", "all cases", cases)]
    by_month: list[Group] = []
    for years, mine in _merged(_parted((each.month.year, each) for each in cases)):
        found.append(_group("year", _from_to(str(years[0]), str(years[-1])), mine))
        for months, theirs in _merged(_parted((each.month, each) for each in mine)):
            name = _from_to(f"{months[0]:%Y-%m}", f"{months[-1]:%Y-%m}")
            by_month.append(_group("month", name, theirs))
    by_size = sorted(_parted((each.site, each) for each in cases), key=lambda part: -len(part[1]))
    sites = [_group("site", " and ".join(names), mine) for names, mine in _merged(by_size)]
    return (*found, *by_month, *(sites if len(sites) > 1 else ()))


def _parted(cases: Iterable[tuple[_T, Case]]) -> list[_Part[_T]]:
    ordered = sorted(cases, key=lambda each: each[0])  # type: ignore[arg-type,return-value]  # names or dates
    return [([key], [case for _, case in mine]) for key, mine in groupby(ordered, key=lambda each: each[0])]


def _merged(parts: Iterable[_Part[_T]]) -> list[_Part[_T]]:
    """Parts in order, each with those after it until there are enough; what is left goes to the last."""
    found: list[_Part[_T]] = []
    keys: list[_T] = []
    cases: list[Case] = []
    for more_keys, more in parts:
        keys, cases = [*keys, *more_keys], [*cases, *more]
        if len(cases) >= FEWEST_TOLD:
            found.append((keys, cases))
            keys, cases = [], []
    if cases and found:
        found[-1] = ([*found[-1][0], *keys], [*found[-1][1], *cases])
    return found


def _from_to(first: str, last: str) -> str:
    return first if first == last else f"{first} to {last}"


def _group(level: Level, name: str, cases: Sequence[Case]) -> Group:
    months = [each.month for each in cases]
    return Group(level, name, min(months), max(months), tuple(cases))
