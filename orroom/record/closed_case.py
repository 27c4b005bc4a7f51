"""A case that is signed off and intact, as it is taken into what a clinic keeps across cases."""

import sqlite3
from pathlib import Path

from orroom.case.evolve import fold
from orroom.case.state import CaseState
from orroom.errors import OrroomError, RecordNotIntactError
from orroom.record.case_file import CaseFile
from orroom.record.chain import Seal
from orroom.record.opening import error_of
from orroom.record.verify import verify


def ends_of(case: Path) -> tuple[str, Seal]:
    """The hash of a case's first entry, which no other case has, and its seal."""
    try:
        with CaseFile.open(case, read_only=True) as case_file:
            begun, seal = case_file.hash_at(1), case_file.seal()
    except sqlite3.DatabaseError as damage:
        raise error_of(case, damage) from damage
    if begun is None:
        raise OrroomError(f"{case} has no entries.", "Sign it off first, then add it.")
    return begun, seal


def closed_case(case: Path, seal: Seal) -> CaseState:
    """A case as it stands at its seal; only one that is intact and signed off."""
    verdict = verify(case, seal)
    if not verdict.intact:
        raise RecordNotIntactError(f"{case} is not intact: {verdict.sentence}", "It was not added.")
    with CaseFile.open(case, read_only=True) as case_file:
        state = fold(case_file.entries_after(0))
    if state.seq != seal.seq:
        raise OrroomError(f"{case} is being written to.", "Close all stations first, then add it.")
    if state.tally.plan is None or not state.tally.signed_off:
        raise OrroomError(f"{case} is not signed off.", "Sign it off first: orroom sign-off CASE.orroom.")
    return state
