"""What every station's screen does: keys and clicks, what lies over it, the desk, what came of a tap."""

from __future__ import annotations

import time
from collections.abc import Callable
from functools import partial
from typing import Any, ClassVar

from msgspec.structs import replace

from orroom.case import commands as c
from orroom.case.decide import decide
from orroom.case.drawing import harvests_oldest_first
from orroom.case.events import Stamp
from orroom.case.final_count import count_running
from orroom.case.limits import unanswered_limits
from orroom.case.mismatches import open_mismatches
from orroom.case.rules import Refusal
from orroom.case.state import CaseState
from orroom.case.terms import Role
from orroom.desk import Answer
from orroom.figures.holding import counted_to_ms
from orroom.figures.prompts import Prompt, prompts, urgent_first
from orroom.figures.wording import several
from orroom.screens.stations import checking, correcting, prompt_questions, questions
from orroom.screens.stations.outcomes import Outcomes
from orroom.screens.stations.over.asking import Asking
from orroom.screens.stations.over.opened_by import opened_by
from orroom.screens.stations.over.overlay import Overlays
from orroom.screens.stations.shared import Shared
from orroom.screens.stations.taps import Taps
from orroom.screens.stations.team_questions import team
from orroom.screens.stations.views.frame import Glance
from orroom.screens.terminal.asking import Dialogue, Question, Words
from orroom.screens.terminal.board_screen import BoardScreen
from orroom.screens.terminal.buttons import Button
from orroom.screens.terminal.hands import CLOSE, CLOSE_IN_TEXT, Hands, Press, Settled
from orroom.screens.terminal.keys import NUMLOCK_OFF, RECORD_NOTHING, shown_key
from orroom.screens.terminal.painting import Line


class StationScreen(BoardScreen):
    """Base of the roles' screens; each adds its own lines and keys."""

    ROLE: ClassVar[Role]

    def __init__(self, shared: Shared) -> None:
        super().__init__(hands := Hands())
        self.shared, self.desk = shared, shared.desk
        self.glance = Glance(role=self.ROLE, who=self.desk.who, keys=shared.clinic.keys)
        self.taps = Taps(self, hands)
        self.asking = Asking(self)
        self.over = Overlays(self, self.asking)
        self.outcomes = Outcomes(self)
        self._painted: tuple[CaseState, str | None] | None = None
        #: What is painted now: a state, and at what time.
        self._paints = self.desk.state, 0

    def paint(self, state: CaseState, now_ms: int) -> list[Line]:
        """The screen's own lines."""
        raise NotImplementedError

    def repaint(self) -> None:
        """Show the desk's state as it is now."""
        state = self.desk.state  # once: the writer thread may put a newer one there at any time
        self.follows_plan(state)  # also behind a page of help, which paints nothing else
        glance = self.glance
        glance.who = self.desk.who
        glance.lesson = self.shared.lesson_says(state, self.ROLE)
        glance.trouble = self.desk.trouble
        glance.not_intact = self.shared.not_intact
        glance.waiting = min(self.shared.waiting, self.desk.waiting)
        self._painted = state, glance.trouble
        glance.width, glance.height = self.size
        now_ms = self.now_ms()
        self._paints = state, now_ms
        super().repaint()
        if self.front() is self:
            seen = not self.too_small and glance.reading is None
            self.shared.answering.painted(time.monotonic(), state, now_ms, seen=seen)

    def lines(self) -> list[Line]:
        """The lines of what lies uppermost, or the screen's own."""
        return self.over.lines(*self._paints) or self.paint(*self._paints)

    @property
    def question(self) -> Question | None:
        """The question that is open."""
        return self.glance.question

    @property
    def asks(self) -> object:
        """What is asked now: whether keys that were set aside count goes before all else."""
        asked = self.glance.doubt or self.glance.question
        return asked.step if asked is not None else None

    @property
    def meanwhile(self) -> str:
        """What keys do where the terminal is too small to show it."""
        return "Taps still count." if self.glance.doubt is None else "Keys set aside: y count, n not."

    def front(self) -> StationScreen:
        """The screen in front; this one while the application ends, which has none any more."""
        stack = self.app.screen_stack
        return stack[-1] if stack and isinstance(stack[-1], StationScreen) else self

    def is_up_to_date(self) -> bool:
        """Whether the desk's state is the one that was painted last."""
        return (
            self._painted is not None
            and self._painted[0] is self.desk.state
            and self._painted[1] == self.desk.trouble
        )

    def now_ms(self) -> int:
        """The case's time."""
        return self.desk.clock.now_ms()

    def keyboard(self, *, here: bool) -> None:
        """Keys go to this window, or to another one."""
        self.glance.focused = here
        if here:
            self.clicks.focus_back(time.monotonic())
        else:
            self.clicks.focus_lost()

    def again_at_once(self, button: Button | None) -> str | None:
        """Pages may be turned at once again."""
        return self.glance.keys.key_for(self.ROLE, "figures")

    def close_to(self, key: str, character: str | None) -> float:
        """How near to the tap before it a key is doubtful, in s: only keys that can count or record are."""
        question = self.glance.question
        if key not in {"enter", "space"} and (character is None or not character.isprintable()):
            action = self.glance.keys.action_for(self.ROLE, key)
            records = question is None and action is not None and action not in RECORD_NOTHING
            return CLOSE if records else 0
        return CLOSE_IN_TEXT if question is not None and isinstance(question.step, Words) else CLOSE

    async def arrive(self, press: Press) -> None:
        """Take a click if a hand made it, else set it aside; keys wait at the application."""
        button = press.button
        if button is not None and self.cannot_be_undone(button.action_at(self.ROLE, self.glance.keys)):
            press = replace(press, final=True)
        await self.taps.arrive(press)

    async def sort(self, settled: Settled) -> None:
        """Take what a hand made, and ask about all else."""
        await self.taps.sort(settled)

    def paste(self, text: str) -> None:
        """A paste counts nothing."""
        self.say(f"a paste of {several(len(text), 'character')} was ignored: nothing counted", wrong=True)

    def tap_came(self) -> None:
        """A tap came, whether it is taken or not."""

    def follows_plan(self, state: CaseState) -> bool:
        """Keep to the plan of a state; false, and said, if what keys meant is gone from it."""
        return True

    def cannot_be_undone(self, action: str | None) -> bool:
        """Whether an action undoes something now: that cannot be undone itself."""
        return self.glance.question is None and action == "undo"

    async def tap(self, press: Press) -> None:
        """What a tap does now: it is taken by what lies uppermost, or by the screen itself."""
        if strayed := self.shared.unanswered.taken_up(press.key, self.glance.keys):
            for each in strayed:
                await self.taps.take(each)
        elif self.over.take(press):
            return
        elif press.button is None or press.button.stands_for_key:
            await self.take(press.key, press.character)
        else:
            await self.do(press.button.action)

    async def take(self, key: str, character: str | None) -> None:
        """What a key of the screen itself does. ``key`` is a plain name."""
        action = self.glance.keys.action_for(self.ROLE, key)
        if action is not None:
            await self.do(action)
        elif key in NUMLOCK_OFF:
            self.say("NumLock is off: press NumLock. Nothing was counted.", wrong=True)
        elif key == "escape":
            self.say("")
        else:
            self.say(f"{shown_key(key)} {self.glance.keys.elsewhere(self.ROLE, key)}", wrong=True)

    async def do(self, action: str) -> None:
        """Open what an action opens over the screen, or do the action."""
        if (kind := opened_by(action)) is not None:
            self.over.of(kind).open()
        else:
            await self.run_action(f"screen.{action}")

    def open_question(
        self,
        dialogue: Dialogue,
        then: Callable[[Any], object] | None = None,
        covers: Question | None = None,
    ) -> Question:
        """Ask something in place of the key line; ``then``, or else the desk, takes what is answered."""
        return self.asking.ask(dialogue, then, covers)

    def work_apart(self, work: Callable[[], None]) -> None:
        """Have something done in a thread of its own; a failure does not end the station."""
        self.run_worker(work, thread=True, exit_on_error=False)

    def ask(self, command: c.Command, who: str | None = None) -> Answer:
        """Ask the desk for an entry, of the person here or of ``who``; what came of it is said."""
        return self.outcomes.ask(command, who)

    def say(self, message: str, *, wrong: bool = False) -> None:
        """One line about the last key."""
        self.glance.message = f"✗ {message}" if wrong else message
        self.glance.message_tone = "wrong" if wrong else "strong"
        self.glance.refusal = None
        if wrong:
            self.app.bell()

    def action_undo(self) -> None:
        """Take back this person's own last tap here."""
        self.ask(c.TakeBack(role=self.ROLE))

    def action_answer(self) -> None:
        """Answer the prompt that was shown first, or ask which care was given when none was due."""
        state, now_ms = self.desk.state, self.desk.clock.now_ms()
        taking = self.taps.taking
        at = taking.press.at if taking is not None else time.monotonic()
        meant = self.shared.answering.meant(at, state, now_ms, self.desk.station)
        due = [each for each in prompts(state, now_ms) if each.pressing]
        if isinstance(meant, Prompt) and len(due) > 1:
            key = self.glance.keys.key_for(self.ROLE, "answer") or "enter"
            dialogue = prompt_questions.which_was_done(urgent_first(due), meant, key)
            self.open_question(dialogue, partial(self._give, state))
        elif isinstance(meant, Prompt):
            self._answer(meant)
        elif meant is not None:
            self.say(meant, wrong=True)
        elif found := urgent_first(prompts(state, now_ms)):
            self.open_question(prompt_questions.answer_which(found))
        else:
            key = self.glance.keys.shown(self.ROLE, "harvest")
            self.say(f"no prompts before the harvest ({key})", wrong=True)

    def action_answer_prompt(self, key: str) -> None:
        """Answer one prompt by a click on it; one that is not due yet is asked about, as the key does."""
        for prompt in prompts(self.desk.state, self.desk.clock.now_ms()):
            if prompt.key != key:
                continue
            if prompt.pressing or prompt.takes_reading:
                self._answer(prompt)
            else:
                self.open_question(prompt_questions.give_early(prompt))

    def _give(self, asked_of: CaseState, care: c.GiveCare) -> None:
        """Enter the care that was picked, unless it was given while that was asked."""
        given = self.shared.answering.given_since(asked_of, self.desk.state, care, self.now_ms())
        if given:
            self.say(given, wrong=True)
        else:
            self.ask(care)

    def _answer(self, prompt: Prompt) -> None:
        if prompt.takes_reading:
            self.open_question(prompt_questions.give_care(prompt))
        else:
            self.ask(c.GiveCare(care=prompt.care, lane=prompt.lane))

    def action_pause(self) -> None:
        """Let a prompt rest."""
        found = prompts(self.desk.state, self.desk.clock.now_ms())
        self._open_if(found, lambda: prompt_questions.pause(found), "no prompt to pause")

    def shows_no_counts(self) -> bool:
        """Whether a final count is being made: then it is said, and what would show counts is not done."""
        if count_running(self.desk.state) is None:
            return False
        self.say("a count is being made: this is shown again after it", wrong=True)
        self.repaint()
        return True

    def action_explain(self) -> None:
        """Explain a mismatch, or say what was done about a broken limit."""
        if self.shows_no_counts():
            return
        state = self.desk.state
        limits = unanswered_limits(state, counted_to_ms(state, self.now_ms()))
        found = (*limits, *open_mismatches(state))
        self._open_if(found, lambda: correcting.explain(state, limits), "no mismatch or limit to explain")

    def _open_if(self, found: object, dialogue: Callable[[], Dialogue], otherwise: str) -> None:
        if found:
            self.open_question(dialogue())
        else:
            self.say(otherwise, wrong=True)

    def action_harvest(self) -> None:
        """Enter a harvest's start or end."""
        self.open_question(questions.harvest(self.desk.state))

    def action_cancel(self) -> None:
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
        harvests = harvests_oldest_first(self.desk.state.tally)
        self.open_question(questions.count_dish(self.desk.state, harvests, self.glance.keys))

    def action_spot_check(self, zone: str | None = None) -> None:
        """Enter a close look at a few grafts, of a zone if one is named."""
        checks = self.shared.clinic.settings.checks
        self.open_question(checking.spot_check(self.desk.state, self.ROLE, zone, checks))

    def action_break(self) -> None:
        """Start or end this person's break."""
        resting = self.desk.who in self.desk.state.tally.on_break
        self.ask(c.EndBreak() if resting else c.StartBreak())

    def action_team(self) -> None:
        """Say who is at work from now on, or when a break will be; away from cutting also in which lane."""
        self.open_question(team(None if self.ROLE == "cutting" else self.desk.state))

    def action_role(self, role: Role) -> None:
        """Show another role's screen at this station."""
        self.shared.show_role(role)

    def action_leave(self) -> None:
        """Ask whether to leave, but not in the demo; what is asked already is asked on if not."""
        if self.shared.demo is not None:
            self.leave()
            return
        asked, leave = self.glance.question, questions.leaving(self.shared.ends)
        if asked is None or asked.step != leave:
            self.open_question(questions.leave(leave), lambda _: self.leave(), asked)
