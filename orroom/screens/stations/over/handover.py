"""The hand-over over a station's screen: what the person who comes has to know, until they are named."""

from orroom.case import commands as c
from orroom.case.events import Entry
from orroom.case.state import CaseState
from orroom.desk import Outcome
from orroom.screens.stations import questions
from orroom.screens.stations.over.overlay import Beneath, Overlay
from orroom.screens.stations.views.handover import handover_lines
from orroom.screens.terminal.asking import Question
from orroom.screens.terminal.painting import Line


class HandOver(Overlay):
    """It lies there as long as it is asked who takes the station over."""

    def __init__(self, beneath: Beneath) -> None:
        super().__init__(beneath)
        self._question: Question | None = None

    @property
    def lies(self) -> bool:
        """Whether it is asked now."""
        return self._question is not None and self.glance.question is self._question

    def lines(self, state: CaseState, now_ms: int) -> list[Line] | None:
        """The lines for the person who comes, and the question."""
        return handover_lines(state, now_ms, self.glance, self.desk.who) if self.lies else None

    def open(self) -> None:
        """Ask who takes the station over."""
        self.beneath.over.give_way_to(self)
        self._question = self.beneath.open_question(questions.hand_over(self.desk.who), self._hand_over)
        self.beneath.repaint()

    def _hand_over(self, command: questions.HandOverTo) -> None:
        left, self.desk.who = command.left, command.initials
        self.beneath.ask(c.HandOver(left=left)).add_done_callback(
            lambda done: self.beneath.app.soon(self._handed_over, done.result(), left)
        )

    def _handed_over(self, outcome: Outcome, left: str) -> None:
        if not isinstance(outcome, Entry):
            self.desk.who = left  # nobody took over
            self.beneath.repaint()
