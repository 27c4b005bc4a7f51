"""What a disk may hold after a power cut, from the recorded file operations of a run.

What was synced is there. Of what was not, each write is there whole, torn between sectors or not at all, and
each new, renamed or removed name of a file may be forgotten until its folder was synced.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import NamedTuple

from faults.tapper import Told

SECTOR = 512

#: The options under which strace records all that is needed here, whole and in order.
RECORDING = (
    "-z", "-y", "-xx", "-s", "1000000", "-e", "signal=none",
    "-e", "trace=openat,write,pwrite64,ftruncate,fsync,fdatasync,?unlink,unlinkat,?rename,renameat,renameat2",
)  # fmt: skip

_CALL = re.compile(r"(?:\d+ +)?(\w+)\((.*)\) += (\d+)(?:<.*>)?$")
_CUT = re.compile(r"(.*?) *<unfinished \.\.\.>")
#: A call that changes something: all that are recorded do, but opening a file that is there.
_CHANGES = re.compile(r"(?:\d+ +)?(?!openat\((?!.*O_(?:CREAT|TRUNC)))\w+\(")
_RESUMED = re.compile(r"(?:\d+ +)?<\.\.\. \w+ resumed>(.*)")
_OPEN_FILE = re.compile(r"(\d+)<([^>]*)>(?:\(deleted\))?")
_TEXT = re.compile(r'"((?:\\x[0-9a-f]{2})*)"')


class Done(NamedTuple):
    """One thing done to a file of the folder, or that somebody was told of an entry (``kind`` told)."""

    kind: str
    name: str = ""
    at: int = 0
    data: bytes = b""
    to: str = ""


def recorded(log: Path, folder: Path, path: Path) -> list[Done]:
    """What a log of strace says was done to the files of ``folder``, and when something was told."""
    return list(_done(whole(log.read_text("ascii").splitlines()), folder, path))


def whole(lines: Iterable[str]) -> Iterator[str]:
    """The lines, calls joined that strace cut in two since another thread ended or opened a file meanwhile.

    A call that was cut and failed never ends: strace leaves failures out. If another thread changed something
    meanwhile, the order of the two is not known, and the test must fail.
    """
    begun: dict[str, str] = {}
    for line in lines:
        thread, cut = line.split(" ", 1)[0], _CUT.fullmatch(line)
        if resumed := _RESUMED.fullmatch(line):
            yield begun.pop(thread) + resumed[1]
            continue
        begun.pop(thread, None)
        if _CHANGES.match(line):
            assert not any(map(_CHANGES.match, begun.values())), f"two threads at once: {line}"
        if cut:
            begun[thread] = cut[1]
        else:
            yield line


def _done(lines: Iterable[str], folder: Path, found: Path) -> Iterator[Done]:
    ends: dict[str, int] = {}  # how far a file was written that is written one piece after the other
    for line in lines:
        call = _CALL.fullmatch(line)
        if call is None:
            continue
        name, arguments, answer = call.groups()
        texts = [bytes.fromhex(text.replace(r"\x", "")) for text in _TEXT.findall(arguments)]
        opened = _OPEN_FILE.match(arguments)
        path = Path(_unescaped(opened[2])) if opened else None
        if name == "openat":
            path = Path(texts[0].decode())
            if path.parent == folder and "O_CREAT" in arguments:
                yield Done("make", path.name)
            if path.parent == folder and "O_TRUNC" in arguments:
                ends[path.name] = 0
                yield Done("shorten", path.name)
        elif name.startswith("unlink"):
            path = Path(texts[0].decode())
            if path.parent == folder:
                yield Done("remove", path.name)
        elif name.startswith("rename"):
            path, new = (Path(text.decode()) for text in texts)
            if path.parent == folder:
                yield Done("rename", path.name, to=new.name)
        elif path == found:
            yield Done("told", data=texts[0])
        elif path == folder:
            yield Done("sync folder")
        elif path is None or path.parent != folder:
            continue
        elif name == "pwrite64":
            yield Done("write", path.name, int(arguments.rsplit(", ", 1)[1]), texts[0][: int(answer)])
        elif name == "write":
            at = ends.get(path.name, 0)
            ends[path.name] = at + int(answer)
            yield Done("write", path.name, at, texts[0][: int(answer)])
        elif name == "ftruncate":
            yield Done("shorten", path.name, int(arguments.rsplit(", ", 1)[1]))
        else:
            yield Done("sync", path.name)


def _unescaped(text: str) -> str:
    return re.sub(r"\\x([0-9a-f]{2})", lambda found: chr(int(found[1], 16)), text)


@dataclass(eq=False)
class _File:
    """What of a file is safely on the disk, and what was done to it since."""

    safe: bytes = b""
    unsynced: list[Done] = field(default_factory=list)

    def sync(self) -> None:
        content = bytearray(self.safe)
        for done in self.unsynced:
            _do(done, content)
        self.safe, self.unsynced = bytes(content), []

    def after_cut(self, chance: Random) -> bytes:
        content = bytearray(self.safe)
        for done in self.unsynced:
            if chance.random() < 0.5:
                continue
            if done.kind == "write" and chance.random() < 0.5:
                for at in range(0, len(done.data), SECTOR):
                    if chance.random() < 0.5:
                        _do(done._replace(at=done.at + at, data=done.data[at : at + SECTOR]), content)
            else:
                _do(done, content)
        return bytes(content)


def _do(done: Done, content: bytearray) -> None:
    if done.kind == "shorten":
        del content[done.at :]
        content.extend(bytes(done.at - len(content)))
    else:
        content.extend(bytes(max(0, done.at - len(content))))
        content[done.at : done.at + len(done.data)] = done.data


class Disk:
    """The folder of a case while a recorded run goes on."""

    def __init__(self, before: dict[str, bytes]) -> None:
        self.told: list[Told] = []
        self._files = {name: _File(content) for name, content in before.items()}
        self._safe_names = dict(self._files)
        self._names_since: list[tuple[str, _File | None]] = []

    def do(self, done: Done) -> None:
        match done.kind:
            case "told":
                self.told += Told.read(done.data)
            case "make":
                if done.name not in self._files:
                    self._name(done.name, _File())
            case "remove":
                self._name(done.name, None)
            case "rename":
                self._name(done.to, self._files[done.name])
                self._name(done.name, None)
            case "sync folder":
                self._safe_names, self._names_since = dict(self._files), []
            case "sync":
                self._files[done.name].sync()
            case _:
                self._files[done.name].unsynced.append(done)

    def _name(self, name: str, file: _File | None) -> None:
        self._names_since.append((name, file))
        if file is None:
            del self._files[name]
        else:
            self._files[name] = file

    def after_cut(self, chance: Random) -> dict[str, bytes]:
        """One of the many contents that the folder may have if the power is cut now."""
        names: dict[str, _File | None] = dict(self._safe_names)
        names.update(change for change in self._names_since if chance.random() < 0.5)
        return {name: file.after_cut(chance) for name, file in names.items() if file is not None}


def cuts(
    before: dict[str, bytes], run: list[Done], number: int, seed: int
) -> Iterator[tuple[dict[str, bytes], list[Told]]]:
    """Power cuts at random moments of a run: what the folder holds then, and what was told by then."""
    chance = Random(seed)
    moments = sorted(chance.randint(0, len(run)) for _ in range(number))
    disk, so_far = Disk(before), 0
    for moment in moments:
        for done in run[so_far:moment]:
            disk.do(done)
        so_far = moment
        yield disk.after_cut(chance), list(disk.told)
