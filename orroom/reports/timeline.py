"""The record as rows, one for each entry, in the order of the record."""

from __future__ import annotations

from typing import NamedTuple

from orroom.case.state import CaseState
from orroom.figures.wording import utc_stamp
from orroom.reports.sentences import told


class TimelineRow(NamedTuple):
    """One entry: its number, UTC time, station and person, what it said, and which entry corrected it."""

    seq: int
    time: str
    station: str
    who: str
    sentence: str
    corrected_by: int | None


def timeline(state: CaseState) -> list[TimelineRow]:
    """All entries, corrected ones too; none before the case is opened. Numbers are the only order."""
    if state.tally.plan is None:
        return []
    return [
        TimelineRow(
            seq=entry.seq,
            time=utc_stamp(entry.stamp.at_ms),
            station=entry.stamp.station,
            who=entry.stamp.who,
            sentence=told(entry.event, state.plan),
            corrected_by=state.corrected_by.get(entry.seq),
        )
        for entry in state.log
    ]
