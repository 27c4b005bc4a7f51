"""Sitting down at a station: there must be a terminal; leaving closes the desk in order."""

from __future__ import annotations

import os
import sys

from orroom.desk import Desk
from orroom.errors import OrroomError


def need_a_terminal() -> None:
    """Raise ``OrroomError`` where there is no terminal to show a station in."""
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        raise OrroomError("A station needs a terminal.", "Run it in one; orroom summary needs none.")


def sit_at(desk: Desk, theme: str) -> int:
    """Run the station until it is left, then close its desk; answers the exit code.

    Raises ``OrroomError`` naming the rescue file if some taps never reached the disk.
    """
    # Read when the library is imported: at its usual 60 a tap may wait two frames, 33 ms, to be painted.
    os.environ.setdefault("TEXTUAL_FPS", "240")
    from orroom.screens.app import FAILED, OrroomApp

    app = OrroomApp(desk, theme)
    reason = FAILED
    try:
        reason = app.sit()
    finally:
        rescue = desk.close(reason)
    if rescue is not None:
        error = OrroomError(
            f"Some taps could not be written to the case ({desk.trouble}); they are in {rescue}.",
            f"When the disk is well again: orroom import --rescue {rescue} CASE",
        )
        error.exit_code = app.return_code or error.exit_code
        raise error
    return app.return_code or 0
