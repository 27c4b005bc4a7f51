"""What the record kept of what somebody was told, and whether it is whole."""

from __future__ import annotations

import json
import sqlite3
from collections import Counter
from collections.abc import Callable, Iterable
from contextlib import closing
from pathlib import Path
from typing import NamedTuple

from faults.tapper import Told

from orroom.record.case_file import CaseFile
from orroom.record.chain import START, Row, link
from orroom.record.verify import verify


class Reckoning(NamedTuple):
    """How many taps somebody was told of, and how many of them are lost or stand twice."""

    acknowledged: int
    lost: int
    doubled: int


#: Notes in the table what a case kept after a fault; nothing may be lost or doubled.
Kept = Callable[[str, Path, Iterable[Told]], Reckoning]


def rows_of(case: Path) -> list[tuple[Row, str]]:
    """The rows of a case with their hashes, read without the program."""
    with closing(sqlite3.connect(case)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        rows = connection.execute("SELECT * FROM entry ORDER BY seq").fetchall()
    return [(Row(*row[:-1]), row[-1]) for row in rows]


def reckon(case: Path, found: Iterable[Told]) -> Reckoning:
    """Open the case as a station does, check that it is whole, and look for what was told."""
    CaseFile.open(case).close()
    verdict = verify(case)
    assert verdict.intact, verdict.sentence
    rows = rows_of(case)
    _check_whole(rows)
    cut = [
        (row.seq, row.station, row.station_tap, json.loads(row.body)["count"])
        for row, _ in rows
        if row.kind == "grafts_cut"
    ]
    wanted = {each[:4] for each in found}
    times = Counter((station, count) for _, station, _, count in cut)
    return Reckoning(len(wanted), len(wanted - set(cut)), len(cut) - len(times))


def _check_whole(rows: list[tuple[Row, str]]) -> None:
    before = START
    for seq, (row, kept) in enumerate(rows, 1):
        assert row.seq == seq, "a gap"
        assert kept == link(before, row), f"the chain is broken at entry {seq}"
        before = kept
