"""How long grafts waited to be placed, by size: in dishes and with the placers."""

from collections import defaultdict
from collections.abc import Iterator, Sequence

from msgspec import Struct

from orroom.case.events import CaseOpened, PlanRevised
from orroom.case.moves import moved_by
from orroom.case.state import CaseState, once
from orroom.case.terms import Place


class Waiting(Struct, frozen=True):
    """How many grafts of one size waited, and how long all of them together (graft-ms).

    Which of them were placed first changes neither, so both are exact also where harvests mix.
    """

    came: int
    graft_ms: int

    @property
    def mean_ms(self) -> int | None:
        """How long a graft waited on average, one that was lost or waits still until then."""
        return round(self.graft_ms / self.came) if self.came else None


class Move(Struct, frozen=True):
    """When (UTC ms) so many grafts of a size came, or left if below 0."""

    at_ms: int
    size: str
    grafts: int


@once
def waiting(state: CaseState, until_ms: int) -> dict[str, Waiting]:
    """Each size of which any graft came, until then.

    The area under the number that waits over time: by Little's law the sum of all waits (J. D. C. Little,
    Oper Res 1961;9:383–387, summary read). Where more left than had come, none waits.
    """
    came: defaultdict[str, int] = defaultdict(int)
    there: defaultdict[str, int] = defaultdict(int)
    area: defaultdict[str, int] = defaultdict(int)
    since: dict[str, int] = {}
    for move in moves(state, "dish", "bench"):
        at_ms, size = min(move.at_ms, until_ms), move.size
        area[size] += max(0, there[size]) * (at_ms - since.get(size, at_ms))
        since[size] = at_ms
        there[size] += move.grafts
        came[size] += max(0, move.grafts)
    for size, at_ms in since.items():
        area[size] += max(0, there[size]) * max(0, until_ms - at_ms)
    return {size: Waiting(came[size], area[size]) for size in came}


@once
def moves(state: CaseState, *places: Place) -> Sequence[Move]:
    """Whatever was put into these places together or left them, in order of time."""
    return tuple(_moves(state, places))


def _moves(state: CaseState, places: Sequence[Place]) -> Iterator[Move]:
    kept = False
    for entry in sorted(state.standing(), key=lambda each: (each.stamp.at_ms, each.seq)):
        at_ms, event = entry.stamp.at_ms, entry.event
        if isinstance(event, CaseOpened | PlanRevised):
            for each in () if kept else event.plan.kept.values():
                kept = True
                yield from (Move(at_ms, size, count) for size, count in each.grafts.items())
            continue
        moved: defaultdict[str, int] = defaultdict(int)
        for stock, grafts in moved_by("", event).stock.items():
            if stock.account in places:
                moved[stock.size] += grafts
        yield from (Move(at_ms, size, grafts) for size, grafts in moved.items() if grafts)
