"""Rules about who is at work."""

from __future__ import annotations

from orroom.case.events import BreakEnded, BreakPlanned, BreakStarted, Stamp, TeamChanged
from orroom.case.state import CaseState
from orroom.case.terms import WORKS

MOST_PEOPLE = 20
LONGEST_BREAK_MINUTES = 240
FARTHEST_BREAK_HOURS = 24


def refuse_break_that_cannot_be(
    state: CaseState, event: BreakStarted | BreakEnded, stamp: Stamp
) -> str | None:
    """A break starts once and ends once."""
    away = stamp.who in state.tally.on_break
    if isinstance(event, BreakStarted) and away:
        return f"{stamp.who} is on a break already."
    if isinstance(event, BreakEnded) and not away:
        return f"{stamp.who} is on no break."
    return None


def refuse_team_that_cannot_be(
    state: CaseState, event: TeamChanged | BreakPlanned, stamp: Stamp
) -> str | None:
    """Cutting, making sites and placing are each the work of 0 to 20 people."""
    if event.work not in (*WORKS, None):
        return f"{event.work!r} is none of {', '.join(WORKS)}."
    if isinstance(event, TeamChanged) and (event.work is None or not 0 <= event.people <= MOST_PEOPLE):
        return f"{event.people} people is not; enter how many are at it from now on."
    return None


def refuse_endless_break(state: CaseState, event: BreakPlanned, stamp: Stamp) -> str | None:
    """A planned break takes 1 to 240 minutes and starts within a day from now."""
    if not 1 <= event.minutes <= LONGEST_BREAK_MINUTES:
        return f"{event.minutes:g} minutes is not; enter 1 to {LONGEST_BREAK_MINUTES}."
    if not 0 <= event.starts_at_ms - stamp.at_ms <= FARTHEST_BREAK_HOURS * 3_600_000:
        return "Enter in how many minutes it starts, 0 for now."
    return None
