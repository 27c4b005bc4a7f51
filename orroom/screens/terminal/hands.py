"""What a hand pressed, and what only looks so: a key held down, a terminal's late answer, a scanner, a paste.

A terminal marks neither a held key's repeats nor a program's keys; only their times do. A
tap that comes well after the one before passes at once. One that comes close after it waits for a moment: a
single close pair is two fingers or two people, and passes with its own time. More of them are a run. A run is
set aside whole, also what of it had passed before it was known, until it is quiet or a few taps have come at
a hand's pace; then it is asked about, and those taps pass. Where the station was stopped, what came meanwhile
comes at once and may be such a run; what comes after it is judged by itself.
Nothing is ever dropped here: every tap passes or is in exactly one run.
"""

from collections import deque
from collections.abc import Sequence
from itertools import pairwise
from typing import Literal

from msgspec import Struct

from orroom.case.terms import SetAsideCause
from orroom.screens.terminal.buttons import Button

# All thresholds, in seconds. Left untouched must be: 12 taps a second of alternating fingers (83 ms apart)
# and 9 a second on one key (111 ms apart), for a minute. One finger reaches 5 to 7 a second (50 to 70 taps in
# the 10 s of finger-tapping tests).

#: Two taps nearer than this may be no hand's: measured auto-repeat is 658 ms after the press, then every
#: 40 ms ±1 ms; scanners and terminal answers stay under 5 ms.
CLOSE = 0.060
#: The same while a text is written: typists roll over keys, nothing counts before Enter, and who holds a
#: letter down sees it. Three keys inside 30 ms are still no typist's.
CLOSE_IN_TEXT = 0.015
#: How long a tap that came close waits for another one before it passes.
RELEASE = 0.070
#: Some keyboards repeat more slowly, 90 to 92 ms apart by default, but evenly: fingers are not that even, and
#: one finger is not that fast, so that this many even gaps in a row under ``SLOW_REPEAT`` are a held key.
#: Even taps 10 a second (100 ms apart) stay clear of it.
SLOW_REPEAT = 0.096
EVEN = 0.008
EVEN_GAPS = 4
#: A run is over when nothing has come for so long: longer than any repeat's gap.
QUIET = 0.150
#: It is also over once this many taps came at a hand's pace: no key but another one nearer than ``CLOSE``,
#: nor the same one nearer than ``SLOW_REPEAT``. A hiccup of a held key's repeats makes one such gap, or two.
HAND_GAPS = 3
#: No more taps of a run are kept to be counted: 80 s of the fastest hands. The rest is only a number.
MOST_KEPT = 1000
#: The same key on average nearer than this is not a keyboard's repeat (at most some 50 a second) but a burst.
FASTEST_REPEAT = 0.015
#: What waited while the station was stopped for long (a machine asleep) arrives within this after it goes on.
AFTER_STOP = 0.5
#: A mouse's second click within this belongs to the first. People's double clicks are 0.1 to 0.3 s apart, and
#: systems allow 0.4 or 0.5 s for them (common defaults, from memory). Tiles, cells and digits may be clicked
#: again at once. It is also how long a button that has just come under the pointer is not what was aimed at.
DOUBLE_CLICK = 0.45
#: A click that brings the keyboard to this window comes with it, some ms before or after. Going there by keys
#: and then to the mouse takes longer than this.
FOCUS_CLICK = 0.3
#: The key that opened or closed a menu of the start screen, pressed again within this, was meant for that.
SAME_ANSWER = DOUBLE_CLICK
#: The key that ended a question, closing again within this, bounced: no finger is back so soon. Worn keys
#: chatter for some 50 ms (from memory); one finger taps one key every 111 ms at most, two every 83 ms.
#: A habit of pressing twice is slower (0.1 to 0.3 s) and looks the same as a tap: it counts.
BOUNCE = 0.080

#: What taps are in words.
TapNoun = Literal["key", "click", "tap"]


class Press(Struct, frozen=True):
    """A tap as it arrived: a key's plain name, its character, its monotonic time in s, the case's time in ms.

    A click carries its ``button``, and the name of its key, or else of its action.
    ``close`` is how near to the tap before it is doubtful; 0 for keys that record nothing and may repeat.
    ``final`` is what cannot be undone: the same key once more waits to be sure, however late it comes.
    ``late`` is what was read when the station had stood still: how long before that it came nobody knows.
    """

    key: str
    character: str | None
    at: float
    at_ms: int
    close: float = CLOSE
    final: bool = False
    button: Button | None = None
    late: bool = False

    @property
    def noun(self) -> TapNoun:
        """What it is in words."""
        return "key" if self.button is None else "click"


class Run(Struct, frozen=True):
    """Taps that no hand made, in their order; the first ``passed`` of them had passed before it was known.

    Behind those that are kept came this many ``more``.
    """

    taps: tuple[Press, ...]
    passed: int
    more: int = 0

    @property
    def cause(self) -> SetAsideCause:
        """``held`` for one key at a keyboard's pace, else ``burst``; a mouse held down does not repeat."""
        repeats = len(self.taps) - 1
        one_key = repeats > 1 and len(set(self.keys)) == 1 and self.noun == "key"
        if not one_key:
            return "burst"
        lasted = self.taps[-1].at - self.taps[0].at
        return "held" if lasted >= repeats * FASTEST_REPEAT else "burst"

    @property
    def keys(self) -> tuple[str, ...]:
        """The names of all keys in it; a click's is ``click``."""
        return tuple(tap.key if tap.button is None else tap.noun for tap in self.taps)

    @property
    def noun(self) -> TapNoun:
        """What they are in words: keys, clicks, or some of both."""
        nouns = {tap.noun for tap in self.taps}
        return nouns.pop() if len(nouns) == 1 else "tap"


Settled = tuple[Press | Run, ...]


def is_bounce(press: Press, ended: Press) -> bool:
    """Whether a key is the bounce of one that ended or opened a question; what came before that never is."""
    return press.button is None and press.key == ended.key and 0 < press.at - ended.at < BOUNCE


class Hands:
    """Sorts the taps at one station into a hand's and runs: fed them in order, and when it is quiet."""

    def __init__(self) -> None:
        #: Taps that passed lately, in case they turn out to be the start of a run.
        self._passed: deque[Press] = deque(maxlen=2 * EVEN_GAPS)
        self._doubtful: list[Press] = []
        self._run: list[Press] = []
        self._run_passed = self._run_more = 0
        #: The newest taps of the run, also once it has ended: quiet may have been called too early.
        self._tail: deque[Press] = deque(maxlen=EVEN_GAPS)
        #: Taps behind the run that may be a hand's again.
        self._trial: list[Press] = []
        self._aside_until = float("-inf")

    @property
    def patience(self) -> float | None:
        """After how many seconds without a tap ``quiet`` is to be called, or ``None`` if nothing is open."""
        if self.running:
            return QUIET
        return RELEASE if self._doubtful else None

    @property
    def running(self) -> bool:
        """Whether a run is under way."""
        return bool(self._run or self._run_more)

    def take(self, tap: Press) -> Settled:
        """What is settled by this tap, in the order pressed."""
        if tap.at < self._aside_until:
            settled = () if self.running else self.quiet()
            self._join([*self._trial, tap])
            return settled
        if self._tail and tap.at - (self._trial or self._tail)[-1].at < QUIET:
            if self.running:
                return self._try(tap)
            if _goes_on(self._tail, tap):
                self._join([tap])
                return ()
        settled = self.quiet() if self.running else ()
        self._tail.clear()
        if not tap.close:
            return (*settled, *self._wait_or_pass(tap, waits=bool(self._doubtful)))
        recent = [*self._passed, *(each for each in self._doubtful if each.close), tap]
        near = len(recent) > 1 and _gap(recent[-2], tap) < tap.close
        if (start := _start_of_run(recent)) is not None:
            known = recent[start:-1]
            self._run_passed = max(0, len(known) - sum(each.close > 0 for each in self._doubtful))
            self._join([*known[: self._run_passed], *self._doubtful, tap])
            self._doubtful.clear()
            self._passed.clear()
            return settled
        if self._doubtful and not near:
            settled += self.quiet()
        again = tap.final and len(recent) > 1 and recent[-2].key == tap.key
        return (*settled, *self._wait_or_pass(tap, waits=near or again))

    def quiet(self) -> Settled:
        """What is settled because nothing more came for ``patience``."""
        if self.running:
            run = self._run_so_far()
            if run.cause == "held" and [tap.key for tap in self._trial] == [run.taps[-1].key]:
                self._join(self._trial)  # its last repeat, come late
                run = self._run_so_far()
            return self._end(run)
        settled = tuple(self._doubtful)
        self._doubtful.clear()
        self._passed += (tap for tap in settled if tap.close)
        return settled

    def unread(self, tap: Press, count: int) -> None:
        """So many more came at once that nobody read: they are a run, or go on with one, as of ``tap``."""
        self._join([*self._trial, *self._doubtful])
        self._doubtful.clear()
        self._run_more += count
        self._tail.append(tap)

    def stopped(self, at: float) -> None:
        """The station goes on at ``at`` after it was stopped: what waited is not a hand's tap now."""
        self._aside_until = max(self._aside_until, at + AFTER_STOP)

    def _wait_or_pass(self, tap: Press, *, waits: bool) -> Settled:
        if waits:
            self._doubtful.append(tap)
            return ()
        if tap.close:
            self._passed.append(tap)
        return (tap,)

    def _try(self, tap: Press) -> Settled:
        """A tap behind a run: it goes on with it, or is one of those that show that a hand taps again."""
        last = [self._tail[-1], *self._trial, tap]
        # Behind what was read late a close pair is two fingers as ever; else the run only had a hiccup.
        apart = bool(self._trial) and self._tail[-1].late
        goes_on = _goes_on([*self._tail, *self._trial], tap, pair=not apart)
        self._trial.append(tap)
        if goes_on:
            self._join(self._trial)
        elif sum(_at_hands_pace(before, after) for before, after in pairwise(last)) >= HAND_GAPS:
            return self._end(self._run_so_far())
        return ()

    def _join(self, taps: Sequence[Press]) -> None:
        room = MOST_KEPT - len(self._run)
        self._run += taps[:room]
        self._run_more += len(taps[room:])
        self._tail += taps
        self._trial = []

    def _run_so_far(self) -> Run:
        return Run(tuple(self._run), self._run_passed, self._run_more)

    def _end(self, run: Run) -> Settled:
        """The run is over; what came behind it was a hand's."""
        tried, self._trial = self._trial, []
        self._run, self._run_passed, self._run_more = [], 0, 0
        if tried:
            self._tail.clear()
        self._passed += (tap for tap in tried if tap.close)
        return (run, *tried)


def _gap(before: Press, tap: Press) -> float:
    """How long after another a tap was made, in seconds; endless where that is not known."""
    return float("inf") if before.late and not tap.late else tap.at - before.at


def _goes_on(run: Sequence[Press], tap: Press, *, pair: bool = True) -> bool:
    """Whether a tap goes on with a run of whose taps these are the newest; a close ``pair`` alone may do."""
    near = _gap(run[-1], tap) < (tap.close or CLOSE)
    return (pair and near) or _start_of_run([*run, tap]) is not None


def _at_hands_pace(before: Press, tap: Press) -> bool:
    return _gap(before, tap) >= (SLOW_REPEAT if before.key == tap.key else CLOSE)


def _start_of_run(taps: Sequence[Press]) -> int | None:
    """Where the run begins that the last of ``taps`` belongs to, or ``None`` if it belongs to none."""
    gaps = [_gap(before, after) for before, after in pairwise(taps)]
    near = [gap < tap.close for gap, tap in zip(gaps, taps[1:], strict=True)]
    if len(near) > 1 and all(near[-2:]):
        # What was read late right before belongs to it: a key was held while the station stood still.
        return _first_of_last([tap.at - before.at < tap.close for before, tap in pairwise(taps)])
    last = gaps[-EVEN_GAPS:]
    slow = [
        gap < SLOW_REPEAT and tap.close == CLOSE and before.key == tap.key
        for gap, (before, tap) in zip(gaps, pairwise(taps), strict=True)
    ]
    if len(last) == EVEN_GAPS and all(slow[-EVEN_GAPS:]) and max(last) - min(last) < EVEN:
        return _first_of_last(slow)
    return None


def _first_of_last(true: Sequence[bool]) -> int:
    """Where the unbroken row of true ones at the end begins."""
    start = len(true)
    while start and true[start - 1]:
        start -= 1
    return start
