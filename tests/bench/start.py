"""From the start of a process to its first paint and first tap, beside an empty application."""

from __future__ import annotations

import os
import time
from dataclasses import dataclass, field
from pathlib import Path

from terminals import Terminal

from tests.bench.measuring import Row, Target, Topic, interleaved
from tests.bench.sitters import PEERS, Sitter, case_of, counts

STATION = ("-m", "orroom")
EMPTY = "an empty application"


@dataclass(slots=True)
class Starting:
    """A program that is started again and again: what it took each time, in ms."""

    program: tuple[str, ...]
    case: Path | None = None
    tapped: list[float] = field(default_factory=list)
    processor: list[float] = field(default_factory=list)

    def first_paint_ms(self) -> float:
        """From the start of the process to its first paint; on the way, its first tap and processor time."""
        count = 1000 if self.case is None else counts(self.case)["1"]
        arguments = [] if self.case is None else ["open", str(self.case), "--role", "cutting", "--who", "AB"]
        awaited = b"READY" if self.case is None else f"team {count:,}".encode()
        start = time.perf_counter()
        terminal = Terminal(*arguments, program=self.program)
        try:
            terminal.until(lambda: awaited in terminal.seen)
            painted_ms = (time.perf_counter() - start) * 1000
            Sitter(terminal, "1", count).tap_ms()
            self.tapped.append((time.perf_counter() - start) * 1000)
        finally:
            terminal.process.kill()
            _, _, used = os.wait4(terminal.process.pid, 0)
            terminal.close()
        self.processor.append((used.ru_utime + used.ru_stime) * 1000)
        return painted_ms


def measure(folder: Path, *, quick: bool) -> Topic:
    """An empty application, a station, a station that imports too much; in turn."""
    topic = Topic(
        "station start to usable first paint",
        "From the start of the process until the counts are read from its pseudo-terminal; and until a key "
        "typed at that moment is counted and painted. The case has 5,000 entries. Processor time is user and "
        "system, until the first tap is painted. The process is killed then, so that each start finds one "
        "more station in the record.",
    )
    case = case_of(folder / "started.orroom", 5000)
    programs = {
        EMPTY: Starting((str(PEERS / "echo_app.py"),)),
        "the same with click and msgspec": Starting((str(PEERS / "echo_app.py"), "libraries")),
        "a cutting station": Starting(STATION, case),
        "the same, reports and solver imported": Starting((str(PEERS / "everything_imported.py"),), case),
    }
    for each in programs.values():  # the first start writes the bytecode
        each.first_paint_ms()
        each.tapped.clear()
        each.processor.clear()
    found = interleaved({name: each.first_paint_ms for name, each in programs.items()}, 2 if quick else 12)
    rows = [Row(name, took, group="first paint") for name, took in found.items()]
    topic.rows += rows
    topic.rows += [Row(name, each.tapped, group="first tap painted") for name, each in programs.items()]
    topic.rows += [Row(name, each.processor, group="processor time") for name, each in programs.items()]
    empty, libraries, station, _ = rows
    topic.targets.append(Target("first paint, p50 over an empty application", station.p50 / empty.p50, 1.3))
    topic.notes.append(
        f"The libraries that read entries and command line take an empty application to "
        f"{libraries.p50 / empty.p50:.2f} × by themselves."
    )
    return topic
