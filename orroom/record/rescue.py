"""Taps that never reached the disk, written elsewhere when a station has to end, and added later.

One tap a line, JSON: of which case, when, at which station, its number there, by whom, and what was asked. A
tap that did reach the case after all is known there and is not taken twice.
"""

import json
import os
import tempfile
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from typing import Final

from msgspec import MsgspecError, Struct, convert, to_builtins
from msgspec.structs import replace

from orroom.case import commands
from orroom.case.commands import Command, OpenCase, RevisePlan, TakeGrafts
from orroom.case.events import Stamp
from orroom.case.plan import Plan
from orroom.errors import CaseFileError, EventsInvalidError
from orroom.files.rights import file_mode
from orroom.record.events_file import ordinary_text

#: What reading a line that holds no tap may raise.
NO_TAP = (LookupError, ValueError, TypeError, AttributeError, ArithmeticError, RecursionError, MsgspecError)

#: Every command by its name, as a rescue file has it.
COMMANDS: Final[dict[str, type[Command]]] = {
    name: each
    for name, each in vars(commands).items()
    if isinstance(each, type) and issubclass(each, Command) and each not in {Command, TakeGrafts}
}
#: What a command was called in the rescue files of earlier versions, and is today.
EARLIER_COMMANDS: Final = {"ChangeShift": "HandOver"}

Tap = tuple[Stamp, Command]


class Rescued(Struct, frozen=True):
    """What a rescue file holds: of which case (``None``: it does not say), and the taps in order."""

    case: str | None
    taps: list[Tap]


def write_rescue(case: Path, code: str, taps: Iterable[Tap]) -> Path:
    """Write taps beside the case, at home or among temporary files. Raises ``CaseFileError`` if none can."""
    lines = "".join(f"{_line(code, stamp, command)}\n" for stamp, command in taps)
    for folder in (case.parent, Path.home(), Path(tempfile.gettempdir())):
        with suppress(OSError):
            descriptor, name = tempfile.mkstemp(".jsonl", f"{case.stem}.rescue-", folder)
            try:
                with os.fdopen(descriptor, "w", encoding="utf-8") as file:
                    Path(name).chmod(file_mode(Path(name)))
                    file.write(lines)
                    file.flush()
                    os.fsync(file.fileno())
            except OSError:
                Path(name).unlink()  # an empty one would pass for all there is
                raise
            return Path(name)
    raise CaseFileError("The waiting taps could not be saved anywhere.", "Count them on paper.")


def _line(code: str, stamp: Stamp, command: Command) -> str:
    values = {
        "case": code,
        "at_ms": stamp.at_ms,
        "station": stamp.station,
        "tap": stamp.tap,
        "who": stamp.who,
        "command": type(command).__name__,
        "fields": to_builtins(command),
    }
    return json.dumps(values, ensure_ascii=False, separators=(",", ":"))


def read_rescue(path: Path) -> Rescued:
    """The taps of a rescue file, all of one case. Raises ``EventsInvalidError`` or ``CaseFileError``."""
    lines = ordinary_text(path, "a rescue file").split("\n")
    cases: dict[str | None, None] = {}
    taps = []
    for number, line in enumerate(lines, 1):
        if line.strip():
            case, tap = _tap(line, f"{path}, line {number}")
            cases[case] = None
            taps.append(tap)
    if not taps:
        raise EventsInvalidError(
            f"{path} has no taps in it.",
            "Look for another rescue file in your home folder or among temporary files.",
        )
    if len(cases) > 1:
        raise EventsInvalidError(
            f"{path} has taps of several cases.", "Give one file per case; nothing was added."
        )
    return Rescued(next(iter(cases), None), taps)


def _tap(line: str, where: str) -> tuple[str | None, Tap]:
    try:
        raw = json.loads(line)
        case = raw.get("case")
        if not isinstance(case, str | None):
            raise ValueError("no case code")
        stamp = Stamp(int(raw["at_ms"]), str(raw["station"]), int(raw["tap"]), str(raw["who"]))
        name = raw["command"]
        command = convert(raw["fields"], COMMANDS[EARLIER_COMMANDS.get(name, name)])
        if isinstance(command, OpenCase | RevisePlan):
            from orroom.files.checker import checked  # a station that ends writes such a file and reads none
            from orroom.files.old_names import in_todays_names

            plan, _ = checked(in_todays_names(raw["fields"]["plan"]), Plan)
            if plan is None:
                raise ValueError("no plan")
            command = replace(command, plan=plan)
        if max(abs(stamp.at_ms), abs(stamp.tap)) >= 2**63:
            raise ValueError("a number too large for a case file")
    except NO_TAP as wrong:
        raise EventsInvalidError(f"{where}: not a tap.", "Give a rescue file; nothing was added.") from wrong
    return case, (stamp, command)
