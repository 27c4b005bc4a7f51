"""What is true now: the tally that every entry so far adds up to. All values are immutable.

Accounts follow every graft, per size and harvest, as in double entry::

    kept_before + cut + divided_in =
        dish + bench (with the placers) + placed + discarded + divided_out + missing + left_at_end

``kept_before`` are grafts that an earlier case kept for this one.

A count that the record cannot explain makes an account negative; that is shown as a mismatch, never hidden.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cached_property, wraps
from itertools import islice
from typing import Any, NamedTuple, TypeVar, TypeVarTuple, overload

from msgspec import Struct, field

from orroom.case.events import Entry, RecordDiffered
from orroom.case.plan import Plan
from orroom.case.terms import Account, Fate, Place, Role

#: What is worked out of a state.
Found = TypeVar("Found")
About = TypeVarTuple("About")

SOURCES: tuple[Account, ...] = ("kept_before", "cut", "divided_in")
ENDS: tuple[Account, ...] = ("dish", "bench", "placed", "discarded", "divided_out", "missing", "left_at_end")


class Stock(NamedTuple):
    """The key of one account: grafts of this size of this harvest that are (or went) there."""

    size: str
    harvest: str
    account: Account


class _Early(Struct, frozen=True):
    """The entries made before a time among the first ``looked_at`` of a log."""

    before_ms: int = 0
    looked_at: int = 0
    entries: tuple[Entry, ...] = ()


class Log(Sequence[Entry]):
    """All entries in order. Logs share one growing list, so that appending stays cheap."""

    __slots__ = ("_early", "_entries", "_length")

    def __init__(self, entries: Sequence[Entry] = ()) -> None:
        self._entries = list(entries)
        self._length = len(self._entries)
        self._early = _Early()

    def append(self, entry: Entry) -> Log:
        """A log with ``entry`` behind the others."""
        return self.extended((entry,))

    def extended(self, entries: Sequence[Entry]) -> Log:
        """A log with ``entries`` behind the others."""
        longer = Log.__new__(Log)
        longer._entries = (
            self._entries if len(self._entries) == self._length else self._entries[: self._length]
        )
        longer._entries.extend(entries)
        longer._length = self._length + len(entries)
        longer._early = self._early
        return longer

    def made_before(self, at_ms: int) -> Sequence[Entry]:
        """The entries made before a time (UTC ms), in order; asked again, only newer ones are looked at."""
        known = self._early
        if known.before_ms != at_ms or known.looked_at > self._length:
            known = _Early(at_ms)
        added = self._entries[known.looked_at : self._length]
        new = [each for each in added if each.stamp.at_ms < at_ms]
        self._early = _Early(at_ms, self._length, (*known.entries, *new) if new else known.entries)
        return self._early.entries

    def __len__(self) -> int:
        return self._length

    @overload
    def __getitem__(self, index: int) -> Entry: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[Entry]: ...
    def __getitem__(self, index: int | slice) -> Entry | Sequence[Entry]:
        if isinstance(index, slice):
            return [self._entries[place] for place in range(*index.indices(self._length))]
        return self._entries[range(self._length)[index]]

    def __iter__(self) -> Iterator[Entry]:
        return islice(self._entries, self._length)

    def __reversed__(self) -> Iterator[Entry]:
        return (self._entries[place] for place in range(self._length - 1, -1, -1))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Log) and len(self) == len(other) and all(
            mine == theirs for mine, theirs in zip(self, other, strict=True)
        )  # fmt: skip

    def __hash__(self) -> int:
        return hash((self._length, self._entries[self._length - 1] if self._length else None))

    def __repr__(self) -> str:
        return f"Log({self._length} entries)"


class HarvestClock(Struct, frozen=True):
    """When a harvest left the body, and which segments of it are finished. Times in UTC ms."""

    started_at_ms: int | None = None
    ended_at_ms: int | None = None
    segments: tuple[int, ...] = ()


class CareClock(Struct, frozen=True):
    """When a care round was last given (UTC ms), its reading if it took one, and until when it rests."""

    given_at_ms: int | None = None
    reading_c: float | None = None
    paused_until_ms: int | None = None


class CareDone(Struct, frozen=True):
    """A care round as it was given: by which entry, when (UTC ms), its reading, of whose lane."""

    seq: int
    at_ms: int
    care: str
    reading_c: float | None = None
    lane: str | None = None


class LimitAnswer(Struct, frozen=True):
    """What was done about a broken limit, who said so, and when (UTC ms)."""

    limit: str
    done: str
    who: str
    at_ms: int


class Explained(Struct, frozen=True):
    """Up to which size a mismatch is explained, by whom and how."""

    amount: int
    who: str
    text: str


class PlacersMove(Struct, frozen=True):
    """Grafts to the placers or, below 0, from them: by which entry, when (UTC ms), what, how many."""

    seq: int
    at_ms: int
    size: str
    harvest: str
    grafts: int
    lane: str | None = None


class Lane(Struct, frozen=True):
    """A placer at work: whose lane it is now, and when the grafts in it were last wetted (UTC ms)."""

    by: str
    wetted_at_ms: int = 0


class ClockStep(Struct, frozen=True):
    """When (case time, UTC ms) a clock was seen set, or behind the record ``at_start``; by how much."""

    seq: int
    at_ms: int
    by_ms: int
    at_start: bool = False


class CountBegun(Struct, frozen=True, order=True):
    """A final count under way: by which entry it began, when (UTC ms), who counts."""

    seq: int
    at_ms: int
    who: str


class Tally(Struct, frozen=True):
    """Everything that the surviving entries add up to. Zero counts are left out of the mappings."""

    plan: Plan | None = None
    utc_offset_minutes: int = 0
    opened_at_ms: int | None = None
    signed_off: bool = False
    stock: Mapping[Stock, int] = {}
    placed: Mapping[tuple[str, str], int] = {}  #: (zone, size)
    sites: Mapping[str, int] = {}  #: by zone
    reseated: Mapping[str, int] = {}  #: by zone
    done: Mapping[tuple[str, str, str], int] = {}  #: (who, kind or reason, size)
    #: Grafts that were taken without having been entered, settled by a hand count: by (size, harvest).
    settled: Mapping[tuple[str, str], int] = {}
    #: How often a group was counted by hand: by (size, harvest, place).
    hand_counts: Mapping[tuple[str, str, Place], int] = {}
    #: Grafts left at the end, by (size, harvest, place they were in, fate).
    fates: Mapping[tuple[str, str, Place, Fate], int] = {}
    extra: Mapping[tuple[str, str], int] = {}  #: of those placed, beyond the plan at the end; (zone, size)
    placers_moves: tuple[PlacersMove, ...] = ()
    lanes: Mapping[str, Lane] = {}  #: those that are open, by letter
    harvests: Mapping[str, HarvestClock] = {}
    care: Mapping[str, CareClock] = {}
    care_done: tuple[CareDone, ...] = ()
    limit_answers: tuple[LimitAnswer, ...] = ()
    explained: Mapping[str, Explained] = {}
    stations: Mapping[str, Role] = {}  #: stations that are open now
    clock_steps: tuple[ClockStep, ...] = ()
    losses: Mapping[int, int] = {}  #: entries lost, by the entry that says so
    differences: Mapping[int, RecordDiffered] = {}  #: from the anchored record, by the entry that says so
    counting: Mapping[str, CountBegun] = {}  #: final counts under way, by station
    counted: bool = False  #: whether anybody has made a final count since the last sign-off
    on_break: Mapping[str, int] = {}  #: since when, by person

    def held(self, account: Account, size: str | None = None, harvest: str | None = None) -> int:
        """Grafts in one account, in all or of one size and/or one harvest."""
        return sum(
            count
            for key, count in self.stock.items()
            if key.account == account and size in {None, key.size} and harvest in {None, key.harvest}
        )


class CaseState(Struct, frozen=True, dict=True):
    """The record so far, which entries were corrected by which, and the tally of those that stand."""

    log: Log = field(default_factory=Log)
    corrected_by: Mapping[int, int] = field(default_factory=dict)
    tally: Tally = field(default_factory=Tally)

    @cached_property
    def _found(self) -> dict[Any, Any]:
        return {}

    @property
    def seq(self) -> int:
        """The number of the last entry, 0 before the first."""
        return self.log[-1].seq if self.log else 0

    @property
    def plan(self) -> Plan:
        """The plan in force. Raises ``LookupError`` before the case is opened."""
        if self.tally.plan is None:
            raise LookupError("the case has not been opened")
        return self.tally.plan

    def entry(self, seq: int) -> Entry | None:
        """The entry with this number, or ``None``. Numbers run from 1 without a gap."""
        return self.log[seq - 1] if 1 <= seq <= len(self.log) else None

    def stands(self, entry: Entry) -> bool:
        """Whether an entry has not been corrected."""
        return entry.seq not in self.corrected_by

    def standing(self) -> Sequence[Entry]:
        """All entries that were not corrected, in order."""
        return _standing(self)


def once(work: Callable[[CaseState, *About], Found]) -> Callable[[CaseState, *About], Found]:
    """What ``work`` makes of a state is found once: a paint asks several times, a summary dozens.

    It is shared by all who ask, and left as it is.
    """

    @wraps(work)
    def found(state: CaseState, *about: *About) -> Found:
        asked = work, about
        if asked not in state._found:
            state._found[asked] = work(state, *about)
        known: Found = state._found[asked]
        return known

    return found


def at_a_time(work: Callable[[CaseState, int], Found]) -> Callable[[CaseState, int], Found]:
    """As ``once``, for what is different at each time (UTC ms): only what was found last is kept."""

    @wraps(work)
    def found(state: CaseState, now_ms: int) -> Found:
        kept = state._found.get(work)
        if kept is None or kept[0] != now_ms:
            kept = state._found[work] = now_ms, work(state, now_ms)
        known: Found = kept[1]
        return known

    return found


def while_same(*parts: str) -> Callable[[Callable[[Tally], Found]], Callable[[Tally], Found]]:
    """What is made of these parts of a tally is found once while they are the same: few taps change them."""

    def kept(work: Callable[[Tally], Found]) -> Callable[[Tally], Found]:
        last: tuple[list[object], Found] | None = None

        @wraps(work)
        def found(tally: Tally) -> Found:
            nonlocal last
            of = [getattr(tally, each) for each in parts]
            known = last  # another thread may put a newer one there
            if known is None or any(one is not other for one, other in zip(known[0], of, strict=True)):
                last = known = of, work(tally)
            return known[1]

        return found

    return kept


@once
def _standing(state: CaseState) -> Sequence[Entry]:
    corrected = state.corrected_by
    return tuple([each for each in state.log if each.seq not in corrected] if corrected else state.log)


def changed(mapping: Mapping[Any, int], by: Mapping[Any, int], times: int = 1) -> dict[Any, int]:
    """``mapping`` with the counts of ``by`` added this many times, and what adds up to zero left out."""
    result = dict(mapping)
    add(result, by, times)
    return result


def add(counts: dict[Any, int], by: Mapping[Any, int], times: int = 1) -> None:
    """Add the counts of ``by`` in place, this many times, and leave out what adds up to zero."""
    for key, count in by.items():
        total = counts.get(key, 0) + count * times
        if total:
            counts[key] = total
        else:
            counts.pop(key, None)
