"""A small TOML file that somebody wrote by hand, read whole; or one sentence why it cannot be read."""

import re
import stat
from pathlib import Path
from typing import Final

from msgspec import Struct

from orroom.errors import OrroomError, Problem
from orroom.files.old_names import in_todays_names
from orroom.files.plan_words import escaped

MAX_BYTES: Final = 1_000_000
#: How a case file begins, and any other of SQLite's (its file format, section 1.3).
_DATABASE: Final = b"SQLite format 3\0"


class Kind(Struct, frozen=True):
    """What a file should hold, as the sentences about it call it."""

    #: Such as ``a plan``, and without its article ``plan``.
    one: str
    name: str
    #: The file's usual name, and what a wrong one is best compared with.
    file: str
    example: str


_KEY_TWICE: Final = ("the same key is given twice", "remove one of them")
_ADDED_LATER: Final = (
    "adds to a table that is already complete",
    "write that whole table in one place",
)
_HEADING: Final = ("a heading is not closed", "write [name] for a table, [[name]] for an entry of a list")
_INVISIBLE: Final = (
    "has an invalid character",
    'remove it; a line break in text is written "\\n"',
)
_OPEN_TEXT: Final = ("text is not closed", "add the quotation marks at its end")
_STATEMENT: Final = (
    "is not a key, heading or comment",
    "write name = value, [name], [[name]], or # before a comment",
)

#: What the TOML reader says, in plain words: what is wrong, what would be right.
_TOML_WORDS: Final = {
    "Cannot overwrite": _KEY_TWICE,
    "Duplicate inline": _KEY_TWICE,
    "Cannot declare": (
        "the same heading is given twice",
        "keep one, or write [[name]] for entries of a list",
    ),
    "Cannot mutate": _ADDED_LATER,
    "Cannot redefine": _ADDED_LATER,
    "Expected '='": ("a name without a value", "write name = value"),
    "Expected newline": (
        "extra text after the value",
        "put text in quotation marks, and one name on a line",
    ),
    "Invalid value": ("the value is missing or unclear", 'write a number, true, false, "text" or a [list]'),
    "Unclosed array": ("a list is not closed", "add the comma or the ] that is missing"),
    "Unclosed inline": (
        "a table in braces is not closed",
        "add the comma or the } that is missing, on one line",
    ),
    "Unterminated string": _OPEN_TEXT,
    "Expected '\"": _OPEN_TEXT,
    "Expected \"'": _OPEN_TEXT,
    "Illegal character '\\n'": _OPEN_TEXT,
    "Illegal character": _INVISIBLE,
    "Found invalid character '\\n'": _OPEN_TEXT,
    "Found invalid": _INVISIBLE,
    "Unescaped": ("a single backslash in text", "write two backslashes"),
    "Invalid hex": ("an unfinished \\u code in text", "write the character itself"),
    "Escaped character": ("a \\u code that is not a character", "write the character itself"),
    "Invalid date": ("not a date or time", "put text in quotation marks"),
    "Expected ']": _HEADING,
    "Invalid statement": _STATEMENT,
    "Invalid initial": _STATEMENT,
}


def read_bytes(path: Path, kind: Kind) -> bytes:
    """What is in the file. Raises ``OrroomError`` if it cannot be read at all."""
    try:
        mode = path.stat().st_mode
        if stat.S_ISDIR(mode):
            raise OrroomError(f"{path} is a folder, not {kind.one}.", f"Give the {kind.file} inside it.")
        if not stat.S_ISREG(mode):
            raise OrroomError(f"{path} is not an ordinary file.", f"Give {kind.one} in a TOML file.")
        with path.open("rb") as file:
            data = file.read(MAX_BYTES + 1)
    except FileNotFoundError:
        raise OrroomError(f"There is no file {path}.", f"Check the path of the {kind.name}.") from None
    except PermissionError:
        raise OrroomError(
            f"{path} is not readable by this user.", "Ask its owner for permission to read it."
        ) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise OrroomError(
            f"{path} cannot be read: {reason}.", f"Check the path of the {kind.name}."
        ) from None
    if len(data) > MAX_BYTES:
        raise OrroomError(f"{path} is larger than 1 MB.", f"It should be a few kilobytes; is it {kind.one}?")
    return data


def parsed(data: bytes, kind: Kind) -> dict[str, object] | Problem:
    """What the TOML says, or the one problem at which reading stops."""
    import tomllib  # a station without settings starts without it

    try:
        text = data.decode("utf-8-sig")
        return in_todays_names(tomllib.loads(text))
    except UnicodeDecodeError as error:
        if data.startswith(_DATABASE):
            return Problem(kind.name, "is a case file", f"give {kind.one} as text, such as {kind.example}")
        line = data.count(b"\n", 0, error.start) + 1
        return Problem(f"line {line}", "is not UTF-8 text", "save the file with the encoding UTF-8")
    except tomllib.TOMLDecodeError as error:
        return _syntax_problem(str(error), text, kind)
    except ValueError:  # the only other one it raises
        right = "use a realistic number"
        return Problem(kind.name, "has a number with too many digits", right)
    except RecursionError:
        return Problem(kind.name, "is nested too deeply", f"compare it with {kind.example}")


def _syntax_problem(message: str, text: str, kind: Kind) -> Problem:
    """The one problem at which reading stops, with its line and column and what is there."""
    not_toml = ("cannot be read as TOML", f"compare it with {kind.example}")
    wrong, right = next(
        (words for start, words in _TOML_WORDS.items() if message.startswith(start)), not_toml
    )
    lines = text.replace("\r\n", "\n").rstrip("\n").split("\n")
    position = re.search(r"at line (\d+), column (\d+)", message)
    if position is None:
        return Problem("end of the file", f"{wrong} ({escaped(lines[-1].strip())})", right)
    line, column = map(int, position.groups())
    there = lines[line - 1].strip() if line <= len(lines) else ""
    return Problem(f"line {line}, column {column}", f"{wrong} ({escaped(there)})", right)
