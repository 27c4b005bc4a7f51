"""How a problem of a plan is worded: where it is in the file, and what was found there.

What would be right is said by ``right_words.py``.
"""

import datetime
from collections.abc import Iterable, Mapping
from typing import Final

from orroom.case.terms import hidden_character

#: Where something is in a plan: field names and list positions from the top.
Loc = tuple[str | int, ...]

_MAX_SHOWN: Final = 40

#: The field that names an entry of a list to its reader.
KEY_FIELDS: Final = {"sizes": "key", "zones": "key", "harvests": "key", "care": "key", "staff": "initials"}

#: What an entry of a list is called.
ONE_OF: Final = {
    "sizes": "size",
    "zones": "zone",
    "harvests": "harvest",
    "care": "care round",
    "staff": "person",
    "cautions": "caution",
}


def place(raw: Mapping[str, object], loc: Loc) -> str:
    """The place in the file's own words, such as ``zone 3 "FL": targets.3``."""
    if not loc:
        return "plan"
    top, rest = escaped(str(loc[0])), loc[1:]
    if not rest or not isinstance(rest[0], int):
        return top + _path(rest)
    name = _entry_name(raw, loc)
    entry = f"{ONE_OF.get(top, top)} {rest[0] + 1}" + (f" {shown(name)}" if name else "")
    field = _path(rest[1:]).removeprefix(".")
    return f"{entry}: {field}" if field else entry


def _path(parts: Loc) -> str:
    return "".join(f", entry {part + 1}" if isinstance(part, int) else f".{escaped(part)}" for part in parts)


def _entry_name(raw: Mapping[str, object], loc: Loc) -> str | None:
    rows = raw.get(str(loc[0]))
    position = loc[1]
    if not isinstance(rows, list | tuple) or not isinstance(position, int) or position >= len(rows):
        return None
    row = rows[position]
    name = row.get(KEY_FIELDS.get(str(loc[0]), "")) if isinstance(row, Mapping) else None
    return name if isinstance(name, str) else None


def shown(value: object) -> str:
    """A value as its file has it, kept short, with nothing invisible or confusing left in it."""
    match value:
        case None:
            return "empty"
        case bool():
            return "true" if value else "false"
        case str():
            return f'"{escaped(value)}"'
        case int() if value.bit_length() > 64:
            return "such a large number"
        case int() | float():
            return str(value)
        case datetime.date() | datetime.time():
            return value.isoformat()
        case Mapping():
            return "a table"
        case _:
            return "a list"


def escaped(text: str) -> str:
    """A text kept short, its invisible characters, odd spaces among them, named instead."""
    short = text if len(text) <= _MAX_SHOWN else f"{text[: _MAX_SHOWN - 1]}…"
    return "".join(
        f"<U+{ord(one):04X}>" if hidden_character(one) or not one.isprintable() else one for one in short
    )


def one_of(values: Iterable[object]) -> str:
    """``"a", "b" or "c"``."""
    *most, last = map(shown, values)
    return f"{', '.join(most)} or {last}" if most else last
