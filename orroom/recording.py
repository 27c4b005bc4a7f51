"""Recording without a station: one command, rescued taps, or a whole case from elsewhere. One turn each."""

import sqlite3
from collections.abc import Callable, Sequence
from itertools import count as counting
from typing import Final

from orroom.case.commands import Command, TellDifference
from orroom.case.decide import decide
from orroom.case.events import AnyEvent, Entry, Stamp
from orroom.case.evolve import evolve, fold
from orroom.case.rules import OF_FORM, Refusal, refusal_of
from orroom.case.state import CaseState
from orroom.errors import CaseFileError, EntryRefusedError, EventsInvalidError
from orroom.record.case_clock import case_clock
from orroom.record.case_file import CaseFile
from orroom.record.rescue import Rescued

#: What the program itself finds out about a record is entered under this name.
OF_NO_STATION: Final = "record"


def record_once(case_file: CaseFile, command: Command, who: str) -> Entry:
    """Record one command without staying at a station, as the command line does.

    Raises ``EntryRefusedError`` if the case refuses it, ``CaseFileError`` if it cannot be written.
    """
    clock = case_clock(case_file)

    def stamp(state: CaseState) -> Stamp:
        used = {entry.stamp.tap for entry in state.log if entry.stamp.station == "desk"}
        return Stamp(clock.now_ms(), "desk", next(tap for tap in counting(1) if tap not in used), who)

    entry = recorded(case_file, command, stamp).log[-1]
    case_file.settle()
    return entry


def recorded(case_file: CaseFile, command: Command, stamp_in: Callable[[CaseState], Stamp]) -> CaseState:
    """The state after ``command`` was recorded as the newest entry, in one turn."""
    try:
        with case_file.turn():
            state = fold(case_file.entries_after(0))
            stamp = stamp_in(state)
            state = _with_difference(case_file, state, stamp)
            event = decide(state, command, stamp)
            if isinstance(event, Refusal):
                raise EntryRefusedError(event.sentence, event.right)
            return _appended(case_file, state, stamp, event)
    except sqlite3.Error as problem:
        raise case_file.cannot_be_written(problem) from problem


def _appended(case_file: CaseFile, state: CaseState, stamp: Stamp, event: AnyEvent) -> CaseState:
    entry = Entry(state.seq + 1, stamp, event)
    case_file.append([entry])
    return evolve(state, entry)


def _with_difference(case_file: CaseFile, state: CaseState, by: Stamp) -> CaseState:
    """The record after it was entered, if so, that it is not the one whose seal is anchored; inside a turn.

    Every writer to a case passes here before the first entry. It is of no station: nobody asked for it.
    """
    differed = case_file.difference()
    if differed is None:
        return state
    tap = 1 + sum(entry.stamp.station == OF_NO_STATION for entry in state.log)
    stamp = Stamp(by.at_ms, OF_NO_STATION, tap, by.who)
    event = decide(state, TellDifference(differed=differed), stamp)
    return state if isinstance(event, Refusal) else _appended(case_file, state, stamp, event)


def record_rescued(case_file: CaseFile, rescued: Rescued) -> tuple[int, int, list[str]]:
    """Take rescued taps into their case: how many were taken, how many it had, why others were refused.

    Raises ``CaseFileError`` for the taps of another case, and if they cannot be written; then none is taken.
    """
    taken, known, refused = 0, 0, []
    try:
        with case_file.turn():
            state = fold(case_file.entries_after(0))
            if rescued.case is not None and rescued.case != state.plan.case:
                raise CaseFileError(
                    f"{case_file.path} is case {state.plan.case}; these are taps of case {rescued.case}.",
                    "Give that case's file; nothing was added.",
                )
            state = _with_difference(case_file, state, rescued.taps[0][0])
            stations = {entry.stamp.station for entry in state.log}
            for stamp, command in rescued.taps:
                kept = case_file.entry_of_tap(stamp.station, stamp.tap)
                if kept is not None and kept.stamp == stamp:
                    known += 1
                    continue
                event = decide(state, command, stamp)
                if kept is not None:
                    event = Refusal("", "Another tap already has that number.", "Is this the right case?")
                elif stamp.station not in stations:
                    event = Refusal("", "That station was never open here.", "Is this the right case?")
                if isinstance(event, Refusal):
                    refused.append(f"tap {stamp.tap} of {stamp.station}: {event}")
                    continue
                state = _appended(case_file, state, stamp, event)
                taken += 1
    except sqlite3.Error as problem:
        raise case_file.cannot_be_written(problem) from problem
    case_file.settle()
    return taken, known, refused


def record_all(case_file: CaseFile, entries: Sequence[Entry], where: str) -> None:
    """Take recorded entries over into an empty case file if they pass the rules of form.

    Raises ``EventsInvalidError`` naming the first entry that is out of order or refused; then none is kept.
    """
    state = CaseState()
    taps: set[tuple[str, int]] = set()
    for line, entry in enumerate(entries, 1):
        tap = (entry.stamp.station, entry.stamp.tap)
        refusal = refusal_of(state, entry.event, entry.stamp, OF_FORM)
        if entry.seq != line:
            refusal = Refusal("", f"This is entry {entry.seq}.", f"Expected entry {line}.")
        elif tap in taps:
            refusal = Refusal("", f"Tap {tap[1]} of {tap[0]} appears twice.", "")
        if refusal is not None:
            raise EventsInvalidError(f"{where}, line {line}: {refusal}", "Nothing was imported.")
        taps.add(tap)
        state = evolve(state, entry)
    try:
        with case_file.turn():
            case_file.append(entries)
        case_file.settle()
    except sqlite3.Error as problem:
        raise CaseFileError(
            f"{case_file.path} cannot be written: {problem}.", "Is the disk full?"
        ) from problem
