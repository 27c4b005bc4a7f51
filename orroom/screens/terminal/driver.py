"""What guards a station against its terminal: answers to faults of the library, each with the fault."""

import os
import selectors
import signal
import sys
import termios
import time
from codecs import getincrementaldecoder
from collections.abc import Callable
from contextlib import suppress
from typing import IO, Any, Protocol, cast

from textual import events
from textual.app import App
from textual.drivers.linux_driver import LinuxDriver
from textual.message import Message

from orroom.screens.terminal.flood import Allowance, Unread, last_moves
from orroom.screens.terminal.key_parser import StationParser
from orroom.support import LOG

#: How often the input thread looks, if nothing comes: while somebody types, and once it has been quiet for
#: so long, when it may rest.
LOOK_SECONDS, REST_SECONDS, TYPING_SECONDS = 0.05, 0.1, 2.0
#: Late by so long, it was held up, as by a busy machine: what it reads then came some time before. Two taps
#: of the fastest finger, read at once so and followed by a third, are not three at once.
HELD_UP_SECONDS = 0.05
#: Away for so long, it was stopped, or the machine slept.
STOPPED_SECONDS = 2.0
#: Keys that nobody reads are counted for so long before their number is passed on: each message wakes the
#: event loop, and the flood would wait for it. Shorter than the pause that ends a run of keys.
COUNTING_SECONDS = 0.02
#: This many writes may wait for a terminal; the library's own queue takes 30, and then stops the event loop.
MOST_BEHIND = 20


class Ends(Protocol):
    """An application that can be ended by a signal."""

    def end(self, number: int, give_back: Callable[[], None]) -> None:
        """End, whatever the terminal does; ``give_back`` gives it back. May be called from any thread."""


class LosableFile:
    """A terminal to write to that may be gone: then what is written is lost, and nobody is stopped by that.

    Otherwise the library's output thread dies, its queue of 30 fills, and leaving waits for it for ever.
    """

    def __init__(self, file: IO[str]) -> None:
        self._file = file

    def write(self, text: str) -> int:
        """Write, or lose it."""
        try:
            return self._file.write(text)
        except OSError:
            return len(text)

    def flush(self) -> None:
        """Flush, or lose it."""
        try:
            self._file.flush()
        except OSError:
            return

    def fileno(self) -> int:
        """The terminal's number."""
        return self._file.fileno()


class StationDriver(LinuxDriver):
    """The library's driver for Unix terminals, without its faults, with a signal of every kind of end."""

    def __init__(
        self, app: App[Any], *, debug: bool = False, mouse: bool = True, size: tuple[int, int] | None = None
    ) -> None:
        super().__init__(app, debug=debug, mouse=mouse, size=size)
        self._station = app
        self._ends = cast("Ends", app)
        self._file = LosableFile(sys.__stderr__)  # type: ignore[assignment,arg-type]  # a terminal's is there
        self._behind = False
        self._giving_back = False
        self._parent = os.getppid()
        self._looked_at = self._read_at = time.monotonic()
        self._held_up = False
        self._allowance = Allowance()
        self._unread, self._unread_since, self._unread_at = 0, 0.0, 0.0

    def start_application_mode(self) -> None:
        """Take the terminal, and have every signal that would end the program end the station in order."""
        self._giving_back = False
        super().start_application_mode()  # type: ignore[no-untyped-call]  # the library's own
        # Not through the event loop, which a terminal that does not read may be holding up.
        for number in (signal.SIGTERM, signal.SIGHUP, signal.SIGINT):
            signal.signal(number, lambda number, _: self._ends.end(number, self.give_back))

    def stop_application_mode(self) -> None:
        """Give the terminal back: nothing of that is left out."""
        self._giving_back = True
        super().stop_application_mode()

    def send_message(self, message: Message) -> None:
        """Give the application a key or a click from the input thread; the library makes a task of each."""
        self._station.post_message(message)

    def write(self, data: str) -> None:
        """Paint, or leave it out while the terminal does not read: the library would stop taking keys.

        All is painted again once it reads again; see ``catches_up``.
        """
        if self._waiting() >= MOST_BEHIND and not self._giving_back:
            if not self._behind:
                LOG.debug("the terminal does not read")
            self._behind = True
        else:
            super().write(data)

    def catches_up(self) -> bool:
        """Whether something was left out and the terminal reads again; true once, then nothing is owed."""
        caught_up = self._behind and not self._waiting()
        if caught_up:
            LOG.debug("the terminal reads again")
            self._behind = False
        return caught_up

    def _waiting(self) -> int:
        """Writes that the terminal has not taken yet."""
        return 0 if self._writer_thread is None else self._writer_thread._queue.qsize()

    def _query_in_band_window_resize(self) -> None:
        """Sizes come from the system alone: a terminal may send any, and one may take all memory."""

    def give_back(self) -> None:
        """Have the terminal read lines and echo them again; this needs no terminal that reads."""
        if self.attrs_before is not None:
            with suppress(termios.error):
                termios.tcsetattr(self.fileno, termios.TCSANOW, self.attrs_before)

    def _sigcont_application(self, *arguments: object) -> None:
        # The library takes the terminal on every SIGCONT, also when only SIGSTOP had come and it still has
        # it: two threads would read the keys, and the terminal would not be restored.
        if self._must_signal_resume:
            super()._sigcont_application(*arguments)

    def _run_input_thread(self) -> None:
        # The library ends the program when this thread fails, but with exit code 0.
        try:
            self.run_input_thread()
        except BaseException as fault:  # noqa: BLE001 - whatever it is: without keys there is no station
            unread = RuntimeError("no keys are read any more")
            unread.__cause__ = fault

            def fail() -> None:
                raise unread

            self._station.call_later(fail)

    def run_input_thread(self) -> None:
        """Read the terminal until the station ends or the terminal does."""
        parser = StationParser()
        # One invalid byte ends the program otherwise (library issue 6456).
        decode = getincrementaldecoder("utf-8")(errors="replace").decode
        with selectors.SelectSelector() as selector:
            selector.register(self.fileno, selectors.EVENT_READ)
            leaving = False
            while not leaving:
                leaving = self.exit_event.is_set()  # then once more: what has been typed by now still counts
                readable = self._wait(selector, 0 if leaving or self._unread else self._patience())
                data = self._read() if readable else b""
                if not data or self._looked_at - self._unread_since >= COUNTING_SECONDS:
                    self._pass_on_unread()
                if (readable and not data) or os.getppid() != self._parent:
                    # The library would read the end of its terminal again and again.
                    self._ends.end(signal.SIGHUP, self.give_back)
                    return
                if data:
                    parser.came()
                    parser = self._take_in(parser, last_moves(decode(data)))
                for message in parser.tick():
                    self.process_message(message)
        self._pass_on_unread()

    def _read(self) -> bytes:
        """What the terminal sent; nothing if it is gone."""
        try:
            return os.read(self.fileno, 4096)
        except OSError:
            return b""

    def _take_in(self, parser: StationParser, text: str) -> StationParser:
        """Feed what was read; of more than any person sends only the number is passed on.

        Answers the parser for the next read.
        """
        self._allowance.came(self._looked_at, len(text))
        if not self._allowance.spent:
            self._pass_on_unread()
        at = 0
        while at < len(text):
            if (swallowed := parser.swallowed(text, at)) > at:
                at = swallowed
                continue
            if self._allowance.spent:
                at, keys = parser.passed_over(text, at)
                self._leave_unread(keys)
            if at < len(text):
                parser = self._feed(parser, text[at])
                self._allowance.read()
                at += 1
        return parser

    def _leave_unread(self, keys: int) -> None:
        """Count keys that nobody reads."""
        if not self._unread:
            self._unread_since = self._looked_at
        self._unread += keys
        self._unread_at = self._looked_at

    def _pass_on_unread(self) -> None:
        """Pass on how many keys nobody read, if any, behind those that were read before them."""
        if self._unread:
            unread = Unread(self._unread)
            unread.time = self._unread_at
            self._unread = 0
            self.send_message(unread)

    def _feed(self, parser: StationParser, character: str) -> StationParser:
        """Pass on what the character completes; answers the parser for the next one."""
        try:
            found = list(parser.feed(character))
        except Exception:  # noqa: BLE001 - no sequence may end a station; this one is lost, the next is read again
            return StationParser()
        for message in found:
            # All that one read brings had come by then, however long it takes to make keys of it.
            message.time = self._looked_at
            if isinstance(message, events.Key):
                message.late = self._held_up  # type: ignore[attr-defined]  # the library's keys take it
            if isinstance(message, events.MouseMove):
                if self._station.message_queue_size < MOST_BEHIND:  # the next one has the place too
                    self.process_message(message)
            elif self._allowance.takes(message):
                self.process_message(message)
            else:
                self._leave_unread(1)
        return parser

    def _patience(self) -> float:
        """How long the next look may wait if nothing comes, in seconds."""
        return LOOK_SECONDS if self._looked_at - self._read_at < TYPING_SECONDS else REST_SECONDS

    def _wait(self, selector: selectors.BaseSelector, seconds: float) -> bool:
        """Wait so long for keys at most; whether there are any."""
        readable = bool(selector.select(seconds))
        self._look()
        if self._held_up and not readable:
            # The signal that wakes a stopped program ends a wait whose time is up before it finds what came.
            readable = bool(selector.select(0))
        if readable:
            self._read_at = self._looked_at
        return readable

    def _look(self) -> None:
        """Find out whether this thread was held up, or stopped: that is said before the keys that waited."""
        now, patience = time.monotonic(), self._patience()
        away, self._looked_at = now - self._looked_at, now
        self._held_up = away > patience + HELD_UP_SECONDS
        if self._held_up:
            LOG.debug("looked for keys %d ms late", (away - patience) * 1000)
        if away > STOPPED_SECONDS:  # the library says it after the keys, or never
            self.send_message(self.SignalResume())
