"""What a clinic's keys must not be: a function a rule, its first docstring line what it refuses."""

from collections.abc import Iterator, Mapping
from difflib import get_close_matches
from typing import Final

from msgspec import Struct

from orroom.case.terms import ROLES, Role
from orroom.files.plan_rules import Finding, Raw, Rule
from orroom.files.plan_words import Loc, escaped, shown
from orroom.screens.terminal.keys import NUMLOCK_OFF, Key, Keys, key_named, shown_key

#: Keys that mean the same at every station of every clinic, and what that is.
FIXED_KEYS: Final = {
    "f1": "always shows the keys",
    "escape": "always cancels",
    "enter": "always ends what is typed",
}
FIXED_ACTIONS: Final = frozenset({"help", "place"})
MOVES: Final = frozenset({"up", "down", "left", "right"})
WHAT_IS_A_KEY: Final = "give a letter, a digit, F2 to F12, Space, an arrow, or one of + - * / . , ; ="


class _Bound(Struct, frozen=True):
    """A key that somebody bound to an action: where it stands, and its plain name if there is such a key."""

    loc: Loc
    role: Role
    action: Key
    text: str
    key: str | None


def _tables(raw: Raw) -> Iterator[tuple[Role, Raw]]:
    tables = raw.get("keys")
    if isinstance(tables, Mapping):
        yield from ((role, table) for role in ROLES if isinstance(table := tables.get(role), Mapping))


def _bound(raw: Raw) -> Iterator[_Bound]:
    for role, table in _tables(raw):
        actions = {each.name: each for each in Keys.standard().of(role)}
        for name, keys in table.items():
            if name not in actions or not isinstance(keys, list | tuple):
                continue
            for position, text in enumerate(keys):
                if isinstance(text, str) and text:
                    loc = ("keys", role, name, position)
                    yield _Bound(loc, role, actions[name], text, key_named(text))


def refuse_unknown_action(raw: Raw) -> Iterator[Finding]:
    """An action that a role has not."""
    for role, table in _tables(raw):
        known = [each.name for each in Keys.standard().of(role) if each.name not in FIXED_ACTIONS]
        for name in table:
            if name in FIXED_ACTIONS:
                continue
            if name not in known:
                close = get_close_matches(str(name), known, n=1)
                right = f"did you mean {close[0]}?" if close else f"known here: {', '.join(known)}"
                yield Finding(("keys", role, name), f"is not an action of the {role} station", right)


def refuse_fixed_action(raw: Raw) -> Iterator[Finding]:
    """Another key for the help or for placing."""
    for role, table in _tables(raw):
        for name in sorted(FIXED_ACTIONS & set(map(str, table))):
            key = "F1" if name == "help" else "Enter"
            yield Finding(("keys", role, name), f"is always {key}", "remove it")


def refuse_unknown_key(raw: Raw) -> Iterator[Finding]:
    """A key that no keyboard has, or that not every terminal sends."""
    for bound in _bound(raw):
        if bound.key is None:
            yield Finding(bound.loc, f"{shown(bound.text)} is not a key", WHAT_IS_A_KEY)


def refuse_fixed_key(raw: Raw) -> Iterator[Finding]:
    """A key that means the same everywhere."""
    for bound in _bound(raw):
        if bound.key in FIXED_KEYS:
            yield Finding(bound.loc, f"{escaped(bound.text)} {FIXED_KEYS[bound.key]}", "give another key")


def refuse_key_without_numlock(raw: Raw) -> Iterator[Finding]:
    """A key that a keypad sends while NumLock is off, for anything but moving."""
    for bound in _bound(raw):
        if bound.key in NUMLOCK_OFF and bound.action.action not in MOVES:
            wrong = f"{escaped(bound.text)} is what a keypad sends while NumLock is off: it can only move"
            yield Finding(bound.loc, wrong, "give another key")


def refuse_answer_for_a_tap(raw: Raw) -> Iterator[Finding]:
    """A key that answers what is asked, for an action tapped in a row: a tap would answer it unseen."""
    for bound in _bound(raw):
        if bound.key in {"y", "n"} and bound.action.action.startswith(("cut(", "undo")):
            yield Finding(bound.loc, f"{bound.key} answers what is asked", "give another key")


def refuse_digit_that_is_typed(raw: Raw) -> Iterator[Finding]:
    """A digit at placing for anything but the number that is typed there."""
    for bound in _bound(raw):
        if bound.role == "placing" and bound.key is not None and bound.key in "0123456789":
            yield Finding(bound.loc, f"digits are always part of a number: {bound.key}", "give another key")


def refuse_two_actions_on_one_key(raw: Raw) -> Iterator[Finding]:
    """A key with two actions at one role, or twice at one action."""
    bound = [each for each in _bound(raw) if each.key is not None]
    for number, each in enumerate(bound):
        others = [other for other in bound[:number] if (other.role, other.key) == (each.role, each.key)]
        given = {other.action.name: [other.text] for other in bound if other.role == each.role}
        standing = [
            other
            for other in Keys({each.role: given}).of(each.role)
            if other.name not in given and each.key in other.keys
        ]
        taken = others[0].action if others else standing[0] if standing else None
        if taken is not None and each.key not in FIXED_KEYS:
            wrong = f"{shown_key(each.key or '')} is {taken.name} at the {each.role} station already"
            right = f"give another key, or another one to {taken.name}"
            yield Finding(each.loc, wrong, "remove it" if taken is each.action else right)


KEY_RULES: Final[tuple[Rule, ...]] = (
    refuse_unknown_action,
    refuse_fixed_action,
    refuse_unknown_key,
    refuse_fixed_key,
    refuse_key_without_numlock,
    refuse_answer_for_a_tap,
    refuse_digit_that_is_typed,
    refuse_two_actions_on_one_key,
)
