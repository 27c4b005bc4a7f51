"""All keys of all screens, in one table; the key lines, the help and the tests are made from it."""

from __future__ import annotations

from dataclasses import dataclass

from orroom.case.terms import Role

EVERY_ROLE: tuple[Role, ...] = ("cutting", "placing", "overview")


@dataclass(frozen=True, slots=True)
class Key:
    """What a key does: an action's name, the keys, the word on the key line, the sentence in the help."""

    action: str
    keys: tuple[str, ...]
    shown: str
    word: str
    help: str
    roles: tuple[Role, ...]
    on_key_line: bool = True


KEYS: tuple[Key, ...] = (
    Key("cut('1')", ("1",), "1", "", "one graft of 1 hair, cut and in its dish", ("cutting",), False),
    Key("cut('2')", ("2",), "2", "", "one graft of 2 hairs", ("cutting",), False),
    Key("cut('3')", ("3",), "3", "", "one graft of 3 hairs", ("cutting",), False),
    Key("cut('4')", ("4",), "4", "", "one graft of 4 hairs", ("cutting",), False),
    Key("cut('M')", ("5", "m"), "5", "", "one multi-unit graft", ("cutting",), False),
    Key("take_back", ("u", "minus"), "u", "take back", "take back your own last tap here",
        ("cutting", "placing")),
    Key("discard", ("x", "slash"), "x", "discard", "a graft given up: the reason, then its size",
        ("cutting", "placing")),
    Key("divide", ("d", "asterisk"), "d", "divide", "a graft made into smaller ones: size, then pieces",
        ("cutting",)),
    Key("segment", ("g",), "g", "segment done", "the segment on your board is finished", ("cutting",)),
    Key("next_lot", ("l",), "l", "lot", "cut from the next lot", ("cutting",)),
    Key("up", ("up",), "↑", "", "zone before", ("placing",), False),
    Key("down", ("down",), "↓", "", "zone after", ("placing",), False),
    Key("left", ("left",), "←", "", "smaller size", ("placing",), False),
    Key("right", ("right",), "→", "", "larger size", ("placing",), False),
    Key("place", ("enter",), "Enter", "place", "place the typed number there", ("placing",)),
    Key("pick_size", ("full_stop", "comma"), ".", "size", "then a size: places the typed number of that size",
        ("placing",)),
    Key("issue", ("i", "plus"), "i", "to bench", "hand the typed number from dish to bench", ("placing",)),
    Key("return_to_dish", ("r",), "r", "to dish", "put the typed number back from bench to dish",
        ("placing",)),
    Key("reseat", ("o",), "o", "reseated", "grafts popped and put back (1 if none typed)", ("placing",)),
    Key("sites", ("t",), "t", "sites", "enter the typed number of sites made in the zone", ("placing",)),
    Key("count_dish", ("k",), "k", "hand count", "enter what a hand count of dish or bench found",
        ("cutting", "placing"), False),
    Key("spot_check", ("v",), "v", "spot check", "a close look at some", ("cutting", "placing"), False),
    Key("answer", ("space",), "Space", "answers", "answer the most urgent prompt", EVERY_ROLE),
    Key("pause", ("p",), "p", "pause", "let a prompt rest for some minutes", EVERY_ROLE),
    Key("harvest", ("h",), "h", "harvest", "a lot left the body, or all of it is out", EVERY_ROLE),
    Key("explain", ("e",), "e", "explain", "say what a mismatch comes from", EVERY_ROLE),
    Key("correct", ("c",), "c", "correct", "cancel an entry by its number", EVERY_ROLE),
    Key("note", ("n",), "n", "note", "write a remark into the record", EVERY_ROLE),
    Key("replan", ("y",), "y", "re-plan", "re-divide the sizes; then a accepts, Esc dismisses, Space turns",
        ("overview",)),
    Key("rest", ("b",), "b", "break", "start or end your break", EVERY_ROLE, False),
    Key("team", ("w",), "w", "team", "who is at work: people at a work, or a break that is planned",
        EVERY_ROLE, False),
    Key("shift", ("s",), "s", "shift", "somebody else takes this station over", EVERY_ROLE, False),
    Key("help", ("f1", "question_mark"), "F1", "help", "this page", EVERY_ROLE),
    Key("figures", ("f",), "f", "figures", "how each figure on this screen is worked out, and its source",
        EVERY_ROLE),
    Key("role('cutting')", ("f2",), "F2", "cutting", "the cutting screen", EVERY_ROLE),
    Key("role('placing')", ("f3",), "F3", "placing", "the placing screen", EVERY_ROLE),
    Key("role('overview')", ("f4",), "F4", "overview", "the overview", EVERY_ROLE),
    Key("leave", ("f10", "ctrl+q", "q"), "F10", "leave", "leave this station; the case goes on", EVERY_ROLE),
)  # fmt: skip

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


def action_for(role: Role, key: str) -> str | None:
    """The action of a key at a role, or ``None``. ``key`` is a plain name."""
    for each in KEYS:
        if role in each.roles and key in each.keys:
            return each.action
    return None


def keys_of(role: Role) -> tuple[Key, ...]:
    """All keys of a role, in the table's order."""
    return tuple(each for each in KEYS if role in each.roles)
