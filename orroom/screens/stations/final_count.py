"""How the final count is made over the overview: one person, then another, then both beside the tally."""

from __future__ import annotations

from typing import Final

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.final_count import (
    PersonCount,
    count_running,
    filled_once,
    moved_since,
    open_differences,
    person_counts,
    piles_to_count,
)
from orroom.case.mismatches import open_mismatches
from orroom.case.state import CaseState
from orroom.errors import OrroomError
from orroom.figures.recount import PileCount, Recount, recount
from orroom.record.copies import seal
from orroom.screens.stations import final_questions as questions
from orroom.screens.stations.replan import ReplanningScreen
from orroom.screens.stations.shared import Shared
from orroom.screens.stations.views.count_running import count_running_lines
from orroom.screens.stations.views.final_count import CountUnderWay, compared_lines, counting_lines, ordered
from orroom.screens.stations.views.over import COMPARING, COUNTING, Over
from orroom.screens.terminal.asking import Dialogue, Question
from orroom.screens.terminal.keys import HELP_KEY
from orroom.screens.terminal.painting import Line

#: What keys do while two counts are compared; all others do their own work.
KEYS_WHILE_COMPARING: Final = {
    "r": "count_again",
    "t": "take_count",
    "s": "sign_off",
    "up": "pile_before",
    "down": "pile_after",
    "space": "next_page",
    "escape": "close_comparison",
}


class CountingScreen(ReplanningScreen):
    """A station's screen over which the final count is made."""

    def __init__(self, shared: Shared) -> None:
        super().__init__(shared)
        self.count: CountUnderWay | None = None
        self.comparing = False
        #: The question who counts: while it is open this screen shows no counts either.
        self.asks_who: Question | None = None
        self.chosen = 0
        #: How many pages of the comparison were turned from the one with the pile that is chosen.
        self.turned = 0

    def paint(self, state: CaseState, now_ms: int) -> list[Line]:
        """The count or the comparison if one is open, else what the screen shows otherwise."""
        if self.count is not None and self.count.begun and self.desk.station not in state.tally.counting:
            self.count, self.glance.typed = None, ""
            self.say("this count was ended at another station", wrong=True)
        if self.count is not None:
            self.count.typed = self.glance.typed
            return counting_lines(state, now_ms, self.glance, self.count)
        if self._hides(state):
            return count_running_lines(state, now_ms, self.glance)
        counts = person_counts(state)
        if self.comparing and len(counts) == 2:
            told = self._compared(state, counts)
            self.chosen = min(self.chosen, max(0, len(told.piles) - 1))
            return compared_lines(state, now_ms, self.glance, told, self.chosen, self.turned)
        return super().paint(state, now_ms)

    def over(self) -> Over | None:
        """The count under way, or both counts beside the tally."""
        if self.count is not None:
            return COUNTING
        if self._hides(self.desk.state):
            return None
        both = self.comparing and len(person_counts(self.desk.state)) == 2
        return COMPARING if both else super().over()

    def _hides(self, state: CaseState) -> bool:
        """Whether a count is being made, or is about to be begun here."""
        asks = self.asks_who is not None and self.asks_who is self.glance.question
        return asks or count_running(state) is not None

    def turns_page(self, key: str) -> bool:
        """Whether a key turns the page that is read; while somebody counts no letter does."""
        return key == HELP_KEY if self.count is not None else super().turns_page(key)

    def _compared(self, state: CaseState, counts: tuple[PersonCount, ...]) -> Recount:
        return recount(state, counts[0].found, counts[1].found)

    async def take(self, key: str, character: str | None) -> None:
        """What a key does now."""
        if self.glance.question is not None:
            await super().take(key, character)
        elif self.count is not None:
            self._counted(self.count, key)
            self.repaint()
        elif self.over() is COMPARING and key in KEYS_WHILE_COMPARING:
            await self.run_action(f"screen.{KEYS_WHILE_COMPARING[key]}")
            self.repaint()
        else:
            await super().take(key, character)

    def _counted(self, count: CountUnderWay, key: str) -> None:
        """A key while somebody counts: nothing else works, so that the count is not broken off unseen."""
        if key == "escape" and self.glance.typed:  # as Esc clears a number at placing
            self.glance.typed = ""
        elif key == "escape" and count.found:
            self.open_question(questions.break_off(count))
        elif key == "escape":
            self._break_off(count)
        elif key == HELP_KEY:
            self.action_help()
        elif key == "enter" and count.complete and not count.typed:
            self.open_question(questions.count_is_whole(count))
        else:
            count.typed = self.glance.typed  # kept there, so that keys left out take it back
            wrong = count.press(key)
            self.say(wrong, wrong=True) if wrong else self.say("")
            self.glance.typed = count.typed

    def _break_off(self, count: CountUnderWay) -> None:
        self._give_up(f"the count by {count.who} was broken off: it starts again from nothing")

    def _give_up(self, why: str) -> None:
        """The count under way here is over without a result: other screens show their counts again."""
        self.count, self.glance.typed = None, ""
        given_up = self.ask_desk(c.GiveUpCount())
        given_up.add_done_callback(lambda _: self.app.soon(self.repaint))
        self.say(why, wrong=True)

    def action_go_to_pile(self, pile: int) -> None:
        """A click on a pile."""
        if self.count is not None:
            self.count.go_to(pile)
            self.glance.typed = ""
        self.chosen, self.turned = pile, 0
        self.repaint()

    def action_final_count(self) -> None:
        """Count, or look at both counts."""
        self.say("")
        self.opened = None
        state = self.desk.state
        running = count_running(state)
        if running is not None and running.under_way:
            self.open_question(questions.count_under_way(state, running))
        elif len(person_counts(state)) == 2:
            self.comparing = True
            self.repaint()
        else:
            self._ask_who(questions.who_counts(state, running))

    def action_count_again(self) -> None:
        """Somebody counts once more what differs; their newest count holds."""
        self._ask_who(questions.who_counts_again(self.desk.state, person_counts(self.desk.state)))

    def _ask_who(self, dialogue: Dialogue) -> None:
        self.open_question(dialogue)
        self.asks_who = self.glance.question
        self.repaint()

    def action_replan(self) -> None:
        """The re-plan takes the place of the comparison, which would hide it."""
        self.comparing = False
        super().action_replan()

    def action_close_comparison(self) -> None:
        """Back to the overview."""
        self.comparing = False

    def action_pile_before(self) -> None:
        """The pile before."""
        self.chosen, self.turned = max(0, self.chosen - 1), 0

    def action_pile_after(self) -> None:
        """The pile after."""
        self.chosen, self.turned = self.chosen + 1, 0

    def action_next_page(self) -> None:
        """Turn the page of the comparison, or of the re-plan."""
        if self.comparing:
            self.turned += 1
        else:
            super().action_next_page()

    def _pile(self) -> PileCount | None:
        counts = person_counts(self.desk.state)
        rows = ordered(self._compared(self.desk.state, counts)) if len(counts) == 2 else []
        return rows[self.chosen] if self.chosen < len(rows) else None

    def action_take_count(self) -> None:
        """Both found the same, and it is not the tally's: the tally is set right, with a cause."""
        row = self._pile()
        if row is None or row.agrees or not row.counters_agree or row.first is None:
            self.say("there is no difference that both have found", wrong=True)
        else:
            self.open_question(questions.take_count(row))

    def action_sign_off(self) -> None:
        """Close the case by two people."""
        if self.desk.state.tally.signed_off:  # five answers and two initials would be in vain
            self.say("The case is signed off already.", wrong=True)
            return
        self.open_question(questions.sign_off(self.desk.state))

    def _finish(self, command: c.Command | None) -> None:
        """Do what a question came to."""
        match command:
            case questions.StartCount() if self.desk.state.tally.signed_off:  # it could not be entered
                self.say("Reopen it with a reason before it is counted again.", wrong=True)
            case questions.StartCount(who=who, again=again):
                self._begin(who, again=again)
            case questions.CountIsWhole():
                self._enter_count()
            case questions.BreakOff() if self.count is not None:
                self._break_off(self.count)
            case questions.TakeCount(dish=dish, cause=cause):
                self.ask(dish).add_done_callback(
                    lambda done: self.app.soon(self._taken_right, done.result(), cause)
                )
            case questions.SignOffBy(who=who, sign_off=sign_off):
                self.ask(sign_off, who).add_done_callback(
                    lambda done: self.app.soon(self._signed, done.result())
                )
            case _:
                super()._finish(command)

    def _begin(self, who: str, *, again: bool) -> None:
        """A person counts from now on: all piles, or those that differ between two counts."""
        state = self.desk.state
        counts, all_piles = person_counts(state), piles_to_count(state)
        piles = open_differences(state) if again else ()
        replaced = next((each.seq for each in counts if each.who == who), counts[0].seq) if piles else None
        unused = frozenset(all_piles) - filled_once(state) if not piles else frozenset()
        in_order = piles or sorted(all_piles, key=lambda pile: pile in unused)
        chosen = self._pile() if piles else None
        self.count = CountUnderWay(who, tuple(in_order), state.seq, len(counts) < 2, replaced, unused)
        if chosen is not None and chosen.pile in piles:
            self.count.go_to(piles.index(chosen.pile))
        self.glance.typed = ""
        self.ask(c.BeginCount(), who).add_done_callback(
            lambda done: self.app.soon(self._begun, done.result())
        )

    def _begun(self, outcome: object) -> None:
        """The count is in the record as begun; one that cannot be is not made."""
        if not isinstance(outcome, e.Entry):
            self.count = None
        elif self.count is not None:
            self.count.begun = True

    def _enter_count(self) -> None:
        count = self.count
        if count is None:
            return
        if (moved := moved_since(self.desk.state, count.since_seq)) is not None:
            self._give_up(f"grafts moved meanwhile (entry {moved.seq}): this count starts again")
            return
        piles = tuple(
            e.CountedPile(size=pile.size, lot=pile.lot, place=pile.place, found=count.found[pile])
            for pile in count.piles
        )
        count.begun = False
        whole = c.CountAll(piles=piles, since=count.since_seq, recount_of=count.recount_of)
        self.ask(whole, count.who).add_done_callback(
            lambda done: self.app.soon(self._count_entered, done.result())
        )

    def _count_entered(self, outcome: object) -> None:
        """The count is in the record; one that is refused stays on the screen."""
        if isinstance(outcome, e.Entry):
            self.count, self.comparing, self.turned = None, True, 0
            self.repaint()

    def _taken_right(self, outcome: object, cause: c.ExplainMismatch) -> None:
        """The tally is set right: why goes into the record, as the mismatch's explanation if there is one."""
        if not isinstance(outcome, e.Entry):
            return
        known = {each.key for each in open_mismatches(self.desk.state)}
        self.ask(cause if cause.mismatch in known else c.AddNote(text=cause.text))

    def _signed(self, outcome: object) -> None:
        """The case is closed: seal its copy."""
        if isinstance(outcome, e.Entry):
            self.comparing = False
            self.run_worker(self._seal, group="sealing", thread=True, exit_on_error=False)

    def _seal(self) -> None:
        try:
            sealed = seal(self.desk.path).name
            told, wrong = f"sealed copy: {sealed}; next: orroom summary {self.desk.path.name}", False
        except OrroomError as problem:
            told, wrong = f"the sealed copy could not be made: {problem}", True
        self.app.soon(self._say_sealed, told, wrong)

    def _say_sealed(self, told: str, wrong: bool) -> None:
        self.say(told, wrong=wrong)
        self.repaint()
