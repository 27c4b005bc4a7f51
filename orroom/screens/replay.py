"""Replaying a case in the terminal: any role's screen as it was, at any speed. Nothing can be entered."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import ClassVar, Final

from textual import events
from textual.app import ComposeResult
from textual.screen import Screen

from orroom.case.events import Entry
from orroom.case.replay import Landmark, Moment, Replay
from orroom.case.state import CaseState
from orroom.case.terms import ROLES, Role, Theme
from orroom.figures.curves import progress
from orroom.figures.foretold import foretold
from orroom.record.case_file import CaseFile
from orroom.reports.sentences import told
from orroom.screens.asking import Dialogue, Question, Words
from orroom.screens.board import Board
from orroom.screens.board_app import BoardApp
from orroom.screens.buttons import Button
from orroom.screens.clicks import Clicks
from orroom.screens.keys import plain_name
from orroom.screens.station import SMALLEST
from orroom.screens.views.frame import too_small
from orroom.screens.views.replay import Player, columns_of, replay_lines, time_at

FRAMES_A_SECOND: Final = 10
#: How often it is looked for entries that were made since.
LOOK_SECONDS: Final = 1.0
SPEEDS: Final = (1, 2, 5, 10, 20, 60, 120, 300, 600)
JUMPS: Final[dict[str, Landmark]] = {"p": "prompt", "m": "mismatch", "z": "zone", "v": "plan", "n": "note"}
NAMES: Final[dict[Landmark, str]] = {
    "prompt": "prompt",
    "mismatch": "mismatch",
    "zone": "finished zone",
    "plan": "plan revision",
    "note": "note",
}
LEAVE: Final = frozenset({"q", "f10", "ctrl+q"})


class ReplayScreen(Screen[None]):
    """The replay of one case file, also of a running one."""

    def __init__(self, case_file: CaseFile, role: Role) -> None:
        super().__init__()
        self._file = case_file
        self.replay = Replay(case_file.entries_after(0))
        self._reached_at = 0
        self.player = Player(Moment(0, self.replay.start_ms), role=role, who=self._first_who(role))
        self.board = Board()
        self.clicks = Clicks()
        self._ticked_at = time.monotonic()

    def _first_who(self, role: Role) -> str:
        """Somebody who worked at the role: a cutting screen is somebody's."""
        station = f"{role}-"
        return next((e.stamp.who for e in self.replay.entries if e.stamp.station.startswith(station)), "")

    def compose(self) -> ComposeResult:
        """Only the board."""
        yield self.board

    def on_mount(self) -> None:
        """Begin, keep time, look for new entries."""
        self._measure()
        self.set_interval(1 / FRAMES_A_SECOND, self._tick)
        self.set_interval(LOOK_SECONDS, self._look)
        self.repaint()

    def on_resize(self) -> None:
        """The terminal has another size."""
        self._measure()
        self.repaint()

    def _measure(self) -> None:
        self.player.width, self.player.height = self.size
        self.reached = progress(self.replay.state_at(len(self.replay.entries)), columns_of(self.size.width))

    def _look(self) -> None:
        fresh = self._file.entries_after(len(self.replay.entries))
        if fresh:
            self.replay.go_on(fresh)
            self._measure()
            self.repaint()

    def _tick(self) -> None:
        now = time.monotonic()
        passed, self._ticked_at = now - self._ticked_at, now
        if not self.player.playing:
            return
        at_ms = self.player.at.at_ms + round(passed * 1000 * self.player.speed)
        if at_ms >= self.replay.end_ms:
            at_ms, self.player.playing = self.replay.end_ms, False
            self.say("the end of the record")
        self.go(Moment(max(self.player.at.seq, self.replay.seq_at(at_ms)), at_ms))

    def go(self, at: Moment) -> None:
        """Be at a place."""
        self.player.at = at
        self.repaint()

    def repaint(self) -> None:
        """Show the place where the replay is."""
        player = self.player
        if self.size.width < SMALLEST[0] or self.size.height < SMALLEST[1]:
            self.board.show(too_small(*self.size, doubt=False))
            return
        state = self.replay.state_at(player.at.seq)
        wanted = player.role == "overview" and state.tally.plan is not None
        player.foretold = None  # nothing from elsewhere; while it plays there is no time to work it out
        if wanted and not player.playing:
            player.foretold = foretold(state, player.at.at_ms)
        step = player.question.step if player.question is not None else None
        self.board.show(replay_lines(self.replay, self.reached, player), step)

    def say(self, message: str, *, wrong: bool = False) -> None:
        """A few words about the last key."""
        self.player.message, self.player.tone = message, "wrong" if wrong else "strong"

    def on_key(self, event: events.Key) -> None:
        """Take a key."""
        event.stop()
        event.prevent_default()
        self.take(plain_name(event.key), event.character)

    def on_board_clicked(self, event: Board.Clicked) -> None:
        """Take a click as a key is taken."""
        event.stop()
        button = self.clicks.meant(event.click)
        if isinstance(button, Button):
            if button.stands_for_key:
                self.take(button.key, button.character)
            elif button.action.startswith("seek("):
                self._seek(int(button.action[len("seek(") : -1]))
        else:
            self.say(button, wrong=True)
        self.repaint()

    def _seek(self, column: int) -> None:
        at_ms = time_at(self.replay, column, self.player.width)
        self.go(Moment(self.replay.seq_at(at_ms), at_ms))

    def take(self, key: str, character: str | None) -> None:
        """What a key does now. ``key`` is a plain name."""
        player = self.player
        if player.question is not None:
            self._answer(player.question, key, character)
        elif key in LEAVE or key == "escape":
            self.app.exit()
        elif key in JUMPS:
            self._jump(JUMPS[key])
        elif key in self.ACTIONS:
            self.say("")
            self.ACTIONS[key](self)
        else:
            self.say(f"{key} does nothing here", wrong=True)
        self.repaint()

    def _jump(self, what: Landmark) -> None:
        found = self.replay.next(what, self.player.at)
        if found is None:
            self.say(f"no {NAMES[what]} after this", wrong=True)
        else:
            self.player.playing = False
            self.say(f"{NAMES[what]}")
            self.go(found)

    def _play(self) -> None:
        self.player.playing = not self.player.playing
        if self.player.playing and self.player.at.at_ms >= self.replay.end_ms:
            self.go(Moment(0, self.replay.start_ms))

    def _step(self, by: int) -> None:
        self.player.playing = False
        seq = max(0, min(len(self.replay.entries), self.player.at.seq + by))
        self.go(Moment(seq, self.replay.time_of(seq)))
        if seq:
            entry = self.replay.entries[seq - 1]
            self.say(f"{entry.stamp.who}: {self._said(entry, self.replay.state_at(seq))}")

    def _said(self, entry: Entry, state: CaseState) -> str:
        return told(entry.event, state.plan)

    def _faster(self, by: int) -> None:
        place = min(range(len(SPEEDS)), key=lambda each: abs(SPEEDS[each] - self.player.speed)) + by
        self.player.speed = SPEEDS[max(0, min(len(SPEEDS) - 1, place))]

    def _end(self, seq: int) -> None:
        self.player.playing = False
        self.go(Moment(seq, self.replay.time_of(seq) if seq else self.replay.start_ms))

    def _next_role(self) -> None:
        self.player.role = ROLES[(ROLES.index(self.player.role) + 1) % len(ROLES)]
        self.player.who = self._first_who(self.player.role)

    def _ask(self, dialogue: Dialogue) -> None:
        self.player.playing = False
        self.player.question = Question(dialogue)

    def _answer(self, question: Question, key: str, character: str | None) -> None:
        if key == "escape":
            self.player.question = None
            return
        question.press(key, character)
        if question.over:
            self.player.question = None

    def _time_wanted(self) -> Dialogue:
        text: str = yield Words("Go to which time? (10:42)")
        hours, colon, minutes = text.partition(":")
        if not colon or not (hours.isascii() and hours.isdigit() and minutes.isascii() and minutes.isdigit()):
            self.say(f"{text[:12]} is no time such as 10:42", wrong=True)
            return None
        self._go_to_clock(int(hours), int(minutes))
        return None

    def _go_to_clock(self, hours: int, minutes: int) -> None:
        """The next time the case's clock shows this, from the beginning of the record on."""
        offset_ms = self.replay.state_at(len(self.replay.entries)).tally.utc_offset_minutes * 60_000
        day_ms = 24 * 3_600_000
        wanted = (hours * 60 + minutes) * 60_000
        start = self.replay.start_ms + offset_ms
        at_ms = start - start % day_ms + wanted - offset_ms
        if at_ms < self.replay.start_ms < at_ms + 60_000:  # the minute in which it began
            at_ms = self.replay.start_ms
        at_ms += day_ms if at_ms < self.replay.start_ms else 0
        if hours > 23 or minutes > 59 or at_ms > self.replay.end_ms:
            self.say(f"{hours}:{minutes:02d} is not in this record", wrong=True)
        else:
            self.go(Moment(self.replay.seq_at(at_ms), at_ms))

    def _words_wanted(self) -> Dialogue:
        text: str = yield Words("Search the entries for:")
        seq = self.replay.find(text, self._said, self.player.at.seq)
        if seq is None:
            self.say(f"no entry says {text[:20]}", wrong=True)
        else:
            self._step(seq - self.player.at.seq)
        return None

    ACTIONS: ClassVar[dict[str, Callable[[ReplayScreen], None]]] = {
        "space": _play,
        "left": lambda screen: screen._step(-1),
        "right": lambda screen: screen._step(1),
        "pageup": lambda screen: screen._step(-50),
        "pagedown": lambda screen: screen._step(50),
        "home": lambda screen: screen._end(0),
        "end": lambda screen: screen._end(len(screen.replay.entries)),
        "plus": lambda screen: screen._faster(1),
        "minus": lambda screen: screen._faster(-1),
        "tab": _next_role,
        "g": lambda screen: screen._ask(screen._time_wanted()),
        "slash": lambda screen: screen._ask(screen._words_wanted()),
    }


class ReplayApp(BoardApp[None]):
    """A replay in a terminal."""

    def __init__(self, case_file: CaseFile, role: Role, theme: Theme) -> None:
        self.replay_screen = ReplayScreen(case_file, role)
        super().__init__(self.replay_screen.board, theme)

    def on_mount(self) -> None:
        """Show the screen."""
        self.push_screen(self.replay_screen)

    async def action_quit(self) -> None:
        """Control-Q leaves: nothing can be lost."""
        self.exit()


def replay_case(case_file: CaseFile, role: Role, theme: Theme) -> int:
    """Replay until it is left; answers the exit code."""
    app = ReplayApp(case_file, role, theme)
    app.run_to_its_end()
    return app.return_code or 0
