"""A record as it was after each of its entries, and at each moment between them. Pure."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Sequence
from itertools import accumulate
from typing import Final, Literal, NamedTuple

from orroom.case.care import due_at_ms
from orroom.case.events import Entry
from orroom.case.evolve import evolve, fold
from orroom.case.mismatches import open_mismatches
from orroom.case.state import CaseState
from orroom.case.terms import BENCH_CARE

#: So many entries lie between two states that are kept: few enough to fold at once, many enough to be cheap.
KEPT_EVERY: Final = 100

#: What can be jumped to.
Landmark = Literal["prompt", "mismatch", "zone", "plan", "note"]


class Moment(NamedTuple):
    """A place in a record: after which entry (0: before the first), and when (case time, UTC ms)."""

    seq: int
    at_ms: int


class Replay:
    """The entries of a record and the states between them. States are values: sharing them is safe.

    Times are made to run forward: an entry of a clock that is behind another's counts from the latest time
    before it, as the order of entries says.
    """

    def __init__(self, entries: Sequence[Entry]) -> None:
        """Raises ``ValueError`` without an entry."""
        if not entries:
            raise ValueError("a record without entries cannot be replayed")
        self.entries: list[Entry] = []
        self._times: list[int] = []
        self._kept: list[CaseState] = [CaseState()]
        self.go_on(entries)

    def go_on(self, entries: Sequence[Entry]) -> None:
        """Take entries that were made since."""
        self.entries += entries
        times = [entry.stamp.at_ms for entry in entries]
        self._times += list(accumulate(self._times[-1:] + times, max))[len(self._times[-1:]) :]

    @property
    def start_ms(self) -> int:
        """When the first entry was made."""
        return self._times[0]

    @property
    def end_ms(self) -> int:
        """When the last entry was made."""
        return self._times[-1]

    def state_at(self, seq: int) -> CaseState:
        """The state after entry ``seq``; 0 is before the first, beyond the last is the last."""
        seq = max(0, min(seq, len(self.entries)))
        place = min(seq // KEPT_EVERY, len(self._kept) - 1)
        state, done = self._kept[place], place * KEPT_EVERY
        while done < seq:
            until = min(seq, done + KEPT_EVERY)
            state, done = fold(self.entries[done:until], state), until
            if done == len(self._kept) * KEPT_EVERY:
                self._kept.append(state)
        return state

    def seq_at(self, at_ms: int) -> int:
        """The last entry made by then, 0 before the first."""
        return bisect_right(self._times, at_ms)

    def time_of(self, seq: int) -> int:
        """When entry ``seq`` was made, times running forward."""
        return self._times[max(1, min(seq, len(self._times))) - 1]

    def next(self, what: Landmark, after: Moment) -> Moment | None:
        """The next place of a kind after a place, ``None`` if there is none."""
        if what == "prompt":
            return self._next_prompt(after)
        return self._next_entry(_CHANGES[what], after.seq)

    def find(self, words: str, said: Callable[[Entry, CaseState], str], after: int) -> int | None:
        """The next entry after ``after`` that says ``words``, capitals or not; after the last from the first.

        ``said`` is what an entry says, in the words of the plan in the state given.
        """
        wanted = words.casefold()
        newest = self.state_at(len(self.entries))
        for entry in [*self.entries[after:], *self.entries[:after]]:
            if wanted in said(entry, newest).casefold():
                return entry.seq
        return None

    def _next_entry(self, changed: Callable[[CaseState, CaseState, Entry], bool], seq: int) -> Moment | None:
        before = self.state_at(seq)
        for entry in self.entries[seq:]:
            now = evolve(before, entry)
            if changed(before, now, entry):
                return Moment(entry.seq, self.time_of(entry.seq))
            before = now
        return None

    def _next_prompt(self, after: Moment) -> Moment | None:
        """When a care round becomes due next, as the entries up to then had it."""
        state, now_ms = self.state_at(after.seq), after.at_ms
        for seq in range(after.seq, len(self.entries) + 1):
            until = self._times[seq] if seq < len(self.entries) else None
            due = _first_due(state, now_ms)
            if due is not None and (until is None or due <= until):
                return Moment(seq, due) if until is not None or due <= self.end_ms else None
            if until is None:
                return None
            state, now_ms = evolve(state, self.entries[seq]), max(now_ms, until)
        return None


def _first_due(state: CaseState, after_ms: int) -> int | None:
    """The first time after ``after_ms`` at which a round is due, if nothing is entered until then."""
    if state.tally.plan is None or state.tally.signed_off:
        return None
    rounds = (BENCH_CARE, *state.plan.care_by_key)
    due = [at for each in rounds if (at := due_at_ms(state.tally, each)) is not None and at > after_ms]
    return min(due, default=None)


def _mismatch_came(before: CaseState, now: CaseState, entry: Entry) -> bool:
    if now.tally.plan is None or before.tally.plan is None:
        return False
    return bool({each.key for each in open_mismatches(now)} - {each.key for each in open_mismatches(before)})


def _zone_finished(before: CaseState, now: CaseState, entry: Entry) -> bool:
    if entry.event.kind not in {"grafts_placed", "plan_revised"} or before.tally.plan is None:
        return False
    return bool(_finished(now) - _finished(before))


def _finished(state: CaseState) -> set[str]:
    return {
        zone.key
        for zone in state.plan.zones
        if zone.planned
        and all(state.tally.placed.get((zone.key, size), 0) >= count for size, count in zone.planned.items())
    }


_CHANGES: Final[dict[Landmark, Callable[[CaseState, CaseState, Entry], bool]]] = {
    "mismatch": _mismatch_came,
    "zone": _zone_finished,
    "plan": lambda before, now, entry: entry.event.kind == "plan_revised",
    "note": lambda before, now, entry: entry.event.kind == "note_added",
}
