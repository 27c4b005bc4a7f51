"""Case files of any length: a recorded day over and over, its times shifted so that it ends now."""

from __future__ import annotations

import time
from collections.abc import Iterator
from functools import cache
from itertools import islice
from pathlib import Path
from typing import Any

from msgspec.structs import replace

from orroom.case.events import (
    AnyEvent,
    CaseOpened,
    CaseSignedOff,
    Entry,
    EntryCorrected,
    HarvestStarted,
    Stamp,
)
from orroom.case.plan import Plan
from orroom.files.plan_file import load_plan
from orroom.record.case_file import CaseFile
from orroom.record.events_file import read_events

SAMPLE = Path(__file__).parents[2] / "sample_cases" / "frontal-midscalp"
#: So many rows are written in one commit.
AT_ONCE = 10_000


def sample_plan() -> Plan:
    """The plan of the recorded day."""
    return load_plan(SAMPLE / "plan.toml")


@cache
def _day() -> tuple[Entry, ...]:
    day = read_events(SAMPLE / "events.jsonl")
    return tuple(entry for entry in day if not isinstance(entry.event, CaseSignedOff))


def entries(length: int) -> Iterator[Entry]:
    """So many entries: the day's opening, then all its others but the sign-off again and again.

    A correction cancels the entry of its own repetition; times go on from one repetition to the next, but
    for the harvest's: its harvest left the body once, before all its grafts.
    """
    opening, *body = _day()
    long_ms = body[-1].stamp.at_ms - body[0].stamp.at_ms + 60_000
    repeated = -(-length // len(body))
    shift_ms = int(time.time() * 1000) - body[-1].stamp.at_ms - (repeated - 1) * long_ms
    yield _shifted(opening, 1, 0, shift_ms, shift_ms)
    for number in range(length - 1):
        again, place = divmod(number, len(body))
        yield _shifted(body[place], number + 2, again * len(body), shift_ms + again * long_ms, shift_ms)


def _shifted(entry: Entry, seq: int, by_entries: int, by_ms: int, harvest_ms: int) -> Entry:
    stamp = Stamp(entry.stamp.at_ms + by_ms, entry.stamp.station, seq, entry.stamp.who)
    moved_ms = harvest_ms if isinstance(entry.event, HarvestStarted) else by_ms
    return Entry(seq, stamp, _event(entry.event, by_entries, moved_ms))


def _event(event: AnyEvent, by_entries: int, by_ms: int) -> AnyEvent:
    if isinstance(event, CaseOpened):
        return event
    changes: dict[str, Any] = {}
    for name in ("started_at_ms", "due_at_ms", "starts_at_ms", "until_ms"):
        if (at_ms := getattr(event, name, None)) is not None:
            changes[name] = at_ms + by_ms
    if isinstance(event, EntryCorrected):
        changes["entry"] = event.entry + by_entries
    return replace(event, **changes) if changes else event


def long_case(path: Path, length: int) -> Path:
    """A case file with so many entries, chained as any other; not passed through the rules again."""
    made = entries(length)
    with CaseFile.create(path) as case_file:
        while some := list(islice(made, AT_ONCE)):
            with case_file.turn():
                case_file.append(some)
        case_file.settle()
    return path
