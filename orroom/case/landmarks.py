"""The places of a record that are worth going to, found entry by entry as it is folded. Pure."""

from typing import Final, Literal, NamedTuple, get_args

from orroom.case.care import due_at_ms
from orroom.case.events import Entry, NoteAdded, PlanRevised
from orroom.case.mismatches import open_mismatches
from orroom.case.state import CaseState
from orroom.case.terms import PLACERS_CARE

#: What can be jumped to.
Landmark = Literal["prompt", "mismatch", "zone", "plan", "note"]
LANDMARKS: Final[tuple[Landmark, ...]] = get_args(Landmark)


class Moment(NamedTuple):
    """A place in a record: after which entry (0: before the first), and when (case time, UTC ms)."""

    seq: int
    at_ms: int


class Landmarks:
    """Where in a record something became due, went wrong, was finished, revised or noted."""

    def __init__(self) -> None:
        self.found: dict[Landmark, list[Moment]] = {what: [] for what in LANDMARKS}
        self._due: tuple[int, ...] = ()
        self._open: frozenset[str] = frozenset()
        self._finished: frozenset[str] = frozenset()

    def take(self, entry: Entry, now: CaseState, before_ms: int, at_ms: int) -> None:
        """Find what ``entry`` brought. ``now`` is the state after it; it was made at ``at_ms``.

        ``before_ms`` is when the entry before it was made: rounds that became due since then are found too.
        """
        self.found["prompt"] += [Moment(entry.seq - 1, due) for due in self._due if before_ms < due <= at_ms]
        if now.tally.plan is None:
            return
        does = entry.event.does
        if not does.leaves_prompts:
            self._due = _due_times(now)
        here = Moment(entry.seq, at_ms)
        disagreeing = frozenset(each.key for each in open_mismatches(now))
        if disagreeing - self._open:
            self.found["mismatch"].append(here)
        self._open = disagreeing
        if does.fills_zones:
            finished = _finished(now)
            if finished - self._finished:
                self.found["zone"].append(here)
            self._finished = finished
        if isinstance(entry.event, PlanRevised):
            self.found["plan"].append(here)
        elif isinstance(entry.event, NoteAdded):
            self.found["note"].append(here)


def _due_times(state: CaseState) -> tuple[int, ...]:
    """When rounds are due if nothing more is entered, in order, each time once."""
    if state.tally.signed_off:
        return ()
    due = (due_at_ms(state.tally, each) for each in (PLACERS_CARE, *state.plan.care_by_key))
    return tuple(sorted({at_ms for at_ms in due if at_ms is not None}))


def _finished(state: CaseState) -> frozenset[str]:
    """The zones that have all they were planned, by size."""
    return frozenset(
        zone.key
        for zone in state.plan.zones
        if zone.planned
        and all(state.tally.placed.get((zone.key, size), 0) >= count for size, count in zone.planned.items())
    )
