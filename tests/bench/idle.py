"""What a station holds in memory and burns while nobody taps and its clocks run."""

from __future__ import annotations

import re
import time
from contextlib import ExitStack
from pathlib import Path

from terminals import Terminal

from tests.bench.measuring import Row, Target, Topic
from tests.bench.sitters import PEERS, case_of

CUTTING = "a cutting station"


def measure(folder: Path, *, quick: bool) -> Topic:
    """A station of each role and a bare application with one clock, at the same time."""
    topic = Topic(
        "station memory and idle",
        "Resident memory (`VmRSS`) and processor time while nobody taps, 5,000 entries in the case, "
        "clocks ticking and what is painted read; all at the same time. Of memory, what is the "
        "process's alone (`Private`) stands beside it.",
    )
    seconds, slices = (4, 2) if quick else (24, 6)
    case = case_of(folder / "idle.orroom", 5000)
    opened = ("open", str(case), "--who", "AB", "--role")
    with ExitStack() as open_things:
        terminals = {
            "bare application with one clock": Terminal("clock", program=(str(PEERS / "echo_app.py"),)),
            CUTTING: Terminal(*opened, "cutting"),
            "an overview": Terminal(*opened, "overview"),
        }
        for terminal in terminals.values():
            open_things.callback(terminal.close)
        for terminal, shows in zip(terminals.values(), (b"READY", b"CUTTING", b"OVERVIEW"), strict=True):
            terminal.until(lambda terminal=terminal, shows=shows: shows in terminal.seen)
        _rest(list(terminals.values()), 3)
        shares: dict[str, list[float]] = {name: [] for name in terminals}
        for _ in range(slices):
            before = {name: _burnt_s(terminal) for name, terminal in terminals.items()}
            begun = time.perf_counter()
            _rest(list(terminals.values()), seconds / slices)
            passed = time.perf_counter() - begun
            for name, terminal in terminals.items():
                shares[name].append(100 * (_burnt_s(terminal) - before[name]) / passed)
        memory = {name: _memory_mb(terminal) for name, terminal in terminals.items()}
    group = f"over {seconds / slices:g} s each"
    topic.rows += [Row(f"{name}, processor", each, "%", group) for name, each in shares.items()]
    topic.rows += [Row(f"{name}, resident", [held], "MB") for name, (held, _) in memory.items()]
    topic.rows += [Row(f"{name}, its own", [own], "MB", "private") for name, (_, own) in memory.items()]
    topic.targets += [
        Target("resident", memory[CUTTING][0], 60, "MB"),
        Target(f"processor over {seconds} s", sum(shares[CUTTING]) / slices, 0.6, "%"),
    ]
    return topic


def _rest(terminals: list[Terminal], seconds: float) -> None:
    end = time.perf_counter() + seconds
    while (left := end - time.perf_counter()) > 0:
        for terminal in terminals:
            terminal.rest(min(left, 0.1))
            terminal.seen = b""


def _burnt_s(terminal: Terminal) -> float:
    """Processor time of all threads so far, to the nanosecond where the kernel tells, in s."""
    tasks = Path(f"/proc/{terminal.process.pid}/task").iterdir()
    return sum(int((task / "schedstat").read_text("ascii").split()[0]) for task in tasks) / 1e9


def _memory_mb(terminal: Terminal) -> tuple[float, float]:
    """Resident, and resident that is shared with no other process."""
    found = Path(f"/proc/{terminal.process.pid}/smaps_rollup").read_text("ascii")
    values = {name: int(kb) / 1024 for name, kb in re.findall(r"^(\w+):\s+(\d+) kB", found, re.MULTILINE)}
    return values["Rss"], values["Private_Clean"] + values["Private_Dirty"]
