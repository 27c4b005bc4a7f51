"""A summary as tidy tables, one a part, another for its figures by size; ``tables.csv`` explains columns."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cache
from typing import Any, Final, get_args

from pydantic.fields import FieldInfo

from orroom.case.terms import SIZE_KEYS
from orroom.formats.csv_text import cell, csv_text
from orroom.summary.fields import OWN_UNIT, Part, unit_of
from orroom.summary.grafts import SizeCounts
from orroom.summary.summary import Summary

INDEX: Final = "tables"
INDEX_COLUMNS: Final = ("table", "column", "unit", "meaning")
CASE: Final = "case"
BY_SIZE: Final = "_by_size"
#: The column that names the row again where a table goes on by size.
NAMED_BY: Final = {"zones": "zone", "people": "who", "discards": "reason"}


def to_csv_tables(summary: Summary) -> dict[str, str]:
    """Comma-separated text by file name; a part of which nothing is known is a table without rows."""
    tables, index = {CASE: _table(type(summary), [summary])}, [*_described(CASE, type(summary))]
    for name, field in type(summary).model_fields.items():
        kind = _kind(field)
        value = getattr(summary, name)
        if kind is None and isinstance(value, tuple):
            tables[name] = csv_text(("text",), ([text] for text in value))
            index.append((name, "text", "", field.description or ""))
        if kind is None:
            continue
        rows = [value] if isinstance(value, Part) else list(value or ())
        tables[name] = _table(kind, rows)
        index += _described(name, kind)
        if any(_by_size(each) for each in kind.model_fields.values()):
            tables[name + BY_SIZE] = _table_by_size(name, kind, rows)
            index += _described_by_size(name, kind)
    tables[INDEX] = csv_text(INDEX_COLUMNS, index)
    return {f"{name}.csv": text for name, text in tables.items()}


def _kind(field: FieldInfo) -> type[Part] | None:
    """The part that a field holds, or holds several of."""
    kinds = (field.annotation, *get_args(field.annotation))
    return next((each for each in kinds if isinstance(each, type) and issubclass(each, Part)), None)


def _by_size(field: FieldInfo) -> bool:
    return "dict" in str(field.annotation)


@cache
def _columns(kind: type[Part]) -> dict[str, FieldInfo]:
    """The fields that are one figure or text each, or a few texts; those with a unit last."""
    columns = {
        name: field
        for name, field in kind.model_fields.items()
        if _kind(field) is None and not _by_size(field) and not (kind is Summary and _texts(field))
    }
    return dict(sorted(columns.items(), key=lambda each: bool(unit_of(each[1]))))


def _texts(field: FieldInfo) -> bool:
    return "tuple" in str(field.annotation)


def _table(kind: type[Part], parts: Iterable[Part]) -> str:
    columns = _columns(kind)
    rows = []
    for each in parts:
        told = each.model_dump(mode="json", include=set(columns))
        rows.append([cell(told[name], unit_of(field)) for name, field in columns.items()])
    return csv_text([_named(name, field) for name, field in columns.items()], rows)


def _table_by_size(name: str, kind: type[Part], parts: Sequence[Part]) -> str:
    """A row for each item and size; the item is named as in the table next to it."""
    item = NAMED_BY.get(name)
    none = {
        each: None if "float" in str(field.annotation) else 0  # grafts not counted are none, not no data
        for each, field in kind.model_fields.items()
        if _by_size(field)
    }
    rows = []
    for each in parts:
        told: Mapping[str, Any] = dict(each)
        named = [told[item]] if item else []
        rows += [
            [*named, size, *(told[measure].get(size, least) for measure, least in none.items())]
            for size in SIZE_KEYS
            if any(size in told[measure] for measure in none)
        ]
    return csv_text([*([item] if item else []), "size", *none], rows)


def _named(name: str, field: FieldInfo) -> str:
    return name.removesuffix("_ms") + "_min" if unit_of(field) == "ms" else name


def _described(table: str, kind: type[Part]) -> Iterator[tuple[str, str, str, str]]:
    for name, field in _columns(kind).items():
        unit = unit_of(field)
        said = "as in the column unit" if unit == OWN_UNIT else "min" if unit == "ms" else unit
        yield (table, _named(name, field), said, field.description or "")


def _described_by_size(table: str, kind: type[Part]) -> Iterator[tuple[str, str, str, str]]:
    item = NAMED_BY.get(table)
    for name, field in kind.model_fields.items():
        if name == item or _by_size(field):
            yield (table + BY_SIZE, name, unit_of(field), field.description or "")
        if name == item or (item is None and name == next(iter(kind.model_fields))):
            yield (table + BY_SIZE, "size", "", SizeCounts.model_fields["size"].description or "")
