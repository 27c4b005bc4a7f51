"""Programs in pseudo-terminals that are tapped on: how long until a new count is painted."""

from __future__ import annotations

import select
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from stations import new_case, read_case
from terminals import Terminal

from orroom.case import commands as c
from orroom.figures.counts import by_size
from orroom.record.case_file import CaseFile
from orroom.recording import record_once
from tests.bench.long_cases import long_case, sample_plan

PEERS = Path(__file__).parent / "peers_apps"
SIZES = ("1", "2", "3", "4")
#: A tap that is not painted within this is told as lost.
LOST_SECONDS = 10.0
#: How long a screen is left alone after its first paint.
QUIET_SECONDS = 1.0


@dataclass(slots=True)
class Sitter:
    """A program in a terminal whose key ``size`` makes its screen tell one more than ``count``."""

    terminal: Terminal
    size: str
    count: int

    def tap_ms(self) -> float:
        """Type the key; how long until the new count is on the terminal."""
        return self.tap()[1]

    def tap(self) -> tuple[float, float]:
        """Type the key: when that was (``perf_counter``), and how many ms later the new count stood there."""
        self.terminal.seen = b""
        start = time.perf_counter()
        self.terminal.type(self.size)
        self.count += 1
        return start, self.painted_ms(self.count, start)

    def painted_ms(self, count: int, start: float) -> float:
        """How long after ``start`` a count is on the terminal. Raises ``AssertionError`` if it never is."""
        awaited = f"team {count:,}".encode()
        while awaited not in self.terminal.seen:
            self.terminal.read(until=start + LOST_SECONDS)
            assert time.perf_counter() < start + LOST_SECONDS, f"{awaited!r} was never painted"
        return (time.perf_counter() - start) * 1000


def each_painted(sitters: Mapping[str, Sitter], count: int, start: float) -> dict[str, float]:
    """How long after ``start`` a count is on each of these terminals, in ms."""
    awaited = f"team {count:,}".encode()
    took: dict[str, float] = {}
    while len(took) < len(sitters):
        waiting = {name: each for name, each in sitters.items() if name not in took}
        masters = [each.terminal.master for each in waiting.values()]
        assert select.select(masters, [], [], LOST_SECONDS)[0], f"{awaited!r} was never painted"
        for name, each in waiting.items():
            each.terminal.read(until=0.0)
            if awaited in each.terminal.seen:
                took[name] = (time.perf_counter() - start) * 1000
    return took


def case_of(path: Path, length: int = 1) -> Path:
    """A case with so many entries, and of each size so many grafts that its count stands nowhere else."""
    case = new_case(path, sample_plan()) if length == 1 else long_case(path, length)
    found = by_size(read_case(case))
    with CaseFile.open(case) as case_file:
        for size in SIZES:
            more = 1000 * int(size) - found[size].usable
            if more > 0:
                record_once(case_file, c.CutGrafts(harvest="A", size=size, count=more), "ZZ")
    return case


def counts(case: Path) -> dict[str, int]:
    """The team's usable grafts by size, as the file tells them."""
    return {size: count.usable for size, count in by_size(read_case(case)).items()}


def station_at(
    case: Path, size: str = "1", who: str = "AB", program: Sequence[str] = ("-m", "orroom")
) -> Sitter:
    """A cutting station at a case, painted and quiet; or a ``program`` that is one and more."""
    terminal = Terminal("open", str(case), "--role", "cutting", "--who", who, program=program)
    return _shown(Sitter(terminal, size, counts(case)[size]))


def peer(program: str, *arguments: str) -> Sitter:
    """One of the programs beside which a station is measured, painted and quiet."""
    return _shown(Sitter(Terminal(*arguments, program=(str(PEERS / program),)), "1", 1000))


def _shown(sitter: Sitter) -> Sitter:
    terminal = sitter.terminal
    terminal.until(lambda: b"READY" in terminal.seen or b"CUTTING" in terminal.seen)
    terminal.rest(QUIET_SECONDS)
    return sitter
