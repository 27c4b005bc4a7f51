"""A pseudo-terminal with the real program in it, for tests and benchmarks."""

from __future__ import annotations

import fcntl
import os
import pty
import select
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Callable, Sequence

PATIENCE = 20.0
#: Where there are none, for programs that run outside a test: never somebody's own.
NO_SETTINGS = "/nowhere/settings.toml"


class Terminal:
    """A pseudo-terminal of 80×24 with the program in it."""

    def __init__(
        self, *arguments: str, under: Sequence[str] = (), program: Sequence[str] = ("-m", "orroom")
    ) -> None:
        """Start the program, or ``under`` with the program's own words behind it, or another ``program``."""
        self.master, slave = pty.openpty()
        self._name = os.ttyname(slave)
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        self.process = subprocess.Popen(
            [*under, sys.executable, *program, *arguments],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            start_new_session=True,
            env={"ORROOM_SETTINGS": NO_SETTINGS, **os.environ, "TERM": "xterm-256color"},
        )
        os.close(slave)
        self.seen = b""

    def read(self, until: float | None = None) -> None:
        """Take what the program has painted; wait for it until then (``perf_counter``), or a moment."""
        wait = 0.02 if until is None else max(0.0, until - time.perf_counter())
        if select.select([self.master], [], [], wait)[0]:
            try:
                self.seen += os.read(self.master, 65536)
            except OSError:  # the program has closed the terminal
                return

    def until(self, true: Callable[[], object]) -> None:
        end = time.monotonic() + PATIENCE
        while not true():
            self.read()
            assert time.monotonic() < end, f"waited in vain; the terminal shows {self.seen[-500:]!r}"

    def type(self, keys: str, apart: float = 0.0) -> None:
        """Send keys, with so many seconds between them as the program reads them, on a busy machine too."""
        for number, key in enumerate(keys if apart else [keys]):
            if number:
                self.until(self.all_read)
                self.rest(apart)
            self.send(key.encode())

    def all_read(self) -> bool:
        """Whether the program has read all that was sent."""
        return self.unread() == 0

    def unread(self) -> int:
        """How many bytes the program can read now."""
        slave = os.open(self._name, os.O_RDWR | os.O_NOCTTY)
        try:
            unread = fcntl.ioctl(slave, termios.FIONREAD, struct.pack("i", 0))
        finally:
            os.close(slave)
        return int(struct.unpack("i", unread)[0])

    def takes_more(self) -> bool:
        """Whether the program can write to the terminal: not if too much of it is unread."""
        slave = os.open(self._name, os.O_RDWR | os.O_NOCTTY)
        try:
            return bool(select.select([], [slave], [], 0)[1])
        finally:
            os.close(slave)

    def send(self, data: bytes) -> None:
        os.write(self.master, data)

    def rest(self, seconds: float) -> None:
        """Send nothing for so long; what is painted meanwhile is read."""
        end = time.perf_counter() + seconds
        while (left := end - time.perf_counter()) > 0:
            if select.select([self.master], [], [], left)[0]:
                self.read()

    def close(self) -> None:
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait()
        os.close(self.master)
