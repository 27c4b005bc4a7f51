"""A role's keys in the settings, and how each is bound again: a dialogue over a sheet."""

from functools import partial
from typing import Final

from orroom.case.terms import Role
from orroom.screens.settings.sheet import Row, Sheet
from orroom.screens.terminal.asking import Choice, Dialogue, Option
from orroom.screens.terminal.key_rules import FIXED_ACTIONS
from orroom.screens.terminal.keys import SIGNS, Key, key_named, shown_key

#: Keys that are offered, where they are free.
OFFERED: Final = (*"abcdefghijklmnopqrstuvwxyz0123456789", *SIGNS, *(f"f{n}" for n in range(2, 13)), "space")


def key_rows(sheet: Sheet, role: Role) -> tuple[Row, ...]:
    """A row for each action at a role that may be bound."""
    return tuple(
        Row(
            " ".join(map(shown_key, key.keys)),
            key.help,
            sheet.has("keys", role, key.name),
            partial(_bind, sheet, role, key),
        )
        for key in sheet.keys.of(role)
        if key.name not in FIXED_ACTIONS and key.action != f"role('{role}')"
    )


def _bind(sheet: Sheet, role: Role, key: Key) -> Dialogue:
    loc = ("keys", role, key.name)
    others = [each for each in key.keys[1:] if key_named(each) is not None]

    def with_others(first: str) -> list[str]:
        return [SIGNS.get(each, each) for each in (first, *(other for other in others if other != first))]

    def fault(pressed: str) -> str:
        if key_named(pressed) is None or pressed in key.keys:
            return ""
        return sheet.fault(loc, with_others(pressed))

    free = [each for each in OFFERED if each not in key.keys and not fault(each)]
    options = [Option(each, "", each) for each in free]
    options.append(Option("backspace", "as it comes", None))
    pressed = yield Choice(
        f"{key.help}: press its new key",
        tuple(options),
        fault=fault,
        means="Keys that are free on that screen are offered; one that is taken says by what.",
    )
    sheet.put(loc, None if pressed is None else with_others(pressed))
    return None
