"""What a station shows, without a terminal."""

from __future__ import annotations

from cases import Record

from orroom.case.terms import Role
from orroom.figures.pace.rest_of_day import foretold
from orroom.screens.stations.views.cutting import cutting_lines
from orroom.screens.stations.views.frame import Glance
from orroom.screens.stations.views.overview import overview_lines
from orroom.screens.stations.views.placing import placing_lines
from orroom.screens.terminal.painting import text_of

PAINTERS = {"cutting": cutting_lines, "placing": placing_lines, "overview": overview_lines}


def said(record: Record, role: Role, **glance: object) -> str:
    known = foretold(record.state, record.now_ms)
    lines = PAINTERS[role](record.state, record.now_ms, Glance(role=role, who="AB", foretold=known, **glance))
    return "\n".join(text_of(each) for each in lines)
