"""Keys that nothing has yet, so that no test holds a key that a new action may take."""

from __future__ import annotations

from collections.abc import Iterable
from string import ascii_lowercase

from orroom.case.terms import Role
from orroom.files.settings_file import settings_problems
from orroom.screens.terminal.key_rules import KEY_RULES
from orroom.screens.terminal.keys import Keys


def free_keys(*roles: Role) -> list[str]:
    """Letters without an action at all of these roles' stations that a clinic may bind there.

    Placing uses all that an English keyboard has.
    """
    standard = Keys.standard()
    return [
        key
        for key in (*reversed(ascii_lowercase), *"éöü")
        if key not in "yn"  # they answer what is asked
        and not any(standard.action_for(role, key) for role in roles)
        and not any(settings_problems({"keys": {role: {"note": [key]}}}, KEY_RULES) for role in roles)
    ]


def letter_beside(keys: Iterable[str]) -> str:
    """A letter that is none of these keys."""
    return min({*ascii_lowercase} - {*keys})
