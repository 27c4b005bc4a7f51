"""A recorded sample case pulled apart: its second half is twenty hours later, on the next day."""

from __future__ import annotations

from msgspec.structs import fields, replace
from two_lots import FOLDER

from orroom.case.events import Entry
from orroom.record.events_file import read_events

LATER_MS = 20 * 3_600_000


def two_days(name: str = "frontal-midscalp") -> list[Entry]:
    """The entries of a sample case; from the middle one on, every time in them is twenty hours later."""
    entries = read_events(FOLDER.parent / name / "events.jsonl")
    half = len(entries) // 2
    return [*entries[:half], *map(_later, entries[half:])]


def _later(entry: Entry) -> Entry:
    times = {
        each.name: at_ms + LATER_MS
        for each in fields(entry.event)
        if each.name.endswith("at_ms") and (at_ms := getattr(entry.event, each.name)) is not None
    }
    stamp = replace(entry.stamp, at_ms=entry.stamp.at_ms + LATER_MS)
    return replace(entry, stamp=stamp, event=replace(entry.event, **times))
