"""Into which zone the grafts of a placing went: the one it names, or the one it was moved to since."""

from msgspec import Struct

from orroom.case.events import Entry, GraftsPlaced, PlacingMoved
from orroom.case.state import CaseState, once


class Move(Struct, frozen=True):
    """The entry that moved a placing, and its event."""

    seq: int
    event: PlacingMoved


def newest_move(state: CaseState, placing: int) -> Move | None:
    """The newest entry that moved the placing of this number and was not cancelled, or ``None``."""
    return _newest_moves(state).get(placing)


@once
def _newest_moves(state: CaseState) -> dict[int, Move]:
    """By the number of the placing that it moved, the newest move of each."""
    found: dict[int, Move] = {}
    for entry in state.log:
        event = entry.event
        if isinstance(event, PlacingMoved) and event.entry < entry.seq and state.stands(entry):
            found[event.entry] = Move(entry.seq, event)
    return found


def zone_of(state: CaseState, placing: Entry) -> str:
    """The key of the zone that the grafts of a placing are in. Raises ``TypeError`` for any other entry."""
    if not isinstance(placing.event, GraftsPlaced):
        raise TypeError(f"entry {placing.seq} is not a placing")
    moved = newest_move(state, placing.seq)
    return placing.event.zone if moved is None else moved.event.zone
