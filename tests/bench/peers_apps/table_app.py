"""A cutting screen as it is quickly built from the terminal library's own widgets, to measure ours beside.

``python table_app.py FILE``: a header, a table with one row a size, a table of the last entries, a line of
keys. A key counts one graft, commits it to FILE with SQLite's log and a full sync, and updates what changed.
"""

from __future__ import annotations

import sqlite3
import sys
import time

from textual import events
from textual.app import App, ComposeResult
from textual.widgets import DataTable, Static

PLANNED = {"1": 420, "2": 900, "3": 700, "4": 300}
LAST = 8


class Table(App[None]):
    """One person's cutting."""

    def __init__(self, path: str) -> None:
        super().__init__()
        self.connection = sqlite3.connect(path, isolation_level=None)
        self.connection.execute("PRAGMA journal_mode = WAL")
        self.connection.execute("PRAGMA synchronous = FULL")
        self.connection.execute("CREATE TABLE IF NOT EXISTS tap (seq INTEGER PRIMARY KEY, at, who, size)")
        self.counts = {size: 1000 * int(size) for size in PLANNED}
        self.last: list[tuple[str, str, str]] = []

    def compose(self) -> ComposeResult:
        """Header, sizes, entries, keys."""
        yield Static("CUTTING  AB  harvest A out 1:12", id="head")
        yield DataTable(id="sizes")
        yield DataTable(id="entries")
        yield Static("1 2 3 4 cut  x discarded  / divided  g segment done  u take back  F1 help")

    def on_mount(self) -> None:
        """Fill the tables, and keep the clock running."""
        sizes = self.query_one("#sizes", DataTable)
        for name in ("key", "size", "AB", "team", "plan", "share"):
            sizes.add_column(name, key=name, width=10)
        for size, planned in PLANNED.items():
            sizes.add_row(
                size, f"{size} hairs", "0", f"team {self.counts[size]:,}", str(planned), "0 %", key=size
            )
        entries = self.query_one("#entries", DataTable)
        for name in ("time", "who", "what"):
            entries.add_column(name, key=name, width=16)
        for row in range(LAST):
            entries.add_row("", "", "", key=str(row))
        self.set_interval(1, self.tick)

    def tick(self) -> None:
        """A second has passed."""
        self.query_one("#head", Static).update(
            f"CUTTING  AB  harvest A out 1:12  {time.strftime('%H:%M:%S')}"
        )

    def on_key(self, event: events.Key) -> None:
        """Commit a graft of the size that the key names, then show it."""
        size = event.key
        if size not in PLANNED:
            return
        now = time.strftime("%H:%M:%S")
        self.connection.execute("INSERT INTO tap (at, who, size) VALUES (?, 'AB', ?)", (now, size))
        self.counts[size] += 1
        count = self.counts[size]
        sizes = self.query_one("#sizes", DataTable)
        sizes.update_cell(size, "AB", str(count - 1000 * int(size)))
        sizes.update_cell(size, "team", f"team {count:,}")
        sizes.update_cell(size, "share", f"{count / PLANNED[size]:.0%}")
        self.last = [(now, "AB", f"1 × {size} cut"), *self.last][:LAST]
        entries = self.query_one("#entries", DataTable)
        for row, entry in enumerate(self.last):
            for name, words in zip(("time", "who", "what"), entry, strict=True):
                entries.update_cell(str(row), name, words)


if __name__ == "__main__":
    Table(sys.argv[1]).run()
