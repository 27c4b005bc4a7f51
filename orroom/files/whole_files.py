"""A file that is written whole or not at all, so that a crash or a full disk leaves the one before."""

import os
import tempfile
from contextlib import suppress
from pathlib import Path


def write_whole(path: Path, text: str, *, replace: bool = True) -> None:
    """Write a file; a new one is readable by its owner only, one in place of another as that was.

    Raises ``OSError``; ``FileExistsError`` if there is one already and it is not to be replaced.
    """
    target = path.resolve()
    mode = target.stat().st_mode & 0o777 if replace and target.exists() else 0o600
    descriptor, name = tempfile.mkstemp(prefix=f".{target.name}-", dir=target.parent)
    made = Path(name)
    try:
        with os.fdopen(descriptor, "w", encoding="utf-8", newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        made.chmod(mode)
        if not replace:  # claimed first: two that save at once do not overwrite each other
            os.close(os.open(target, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        made.replace(target)
    except OSError:
        with suppress(OSError):
            made.unlink()
        raise
