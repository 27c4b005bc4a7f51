"""How a screen takes keys: those that a hand pressed, in their order; it asks about all others."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from textual import events
from textual.screen import Screen
from textual.timer import Timer

from orroom.case import commands as c
from orroom.case.events import Entry
from orroom.desk import Answer, Desk
from orroom.figures.wording import several
from orroom.screens import asking, questions
from orroom.screens.hands import CLOSE, CLOSE_IN_TEXT, Hands, Press, Run, Settled
from orroom.screens.keys import action_for, plain_name
from orroom.screens.views.frame import Glance

if TYPE_CHECKING:
    from orroom.screens.app import OrroomApp

#: Why what keys that no hand pressed had entered is cancelled.
CANCELLED_BECAUSE = {"held": "held key", "burst": "no hand's keys"}


@dataclass(slots=True)
class _Taken:
    """A tap that was taken, how the screen stood before, and what it asked: in case no hand made it."""

    press: Press
    typed: str
    lot: str
    question: asking.Question | None
    step: asking.Step | None
    answer_typed: str
    asked: list[Answer] = field(default_factory=list)

    def take_back(self, glance: Glance) -> None:
        """Have the screen stand as before it; a question that it answered a step of is dropped whole."""
        glance.typed, glance.lot = self.typed, self.lot
        if self.question is not None and self.question.step is self.step:
            self.question.typed = self.answer_typed
            glance.question = self.question
        else:
            glance.question = None


class GuardedScreen(Screen[None]):
    """A screen whose keys pass ``Hands`` first. What a key then does is its ``take``."""

    app: OrroomApp

    def __init__(self, desk: Desk, glance: Glance) -> None:
        super().__init__()
        self.desk = desk
        self.glance = glance
        self.hands = Hands()
        self._newest: Press | None = None
        self._until_quiet: Timer | None = None
        #: What a hand pressed and what was set aside, in order, until it is taken or asked about.
        self._inbox: deque[Press | Run] = deque()
        self._doubted: Run | None = None
        self._taking: _Taken | None = None
        self._taken: deque[_Taken] = deque(maxlen=32)

    def cannot_be_undone(self, key: str) -> bool:
        """Whether what a key does now is final: a correction cannot be corrected."""
        raise NotImplementedError

    async def take(self, key: str, character: str | None) -> None:
        """What a key does now. ``key`` is a plain name."""
        raise NotImplementedError

    def ask(self, command: c.Command) -> Answer:
        """Ask the desk for an entry."""
        raise NotImplementedError

    def say(self, message: str, *, wrong: bool = False) -> None:
        """One line about the last key."""
        raise NotImplementedError

    def repaint(self) -> None:
        """Show what is now."""
        raise NotImplementedError

    def ask_desk(self, command: c.Command) -> Answer:
        """Ask the desk for an entry, as of when the tap was made that is being taken."""
        taking = self._taking
        if taking is None:
            return self.desk.ask(command)
        asked = self.desk.ask(command, at_ms=taking.press.at_ms)
        taking.asked.append(asked)
        return asked

    async def on_key(self, event: events.Key) -> None:
        """Take a key if a hand pressed it, else set it aside."""
        event.stop()
        event.prevent_default()
        key = plain_name(event.key)
        close = self._close(key, event.character)
        final = self.cannot_be_undone(key)
        press = Press(key, event.character, event.time, self.desk.clock.now_ms(), close, final)
        was_running = self.hands.running
        settled = self.hands.take(press)
        if self.hands.running and not was_running:
            self.say("keys come faster than a hand taps: they are set aside", wrong=True)
        self._newest = press
        if self._until_quiet is not None:
            self._until_quiet.stop()
        if self.hands.patience is not None:
            self._until_quiet = self.set_timer(self.hands.patience, lambda: self._quiet(press))
        await self._sort(settled)

    def _close(self, key: str, character: str | None) -> float:
        """How near to the tap before it a key is doubtful: only keys that can count or record are."""
        if key not in {"enter", "space"} and (character is None or not character.isprintable()):
            return 0
        question = self.glance.question
        return CLOSE_IN_TEXT if question is not None and isinstance(question.step, asking.Words) else CLOSE

    async def _quiet(self, newest: Press) -> None:
        if newest is self._newest:
            await self._sort(self.hands.quiet())

    def went_on(self, at: float) -> None:
        """The station was stopped until ``at``: keys that waited meanwhile are asked about."""
        self.hands.stopped(at)

    def on_paste(self, event: events.Paste) -> None:
        """A paste counts nothing."""
        event.stop()
        self.say(f"a paste of {several(len(event.text), 'character')} counts nothing", wrong=True)
        self.repaint()

    async def _sort(self, settled: Settled) -> None:
        """Put what is settled in order; a tap that answers the doubt goes before those that wait for it."""
        for each in settled:
            if isinstance(each, Press) and self.glance.doubt is not None and each.key in {"y", "n", "escape"}:
                await self.answer_doubt(each.key)
            else:
                self._inbox.append(each if isinstance(each, Press) else self._without_waiting(each))
        await self._take_inbox()
        self.repaint()

    def _without_waiting(self, run: Run) -> Run:
        """A run whose first taps still wait in the inbox has not had them taken: they are in it alone."""
        waiting = [press for press in run.taps[: run.passed] if press in self._inbox]
        for press in waiting:
            self._inbox.remove(press)
        return Run(run.taps, run.passed - len(waiting))

    async def _take_inbox(self) -> None:
        """Take what waits, up to the next keys that are to be asked about."""
        while self._inbox and self.glance.doubt is None:
            each = self._inbox.popleft()
            if isinstance(each, Run):
                self._doubt(each)
            else:
                await self._take(each)
        self.glance.behind = sum(isinstance(each, Press) for each in self._inbox)

    def _doubt(self, run: Run) -> None:
        """Ask whether keys that no hand pressed count all the same."""
        self._doubted = run
        self.glance.reading = None
        self.glance.why_aside = questions.why_aside(run.cause, run.keys)
        self.glance.doubt = asking.Question(questions.set_aside(run.cause, run.keys))
        self.app.bell()

    async def answer_doubt(self, key: str) -> None:
        """Count what was set aside, or cancel what of it had been entered already; then what waited."""
        doubt, run = self.glance.doubt, self._doubted
        if doubt is None or run is None:
            return
        doubt.press("n" if key == "escape" else key, None)
        if not isinstance(doubt.command, c.SetKeysAside):
            return
        self.glance.doubt = self._doubted = None
        self.ask(doubt.command)
        if doubt.command.counted:
            for press in run.taps[run.passed :]:
                await self._take(press)
        else:
            self._cancel(run)
        await self._take_inbox()

    def _cancel(self, run: Run) -> None:
        """Cancel what a run had entered or opened before it was known as one."""
        passed = run.taps[: run.passed]
        for taken in reversed(self._taken):
            if any(taken.press is press for press in passed):
                taken.take_back(self.glance)
                for asked in taken.asked:
                    if not asked.done() or isinstance(asked.result(), Entry):
                        self.ask(c.CancelTap(tap=asked.tap, reason=CANCELLED_BECAUSE[run.cause]))

    async def close_up(self) -> None:
        """The station ends now: take every tap that waits; what was set aside is recorded as not counted."""
        self._inbox += self.hands.quiet()
        while self._inbox or self._doubted is not None:
            if (run := self._doubted) is not None:
                self.glance.doubt = self._doubted = None
                self.ask(c.SetKeysAside(cause=run.cause, keys=run.keys, counted=False))
                self._cancel(run)
            await self._take_inbox()

    async def _take(self, press: Press) -> None:
        """Take a tap: for the help or a question that is open, else for this screen."""
        glance, question = self.glance, self.glance.question
        if glance.reading is not None and action_for(glance.role, press.key) not in {"help", "figures"}:
            glance.reading = None
            if press.key == "escape":
                return
        self._taking = _Taken(
            press,
            glance.typed,
            glance.lot,
            question,
            question.step if question is not None else None,
            question.typed if question is not None else "",
        )
        self._taken.append(self._taking)
        try:
            await self.take(press.key, press.character)
        finally:
            self._taking = None
