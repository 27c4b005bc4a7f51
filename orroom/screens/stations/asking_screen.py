"""How a screen asks: a question opens, takes keys, and ends by an answer, by Esc or because none comes."""

from __future__ import annotations

import time
from typing import ClassVar

from orroom.case import commands as c
from orroom.case.terms import Role
from orroom.screens.stations.reading import ReadingScreen
from orroom.screens.stations.unanswered import closes_after
from orroom.screens.terminal import asking


class AskingScreen(ReadingScreen):
    """A screen whose questions stand in place of its key line."""

    ROLE: ClassVar[Role]

    def _finish(self, command: c.Command | None) -> None:
        """Do what a question came to."""
        raise NotImplementedError

    def open_question(self, dialogue: asking.Dialogue, covers: asking.Question | None = None) -> None:
        """Ask a question in place of the key line. What was refused before it goes: it is not about that.

        What it ``covers`` is asked on once it has ended.
        """
        self.glance.reading = None
        if self.glance.message_tone == "wrong":
            self.say("")
        self.glance.question = self.shared.unanswered.ask(dialogue, covers)
        if self._taking is None:
            self._taken_at = time.monotonic()  # no tap opened it: its time begins now
        self.repaint()

    def close_untouched(self, now: float) -> None:
        """Close a question that nobody has touched for long, and say so until the next key."""
        question = self.glance.question
        if question is None or question.step is None or self.glance.doubt is not None:
            return
        newest = self._newest.at if self._newest is not None else now
        untouched = now - max(self._taken_at, newest)
        if untouched >= closes_after(question.step, over=self.over() is not None):
            self._taken_at = now
            self.glance.question, self.glance.reading = question.covers, None
            self.glance.notice = self.shared.unanswered.close(question, untouched, self.glance.keys)
            self.app.bell()
            self.repaint()

    def answer_question(self, key: str) -> None:
        """Give the open question a key."""
        question, taking = self.glance.question, self._taking
        if question is None or taking is None or key == "escape":
            self.action_cancel()
            return
        press, keys = taking.press, self.glance.keys
        if self.shared.unanswered.answer(question, press, self._untouched, self.ROLE, keys):
            self.app.bell()
        if question.over:
            self.glance.question = question.covers
            self._finish(question.command)

    def action_cancel(self) -> None:
        """Drop the open question."""
        question = self.glance.question
        self.say("cancelled; nothing entered")
        if question is not None:
            self.glance.question = question.covers
            self.glance.notice = self.shared.unanswered.offer(question, self.glance.keys)
        self.repaint()
