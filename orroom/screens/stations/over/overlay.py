"""What all that may lie over a station's screen has in common, and what it sees of the screen beneath it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import Any, ClassVar, Final, Protocol, TypeVar

from orroom.case.state import CaseState
from orroom.screens.stations.taps import Tapped
from orroom.screens.stations.views.over import Over
from orroom.screens.terminal.asking import Dialogue, Question
from orroom.screens.terminal.hands import Press
from orroom.screens.terminal.painting import Line

#: The keys that turn pages, and by how many.
PAGE_KEYS: Final = {"right": 1, "pagedown": 1, "left": -1, "pageup": -1}


class Overlay:
    """Something over a station's screen: what lies lower is not painted, and gets the keys that it leaves."""

    #: Whether it is read above all else, also above a question.
    READ: ClassVar[bool] = False

    def __init__(self, beneath: Beneath) -> None:
        self.beneath, self.glance, self.desk = beneath, beneath.glance, beneath.shared.desk
        #: What its own keys do while it lies there; all others do their own work.
        self.keys: dict[str, Callable[[], None]] = {}

    @property
    def lies(self) -> bool:
        """Whether it lies there now, in place of the screen's own lines."""
        return False

    @property
    def help(self) -> Over | None:
        """Its keys and numbers in words, while it lies there; ``None`` if the screen's own are meant."""
        return None

    def lines(self, state: CaseState, now_ms: int) -> list[Line] | None:
        """All lines of the terminal, or ``None`` if it does not lie there."""
        return None

    def take(self, press: Press) -> bool:
        """Take a key or a click; false leaves it to what lies lower."""
        if not self.lies or press.key not in self.keys:
            return False
        self.keys[press.key]()
        self.beneath.repaint()
        return True

    def turned_by(self, turn: Callable[[int], None]) -> dict[str, Callable[[], None]]:
        """The keys that turn its pages, by ``turn`` with 1 or -1. Space is none: it answers prompts."""
        return {key: partial(turn, by) for key, by in PAGE_KEYS.items()}

    def open(self) -> None:
        """Begin to lie there, or say why not."""

    def give_way(self) -> None:
        """Another one opens in its place."""


Kind = TypeVar("Kind", bound=Overlay)


class Overlays:
    """What may lie over one screen, the uppermost first; each is in it from when it was first opened."""

    def __init__(self, beneath: Beneath, asking: Overlay) -> None:
        self._beneath, self._all, self._asking = beneath, [asking], asking

    def __iter__(self) -> Iterator[Overlay]:
        return iter(self._all)

    @property
    def help(self) -> Over | None:
        """The keys and numbers of what lies over the screen now, pages aside."""
        return next((each.help for each in self._all if each.lies and not each.READ), None)

    def lines(self, state: CaseState, now_ms: int) -> list[Line] | None:
        """All lines of what lies uppermost; ``None`` if the screen itself is seen."""
        found = (each.lines(state, now_ms) for each in self._all)
        return next((lines for lines in found if lines is not None), None)

    def take(self, press: Press) -> bool:
        """Give a tap to each in turn; false if the screen itself is to take it."""
        return any(each.take(press) for each in self._all)

    def of(self, kind: type[Kind]) -> Kind:
        """The one of a kind. A new one is put above those before, but below what is asked or read."""
        for each in self._all:
            if isinstance(each, kind):
                return each
        made = kind(self._beneath)
        self._all.insert(0 if kind.READ else self._all.index(self._asking) + 1, made)
        return made

    def give_way_to(self, opened: Overlay) -> None:
        """Close all others in whose place one opens."""
        for each in self._all:
            if each is not opened:
                each.give_way()


class Beneath(Tapped, Protocol):
    """The screen beneath, as far as what lies over it needs it."""

    over: Overlays

    @property
    def too_small(self) -> bool:
        """Whether nothing is shown at this size."""

    def open_question(self, dialogue: Dialogue, then: Callable[[Any], object] | None = None) -> Question:
        """Ask something in place of the key line; ``then``, or else the desk, takes what is answered."""

    def shows_no_counts(self) -> bool:
        """Whether a final count is being made: then that is said."""

    def work_apart(self, work: Callable[[], None]) -> None:
        """Have something done in a thread of its own."""
