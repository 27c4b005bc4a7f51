"""More than any person sends: how much of it is read key by key; the rest is passed over, and is a number."""

import re
from typing import Final

from textual import events
from textual.message import Message

#: This many keys are read however fast they come: 80 s of the fastest hands, held up by a network.
MOST_AT_ONCE: Final = 1000
#: This many more every second: a keyboard repeats a held key at most some 50 times.
PER_SECOND: Final = 100
#: What paints again or is said, as an arrow, a click or a paste, takes as long as this many keys of a run.
COST_OF_OTHERS: Final = 4
#: What no key comes of takes time to read too.
COST_OF_A_CHARACTER: Final = 0.1
#: A flood is over when nothing has come for so long, or, after a shorter pause, only this many characters.
PAUSE: Final = 0.15
SHORT_PAUSE: Final = 0.05
FEW: Final = 64

_PARAMETERS: Final = r"[0-?]*[ -/]*(?:[@-~]|(?=\x1b)|[^ -~\x1b])"
# Patterns are compiled at their first use: few stations ever see a flood.
#: What a flood may consist of but for what begins a paste or a text: whole, and broken off by what follows.
_PASSED_OVER: Final = (
    rf"(?:[^\x1b]++|\x1b+(?=\x1b)|\x1b\[200~[^\x1b]*\x1b\[201~|\x1b\[(?!200~){_PARAMETERS}"
    r"|\x1bO(?:[ -~]|(?=\x1b)|[^ -~\x1b])|\x1b[^\x1b\[O\]PX^_])+"
)
#: What is one key in a flood, though it has several characters.
_SEQUENCE: Final = rf"\x1b\[{_PARAMETERS}|\x1b[^\x1b]"
_MOVE: Final = r"\x1b\[<(?:3[2-9]|[45]\d|6[0-3]);\d{1,5};\d{1,5}[Mm]"
_MOVES: Final = rf"(?:{_MOVE})+(?={_MOVE})"


class Unread(Message):
    """So many keys came that were passed over; in the order of those that were read."""

    def __init__(self, count: int) -> None:
        super().__init__()
        self.count = count


class Allowance:
    """What may still be read key by key: fed the reads of a terminal, and what they brought."""

    def __init__(self) -> None:
        self._left = float(MOST_AT_ONCE)
        self._at = float("-inf")
        #: Whether more has come than may be read.
        self.spent = False

    def came(self, at: float, characters: int) -> None:
        """A read brought this many characters at a monotonic time, in s."""
        pause, self._at = at - self._at, at
        self._left = min(MOST_AT_ONCE, self._left + pause * PER_SECOND)
        over = pause >= PAUSE or (pause >= SHORT_PAUSE and characters <= FEW)
        if over and self._left >= COST_OF_OTHERS:
            self.spent = False

    def takes(self, message: Message) -> bool:
        """Whether what was read is passed on."""
        if self.spent:
            return False
        self._spend(1 if isinstance(message, events.Key) and message.is_printable else COST_OF_OTHERS)
        return True

    def read(self) -> None:
        """A character was read."""
        self._spend(COST_OF_A_CHARACTER)

    def _spend(self, cost: float) -> None:
        self._left = max(0.0, self._left - cost)
        self.spent = self.spent or self._left < COST_OF_OTHERS


def last_moves(text: str) -> str:
    """A text without the mouse's moves that are followed by another one: only the last place counts."""
    return re.sub(_MOVES, "", text)


def passed_over(text: str, at: int) -> tuple[int, int]:
    """Up to where a flood's text can be passed over from a place on, and how many keys that may be."""
    found = re.compile(_PASSED_OVER).match(text, at)
    if found is None:
        return at, 0
    return found.end(), len(re.sub(_SEQUENCE, "x", found[0]))
