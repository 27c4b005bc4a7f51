"""The figures of a summary's tables, one by one, as tests ask for them."""

from __future__ import annotations

import csv
import io

from orroom.formats.csv_tables import BY_SIZE, INDEX, to_csv_tables
from orroom.summary.summary import Summary


def figures_in(summary: Summary) -> set[tuple[str, ...]]:
    """Table, row, size, column, value and unit of every cell; a column by its head, and without its unit.

    A row is called by its number from 1, its first cell and its label; a part that is there once, by nothing.
    """
    tables = {name.removesuffix(".csv"): _read(text) for name, text in to_csv_tables(summary).items()}
    units = {(each["table"], each["column"]): each["unit"] for each in tables.pop(INDEX)}
    found = set()
    for name, rows in tables.items():
        table = name.removesuffix(BY_SIZE)
        for number, row in enumerate(rows, 1):
            size, own = row.pop("size", ""), row.pop("unit", "")
            assert row.pop("case") == summary.case
            names = {str(number), next(iter(row.values()), ""), row.get("label", "")}
            if not isinstance(getattr(summary, table, None), tuple):
                names = {""}
            for column, value in row.items():
                unit = units[name, column]
                unit = own if unit == "as in the column unit" else unit
                heads = {
                    column,
                    column.removesuffix("_min"),
                    column.removesuffix(f"_{unit.replace('-', '_')}"),
                }
                found |= {(table, each, size, head, value, unit) for each in names for head in heads}
    return found


def _read(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))
