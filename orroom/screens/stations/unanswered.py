"""Questions that stay open: when a key rings, when they close, what becomes of what was typed in them."""

from typing import Final

from orroom.case.terms import Role
from orroom.figures.wording import several
from orroom.screens.terminal.asking import Choice, Dialogue, Question, Step, Words, name_of
from orroom.screens.terminal.hands import Press
from orroom.screens.terminal.keys import Keys, shown_key
from orroom.screens.terminal.painting import clipped

#: After this many seconds without a key, somebody who presses one may have forgotten that a question is open.
FORGOTTEN: Final = 20.0
#: After this many seconds without a key a question closes by itself.
CLOSES: Final = 30.0
#: The same where somebody goes and looks before answering: a dish is counted by hand, a thermometer read, two
#: people sign off or read a new plan. Grafts are counted at one or two a second (common practice, no source).
CLOSES_UNHURRIED: Final = 300.0

#: The key that counts digits as taps: the first of these that does nothing else at the cutting station.
COUNTING_KEYS: Final = "tyaj"
DIGITS: Final = "0123456789"


class Unanswered:
    """The open questions of one station, whichever of its screens asks them."""

    def __init__(self) -> None:
        #: What was typed in questions that closed by themselves: by their names, then by what was asked.
        self._kept: dict[str, dict[str, str]] = {}
        #: Digits in a text that has just closed, and the question's name: the next key may count them.
        self._offered: tuple[Press, ...] = ()
        self._offered_by = ""

    def ask(self, dialogue: Dialogue, covers: Question | None = None) -> Question:
        """The question of a dialogue, with what was typed in it when it last closed by itself."""
        return Question(dialogue, covers, self._kept.pop(name_of(dialogue), {}))

    def answer(self, question: Question, press: Press, untouched: float, role: Role, keys: Keys) -> bool:
        """Give a question a key that comes ``untouched`` seconds after the last one; whether it rings.

        It does where the key may have been a tap: the question was forgotten, or does not take it, or it is
        a text at the cutting station and the key a digit. A forgotten one takes what is typed, no answer yet.
        """
        step, typed = question.step, question.typed
        forgotten = untouched >= FORGOTTEN and press.button is None
        if forgotten and (isinstance(step, Choice) or press.key == "enter"):
            again = shown_key(press.key)
            question.remark = f"open for {untouched:.0f} s without a key: {again} again if it is the answer"
            return True
        if press.key == "backspace" and typed[-1:].isdigit() and question.strayed:
            question.strayed.pop()
        question.press(press.key, press.character)
        grew = question.step is step and len(question.typed) > len(typed)
        if role == "cutting" and isinstance(step, Words) and press.key in DIGITS and grew:
            if (keys.action_for(role, press.key) or "").startswith("cut("):
                question.strayed.append(press)
            question.remark = question.remark or "digits go into this text, not into the tally; Esc closes it"
            return True
        if forgotten and grew:
            question.remark = question.remark or "this question was still open: what you type goes into it"
        refused = question.step is step and question.typed == typed and bool(question.remark)
        return forgotten or refused

    def close(self, question: Question, untouched: float, keys: Keys) -> str:
        """Close a question that nobody touched, and keep what was typed; answers what is said about it."""
        written = question.written
        if written:
            self._kept[question.name] = written
        asked = clipped(question.step.ask.rstrip(" :"), 30) if question.step is not None else ""
        then = "what was typed is kept for its next opening" if written else "nothing entered"
        closed = f"Closed, no key for {untouched:.0f} s: {asked}; {then}."
        return " ".join(each for each in (self.offer(question, keys), closed) if each)

    def offer(self, question: Question, keys: Keys) -> str:
        """Offer to count the digits in a text that closes; answers the sentence, empty if there are none."""
        if not question.strayed:
            return ""
        self._offered, self._offered_by = tuple(question.strayed), question.name
        digits = clipped(" ".join(press.key for press in self._offered), 24)
        counts = f"{_counting_key(keys)} counts them as {several(len(self._offered), 'tap')}"
        return f"{digits} went into the text: {counts}, any other key does not."

    def taken_up(self, key: str, keys: Keys) -> tuple[Press, ...]:
        """The taps that this key counts, which are then kept as no text; all else leaves them."""
        offered, self._offered = self._offered, ()
        if not offered or key != _counting_key(keys):
            return ()
        kept = self._kept.get(self._offered_by, {})
        if "".join(kept.values()) == "".join(press.key for press in offered):
            del self._kept[self._offered_by]
        return offered


def closes_after(step: Step, *, over: bool) -> float:
    """After how many seconds without a key a step's question closes; ``over`` a final count or a re-plan."""
    return CLOSES_UNHURRIED if over or step.unhurried else CLOSES


def _counting_key(keys: Keys) -> str:
    return next((key for key in COUNTING_KEYS if keys.action_for("cutting", key) is None), COUNTING_KEYS[0])
