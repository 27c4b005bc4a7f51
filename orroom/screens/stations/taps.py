"""How a station takes keys and clicks: those of a hand, in their order; it asks about all others."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from typing import Any, Protocol

from msgspec import Struct
from textual import events

from orroom.case import commands as c
from orroom.case.events import Entry
from orroom.case.state import CaseState
from orroom.desk import Answer
from orroom.figures.wording import several
from orroom.screens.stations import questions
from orroom.screens.stations.shared import Shared
from orroom.screens.stations.unanswered import FORGOTTEN
from orroom.screens.stations.views.frame import Glance
from orroom.screens.terminal import asking
from orroom.screens.terminal.app import TerminalApp
from orroom.screens.terminal.buttons import Button
from orroom.screens.terminal.clicks import Clicks
from orroom.screens.terminal.flood import Unread
from orroom.screens.terminal.hands import Hands, Press, Run, Settled, is_bounce
from orroom.screens.terminal.keys import LEAVING_KEY, plain_name, shown_key


class Tapped(Protocol):
    """A station's screen, as far as the order of its taps needs it."""

    app: TerminalApp[Any]
    clicks: Clicks
    newest: Press | None
    glance: Glance
    shared: Shared
    taps: Taps

    def call_later(self, call: Callable[..., Any], /, *arguments: object) -> object:
        """Have the screen do something once its messages before that are done."""

    def front(self) -> Tapped:
        """The screen in front; this one while the application ends, which has none any more."""

    def cannot_be_undone(self, action: str | None) -> bool:
        """Whether what an action does now is final: an undone tap cannot be had back."""

    def tap_came(self) -> None:
        """A tap came, whether it is taken or not."""

    def follows_plan(self, state: CaseState) -> bool:
        """Keep to the plan of a state; false, and said, if what keys meant is gone from it."""

    def close_to(self, key: str, character: str | None) -> float:
        """How near to the tap before it a key is doubtful, in s."""

    def wait_for_quiet(self, hands: Hands, press: Press) -> None:
        """Have what is doubtful settled if nothing comes after ``press`` for a while."""

    def out_of_reach(self, button: Button) -> str | None:
        """Why a button does nothing now, or ``None``."""

    async def tap(self, press: Press) -> None:
        """What a tap does now."""

    def ask(self, command: c.Command, who: str | None = None) -> Answer:
        """Ask the desk for an entry; what came of it is said."""

    def say(self, message: str, *, wrong: bool = False) -> None:
        """One line about the last key."""

    def repaint(self) -> None:
        """Show what is now."""


class Taken(Struct):
    """A tap that was taken, how the screen stood before, and what it asked: in case no hand made it."""

    press: Press
    typed: str
    harvest: str
    lane: str
    question: asking.Question | None
    step: asking.Step | None
    answer_typed: str
    asked: list[Answer] = []

    def take_back(self, glance: Glance) -> None:
        """Have the screen stand as before it; a question that it answered a step of is dropped whole."""
        glance.typed, glance.harvest, glance.lane = self.typed, self.harvest, self.lane
        if self.question is not None and self.question.step is self.step:
            self.question.typed = self.answer_typed
            glance.question = self.question
        else:
            glance.question = None


class Taps:
    """The keys and clicks of one screen: each passes ``Hands`` first, and is then taken or asked about."""

    def __init__(self, screen: Tapped, hands: Hands) -> None:
        self._screen, self._glance, self._shared, self.hands = screen, screen.glance, screen.shared, hands
        #: The tap that is being taken.
        self.taking: Taken | None = None
        #: How long before it the last one was taken, in s.
        self.untouched = float("-inf")
        #: What a hand pressed and what was set aside, in order, until it is taken or asked about.
        self._inbox: deque[Press | Run] = deque()
        self._doubted: Run | None = None
        self._taken: deque[Taken] = deque(maxlen=32)
        self._newest_asked: Answer | None = None
        #: When the last tap was taken, in s.
        self._taken_at = float("-inf")
        #: The key that has just ended a question, or opened one that it answers: it may bounce.
        self._ended: Press | None = None

    def touched(self, at: float) -> None:
        """What is asked begins to wait for an answer ``at`` a moment, in s: no tap has opened it."""
        self._taken_at = at

    def untouched_at(self, now: float) -> float:
        """For how many seconds no tap has come or been taken."""
        newest = self._screen.newest
        return now - max(self._taken_at, newest.at if newest is not None else now)

    def ask_desk(self, command: c.Command, who: str | None = None) -> Answer:
        """Ask the desk for an entry, as of when the tap was made that is being taken."""
        taking = self.taking
        asked = self._shared.desk.ask(command, who, at_ms=taking.press.at_ms if taking is not None else None)
        if taking is not None:
            taking.asked.append(asked)
        self._newest_asked = asked
        return asked

    def keys_wait(self) -> None:
        """Keys wait at the application: take them in turn."""
        self._screen.call_later(self._take_keys)

    async def _take_keys(self) -> None:
        """Take the keys that wait, in order, while this screen is in front; the next has those behind."""
        keys = self._shared.keys
        while keys:
            if (front := self._screen.front().taps) is not self:
                front.keys_wait()
                return
            each = keys.popleft()
            if isinstance(each, Unread):
                self._not_read(each)
            else:
                await self._key(each)

    def _not_read(self, unread: Unread) -> None:
        """So many keys came at once that the terminal's reader only counted them."""
        press = Press("", None, unread.time, self._shared.desk.clock.now_ms())
        self.hands.unread(press, unread.count)
        self._screen.wait_for_quiet(self.hands, press)

    async def _key(self, event: events.Key) -> None:
        """Take a key if a hand pressed it, else set it aside."""
        key = plain_name(event.key)
        if key == LEAVING_KEY and not self.hands.running:
            await self._screen.app.action_quit()
            return
        close = self._screen.close_to(key, event.character)
        final = self._screen.cannot_be_undone(self._glance.keys.action_for(self._glance.role, key))
        late = getattr(event, "late", False)  # only a Unix terminal's keys know
        now_ms = self._shared.desk.clock.now_ms()
        await self.arrive(Press(key, event.character, event.time, now_ms, close, final, late=late))

    async def arrive(self, press: Press) -> None:
        """Take a tap if a hand made it, else set it aside."""
        self._screen.tap_came()
        newest = self._screen.newest
        if self._glance.doubt is not None and newest is not None and press.at - newest.at >= FORGOTTEN:
            self._screen.app.bell()  # nobody may know that it waits for an answer
        was_running = self.hands.running
        settled = self.hands.take(press)
        if self.hands.running and not was_running:
            self._screen.say(
                f"{press.noun}s come faster than a hand can press: they are set aside", wrong=True
            )
        self._glance.notice = ""
        self._screen.wait_for_quiet(self.hands, press)
        if settled or not was_running:  # of a run that goes on there is nothing new to show
            await self.sort(settled)

    def went_on(self, at: float) -> None:
        """The station was stopped until ``at``: taps that waited meanwhile are asked about."""
        self.hands.stopped(at)

    async def sort(self, settled: Settled) -> None:
        """Put what is settled in order; a tap that answers the doubt goes before those that wait for it."""
        async with self._shared.taking:
            asked_before = self._newest_asked
            for each in settled:
                if isinstance(each, Run):
                    self._inbox.append(self._without_waiting(each))
                elif self._answers_doubt(each):
                    if not self._bounced(each):
                        await self.answer_doubt(each.key)
                        self._ended = each
                else:
                    self._inbox.append(each)
            await self._take_inbox()
            asked = self._newest_asked
        if asked is None or asked is asked_before or asked.done():
            # Otherwise the answer does, at once: to paint before would keep the writer waiting.
            self._screen.repaint()

    def _answers_doubt(self, press: Press) -> bool:
        doubt = self._glance.doubt
        if doubt is None or press.key not in {"y", "n", "escape"}:
            return False
        return press.button is None or press.button.step is doubt.step

    def _bounced(self, press: Press) -> bool:
        """Whether a key that ended or opened a question bounces: that is left out, said and recorded."""
        ended = self._ended
        if ended is None or press.at < ended.at:  # it waited for the answer
            return False
        self._ended = None  # a key bounces once
        if bounced := is_bounce(press, ended):
            self._glance.notice = f"{shown_key(press.key)} came twice at once: the second one is ignored"
            self._screen.app.bell()
            self._screen.ask(c.SetKeysAside(cause="bounce", keys=(press.key,), counted=False))
            self._screen.repaint()  # now: what it says is not the desk's answer
        return bounced

    def _without_waiting(self, run: Run) -> Run:
        """A run whose first taps still wait in the inbox has not had them taken: they are in it alone."""
        waiting = [press for press in run.taps[: run.passed] if press in self._inbox]
        for press in waiting:
            self._inbox.remove(press)
        return Run(run.taps, run.passed - len(waiting), run.more)

    async def _take_inbox(self) -> None:
        """Take what waits, up to the next keys that are to be asked about."""
        while self._inbox and self._glance.doubt is None:
            each = self._inbox.popleft()
            front = self._screen.front().taps
            if isinstance(each, Run) and each.more:
                total = several(len(each.taps) + each.more, each.noun)
                self._glance.notice = f"{total} came at once, too many to count: ignored"
                self._screen.app.bell()
                self._leave_out(each)
            elif isinstance(each, Run):
                self._doubt(each)
            elif each.button is None and front is not self:
                front.hand_over(each)  # it had waited behind the key that changed the screens
            else:
                await self.take(each)
        self._glance.behind = sum(isinstance(each, Press) for each in self._inbox)

    def hand_over(self, press: Press) -> None:
        """Take a key that another screen had sorted: it is a hand's."""
        self._inbox.append(press)
        self._screen.call_later(self.sort, ())

    def _doubt(self, run: Run) -> None:
        """Ask whether keys that no hand pressed count all the same."""
        self._doubted = run
        self._glance.reading = None
        self._glance.why_aside = questions.why_aside(run.cause, run.keys, run.noun)
        self._glance.doubt = asking.Question(questions.set_aside(run.cause, run.keys, run.noun))
        self._screen.app.bell()

    async def answer_doubt(self, key: str) -> None:
        """Count what was set aside, or cancel what of it had been entered already; then what waited."""
        doubt, run = self._glance.doubt, self._doubted
        if doubt is None or run is None:
            return
        doubt.press("n" if key == "escape" else key, None)
        if not isinstance(doubt.command, c.SetKeysAside):
            return
        self._glance.doubt = self._doubted = None
        if doubt.command.counted:
            self._screen.ask(doubt.command)
            for press in run.taps[run.passed :]:
                await self.take(press)
        else:
            self._leave_out(run)
        await self._take_inbox()

    def _leave_out(self, run: Run) -> None:
        """Record a run as not counted, and cancel what it had entered before it was known as one."""
        self._screen.ask(c.SetKeysAside(cause=run.cause, keys=run.keys, counted=False, more=run.more))
        reason = "held key" if run.cause == "held" else f"no hand's {run.noun}s"
        passed = run.taps[: run.passed]
        for taken in reversed(self._taken):
            if any(taken.press is press for press in passed):
                taken.take_back(self._glance)
                for asked in taken.asked:
                    if not asked.done() or isinstance(asked.result(), Entry):
                        self._screen.ask(c.CancelTap(tap=asked.tap, reason=reason))

    async def close_up(self) -> None:
        """The station ends now: take every tap that waits; what was set aside is recorded as not counted."""
        self._inbox += self.hands.quiet()
        while self._inbox or self._doubted is not None:
            if (run := self._doubted) is not None:
                self._glance.doubt = self._doubted = None
                self._leave_out(run)
            await self._take_inbox()

    async def take(self, press: Press) -> None:
        """Take a tap: it is a hand's, or counts all the same."""
        glance, question = self._glance, self._glance.question
        self.untouched, self._taken_at = press.at - self._taken_at, max(press.at, self._taken_at)
        if self._bounced(press) or not self._screen.follows_plan(self._shared.desk.state):
            return
        if press.button is not None and (why_not := self._screen.out_of_reach(press.button)) is not None:
            self._screen.say(why_not, wrong=True)
            return
        step = question.step if question is not None else None
        typed = question.typed if question is not None else ""
        self.taking = Taken(press, glance.typed, glance.harvest, glance.lane, question, step, typed)
        self._taken.append(self.taking)
        try:
            await self._screen.tap(press)
        finally:
            self.taking = None
        now = glance.question
        if now is question or press.key == "escape":  # Esc enters nothing, and twice is how one gets out
            return
        chose = isinstance(step, asking.Choice) and not step.entry  # a number's Enter does nothing twice
        answers = now is not None and isinstance(now.step, asking.Choice) and now.step.takes(press.key)
        if chose or answers:
            self._ended = press
