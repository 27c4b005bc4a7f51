"""Keys that nothing has yet, so that no test holds a key that a new action may take."""

from __future__ import annotations

from string import ascii_lowercase

from orroom.case.terms import ROLES, Role
from orroom.files.settings_file import settings_problems
from orroom.screens.replay.keys import KEYS as REPLAY_KEYS
from orroom.screens.stations.views.over import COMPARING, COUNTING, REPLANNING
from orroom.screens.terminal.key_rules import KEY_RULES
from orroom.screens.terminal.keys import Keys


def free_keys(*roles: Role) -> list[str]:
    """Letters and signs without an action at all of these roles' stations that a clinic may bind there."""
    standard = Keys.standard()
    return [
        key
        for key in (*reversed(ascii_lowercase), "=", ";")
        if key not in "yn"  # they answer what is asked
        and not any(standard.action_for(role, key) for role in roles)
        and not any(settings_problems({"keys": {role: {"note": [key]}}}, KEY_RULES) for role in roles)
    ]


def free_everywhere() -> str:
    """One that does nothing over a station's screen and in a replay either."""
    taken = {each.key for each in REPLAY_KEYS}
    taken |= {each.press for over in (COUNTING, COMPARING, REPLANNING) for each in over.keys}
    return next(key for key in free_keys(*ROLES) if key not in taken)
