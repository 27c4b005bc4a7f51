"""A station that notes when taps reach each stage: ``python staged.py FILE STAGES``, then its own words.

STAGES is a JSON list as ``LOOKED_AT`` of ``stages.py``. On SIGUSR1 FILE is written: a line a stage,
when it was reached (``perf_counter``, s) and its name.
"""

from __future__ import annotations

import inspect
import json
import signal
import sys
import time
from functools import wraps
from importlib import import_module
from pathlib import Path

from orroom.cli import main

_seen: list[tuple[str, float]] = []


def look_at(owner: type, name: str, begin: str, end: str) -> None:
    """Have a function note when it begins and ends, where that has a name."""
    plain = getattr(owner, name)

    def note(stage: str) -> None:
        if stage:
            _seen.append((stage, time.perf_counter()))

    if inspect.iscoroutinefunction(plain):

        @wraps(plain)
        async def looked_at(*arguments: object) -> object:
            note(begin)
            try:
                return await plain(*arguments)
            finally:
                note(end)
    else:

        @wraps(plain)
        def looked_at(*arguments: object, **named: object) -> object:
            note(begin)
            try:
                return plain(*arguments, **named)
            finally:
                note(end)

    setattr(owner, name, looked_at)


def tell(path: Path) -> None:
    """Write down what was seen, whole or not at all."""
    unfinished = path.with_suffix(".new")
    unfinished.write_text("".join(f"{at!r} {stage}\n" for stage, at in _seen), "ascii")
    unfinished.rename(path)


if __name__ == "__main__":
    told, stages = Path(sys.argv.pop(1)), json.loads(sys.argv.pop(1))
    for module, owner, *names in stages:
        look_at(getattr(import_module(module), owner), *names)
    signal.signal(signal.SIGUSR1, lambda *_: tell(told))
    main()
