"""The smallest applications of the terminal library: one line that tells the last key's number.

``python echo_app.py`` echoes keys; with the word ``clock`` it has one clock that ticks each second besides,
with ``libraries`` it has imported what a station reads entries and command line with.
"""

from __future__ import annotations

import importlib
import sys
import time

from textual import events
from textual.app import App, ComposeResult
from textual.widgets import Static


class Echo(App[None]):
    """One line of text."""

    keys = 0

    def compose(self) -> ComposeResult:
        """The line, and the clock's if there is to be one."""
        yield Static("READY", id="line")
        if sys.argv[1:] == ["clock"]:
            yield Static(id="clock")
            self.set_interval(1, self.tick)

    def tick(self) -> None:
        """A second has passed."""
        self.query_one("#clock", Static).update(time.strftime("%H:%M:%S"))

    def on_key(self, event: events.Key) -> None:
        """Count the key and tell so."""
        self.keys += 1
        self.query_one("#line", Static).update(f"team {1000 + self.keys:,}")


if __name__ == "__main__":
    if sys.argv[1:] == ["libraries"]:
        for name in ("click", "msgspec.json"):
            importlib.import_module(name)
    Echo().run()
