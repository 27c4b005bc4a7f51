"""What support needs when something fails: a log of what ran, and a file for each crash.

Neither has a word or number that somebody entered, a case's name, or initials: of an error only its kind and
where it was raised. The environment's ``ORROOM_LOGS`` names another folder for them.
"""

import logging
import os
import sqlite3
import sys
import time
from contextlib import suppress
from pathlib import Path
from typing import Final

from orroom import __version__

#: The log from here on, for every module that has something to add.
LOG: Final = logging.getLogger("orroom")
#: A log larger than this, in bytes, is begun again; the one before it is kept.
LARGEST: Final = 500_000
NAME: Final = "orroom.log"
SAFE: Final = "Every entry that was on a screen is in the case file: open the station again."
#: For its owner alone.
_MODE: Final = 0o600
_LINE: Final = "%(asctime)s.%(msecs)03dZ %(process)d %(levelname)s %(message)s"


class Crash(Exception):  # noqa: N818 - what it is, not whose fault
    """A fault of the program: says where what support needs is; raised from the error itself."""

    def __init__(self, error: BaseException) -> None:
        kept = keep_crash(error)
        where = f"What support needs is in {kept}." if kept else "Its details could not be written."
        super().__init__(f"orroom stopped: a fault of its own ({type(error).__name__}). {where}")
        self.__cause__ = error

    def __rich__(self) -> str:
        from rich.markup import escape

        return escape(f"{self}\n{SAFE}")


def folder() -> Path:
    """Where the log and the crash files are."""
    if named := os.environ.get("ORROOM_LOGS"):
        return Path(named)
    from platformdirs import user_log_path

    return user_log_path("orroom", appauthor=False)


def begin(*, debug: bool) -> None:
    """Keep a log from now on. Where none can be written none is kept: no work depends on it."""
    logging.raiseExceptions = False
    LOG.propagate = False
    LOG.setLevel(logging.DEBUG if debug else logging.INFO)
    for handler in LOG.handlers[:]:
        LOG.removeHandler(handler)
        handler.close()
    handler = logging.NullHandler()
    with suppress(OSError):
        handler = _file()
        line = logging.Formatter(_LINE, "%Y-%m-%dT%H:%M:%S")
        line.converter = time.gmtime
        handler.setFormatter(line)
    LOG.addHandler(handler)


def _file() -> logging.Handler:
    path = folder() / NAME
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    os.close(os.open(path, os.O_CREAT | os.O_APPEND | os.O_WRONLY, _MODE))
    if path.stat().st_size > LARGEST:  # stations that run go on in the one before
        path.replace(path.with_name(f"{NAME}.1"))
        os.close(os.open(path, os.O_CREAT | os.O_APPEND | os.O_WRONLY, _MODE))
    return logging.FileHandler(path, encoding="utf-8")


def this_machine() -> str:
    """The program and what it runs on, in one line."""
    return (
        f"orroom {__version__}, Python {sys.version.split()[0]}, SQLite {sqlite3.sqlite_version}, "
        f"{sys.platform} {os.environ.get('TERM', 'no terminal')}"
    )


def keep_crash(error: BaseException) -> Path | None:
    """Write what support needs about an error; where it is, or ``None`` if it cannot be written."""
    LOG.error("crash: %s", " from ".join(type(each).__name__ for each in _chain(error)))
    text = "\n".join([this_machine(), *(line for each in _chain(error) for line in _raised(each))])
    name = time.strftime(f"crash-%Y-%m-%dT%H%M%SZ-{os.getpid()}.txt", time.gmtime())
    try:
        path = folder() / name
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        made = os.open(path, os.O_CREAT | os.O_TRUNC | os.O_WRONLY, _MODE)
        with os.fdopen(made, "w", encoding="utf-8") as file:
            file.write(text + "\n")
    except OSError:
        return None
    return path


def _chain(error: BaseException) -> list[BaseException]:
    """The error, and those that it came from."""
    found: list[BaseException] = []
    each: BaseException | None = error
    while each is not None and each not in found:
        found.append(each)
        each = each.__cause__ or each.__context__
    return found


def _raised(error: BaseException) -> list[str]:
    """The kind of error, and the lines of code it came through; its message may have an entry in it."""
    import traceback  # not needed by what does not fail

    frames = traceback.extract_tb(error.__traceback__)
    lines = (f"  {each.filename}:{each.lineno} {each.name}: {each.line}" for each in frames)
    return [type(error).__name__, *lines]
