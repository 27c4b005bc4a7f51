"""Files kept next to a case or an archive: whole on the disk, never through a link."""

import errno
import os
from pathlib import Path
from typing import Final

#: Opening a symbolic link fails where the system can refuse it.
NO_LINK: Final = getattr(os, "O_NOFOLLOW", 0)
LINK: Final = "a symbolic link is in its place"


def make_new(path: Path, mode: int = 0o600) -> int:
    """A descriptor of a new file, in place of what an unfinished write may have left there.

    Raises ``OSError`` if that fails, or if a symbolic link is in its place, whose target is left alone.
    """
    refuse_link(path)
    if path.exists():
        path.unlink()
    descriptor = os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY | NO_LINK, 0o600)
    if mode != 0o600:
        os.fchmod(descriptor, mode)
    return descriptor


def refuse_link(path: Path) -> None:
    """Raise ``OSError`` if ``path`` is a symbolic link."""
    if path.is_symlink():
        raise OSError(errno.ELOOP, LINK, str(path))


def keep(path: Path, data: bytes, unfinished: Path, mode: int = 0o600) -> None:
    """Put ``data`` in place of what ``path`` was, whole and on the disk. Raises ``OSError``."""
    with os.fdopen(make_new(unfinished, mode), "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    unfinished.replace(path)
    sync(path.parent)


def sync(path: Path) -> None:
    """Make sure that a file, or what was renamed or made in a folder, is on the disk."""
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
