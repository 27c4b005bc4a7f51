"""What the screens of one station have in common, whichever of them is in front."""

import asyncio
from collections import deque
from collections.abc import Callable
from functools import partial

from msgspec import Struct, field
from textual import events

from orroom.case.state import CaseState
from orroom.case.terms import Role
from orroom.desk import Desk
from orroom.screens.settings.clinic import Clinic
from orroom.screens.stations.answering import Answering
from orroom.screens.stations.unanswered import Unanswered
from orroom.screens.terminal.flood import Unread


class Lesson(Struct, frozen=True):
    """Practice or a drill: what is said at the top by the record and an action's key, what leaving asks."""

    says: Callable[[CaseState, Callable[[str], str]], str]
    ends: str


class Demo(Struct, frozen=True):
    """A day of a simulated team, which nobody needs: what is said first, and whether the day is over."""

    welcome: str
    over: Callable[[], bool]


class Shared(Struct):
    """A station's desk, its settings, its keys in their order, and what its screens know of each other."""

    desk: Desk
    clinic: Clinic
    #: Brings a role's screen to the front.
    show_role: Callable[[Role], None]
    unanswered: Unanswered = field(default_factory=Unanswered)
    answering: Answering = field(default_factory=Answering)
    #: Keys in the order they came, which whatever screen is in front then takes.
    keys: deque[events.Key | Unread] = field(default_factory=deque)
    #: Held by the screen that takes them, until what it hands over to the next one is there.
    taking: asyncio.Lock = field(default_factory=asyncio.Lock)
    #: Taps that were not on the disk yet when that was last looked at; not all may be the front screen's own.
    waiting: int = 0
    #: The first entry of the record that is not to be trusted; ``None`` if nothing was found wrong.
    not_intact: int | None = None
    #: While practising or at a drill.
    lesson: Lesson | None = None
    #: While the demo is shown.
    demo: Demo | None = None

    @property
    def ends(self) -> str | None:
        """What leaving asks while practising or at a drill; ``None`` in a real case."""
        return None if self.lesson is None else self.lesson.ends

    def lesson_says(self, state: CaseState, role: Role) -> str:
        """What is said at the top of a role's screen while practising or at a drill."""
        keys = self.clinic.keys
        return "" if self.lesson is None else self.lesson.says(state, partial(keys.shown, role))
