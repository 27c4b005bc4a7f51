"""Who may read and write what is made in a folder: its owner alone, or the group that shares that folder.

A group shares a folder that has its set-group-ID bit and lets the group write. A file that one account makes
there belongs to the group, and the group's other accounts may write to it, whatever the umask.
"""

import os
import stat
from contextlib import suppress
from pathlib import Path


def is_shared(folder: Path) -> bool:
    """Whether a group shares the folder; not where there is none, or the system knows no groups."""
    with suppress(OSError):
        mode = folder.stat().st_mode
        return bool(mode & stat.S_ISGID and mode & stat.S_IWGRP)
    return False


def file_mode(path: Path) -> int:
    """The mode of a new file of that name."""
    return 0o660 if is_shared(path.parent) else 0o600


def opened(path: Path, flags: int) -> int:
    """A descriptor of a file that is made if it is not there. Raises ``OSError``."""
    mode = file_mode(path)
    descriptor = os.open(path, flags | os.O_CREAT, mode)
    if mode != 0o600:  # the umask took some of it; of another's file it may stay as it is
        with suppress(OSError):
            os.fchmod(descriptor, mode)
    return descriptor


def make_folder(folder: Path) -> None:
    """Make a folder for its owner alone, or for the group that shares the one around it; it may be there.

    Raises ``OSError``.
    """
    if is_shared(folder.parent) and not folder.is_dir():
        folder.mkdir()
        folder.chmod(0o2770)
    folder.mkdir(mode=0o700, exist_ok=True)
