"""How a re-plan is opened over a station's screen, worked out beside it, accepted or dismissed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from textual.worker import Worker, WorkerState

from orroom.case import commands as c
from orroom.case.state import CaseState
from orroom.case.terms import MAX_TEXT
from orroom.figures.replan.proposal import (
    NoProposal,
    Proposal,
    expected_supply,
    reason_of,
    replan,
    revised_plan,
    still_holds,
)
from orroom.screens.stations import questions
from orroom.screens.stations.shared import Shared
from orroom.screens.stations.station import StationScreen
from orroom.screens.stations.views.over import REPLANNING, Over
from orroom.screens.stations.views.replan import replan_lines
from orroom.screens.terminal.painting import Line

#: What keys do while a re-plan is open; all others do their own work.
KEYS_WHILE_OPEN: Final = {
    "a": "accept_replan",
    "escape": "dismiss_replan",
    "space": "next_page",
    "pagedown": "next_page",
}


@dataclass(slots=True)
class Opened:
    """A re-plan that is open: what came of it, once it is worked out, and the page shown."""

    worker: Worker[Proposal | NoProposal] | None = None
    answer: Proposal | NoProposal | None = None
    page: int = 0


class ReplanningScreen(StationScreen):
    """A station's screen over which a re-plan can be opened."""

    def __init__(self, shared: Shared) -> None:
        super().__init__(shared)
        self.opened: Opened | None = None

    def paint(self, state: CaseState, now_ms: int) -> list[Line]:
        """The re-plan if one is open, else the screen's own lines."""
        if self.opened is None:
            return self.paint_own(state, now_ms)
        return replan_lines(state, now_ms, self.glance, self.opened.answer, self.opened.page)

    def over(self) -> Over | None:
        """The re-plan, if one is open."""
        return REPLANNING if self.opened is not None else super().over()

    def paint_own(self, state: CaseState, now_ms: int) -> list[Line]:
        """The screen's own lines."""
        raise NotImplementedError

    async def take(self, key: str, character: str | None) -> None:
        """What a key does now."""
        if self.opened is not None and self.glance.question is None and key in KEYS_WHILE_OPEN:
            await self.run_action(f"screen.{KEYS_WHILE_OPEN[key]}")
            self.repaint()
        else:
            await super().take(key, character)

    def action_replan(self) -> None:
        """Open a re-plan of the record as it is now. It is worked out in a thread of its own."""
        if self.shows_no_counts():
            return
        if self.desk.state.tally.signed_off:
            self.say("the case is signed off: its plan is not divided again", wrong=True)
            return
        self.say("")
        state = self.desk.state
        self.opened = Opened()
        self.opened.worker = self.run_worker(
            lambda: replan(state.plan, state.tally.placed, expected_supply(state)),
            group="replanning",
            thread=True,
            exclusive=True,
            exit_on_error=False,
        )
        self.repaint()

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        """The re-plan is worked out, or cannot be."""
        if self.opened is None or event.worker is not self.opened.worker:
            return
        if event.state is WorkerState.SUCCESS:
            self.opened.answer = event.worker.result
        elif event.state is WorkerState.ERROR:
            self.opened.answer = NoProposal((f"The solver failed: {event.worker.error}.",))
        self.repaint()

    def action_next_page(self) -> None:
        """Turn the page."""
        if self.opened is not None:
            self.opened.page += 1

    def action_dismiss_replan(self) -> None:
        """Close the re-plan; nothing is entered."""
        self.opened = None
        self.say("re-plan dismissed; nothing entered")

    def action_accept_replan(self) -> None:
        """Ask once more, then revise the plan."""
        answer = self.opened.answer if self.opened is not None else None
        if not isinstance(answer, Proposal) or not answer.moves:
            self.say("there is nothing to accept; Esc closes this", wrong=True)
        elif self._still_holds(answer):
            plan = revised_plan(answer.plan, answer.counts)
            self.open_question(questions.accept_replan(self.desk.state, plan, reason_of(answer, MAX_TEXT)))

    def _still_holds(self, answer: Proposal) -> bool:
        """Whether the record has not gone beyond the proposal; if it has, another is worked out."""
        if still_holds(answer, self.desk.state):
            return True
        self.action_replan()
        self.say("the record has gone on since then: it is worked out anew", wrong=True)
        return False

    def _finish(self, command: c.Command | None) -> None:
        """Do what a question came to; an accepted re-plan closes."""
        if not isinstance(command, questions.RevisePlanBy):
            super()._finish(command)
            return
        answer = self.opened.answer if self.opened is not None else None
        if isinstance(answer, Proposal) and self._still_holds(answer):
            self.opened = None
            self.ask(command.revise, command.who)
