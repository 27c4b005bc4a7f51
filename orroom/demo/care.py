"""How care rounds are answered on a simulated day: mostly a little early or late, once much too late."""

from typing import Final

from orroom.case.care import due_at_ms
from orroom.case.commands import AnswerLimit, Command, EndBreak, GiveCare, PausePrompt, StartBreak
from orroom.case.limits import unanswered_limits
from orroom.case.plan import CareRound
from orroom.case.terms import CareKind
from orroom.demo.needs import Needs
from orroom.demo.room import MINUTE, Doing, Room

#: Which round of its kind is given much too late, rests for a while, reads too warm: counted from 1.
TOO_LATE: Final = 5
PAUSED: Final = 2
TOO_WARM: Final = 3
LUNCH: Final = 212  #: minutes after the case was opened
BAND_C: Final = (2.0, 8.0)  #: for a plan that names none


def care(room: Room, needs: Needs) -> None:
    """Let somebody look after each care round of the plan, and the recorder have lunch."""
    for each in room.plan.care:
        room.begin(_Round(room, each).day(), 1)
    room.begin(_lunch(room, needs), LUNCH)


class _Round:
    def __init__(self, room: Room, care: CareRound) -> None:
        self.room, self.care = room, care
        self.first_of_kind = care is next(each for each in room.plan.care if each.kind == care.kind)

    def day(self) -> Doing:
        number = 0
        while not self.room.over:
            due = due_at_ms(self.room.state.tally, self.care.key)
            if due is None:
                yield MINUTE / 2
                continue
            number += 1
            if self._is_odd("renew", PAUSED, number):
                yield self._seconds_to(due - 90_000)
                self._ask(PausePrompt(care=self.care.key, minutes=12))
                continue
            late = self.room.rng.triangular(-0.1, 0.1, 0.02) * min(self.care.every_minutes or 20, 20)
            if self._is_odd("wet", TOO_LATE, number):
                late = self.care.grace_minutes + self.room.between(4, 6)
            yield self._seconds_to(due + late * 60_000)
            if self.room.over:
                return
            if self._is_odd("temperature", TOO_WARM, number):
                yield from self._too_warm()
            reading = self._reading() if self.care.kind == "temperature" else None
            self._ask(GiveCare(care=self.care.key, temperature_c=reading))

    def _is_odd(self, kind: CareKind, which: int, number: int) -> bool:
        return self.first_of_kind and self.care.kind == kind and number == which

    def _seconds_to(self, at_ms: float) -> float:
        return max(1.0, (at_ms - self.room.now_ms) / 1000)

    def _ask(self, command: Command) -> None:
        """At the overview, or by the placement lead: now and then, and while nobody keeps the record."""
        crew = self.room.crew
        lead = self.room.away(crew.recorder) or (self.room.chance(0.2) and not self.room.away(crew.lead))
        self.room.ask(*(crew.lead, "placing") if lead else (crew.recorder, "overview"), command)

    def _reading(self, above: float | None = None) -> float:
        """A reading in °C well inside the band, or this much above it."""
        low = BAND_C[0] if self.care.low_c is None else self.care.low_c
        high = BAND_C[1] if self.care.high_c is None else self.care.high_c
        return round(high + above if above else low + (high - low) * self.room.between(0.2, 0.8), 1)

    def _too_warm(self) -> Doing:
        """A reading above the band, cooled at once; the next reading follows soon."""
        self._ask(GiveCare(care=self.care.key, temperature_c=self._reading(self.room.between(0.8, 1.5))))
        yield self.room.between(40, 80)
        if any(
            each.key == (key := f"temperature:{self.care.key}") for each in unanswered_limits(self.room.state)
        ):
            self._ask(AnswerLimit(limit=key, done="fresh ice put under the dishes"))
        yield MINUTE * self.room.between(6, 8)


def _lunch(room: Room, needs: Needs) -> Doing:
    if needs.all_placed:
        return
    room.ask(room.crew.recorder, "overview", StartBreak())
    yield MINUTE * room.between(24, 28)
    room.ask(room.crew.recorder, "overview", EndBreak())
