"""What a terminal sends, read as keys: answers to faults of the library's parser, each with the fault."""

import re
import time
from collections.abc import Iterable

from textual import events
from textual._xterm_parser import XTermParser, _re_mouse_event, _re_terminal_mode_response
from textual.keys import Keys
from textual.message import Message
from textual.messages import InBandWindowResize

from orroom.screens.terminal.flood import passed_over

ESC = "\x1b"
#: A whole control sequence, as ECMA-48 5.4 forms it; one that the library does not know is still no key.
CONTROL = re.compile(r"\x1b\[[0-?]*[ -/]*[@-~]|\x1bO[ -~]")
#: A control sequence by that form, and yet only the start of a Linux console's function key.
CONSOLE_KEY = "\x1b[["
#: These begin a text for the program that ends with BEL or ST (ECMA-48 5.6): colours, versions, clipboards.
TEXT_STARTS = frozenset(f"{ESC}{each}" for each in "]PX^_")
#: A key of the kitty keyboard protocol that also has its event: 1 a press, 2 a repeat, 3 a release.
KITTY_EVENT = re.compile(r"(\x1b\[[\d:]*;\d*):([123])((?:;[\d:]*)?[u~ABCDEFHPQRS])")
PRESS = "1"
#: What stands around a paste.
PASTE_START, PASTE_END = f"{ESC}[200~", f"{ESC}[201~"
#: What ends a text for the program.
TEXT_END = re.compile(rf"\a|{ESC}\\")
#: No more of a paste is kept, however long it is.
PASTE_CHARACTERS = 100_000
#: Keypad 5 while NumLock is off, which the library does not know.
KEYPAD_BEGIN = f"{ESC}OE"

#: A terminal writes a sequence in one piece; what comes later than this after ``ESC`` was typed by itself.
TYPED_SECONDS = 0.005
#: A terminal's text or a paste that stays away for so long has broken off. Under the 83 ms between the
#: fastest taps; what of a paste comes after it comes faster than a hand and is asked about.
BROKEN_OFF_SECONDS = 0.05


class StationParser(XTermParser):
    """Reads keys out of what a terminal sends, one character at a time, and nothing but keys."""

    def __init__(self) -> None:
        self._in_text = False
        self._paste: list[str] | None = None
        self._last = ""
        self._came_at = 0.0
        self._gap = self._gap_ahead = 0.0
        super().__init__()

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

    def swallowed(self, text: str, at: int) -> int:
        """Up to where a text is swallowed whole from a place on, within a paste or a text for the program.

        Where something may end, one character after the other is to be fed.
        """
        if self._gap_ahead or (self._paste is None and not self._in_text):
            return at
        end = PASTE_END if self._paste is not None else f"{ESC}\\"
        if any(self._last.endswith(end[:length]) for length in range(1, len(end))):
            return at
        if self._paste is None:
            found = TEXT_END.search(text, at)
            stop = found.start() if found is not None else len(text) - text.endswith(ESC)
        else:
            stop = text.find(end, at)
            stop = max(at, len(text) - len(end) + 1) if stop < 0 else stop
            self._paste += text[at : min(stop, at + PASTE_CHARACTERS - len(self._paste))]
        self._last = (self._last + text[at:stop][-len(PASTE_START) :])[-len(PASTE_START) :]
        return stop

    def passed_over(self, text: str, at: int) -> tuple[int, int]:
        """Up to where a flood's text is passed over from a place on, and how many keys that may be."""
        if self._gap_ahead or self._in_text or self._paste is not None:
            return at, 0
        if self._timeout_time is not None:  # within a sequence
            begun = (self._last[self._last.rfind(ESC) :] + text[at : at + len(PASTE_START)])[
                : len(PASTE_START)
            ]
            if begun[:2] in TEXT_STARTS or PASTE_START.startswith(begun):
                return at, 0
            super().__init__()  # it is not worth reading
        stop, keys = passed_over(text, at)
        self._last = (self._last + text[at:stop][-len(PASTE_START) :])[-len(PASTE_START) :]
        return stop, keys

    def _read(self, data: str) -> list[Message]:
        """What the library makes of one character, but for what is not a key."""
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
        """One more character of a paste; the library would read keys out of its text."""
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
            # program that ran before may have. Repeats and releases are not presses.
            if event[2] != PRESS:
                return [events.Key(Keys.Ignore, sequence)]
            sequence = event[1] + event[3]
        if len(sequence) == 2 and sequence[1] not in "[O" and self._gap > TYPED_SECONDS:
            # Esc, then another key; the library takes both for one, with Alt, if they come within 0.1 s.
            return [events.Key("escape", ESC), *super()._sequence_to_key_events(sequence[1])]
        found = list(super()._sequence_to_key_events(sequence, alt))
        if not found and _is_unknown(sequence):
            # Otherwise the library gives its characters out as keys, digits among them (library issue 6573).
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
