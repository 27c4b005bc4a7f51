"""Replay: how fast a record becomes a state, what memory that takes, and how fast any place is found."""

from __future__ import annotations

import json
import random
import sqlite3
import statistics
import subprocess
import sys
from contextlib import closing
from pathlib import Path

from orroom.case.evolve import fold
from orroom.case.replay import Replay
from orroom.record.case_file import CaseFile
from tests.bench.long_cases import long_case
from tests.bench.measuring import Row, Target, Topic, interleaved, took_ms
from tests.bench.sitters import PEERS
from tests.bench.ways_of_counting import OURS, STREAMED, WAYS


def measure(folder: Path, *, quick: bool) -> Topic:
    """10,000 entries in this process, many more in processes of their own."""
    many = 50_000 if quick else 1_000_000
    topic = Topic(
        "replay",
        "From opening the file until the state of all its entries: rows read, bodies decoded and checked, "
        "entries folded. Beside it the least that could be called counting, without corrections. Entries of "
        "all kinds, a recorded day over and over. A replay keeps its log; `verify` adds up one by one. "
        "Memory is the most that a process of its own held resident, over what it held before.",
    )
    short = long_case(folder / "short.orroom", 10_000)
    variants = {name: lambda way=way: took_ms(lambda: way(short)) for name, way in WAYS.items()}
    found = interleaved(variants, 5 if quick else 20)
    rows = {name: Row(name, took, group="10,000 entries") for name, took in found.items()}
    topic.rows += rows.values()
    topic.targets.append(Target("10,000 entries, p50", rows[OURS].p50, 40, "ms"))
    long = long_case(folder / "long.orroom", many)
    known: dict[str, list[dict[str, float]]] = {name: [] for name in WAYS}
    for _ in range(1 if quick else 3):
        for name in WAYS:
            known[name].append(_alone(long, name))
    group = f"{many:,} entries"
    for name, each in known.items():
        topic.rows.append(Row(name, [run["per_second"] / 1000 for run in each], "1,000/s", group))
    for name, each in known.items():
        topic.rows.append(Row(f"{name}, memory", [run["more_mb"] for run in each], "MB", group))
    few_mb = _alone(short, STREAMED)["more_mb"]
    many_mb = known[STREAMED][-1]["more_mb"]
    per_second = statistics.median(run["per_second"] for run in known[STREAMED])
    topic.targets += [
        Target(f"{group}, p50", per_second, 350_000, "/s", at_least=True),
        Target(f"memory of {group} over that of 10,000", many_mb / few_mb, 1.5),
    ]
    topic.notes.append(
        f"one by one: 10,000 entries {few_mb:.1f} MB, {group} {many_mb:.1f} MB; what grows are the tally's "
        "own batches and which entries are corrected: a million entries are a year of days in one case"
    )
    topic.notes.append(
        f"of the first 3,000 bodies, about a day, {_different(short, 3_000):,} differ: each is decoded once"
    )
    return topic


def _different(path: Path, first: int) -> int:
    """How many different bodies the first entries of a file have."""
    counting = "SELECT count(*) FROM (SELECT DISTINCT kind, body FROM entry WHERE seq <= ?)"
    with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as connection:
        return int(connection.execute(counting, (first,)).fetchone()[0])


def _alone(path: Path, name: str) -> dict[str, float]:
    """Entries a second and MB of one variant in a process of its own."""
    program = [sys.executable, str(PEERS / "folder.py"), str(path), str(list(WAYS).index(name))]
    found: dict[str, float] = json.loads(subprocess.run(program, check=True, capture_output=True).stdout)
    return found


def measure_seeking(folder: Path, *, quick: bool) -> Topic:
    """Random places of a 10,000-entry case."""
    topic = Topic(
        "seek in replay",
        "From a random entry's number to the state after it, after the replay was opened and its end shown "
        "once; beside folding all entries up to there.",
    )
    with CaseFile.open(long_case(folder / "sought.orroom", 10_000), read_only=True) as case_file:
        entries = case_file.entries_after(0)
    opened: list[Replay] = []

    def open_it() -> None:
        opened.append(Replay(entries))
        opened[0].state_at(len(entries))

    first_ms = took_ms(open_it)
    chance = random.Random(1)
    seqs = [chance.randint(0, len(entries)) for _ in range(50 if quick else 300)]
    asked, folded = iter(seqs), iter(seqs)
    found = interleaved(
        {
            "a place, sought": lambda: took_ms(lambda: opened[0].state_at(next(asked))),
            "a place, folded from the start": lambda: took_ms(lambda: fold(entries[: next(folded)])),
        },
        len(seqs),
    )
    topic.rows += [Row(name, took) for name, took in found.items()]
    topic.targets.append(Target("p99", topic.rows[0].p99, 10, "ms"))
    topic.notes.append(f"opening it and going to its end once, entries read already: {first_ms:.0f} ms")
    assert all(opened[0].state_at(seq).tally == fold(entries[:seq]).tally for seq in seqs[:5])
    return topic
