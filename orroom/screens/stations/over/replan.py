"""A re-plan over a station's screen: worked out beside it, then accepted or dismissed."""

from dataclasses import dataclass
from functools import partial

from orroom.case.final_count import count_running
from orroom.case.state import CaseState
from orroom.figures.replan.proposal import (
    NoProposal,
    Proposal,
    aims_now,
    expected_supply,
    replan,
    revision,
    still_holds,
)
from orroom.screens.stations import questions
from orroom.screens.stations.over.overlay import Beneath, Overlay
from orroom.screens.stations.views.over import REPLANNING, Over
from orroom.screens.stations.views.replan import replan_page
from orroom.screens.terminal.painting import Line


@dataclass(slots=True)
class Opened:
    """A re-plan that is open: what came of it, once worked out, the page shown, if the last one was."""

    answer: Proposal | NoProposal | None = None
    page: int = 0
    read: bool = False


class Replan(Overlay):
    """Sizes divided again by what there is. Keys that are not its own do their own work."""

    def __init__(self, beneath: Beneath) -> None:
        super().__init__(beneath)
        self.opened: Opened | None = None
        self.keys = {
            "a": self._ask_whether_to_accept,
            "escape": self._dismiss,
            **self.turned_by(self._turn),
        }

    @property
    def lies(self) -> bool:
        """Whether it is open, and no count is being made: that one is blind."""
        return self.opened is not None and count_running(self.desk.state) is None

    @property
    def help(self) -> Over | None:
        """Its keys and numbers."""
        return REPLANNING if self.lies else None

    def lines(self, state: CaseState, now_ms: int) -> list[Line] | None:
        """The proposal, or that it is being worked out."""
        if self.opened is None or count_running(state) is not None:
            return None
        now = self.opened
        shown = replan_page(state, now_ms, self.glance, now.answer, now.page, read=now.read)
        now.read = now.read or (shown.last and now.answer is not None)
        return shown.lines

    def open(self) -> None:
        """Work out a re-plan of the record as it is now."""
        self.beneath.over.give_way_to(self)
        if self.beneath.shows_no_counts():
            return
        if self.desk.state.tally.signed_off:
            self.beneath.say("the case is signed off: its plan is not divided again", wrong=True)
            return
        self.beneath.say("")
        self.opened = Opened()
        self.beneath.work_apart(partial(self._work_out, self.opened, self.desk.state))
        self.beneath.repaint()

    def give_way(self) -> None:
        """Another one opens: it is dismissed."""
        self.opened = None

    def _work_out(self, opened: Opened, state: CaseState) -> None:
        answer: Proposal | NoProposal
        try:
            answer = replan(state.plan, state.tally.placed, expected_supply(state), aims_now(state))
        except Exception as problem:  # noqa: BLE001 - whatever fails in the solver, the station goes on
            answer = NoProposal((f"The solver failed: {problem}.",))
        self.beneath.app.soon(self._worked_out, opened, answer)

    def _worked_out(self, opened: Opened, answer: Proposal | NoProposal) -> None:
        if opened is self.opened:
            opened.answer = answer
            self.beneath.repaint()

    def _turn(self, by: int) -> None:
        if self.opened is not None:
            self.opened.page += by

    def _dismiss(self) -> None:
        self.opened = None
        self.beneath.say("re-plan closed; nothing entered")

    def _answer(self) -> Proposal | NoProposal | None:
        return self.opened.answer if self.opened is not None else None

    def _ask_whether_to_accept(self) -> None:
        answer = self._answer()
        if not isinstance(answer, Proposal) or not answer.asks_for_something:
            self.beneath.say("there is nothing to accept; Esc closes this", wrong=True)
        elif self.opened is not None and not self.opened.read:
            self.beneath.say("read all its pages first: → turns them", wrong=True)
        elif self._still_holds(answer):
            dialogue = questions.accept_replan(self.desk.state, revision(answer))
            self.beneath.open_question(dialogue, self._accept)

    def _still_holds(self, answer: Proposal) -> bool:
        """Whether the record has not gone beyond the proposal; if it has, another is worked out."""
        if still_holds(answer, self.desk.state):
            return True
        self.open()
        self.beneath.say("new entries were made since then: it is worked out again", wrong=True)
        return False

    def _accept(self, command: questions.RevisePlanBy) -> None:
        """The plan is revised; with that the re-plan closes."""
        answer = self._answer()
        if isinstance(answer, Proposal) and self._still_holds(answer):
            self.opened = None
            self.beneath.ask(command.revise, command.who)
