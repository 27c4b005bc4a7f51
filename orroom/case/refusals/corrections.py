"""Rules about corrections and explanations."""

from orroom.case.events import EntryCorrected, GraftsPlaced, MismatchExplained, PlacingMoved, Stamp
from orroom.case.mismatches import mismatches
from orroom.case.placings import newest_move, zone_of
from orroom.case.state import CaseState

#: The entry number of a correction that found nothing to undo.
NOTHING_TO_TAKE_BACK = -1


def refuse_nothing_to_take_back(state: CaseState, event: EntryCorrected, stamp: Stamp) -> str | None:
    """You have no tap left to undo here."""
    if event.entry == NOTHING_TO_TAKE_BACK:
        return "Only taps of this station are undone here. Other entries are cancelled by number."
    return None


def refuse_correction_of_nothing(state: CaseState, event: EntryCorrected, stamp: Stamp) -> str | None:
    """There is no such entry to cancel."""
    if state.entry(event.entry) is None:
        return f"Enter a number from 1 to {state.seq}, not {event.entry}."
    return None


def refuse_impossible_correction(state: CaseState, event: EntryCorrected, stamp: Stamp) -> str | None:
    """That entry cannot be cancelled."""
    entry = state.entry(event.entry)
    if entry is None:
        return None
    if entry.seq in state.corrected_by:
        return f"Entry {entry.seq} was already cancelled, by entry {state.corrected_by[entry.seq]}."
    if instead := entry.event.does.instead:
        return f"Entry {entry.seq} {instead}."
    return None


def refuse_cancelling_what_was_moved(state: CaseState, event: EntryCorrected, stamp: Stamp) -> str | None:
    """To cancel a placing that was moved, cancel the move first."""
    wrong = state.entry(event.entry)
    if wrong is None or not isinstance(wrong.event, GraftsPlaced | PlacingMoved):
        return None
    placing = wrong.event.entry if isinstance(wrong.event, PlacingMoved) else wrong.seq
    moved = newest_move(state, placing)
    if moved is None or moved.seq <= wrong.seq:
        return None
    return f"Cancel entry {moved.seq} first: it moved these grafts to {moved.event.zone}."


def refuse_impossible_move(state: CaseState, event: PlacingMoved, stamp: Stamp) -> str | None:
    """Only placed grafts can be moved to another zone."""
    placing = state.entry(event.entry)
    if placing is None:
        return f"There is no entry {event.entry}; enter a number from 1 to {state.seq}."
    if not isinstance(placing.event, GraftsPlaced):
        return f"Entry {placing.seq} placed no grafts; enter the number of one that did."
    if not state.stands(placing):
        return f"Entry {placing.seq} was already cancelled, by entry {state.corrected_by[placing.seq]}."
    there = zone_of(state, placing)
    if event.zone == there:
        return f"Entry {placing.seq} is already in {there}; enter another zone."
    placed = (there, placing.event.size, placing.event.count)
    if (event.from_zone, event.size, event.count) != placed:
        return f"Entry {placing.seq} placed {placed[2]:,} of size {placed[1]} in {there}."
    return None


def refuse_unknown_mismatch(state: CaseState, event: MismatchExplained, stamp: Stamp) -> str | None:
    """There is no such mismatch."""
    now = mismatches(state)
    amount = next((each.amount for each in now if each.key == event.mismatch), 0)
    if not (amount * event.amount > 0 and abs(event.amount) <= abs(amount)):  # a part may be explained
        return f"Mismatches now: {'; '.join(each.sentence for each in now) or 'none'}."
    return None
