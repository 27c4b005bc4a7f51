"""The head of the record, written beside the case file: what a chain of hashes alone cannot show.

Entries cut off at the end leave a chain that is whole; the anchor still knows how long it was.
"""

from __future__ import annotations

import json
import os
from contextlib import suppress
from pathlib import Path
from typing import Final

from orroom.record.chain import Head

SUFFIX: Final = ".head"


def anchor(case: Path, head: Head, *, anew: bool = False) -> None:
    """Keep ``head`` beside the case, synced, unless it or a longer record is anchored already.

    ``anew`` anchors it all the same: when the record itself tells that its end was lost. A folder that cannot
    be written leaves the case without an anchor; ``verify`` says so.
    """
    known = anchored(case)
    if known is not None and known.seq >= head.seq and not anew:
        return
    path = case.with_name(case.name + SUFFIX)
    new = path.with_name(path.name + ".new")
    with suppress(OSError):
        descriptor = os.open(new, os.O_CREAT | os.O_TRUNC | os.O_WRONLY, 0o600)
        try:
            os.write(descriptor, json.dumps(head._asdict()).encode() + b"\n")
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
        new.replace(path)
        sync(path.parent)


def anchored(case: Path) -> Head | None:
    """The head kept beside the case, or ``None`` if there is none that can be read."""
    try:
        raw = json.loads(case.with_name(case.name + SUFFIX).read_text("ascii"))
        return Head(int(raw["seq"]), str(raw["hash"]))
    except (OSError, ValueError, KeyError, TypeError):
        return None


def sync(path: Path) -> None:
    """Make sure that a file, or what was renamed or made in a folder, is on the disk."""
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
