"""How a page of Markdown is put together: escaped text, tables that line up raw, local times."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence

from rich.cells import cell_len, set_cell_size

from orroom.figures.wording import NO_DATA, clock_time, grafts, moment
from orroom.summary.summary import Summary

DAY_MS = 86_400_000
_SPECIAL = re.compile(r"([\\`*_{}\[\]<>#|~&])")
_LIST_MARK = re.compile(r"^(\d*)([-+.)])(?=[\s-]|$)")


def escaped(text: str) -> str:
    """``text`` on one line, with everything that Markdown would act on made plain."""
    return _LIST_MARK.sub(r"\1\\\2", _SPECIAL.sub(r"\\\1", " ".join(text.split())))


def table(header: Sequence[str], rows: Iterable[Sequence[str]], texts: int = 1) -> str:
    """A pipe table whose raw text lines up: ``texts`` columns to the left, figures to the right."""
    lines = [list(header), *map(list, rows)]
    widths = [max(3, *map(cell_len, column)) for column in zip(*lines, strict=True)]
    rule = ["-" * width if place < texts else "-" * (width - 1) + ":" for place, width in enumerate(widths)]
    lines.insert(1, rule)
    return "\n".join(
        "| "
        + " | ".join(
            set_cell_size(cell, width) if place < texts else cell.rjust(width)
            for place, (cell, width) in enumerate(zip(line, widths, strict=True))
        )
        + " |"
        for line in lines
    )


def listed(items: Iterable[str]) -> str:
    """A list, or the word None."""
    return "\n".join(f"- {item}" for item in items) or "None."


class Page:
    """The summary and how its times and sizes are written."""

    def __init__(self, summary: Summary) -> None:
        self.summary = summary
        self.sizes = [size.size for size in summary.sizes]

    def clock(self, at_ms: int | None) -> str:
        """Hours and minutes at the case's offset; the date too from a day after the opening on."""
        if at_ms is not None and abs(at_ms - self.summary.opened) >= DAY_MS:
            return self.date(at_ms)
        return clock_time(at_ms, self.summary.utc_offset_minutes)

    def date(self, at_ms: int) -> str:
        """Date, hours and minutes at the case's offset."""
        return f"{moment(at_ms, self.summary.utc_offset_minutes):%Y-%m-%d %H:%M}"

    def offset(self) -> str:
        """The case's offset: ``UTC+01:00``."""
        hours, minutes = divmod(abs(self.summary.utc_offset_minutes), 60)
        return f"UTC{'-' if self.summary.utc_offset_minutes < 0 else '+'}{hours:02d}:{minutes:02d}"

    def by_size(self, counts: Mapping[str, int]) -> list[str]:
        """A cell for each size, a dash for none, then all of them."""
        return [
            *(grafts(counts[size]) if counts.get(size) else NO_DATA for size in self.sizes),
            grafts(sum(counts.values())),
        ]
