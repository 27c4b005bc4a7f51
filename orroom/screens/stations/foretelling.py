"""Has the forecast of the rest of the day worked out in a thread of its own, next to a station's screen."""

from __future__ import annotations

import os
import time
from functools import partial
from typing import TYPE_CHECKING

from orroom.case.state import CaseState
from orroom.errors import OrroomError

if TYPE_CHECKING:
    from orroom.case.habits import Habits
    from orroom.figures.pace.rest_of_day import Foretold
    from orroom.screens.stations.station import StationScreen

#: As time goes on it is worked out again at least this often.
ANEW_SECONDS = 10.0


class Foretelling:
    """The forecast of a screen: at most once in ``every`` seconds."""

    def __init__(self, screen: StationScreen, every: float) -> None:
        self._screen, self._every = screen, every
        self._begun_at = float("-inf")
        self._working = False
        self._habits: Habits | None = None

    def keep_up(self, state: CaseState, now_ms: int) -> None:
        """Begin to work it out, if it is time for that."""
        known, waited = self._screen.glance.foretold, time.monotonic() - self._begun_at
        stale = known is None or known.seq != state.seq or waited >= ANEW_SECONDS
        if stale and not self._working and waited >= self._every:
            self._working, self._begun_at = True, time.monotonic()
            self._screen.work_apart(partial(self._work_out, state, now_ms))

    def _work_out(self, state: CaseState, now_ms: int) -> None:
        from orroom.figures.pace.rest_of_day import foretold  # not needed for the first paint

        found = None
        try:
            found = foretold(state, now_ms, self._learned())
        finally:  # a figure that fails must not end the station, nor stop the next try
            self._screen.app.soon(self._done, found)

    def _learned(self) -> Habits:
        """What the clinic's closed cases had wrong; read once."""
        from orroom.case.habits import NO_HABITS
        from orroom.files.habits_file import NAME, read_habits
        from orroom.files.settings_file import settings_path

        if self._habits is None:
            try:
                self._habits = read_habits(settings_path(os.environ).with_name(NAME))
            except OrroomError as problem:
                self._habits = NO_HABITS
                self._screen.app.soon(partial(self._screen.say, str(problem), wrong=True))
        return self._habits

    def _done(self, found: Foretold | None) -> None:
        self._working = False
        self._screen.glance.foretold = found
        self._screen.repaint()
