"""Which prompt Space answers: the one that its screen showed when it was pressed, or none, and why none.

Where several are due then, Space asks which was done; that one is named first, and taken by Space again.
"""

from collections import deque
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from orroom.case.commands import GiveCare
from orroom.case.events import CareGiven, Entry
from orroom.case.state import CaseState
from orroom.figures.prompts import Prompt, given_at_ms, key_of, prompts, urgent_first

#: Somebody who sees a prompt presses Space within this, s, also if it was answered meanwhile. Common
#: practice, no source.
ANSWERED_LATELY: Final = 5.0
#: This many paints and answers are remembered.
KEPT: Final = 32


class _Painted(Struct, frozen=True):
    """From when on (monotonic, s) a prompt was shown first, and when its care had been given (UTC ms)."""

    at: float
    first: Prompt | None
    given_at_ms: int


class _Answer(Struct, frozen=True):
    """The prompt shown first was answered: when that was seen (monotonic, s), when it was given (UTC ms)."""

    at: float
    prompt: Prompt
    given_at_ms: int


class Answering:
    """What one keyboard's screens have shown of the prompts, and which of them were answered meanwhile."""

    def __init__(self) -> None:
        self._painted: deque[_Painted] = deque(maxlen=KEPT)
        self._answers: deque[_Answer] = deque(maxlen=KEPT)
        #: Answers of this keyboard that are not in the record yet, by the key of the prompt.
        self._waiting: dict[str, int] = {}

    def painted(self, at: float, state: CaseState, now_ms: int, *, seen: bool) -> None:
        """From ``at`` on a screen shows this state; its prompts are not ``seen`` where a page covers them."""
        self._notice(at, state)
        first = next(iter(_due(state, now_ms)), None) if seen else None
        given_ms = 0 if first is None else given_at_ms(state.tally, first)
        before = self._painted[-1] if self._painted else None
        if before is None or (_care(before.first), before.given_at_ms) != (_care(first), given_ms):
            self._painted.append(_Painted(at, first, given_ms))

    def asked(self, prompt: str) -> None:
        """An answer of this keyboard is on its way to the record."""
        self._waiting[prompt] = self._waiting.get(prompt, 0) + 1

    def settled(self, prompt: str) -> None:
        """It is in the record now, or was refused."""
        self._waiting[prompt] -= 1

    def meant(self, at: float, state: CaseState, now_ms: int, station: str) -> Prompt | str | None:
        """The prompt that Space answers if it was pressed ``at``, or a sentence why it answers none.

        ``None`` if the screen showed no prompt that was due. That a prompt was answered lately is said once.
        """
        shown = next((each.first for each in reversed(self._painted) if each.at <= at), None)
        if shown is not None and self._waiting.get(shown.key):
            return _not_on_disk(shown)
        self._notice(at, state)
        due = _due(state, now_ms)
        answered = [
            each
            for each in self._answers
            if at - each.at < ANSWERED_LATELY and given_at_ms(state.tally, each.prompt) == each.given_at_ms
        ]
        self._answers.clear()
        if answered:
            entry = _answered_by(state, answered[-1].prompt)
            if len(due) < 2 or entry.stamp.station != station:  # else this key only asks which
                return _already(answered[-1].prompt, entry, now_ms, station) + _next_words(due)
        if shown is None:
            return None
        found = next((each for each in due if each.key == shown.key), None)
        return found or f"{shown.label} needs no answer any more: nothing entered.{_next_words(due)}"

    def given_since(self, asked_of: CaseState, state: CaseState, care: GiveCare, now_ms: int) -> str:
        """Why care picked in a question, asked of an earlier state, is not entered; empty if it is."""
        key = key_of(care.care, care.lane)
        prompt = next((each for each in prompts(asked_of, now_ms) if each.key == key), None)
        if prompt is None:
            return ""
        if self._waiting.get(key):
            return _not_on_disk(prompt)
        if given_at_ms(state.tally, prompt) > given_at_ms(asked_of.tally, prompt):
            return _already(prompt, _answered_by(state, prompt), now_ms, "")
        return ""

    def _notice(self, at: float, state: CaseState) -> None:
        """See whether the prompt that was painted first has been answered since."""
        if not self._painted or (before := self._painted[-1]).first is None:
            return
        given_ms = given_at_ms(state.tally, before.first)
        if given_ms > before.given_at_ms:
            self._answers.append(_Answer(at, before.first, given_ms))
            self._painted[-1] = replace(before, given_at_ms=given_ms)


def _due(state: CaseState, now_ms: int) -> list[Prompt]:
    """The prompts that are due, in the order in which a screen shows them."""
    return [each for each in urgent_first(prompts(state, now_ms)) if each.pressing]


def _care(prompt: Prompt | None) -> str | None:
    return None if prompt is None else prompt.key


def _answered_by(state: CaseState, prompt: Prompt) -> Entry:
    """The entry that answered a prompt last."""
    for entry in reversed(state.log):
        given = entry.event
        if (
            isinstance(given, CareGiven)
            and key_of(given.care, given.lane) == prompt.key
            and state.stands(entry)
        ):
            return entry
    raise LookupError(f"no {prompt.care} round is in the record")


def _already(prompt: Prompt, entry: Entry, now_ms: int, station: str) -> str:
    """Who answered a prompt, and how long ago; at this ``station`` it is ``here``."""
    stamp = entry.stamp
    by = "here" if stamp.station == station else f"by {stamp.who} at {stamp.station}"
    seconds = max(0, round((now_ms - stamp.at_ms) / 1000))
    return f"{prompt.label} was answered {by} {seconds} s ago: nothing entered."


def _not_on_disk(prompt: Prompt) -> str:
    return f"{prompt.label} is answered, but not on the disk yet: nothing more entered"


def _next_words(due: list[Prompt]) -> str:
    if len(due) > 1:
        return f" Space asks which of {len(due)} was done"
    return f" Space again answers {due[0].label}" if due else " Nothing else is due"
