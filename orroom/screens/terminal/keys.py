"""All keys of all screens, in one table, and how a clinic binds them; key lines and help come from it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from orroom.case.terms import ROLES, SIZE_KEYS, Role, lane_name

#: Shows and turns the help on every screen, also where something is asked; no clinic binds it otherwise.
HELP_KEY: Final = "f1"
#: Asks whether to leave, whatever else is asked and whatever a clinic has bound.
LEAVING_KEY: Final = "ctrl+q"

EVERY_ROLE: tuple[Role, ...] = ROLES

#: The keys of lanes by their letters, in the order in which they are given out, and others where a clinic
#: has bound these. No letter is another key at placing; ``y`` answers questions, so its lane has F5.
LANES: Final = {
    "a": ("a", "f6"),
    "d": ("d", "f7"),
    "g": ("g", "f8"),
    "l": ("l", "f9"),
    "q": ("q", "f11"),
    "y": ("f5", "y"),
}


class Key(Struct, frozen=True):
    """What keys, by their plain names, do: an action, the word on the key line, the sentence in the help."""

    action: str
    keys: tuple[str, ...]
    word: str
    help: str
    roles: tuple[Role, ...]
    on_key_line: bool = True
    #: Its key where a clinic has bound the standard one to something else.
    earlier: str = ""

    @property
    def shown(self) -> str:
        """Its first key as a screen writes it."""
        return shown_key(self.keys[0])

    @property
    def name(self) -> str:
        """The action's name in the settings: ``cut-m`` for ``cut('M')``."""
        return _name_of(self.action)


@cache
def _name_of(action: str) -> str:
    return action.replace("('", "-").replace("')", "").replace("_", "-").lower()


KEYS: tuple[Key, ...] = (
    Key("cut('1')", ("1",), "", "one graft of 1 hair, cut and in its dish", ("cutting",), False),
    Key("cut('2')", ("2",), "", "one graft of 2 hairs", ("cutting",), False),
    Key("cut('3')", ("3",), "", "one graft of 3 hairs", ("cutting",), False),
    Key("cut('4')", ("4",), "", "one graft of 4 hairs", ("cutting",), False),
    Key("cut('M')", ("5", "m"), "", "one multi-unit graft", ("cutting",), False),
    Key("undo", ("u", "minus"), "undo", "undo your last tap here", ("cutting", "placing")),
    Key("discard", ("x", "slash"), "discard", "discard a graft: reason, then size", ("cutting",)),
    Key("discard", ("x", "slash"), "discard", "discard the typed number: then the reason", ("placing",)),
    Key("divide", ("d", "asterisk"), "divide", "divide a graft: size, then pieces", ("cutting",)),
    Key("segment", ("g",), "segment done", "the segment on your board is finished", ("cutting",)),
    Key("next_harvest", ("l",), "switch harvest", "cut from the other harvest", ("cutting",)),
    Key("up", ("up",), "", "previous zone", ("placing",), False),
    Key("down", ("down",), "", "next zone", ("placing",), False),
    Key("left", ("left",), "", "smaller size", ("placing",), False),
    Key("right", ("right",), "", "larger size", ("placing",), False),
    Key("next_zone", ("z",), "suggested zone", "go to the suggested zone", ("placing",), False),
    Key("zone", ("asterisk",), "zone", "go to a zone by number", ("placing",), False, earlier="f12"),
    *(
        Key(f"lane('{letter}')", (key,), lane_name(letter), f"choose {lane_name(letter)}",
            ("placing",), False, earlier=other)
        for letter, (key, other) in LANES.items()
    ),
    Key("no_lane", ("equals_sign",), "no lane", "choose grafts in no lane",
        ("placing",), False, earlier="asterisk"),
    Key("stick_and_place", ("semicolon",), "stick and place", "stick and place in the zone, or not any more",
        ("placing",), False),
    Key("place", ("enter",), "place", "place the typed number there", ("placing",)),
    Key("pick_size", ("full_stop", "comma"), "size", "place the typed number of another size: then which",
        ("placing",)),
    Key("issue", ("i", "plus"), "to placers", "hand the typed number to the placers", ("placing",)),
    Key("return_to_dish", ("r",), "to dish", "put the typed number back into its dish",
        ("placing",)),
    Key("reseat", ("o",), "reseat", "popped grafts put back (1 if no number typed)", ("placing",)),
    Key("sites", ("t",), "sites", "add the typed number of sites made in the zone", ("placing",)),
    Key("left", ("left",), "", "previous page", ("overview",), False),
    Key("right", ("right",), "", "next page (pages also turn by themselves)", ("overview",), False),
    Key("answer", ("space",), "prompt done", "a prompt was done; of several due it asks which", EVERY_ROLE),
    Key("replan", ("y",), "re-plan", "re-plan the sizes (a accepts, Esc closes, → next page)",
        ("overview",)),
    Key("final_count", ("k",), "final count",
        "blind count of all remaining grafts by two people, then sign-off", ("overview",)),
    Key("pause", ("p",), "pause", "pause a prompt", EVERY_ROLE),
    Key("harvest", ("h",), "harvest", "enter the start or end of a harvest", EVERY_ROLE),
    Key("explain", ("e",), "say why", "say why of a mismatch, what was done of a broken limit", EVERY_ROLE),
    Key("cancel", ("c",), "cancel entry", "cancel an entry by its number", EVERY_ROLE),
    Key("note", ("n",), "note", "add a note", EVERY_ROLE),
    Key("several", ("plus",), "several", "add several of one size: how many, Enter, size", ("cutting",)),
    Key("move", ("m",), "move", "move a placing to its real zone: which, then where",
        ("placing",)),
    Key("team", ("w",), "team", "enter who is working, or a planned break", ("cutting",)),
    Key("team", ("w",), "team", "lanes, who is working, or a planned break",
        ("placing", "overview")),
    Key("figures", ("f",), "formulas", "how each figure on this screen is worked out, and its source",
        EVERY_ROLE),
    Key("count_dish", ("j",), "hand count", "enter a hand count of one size",
        ("cutting", "placing"), earlier="k"),
    Key("spot_check", ("v",), "spot check", "inspect a few grafts", ("cutting", "placing")),
    Key("break", ("b",), "break", "start or end your break", EVERY_ROLE),
    Key("sites", ("t",), "sites", "sites made: in which zone, how many, who made them", ("overview",)),
    Key("hand_over", ("s",), "hand over", "hand this station over", EVERY_ROLE),
    Key("help", (HELP_KEY, "question_mark"), "help", "this page", EVERY_ROLE),
    Key("role('cutting')", ("f2",), "cutting", "cutting screen", EVERY_ROLE),
    Key("role('placing')", ("f3",), "placing", "placing screen", EVERY_ROLE),
    Key("role('overview')", ("f4",), "overview", "overview screen", EVERY_ROLE),
    Key("leave", ("f10", "ctrl+q", "q"), "leave", "leave; the case continues", ("cutting", "overview")),
    Key("leave", ("f10", "ctrl+q"), "leave", "leave the station; the case continues", ("placing",)),
)  # fmt: skip

#: Actions that record nothing: their keys may be held down.
RECORD_NOTHING: Final = frozenset(
    {
        *("up", "down", "left", "right", "help", "figures", "leave", "no_lane"),
        *(f"role('{role}')" for role in ROLES),
        *(f"lane('{letter}')" for letter in LANES),
    }
)

#: Other names of the same key: keypads have two, and one layout's comma is another's point.
SAME_KEY = {
    "add": "plus",
    "subtract": "minus",
    "multiply": "asterisk",
    "divide": "slash",
    "decimal": "full_stop",
    "separator": "comma",
    "kp_enter": "enter",
    "return": "enter",
}

#: What a keypad sends while NumLock is off. None of these ever counts a graft.
NUMLOCK_OFF = frozenset(
    {"insert", "end", "down", "pagedown", "left", "kp_begin", "right", "home", "up", "pageup", "delete"}
)


def plain_name(key: str) -> str:
    """One name for a key however the terminal calls it: keypad or not, capitals or not."""
    if len(key) == 1:
        return key.lower()
    if key.startswith("upper_") and len(key) == len("upper_x"):
        return key[-1].lower()
    return SAME_KEY.get(key, key)


#: The signs on keys, by their plain names.
SIGNS: Final = {
    "plus": "+",
    "minus": "-",
    "asterisk": "*",
    "slash": "/",
    "full_stop": ".",
    "comma": ",",
    "semicolon": ";",
    "equals_sign": "=",
    "question_mark": "?",
}
#: How keys are written that have no sign and are not written as they are named.
_WRITTEN: Final = {
    "up": "↑",
    "down": "↓",
    "left": "←",
    "right": "→",
    "enter": "Enter",
    "space": "Space",
    "escape": "Esc",
    "backspace": "⌫",
    "pageup": "PgUp",
    "pagedown": "PgDn",
    "ctrl+q": "Ctrl-Q",
}
_NAMED: Final = frozenset(
    {*SIGNS, *NUMLOCK_OFF, "space", "enter", "escape", *(f"f{n}" for n in range(1, 13))}
)


_BY_SIGN: Final = {sign: name for name, sign in (*SIGNS.items(), *_WRITTEN.items())}


def shown_key(name: str) -> str:
    """A key as a screen writes it: ``F2`` for ``f2``, ``+`` for ``plus``; ``L``, since l looks like 1."""
    if name in SIGNS or name in _WRITTEN:
        return SIGNS.get(name) or _WRITTEN[name]
    return name.upper() if name == "l" or (name[0] == "f" and name[1:].isdigit()) else name


def key_named(text: str) -> str | None:
    """The plain name of a key that somebody wrote, as ``F2``, ``Space``, ``+`` or ``plus``; else ``None``."""
    written = text.strip().lower().replace(" ", "_")
    name = _BY_SIGN.get(written, written)
    name = SAME_KEY.get(name, name)
    letter = len(name) == 1 and (name.isalpha() or name in "0123456789")
    return name if letter or name in _NAMED else None


class Keys:
    """The keys at every role, as the clinic has bound them; what it has not bound is as in ``KEYS``."""

    def __init__(self, bindings: Mapping[Role, Mapping[str, Sequence[str]]] | None = None) -> None:
        """``bindings`` is valid: by role and an action's name, its keys as somebody wrote them."""
        bound = bindings or {}
        self._of: dict[Role, tuple[Key, ...]] = {
            role: tuple(_bound([each for each in KEYS if role in each.roles], bound.get(role, {})))
            for role in ROLES
        }

    @classmethod
    def standard(cls) -> Keys:
        """The keys where nothing is bound otherwise."""
        return _STANDARD

    def of(self, role: Role) -> tuple[Key, ...]:
        """All keys of a role, in the table's order."""
        return self._of[role]

    def action_for(self, role: Role, key: str) -> str | None:
        """The action of a key at a role, or ``None``. ``key`` is a plain name."""
        return next((each.action for each in self._of[role] if key in each.keys), None)

    def elsewhere(self, role: Role, key: str) -> str:
        """What a key without an action at a role would do at another one, and how to get there."""
        for other in ROLES:
            for each in self._of[other]:
                if key in each.keys and each.word:
                    way = self.shown(role, f"role('{other}')")
                    return f"does nothing here. On the {other} screen ({way}) it is: {each.word}."
        return "does nothing here; F1 shows the keys."

    def of_sizes(self) -> dict[str, str]:
        """The key of each size: at its tile, and wherever a size is asked for."""
        return {size: self.key_for("cutting", f"cut('{size}')") or "" for size in SIZE_KEYS}

    def key_for(self, role: Role, action: str) -> str | None:
        """The plain name of an action's first key at a role, or ``None`` where the role has none."""
        return next((each.keys[0] for each in self._of[role] if each.action == action), None)

    def shown(self, role: Role, action: str) -> str:
        """An action's first key as a screen writes it; empty where the role has none."""
        key = self.key_for(role, action)
        return "" if key is None else shown_key(key)


def _bound(keys: Sequence[Key], bindings: Mapping[str, Sequence[str]]) -> Iterator[Key]:
    names = {name: tuple(filter(None, map(key_named, texts))) for name, texts in bindings.items()}
    taken = {each for given in names.values() for each in given}
    for key in keys:
        if taken and (given := names.get(key.name)):
            yield replace(key, keys=given)
        elif key.earlier and key.keys[0] in taken:
            yield replace(key, keys=(key.earlier,))
        else:
            yield key


_STANDARD = Keys()
