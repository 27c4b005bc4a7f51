"""The code of a case in an archive, which only the holder of the archive's key can trace.

A case code is short, so a plain hash of it could be guessed by trying all codes. Here the hash of the case's
first entry is hashed again with a random key of 256 bits (HMAC-SHA-256, RFC 2104). The key lies next to the
archive, not in it: who is given the folder alone can neither find a case by its code nor by a printed seal.
So do the lock (``FOLDER.turn``) and the catalogue, which shows when each case was added.
The holder of the key who also has the cases can; that is what lets a case be known again.
"""

import hashlib
import hmac
import json
import secrets
from pathlib import Path
from typing import Final

from orroom.errors import OrroomError
from orroom.record.side_files import keep, refuse_link
from orroom.record.turns import TurnLock

KEY_SUFFIX: Final = ".key"
#: Ends the name of a file that is being written.
NEW: Final = ".new"
ABOUT: Final = "archive.json"
FORMAT: Final = 1
#: Hexadecimal digits kept: 64 bits, so that two of 10,000 cases share one with a chance below 10⁻¹¹.
DIGITS: Final = 16


def mark(key: bytes, kind: str, text: str) -> str:
    """A code for a text in the archive with this key; the same text of another ``kind`` has another one."""
    return hmac.new(key, f"{kind}\0{text}".encode(), hashlib.sha256).hexdigest()[:DIGITS]


def turn_of(folder: Path) -> TurnLock:
    """The lock that is held over adding to an archive; its folder is made if it is not there."""
    lock = beside(folder, "")
    try:
        if folder.is_file():
            raise OrroomError(f"{folder} is a file.", "Choose a folder for the archive.")
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as problem:
        raise OrroomError(f"{folder} cannot be made: {problem.strerror}.", "Choose another folder.") from None
    return TurnLock(lock)


def archive_key(folder: Path) -> bytes:
    """The key of an archive, made where its folder is empty. Raises ``OrroomError`` elsewhere."""
    key_file = beside(folder, KEY_SUFFIX)
    try:
        if not (folder / ABOUT).exists():
            if any(each.name != f".{ABOUT}{NEW}" for each in folder.iterdir()):
                raise OrroomError(
                    f"{folder} is not an archive, and not empty.", "Choose an archive or a new folder."
                )
            _keep(key_file, secrets.token_hex(32) + "\n")
            made = mark(_key(key_file), "key", "")
            _keep(folder / ABOUT, json.dumps({"format": FORMAT, "key": made}) + "\n")
        known = about(folder)
        if not key_file.exists():
            raise OrroomError(
                f"{key_file} is missing; without it no case of {folder} can be known again.",
                "Put the key back, or begin a new archive.",
            )
        key = _key(key_file)
        if known.get("key") != mark(key, "key", ""):
            raise OrroomError(f"{key_file} is the key of another archive.", f"Find the key of {folder}.")
    except OSError as problem:
        raise OrroomError(f"{folder} cannot be used: {problem.strerror}.", "Choose another folder.") from None
    return key


def beside(folder: Path, suffix: str) -> Path:
    """A file that belongs to an archive and is not handed on with it."""
    whole = folder.resolve()
    if not whole.name:
        raise OrroomError(
            f"{folder} is not possible as an archive.",
            "Choose a folder of its own; the key is kept next to it.",
        )
    return whole.with_name(whole.name + suffix)


def about(folder: Path) -> dict[str, object]:
    """What an archive says of itself. Raises ``OrroomError`` if it is none, or of a newer format."""
    try:
        known = json.loads((folder / ABOUT).read_text("utf-8"))
        made_by = known["format"]
    except (OSError, ValueError, KeyError, TypeError):
        raise OrroomError(
            f"{folder} is not an archive.", "Make one: orroom archive add CASE.orroom --to FOLDER"
        ) from None
    if made_by != FORMAT:
        raise OrroomError(f"{folder} has archive format {made_by}.", f"This version knows format {FORMAT}.")
    return dict(known)


def _key(path: Path) -> bytes:
    refuse_link(path)
    try:
        key = bytes.fromhex(path.read_text("ascii"))
    except (OSError, ValueError):
        key = b""
    if len(key) != 32:
        raise OrroomError(f"{path} contains no key.", "A key is 64 hexadecimal digits.")
    return key


def _keep(path: Path, text: str) -> None:
    """Make a file that only its owner may read, whole and synced, unless it is there already."""
    if path.exists():
        return
    keep(path, text.encode("ascii"), path.with_name(f".{path.name}{NEW}"))
