"""Questions answered in one line: generators of steps that end in a command or nothing. No terminal here."""

from __future__ import annotations

from collections.abc import Callable, Generator, Mapping
from types import GeneratorType
from typing import Any, cast

from msgspec import Struct

from orroom.case import commands as c
from orroom.case.terms import MAX_TEXT
from orroom.screens.terminal.hands import Press


class Option(Struct, frozen=True):
    """One answer that a key or a click gives; the keys that are its ``also`` give it too, unseen."""

    key: str
    label: str
    value: object
    also: tuple[str, ...] = ()

    def is_given_by(self, key: str) -> bool:
        """Whether a key gives it."""
        return key == self.key or key in self.also


#: What is wrong with what is typed so far, or with a key that is not an answer; empty if nothing is.
Fault = Callable[[Any], str]


class Choice(Struct, frozen=True):
    """A step answered with one key. ``means`` says in the help what is meant, here as in all steps.

    An ``unhurried`` step, of any kind, is one before whose answer somebody goes and looks.
    An ``entry`` is typed without looking, number and size in a row: its last key may begin the next at once.
    """

    ask: str
    options: tuple[Option, ...]
    escape: str = "back"
    fault: Fault | None = None
    means: str = ""
    entry: bool = False
    unhurried: bool = False

    def takes(self, key: str) -> bool:
        """Whether a key answers it."""
        return any(option.is_given_by(key) for option in self.options)


class Number(Struct, frozen=True):
    """A step answered with a number and Enter."""

    ask: str
    unit: str = ""
    decimals: bool = False
    fault: Fault | None = None
    means: str = ""
    unhurried: bool = False


class Words(Struct, frozen=True):
    """A step answered with a text and Enter."""

    ask: str
    capitals: bool = False
    fault: Fault | None = None
    means: str = ""
    unhurried: bool = False


Step = Choice | Number | Words
Dialogue = Generator[Step, Any, c.Command | None]


def name_of(dialogue: Dialogue) -> str:
    """The name of a dialogue: that of its function."""
    return cast("GeneratorType[Step, Any, c.Command | None]", dialogue).__name__


class Question:
    """A dialogue under way: the step asked now, and what has been typed for it.

    ``covers`` is the question over which it was asked, and which goes on as it was once this one has ended.
    ``before`` is what was typed in it earlier, by what was asked: it is there again where the same is asked.
    """

    def __init__(
        self, dialogue: Dialogue, covers: Question | None = None, before: Mapping[str, str] | None = None
    ) -> None:
        self._dialogue = dialogue
        #: What takes the command that is answered; ``None`` where that is settled beforehand.
        self.then: Callable[[Any], object] | None = None
        self.name = name_of(dialogue)
        self.covers = covers
        self._before = dict(before or {})
        self._typed: dict[str, str] = {}
        #: Digits typed into a text that may have been taps.
        self.strayed: list[Press] = []
        self.step: Step | None = None
        self.typed = ""
        self.remark = ""
        self.command: c.Command | None = None
        self._advance(None)

    @property
    def over(self) -> bool:
        """Whether all steps are answered; ``command`` is then what came of it."""
        return self.step is None

    @property
    def written(self) -> dict[str, str]:
        """What has been typed, also for steps that are answered or not asked yet, by what is asked."""
        self._keep()
        return {ask: typed for ask, typed in {**self._before, **self._typed}.items() if typed}

    def _keep(self) -> None:
        if isinstance(self.step, Number | Words):
            self._typed[self.step.ask] = self.typed

    def press(self, key: str, character: str | None) -> None:
        """Take a key: a choice, a character of a number or text, Enter, or backspace."""
        self.remark = ""
        if isinstance(self.step, Choice):
            self._choose(self.step, key)
        elif key == "enter":
            self._enter()
        elif key == "backspace":
            self.typed = self.typed[:-1]
            self._check()
        elif character is not None and character.isprintable():
            self._type(character)

    def _choose(self, step: Choice, key: str) -> None:
        for option in step.options:
            if option.is_given_by(key):
                self._advance(option.value)
                return
        fault = step.fault(key) if step.fault is not None else ""
        self.remark = fault or "press one of the keys shown, or Esc"

    def _type(self, character: str) -> None:
        if isinstance(self.step, Number):
            character = "." if character == "," else character
            allowed = "0123456789" + (".-" if self.step.decimals else "")
            if character not in allowed or len(self.typed) >= 7:
                self.remark = "type a number, then Enter"
                return
        elif len(self.typed) >= MAX_TEXT:
            self.remark = f"at most {MAX_TEXT} characters"
            return
        elif isinstance(self.step, Words) and self.step.capitals:
            character = character.upper()
        self.typed += character
        self._check()

    def _check(self) -> None:
        """Say what is wrong with what is typed so far, where the step knows."""
        step = self.step
        if isinstance(step, Choice) or step is None or step.fault is None or not self.typed.strip():
            return
        value: object = self.typed.strip()
        if isinstance(step, Number):
            try:
                value = float(self.typed) if step.decimals else int(self.typed)
            except ValueError:
                return
        self.remark = step.fault(value)

    def _enter(self) -> None:
        if isinstance(self.step, Number):
            try:
                value: object = float(self.typed) if self.step.decimals else int(self.typed)
            except ValueError:
                self.remark = "type a number first, or Esc"
                return
        else:
            value = self.typed.strip()
            if not value:
                self.remark = "type a text first, or Esc"
                return
        self._check()
        if not self.remark:
            self._advance(value)

    def _advance(self, answer: object) -> None:
        self._keep()
        self.typed = ""
        try:
            self.step = self._dialogue.send(answer)
        except StopIteration as done:
            self.step = None
            self.command = done.value
        if isinstance(self.step, Number | Words):
            self.typed = self._before.pop(self.step.ask, "")
