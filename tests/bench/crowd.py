"""Eight stations that enter as fast as they can, beside plain SQLite with its busy timeout."""

from __future__ import annotations

import json
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

from orroom.record.case_file import CaseFile
from tests.bench.measuring import Row, SyncFloor, Target, Topic
from tests.bench.sitters import PEERS, case_of

MEMBERS = 8


@dataclass(slots=True)
class Crowd:
    """What eight processes told: ms of each tap that was acknowledged, errors, taps a second, taps lost."""

    took: list[float] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)
    per_second: list[float] = field(default_factory=list)
    lost: int = 0


def measure(folder: Path, *, quick: bool) -> Topic:
    """Rounds in turn: eight stations, eight plain connections."""
    topic = Topic(
        "8 stations flat out",
        "Each of eight processes asks for its next entry once the one before is acknowledged; each wait is "
        "from asking to acknowledged. Lost: acknowledged and not in the file. The bare sync is measured "
        "between the rounds, when nobody writes; beside it, eight processes' worth of plain SQLite: BEGIN "
        "IMMEDIATE, one row, COMMIT with full sync, busy timeout 5 s.",
    )
    desks, plain = Crowd(), Crowd()
    floor = SyncFloor(folder)
    synced: list[float] = []
    for number in range(1 if quick else 3):
        synced += [floor.once_ms() for _ in range(200)]
        _round(desks, case_of(folder / f"crowd-{number}.orroom"), "desk", 40 if quick else 200)
        _round(plain, _plain_file(folder / f"plain-{number}.db"), "plain", 40 if quick else 200)
    floor_row = Row("bare write and sync, alone", synced)
    topic.rows += [floor_row, Row("a tap of 8 stations", desks.took), Row("8 plain connections", plain.took)]
    topic.rows += [
        Row("8 stations: taps a second", desks.per_second, "1/s"),
        Row("8 plain connections: taps a second", plain.per_second, "1/s"),
    ]
    topic.targets += [
        Target("errors", len(desks.errors), 0, ""),
        Target("lost", desks.lost, 0, ""),
        Target("worst wait over bare syncs, p50", max(desks.took) / floor_row.p50, 60),
    ]
    topic.notes += [
        f"plain: {len(plain.errors)} errors, {plain.lost} lost, worst wait "
        f"{max(plain.took) / floor_row.p50:.0f} bare syncs",
        f"eight bare syncs one after the other, {MEMBERS * floor_row.p50:.1f} ms, are the least that the "
        "last of eight waits if none shares a commit",
        *sorted(set(desks.errors)),
    ]
    return topic


def _plain_file(path: Path) -> Path:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("CREATE TABLE tap (seq INTEGER PRIMARY KEY, who TEXT, body TEXT)")
    return path


def _round(crowd: Crowd, path: Path, how: str, times: int) -> None:
    before = _length(path, how)
    members = [
        subprocess.Popen(
            [sys.executable, str(PEERS / "member.py"), str(path), str(times), how],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        for _ in range(MEMBERS)
    ]
    for member in members:
        assert member.stdout is not None
        assert member.stdout.readline() == "READY\n"
    start = time.monotonic()
    for member in members:
        assert member.stdin is not None
        member.stdin.write("\n")
        member.stdin.flush()
    found = [json.loads(member.communicate()[0]) for member in members]
    crowd.per_second.append(MEMBERS * times / (max(each["ended"] for each in found) - start))
    acknowledged = sum(len(each["took"]) for each in found)
    for each in found:
        crowd.took += each["took"]
        crowd.errors += each["errors"]
    joined_and_left = 2 * MEMBERS if how == "desk" else 0
    crowd.lost += acknowledged + joined_and_left - (_length(path, how) - before)


def _length(path: Path, how: str) -> int:
    if how == "desk":
        with CaseFile.open(path, read_only=True) as case_file:
            return case_file.seal().seq
    with closing(sqlite3.connect(path)) as connection:
        return int(connection.execute("SELECT count(*) FROM tap").fetchone()[0])
