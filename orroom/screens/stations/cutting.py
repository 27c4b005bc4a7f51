"""The cutting station: a key a graft, eyes in the microscope."""

from typing import ClassVar

from orroom.case import commands as c
from orroom.case.drawing import harvest_cut_by
from orroom.case.final_count import count_running
from orroom.case.state import CaseState
from orroom.case.terms import Role
from orroom.screens.stations import questions
from orroom.screens.stations.foretelling import Foretelling
from orroom.screens.stations.shared import Shared
from orroom.screens.stations.station import StationScreen
from orroom.screens.stations.views.cutting import cutting_lines
from orroom.screens.terminal.painting import Line

#: What runs out is worked out at most this often: taps go before it.
FORETELL_SECONDS = 15.0


class CuttingScreen(StationScreen):
    """What a cutting technician taps and sees."""

    ROLE: ClassVar[Role] = "cutting"

    def __init__(self, shared: Shared) -> None:
        super().__init__(shared)
        self.glance.harvest = harvest_cut_by(self.desk.state, self.desk.who)
        self.foretelling = Foretelling(self, FORETELL_SECONDS)

    def follows_plan(self, state: CaseState) -> bool:
        """Another harvest is cut where a revised plan has this one no more."""
        harvests = state.plan.harvest_by_key
        if self.glance.harvest in harvests:
            return True
        self.glance.harvest, self.glance.reading = next(iter(harvests)), None
        self.say(f"the plan has no such harvest any more: now harvest {self.glance.harvest}", wrong=True)
        return False

    def paint(self, state: CaseState, now_ms: int) -> list[Line]:
        """The screen's own lines."""
        if count_running(state) is None and self.shared.lesson is None:
            self.foretelling.keep_up(state, now_ms)
        return cutting_lines(state, now_ms, self.glance)

    def action_cut(self, size: str) -> None:
        """One graft of a size went into its dish."""
        self.ask(c.CutGrafts(harvest=self.glance.harvest, size=size))

    def action_several(self) -> None:
        """Several grafts of one size are entered in one go."""
        self.open_question(questions.cut_several(self.desk.state, self.glance.harvest, self.glance.keys))

    def action_discard(self) -> None:
        """A graft was spoilt on the board."""
        self.open_question(
            questions.discard_while_cutting(self.desk.state, self.glance.harvest, self.glance.keys)
        )

    def action_divide(self) -> None:
        """A graft out of its dish is made into smaller ones."""
        self.open_question(questions.divide(self.desk.state, self.glance.harvest, self.glance.keys))

    def action_segment(self) -> None:
        """The segment on the board is finished; its length is asked where the plan gives the strip's."""
        harvest = self.glance.harvest
        if self.desk.state.plan.harvest_by_key[harvest].strip_length_mm is None:
            self.ask(c.FinishSegment(harvest=harvest))
        else:
            self.open_question(questions.finish_segment(harvest))

    def action_next_harvest(self) -> None:
        """Cut from the plan's next harvest."""
        harvests = list(self.desk.state.plan.harvest_by_key)
        self.glance.harvest = harvests[(harvests.index(self.glance.harvest) + 1) % len(harvests)]
        self.say(f"now cutting harvest {self.glance.harvest}")
        self.repaint()
