"""The forecast of the rest of the day. It takes longer to work out than a repaint may, so it is kept."""

from collections.abc import Mapping

from msgspec import Struct

from orroom.case.habits import NO_HABITS, Habits
from orroom.case.state import CaseState
from orroom.figures.flow.found import Flow
from orroom.figures.pace.finish import Outlook, outlook
from orroom.figures.survival import median_out_ms
from orroom.figures.yields import Yield, yields


class Foretold(Struct, frozen=True):
    """After which entry, at what time (UTC ms): yield, finish, medians (ms), flow."""

    seq: int
    at_ms: int
    to_come: Yield
    outlook: Outlook
    half_placed_ms: Mapping[str, int | None]
    flow: Flow


def foretold(state: CaseState, now_ms: int, habits: Habits = NO_HABITS) -> Foretold:
    """All of it at ``now_ms``, the finish corrected by a clinic's ``habits``."""
    from orroom.figures.flow.outlook import flow  # with its arrays no station needs it to start

    to_come = yields(state, 80)
    finish = outlook(state, to_come, now_ms, habits)
    return Foretold(
        seq=state.seq,
        at_ms=now_ms,
        to_come=to_come,
        outlook=finish,
        half_placed_ms=median_out_ms(state, now_ms),
        flow=flow(state, to_come, finish, now_ms),
    )
