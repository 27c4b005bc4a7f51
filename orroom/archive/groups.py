"""Which cases are shown together: all, by year, by month of a year, by site; never under ``FEWEST_SHOWN``.

A month with one or two cases would show those cases' own figures to everybody who knows who was there. It is
shown together with the months after it, at the end of a year with those before; so are years, and small sites
as one. Nor must subtraction reveal cases: where sites are shown, a month has none of each, or at least
``FEWEST_SHOWN``. So cases that no group tells apart are never fewer, and no sum or difference of groups is.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date
from itertools import groupby
from typing import Final, Literal, NamedTuple, TypeVar

Level = Literal["all", "year", "month", "site"]
#: The fewest cases whose figures are shown together. Common practice in small-count reporting, no source.
FEWEST_SHOWN: Final = 3


class Case(NamedTuple):
    """A case of an archive: its site, its month, and its figures by column, ``None`` for no data.

    ``version`` is that of its row, 0 where the row does not say it. ``goes_on``: whether the archive has the
    earlier case that this one goes on with; ``None`` for a first day.
    """

    site: str
    month: date
    figures: dict[str, float | None]
    version: int = 0
    goes_on: bool | None = None


class Group(NamedTuple):
    """Cases shown together, and the months they are of."""

    level: Level
    name: str
    first: date
    last: date
    cases: tuple[Case, ...]


_T = TypeVar("_T")
_Part = tuple[list[_T], list[Case]]
_Enough = Callable[[Sequence[Case]], bool]


def groups(cases: Sequence[Case]) -> tuple[Group, ...]:
    """All groups, each level in order; empty below ``FEWEST_SHOWN`` cases.

    Sites are left out where showing them would leave fewer than half of the groups of months.
    """
    if len(cases) < FEWEST_SHOWN:
        return ()
    by_size = sorted(_parted((each.site, each) for each in cases), key=lambda part: -len(part[1]))
    by_site = [_group("site", " and ".join(names), mine) for names, mine in _merged(by_size, _enough({}))]
    years, months = _by_time(cases, _enough({}))
    fewer_years, fewer_months = _by_time(
        cases, _enough({c.site: each.name for each in by_site for c in each.cases})
    )
    if len(by_site) < 2 or 2 * len(fewer_months) < len(months):
        by_site = []
    else:
        years, months = fewer_years, fewer_months
    return (_group("all", "all cases", cases), *years, *months, *by_site)


def _enough(site_names: Mapping[str, str]) -> _Enough:
    """Whether cases can be shown together: enough of each named site that has any, and of all others."""
    return lambda cases: min(Counter(site_names.get(each.site) for each in cases).values()) >= FEWEST_SHOWN


def _by_time(cases: Sequence[Case], enough: _Enough) -> tuple[list[Group], list[Group]]:
    """The groups by year, and those by month, each within one by year."""
    by_year, by_month = [], []
    for years, mine in _merged(_parted((each.month.year, each) for each in cases), enough):
        by_year.append(_group("year", _from_to(str(years[0]), str(years[-1])), mine))
        for months, theirs in _merged(_parted((each.month, each) for each in mine), enough):
            name = _from_to(f"{months[0]:%Y-%m}", f"{months[-1]:%Y-%m}")
            by_month.append(_group("month", name, theirs))
    return by_year, by_month


def _parted(cases: Iterable[tuple[_T, Case]]) -> list[_Part[_T]]:
    ordered = sorted(cases, key=lambda each: each[0])  # type: ignore[arg-type,return-value]  # names or dates
    return [([key], [case for _, case in mine]) for key, mine in groupby(ordered, key=lambda each: each[0])]


def _merged(parts: Iterable[_Part[_T]], enough: _Enough) -> list[_Part[_T]]:
    """Parts in order, each with those after it until there are enough; what is left goes to those before."""
    found: list[_Part[_T]] = []
    keys: list[_T] = []
    cases: list[Case] = []
    for more_keys, more in parts:
        keys, cases = [*keys, *more_keys], [*cases, *more]
        if enough(cases):
            found.append((keys, cases))
            keys, cases = [], []
    while cases and found:
        keys_before, before = found.pop()
        keys, cases = [*keys_before, *keys], [*before, *cases]
        if enough(cases):
            found.append((keys, cases))
            break
    return found


def _from_to(first: str, last: str) -> str:
    return first if first == last else f"{first} to {last}"


def _group(level: Level, name: str, cases: Sequence[Case]) -> Group:
    months = [each.month for each in cases]
    return Group(level, name, min(months), max(months), tuple(cases))
