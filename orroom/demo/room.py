"""The room of a simulated day. People are generators: each acts, then yields the seconds until it goes on."""

from collections.abc import Iterator
from heapq import heappop, heappush
from itertools import chain, count
from random import Random
from typing import Final

from msgspec import Struct

from orroom.case.commands import Command, HandOver, OpenCase
from orroom.case.decide import decide
from orroom.case.events import Entry, Stamp
from orroom.case.evolve import evolve
from orroom.case.plan import Plan
from orroom.case.refusals.form import YEAR_2000_MS
from orroom.case.rules import Refusal
from orroom.case.state import CaseState
from orroom.case.terms import Role

#: What a person does; yields the seconds until the next of it.
Doing = Iterator[float]

MINUTE: Final = 60.0
#: When a simulated day's case is opened, UTC ms; only what comes after counts.
OPENED_MS: Final = YEAR_2000_MS


class Turn(Struct, frozen=True):
    """What somebody asks of the case, in ms after its opening."""

    after_ms: int
    who: str
    role: Role
    command: Command

    @property
    def seat(self) -> tuple[str, Role]:
        """Whose station it is entered at: a hand-over at that of the person who left."""
        left = self.command.left if isinstance(self.command, HandOver) else self.who
        return left, self.role


class Crew(Struct, frozen=True):
    """Who makes entries; ``relief`` takes over from the last of the cutters.

    ``placers`` have a lane each, for which the lead makes the entries; none where the plan names fewer than
    two besides the lead.
    """

    cutters: tuple[str, ...]
    relief: str
    lead: str
    placers: tuple[str, ...]
    recorder: str


def crew_of(plan: Plan) -> Crew:
    """The plan's own staff, and invented initials where it names nobody."""

    def of(role: str) -> tuple[str, ...]:
        return tuple(person.initials for person in plan.staff if person.role == role)

    taken = {person.initials for person in plan.staff}
    others = (each for each in chain(("TU",), (f"T{n}" for n in count(1))) if each not in taken)
    relief = next(others)
    cutters = of("cutting")[:3] or (next(others), next(others), next(others))
    lead, *placers = of("placing") or (next(others),)
    lanes = tuple(placers[:3]) if len(placers) > 1 else ()
    recorder = (of("record") or (next(others),))[0]
    return Crew(cutters, relief, lead, lanes, recorder)


def entered(state: CaseState, command: Command, stamp: Stamp) -> Entry:
    """The entry that ``command`` becomes. Raises ``ValueError`` if it is refused: no turn of a day may be."""
    event = decide(state, command, stamp)
    if isinstance(event, Refusal):
        raise ValueError(f"{stamp.who} asked {command}: {event}")
    return Entry(state.seq + 1, stamp, event)


class Room:
    """A day as it goes: who does what next, and the case so far."""

    def __init__(self, plan: Plan, seed: int) -> None:
        self.plan = plan
        self.crew = crew_of(plan)
        self.rng = Random(seed)  # noqa: S311 - a repeatable day, no secret
        self.now_ms = OPENED_MS
        self.over = False
        self.turns: list[Turn] = []
        self._agenda: list[tuple[int, int, Doing]] = []
        self._order = count()
        opening = entered(CaseState(), OpenCase(plan=plan), Stamp(OPENED_MS, "desk", 1, self.crew.recorder))
        self.state = evolve(CaseState(), opening)

    @property
    def minutes(self) -> float:
        """Minutes since the case was opened."""
        return (self.now_ms - OPENED_MS) / 60_000

    def begin(self, doing: Doing, in_minutes: float = 0) -> None:
        """Let somebody start ``doing`` some minutes from now."""
        at_ms = self.now_ms + round(in_minutes * 60_000)
        heappush(self._agenda, (at_ms, next(self._order), doing))

    def run(self) -> None:
        """Go through the day until nobody has anything left to do."""
        while self._agenda:
            self.now_ms, _, doing = heappop(self._agenda)
            seconds = next(doing, None)
            if seconds is not None:
                self.begin(doing, seconds / 60)

    def ask(self, who: str, role: Role, command: Command) -> None:
        """Take a turn now."""
        stamp = Stamp(self.now_ms, role, len(self.turns) + 1, who)
        self.state = evolve(self.state, entered(self.state, command, stamp))
        self.turns.append(Turn(self.now_ms - OPENED_MS, who, role, command))

    def away(self, who: str) -> bool:
        """Whether this person is on a break."""
        return who in self.state.tally.on_break

    def between(self, low: float, high: float) -> float:
        """A number between two others, any of them as likely."""
        return self.rng.uniform(low, high)

    def chance(self, share: float) -> bool:
        """Whether something happens that happens in this share of cases."""
        return self.rng.random() < share
