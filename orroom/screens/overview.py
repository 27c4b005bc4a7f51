"""The overview: for the surgeon's glance and the wall. Nothing on it needs a key."""

from __future__ import annotations

from typing import ClassVar

from orroom.case.state import CaseState
from orroom.case.terms import Role
from orroom.screens.station import StationScreen
from orroom.screens.views.overview import overview_lines
from orroom.screens.views.painting import Line


class OverviewScreen(StationScreen):
    """What the surgeon sees."""

    ROLE: ClassVar[Role] = "overview"

    def paint(self, state: CaseState, now_ms: int) -> list[Line]:
        """The screen's own lines."""
        return overview_lines(state, now_ms, self.glance)
