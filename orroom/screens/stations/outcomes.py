"""What a station asks its desk, and says of the entry: in words, by the bell, by a mark on the size cut."""

from asyncio import TimerHandle
from typing import Final

from orroom.case import commands as c
from orroom.case.events import Entry, GraftsCut
from orroom.case.evolve import MOVING
from orroom.desk import Answer, Outcome
from orroom.figures.case_times import case_times
from orroom.figures.prompts import key_of
from orroom.figures.wording import clock_time
from orroom.screens.stations.over.overlay import Beneath
from orroom.screens.stations.views.done import done_words
from orroom.screens.terminal.bells import RING_APART_SECONDS, rings_for_entry

#: How long the size just counted stays marked.
FLASH_SECONDS: Final = 0.6
#: From when on a tap that is not on the disk is shown as waiting.
PATIENCE_SECONDS: Final = 0.1


class Outcomes:
    """The entries and refusals of one screen, as they come."""

    def __init__(self, screen: Beneath) -> None:
        self._screen, self._glance, self._desk = screen, screen.glance, screen.shared.desk
        self._flash: TimerHandle | None = None
        #: For whose break it has rung that grafts are counted during it, and when that began.
        self._break_rung: tuple[str, int] | None = None

    def ask(self, command: c.Command, who: str | None) -> Answer:
        """Ask the desk for an entry, of the person here or of ``who``."""
        app, shared = self._screen.app, self._screen.shared
        asked = self._screen.taps.ask_desk(command, who)
        if isinstance(command, c.GiveCare):
            prompt = key_of(command.care, command.lane)
            shared.answering.asked(prompt)
            asked.add_done_callback(lambda _: app.soon(shared.answering.settled, prompt))
        asked.add_done_callback(lambda done: app.soon(self.came, done.result()))
        app.after(PATIENCE_SECONDS, self._show_waiting, asked)
        return asked

    def _show_waiting(self, asked: Answer) -> None:
        if not asked.done():
            self._screen.shared.waiting = self._desk.waiting
            self._screen.front().repaint()

    def came(self, outcome: Outcome) -> None:
        """Say what the last entry was, or why there is none."""
        self._screen.shared.waiting = self._desk.waiting
        self._say(outcome)
        self._screen.front().repaint()

    def _say(self, outcome: Outcome) -> None:
        if not isinstance(outcome, Entry):
            self._screen.say(str(outcome), wrong=True)
            self._glance.refusal = outcome
            return
        self._ring(rings_for_entry(outcome, self._screen.shared.clinic.settings.bell))
        self._screen.say(f"{done_words(outcome, self._desk.state)}{self._on_break(outcome)}")
        if isinstance(outcome.event, GraftsCut):
            self._glance.flashed = outcome.event.size
            if self._flash is not None:
                self._flash.cancel()  # the mark of the tap before would take this one's with it
            self._flash = self._screen.app.after(FLASH_SECONDS, self._unflash)

    def _on_break(self, entry: Entry) -> str:
        """That the maker of an entry that counts is on a break by the record; it rings once a break."""
        tally, who = self._desk.state.tally, entry.stamp.who
        since_ms = tally.on_break.get(who)
        if since_ms is None or type(entry.event) not in MOVING:
            return ""
        if self._break_rung != (who, since_ms):
            self._break_rung = who, since_ms
            self._screen.app.bell()
        since, key = (
            clock_time(since_ms, case_times(self._desk.state)),
            self._glance.keys.shown(self._glance.role, "break"),
        )
        return f" · {who} is on a break since {since}: {key} ends it"

    def _ring(self, times: int) -> None:
        app = self._screen.app
        for number in range(times):
            app.after(number * RING_APART_SECONDS, app.bell) if number else app.bell()

    def _unflash(self) -> None:
        self._glance.flashed = ""
        self._screen.repaint()
