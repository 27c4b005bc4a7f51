"""A tap that was taken, in case it turns out that no hand made it."""

from __future__ import annotations

from msgspec import Struct

from orroom.desk import Answer
from orroom.screens.stations.views.frame import Glance
from orroom.screens.terminal import asking
from orroom.screens.terminal.hands import Press


class Taken(Struct):
    """A tap that was taken, how the screen stood before, and what it asked: in case no hand made it."""

    press: Press
    typed: str
    lot: str
    question: asking.Question | None
    step: asking.Step | None
    answer_typed: str
    asked: list[Answer] = []

    def take_back(self, glance: Glance) -> None:
        """Have the screen stand as before it; a question that it answered a step of is dropped whole."""
        glance.typed, glance.lot = self.typed, self.lot
        if self.question is not None and self.question.step is self.step:
            self.question.typed = self.answer_typed
            glance.question = self.question
        else:
            glance.question = None
