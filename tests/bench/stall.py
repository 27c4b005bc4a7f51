"""Taps at a station whose terminal reads nothing: whether and when each is in the file."""

from __future__ import annotations

import fcntl
import struct
import termios
import time
from contextlib import ExitStack
from pathlib import Path

from orroom.record.case_file import CaseFile
from tests.bench.measuring import Row, Target, Topic
from tests.bench.sitters import case_of, counts, station_at

#: A tap that is in the file within this is in time: the screen calls one that takes longer waiting.
IN_TIME_MS = 100
TAPS_APART = 0.1
LOOK_SECONDS = 0.001


def measure(folder: Path, *, quick: bool) -> Topic:
    """Taps while nobody reads the pseudo-terminal."""
    topic = Topic(
        "stalled terminal",
        "From a key written to a pseudo-terminal from which nobody reads until another connection, looking "
        f"every ms, finds the entry in the file. Ten taps a second; in time is within {IN_TIME_MS} ms.",
    )
    taps = 40 if quick else 200
    case = case_of(folder / "stalled.orroom")
    took: list[float] = []
    with ExitStack() as open_things:
        sitter = station_at(case)
        open_things.callback(sitter.terminal.close)
        before = counts(case)["1"]
        reader = open_things.enter_context(CaseFile.open(case, read_only=True))
        for number in range(taps):
            seq = reader.seal().seq
            start = time.perf_counter()
            sitter.terminal.type("1")
            while reader.seal().seq == seq and time.perf_counter() < start + TAPS_APART:
                time.sleep(LOOK_SECONDS)
            if reader.seal().seq > seq:
                took.append((time.perf_counter() - start) * 1000)
            time.sleep(max(0.0, start + TAPS_APART - time.perf_counter()))
            if number == taps // 2:
                held = struct.unpack("i", fcntl.ioctl(sitter.terminal.master, termios.FIONREAD, b"\0" * 4))[0]
        time.sleep(0.5)
        in_file = counts(case)["1"] - before
        painted_ms = sitter.painted_ms(before + taps, time.perf_counter())
    topic.rows.append(Row("a tap, nobody reading", took))
    topic.targets += [
        Target(f"in the file within {IN_TIME_MS} ms", len(took), taps, f"of {taps} taps", at_least=True),
        Target("in the file before anybody reads", in_file, taps, f"of {taps} taps", at_least=True),
    ]
    topic.notes.append(
        f"half-way the terminal held {held:,} bytes that nobody had read; read again, it showed all {taps} "
        f"taps after {painted_ms:.0f} ms"
    )
    return topic
