"""The one door to a case: ask a command, see the state, be told of changes.

A desk belongs to one station. Its writer thread owns the case file: it takes all commands that wait, and in
one turn reads what other stations wrote, decides, appends and commits. The state that a desk shows is always
one that is on the disk. What cannot be committed waits and is tried again, never dropped, never doubled.
"""

from __future__ import annotations

import queue
import sqlite3
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field

from orroom.case.commands import Command, JoinStation, LeaveStation
from orroom.case.decide import decide
from orroom.case.events import Entry, Stamp, StationJoined
from orroom.case.evolve import evolve, fold
from orroom.case.rules import Refusal, refusal_of
from orroom.case.state import CaseState
from orroom.case.terms import Role
from orroom.clock import Clock
from orroom.errors import CaseFileError, EntryRefusedError, EventsInvalidError
from orroom.record.case_file import CaseFile

#: How often a desk looks for what other stations wrote. Well under the half second a screen may lag behind.
LOOK_SECONDS = 0.05
#: How long a desk waits before it tries again to commit what could not be committed.
RETRY_SECONDS = 0.2

Outcome = Entry | Refusal


@dataclass(frozen=True, slots=True)
class _Ask:
    command: Command
    stamp: Stamp
    answer: Future[Outcome] = field(default_factory=Future)


class Desk:
    """A station's access to a case."""

    def __init__(self, case_file: CaseFile, role: Role, who: str, clock: Clock | None = None) -> None:
        """Join the case at ``role`` as ``who``. Raises ``EntryRefusedError`` or ``CaseFileError``."""
        self.who = who
        self.role = role
        self.clock = clock or case_file.clock()
        self._file = case_file
        self._watchers: list[Callable[[], None]] = []
        self._asks: queue.SimpleQueue[_Ask | None] = queue.SimpleQueue()
        self._tap_lock = threading.Lock()
        self._waiting: list[_Ask] = []
        self._unanswered = 0
        self._trouble: str | None = None
        self.state = _recorded(case_file, JoinStation(role=role), self._first_stamp)
        self.station = self.state.log[-1].stamp.station
        self._tap = 1
        self._seen = case_file.data_version()
        self._writer = threading.Thread(target=self._write, name=f"desk {self.station}", daemon=True)
        self._writer.start()

    def _first_stamp(self, state: CaseState) -> Stamp:
        """Every start of a station gets a name of its own, so that its taps can be numbered from 1."""
        joined = [entry for entry in state.log if isinstance(entry.event, StationJoined)]
        number = 1 + sum(entry.stamp.station.startswith(f"{self.role}-") for entry in joined)
        return Stamp(self.clock.now_ms(), f"{self.role}-{number}", 1, self.who)

    def ask(self, command: Command, who: str | None = None) -> Future[Outcome]:
        """Ask for an entry; answered with the entry once it is on the disk, or with a refusal.

        The entry's time is now, however long the disk takes.
        """
        with self._tap_lock:  # numbered and queued in one step, so that taps keep their order
            self._tap += 1
            self._unanswered += 1
            stamp = Stamp(self.clock.now_ms(), self.station, self._tap, who or self.who)
            ask = _Ask(command, stamp)
            self._asks.put(ask)
        return ask.answer

    def watch(self, watcher: Callable[[], None]) -> None:
        """Call ``watcher`` from the writer thread after every change of ``state`` or ``trouble``."""
        self._watchers.append(watcher)

    @property
    def waiting(self) -> int:
        """Commands asked and not answered yet."""
        return self._unanswered

    @property
    def trouble(self) -> str | None:
        """Why commands wait, in one sentence, or ``None`` while all is well."""
        return self._trouble

    def close(self) -> int:
        """Leave the case after one more try at all that waits; answers how many could not be committed."""
        self.ask(LeaveStation())
        self._asks.put(None)
        self._writer.join()
        self._file.close()
        return len(self._waiting)

    def _write(self) -> None:
        closing = False
        while not closing:
            closing = self._take_asks()
            state, trouble = self.state, self._trouble
            try:
                if self._waiting:
                    self._commit()
                elif self._file.data_version() != self._seen:
                    self._catch_up()
                self._trouble = None
            except Exception as problem:  # noqa: BLE001 - whatever it is, the taps that wait must be tried again
                self._trouble = str(problem)
            if self.state is not state or self._trouble != trouble:
                self._tell()

    def _take_asks(self) -> bool:
        """Move all that was asked to ``_waiting``; true when the desk is closing."""
        pause = RETRY_SECONDS if self._trouble else LOOK_SECONDS
        try:
            ask = self._asks.get(timeout=pause)
            while True:
                if ask is None:
                    return True
                self._waiting.append(ask)
                ask = self._asks.get_nowait()
        except queue.Empty:
            return False

    def _commit(self) -> None:
        answers: list[tuple[_Ask, Outcome]] = []
        with self._file.turn():
            state = fold(self._file.entries_after(self.state.seq), self.state)
            entries: list[Entry] = []
            for ask in self._waiting:
                outcome = self._decided(state, ask)
                if isinstance(outcome, Entry) and outcome.seq > state.seq:
                    entries.append(outcome)
                    state = evolve(state, outcome)
                answers.append((ask, outcome))
            self._file.append(entries)
        self.state = state
        self._waiting = []
        self._unanswered -= len(answers)
        for ask, outcome in answers:
            ask.answer.set_result(outcome)

    def _decided(self, state: CaseState, ask: _Ask) -> Outcome:
        if self._trouble:  # an earlier try may have reached the disk before its error reached us
            kept = self._file.entry_of_tap(ask.stamp.station, ask.stamp.tap)
            if kept is not None:
                return kept
        try:
            event = decide(state, ask.command, ask.stamp)
        except Exception as fault:  # noqa: BLE001 - one faulty entry must not stop all those that follow
            return Refusal(
                "refuse_fault", "The program could not make this entry.", f"Note it on paper: {fault!r}"
            )
        return event if isinstance(event, Refusal) else Entry(state.seq + 1, ask.stamp, event)

    def _catch_up(self) -> None:
        self._seen = self._file.data_version()
        self.state = fold(self._file.entries_after(self.state.seq), self.state)

    def _tell(self) -> None:
        for watcher in self._watchers:
            watcher()


def record_once(case_file: CaseFile, command: Command, who: str) -> Entry:
    """Record one command without staying at a station, as the command line does.

    Raises ``EntryRefusedError`` if the case refuses it, ``CaseFileError`` if it cannot be written.
    """

    def stamp(state: CaseState) -> Stamp:
        tap = 1 + sum(entry.stamp.station == "desk" for entry in state.log)
        return Stamp(case_file.clock().now_ms(), "desk", tap, who)

    return _recorded(case_file, command, stamp).log[-1]


def _recorded(case_file: CaseFile, command: Command, stamp_in: Callable[[CaseState], Stamp]) -> CaseState:
    """The state after ``command`` was recorded as the newest entry, in one turn."""
    try:
        with case_file.turn():
            state = fold(case_file.entries_after(0))
            stamp = stamp_in(state)
            event = decide(state, command, stamp)
            if isinstance(event, Refusal):
                raise EntryRefusedError(event.sentence, event.right)
            entry = Entry(state.seq + 1, stamp, event)
            case_file.append([entry])
    except sqlite3.Error as problem:
        raise CaseFileError(
            f"{case_file.path} cannot be written: {problem}.", "Check disk and owner."
        ) from problem
    return evolve(state, entry)


def record_all(case_file: CaseFile, entries: Sequence[Entry], where: str) -> None:
    """Take recorded entries over into an empty case file, guarded by the same rules as live ones.

    Raises ``EventsInvalidError`` naming the first entry that is out of order or refused; then none is kept.
    """
    state = CaseState()
    taps: set[tuple[str, int]] = set()
    for line, entry in enumerate(entries, 1):
        tap = (entry.stamp.station, entry.stamp.tap)
        refusal = refusal_of(state, entry.event, entry.stamp)
        if entry.seq != line:
            refusal = Refusal("", f"This is entry {entry.seq}.", f"Entry {line} should stand here.")
        elif tap in taps:
            refusal = Refusal("", f"Tap {tap[1]} of {tap[0]} stands here a second time.", "")
        if refusal is not None:
            raise EventsInvalidError(f"{where}, line {line}: {refusal}", "Nothing was imported.")
        taps.add(tap)
        state = evolve(state, entry)
    with case_file.turn():
        case_file.append(entries)
