"""Hearing at once that another station has committed, instead of looking again and again.

Each commit writes one byte into the turn file (``turns.py``); Linux signals everybody who watches it
(``man 7 inotify``). The byte says nothing: what was committed is read from the record. Elsewhere, and on
disks that signal nothing, a desk looks as often as before.
"""

import os
import select
import selectors
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Final

#: From ``sys/inotify.h``, the same on every Linux.
IN_MODIFY: Final = 0x2
#: How long a watcher rests once it has heard: many stations that tap at once are then heard of together. A
#: tap that comes alone is heard of at once.
REST_MS: Final = 4
#: Room for many notices; all that wait are taken at once.
NOTICES: Final = 4096


class TickWatch:
    """Calls ``heard`` from a thread of its own whenever ``path`` is written, until it is closed."""

    def __init__(self, path: Path, heard: Callable[[], None]) -> None:
        self._path = path
        self._heard = heard
        self._closing, self._close = os.pipe()
        self._once = threading.Lock()
        #: Whether the system signals writes; false until it is known.
        self.hears = False
        self._thread = threading.Thread(target=self._watch, name="ticks", daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Hear no more. It can be closed twice, also by two threads."""
        if self._once.acquire(blocking=False):
            os.close(self._close)
            self._thread.join()
            os.close(self._closing)

    def _watch(self) -> None:
        notices = _inotify(self._path)
        if notices is None:
            return
        self.hears = True
        rest = select.poll()  # a descriptor may have any number here; select() knows none from 1024 on
        rest.register(self._closing, select.POLLIN)
        with selectors.DefaultSelector() as selector:
            selector.register(notices, selectors.EVENT_READ)
            selector.register(self._closing, selectors.EVENT_READ)
            while all(key.fd != self._closing for key, _ in selector.select()):
                with suppress(OSError):
                    os.read(notices, NOTICES)
                self._heard()
                rest.poll(REST_MS)
        os.close(notices)


def _inotify(path: Path) -> int | None:
    """A descriptor that can be read once ``path`` was written, or ``None`` where there is no such thing."""
    if sys.platform != "linux":
        return None
    import ctypes  # in the watching thread: a station starts without waiting for it

    try:
        library = ctypes.CDLL(None, use_errno=True)
        notices = int(library.inotify_init1(os.O_CLOEXEC | os.O_NONBLOCK))
        if notices >= 0 and library.inotify_add_watch(notices, os.fsencode(path), IN_MODIFY) >= 0:
            return notices
    except (OSError, AttributeError):
        return None
    if notices >= 0:
        os.close(notices)
    return None
