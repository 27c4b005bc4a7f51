"""The one door to a case: ask a command, see the state, hear of changes.

A desk belongs to one station. Its writer thread owns the case file: it takes all commands that wait, and in
one turn reads what other stations wrote, decides, appends and commits. The state that a desk shows is always
one that is on the disk. What cannot be committed waits and is tried again, never dropped, never doubled.
"""

import queue
import sqlite3
import threading
import time
from collections.abc import Callable
from concurrent.futures import Future
from contextlib import suppress
from itertools import count as counting
from pathlib import Path
from typing import Literal

from msgspec import Struct

from orroom import __version__
from orroom.case.commands import Command, JoinStation, LeaveStation, TellClockStep, TellDifference
from orroom.case.decide import decide
from orroom.case.events import Entry, Stamp
from orroom.case.evolve import evolve, fold
from orroom.case.rules import Refusal
from orroom.case.state import CaseState
from orroom.case.terms import Role
from orroom.clock import Clock, SteadyClock
from orroom.record.case_clock import case_clock
from orroom.record.case_file import CaseFile
from orroom.record.opening import error_of
from orroom.record.rescue import write_rescue
from orroom.recording import recorded

#: How often a desk looks for what others wrote, and how often where it hears of it (``record/ticks.py``).
LOOK_SECONDS, HEARING_LOOK_SECONDS = 0.05, 0.25
#: How long a desk waits before it tries again to commit what could not be committed.
RETRY_SECONDS = 0.2
#: How long taps may wait without an error before that is trouble; how long leaving waits for the disk.
LONG_SECONDS, CLOSING_SECONDS = 2.0, 10.0
#: How often the seal is anchored outside the file while entries come in; when they come without a pause.
SETTLE_SECONDS, BUSY_SETTLE_SECONDS = 5.0, 20.0
#: A machine's clock that is set by more than this is recorded (time servers nudge it by less).
MOST_STEP_MS = 2000

Outcome = Entry | Refusal


class Answer(Future[Outcome]):
    """What becomes of a tap; ``tap`` is its number at its station."""

    def __init__(self, tap: int) -> None:
        super().__init__()
        self.tap = tap


class _Ask(Struct, frozen=True):
    command: Command
    stamp: Stamp
    answer: Answer


class Desk:
    """A station's access to a case."""

    def __init__(self, case_file: CaseFile, role: Role, who: str, clock: Clock | None = None) -> None:
        """Join the case at ``role`` as ``who``. Raises ``EntryRefusedError`` or ``CaseFileError``."""
        self.who = who
        self.role = role
        self.clock = clock or case_clock(case_file)
        self._file = case_file
        self._watchers: list[Callable[[], None]] = []
        self._asks: queue.SimpleQueue[_Ask | Literal["look", "close"]] = queue.SimpleQueue()
        self._tap_lock = threading.Lock()
        self._waiting: list[_Ask] = []
        self._unanswered = 0
        self._answered_at = time.monotonic()
        self._trouble: str | None = None
        try:
            self._seen = case_file.data_version()  # what others write from here on is looked for
            self.state = recorded(case_file, JoinStation(role=role, version=__version__), self._first_stamp)
        except sqlite3.DatabaseError as problem:
            raise error_of(case_file.path, problem) from problem
        self.station = self.state.log[-1].stamp.station
        self._tap = 1
        #: What was asked here and is in the record, but may only be in the log yet: entry, stamp, command.
        self._in_log: list[tuple[int, Stamp, Command]] = []
        self._settled_seq, self._settled_at = 0, float("-inf")  # the join is anchored at once
        # When the clock was set, or behind, since this start of the machine, as the record has it.
        found = [
            step
            for step in self.state.tally.clock_steps
            if isinstance(self.clock, SteadyClock) and step.at_ms >= self.clock.wall_ms
        ]
        self._stepped_ms = sum(step.by_ms for step in found)
        #: Whether the machine's clock was behind at its start, and nobody has recorded it yet.
        self._behind = (
            isinstance(self.clock, SteadyClock) and self.clock.behind_ms > MOST_STEP_MS and not found
        )
        self._writer = threading.Thread(target=self._write, name=f"desk {self.station}", daemon=True)
        self._ticks = case_file.watch(lambda: self._asks.put("look"))
        self._asks.put("look")
        self._writer.start()

    def _first_stamp(self, state: CaseState) -> Stamp:
        """Every start of a station gets a name of its own, so that its taps can be numbered from 1."""
        used = {entry.stamp.station for entry in state.log}
        name = next(name for number in counting(1) if (name := f"{self.role}-{number}") not in used)
        return Stamp(self.clock.now_ms(), name, 1, self.who)

    def ask(self, command: Command, who: str | None = None, at_ms: int | None = None) -> Answer:
        """Ask for an entry; answered with the entry once it is on the disk, or with a refusal.

        The entry's time is now, however long the disk takes, or that of a tap that was held back.
        """
        with self._tap_lock:  # numbered and queued in one step, so that taps keep their order
            self._tap += 1
            self._unanswered += 1
            if self._unanswered == 1:
                self._answered_at = time.monotonic()
            at_ms = self.clock.now_ms() if at_ms is None else at_ms
            stamp = Stamp(at_ms, self.station, self._tap, who or self.who)
            ask = _Ask(command, stamp, Answer(self._tap))
            self._asks.put(ask)
        return ask.answer

    def watch(self, watcher: Callable[[], None]) -> None:
        """Call ``watcher`` from the writer thread after every change of ``state`` or ``trouble``."""
        self._watchers.append(watcher)

    @property
    def path(self) -> Path:
        """The case file."""
        return self._file.path

    @property
    def waiting(self) -> int:
        """Commands asked and not answered yet."""
        return self._unanswered

    @property
    def trouble(self) -> str | None:
        """Why commands wait, in one sentence, or ``None`` while all is well."""
        if self._trouble is None and self._unanswered and time.monotonic() - self._answered_at > LONG_SECONDS:
            return "the disk is slow, or another station is paused"
        return self._trouble

    def close(self, reason: str = "left") -> Path | None:
        """Leave the case after one more try at all that waits.

        What cannot be committed is written to a rescue file, whose path is the answer, or ``None``.
        """
        self.ask(LeaveStation(reason=reason))
        self._asks.put("close")
        self._writer.join(CLOSING_SECONDS)  # a disk that hangs does not keep the station open
        self._ticks.close()
        with suppress(queue.Empty):
            while True:
                if isinstance(ask := self._asks.get_nowait(), _Ask):
                    self._waiting.append(ask)
        left = [
            (ask.stamp, ask.command) for ask in self._waiting if not isinstance(ask.command, LeaveStation)
        ]
        if self._writer.is_alive():
            self._file.abandon()  # it is in use, and may be for ever
        elif not self._file.close():  # what was recorded in the log alone is not in the record of the others
            left = [(stamp, command) for _, stamp, command in self._in_log] + left
        return write_rescue(self._file.path, self.state.plan.case, left) if left else None

    def _write(self) -> None:
        self._file.make_room()
        closing = False
        while not closing:
            closing = self._take_asks()
            state, trouble, committed = self.state, self._trouble, bool(self._waiting)
            try:
                if committed:
                    self._commit()
                else:
                    self._look()
                self._trouble = None
                self._settle(self.state.seq - state.seq if committed else 0, closing=closing)
            except Exception as problem:  # noqa: BLE001 - whatever it is, the taps are tried again
                self._trouble = str(problem) or repr(problem)
            if self.state is not state or self._trouble != trouble:
                for watcher in self._watchers:
                    watcher()

    def _take_asks(self) -> bool:
        """Move all that was asked to ``_waiting``; true when the desk is closing."""
        look = HEARING_LOOK_SECONDS if self._ticks.hears else LOOK_SECONDS
        pause = RETRY_SECONDS if self._trouble else look
        try:
            ask = self._asks.get(timeout=pause)
            while True:
                if ask == "close":
                    return True
                if isinstance(ask, _Ask):
                    self._waiting.append(ask)
                ask = self._asks.get_nowait()
        except queue.Empty:
            return False

    def _commit(self) -> None:
        answers: list[tuple[_Ask, Outcome]] = []
        with self._file.turn():
            news = self._file.seal().seq != self.state.seq  # mostly none, and the seal is known already
            state = fold(self._file.entries_after(self.state.seq), self.state) if news else self.state
            entries: list[Entry] = []
            for ask in self._waiting:
                outcome = self._decided(state, ask)
                if isinstance(outcome, Entry) and outcome.seq > state.seq:
                    entries.append(outcome)
                    state = evolve(state, outcome)
                answers.append((ask, outcome))
            self._file.append(entries)
        self.state = state
        self._in_log += [
            (outcome.seq, ask.stamp, ask.command)
            for ask, outcome in answers
            if isinstance(outcome, Entry) and not isinstance(ask.command, LeaveStation)
        ]
        self._waiting = []
        with self._tap_lock:
            self._unanswered -= len(answers)
            self._answered_at = time.monotonic()
        for ask, outcome in answers:
            ask.answer.set_result(outcome)
        if entries:
            self._file.tick()  # also lets those who waited for the answer go on

    def _decided(self, state: CaseState, ask: _Ask) -> Outcome:
        if self._trouble:  # an earlier try may have reached the disk before its error reached us
            kept = self._file.entry_of_tap(ask.stamp.station, ask.stamp.tap)
            if kept is not None and kept.stamp == ask.stamp:
                return kept
        try:
            event = decide(state, ask.command, ask.stamp)
        except Exception as fault:  # noqa: BLE001 - one faulty entry must not stop all those that follow
            what = "orroom could not make this entry."
            return Refusal("refuse_fault", what, f"Write it on paper: {fault!r}")
        return event if isinstance(event, Refusal) else Entry(state.seq + 1, ask.stamp, event)

    def _look(self) -> None:
        """Whether the case is still there, and what others wrote."""
        self._file.check_there()
        if (version := self._file.data_version()) != self._seen:
            self._seen = version
            self.state = fold(self._file.entries_after(self.state.seq), self.state)

    def _settle(self, entered: int, *, closing: bool) -> None:
        """Now and then, if no tap waits for it, and at the end: anchor the seal, look at the clock."""
        now = time.monotonic()
        since = now - self._settled_at
        due = closing or since >= (BUSY_SETTLE_SECONDS if entered else SETTLE_SECONDS)
        if due and self.state.seq != self._settled_seq:
            differed = self._file.settle()
            self._settled_seq, self._settled_at = self.state.seq, now
            if differed is not None and not closing:
                self.ask(TellDifference(differed=differed))
        self._file.keep_room(self.state.seq, entered)
        if self._in_log and self._in_log[0][0] <= self._file.in_file:
            self._in_log = [each for each in self._in_log if each[0] > self._file.in_file]
        if isinstance(self.clock, SteadyClock) and not closing:
            by_ms = self.clock.stepped_ms() - self._stepped_ms
            if abs(by_ms) > MOST_STEP_MS:
                self._stepped_ms += by_ms
                self.ask(TellClockStep(by_ms=by_ms, at_start=self._behind or None))
                self._behind = False
