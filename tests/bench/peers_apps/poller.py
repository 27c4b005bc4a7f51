"""What another station could know of a tap if it looked every 50 ms, and painted nothing: the newest count.

``python poller.py CASE``: reads the case file as a station does and writes ``team …`` for each change.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

from orroom.case.evolve import fold
from orroom.figures.counts import by_size
from orroom.record.case_file import CaseFile

EVERY_SECONDS = 0.05


def main(path: Path) -> None:
    """Look for ever."""
    with CaseFile.open(path, read_only=True) as case_file:
        seen = case_file.data_version()
        state = fold(case_file.entries_after(0))
        print("READY", flush=True)
        while True:
            time.sleep(EVERY_SECONDS)
            if case_file.data_version() != seen:
                seen = case_file.data_version()
                state = fold(case_file.entries_after(state.seq), state)
                print(f"team {by_size(state)['1'].usable:,}", flush=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
