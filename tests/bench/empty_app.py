"""The smallest application of the terminal library: what a station's start is measured beside."""

from __future__ import annotations

from textual.app import App, ComposeResult
from textual.widgets import Static


class Empty(App[None]):
    """One line of text."""

    def compose(self) -> ComposeResult:
        """The line."""
        yield Static("READY")


if __name__ == "__main__":
    Empty().run()
