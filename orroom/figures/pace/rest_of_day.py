"""The forecast of the rest of the day. It takes longer to work out than a repaint may, so it is kept."""

from collections.abc import Mapping

from msgspec import Struct

from orroom.case.habits import NO_HABITS, Habits
from orroom.case.state import CaseState
from orroom.figures.pace.finish import Outlook, outlook
from orroom.figures.survival import median_out_ms
from orroom.figures.yields import Yield, yields


class Foretold(Struct, frozen=True):
    """After which entry, at what time (UTC ms): what the harvest will give, the finish, the medians (ms)."""

    seq: int
    at_ms: int
    to_come: Yield
    outlook: Outlook
    half_placed_ms: Mapping[str, int | None]


def foretold(state: CaseState, now_ms: int, habits: Habits = NO_HABITS) -> Foretold:
    """All of it at ``now_ms``, the finish corrected by a clinic's ``habits``."""
    to_come = yields(state, 80)
    return Foretold(
        seq=state.seq,
        at_ms=now_ms,
        to_come=to_come,
        outlook=outlook(state, to_come, now_ms, habits),
        half_placed_ms=median_out_ms(state, now_ms),
    )
