"""How a replay reads its record, plays it, and follows a case that is still running."""

from __future__ import annotations

import asyncio
import sqlite3
import time
from typing import Final

from orroom.case.landmarks import Moment
from orroom.case.replay import Replay
from orroom.case.terms import WORKS
from orroom.clock import Clock
from orroom.errors import OrroomError
from orroom.figures.pace.rest_of_day import foretold
from orroom.figures.prompts import Prompt, prompts
from orroom.record.case_clock import case_clock
from orroom.record.case_file import CaseFile
from orroom.record.opening import error_of
from orroom.screens.replay.key_line import View, help_blocks
from orroom.screens.replay.lines import Player, loading_lines, replay_lines
from orroom.screens.replay.strip import Strip, strip_of
from orroom.screens.stations.overview import ANEW_SECONDS, FORETELL_SECONDS
from orroom.screens.terminal.app import TerminalApp
from orroom.screens.terminal.asking import Question
from orroom.screens.terminal.bells import PromptBell
from orroom.screens.terminal.board_screen import BoardScreen
from orroom.screens.terminal.pages import Block
from orroom.screens.terminal.painting import Line

FRAMES_A_SECOND: Final = 10
#: How often it is looked for entries that were made since.
LOOK_SECONDS: Final = 0.5
#: While idle time is skipped, so much of it is still shown before anything happens (case time, ms).
BEFORE_EVENTS_MS: Final = 20_000
#: A case runs while a station is open and something was entered within this time, longer than any break.
STILL_RUNNING_MS: Final = 4 * 3_600_000


class PlayingScreen(BoardScreen):
    """A case file that is played, also a running one. What keys do is for ``ReplayScreen``."""

    app: TerminalApp[OrroomError]
    replay: Replay
    strip: Strip

    def __init__(self, case_file: CaseFile, view: View) -> None:
        super().__init__()
        self._file = case_file
        self._clock: Clock | None = None
        self.player = Player(Moment(0, 0), view=view)
        self.ready = False
        self._looking = self._foretelling = False
        self._begun_at = float("-inf")
        self._bell: PromptBell | None = None  # until it plays from where it went
        self._ticked_at = time.monotonic()

    def on_mount(self) -> None:
        """Read the record while the screen says that there is something to come."""
        self.run_worker(self._load(), group="reading")

    async def _load(self) -> None:
        try:
            self.replay = await asyncio.to_thread(self._read)
        except OrroomError as problem:
            self.app.exit(problem, problem.exit_code)
            return
        self.ready = True
        self.player.at = Moment(0, self.replay.start_ms)
        self.player.who = self.people()[0]
        self._measure()
        self.keep_time()
        self._ticked_at = time.monotonic()
        self.set_interval(1 / FRAMES_A_SECOND, self._tick)
        self.set_interval(LOOK_SECONDS, self._look)
        self.repaint()

    def _read(self) -> Replay:
        try:
            entries = self._file.entries_after(0)
            self._clock = case_clock(self._file)
        except sqlite3.DatabaseError as problem:
            raise error_of(self._file.path, problem) from problem
        if not entries:
            raise OrroomError(
                f"{self._file.path} has no entries: there is nothing to replay.",
                "Open a station at it first: orroom open CASE",
            )
        return Replay(entries)

    def people(self) -> list[str]:
        """Who worked at what is shown, in the order they began; a cutting screen is somebody's."""
        view, entries = self.player.view, self.replay.entries
        found = dict.fromkeys(each.stamp.who for each in entries if each.event.does.output_of == view)
        if view in WORKS and not found:
            station = f"{view}-"
            found = dict.fromkeys(
                each.stamp.who for each in entries if each.stamp.station.startswith(station)
            )
        return list(found) or [""]

    def on_resize(self) -> None:
        """The strip is as wide as the terminal."""
        self._measure()

    def _measure(self) -> None:
        self.player.width, self.player.height = self.size
        if self.ready:
            self.strip = strip_of(self.replay, self.size.width)

    def keep_time(self) -> None:
        """Whether the case runs, and what time it is in it."""
        tally, clock = self.replay.newest.tally, self._clock
        now_ms = clock.now_ms() if clock is not None and tally.stations and not tally.signed_off else None
        runs = now_ms is not None and now_ms - self.replay.end_ms < STILL_RUNNING_MS
        self.player.now_ms = now_ms if runs else None

    async def _look(self) -> None:
        if self._looking:
            return
        self._looking = True
        try:
            self._file.check_there()  # what stations write is not in a file that was deleted
            fresh = await asyncio.to_thread(self._file.entries_after, len(self.replay.entries))
        except (OrroomError, sqlite3.Error) as problem:
            self.say(f"what came since cannot be read: {problem}", wrong=True)
            self.repaint()
            return
        finally:
            self._looking = False
        if fresh:
            self.replay.go_on(fresh)
            self._measure()
            self.record_went_on()
        running = self.player.now_ms is not None
        self.keep_time()
        if self.player.live:
            self.player.at = self.live_end()
        if fresh or running:
            self.repaint()

    def live_end(self) -> Moment:
        """The end of the record; of a running case, now."""
        return Moment(len(self.replay.entries), max(self.replay.end_ms, self.player.now_ms or 0))

    def record_went_on(self) -> None:
        """Entries have come; who keeps anything about the whole record works it out anew."""

    def _tick(self) -> None:
        now = time.monotonic()
        passed, self._ticked_at = now - self._ticked_at, now
        player = self.player
        if not player.playing:
            return
        self.keep_time()
        end_ms = max(self.replay.end_ms, player.now_ms or 0)
        at_ms = self._skipped(player.at.at_ms + round(passed * 1000 * player.speed))
        if player.live or at_ms >= end_ms:
            at_ms, player.live = end_ms, player.now_ms is not None
            if not player.live:
                player.playing = False
                self.say("the end of the record")
        left = player.at
        self.go(Moment(max(left.seq, self.replay.seq_at(at_ms)), at_ms))
        if player.rings and self._rings(left, player.at):
            self.app.bell()

    def _rings(self, left: Moment, reached: Moment) -> bool:
        """Whether a prompt has come up since a place was left; what was due where playing began is seen."""
        if self._bell is None:
            self._bell = PromptBell()
            self._bell.rings(self._prompts_at(left))
        return self._bell.rings(self._prompts_at(reached))

    def _prompts_at(self, at: Moment) -> tuple[Prompt, ...]:
        return prompts(self.replay.state_at(at.seq), at.at_ms)

    def _skipped(self, at_ms: int) -> int:
        """Where playing goes on, when time in which nothing happens is passed over."""
        if not self.player.skips_idle or self.player.live:
            return at_ms
        coming = self.replay.next_event_ms(self.player.at)
        return at_ms if coming is None else max(at_ms, coming - BEFORE_EVENTS_MS)

    def go(self, at: Moment) -> None:
        """Be at a place."""
        self.player.at = at
        self.repaint()

    def jump_to(self, at: Moment) -> None:
        """Go to a place that was chosen, and stop there."""
        self.player.playing = self.player.live = False
        self._bell = None
        self.go(at)

    @property
    def question(self) -> Question | None:
        """The question that is open."""
        return self.player.question

    def lines(self) -> list[Line]:
        """The place where the replay is."""
        if not self.ready:
            return loading_lines(*self.size)
        self._foretell()
        return replay_lines(self.replay, self.strip, self.player)

    def help_blocks(self) -> list[Block]:
        """The keys and numbers, once there is something to be seen."""
        player = self.player
        return help_blocks(player.view, player.width, player.question) if self.ready else []

    def _foretell(self) -> None:
        """Have what was foretold then worked out apart, for the overview; while it plays there is no time."""
        player, waited = self.player, time.monotonic() - self._begun_at
        known = player.foretold
        here = known is not None and (known.seq, known.at_ms) == player.at
        if player.live:
            here = known is not None and known.seq == player.at.seq and waited < ANEW_SECONDS
            due = waited >= FORETELL_SECONDS
        else:
            due = not player.playing
            player.foretold = known if here else None  # nothing from elsewhere
        plan = self.replay.state_at(player.at.seq).tally.plan
        if player.view == "overview" and plan is not None and due and not here and not self._foretelling:
            self._foretelling, self._begun_at = True, time.monotonic()
            self.run_worker(self._work_out(player.at), group="foretelling", exit_on_error=False)

    async def _work_out(self, at: Moment) -> None:
        found = None
        try:
            found = await asyncio.to_thread(foretold, self.replay.state_at(at.seq), at.at_ms)
        finally:  # a figure that fails must not end the replay
            self._foretelling = False
        if self.player.live or self.player.at == at:
            self.player.foretold = found
        self.repaint()

    def say(self, message: str, *, wrong: bool = False) -> None:
        """A few words about the last key."""
        self.player.message, self.player.tone = message, "wrong" if wrong else "strong"
