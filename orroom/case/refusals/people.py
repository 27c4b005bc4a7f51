"""Rules about who is at work."""

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
        return f"{stamp.who} is already on a break."
    if isinstance(event, BreakEnded) and not away:
        return f"{stamp.who} is not on a break."
    return None


def refuse_team_that_cannot_be(
    state: CaseState, event: TeamChanged | BreakPlanned, stamp: Stamp
) -> str | None:
    """Cutting, making sites and placing can each have 0 to 20 people."""
    if event.work not in (*WORKS, None):
        return f"{event.work!r} is not one of {', '.join(WORKS)}."
    if isinstance(event, TeamChanged) and (event.work is None or not 0 <= event.people <= MOST_PEOPLE):
        return f"Enter 0 to {MOST_PEOPLE}, not {event.people}."
    return None


def refuse_endless_break(state: CaseState, event: BreakPlanned, stamp: Stamp) -> str | None:
    """A planned break lasts 1 to 240 minutes and starts within 24 hours."""
    if not 1 <= event.minutes <= LONGEST_BREAK_MINUTES:
        return f"Enter 1 to {LONGEST_BREAK_MINUTES} minutes, not {event.minutes:g}."
    if not 0 <= event.starts_at_ms - stamp.at_ms <= FARTHEST_BREAK_HOURS * 3_600_000:
        return "Enter how many minutes from now it starts, 0 for now."
    return None
