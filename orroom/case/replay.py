"""A record as it was after each of its entries, and at each moment between them. Pure."""

import re
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Mapping, Sequence
from typing import Final

from orroom.case.events import Entry, EntryCorrected
from orroom.case.evolve import MOVING, evolve, fold
from orroom.case.landmarks import Landmark, Landmarks, Moment
from orroom.case.state import CaseState

#: Entries between two states that are kept: few enough to fold at once, many enough to be cheap.
KEPT_EVERY: Final = 100


class Replay:
    """The entries of a record and the states between them. States are values: sharing them is safe.

    Times are made to run forward: an entry of a clock that is behind another's counts from the latest time
    before it, as the order of entries says. Everything is folded once, when the entries come; after that any
    place is at most ``KEPT_EVERY`` cheap entries away from a state that was kept.
    """

    def __init__(self, entries: Sequence[Entry]) -> None:
        """Raises ``ValueError`` without an entry."""
        if not entries:
            raise ValueError("a record without entries cannot be replayed")
        self.entries: list[Entry] = []
        self.newest = CaseState()
        self._times: list[int] = []
        self._kept_at: list[int] = [0]
        self._kept: list[CaseState] = [self.newest]
        self._last = (0, self.newest)
        self._landmarks = Landmarks()
        self.go_on(entries)

    def go_on(self, entries: Sequence[Entry]) -> None:
        """Take entries that were made since."""
        for entry in entries:
            before_ms = self._times[-1] if self._times else entry.stamp.at_ms
            at_ms = max(before_ms, entry.stamp.at_ms)
            dear = _is_dear(self.newest, entry)
            self.newest = evolve(self.newest, entry)
            self.entries.append(entry)
            self._times.append(at_ms)
            self._landmarks.take(entry, self.newest, before_ms, at_ms)
            if dear or len(self.entries) % KEPT_EVERY == 0:
                self._kept_at.append(len(self.entries))
                self._kept.append(self.newest)

    @property
    def start_ms(self) -> int:
        """When the first entry was made."""
        return self._times[0]

    @property
    def end_ms(self) -> int:
        """When the last entry was made."""
        return self._times[-1]

    @property
    def landmarks(self) -> Mapping[Landmark, Sequence[Moment]]:
        """Every place that can be jumped to, by kind, in order."""
        return self._landmarks.found

    def state_at(self, seq: int) -> CaseState:
        """The state after entry ``seq``; 0 is before the first, beyond the last is the last."""
        seq = max(0, min(seq, len(self.entries)))
        if seq == len(self.entries):
            return self.newest
        place = bisect_right(self._kept_at, seq) - 1
        done, state = self._kept_at[place], self._kept[place]
        if done < self._last[0] <= seq:  # playing and stepping go on from where they are
            done, state = self._last
        state = fold(self.entries[done:seq], state)
        self._last = (seq, state)
        return state

    def seq_at(self, at_ms: int) -> int:
        """The last entry made by then, 0 before the first."""
        return bisect_right(self._times, at_ms)

    def time_of(self, seq: int) -> int:
        """When entry ``seq`` was made, times running forward; of 0, when the record begins."""
        return self._times[max(1, min(seq, len(self._times))) - 1]

    def next(self, what: Landmark, after: Moment) -> Moment | None:
        """The next place of a kind after a place, ``None`` if there is none."""
        places = self.landmarks[what]
        at = bisect_right(places, after)
        return places[at] if at < len(places) else None

    def before(self, what: Landmark, place: Moment) -> Moment | None:
        """The last place of a kind before a place, ``None`` if there is none."""
        at = bisect_left(self.landmarks[what], place)
        return self.landmarks[what][at - 1] if at else None

    def next_event_ms(self, after: Moment) -> int | None:
        """When, after a place, an entry is made or a prompt becomes due next; ``None`` at the end."""
        found = [prompt.at_ms] if (prompt := self.next("prompt", after)) is not None else []
        if after.seq < len(self.entries):
            found.append(self._times[after.seq])
        return min(found, default=None)

    def hits(self, words: str, said: Callable[[Entry, CaseState], str]) -> list[int]:
        """The numbers of the entries that say all ``words``, capitals or not.

        A word may be a part of what was said; a number, or somebody's initials, must be there whole. An
        entry's own number and who made it count as said. ``said`` is what an entry says, in the words of the
        plan in the state given.
        """
        wanted = words.casefold().split()
        people = {entry.stamp.who.casefold() for entry in self.entries}
        found = []
        for entry in self.entries:
            text = f"{entry.seq} {entry.stamp.who} {said(entry, self.newest)}".casefold()
            whole = set(re.findall(r"\w+", text.replace(",", "")))
            if wanted and all(
                word in whole if word.isdigit() or word in people else word in text for word in wanted
            ):
                found.append(entry.seq)
        return found


def _is_dear(before: CaseState, entry: Entry) -> bool:
    """Whether the entry may have the whole record folded again: the state after it is always kept."""
    if not isinstance(entry.event, EntryCorrected):
        return False
    wrong = before.entry(entry.event.entry)
    return wrong is not None and type(wrong.event) not in MOVING
