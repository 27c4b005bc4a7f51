"""Rules about the final count and closing the case on it."""

from __future__ import annotations

from orroom.case.events import CaseSignedOff, FinalCounted, Stamp
from orroom.case.final_count import Pile, closing_needs_reason, moved_since, piles_to_count
from orroom.case.state import CaseState
from orroom.case.terms import MAX_COUNT, SIGN_OUT


def refuse_count_without_sense(state: CaseState, event: FinalCounted, stamp: Stamp) -> str | None:
    """A final count counts every pile once: each size of each lot, in dishes and on the bench."""
    piles = [Pile(each.size, each.lot, each.place) for each in event.piles]
    for pile in piles:
        if pile.size not in state.plan.size_by_key or pile.lot not in state.plan.lot_by_key:
            return f"The plan has no size {pile.size!r} of lot {pile.lot!r}."
        if piles.count(pile) > 1:
            return f"Size {pile.size} of lot {pile.lot}, {pile.place}, stands in it twice."
    for each in event.piles:
        if not 0 <= each.found <= MAX_COUNT:
            return f"{each.found:,} is not; an empty pile is 0."
    if (moved := moved_since(state, event.since)) is not None:
        return f"Grafts moved meanwhile (entry {moved.seq}): count again."
    if missing := [pile for pile in piles_to_count(state) if pile not in piles]:
        pile = missing[0]
        return f"Count size {pile.size} of lot {pile.lot}, {pile.place}, too; an empty pile is 0."
    return None


def refuse_closing_on_a_difference(state: CaseState, event: CaseSignedOff, stamp: Stamp) -> str | None:
    """A case is not closed on an open difference without a reason and somebody who was told."""
    if unknown := set(event.confirmed or ()) - set(SIGN_OUT):
        return f"{min(unknown)!r} is no sign-out item."
    if event.open_because and event.told:
        return None
    if why := closing_needs_reason(state):
        return f"{why}, or say why it stays open and who was told."
    return None


def refuse_reason_for_no_difference(state: CaseState, event: CaseSignedOff, stamp: Stamp) -> str | None:
    """No difference is open, so there is no reason to give and nobody to tell of it."""
    if (event.open_because or event.told) and closing_needs_reason(state) is None:
        return "Sign off without them; write anything else down as a note first."
    return None
