"""The formats a summary can be written in: one function each, by the name used on the command line."""

from __future__ import annotations

from collections.abc import Callable

from orroom.reports.csv_text import to_csv
from orroom.reports.html import to_html
from orroom.reports.json_text import to_json
from orroom.reports.markdown import to_markdown
from orroom.reports.summary import Summary

FORMATTERS: dict[str, Callable[[Summary], str]] = {
    "md": to_markdown,
    "html": to_html,
    "json": to_json,
    "csv": to_csv,
}
