"""A question over a station's key line: it opens, takes keys, and ends by an answer, by Esc or untouched."""

import time
from collections.abc import Callable
from typing import Any

from orroom.screens.stations.over.overlay import Overlay
from orroom.screens.stations.unanswered import closes_after
from orroom.screens.terminal.asking import Dialogue, Question
from orroom.screens.terminal.hands import Press
from orroom.screens.terminal.keys import HELP_KEY


class Asking(Overlay):
    """What is asked is in the key line of whatever is painted, and takes every key but F1."""

    def ask(
        self,
        dialogue: Dialogue,
        then: Callable[[Any], object] | None = None,
        covers: Question | None = None,
    ) -> Question:
        """Ask a question; ``then``, or else the desk, takes its command; what it ``covers`` comes after."""
        self.glance.reading = None
        if self.glance.message_tone == "wrong":
            self.beneath.say("")
        question = self.beneath.shared.unanswered.ask(dialogue, covers)
        question.then = then
        self.glance.question = question
        if self.beneath.taps.taking is None:
            self.beneath.taps.touched(time.monotonic())  # no tap opened it: its time begins now
        self.beneath.repaint()
        return question

    def take(self, press: Press) -> bool:
        """Give the open question a key."""
        question = self.glance.question
        if question is None or press.key == HELP_KEY:
            return False
        if press.key == "escape":
            self._cancel(question)
            return True
        untouched, glance = self.beneath.taps.untouched, self.glance
        if self.beneath.shared.unanswered.answer(question, press, untouched, glance.role, glance.keys):
            self.beneath.app.bell()
        if question.over:
            glance.question = question.covers
            if question.command is not None:
                (question.then or self.beneath.ask)(question.command)
        return True

    def _cancel(self, question: Question) -> None:
        self.beneath.say("cancelled; nothing entered")
        self.glance.question = question.covers
        self.glance.notice = self.beneath.shared.unanswered.offer(question, self.glance.keys)
        self.beneath.repaint()

    def close_untouched(self, now: float) -> None:
        """Close a question that nobody has touched for long, and say so until the next key."""
        question = self.glance.question
        if question is None or question.step is None or self.glance.doubt is not None:
            return
        untouched = self.beneath.taps.untouched_at(now)
        if untouched >= closes_after(question.step, over=self.beneath.over.help is not None):
            self.beneath.taps.touched(now)
            self.glance.question, self.glance.reading = question.covers, None
            self.glance.notice = self.beneath.shared.unanswered.close(question, untouched, self.glance.keys)
            self.beneath.app.bell()
            self.beneath.repaint()
