"""Two people's final counts next to the tally, over a station's screen: differences, and the sign-off."""

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.final_count import count_running, person_counts, waiting_by_group
from orroom.case.mismatches import open_mismatches
from orroom.case.state import CaseState
from orroom.errors import OrroomError
from orroom.figures.differences import GroupCount
from orroom.figures.recount import Recount, recount
from orroom.record.copies import locked_copy
from orroom.screens.stations import final_questions as questions
from orroom.screens.stations.over.overlay import Beneath, Overlay
from orroom.screens.stations.views.compared import NONE, compared_lines, first_that_differs, ordered
from orroom.screens.stations.views.over import COMPARING, Over
from orroom.screens.terminal.painting import Line


class Comparison(Overlay):
    """Group by group, those that differ first. Keys that are not its own do their own work."""

    def __init__(self, beneath: Beneath) -> None:
        super().__init__(beneath)
        self.opened = False
        #: The place of the group that somebody chose; else it is the first that differs.
        self._chosen: int | None = None
        #: How many pages were turned from the one with the group that is chosen.
        self.turned = 0
        self.keys = {
            "a": self._take_count,
            "g": self._give_fates,
            "o": self._sign_off,
            "up": lambda: self.choose(max(0, self.chosen - 1)),
            "down": lambda: self.choose(self.chosen + 1),
            **self.turned_by(self._turn),
            "escape": self.give_way,
        }

    @property
    def lies(self) -> bool:
        """Whether it is open with two counts, and no other one is being made: that one is blind."""
        return self._lies(self.desk.state)

    def _lies(self, state: CaseState) -> bool:
        return self.opened and count_running(state) is None and len(person_counts(state)) == 2

    @property
    def help(self) -> Over | None:
        """Its keys and numbers."""
        return COMPARING if self.lies else None

    def lines(self, state: CaseState, now_ms: int) -> list[Line] | None:
        """Both counts next to the tally."""
        if not self._lies(state):
            return None
        return compared_lines(state, now_ms, self.glance, _compared(state), self.chosen, self.turned)

    @property
    def chosen(self) -> int:
        """The place of the group that is chosen; ``NONE`` while nobody chose one and all agree."""
        rows = ordered(_compared(self.desk.state), self.desk.state)
        return first_that_differs(rows) if self._chosen is None else min(self._chosen, len(rows) - 1)

    def open(self) -> None:
        """Show both counts."""
        self.opened, self._chosen = True, None
        self.beneath.repaint()

    def give_way(self) -> None:
        """Back to the screen."""
        self.opened = False

    def choose(self, group: int) -> None:
        """Show what may explain a group, by its place in the table."""
        self._chosen, self.turned = group, 0

    def _turn(self, by: int) -> None:
        self.turned += by

    def row(self) -> GroupCount | None:
        """The group that is chosen."""
        state = self.desk.state
        if len(person_counts(state)) < 2 or self.chosen == NONE:
            return None
        return ordered(_compared(state), state)[self.chosen]

    def _take_count(self) -> None:
        """Both found the same, and it is not the tally's: the tally is set right, with a cause."""
        row = self.row()
        if row is None or row.agrees or not row.counters_agree or row.first is None:
            said = "both counts must agree first: r counts again" if row else "no group differs"
            self.beneath.say(said, wrong=True)
        else:
            self.beneath.open_question(questions.take_count(row), self._set_right)

    def _set_right(self, command: questions.TakeCount) -> None:
        self.beneath.ask(command.dish).add_done_callback(
            lambda done: self.beneath.app.soon(self._explain, done.result(), command.cause)
        )

    def _explain(self, outcome: object, cause: c.ExplainMismatch) -> None:
        """Why the tally was set right goes into the record, as the mismatch's explanation if there is one."""
        if not isinstance(outcome, e.Entry):
            return
        self._chosen = None  # on to the next that differs
        known = {each.key for each in open_mismatches(self.desk.state)}
        self.beneath.ask(cause if cause.mismatch in known else c.AddNote(text=cause.text))

    def _give_fates(self) -> None:
        """Say what becomes of what is left, beginning with the group that is chosen."""
        state, row = self.desk.state, self.row()
        if not any(count > 0 for count in waiting_by_group(state.tally).values()):
            self.beneath.say("nothing is left without a fate")
            return
        ask = questions.fates(state, None if row is None else row.group)
        self.beneath.open_question(ask, self._give)

    def _give(self, command: questions.GiveFates) -> None:
        for each in command.fates:
            self.beneath.ask(each)

    def _sign_off(self) -> None:
        """Close the case by two people."""
        if self.desk.state.tally.signed_off:  # five answers and two initials would be in vain
            self.beneath.say("The case is signed off already.", wrong=True)
            return
        self.beneath.open_question(questions.sign_off(self.desk.state), self._sign)

    def _sign(self, command: questions.SignOffBy) -> None:
        self.beneath.ask(command.sign_off, command.who).add_done_callback(
            lambda done: self.beneath.app.soon(self._signed, done.result())
        )

    def _signed(self, outcome: object) -> None:
        """The case is closed: make its locked copy."""
        if isinstance(outcome, e.Entry):
            self.opened = False
            self.beneath.work_apart(self._lock)

    def _lock(self) -> None:
        try:
            locked = locked_copy(self.desk.path).name
            words, wrong = f"locked copy: {locked}; next: orroom summary {self.desk.path.name}", False
        except OrroomError as problem:
            words, wrong = f"the locked copy could not be made: {problem}", True
        self.beneath.app.soon(self._say_locked, words, wrong)

    def _say_locked(self, words: str, wrong: bool) -> None:
        self.beneath.say(words, wrong=wrong)
        self.beneath.repaint()


def _compared(state: CaseState) -> Recount:
    first, second = person_counts(state)
    return recount(state, first.found, second.found)
