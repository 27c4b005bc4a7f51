"""The replay in a terminal: reads the record, keeps time, and does what keys say. Nothing can be entered."""

import asyncio
import sqlite3
import time
from bisect import bisect_left, bisect_right
from typing import Final

from orroom.case.landmarks import Landmark, Moment
from orroom.case.replay import Replay
from orroom.case.terms import Theme
from orroom.clock import Clock
from orroom.errors import OrroomError
from orroom.figures.pace.rest_of_day import foretold
from orroom.record.case_clock import case_clock
from orroom.record.case_file import CaseFile
from orroom.record.opening import error_of
from orroom.screens.replay.keys import KEYS, LANDMARK_WORDS, VIEWS, View, help_blocks
from orroom.screens.replay.lines import loading_lines, replay_lines
from orroom.screens.replay.player import Playback, Player, sentence
from orroom.screens.replay.strip import Strip, strip_of
from orroom.screens.replay.times import time_meant
from orroom.screens.stations.foretelling import ANEW_SECONDS
from orroom.screens.stations.overview import FORETELL_SECONDS
from orroom.screens.terminal.app import TerminalApp
from orroom.screens.terminal.asking import Dialogue, Question, Words
from orroom.screens.terminal.board_app import BoardApp
from orroom.screens.terminal.board_screen import BoardScreen
from orroom.screens.terminal.buttons import Button
from orroom.screens.terminal.keys import shown_key
from orroom.screens.terminal.pages import Block
from orroom.screens.terminal.painting import Line

FRAMES_A_SECOND: Final = 10
#: How often it is looked for entries that were made since.
LOOK_SECONDS: Final = 0.5
SPEEDS: Final = (1, 2, 5, 10, 20, 60, 120, 300, 600)
LEAVE: Final = frozenset({"escape", "q", "f10", "ctrl+q"})


class ReplayScreen(BoardScreen):
    """The replay of one case file, also of a case that still runs."""

    app: TerminalApp[OrroomError]
    HELP_TITLE = "Replay: keys, numbers"
    #: What is played, and the strip below it, once the record is read.
    playback: Playback
    strip: Strip

    def __init__(self, case_file: CaseFile, view: View) -> None:
        super().__init__()
        self._file = case_file
        self.player = Player(Moment(0, 0), view=view)
        self.ready = False
        self._looking = self._foretelling = False
        self._foretold_at = float("-inf")
        self._ticked_at = time.monotonic()

    @property
    def question(self) -> Question | None:
        """The question that is open."""
        return self.player.question

    def say(self, message: str, *, wrong: bool = False) -> None:
        """A few words about the last key."""
        self.player.say(message, wrong=wrong)

    # Reading the record, and what came since.

    def on_mount(self) -> None:
        """Read the record while the screen says that there is something to come."""
        self.run_worker(self._load(), group="reading")

    async def _load(self) -> None:
        try:
            replay, clock = await asyncio.to_thread(self._read)
        except OrroomError as problem:
            self.app.exit(problem, problem.exit_code)
            return
        self.playback = Playback(replay, clock, self.player)
        self.ready = True
        self._measure()
        self._ticked_at = time.monotonic()
        self.set_interval(1 / FRAMES_A_SECOND, self._tick)
        self.set_interval(LOOK_SECONDS, self._look)
        self.repaint()

    def _read(self) -> tuple[Replay, Clock]:
        try:
            entries = self._file.entries_after(0)
            clock = case_clock(self._file)
        except sqlite3.DatabaseError as problem:
            raise error_of(self._file.path, problem) from problem
        if not entries:
            raise OrroomError(
                f"{self._file.path} has no entries: there is nothing to replay.",
                "Open a station on it first: orroom open CASE",
            )
        return Replay(entries), clock

    async def _look(self) -> None:
        if self._looking:
            return
        self._looking = True
        try:
            self._file.check_there()  # what stations write is not in a file that was deleted
            fresh = await asyncio.to_thread(self._file.entries_after, len(self.playback.replay.entries))
        except (OrroomError, sqlite3.Error) as problem:
            self.say(f"newer entries cannot be read:  {problem}", wrong=True)
            self.repaint()
            return
        finally:
            self._looking = False
        changed = self.playback.look(fresh)
        if fresh:
            self._measure()
        if changed:
            self.repaint()

    def _tick(self) -> None:
        now = time.monotonic()
        passed, self._ticked_at = now - self._ticked_at, now
        if self.player.playing:
            rings = self.playback.tick(passed)
            self.repaint()
            if rings:
                self.app.bell()

    # What is shown.

    def on_resize(self) -> None:
        """The strip is as wide as the terminal."""
        self._measure()

    def _measure(self) -> None:
        self.player.width, self.player.height = self.size
        if self.ready:
            self.strip = strip_of(self.playback.replay, self.size.width)

    def lines(self) -> list[Line]:
        """The place where the replay is."""
        if not self.ready:
            return loading_lines(self.size.height)
        self._foretell()
        return replay_lines(self.playback.replay, self.strip, self.player)

    def help_blocks(self) -> list[Block]:
        """The keys and numbers, once there is something to be seen."""
        player = self.player
        return help_blocks(player.view, player.width, player.question) if self.ready else []

    def _foretell(self) -> None:
        """Have what was forecast then worked out apart, for the overview; while it plays there is no time."""
        player, waited = self.player, time.monotonic() - self._foretold_at
        known = player.foretold
        here = known is not None and (known.seq, known.at_ms) == player.at
        if player.live:
            here = known is not None and known.seq == player.at.seq and waited < ANEW_SECONDS
            due = waited >= FORETELL_SECONDS
        else:
            due = not player.playing
            player.foretold = known if here else None  # nothing from elsewhere
        planned = self.playback.state.tally.plan is not None
        if player.view == "overview" and planned and due and not here and not self._foretelling:
            self._foretelling, self._foretold_at = True, time.monotonic()
            self.run_worker(self._work_out(player.at), group="foretelling", exit_on_error=False)

    async def _work_out(self, at: Moment) -> None:
        found = None
        try:
            found = await asyncio.to_thread(foretold, self.playback.replay.state_at(at.seq), at.at_ms)
        finally:  # a figure that fails must not end the replay
            self._foretelling = False
        if self.player.live or self.player.at == at:
            self.player.foretold = found
        self.repaint()

    # What keys and clicks do.

    def again_at_once(self, button: Button | None) -> str | None:
        """A second click at once is meant: it can count nothing."""
        return button.key if button is not None else None

    def out_of_reach(self, button: Button) -> str | None:
        """Nothing is: also while a time is asked for, a click on the strip goes there."""
        return None

    async def take(self, key: str, character: str | None) -> None:
        """What a key does now. ``key`` is a plain name; a capital letter goes backward."""
        if self.player.question is not None:
            self._answer(self.player.question, key, character)
        elif key in LEAVE:
            self.leave()
        elif self.ready:
            self.say("")
            action = next((each.action for each in KEYS if each.key == key), "")
            if action:
                back = character is not None and character.isupper()
                await self.run_action(f"screen.{action.format(back=back)}")
            else:
                self.say(f"{shown_key(key)} does nothing here: F1 shows the keys", wrong=True)

    def _answer(self, question: Question, key: str, character: str | None) -> None:
        if key == "escape":
            self.player.question = None
            return
        question.press(key, character)
        if question.over:
            self.player.question = None
        elif question.remark:
            self.say(question.remark, wrong=True)

    # What each does is said in ``KEYS``; the last two are clicks on the strip.

    def _action_play(self) -> None:
        self.playback.play()

    def _action_step(self, by: int) -> None:
        self._show_entry(max(0, min(len(self.playback.replay.entries), self.player.at.seq + by)))

    def _show_entry(self, seq: int) -> None:
        self.playback.jump_to_entry(seq)
        if seq:
            entry = self.playback.replay.entries[seq - 1]
            self.say(f"{entry.stamp.who}: {sentence(entry, self.playback.state)}")

    def _action_jump(self, what: Landmark, back: bool) -> None:
        replay, name = self.playback.replay, LANDMARK_WORDS[what][1]
        found = (replay.before if back else replay.next)(what, self.player.at)
        if found is None:
            self.say(f"no {name} {'before' if back else 'after'} this", wrong=True)
        else:
            places = replay.landmarks[what]
            self.playback.jump_to(found)
            self.say(f"{name}, {bisect_left(places, found) + 1} of {len(places)}")

    def _action_to_start(self) -> None:
        self.playback.jump_to_entry(0)

    def _action_to_end(self) -> None:
        self.playback.jump_to_end()

    def _action_speed(self, by: int) -> None:
        place = SPEEDS.index(self.player.speed) + by
        self.player.speed = SPEEDS[max(0, min(len(SPEEDS) - 1, place))]
        self.say(f"{self.player.speed}×: {self.player.speed / 60:.3g} min a second")

    def _action_view(self) -> None:
        self.player.view = VIEWS[(VIEWS.index(self.player.view) + 1) % len(VIEWS)]
        self.player.who = self.playback.people()[0]
        self.player.turned = 0
        self.say("the final count; ↓ turns its pages" if self.player.view == "count" else self.player.view)

    def _action_person(self) -> None:
        people, who = self.playback.people(), self.player.who
        if who in people and len(people) > 1:
            place = (people.index(who) + 1) % len(people)
            self.player.who = people[place]
            self.say(f"{self.player.who}, {place + 1} of {len(people)}")
        else:
            self.say(
                "this screen is one person's" if who else "this screen is not a person's own", wrong=True
            )

    def _action_turn(self) -> None:
        if self.player.view == "cutting":
            self.say("this screen has one page", wrong=True)
        else:
            self.player.turned += 1

    def _action_skip_idle(self) -> None:
        self.player.skips_idle = not self.player.skips_idle
        self.say("idle time is skipped" if self.player.skips_idle else "idle time is shown")

    def _action_ring(self) -> None:
        self.player.rings = not self.player.rings
        self.say("it rings for prompts while it plays" if self.player.rings else "it does not ring")

    def _action_time(self) -> None:
        self._ask(self._time_wanted())

    def _action_search(self) -> None:
        self._ask(self._words_wanted())

    def _ask(self, dialogue: Dialogue) -> None:
        self.player.playing = self.player.live = False
        self.player.question = Question(dialogue)

    def _time_wanted(self) -> Dialogue:
        text: str = yield Words(
            "Go to which time (10:42), or minute since the start (95)?",
            means="By the case's clock, on another day with that day (day 2 06:35); the screen is shown as "
            "it was then.",
        )
        at_ms = time_meant(text, self.playback.replay)
        if isinstance(at_ms, str):
            self.say(at_ms, wrong=True)
        else:
            self.playback.jump_to_time(at_ms)
        return None

    def _words_wanted(self) -> Dialogue:
        text: str = yield Words(
            "Search the entries for:",
            means="Words of an entry's sentence, initials, a size or a number; then h and H go to the hits.",
        )
        self.playback.search(text)
        self._action_hit(back=False)
        return None

    def _action_hit(self, back: bool) -> None:
        searched, hits = self.playback.searched, self.playback.hits
        if not searched:
            self.say("search first: /", wrong=True)
        elif not hits:
            self.say(f"no entry says {searched[:20]}", wrong=True)
        else:
            here = self.player.at.seq
            place = (bisect_left(hits, here) - 1 if back else bisect_right(hits, here)) % len(hits)
            self._show_entry(hits[place])
            self.say(f"{place + 1} of {len(hits)}  {self.player.message}")

    def _action_go_to(self, seq: int, at_ms: int) -> None:
        self.playback.jump_to(Moment(seq, at_ms))

    def _action_seek(self, column: int) -> None:
        self.playback.jump_to_time(self.strip.time_at(column))


def replay_app(case_file: CaseFile, view: View, theme: Theme) -> BoardApp[OrroomError]:
    """A replay in a terminal; it answers why the record could not be read, if so."""
    return BoardApp(ReplayScreen(case_file, view), theme)


def replay_case(case_file: CaseFile, view: View, theme: Theme) -> int:
    """Replay until it is left; answers the exit code. Raises ``OrroomError`` for what cannot be replayed."""
    app = replay_app(case_file, view, theme)
    failure = app.run_to_its_end()
    if failure is not None:
        raise failure
    return app.return_code or 0
