"""What every station's screen does: take keys and clicks, ask the desk, show what came of it."""

from __future__ import annotations

import time
from asyncio import TimerHandle
from collections.abc import Callable
from typing import ClassVar

from textual.app import ComposeResult

from orroom.case import commands as c
from orroom.case.decide import decide
from orroom.case.drawing import lot_in_hand, lots_oldest_first
from orroom.case.events import Entry, GraftsCut, Stamp
from orroom.case.evolve import MOVING
from orroom.case.final_count import count_running
from orroom.case.mismatches import open_mismatches
from orroom.case.rules import Refusal
from orroom.case.state import CaseState
from orroom.case.terms import Role
from orroom.desk import Answer, Outcome
from orroom.figures.prompts import Prompt, prompts
from orroom.figures.wording import clock_time
from orroom.screens.stations import correcting, questions
from orroom.screens.stations.asking_screen import AskingScreen
from orroom.screens.stations.shared import Shared
from orroom.screens.stations.views.done import done_words
from orroom.screens.stations.views.frame import Glance
from orroom.screens.stations.views.prompting import urgent_first
from orroom.screens.terminal import asking
from orroom.screens.terminal.bells import RING_APART_SECONDS, rings_for_entry
from orroom.screens.terminal.board import Board
from orroom.screens.terminal.keys import HELP_KEY, NUMLOCK_OFF, shown_key
from orroom.screens.terminal.layout import too_small
from orroom.screens.terminal.painting import Line

#: How long the size just counted stays marked.
FLASH_SECONDS = 0.6
#: From when on a tap that is not on the disk is shown as waiting.
PATIENCE_SECONDS = 0.1


class StationScreen(AskingScreen):
    """Base of the live screens; each adds its own lines and keys."""

    ROLE: ClassVar[Role]

    def __init__(self, shared: Shared) -> None:
        desk, keys = shared.desk, shared.clinic.keys
        lot = lot_in_hand(desk.state.tally)
        super().__init__(shared, Glance(role=self.ROLE, who=desk.who, keys=keys, lot=lot))
        self.board = Board()
        self._painted: tuple[CaseState, str | None] | None = None
        self._flash: TimerHandle | None = None
        #: For whose break it has rung that grafts are counted during it, and when that began.
        self._break_rung: tuple[str, int] | None = None

    def compose(self) -> ComposeResult:
        """Only the board."""
        yield self.board

    def paint(self, state: CaseState, now_ms: int) -> list[Line]:
        """The screen's own lines."""
        raise NotImplementedError

    def repaint(self) -> None:
        """Show the desk's state as it is now."""
        state = self.desk.state  # once: the writer thread may put a newer one there at any time
        self.follows_plan(state)  # also behind a page of help, which paints nothing else
        glance = self.glance
        glance.who = self.desk.who
        glance.trouble = self.desk.trouble
        glance.unsound = self.shared.unsound
        glance.waiting = self.shared.waiting
        self._painted = state, glance.trouble
        glance.width, glance.height = self.size
        now_ms = self.desk.clock.now_ms()
        if self.too_small:
            meanwhile = "Taps still count." if glance.doubt is None else "Keys set aside: y count, n not."
            self.board.show(too_small(*self.size, meanwhile))
        else:
            asked = glance.doubt or glance.question
            reads = glance.reading is not None
            lines = self.page() if reads else self.paint(state, now_ms)
            self.board.show(lines, asked.step if asked is not None else None)
        if self._front() is self:
            seen = not self.too_small and glance.reading is None
            self.shared.answering.painted(time.monotonic(), state, now_ms, seen=seen)

    def is_up_to_date(self) -> bool:
        """Whether the desk's state is the one that was painted last."""
        return (
            self._painted is not None
            and self._painted[0] is self.desk.state
            and self._painted[1] == self.desk.trouble
        )

    def on_screen_resume(self) -> None:
        """The screen comes to the front."""
        self.repaint()

    def on_resize(self) -> None:
        """The terminal has another size."""
        self.repaint()

    def cannot_be_undone(self, action: str | None) -> bool:
        """Whether an action takes something back now."""
        return self.glance.question is None and action == "take_back"

    async def take(self, key: str, character: str | None) -> None:
        """What a key does now. ``key`` is a plain name."""
        if strayed := self.shared.unanswered.taken_up(key, self.glance.keys):
            for press in strayed:
                await self._take(press)
            return
        if self.glance.question is not None:
            self.action_help() if key == HELP_KEY else self.answer_question(key)
            return
        action = self.glance.keys.action_for(self.ROLE, key)
        if action is not None:
            await self.run_action(f"screen.{action}")
        elif key in NUMLOCK_OFF:
            self.say("NumLock is off: that key counts nothing. Press NumLock.", wrong=True)
        elif key == "escape":
            self.say("")
        else:
            self.say(f"{shown_key(key)} {self.glance.keys.elsewhere(self.ROLE, key)}", wrong=True)

    def _finish(self, command: c.Command | None) -> None:
        """Do what a question came to."""
        match command:
            case None:
                return
            case c.LeaveStation():
                self.app.leave()
            case questions.ShiftTo(left=left, initials=initials):
                self.desk.who = initials
                self.ask(c.ChangeShift(left=left)).add_done_callback(
                    lambda done: self.app.soon(self._shifted, done.result(), left)
                )
            case _:
                self.ask(command)

    def ask(self, command: c.Command, who: str | None = None) -> Answer:
        """Ask the desk for an entry, of whoever sits here or of ``who``; ``answered`` hears of it."""
        asked = self.ask_desk(command, who)
        if isinstance(command, c.GiveCare):
            self.shared.answering.asked(command.care)
            asked.add_done_callback(lambda _: self.app.soon(self.shared.answering.settled, command.care))
        asked.add_done_callback(lambda done: self.app.soon(self.answered, done.result()))
        self.app.after(PATIENCE_SECONDS, self._show_waiting, asked)
        return asked

    def answered(self, outcome: Outcome) -> None:
        """Say what the last entry was, or why there is none."""
        self.shared.waiting = self.desk.waiting
        if isinstance(outcome, Entry):
            self._ring(rings_for_entry(outcome, self.shared.clinic.settings.bell))
            self.say(f"{done_words(outcome, self.desk.state)}{self._on_break(outcome)}")
            if isinstance(outcome.event, GraftsCut):
                self.glance.flashed = outcome.event.size
                if self._flash is not None:
                    self._flash.cancel()  # the mark of the tap before would take this one's with it
                self._flash = self.app.after(FLASH_SECONDS, self._unflash)
        else:
            self.say(str(outcome), wrong=True)
            self.glance.refusal = outcome
        self._front().repaint()

    def _on_break(self, entry: Entry) -> str:
        """That whoever made an entry that counts is on a break by the record; it rings once a break."""
        tally, who = self.desk.state.tally, entry.stamp.who
        since_ms = tally.on_break.get(who)
        if since_ms is None or type(entry.event) not in MOVING:
            return ""
        if self._break_rung != (who, since_ms):
            self._break_rung = who, since_ms
            self.app.bell()
        since = clock_time(since_ms, tally.utc_offset_minutes)
        return f" · {who} is on a break since {since}: {self._shown('rest')} ends it"

    def _ring(self, times: int) -> None:
        for number in range(times):
            self.set_timer(number * RING_APART_SECONDS, self.app.bell) if number else self.app.bell()

    def _shown(self, action: str) -> str:
        return self.glance.keys.shown(self.ROLE, action)

    def _shifted(self, outcome: Outcome, left: str) -> None:
        if not isinstance(outcome, Entry):
            self.desk.who = left  # nobody took over
            self.repaint()

    def _unflash(self) -> None:
        self.glance.flashed = ""
        self.repaint()

    def _show_waiting(self, asked: Answer) -> None:
        if not asked.done():
            self.shared.waiting = self.desk.waiting
            self._front().repaint()

    def say(self, message: str, *, wrong: bool = False) -> None:
        """One line about the last key."""
        self.glance.message = f"✗ {message}" if wrong else message
        self.glance.message_tone = "wrong" if wrong else "strong"
        self.glance.refusal = None
        if wrong:
            self.app.bell()

    def action_take_back(self) -> None:
        """Take back this person's own last tap here."""
        self.ask(c.TakeBack(role=self.ROLE))

    def action_answer(self) -> None:
        """Answer the prompt that was shown first, or ask which care was given when none was due."""
        state, now_ms = self.desk.state, self.desk.clock.now_ms()
        at = self._taking.press.at if self._taking is not None else time.monotonic()
        meant = self.shared.answering.meant(at, state, now_ms, self.desk.station)
        if isinstance(meant, Prompt):
            self._answer(meant)
        elif meant is not None:
            self.say(meant, wrong=True)
        elif found := urgent_first(prompts(state, now_ms)):
            self.open_question(questions.answer_which(found))
        else:
            self.say(f"no prompt: care rounds start with the harvest ({self._shown('harvest')})", wrong=True)

    def action_answer_prompt(self, care: str) -> None:
        """Answer one prompt by a click on it; one that is not due yet is asked about, as the key does."""
        for prompt in prompts(self.desk.state, self.desk.clock.now_ms()):
            if prompt.care != care:
                continue
            if prompt.status in {"due", "overdue"} or prompt.takes_reading:
                self._answer(prompt)
            else:
                self.open_question(questions.give_early(prompt))

    def _answer(self, prompt: Prompt) -> None:
        if prompt.takes_reading:
            self.open_question(questions.give_care(prompt))
        else:
            self.ask(c.GiveCare(care=prompt.care))

    def action_pause(self) -> None:
        """Let a prompt rest."""
        found = prompts(self.desk.state, self.desk.clock.now_ms())
        self._open_if(found, lambda: questions.pause(found), "no prompt to pause")

    def shows_no_counts(self) -> bool:
        """Whether a final count is being made: then it is said, and what would show counts is not done."""
        if count_running(self.desk.state) is None:
            return False
        self.say("a count is being made: this is shown again after it", wrong=True)
        self.repaint()
        return True

    def action_explain(self) -> None:
        """Explain a mismatch."""
        if self.shows_no_counts():
            return
        found = open_mismatches(self.desk.state)
        self._open_if(found, lambda: correcting.explain(self.desk.state), "there is no mismatch to explain")

    def _open_if(self, found: object, dialogue: Callable[[], asking.Dialogue], otherwise: str) -> None:
        if found:
            self.open_question(dialogue())
        else:
            self.say(otherwise, wrong=True)

    def action_harvest(self) -> None:
        """Enter a harvest's start or end."""
        self.open_question(questions.harvest(self.desk.state))

    def action_correct(self) -> None:
        """Cancel an entry by its number."""
        self.open_question(correcting.correct(lambda: self.desk.state, self.refused))

    def refused(self, command: c.Command) -> Refusal | None:
        """Why a command would be refused if it were asked now."""
        stamp = Stamp(self.desk.clock.now_ms(), self.desk.station, 1, self.desk.who)
        answer = decide(self.desk.state, command, stamp)
        return answer if isinstance(answer, Refusal) else None

    def action_note(self) -> None:
        """Write a remark."""
        self.open_question(questions.note())

    def action_count_dish(self) -> None:
        """Enter a hand count."""
        if self.shows_no_counts():
            return
        lots = lots_oldest_first(self.desk.state.tally)
        self.open_question(questions.count_dish(self.desk.state, lots, self.glance.keys))

    def action_spot_check(self) -> None:
        """Enter a close look at a few grafts."""
        self.open_question(questions.spot_check(self.ROLE, None))

    def action_rest(self) -> None:
        """Start or end this person's break."""
        resting = self.desk.who in self.desk.state.tally.on_break
        self.ask(c.EndBreak() if resting else c.StartBreak())

    def action_team(self) -> None:
        """Say who is at work from now on, or when a break will be."""
        self.open_question(questions.team())

    def action_shift(self) -> None:
        """Hand the station over."""
        self.open_question(questions.shift(self.desk.who))

    def action_figures(self) -> None:
        """Show how the figures of this screen are worked out."""
        if not self.shows_no_counts():
            super().action_figures()

    def action_role(self, role: Role) -> None:
        """Show another role's screen at this station."""
        self.shared.show_role(role)

    def action_leave(self) -> None:
        """Ask whether to leave; what is asked already is asked on if not."""
        asked = self.glance.question
        if asked is None or asked.step not in {questions.LEAVE, questions.END_PRACTICE}:
            self.open_question(questions.leave(practising=self.shared.lesson is not None), asked)
