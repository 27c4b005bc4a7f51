"""Rules about corrections and explanations."""

from __future__ import annotations

from orroom.case.events import EntryCorrected, GraftsPlaced, MismatchExplained, PlacingMoved, Stamp
from orroom.case.mismatches import mismatches
from orroom.case.placings import newest_move, zone_of
from orroom.case.state import CaseState

#: The entry number of a correction that found nothing to take back.
NOTHING_TO_TAKE_BACK = -1


def refuse_nothing_to_take_back(state: CaseState, event: EntryCorrected, stamp: Stamp) -> str | None:
    """You have no entry left to take back here."""
    if event.entry == NOTHING_TO_TAKE_BACK:
        return "Correct an entry of another station by its number instead."
    return None


def refuse_correction_of_nothing(state: CaseState, event: EntryCorrected, stamp: Stamp) -> str | None:
    """That entry cannot be corrected."""
    if state.entry(event.entry) is None:
        return f"There is no entry {event.entry}; entries run from 1 to {state.seq}."
    return None


def refuse_impossible_correction(state: CaseState, event: EntryCorrected, stamp: Stamp) -> str | None:
    """That entry cannot be corrected."""
    entry = state.entry(event.entry)
    if entry is None:
        return None
    if entry.seq in state.corrected_by:
        return f"Entry {entry.seq} was corrected already, by entry {state.corrected_by[entry.seq]}."
    if instead := entry.event.does.instead:
        return f"Entry {entry.seq} is {entry.event.kind.replace('_', ' ')}: {instead}."
    return None


def refuse_cancelling_what_was_moved(state: CaseState, event: EntryCorrected, stamp: Stamp) -> str | None:
    """A placing that was moved to another zone is cancelled after its move."""
    wrong = state.entry(event.entry)
    if wrong is None or not isinstance(wrong.event, GraftsPlaced | PlacingMoved):
        return None
    placing = wrong.event.entry if isinstance(wrong.event, PlacingMoved) else wrong.seq
    moved = newest_move(state, placing)
    if moved is None or moved.seq <= wrong.seq:
        return None
    return f"Cancel entry {moved.seq} first: it moved these grafts to {moved.event.zone}."


def refuse_impossible_move(state: CaseState, event: PlacingMoved, stamp: Stamp) -> str | None:
    """Only grafts that were placed are moved to another zone."""
    placing = state.entry(event.entry)
    if placing is None:
        return f"There is no entry {event.entry}; entries run from 1 to {state.seq}."
    if not isinstance(placing.event, GraftsPlaced):
        return f"Entry {placing.seq} is {placing.event.kind.replace('_', ' ')}; give the number of a placing."
    if not state.stands(placing):
        return f"Entry {placing.seq} was corrected already, by entry {state.corrected_by[placing.seq]}."
    there = zone_of(state, placing)
    if event.zone == there:
        return f"Entry {placing.seq} is in {there} already; give another zone."
    placed = (there, placing.event.size, placing.event.count)
    if (event.from_zone, event.size, event.count) != placed:
        return f"Entry {placing.seq} placed {placed[2]:,} of size {placed[1]} in {there}."
    return None


def refuse_unknown_mismatch(state: CaseState, event: MismatchExplained, stamp: Stamp) -> str | None:
    """There is no such mismatch now."""
    now = {each.key: each.amount for each in mismatches(state)}
    amount = now.get(event.mismatch, 0)
    if not (amount * event.amount > 0 and abs(event.amount) <= abs(amount)):  # a part may be explained
        return f"The case has: {', '.join(now) or 'none'}."
    return None
