"""The overview: for the surgeon's glance and the wall. Only a re-plan and the final count need keys."""

from __future__ import annotations

import time
from functools import partial
from typing import ClassVar

from orroom.case.state import CaseState
from orroom.case.terms import Role
from orroom.figures.foretold import Foretold, foretold
from orroom.screens.final_count import CountingScreen
from orroom.screens.views.overview import overview_lines
from orroom.screens.views.painting import Line

#: What is foretold is worked out anew at most this often, and at least this often as time goes on.
FORETELL_SECONDS, ANEW_SECONDS = 1.0, 10.0


class OverviewScreen(CountingScreen):
    """What the surgeon sees."""

    ROLE: ClassVar[Role] = "overview"
    _begun_at = float("-inf")
    _working = False

    def paint_own(self, state: CaseState, now_ms: int) -> list[Line]:
        """The screen's own lines."""
        self._foretell(state, now_ms)
        return overview_lines(state, now_ms, self.glance)

    def _foretell(self, state: CaseState, now_ms: int) -> None:
        """Have what is told of the rest of the day worked out apart, when it is time for that."""
        known, waited = self.glance.foretold, time.monotonic() - self._begun_at
        stale = known is None or known.seq != state.seq or waited >= ANEW_SECONDS
        if stale and not self._working and waited >= FORETELL_SECONDS:
            self._working, self._begun_at = True, time.monotonic()
            work = partial(self._work_out, state, now_ms)
            self.run_worker(work, group="foretelling", thread=True, exit_on_error=False)

    def _work_out(self, state: CaseState, now_ms: int) -> None:
        told = None
        try:
            told = foretold(state, now_ms)
        finally:  # a figure that fails must not end the station, nor stop the next try
            self.app.soon(self._foretold, told)

    def _foretold(self, told: Foretold | None) -> None:
        self._working = False
        self.glance.foretold = told
        self.repaint()
