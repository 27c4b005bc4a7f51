"""What can be clicked, and one click on it."""

from __future__ import annotations

import re

from msgspec import Struct

from orroom.case.terms import Role
from orroom.screens.terminal.keys import Keys

#: A button in place of a key: ``press`` answers what is asked or is on a page, ``type`` types.
STANDS_FOR_KEY = re.compile(r"(?:press|type)\('(.+)'\)")


class Button(Struct, frozen=True):
    """What can be clicked: its action, and for an answer the step of the question that it answers."""

    action: str
    step: object = None

    @classmethod
    def of(cls, action: str, step: object) -> Button:
        """The button of an action while ``step`` is asked."""
        return cls(action, step if action.startswith("press(") else None)

    @property
    def key(self) -> str:
        """The plain name of its key, or its action."""
        match = STANDS_FOR_KEY.fullmatch(self.action)
        return match[1] if match else self.action

    @property
    def character(self) -> str | None:
        """What its key types."""
        return self.key if len(self.key) == 1 else None

    def action_at(self, role: Role, keys: Keys) -> str | None:
        """The action of a click on it at a role with these keys."""
        return keys.action_for(role, self.key) if self.stands_for_key else self.action

    @property
    def stands_for_key(self) -> bool:
        """Whether clicking it is pressing that key."""
        return STANDS_FOR_KEY.fullmatch(self.action) is not None


class Click(Struct, frozen=True):
    """One press and release, in s; ``plain``: the left button alone; ``new``: it had just come there."""

    button: Button | None
    released_on: Button | None
    down_at: float
    at: float
    plain: bool = True
    new: bool = False
