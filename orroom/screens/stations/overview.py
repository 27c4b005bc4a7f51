"""The overview: for the surgeon's glance and the wall. Only a re-plan and the final count need keys."""

from __future__ import annotations

import time
from typing import ClassVar

from orroom.case.final_count import count_running
from orroom.case.state import CaseState
from orroom.case.terms import Role
from orroom.figures.prompts import prompts
from orroom.screens.stations import site_making
from orroom.screens.stations.foretelling import Foretelling
from orroom.screens.stations.shared import Shared
from orroom.screens.stations.station import StationScreen
from orroom.screens.stations.turning import Turning
from orroom.screens.stations.views.count_running import count_running_lines
from orroom.screens.stations.views.overview import overview_book, overview_lines
from orroom.screens.stations.views.prompting import WALL
from orroom.screens.terminal.painting import Line

#: What is forecast is worked out again at most this often.
FORETELL_SECONDS = 1.0
#: A message about the last key is read within this time; common practice, no source.
MESSAGE_SECONDS = 45.0


class OverviewScreen(StationScreen):
    """What the surgeon sees."""

    ROLE: ClassVar[Role] = "overview"
    said_at = float("-inf")

    def __init__(self, shared: Shared) -> None:
        super().__init__(shared)
        self.turning = Turning(since=time.monotonic())
        self.foretelling = Foretelling(self, FORETELL_SECONDS)

    def paint(self, state: CaseState, now_ms: int) -> list[Line]:
        """The screen's own lines, of the page whose turn it is; no count while a final count is made."""
        if count_running(state) is not None:
            return count_running_lines(state, now_ms, self.glance)
        self.foretelling.keep_up(state, now_ms)
        glance, now, book = self.glance, time.monotonic(), None
        if glance.message and now - self.said_at >= MESSAGE_SECONDS:
            self.say("")
        if glance.question is not None or glance.doubt is not None:
            self.turning.wait(now)
        else:
            due = frozenset(each.key for each in prompts(state, now_ms) if each.pressing)
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
