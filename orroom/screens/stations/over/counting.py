"""One person's final count over a station's screen: blind, whole or not at all."""

import re
from typing import Final

from orroom.case import commands as c
from orroom.case import events as e
from orroom.case.final_count import (
    count_running,
    filled_once,
    groups_to_count,
    moved_since,
    open_differences,
    person_counts,
)
from orroom.case.state import CaseState
from orroom.screens.stations import final_questions as questions
from orroom.screens.stations.over.comparison import Comparison
from orroom.screens.stations.over.overlay import Beneath, Overlay
from orroom.screens.stations.views.count_running import count_running_lines
from orroom.screens.stations.views.final_count import CountUnderWay, counting_lines
from orroom.screens.stations.views.over import COUNTING, Over
from orroom.screens.terminal.asking import Dialogue, Question
from orroom.screens.terminal.hands import Press
from orroom.screens.terminal.keys import HELP_KEY
from orroom.screens.terminal.painting import Line

#: What a count takes, whatever a clinic has bound to it.
OWN_KEYS: Final = frozenset({*"0123456789z", "backspace", "enter", "up", "down", "escape"})
#: A click on a group.
GO_TO_GROUP: Final = re.compile(r"go_to_group\((\d+)\)")


class Counting(Overlay):
    """While somebody counts only the key for a prompt works besides, so that it is not broken off unseen."""

    def __init__(self, beneath: Beneath) -> None:
        super().__init__(beneath)
        self.count: CountUnderWay | None = None
        #: The question who counts: while it is open this screen shows no counts either.
        self.asks_who: Question | None = None
        #: It lies below, and is there again after a count that was broken off.
        self.comparison = beneath.over.of(Comparison)
        self.comparison.keys["r"] = self._count_again

    @property
    def lies(self) -> bool:
        """Whether somebody counts here, or is about to."""
        return self.count is not None or self._asks()

    def _asks(self) -> bool:
        return self.asks_who is not None and self.asks_who is self.glance.question

    @property
    def help(self) -> Over | None:
        """Its keys and numbers."""
        return COUNTING if self.count is not None else None

    def lines(self, state: CaseState, now_ms: int) -> list[Line] | None:
        """The count; while it is asked who makes it, no count of anything."""
        if self.count is not None and self.count.begun and self.desk.station not in state.tally.counting:
            self.count, self.glance.typed = None, ""
            self.beneath.say("this count was stopped at another station", wrong=True)
        if self.count is not None:
            self.count.typed = self.glance.typed
            return counting_lines(state, now_ms, self.glance, self.count)
        return count_running_lines(state, now_ms, self.glance) if self._asks() else None

    def take(self, press: Press) -> bool:
        """Take every key but F1 and that for a prompt, and a click on a group; other buttons work."""
        if to_group := GO_TO_GROUP.fullmatch(press.key):
            self._go_to_group(int(to_group[1]))
            return True
        is_key = press.button is None or press.button.stands_for_key
        action = self.glance.keys.action_for(self.glance.role, press.key)
        leaves = press.key == HELP_KEY or (action == "answer" and press.key not in OWN_KEYS)
        if self.count is None or leaves or not is_key:
            return False
        self._counted(self.count, press.key)
        self.beneath.repaint()
        return True

    def _counted(self, count: CountUnderWay, key: str) -> None:
        if key == "escape" and self.glance.typed:  # as Esc clears a number at placing
            self.glance.typed = ""
        elif key == "escape" and count.found:
            self.beneath.open_question(questions.break_off(count), lambda _: self._break_off())
        elif key == "escape":
            self._break_off()
        elif key == "z" and count.rest:
            self.beneath.open_question(questions.none_there(count), lambda _: self._none_there(count))
        elif key == "enter" and count.complete and not count.typed:
            self.beneath.open_question(questions.count_is_whole(count), self._enter)
        else:
            count.typed = self.glance.typed  # kept there, so that keys left out take it back
            wrong = count.press(key)
            self.beneath.say(wrong, wrong=True) if wrong else self.beneath.say("")
            self.glance.typed = count.typed

    def _none_there(self, count: CountUnderWay) -> None:
        if count is self.count:  # else it was stopped at another station while that was asked
            count.press("z")
            self.glance.typed = count.typed

    def _go_to_group(self, group: int) -> None:
        if self.count is not None:
            self.count.go_to(group)
            self.glance.typed = ""
        self.comparison.choose(group)
        self.beneath.repaint()

    def open(self) -> None:
        """Count, or look at both counts."""
        self.beneath.say("")
        self.beneath.over.give_way_to(self.comparison)
        state = self.desk.state
        running = count_running(state)
        if running is not None and running.under_way:
            self.beneath.open_question(questions.count_under_way(state, running), self._begin_or_end)
        elif len(person_counts(state)) == 2:
            self.comparison.open()
        else:
            self._ask_who(questions.who_counts(state, running))

    def _count_again(self) -> None:
        """Somebody counts once more what differs; their newest count is the valid one."""
        self._ask_who(questions.who_counts_again(self.desk.state, person_counts(self.desk.state)))

    def _ask_who(self, dialogue: Dialogue) -> None:
        self.asks_who = self.beneath.open_question(dialogue, self._begin_or_end)
        self.beneath.repaint()

    def _begin_or_end(self, command: questions.StartCount | c.GiveUpCount) -> None:
        if isinstance(command, c.GiveUpCount):
            self.beneath.ask(command)
        elif self.desk.state.tally.signed_off:  # it could not be entered
            self.beneath.say("Reopen it with a reason before it is counted again.", wrong=True)
        else:
            self._begin(command.who, again=command.again)

    def _begin(self, who: str, *, again: bool) -> None:
        """A person counts from now on: all groups, or those that differ between two counts."""
        state = self.desk.state
        counts, all_groups = person_counts(state), groups_to_count(state)
        groups = open_differences(state) if again else ()
        replaced = next((each.seq for each in counts if each.who == who), counts[0].seq) if groups else None
        unused = frozenset(all_groups) - filled_once(state) if not groups else frozenset()
        in_order = groups or sorted(all_groups, key=lambda group: group in unused)
        chosen = self.comparison.row() if groups else None
        self.count = CountUnderWay(who, tuple(in_order), state.seq, len(counts) < 2, replaced, unused)
        if chosen is not None and chosen.group in groups:
            self.count.go_to(groups.index(chosen.group))
        self.glance.typed = ""
        self.beneath.ask(c.BeginCount(), who).add_done_callback(
            lambda done: self.beneath.app.soon(self._begun, done.result())
        )

    def _begun(self, outcome: object) -> None:
        """The count is in the record as begun; one that cannot be is not made."""
        if not isinstance(outcome, e.Entry):
            self.count = None
        elif self.count is not None:
            self.count.begun = True

    def _break_off(self) -> None:
        if self.count is not None:  # else it was stopped at another station while that was asked
            self._give_up(f"{self.count.who}'s count was stopped: start again")

    def _give_up(self, why: str) -> None:
        """The count is over without a result: other screens show their counts again."""
        self.count, self.glance.typed = None, ""
        given_up = self.beneath.taps.ask_desk(c.GiveUpCount())
        given_up.add_done_callback(lambda _: self.beneath.app.soon(self.beneath.repaint))
        self.beneath.say(why, wrong=True)

    def _enter(self, whole: c.CountAll) -> None:
        count = self.count
        if count is None:  # it was stopped at another station while that was asked
            return
        if (moved := moved_since(self.desk.state, count.since_seq)) is not None:
            self._give_up(f"grafts moved (entry {moved.seq}): count again from the start")
            return
        count.begun = False
        self.beneath.ask(whole, count.who).add_done_callback(
            lambda done: self.beneath.app.soon(self._entered, done.result())
        )

    def _entered(self, outcome: object) -> None:
        """The count is in the record; one that is refused stays on the screen."""
        if isinstance(outcome, e.Entry):
            self.count, self.comparison.turned = None, 0
            self.comparison.open()
            self.beneath.say(self._saved_words(outcome))
            self.beneath.repaint()

    def _saved_words(self, entry: e.Entry) -> str:
        """Whose count was saved, which of the two it is, and what comes next."""
        saved = f"{entry.stamp.who}'s count saved"
        if isinstance(entry.event, e.FinalCounted) and entry.event.recount_of is not None:
            return f"{saved}: it replaces the earlier one."
        made = len(person_counts(self.desk.state))
        key = self.glance.keys.shown("overview", "final_count")
        return f"{saved} ({made} of 2).{f' {key}: the second person counts.' if made < 2 else ''}"
