"""The hand-over over a station's screen: what the person who comes has to know, until they are named."""

from functools import partial

from orroom.case import commands as c
from orroom.case.events import Entry
from orroom.case.final_count import count_running
from orroom.case.state import CaseState
from orroom.desk import Outcome
from orroom.figures.pace.finish import Outlook
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
        self._ahead: Outlook | None = None

    @property
    def lies(self) -> bool:
        """Whether it is asked now."""
        return self._question is not None and self.glance.question is self._question

    def lines(self, state: CaseState, now_ms: int) -> list[Line] | None:
        """The lines for the person who comes, and the question."""
        if not self.lies:
            return None
        known = self.glance.foretold
        ahead = self._ahead if known is None else known.outlook
        return handover_lines(state, now_ms, self.glance, self.desk.who, ahead)

    def open(self) -> None:
        """Ask who takes the station over."""
        self.beneath.over.give_way_to(self)
        self._question = self.beneath.open_question(questions.hand_over(self.desk.who), self._hand_over)
        if self.glance.foretold is None and count_running(self.desk.state) is None:
            self.beneath.work_apart(partial(self._look_ahead, self.desk.state, self.desk.clock.now_ms()))
        self.beneath.repaint()

    def _look_ahead(self, state: CaseState, now_ms: int) -> None:
        """When all will be done, at a station that does not work that out by itself."""
        from orroom.figures.pace.rest_of_day import foretold  # not needed for the first paint

        ahead = foretold(state, now_ms).outlook
        self.beneath.app.soon(self._seen, ahead)

    def _seen(self, ahead: Outlook) -> None:
        self._ahead = ahead
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
