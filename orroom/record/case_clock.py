"""The clock of a case: steady and shared by its stations, or faster than real time in a demo."""

import json
import sqlite3

from msgspec.structs import asdict

from orroom.clock import Clock, FastClock, SteadyClock, WallClock, steady_clock, this_boot
from orroom.record.case_file import CaseFile
from orroom.record.encoding import compact


def case_clock(case_file: CaseFile) -> Clock:
    """The case's clock.

    The first station after a start of the machine sets the moment that all count from, later than every
    entry. A file that is only read before that, or a machine without a steady clock, has the machine's own
    time. Raises ``CaseFileError`` if nothing can be written now.
    """
    fast = case_file.about("fast_clock")
    if fast is not None:
        return FastClock(**json.loads(fast))
    if case_file.read_only:
        return _shared(case_file) or WallClock()
    try:
        with case_file.turn():
            if (shared := _shared(case_file)) is not None:
                return shared
            begun = steady_clock(case_file.latest_ms())
            if begun is None:
                return WallClock()
            case_file.keep_about("steady_clock", compact(asdict(begun)))
            return begun
    except sqlite3.Error as problem:
        raise case_file.cannot_be_written(problem) from problem


def _shared(case_file: CaseFile) -> SteadyClock | None:
    """The steady clock of the case's stations, if one was begun since this start of the machine."""
    shared = case_file.about("steady_clock")
    known = None if shared is None else SteadyClock(**json.loads(shared))
    return known if known is not None and known.boot_id == this_boot() else None
