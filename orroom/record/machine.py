"""What this machine gives a case: disk, database, clock, terminal, keyboard; with advice."""

import os
import re
import select
import shutil
import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Final

from msgspec import Struct

from orroom import support
from orroom.clock import this_boot
from orroom.files.rights import is_shared
from orroom.record.opening import wal_is_safe
from orroom.record.turns import TurnLock

try:
    import termios
    import tty
except ImportError:  # pragma: no cover - not on this platform
    termios = None  # type: ignore[assignment]  # no such module on Windows

NETWORK_DISKS: Final = frozenset(
    {
        "nfs",
        "nfs4",
        "cifs",
        "smb3",
        "smbfs",
        "sshfs",
        "fuse.sshfs",
        "9p",
        "vboxsf",
        "vmhgfs",
        "fuse.vmhgfs-fuse",
        "virtiofs",
        "afs",
        "ceph",
        "glusterfs",
        "fuse.glusterfs",
        "davfs",
    }
)
SLOW_SYNC_MS: Final = 20.0
LITTLE_ROOM: Final = 200_000_000
_WRITABLE: Final = "Choose a folder you may write to."
_THERE: Final = "Choose a folder that exists."


class Finding(Struct, frozen=True):
    """One thing looked at: what it is, what was found, and what to do about it (empty: nothing).

    ``unfit``: no case may be kept here as it is.
    """

    what: str
    found: str
    advice: str = ""
    unfit: bool = False


def examined(folder: Path, environment: Mapping[str, str]) -> tuple[Finding, ...]:
    """All findings about this machine, for cases kept in ``folder``."""
    return (
        *(look(folder) for look in (_database, _disk, _sync, _room, _privacy)),
        _clock(),
        _terminal(environment),
        _colours(environment),
        _keyboard(),
        _numlock(),
        Finding("log", str(support.folder() / support.NAME)),
    )


def _database(folder: Path) -> Finding:
    version = sqlite3.sqlite_version
    try:
        turns_work = _turns_work(folder)
    except OSError as problem:
        found = f"SQLite {version}; writing here could not be tried: {problem.strerror}"
        return Finding("database", found, _WRITABLE, unfit=True)
    if turns_work:
        return Finding(
            "database", f"SQLite {version}, write-ahead log, full sync, stations write one at a time"
        )
    if wal_is_safe(sqlite3.sqlite_version_info):
        return Finding("database", f"SQLite {version}, write-ahead log, full sync")
    return Finding(
        "database",
        f"SQLite {version}, rollback journal, full sync with the folder",
        "Safe but slower: this disk has no file locks, and this SQLite cannot share a log safely.",
    )


def _turns_work(folder: Path) -> bool:
    with tempfile.TemporaryDirectory(dir=folder) as name:
        turns = TurnLock(Path(name) / "probe")
        works = turns.usable
        turns.close()
        return works


def disk_kind(folder: Path, mounts: str) -> str:
    """The file system that ``folder`` is on, by a table of mounts as in /proc/self/mounts."""
    best, kind = "", "unknown"
    place = str(folder.resolve())
    for line in mounts.splitlines():
        fields = line.split()
        if len(fields) < 3:
            continue
        mount = fields[1].replace("\\040", " ")
        inside = place == mount or place.startswith(mount.rstrip("/") + "/")
        if inside and len(mount) >= len(best):
            best, kind = mount, fields[2]
    return kind


def _disk(folder: Path) -> Finding:
    try:
        kind = disk_kind(folder, Path("/proc/self/mounts").read_text("utf-8"))
    except OSError:
        kind = "unknown"
    if kind in NETWORK_DISKS:
        return Finding(
            "disk", f"network or shared ({kind})", "Keep cases on this machine's own disk.", unfit=True
        )
    if kind == "tmpfs":
        return Finding(
            "disk", "memory (tmpfs)", "Lost when the machine stops: keep cases on a real disk.", unfit=True
        )
    return Finding("disk", kind if kind == "unknown" else f"local ({kind})")


def _sync(folder: Path) -> Finding:
    """Median of 20 small writes, each synced."""
    try:
        with tempfile.NamedTemporaryFile(dir=folder) as file:
            times = []
            for _ in range(20):
                start = time.perf_counter()
                file.write(b"x" * 200)
                file.flush()
                os.fsync(file.fileno())
                times.append((time.perf_counter() - start) * 1000)
    except OSError as problem:
        return Finding("disk sync", f"cannot write: {problem.strerror}", _WRITABLE, unfit=True)
    median = statistics.median(times)
    slow = "Each tap takes this long to save; a solid-state disk is faster."
    return Finding("disk sync", f"{median:.2f} ms", slow if median > SLOW_SYNC_MS else "")


def _room(folder: Path) -> Finding:
    try:
        free = shutil.disk_usage(folder).free
    except OSError as problem:
        return Finding("free space", f"unknown: {problem.strerror}", _THERE, unfit=True)
    little = free < LITTLE_ROOM
    advice = "A case takes about 5 MB; free some space before a long day." if little else ""
    return Finding("free space", f"{free / 1e9:.1f} GB", advice, unfit=little)


def _privacy(folder: Path) -> Finding:
    try:
        mode = folder.stat().st_mode & 0o077
    except OSError as problem:
        return Finding("privacy", f"unknown: {problem.strerror}", _THERE)
    if is_shared(folder) and not mode & 0o007:
        return Finding("privacy", "a group shares this folder and its cases; others cannot look in")
    if mode:
        advice = "They cannot read case files, but can see their names; a folder of mode 700 hides those too."
        return Finding("privacy", "other users can look into this folder", advice)
    return Finding("privacy", "only its owner can look into this folder")


def _clock() -> Finding:
    if this_boot() is None:
        return Finding(
            "clock",
            "the machine's own",
            "No clock here counts through sleep: do not set the time during a case.",
        )
    return Finding("clock", "steady since the machine started; setting the time does not change durations")


def _terminal(environment: Mapping[str, str]) -> Finding:
    name = environment.get("TERM", "")
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        return Finding("terminal", "none here", "Stations need one; summary, export and verify do not.")
    size = shutil.get_terminal_size()
    small = "Make it 80×24 or larger." if size.columns < 80 or size.lines < 24 else ""
    inside = ", inside a multiplexer" if environment.get("TMUX") or environment.get("STY") else ""
    return Finding("terminal", f"{name or 'unnamed'}, {size.columns}×{size.lines}{inside}", small)


def _colours(environment: Mapping[str, str]) -> Finding:
    if environment.get("NO_COLOR"):
        return Finding("colours", "none (NO_COLOR); marks and words are enough")
    if environment.get("COLORTERM", "").lower() in {"truecolor", "24bit"}:
        return Finding("colours", "all")
    if "256color" in environment.get("TERM", ""):
        return Finding("colours", "256")
    return Finding("colours", "16 or fewer; marks and words are enough")


def _keyboard() -> Finding:
    """Ask the terminal whether it tells keys apart (kitty protocol); its own name ends the answer."""
    answer = _answer_to("\x1b[?u\x1b[c")
    if answer is None:
        return Finding("keyboard", "not detected")
    if re.search(r"\x1b\[\?\d+u", answer):
        return Finding("keyboard", "every key is recognised")
    return Finding(
        "keyboard", "keypad digits look like the top row's; held keys are recognised by their speed"
    )


def _answer_to(question: str) -> str | None:
    """What the terminal answers within 0.3 s, or ``None`` without a terminal that can be asked."""
    if termios is None or not (sys.stdin.isatty() and sys.stderr.isatty()):
        return None
    keyboard = sys.stdin.fileno()
    before = termios.tcgetattr(keyboard)
    answer = ""
    try:
        tty.setcbreak(keyboard)
        os.write(sys.stderr.fileno(), question.encode())
        while not answer.endswith("c") and select.select([keyboard], [], [], 0.3)[0]:
            answer += os.read(keyboard, 64).decode("ascii", "replace")
    finally:
        termios.tcsetattr(keyboard, termios.TCSAFLUSH, before)
    return answer


def _numlock() -> Finding:
    lights = sorted(Path("/sys/class/leds").glob("*::numlock/brightness"))
    states = set()
    for light in lights:
        with suppress(OSError):
            states.add(light.read_text("ascii").strip())
    if not states:
        return Finding("NumLock", "not detected", "A station warns when keypad digits do not count.")
    if states == {"0"}:
        return Finding("NumLock", "off", "Press NumLock: keypad digits do not count while it is off.")
    return Finding("NumLock", "on")
