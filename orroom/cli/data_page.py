"""The page of the guide on data: every column of tables, Parquet file and views, where it is made."""

from collections.abc import Iterable
from itertools import groupby
from operator import itemgetter
from textwrap import wrap
from typing import Final

#: A page is read in a terminal of 80 columns.
_WIDTH: Final = 78

_ABOUT: Final = """\
# Every column of tables, Parquet and views

Made from the program, so that it is true of this version: each column with
its unit and its meaning. The CSV folder of `orroom summary` has the same list
as `tables.csv`, its unit empty where there is none. Times are UTC or, where a
name ends in `_local`, the case's own; ranges are 95 %; an empty cell means
that nobody entered it, or that it cannot be known.

A text that a spreadsheet would take for a formula has a `'` in front of it in
CSV.
"""


def data_page() -> str:
    """The codebook, in Markdown."""
    from orroom.archive.events_table import MEANINGS, UNITS
    from orroom.formats.csv_tables import codebook
    from orroom.record import view_parts
    from orroom.record.views import VIEWS

    parts = [_ABOUT, "## CSV: a file for each table, orroom summary CASE --format csv\n"]
    for table, rows in groupby(codebook(), itemgetter(0)):
        parts.append(f"### {table}\n\n{_list((name, unit, means) for _, name, unit, means in rows)}")
    parts.append("## Parquet: all entries, orroom export CASE events.parquet\n")
    parts.append(_list((name, UNITS.get(name, ""), means) for name, means in MEANINGS.items()))
    parts.append("## Views: in the case file, for any SQLite tool\n")
    for name, view in VIEWS.items():
        says = "\n".join(wrap(view.says, _WIDTH))
        columns = _list((each, view_parts.UNITS.get(each, ""), means) for each, means in view.columns.items())
        parts.append(f"### {name}\n\n{says}\n\n{columns}")
    return "\n".join(parts)


def _list(columns: Iterable[tuple[str, str, str]]) -> str:
    lines = []
    for name, unit, means in columns:
        text = f"- `{name}` ({unit or 'no unit'}): {means}"
        lines += wrap(text, _WIDTH, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False)
    return "\n".join(lines) + "\n"
