"""Sitting down at a station: there must be a terminal; leaving closes the desk in order."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING

from orroom.case.terms import Theme
from orroom.desk import Desk
from orroom.errors import OrroomError

if TYPE_CHECKING:
    from orroom.screens.stations.shared import Demo, Lesson


def in_a_terminal() -> bool:
    """Whether there is a terminal to show a screen in."""
    return sys.stdin.isatty() and sys.stderr.isatty()


def need_a_terminal() -> None:
    """Raise ``OrroomError`` where no station can be shown: before it is opened in a case."""
    try:
        import termios  # noqa: F401 - whether there is one
    except ImportError:
        raise OrroomError(
            f"Screens do not work on this system ({sys.platform}).",
            "Run them on Linux, here in a virtual machine or over ssh. Reports, verify and export work.",
        ) from None
    if not in_a_terminal():
        raise OrroomError("A station needs a terminal.", "Run it in one; orroom summary needs none.")


def paint_at_once() -> None:
    """Paint taps within 4 ms, not 33. Call it before the terminal library is imported."""
    os.environ.setdefault("TEXTUAL_FPS", "240")


def sit_at(
    desk: Desk,
    theme: Theme | None = None,
    lesson: Lesson | None = None,
    first: str = "",
    demo: Demo | None = None,
) -> int:
    """Run the station until it is left, then close its desk; answers the exit code.

    ``theme`` is another one than the clinic's setting; ``lesson`` is what practice says above the tiles;
    ``demo``: nothing here is needed, so that leaving asks nothing and it ends with its day;
    ``first`` is an action of the screen that is done at once, as if its key had been pressed.

    Raises ``OrroomError`` naming the rescue file if some taps never reached the disk.
    """
    paint_at_once()
    from orroom.screens.settings.clinic import this_clinic
    from orroom.screens.stations.app import FAILED, OrroomApp

    clinic = this_clinic()
    app = OrroomApp(desk, theme or clinic.settings.theme, clinic=clinic, lesson=lesson, demo=demo)
    app.first = first
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
