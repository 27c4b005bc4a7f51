"""Whole cases as text: ``events.jsonl`` out and in, losslessly."""

import json
from pathlib import Path

from msgspec.structs import replace

from orroom.case.events import CaseOpened, Entry, PlanRevised
from orroom.errors import CaseFileError, EventsInvalidError
from orroom.record.encoding import entry_of

MAX_BYTES = 100_000_000
MAX_LINE = 1_000_000


def read_events(path: Path) -> list[Entry]:
    """Entries of an events file. Raises ``EventsInvalidError``, ``PlanInvalidError``, ``CaseFileError``."""
    from orroom.files.old_names import in_todays_names
    from orroom.files.plan_file import plan_from_raw  # a station reads no events, only what was rescued
    from orroom.files.plan_rules import OF_FORM

    entries = []
    for number, line in enumerate(
        ordinary_text(path, "an events file written by orroom export").split("\n"), 1
    ):
        where = f"{path}, line {number}"
        if not line.strip():
            continue
        if len(line) > MAX_LINE:
            raise EventsInvalidError(
                f"{where}: longer than {MAX_LINE:,} characters.", "Nothing was imported."
            )
        entry = entry_of(line, where)
        if isinstance(entry.event, CaseOpened | PlanRevised):  # kept as the checks leave it: texts composed
            plan = plan_from_raw(in_todays_names(json.loads(line)["event"]["plan"]), where, OF_FORM)
            entry = replace(entry, event=replace(entry.event, plan=plan))
        entries.append(entry)
    if not entries:
        raise EventsInvalidError(f"{path} has no entries.", "Give an events file written by orroom export.")
    return entries


def ordinary_text(path: Path, what: str) -> str:
    """The text of an ordinary UTF-8 file of reasonable size; ``what`` names what it should be.

    Raises ``CaseFileError`` or ``EventsInvalidError`` saying plainly why there is none.
    """
    try:
        if path.is_dir():
            raise CaseFileError(f"{path} is a folder.", f"Give {what}.")
        if path.exists() and not path.is_file():  # a pipe or a device would be read for ever
            raise CaseFileError(f"{path} is not an ordinary file.", f"Give {what}.")
        if path.stat().st_size > MAX_BYTES:
            raise EventsInvalidError(
                f"{path} is larger than {MAX_BYTES:,} bytes.", "No case file is that large."
            )
        return path.read_text("utf-8")
    except FileNotFoundError:
        raise CaseFileError(f"{path} does not exist.", f"Give {what}.") from None
    except UnicodeDecodeError as wrong:
        raise EventsInvalidError(
            f"{path} is not UTF-8 at byte {wrong.start}.", f"Give {what} saved as UTF-8; nothing was read."
        ) from None
    except OSError as problem:
        raise CaseFileError(f"{path} cannot be read: {problem.strerror}.", "Check its owner.") from None
