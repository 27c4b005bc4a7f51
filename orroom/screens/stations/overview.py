"""The overview: for the surgeon's glance and the wall. Only a re-plan and the final count need keys."""

from __future__ import annotations

import os
import time
from functools import partial
from typing import TYPE_CHECKING, ClassVar

from orroom.case.final_count import count_running
from orroom.case.state import CaseState
from orroom.case.terms import Role
from orroom.errors import OrroomError
from orroom.figures.prompts import prompts
from orroom.screens.stations import site_making
from orroom.screens.stations.shared import Shared
from orroom.screens.stations.station import StationScreen
from orroom.screens.stations.turning import Turning
from orroom.screens.stations.views.count_running import count_running_lines
from orroom.screens.stations.views.overview import overview_book, overview_lines
from orroom.screens.stations.views.prompting import WALL
from orroom.screens.terminal.painting import Line

if TYPE_CHECKING:
    from orroom.case.habits import Habits
    from orroom.figures.pace.rest_of_day import Foretold

#: What is forecast is worked out again at most this often, and at least this often as time goes on.
FORETELL_SECONDS, ANEW_SECONDS = 1.0, 10.0
#: A message about the last key is read within this time; common practice, no source.
MESSAGE_SECONDS = 45.0


class OverviewScreen(StationScreen):
    """What the surgeon sees."""

    ROLE: ClassVar[Role] = "overview"
    _begun_at = said_at = float("-inf")
    _working = False
    _habits: Habits | None = None

    def __init__(self, shared: Shared) -> None:
        super().__init__(shared)
        self.turning = Turning(since=time.monotonic())

    def paint(self, state: CaseState, now_ms: int) -> list[Line]:
        """The screen's own lines, of the page whose turn it is; no count while a final count is made."""
        if count_running(state) is not None:
            return count_running_lines(state, now_ms, self.glance)
        self._foretell(state, now_ms)
        glance, now, book = self.glance, time.monotonic(), None
        if glance.message and now - self.said_at >= MESSAGE_SECONDS:
            self.say("")
        if glance.question is not None or glance.doubt is not None:
            self.turning.wait(now)
        else:
            due = frozenset(each.key for each in prompts(state, now_ms) if each.status in {"due", "overdue"})
            book = overview_book(state, now_ms, glance)
            small = glance.width < WALL[0] or glance.height < WALL[1]
            glance.page = self.turning.page_at(now, len(book.pages), due, turns=small)
        return overview_lines(state, now_ms, glance, book)

    def say(self, message: str, *, wrong: bool = False) -> None:
        """One line about the last key, which leaves by itself: there may be no next key for hours."""
        self.said_at = time.monotonic()
        super().say(message, wrong=wrong)

    def repaint(self) -> None:
        """Show the desk's state as it is now; a page that something lies over begins again."""
        if any(each.lies for each in self.over):
            self.turning.wait(time.monotonic())
        super().repaint()

    def tap_came(self) -> None:
        """Pages do not turn by themselves for a while."""
        self.turning.hands(time.monotonic())

    def action_right(self) -> None:
        """The next page."""
        self.turning.turn(1, time.monotonic())
        self.repaint()

    def action_left(self) -> None:
        """The page before."""
        self.turning.turn(-1, time.monotonic())
        self.repaint()

    def action_sites(self) -> None:
        """Enter sites made: in which zone, how many, by whom."""
        self.open_question(site_making.sites(self.desk.state, None))

    def _foretell(self, state: CaseState, now_ms: int) -> None:
        """Have the forecast of the rest of the day worked out apart, when it is time for that."""
        known, waited = self.glance.foretold, time.monotonic() - self._begun_at
        stale = known is None or known.seq != state.seq or waited >= ANEW_SECONDS
        if stale and not self._working and waited >= FORETELL_SECONDS:
            self._working, self._begun_at = True, time.monotonic()
            self.work_apart(partial(self._work_out, state, now_ms))

    def _work_out(self, state: CaseState, now_ms: int) -> None:
        from orroom.figures.pace.rest_of_day import foretold  # not needed for the first paint

        told = None
        try:
            told = foretold(state, now_ms, self._learned())
        finally:  # a figure that fails must not end the station, nor stop the next try
            self.app.soon(self._foretold, told)

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
                self.app.soon(partial(self.say, str(problem), wrong=True))
        return self._habits

    def _foretold(self, told: Foretold | None) -> None:
        self._working = False
        self.glance.foretold = told
        self.repaint()
