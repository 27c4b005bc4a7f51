"""What guards a station against its terminal: bytes that are no keys, answers that come late, and its end.

All that answers a fault of the terminal library stands here, each with the fault it answers, as seen in its
version 8.2.8; the tests of this module fail when the library changes in a way that matters.
"""

from __future__ import annotations

import os
import re
import selectors
import signal
import sys
import termios
import time
from codecs import getincrementaldecoder
from collections.abc import Iterable
from contextlib import suppress
from typing import IO, TYPE_CHECKING

from rich.traceback import Traceback
from textual import events
from textual._xterm_parser import XTermParser, _re_mouse_event, _re_terminal_mode_response
from textual.drivers.linux_driver import LinuxDriver
from textual.keys import Keys
from textual.message import Message
from textual.messages import InBandWindowResize

if TYPE_CHECKING:
    from orroom.screens.app import OrroomApp

ESC = "\x1b"
#: A whole control sequence, as ECMA-48 5.4 forms it; one that the library does not know is still no key.
CONTROL = re.compile(r"\x1b\[[0-?]*[ -/]*[@-~]|\x1bO[ -~]")
#: A control sequence by that form, and yet only the start of a Linux console's function key.
CONSOLE_KEY = "\x1b[["
#: These begin a text for the program that ends with BEL or ST (ECMA-48 5.6): colours, versions, clipboards.
TEXT_STARTS = frozenset(f"{ESC}{each}" for each in "]PX^_")
#: A key of the kitty keyboard protocol that also tells its event: 1 a press, 2 a repeat, 3 a release.
KITTY_EVENT = re.compile(r"(\x1b\[[\d:]*;\d*):([123])((?:;[\d:]*)?[u~ABCDEFHPQRS])")
PRESS = "1"
#: What stands around a paste.
PASTE_START, PASTE_END = f"{ESC}[200~", f"{ESC}[201~"
#: No more of a paste is kept, however long it is.
PASTE_CHARACTERS = 100_000
#: Keypad 5 while NumLock is off, which the library does not know.
KEYPAD_BEGIN = f"{ESC}OE"

#: A terminal writes a sequence in one piece; what comes later than this after ``ESC`` was typed by itself.
TYPED_SECONDS = 0.005
#: A terminal's text or a paste that stays away for so long has broken off. Under the 83 ms between the
#: fastest taps; what of a paste comes after it comes faster than a hand and is asked about.
BROKEN_OFF_SECONDS = 0.05
#: How often the input thread looks, if nothing comes.
LOOK_SECONDS = 0.05
#: Away for so long, it was held up, as by a busy machine: what it reads then came some time before. Two taps
#: of the fastest finger, read at once so and followed by a third, are no three at once.
HELD_UP_SECONDS = 0.1
#: Away for so long, it was stopped, or the machine slept.
STOPPED_SECONDS = 2.0
#: So many writes may wait for a terminal; the library's own queue takes 30, and then stops the event loop.
MOST_BEHIND = 20


class StationParser(XTermParser):
    """Reads keys out of what a terminal sends, one character at a time, and nothing but keys."""

    def __init__(self, debug: bool = False) -> None:
        self._in_text = False
        self._paste: list[str] | None = None
        self._last = ""
        self._came_at = 0.0
        self._gap = self._gap_ahead = 0.0
        super().__init__(debug)

    def came(self) -> None:
        """Something was read: what is fed now came at once, however long it takes to feed it."""
        now = time.monotonic()
        self._gap_ahead, self._came_at = now - self._came_at, now

    def feed(self, data: str) -> Iterable[Message]:
        """What one character completes."""
        self._gap, self._gap_ahead = self._gap_ahead, 0.0
        self._last = (self._last + data)[-len(PASTE_START) :]
        broken_off = self._gap >= BROKEN_OFF_SECONDS
        if self._in_text and not broken_off:
            self._in_text = not (data == "\a" or self._last.endswith(f"{ESC}\\"))
            return ()
        self._in_text = False
        if self._paste is not None:
            if broken_off:
                return [self._pasted(self._paste), *self._read(data)]
            return self._swallow(self._paste, data)
        return self._read(data)

    def _read(self, data: str) -> list[Message]:
        """What the library makes of one character, but for what is no key."""
        found = list(super().feed(data))
        if self._last == PASTE_START:
            self._paste = []
        # Sequences that break off or grow too long come back character by character, the first as "^"
        # (library issue 6573).
        if len(found) > 1 and isinstance(found[0], events.Key) and found[0].key == "circumflex_accent":
            return []
        if any(isinstance(each, events.Resize | InBandWindowResize) for each in found):
            # The library paints whatever size it is sent, and takes the mouse for one that counts in pixels.
            self.mouse_pixels, self.terminal_size, self.terminal_pixel_size = False, None, None
            return []
        return found

    def _swallow(self, paste: list[str], data: str) -> list[Message]:
        """One more character of a paste; the library would read keys out of what stands in it."""
        if len(paste) < PASTE_CHARACTERS:
            paste.append(data)
        if self._last != PASTE_END:
            return []
        del paste[-len(PASTE_END) :]
        return [self._pasted(paste)]

    def _pasted(self, paste: list[str]) -> Message:
        """What was pasted, whether it ended or broke off: the library would wait for its end for ever."""
        self._paste = None
        for character in PASTE_END:
            list(super().feed(character))
        return events.Paste("".join(paste))

    def tick(self) -> Iterable[Message]:
        """What the time that passed completes: Esc, a paste, but no sequence that broke off (issue 6573)."""
        if self._paste is not None and time.monotonic() - self._came_at >= BROKEN_OFF_SECONDS:
            return [self._pasted(self._paste)]
        found = list(super().tick())
        if found:
            self._last = ""
        return found if len(found) == 1 else ()

    def _sequence_to_key_events(self, sequence: str, alt: bool = False) -> Iterable[events.Key]:
        if sequence in TEXT_STARTS:
            self._in_text = True
            return [events.Key(Keys.Ignore, sequence)]
        if sequence == KEYPAD_BEGIN:
            return [events.Key("kp_begin", None)]
        if event := KITTY_EVENT.fullmatch(sequence):
            # The library takes no event for a number and fails (issue 6417). It never asks for events; a
            # program that ran before may have. Repeats and releases are no presses.
            if event[2] != PRESS:
                return [events.Key(Keys.Ignore, sequence)]
            sequence = event[1] + event[3]
        if len(sequence) == 2 and sequence[1] not in "[O" and self._gap > TYPED_SECONDS:
            # Esc, then another key; the library takes both for one, with Alt, if they come within 0.1 s.
            return [events.Key("escape", ESC), *super()._sequence_to_key_events(sequence[1])]
        found = list(super()._sequence_to_key_events(sequence, alt))
        if not found and _is_unknown(sequence):
            # Else the library gives its characters out as keys, digits among them (library issue 6573).
            return [events.Key(Keys.Ignore, sequence)]
        return found


def _is_unknown(sequence: str) -> bool:
    """Whether a sequence is whole and yet neither a mouse's nor an answer that the library takes."""
    return (
        CONTROL.fullmatch(sequence) is not None
        and sequence != CONSOLE_KEY
        and not sequence.startswith(f"{ESC}[M")
        and _re_mouse_event.match(sequence) is None
        and _re_terminal_mode_response.match(sequence) is None
    )


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
    """The library's driver for Unix terminals, without its faults, and told of every kind of end."""

    def __init__(
        self, app: OrroomApp, *, debug: bool = False, mouse: bool = True, size: tuple[int, int] | None = None
    ) -> None:
        super().__init__(app, debug=debug, mouse=mouse, size=size)
        self._station = app
        self._file = LosableFile(sys.__stderr__)  # type: ignore[assignment,arg-type]  # a terminal's is there
        self._behind = False
        self._giving_back = False
        self._parent = os.getppid()
        self._looked_at = time.monotonic()
        self._held_up = False

    def start_application_mode(self) -> None:
        """Take the terminal, and have every signal that would end the program end the station in order."""
        self._giving_back = False
        super().start_application_mode()  # type: ignore[no-untyped-call]  # the library's own
        # Not through the event loop, which a terminal that does not read may be holding up.
        for number in (signal.SIGTERM, signal.SIGHUP, signal.SIGINT):
            signal.signal(number, lambda number, _: self._station.end(number, self.give_back))

    def stop_application_mode(self) -> None:
        """Give the terminal back: nothing of that is left out."""
        self._giving_back = True
        super().stop_application_mode()

    def send_message(self, message: Message) -> None:
        """Give the application a key or a click from the input thread; the library makes a task of each."""
        self._station.post_message(message)

    def write(self, data: str) -> None:
        """Paint, or leave it out while the terminal does not read: the library would stop taking keys.

        All is painted anew once it reads again; see ``catches_up``.
        """
        if self._waiting() >= MOST_BEHIND and not self._giving_back:
            self._behind = True
        else:
            super().write(data)

    def catches_up(self) -> bool:
        """Whether something was left out and the terminal reads again; true once, then nothing is owed."""
        caught_up = self._behind and not self._waiting()
        if caught_up:
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
        except BaseException:  # noqa: BLE001 - whatever it is: without keys there is no station
            self._station.call_later(self._station.exit, None, 1, Traceback())

    def run_input_thread(self) -> None:
        """Read the terminal until the station ends or the terminal does."""
        parser = StationParser(self._debug)
        # One invalid byte ends the program otherwise (library issue 6456).
        decode = getincrementaldecoder("utf-8")(errors="replace").decode
        with selectors.SelectSelector() as selector:
            selector.register(self.fileno, selectors.EVENT_READ)
            leaving = False
            while not leaving:
                leaving = self.exit_event.is_set()  # then once more: what has been typed by now still counts
                readable = selector.select(0 if leaving else LOOK_SECONDS)
                self._look()
                data = self._read() if readable else b""
                if (readable and not data) or os.getppid() != self._parent:
                    # The library would read the end of its terminal again and again.
                    self._station.end(signal.SIGHUP, self.give_back)
                    return
                if data:
                    parser.came()
                for character in decode(data):
                    parser = self._feed(parser, character)
                for message in parser.tick():
                    self.process_message(message)

    def _read(self) -> bytes:
        """What the terminal sent; nothing if it is gone."""
        try:
            return os.read(self.fileno, 4096)
        except OSError:
            return b""

    def _feed(self, parser: StationParser, character: str) -> StationParser:
        """Pass on what the character completes; answers the parser for the next one."""
        try:
            found = list(parser.feed(character))
        except Exception:  # noqa: BLE001 - no sequence may end a station; this one is lost, the next is read anew
            return StationParser(self._debug)
        for message in found:
            # All that one read brings had come by then, however long it takes to make keys of it.
            message.time = self._looked_at
            if isinstance(message, events.Key):
                message.late = self._held_up  # type: ignore[attr-defined]  # the library's keys take it
            self.process_message(message)
        return parser

    def _look(self) -> None:
        """Find out whether this thread was held up, or stopped: that is said before the keys that waited."""
        now = time.monotonic()
        away, self._looked_at = now - self._looked_at, now
        self._held_up = away > HELD_UP_SECONDS
        if away > STOPPED_SECONDS:  # the library says it after the keys, or never
            self.send_message(self.SignalResume())
