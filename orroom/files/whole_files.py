"""A file that is written whole or not at all, so that a crash or a full disk leaves the one before."""

import os
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import Final

from orroom.errors import OrroomError
from orroom.files.rights import file_mode

#: What an export's file ends in; no other is ever written over: a case file, a plan or a key stays.
EXPORTS: Final = (".md", ".txt", ".html", ".json", ".jsonl", ".csv", ".pdf", ".parquet")
TAKEN: Final = "Choose another name, or add --replace to write over it."


def may_be_written(output: Path, *, replace: bool) -> None:
    """Raise ``OrroomError`` where something has that name already which is not to be written over."""
    if not os.path.lexists(output):
        return
    if not replace:
        raise OrroomError(f"{output} already exists.", TAKEN)
    if not output.resolve().is_file() or output.resolve().suffix.lower() not in EXPORTS:
        raise OrroomError(
            f"{output} is not written over: --replace is for files that end in {' '.join(EXPORTS)}.",
            "Choose another name.",
        )


def write_whole(path: Path, text: str | bytes, *, replace: bool = True) -> None:
    """Write a file; a new one as its folder has it, one in place of another as that was.

    Raises ``OSError``; ``FileExistsError`` if there is one already and it is not to be replaced.
    """
    target = path.resolve()
    mode = target.stat().st_mode & 0o777 if replace and target.exists() else file_mode(target)
    descriptor, name = tempfile.mkstemp(prefix=f".{target.name[:50]}-", dir=target.parent)
    made = Path(name)
    try:
        with os.fdopen(descriptor, "wb") as file:
            file.write(text.encode() if isinstance(text, str) else text)
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
