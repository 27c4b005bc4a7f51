"""Taps that never reached the disk, written elsewhere when a station has to end, and taken back later.

One tap a line, JSON: when, at which station, its number there, by whom, and what was asked. A tap that did
reach the case after all is known by its station and number and is not taken twice.
"""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Iterable
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import Any, get_args

from pydantic import TypeAdapter, ValidationError

from orroom.case.commands import AnyCommand, Command
from orroom.case.events import Stamp
from orroom.errors import CaseFileError, EventsInvalidError
from orroom.record.events_file import ordinary_text

COMMANDS: dict[str, type[Command]] = {each.__name__: each for each in get_args(AnyCommand)}

Tap = tuple[Stamp, Command]


@cache
def _adapter(name: str) -> TypeAdapter[Any]:
    return TypeAdapter(COMMANDS[name])


def write_rescue(case: Path, taps: Iterable[Tap]) -> Path:
    """Write taps to a new file beside the case, or else at home, or else among temporary files.

    Raises ``CaseFileError`` if none of these takes it.
    """
    lines = "".join(f"{_line(stamp, command)}\n" for stamp, command in taps)
    for folder in (case.parent, Path.home(), Path(tempfile.gettempdir())):
        with suppress(OSError):
            descriptor, name = tempfile.mkstemp(".jsonl", f"{case.stem}.rescue-", folder)
            with os.fdopen(descriptor, "w", encoding="utf-8") as file:
                file.write(lines)
                file.flush()
                os.fsync(file.fileno())
            return Path(name)
    raise CaseFileError("The taps that wait can be written nowhere.", "Count them on paper.")


def _line(stamp: Stamp, command: Command) -> str:
    name = type(command).__name__
    fields = _adapter(name).dump_python(command, mode="json")
    values = {
        "at_ms": stamp.at_ms,
        "station": stamp.station,
        "tap": stamp.tap,
        "who": stamp.who,
        "command": name,
        "fields": fields,
    }
    return json.dumps(values, ensure_ascii=False, separators=(",", ":"))


def read_rescue(path: Path) -> list[Tap]:
    """The taps of a rescue file.

    Raises ``EventsInvalidError`` naming the line, or ``CaseFileError`` for the file.
    """
    lines = ordinary_text(path, "a rescue file").split("\n")
    return [_tap(line, f"{path}, line {number}") for number, line in enumerate(lines, 1) if line.strip()]


def _tap(line: str, where: str) -> Tap:
    try:
        raw = json.loads(line)
        stamp = Stamp(int(raw["at_ms"]), str(raw["station"]), int(raw["tap"]), str(raw["who"]))
        command = _adapter(raw["command"]).validate_json(json.dumps(raw["fields"]), strict=True)
        if max(abs(stamp.at_ms), abs(stamp.tap)) >= 2**63:
            raise ValueError("a number that no case file can hold")
    except (ValueError, KeyError, TypeError, OverflowError, RecursionError, ValidationError) as wrong:
        raise EventsInvalidError(f"{where}: not a tap.", "Give a rescue file; nothing was taken.") from wrong
    return stamp, command
