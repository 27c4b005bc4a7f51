"""Whose turn it is to write: an advisory lock on a file next to the case file, shared by all its stations.

The kernel wakes waiting processes promptly, where SQLite's own waiting sleeps and may starve one. The lock is
also held over opening, checkpoints and closing, so that no two connections ever write the write-ahead log at
once: the fault of older SQLite versions (sqlite.org/wal.html#walresetbug) cannot arise.
Where the platform or the disk has no such lock, ``usable`` is false and SQLite's own locks serve alone.
"""

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from orroom.errors import CaseFileError
from orroom.files.rights import opened
from orroom.record.side_files import NO_LINK

try:
    import fcntl
except ImportError:  # pragma: no cover - not on this platform
    fcntl = None  # type: ignore[assignment]  # no such module on Windows

SUFFIX = ".turn"


def turn_file(case: Path) -> Path:
    """The file whose lock is the turn."""
    return case.with_name(case.name + SUFFIX)


def identity(path: Path | str) -> tuple[int, int] | None:
    """What identifies a file, whatever its name; ``None`` if there is none at ``path``."""
    try:
        found = os.stat(path)  # noqa: PTH116 - asked three times for every tap: of a text it takes a third
    except OSError:
        return None
    return found.st_dev, found.st_ino


class TurnLock:
    """One connection's hold on the turn file of a case. Turns may be taken inside one another.

    Raises ``CaseFileError`` where a symbolic link is in the place of that file.
    """

    def __init__(self, case: Path) -> None:
        self._case = case
        self._file: int | None = None
        self._depth = 0
        if fcntl is None:
            return
        with suppress(OSError):  # a folder that may not be written: reading alone needs no turn
            self._file = self._opened()
        try:
            with self.held():
                pass
        except OSError:  # a disk that knows no such lock
            self.close()

    def _opened(self) -> int:
        path = turn_file(self._case)
        if path.is_symlink():
            raise CaseFileError(f"{path} is a symbolic link.", "Remove it: orroom makes that file itself.")
        return opened(path, os.O_RDWR | os.O_CLOEXEC | NO_LINK)

    @property
    def usable(self) -> bool:
        """Whether turns are really taken."""
        return self._file is not None

    @contextmanager
    def held(self) -> Iterator[None]:
        """Wait for this connection's turn, and keep it until the end of the block."""
        if self._file is None or self._depth:
            yield
            return
        fcntl.flock(self._file, fcntl.LOCK_EX)
        while os.fstat(self._file).st_nlink == 0 and self._case.exists():
            # It was deleted, and the case was not: who comes now takes turns over a new one.
            deleted, self._file = self._file, self._opened()
            os.close(deleted)
            fcntl.flock(self._file, fcntl.LOCK_EX)
        self._depth += 1
        try:
            yield
        finally:
            self._depth -= 1
            fcntl.flock(self._file, fcntl.LOCK_UN)

    def tick(self) -> None:
        """Let those who watch the file know that something was committed; see ``ticks.py``."""
        if self._file is not None:
            with suppress(OSError):  # a full disk: they look by themselves before long
                os.pwrite(self._file, b"\n", 0)

    def close(self) -> None:
        """Let go of the file. It can be closed twice."""
        if self._file is not None:
            os.close(self._file)
            self._file = None
