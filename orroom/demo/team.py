"""A simulated team at work: each person at a desk of their own, through the same door as everybody else."""

from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from threading import Event, Thread

from orroom.case.terms import Role
from orroom.clock import Clock
from orroom.demo.room import Turn
from orroom.desk import Desk
from orroom.errors import OrroomError
from orroom.record.case_file import CaseFile

#: How often the team looks at the clock. In fast time a few turns fall into one look.
LOOK_SECONDS = 0.02


class Team:
    """People who take their turns at a case when its clock says so."""

    def __init__(self, path: Path, turns: Sequence[Turn], started_at_ms: int, clock: Clock) -> None:
        """``turns`` are those still to come; they count from ``started_at_ms``, when the case was opened."""
        self._path = path
        self._turns = turns
        self._started_at_ms = started_at_ms
        self._clock = clock
        self._leaving = Event()
        self._desks: dict[tuple[str, Role], Desk] = {}
        self._thread = Thread(target=self._work, name="team", daemon=True)

    def start(self) -> None:
        """Begin to work, in a thread."""
        self._thread.start()

    @property
    def done(self) -> bool:
        """Whether the day is over: everybody has taken their last turn."""
        return not self._thread.is_alive()

    def stop(self) -> None:
        """Stop working and leave all stations; done when this returns."""
        self._leaving.set()
        self._thread.join()

    def _work(self) -> None:
        try:
            for turn in self._turns:
                if not self._is_time(self._started_at_ms + turn.after_ms):
                    return
                with suppress(OrroomError):  # somebody who gets no station misses this turn, like one refused
                    self._desk(turn).ask(turn.command)
        finally:
            for desk in dict.fromkeys(self._desks.values()):
                desk.close()

    def _is_time(self, at_ms: int) -> bool:
        """Wait for a moment of the case's time; false if the team is to leave before it."""
        while self._clock.now_ms() < at_ms:
            if self._leaving.wait(LOOK_SECONDS):
                return False
        return not self._leaving.is_set()

    def _desk(self, turn: Turn) -> Desk:
        """The desk of this turn, opened when it is first needed, for this turn's person."""
        if turn.seat not in self._desks:
            self._desks[turn.seat] = self._opened(turn)
        desk = self._desks[turn.who, turn.role] = self._desks[turn.seat]
        desk.who = turn.who
        return desk

    def _opened(self, turn: Turn) -> Desk:
        case_file = CaseFile.open(self._path)
        try:
            return Desk(case_file, turn.role, turn.who, self._clock)
        except OrroomError:
            case_file.close()
            raise
