"""A summary as tidy tables, one a part, another for its figures by size; ``tables.csv`` explains columns.

Each begins with the case's code, so that those of several cases can be put together.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cache
from typing import Any, Final, NamedTuple, get_args

from pydantic.fields import FieldInfo

from orroom.case.terms import SIZE_KEYS
from orroom.figures.wording import moment
from orroom.formats.csv_text import cell, csv_text
from orroom.summary.fields import OWN_UNIT, Part, is_moment, unit_of
from orroom.summary.grafts import SizeCounts
from orroom.summary.summary import Summary

INDEX: Final = "tables"
INDEX_COLUMNS: Final = ("table", "column", "unit", "meaning")
CASE: Final = "case"
BY_SIZE: Final = "_by_size"
CASE_COLUMN: Final = (CASE, "", "the case's code")
#: Grafts, or sites where that is the work: their heads say neither.
OF_ANY_WORK: Final = ("done", "left")
#: What a column's name has in it that says its unit; else the unit's own word.
SAID_BY: Final = {
    "hairs/graft": "hairs",
    "cm²": "cm2",
    "grafts/cm²": "grafts_per_cm2",
    "hairs/cm²": "hairs_per_cm2",
    "graft-hours": "graft_hours",
    "graft-minutes": "graft_minutes",
    "h": "hour",
    "1/h": "per_",
    "°C": "_c",
}
#: The column that names the row again where a table goes on by size.
NAMED_BY: Final = {"zones": "zone", "people": "who", "discards": "reason"}


class _Column(NamedTuple):
    """A column: its head, its unit, what it means, and what is in it; ``local`` is the case's own clock."""

    head: str
    unit: str
    meaning: str
    field: str
    local: bool = False


def to_csv_tables(summary: Summary, *, decimal: str = ".") -> dict[str, str]:
    """Separated text by file name; a part of which nothing is known is a table without rows.

    With a ``decimal`` comma, as spreadsheets of many countries want it, semicolons separate the cells.
    """
    tables = {}
    for name, kind, parts in _parts(summary):
        if kind is None:
            tables[name] = csv_text(("case", "text"), [(summary.case, text) for text in parts], decimal)
            continue
        tables[name] = _table(summary, kind, parts, decimal)
        if any(_by_size(each) for each in kind.model_fields.values()):
            tables[name + BY_SIZE] = _table_by_size(summary, name, kind, parts, decimal)
    tables[INDEX] = csv_text(INDEX_COLUMNS, codebook(), decimal)
    return {f"{name}.csv": text for name, text in tables.items()}


def codebook() -> Iterator[tuple[str, str, str, str]]:
    """Every column of every table: the table, the column, its unit, what it means."""
    yield from ((CASE, each.head, each.unit, each.meaning) for each in _columns(Summary))
    for name, field in Summary.model_fields.items():
        kind = _kind(field)
        if kind is None:
            if _texts(field):
                yield from ((name, *CASE_COLUMN), (name, "text", "", field.description or ""))
            continue
        yield from ((name, each.head, each.unit, each.meaning) for each in _columns(kind))
        if any(_by_size(each) for each in kind.model_fields.values()):
            yield (name + BY_SIZE, *CASE_COLUMN)
            yield from _described_by_size(name, kind)


def _parts(summary: Summary) -> Iterator[tuple[str, type[Part] | None, list[Any]]]:
    """Every table: its name, what its rows are made of, and these; texts alone are made of no part."""
    yield CASE, type(summary), [summary]
    for name, field in type(summary).model_fields.items():
        kind, value = _kind(field), getattr(summary, name)
        if kind is not None or isinstance(value, tuple):
            yield name, kind, [value] if isinstance(value, Part) else list(value or ())


def _kind(field: FieldInfo) -> type[Part] | None:
    """The part that a field holds, or holds several of."""
    kinds = (field.annotation, *get_args(field.annotation))
    return next((each for each in kinds if isinstance(each, type) and issubclass(each, Part)), None)


def _by_size(field: FieldInfo) -> bool:
    return "dict" in str(field.annotation)


@cache
def _columns(kind: type[Part]) -> tuple[_Column, ...]:
    """The case, then fields that are one figure or text each, or a few texts; those with a unit last."""
    fields = {
        name: field
        for name, field in kind.model_fields.items()
        if _kind(field) is None
        and not _by_size(field)
        and not (kind is Summary and (_texts(field) or name == CASE))
    }
    found = [_Column(*CASE_COLUMN, CASE)]
    for name, field in sorted(fields.items(), key=lambda each: bool(unit_of(each[1]))):
        meaning, unit = field.description or "", unit_of(field)
        if is_moment(field):
            found.append(_Column(f"{name}_utc", "", f"{meaning}; UTC", name))
            found.append(_Column(f"{name}_local", "", f"{meaning}; by the case's clock", name, local=True))
        else:
            said = "as in the column unit" if unit == OWN_UNIT else "min" if unit == "ms" else unit
            found.append(_Column(_headed(name, unit), said, meaning, name))
    return tuple(found)


def _texts(field: FieldInfo) -> bool:
    return "tuple" in str(field.annotation)


def _table(summary: Summary, kind: type[Part], parts: Iterable[Part], decimal: str) -> str:
    columns = _columns(kind)
    fields = {each.field for each in columns} - ({CASE} - kind.model_fields.keys())
    rows = []
    for each in parts:
        found = {CASE: summary.case, **each.model_dump(mode="json", include=fields)}
        rows.append(
            [
                _local(getattr(each, column.field), summary.utc_offset_minutes)
                if column.local
                else cell(found[column.field], _unit(kind, column))
                for column in columns
            ]
        )
    return csv_text([each.head for each in columns], rows, decimal)


def _unit(kind: type[Part], column: _Column) -> str:
    return unit_of(kind.model_fields[column.field]) if column.field in kind.model_fields else ""


def _local(at_ms: int | None, offset_minutes: int) -> str | None:
    """A moment as a spreadsheet knows one, by the case's clock, in whole seconds."""
    return None if at_ms is None else f"{moment(at_ms, offset_minutes):%Y-%m-%d %H:%M:%S}"


def _table_by_size(summary: Summary, name: str, kind: type[Part], parts: Sequence[Part], decimal: str) -> str:
    """A row for each item and size; the item is named as in the table next to it."""
    item = NAMED_BY.get(name)
    none = {
        each: None if "float" in str(field.annotation) else 0  # grafts not counted are none, not no data
        for each, field in kind.model_fields.items()
        if _by_size(field)
    }
    rows = []
    for each in parts:
        values: Mapping[str, Any] = dict(each)
        named = [summary.case, *([values[item]] if item else [])]
        rows += [
            [*named, size, *(values[measure].get(size, least) for measure, least in none.items())]
            for size in SIZE_KEYS
            if any(size in values[measure] for measure in none)
        ]
    heads = [_headed(each, unit_of(kind.model_fields[each])) for each in none]
    return csv_text([CASE, *([item] if item else []), "size", *heads], rows, decimal)


def _headed(name: str, unit: str) -> str:
    """The head of a column: the field's name, and its unit where the name does not say it."""
    if unit == "ms":
        return name.removesuffix("_ms") + "_min"
    says = SAID_BY.get(unit, unit)
    return name if unit in {"", OWN_UNIT} or says in name or name in OF_ANY_WORK else f"{name}_{says}"


def _described_by_size(table: str, kind: type[Part]) -> Iterator[tuple[str, str, str, str]]:
    item = NAMED_BY.get(table)
    size = (table + BY_SIZE, "size", "", SizeCounts.model_fields["size"].description or "")
    if item is not None:
        yield (table + BY_SIZE, item, "", kind.model_fields[item].description or "")
    yield size
    for name, field in kind.model_fields.items():
        if _by_size(field):
            unit = unit_of(field)
            yield (table + BY_SIZE, _headed(name, unit), unit, field.description or "")
