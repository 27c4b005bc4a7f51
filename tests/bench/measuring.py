"""What all benchmarks share: quantiles, ratios, targets, tables, and what machine they were taken on."""

from __future__ import annotations

import os
import platform
import random
import sqlite3
import statistics
import tempfile
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

LIBRARIES = ("textual", "rich", "pydantic", "numpy", "highspy", "sqlite-utils", "eventsourcing")


@dataclass(frozen=True, slots=True)
class Row:
    """One thing measured, in ``unit``; its median is told over that of the first of its ``group``."""

    what: str
    values: Sequence[float]
    unit: str = "ms"
    group: str = ""

    @property
    def p50(self) -> float:
        """The median."""
        return statistics.median(self.values)

    @property
    def p99(self) -> float:
        """The 99th percentile; of few values it lies between the last two."""
        return quantile(self.values, 0.99)

    @property
    def worst(self) -> float:
        """The largest."""
        return max(self.values)


@dataclass(frozen=True, slots=True)
class Target:
    """What was to be reached beside what was; ``at_least`` where more is better."""

    what: str
    value: float
    limit: float
    unit: str = "×"
    at_least: bool = False

    @property
    def met(self) -> bool:
        """Whether it was."""
        return self.value >= self.limit if self.at_least else self.value <= self.limit

    def words(self) -> str:
        """The target as a table has it."""
        return f"{'≥' if self.at_least else '≤'} {number(self.limit)} {self.unit}"


@dataclass(slots=True)
class Topic:
    """One row of the issue's table: ``span`` says what lies between the two looks at the clock."""

    title: str
    span: str
    rows: list[Row] = field(default_factory=list)
    targets: list[Target] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def quantile(values: Sequence[float], share: float) -> float:
    """The value below which ``share`` of ``values`` lie, between neighbours in proportion."""
    ordered = sorted(values)
    place = share * (len(ordered) - 1)
    low = int(place)
    high = min(low + 1, len(ordered) - 1)
    return ordered[low] + (ordered[high] - ordered[low]) * (place - low)


def took_ms(work: Callable[[], object]) -> float:
    """How long ``work`` takes, in ms."""
    start = time.perf_counter()
    work()
    return (time.perf_counter() - start) * 1000


def interleaved(
    variants: Mapping[str, Callable[[], float]], times: int, pause: Callable[[], float] | None = None
) -> dict[str, list[float]]:
    """What each variant answers, ``times`` times: A B C A B C …, so that a busy moment falls on all of them.

    ``pause`` says how many seconds to rest before each, if at all.
    """
    found: dict[str, list[float]] = {name: [] for name in variants}
    for _ in range(times):
        for name, variant in variants.items():
            if pause is not None:
                time.sleep(pause())
            found[name].append(variant())
    return found


def hand_pause() -> float:
    """Between two taps of several people: 20 to 50 ms, in s."""
    return random.uniform(0.020, 0.050)


class SyncFloor:
    """The least that a durable entry takes on this disk: 200 bytes behind a file's end, and a full sync."""

    def __init__(self, folder: Path, *, data_only: bool = False) -> None:
        self._file = (folder / f"floor-{'data' if data_only else 'all'}").open("ab", buffering=0)
        self._sync = os.fdatasync if data_only else os.fsync

    def once(self) -> None:
        """Write and sync."""
        self._file.write(b"x" * 200)
        self._sync(self._file.fileno())

    def once_ms(self) -> float:
        """Write and sync; how long that took."""
        return took_ms(self.once)


def machine(folder: Path) -> dict[str, str]:
    """Processor, disk, versions, journal of a case file, and what a bare sync takes: all in words."""
    from orroom.record.case_file import CaseFile

    with tempfile.TemporaryDirectory(dir=folder) as name:
        floor = SyncFloor(Path(name))
        synced = Row("", [floor.once_ms() for _ in range(200)])
        with CaseFile.create(Path(name) / "journal.orroom") as case_file:
            journal = case_file._connection.execute("PRAGMA journal_mode").fetchone()[0]
    system = platform.uname()
    processor = _first_of("/proc/cpuinfo", "model name") or system.machine
    memory_kb = (_first_of("/proc/meminfo", "MemTotal") or "0").split()[0]
    return {
        "machine": f"{processor}, {os.cpu_count()} cores, {int(memory_kb) / 1024**2:.0f} GiB memory",
        "system": f"{system.system} {system.release}, load {os.getloadavg()[0]:.1f} at the start",
        "disk": f"{_disk_of(folder)}; bare write and sync {synced.p50:.2f} ms p50, {synced.p99:.2f} ms p99",
        "record": f"SQLite {sqlite3.sqlite_version}, journal {journal}, synchronous "
        f"{'FULL' if journal == 'wal' else 'EXTRA'}",
        "python": platform.python_version(),
        "libraries": ", ".join(f"{name} {_version(name)}" for name in LIBRARIES),
    }


def _first_of(path: str, name: str) -> str | None:
    with suppress(OSError):
        for each in Path(path).read_text("utf-8").splitlines():
            if each.startswith(name):
                return each.partition(":")[2].strip()
    return None


def _disk_of(folder: Path) -> str:
    """The kind of the file system that a folder is on."""
    found = ("?", "")
    with suppress(OSError):
        for each in Path("/proc/mounts").read_text("utf-8").splitlines():
            _, where, kind, *_ = each.split()
            if folder.resolve().is_relative_to(where) and len(where) > len(found[1]):
                found = (kind, where)
    return found[0]


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "not there"


def number(value: float) -> str:
    """A figure with three digits that count, as a person reads it."""
    if value >= 1000:
        return f"{value:,.0f}"
    return f"{value:.3g}" if value >= 100 else f"{value:.2f}".rstrip("0").rstrip(".")


def as_json(about: Mapping[str, str], topics: Mapping[str, Topic]) -> dict[str, Any]:
    """All that was measured, as JSON values."""
    return {
        "about": dict(about),
        "topics": {
            name: {
                "title": topic.title,
                "span": topic.span,
                "rows": [
                    {
                        "what": row.what,
                        "group": row.group,
                        "unit": row.unit,
                        "times": len(row.values),
                        "p50": round(row.p50, 4),
                        "p99": round(row.p99, 4),
                        "worst": round(row.worst, 4),
                        "p50_over_first": None if ratio is None else round(ratio, 4),
                    }
                    for row, ratio in zip(topic.rows, ratios(topic.rows), strict=True)
                ],
                "targets": [
                    {
                        "what": target.what,
                        "value": round(target.value, 4),
                        "target": target.words(),
                        "met": target.met,
                    }
                    for target in topic.targets
                ],
                "notes": topic.notes,
            }
            for name, topic in topics.items()
        },
    }


def as_markdown(about: Mapping[str, str], topics: Mapping[str, Topic]) -> str:
    """All that was measured, as Markdown: the targets first, then each topic with its rows."""
    lines = [f"- {name}: {words}" for name, words in about.items()]
    lines += ["", "| what | target | measured | met |", "|---|---|---|---|"]
    for topic in topics.values():
        for target in topic.targets:
            measured = f"{number(target.value)} {target.unit}"
            lines.append(
                f"| {topic.title}: {target.what} | {target.words()} | {measured} "
                f"| {'yes' if target.met else '**no**'} |"
            )
    for name, topic in topics.items():
        lines += ["", f"## {topic.title} (`--only {name}`)", "", topic.span, ""]
        if topic.rows:
            lines += ["| what | times | p50 | p99 | worst | unit | p50 over the first |"]
            lines += ["|---|---|---|---|---|---|---|"]
        lines += [_row_words(row, ratio) for row, ratio in zip(topic.rows, ratios(topic.rows), strict=True)]
        lines += [""] * bool(topic.notes) + [f"- {note}" for note in topic.notes]
    return "\n".join(lines)


def ratios(rows: Sequence[Row]) -> list[float | None]:
    """Each row's median over that of the first row of its group and unit; ``None`` for that one."""
    first: dict[tuple[str, str], float] = {}
    found: list[float | None] = []
    for row in rows:
        begun = (row.group, row.unit)
        found.append(row.p50 / first[begun] if first.get(begun) else None)
        first.setdefault(begun, row.p50)
    return found


def _row_words(row: Row, ratio: float | None) -> str:
    figures = " | ".join(number(value) for value in (row.p50, row.p99, row.worst))
    name = f"{row.what}, {row.group}" if row.group else row.what
    over = "" if ratio is None else f"{ratio:.2f}"
    return f"| {name} | {len(row.values)} | {figures} | {row.unit} | {over} |"
