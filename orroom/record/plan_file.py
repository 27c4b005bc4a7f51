"""A plan read from its TOML file, or one clear error that lists everything wrong with it."""

from __future__ import annotations

import re
import stat
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Final

from orroom.case.plan import Plan
from orroom.errors import OrroomError, PlanInvalidError, Problem
from orroom.record.plan_problems import checked, plan_problems
from orroom.record.plan_words import escaped, plan_schema

__all__ = ["load_plan", "plan_from_raw", "plan_problems", "plan_schema"]

MAX_PLAN_BYTES: Final = 1_000_000

_KEY_TWICE: Final = ("the same key is given twice", "keep one of the two")
_ADDED_LATER: Final = (
    "adds to a table that is complete already",
    "write everything of that table in one place",
)
_HEADING: Final = ("a heading is not closed", "write [name] for a table, [[name]] for an entry of a list")
_INVISIBLE: Final = (
    "holds a character that cannot stand here",
    'remove it; a line break in text is written "\\n"',
)
_OPEN_TEXT: Final = ("text is not closed", "add the quotation marks at its end")
_STATEMENT: Final = (
    "is no key, heading or comment",
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
        "something follows the value",
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
    "Escaped character": ("a \\u code for no character", "write the character itself"),
    "Invalid date": ("there is no such date or time", "put text in quotation marks"),
    "Expected ']": _HEADING,
    "Invalid statement": _STATEMENT,
    "Invalid initial": _STATEMENT,
}
_NOT_TOML: Final = ("cannot be read as TOML", "compare it with a plan of sample_cases")


def load_plan(path: Path) -> Plan:
    """The plan in a TOML file.

    Raises ``OrroomError`` if the file cannot be read at all, and ``PlanInvalidError`` with every problem that
    was found in it.
    """
    return plan_from_raw(_parsed(_read(path), str(path)), str(path))


def plan_from_raw(raw: Mapping[str, object], name: str) -> Plan:
    """The plan in what was read from TOML or from a recorded event; ``name`` is where that came from.

    Raises ``PlanInvalidError`` with every problem found.
    """
    problems = plan_problems(raw)
    if problems:
        raise PlanInvalidError(name, problems)
    return checked(raw)


def _read(path: Path) -> bytes:
    try:
        mode = path.stat().st_mode
        if stat.S_ISDIR(mode):
            raise OrroomError(f"{path} is a folder, not a plan.", "Give the plan.toml inside it.")
        if not stat.S_ISREG(mode):
            raise OrroomError(f"{path} is not an ordinary file.", "Give a plan in a TOML file.")
        with path.open("rb") as file:
            data = file.read(MAX_PLAN_BYTES + 1)
    except FileNotFoundError:
        raise OrroomError(f"There is no file {path}.", "Check the path of the plan.") from None
    except PermissionError:
        raise OrroomError(f"{path} may not be read.", "Ask its owner for permission to read it.") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise OrroomError(f"{path} cannot be read: {reason}.", "Check the path of the plan.") from None
    if len(data) > MAX_PLAN_BYTES:
        raise OrroomError(f"{path} is larger than 1 MB.", "A plan has a few kilobytes; is this one?")
    return data


def _parsed(data: bytes, name: str) -> dict[str, object]:
    try:
        text = data.decode("utf-8-sig")
        return tomllib.loads(text)
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        problem = Problem(f"line {line}", "is not UTF-8 text", "save the file with the encoding UTF-8")
    except tomllib.TOMLDecodeError as error:
        problem = _syntax_problem(str(error), text)
    except ValueError:  # the only other one it raises
        problem = Problem(
            "plan", "holds a number with far too many digits", "give a number that can be meant"
        )
    except RecursionError:
        problem = Problem("plan", "is nested too deeply", "compare it with a plan of sample_cases")
    raise PlanInvalidError(name, [problem])


def _syntax_problem(message: str, text: str) -> Problem:
    """The one problem at which reading stops, with its line and column and what stands there."""
    wrong, right = next(
        (words for start, words in _TOML_WORDS.items() if message.startswith(start)), _NOT_TOML
    )
    lines = text.replace("\r\n", "\n").rstrip("\n").split("\n")
    position = re.search(r"at line (\d+), column (\d+)", message)
    if position is None:
        return Problem("end of the file", f"{wrong} ({escaped(lines[-1].strip())})", right)
    line, column = map(int, position.groups())
    there = lines[line - 1].strip() if line <= len(lines) else ""
    return Problem(f"line {line}, column {column}", f"{wrong} ({escaped(there)})", right)
