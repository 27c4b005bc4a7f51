"""The replay's screen: what its keys and clicks do. None of them can enter anything."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable
from typing import ClassVar, Final

from orroom.case.events import Entry
from orroom.case.landmarks import Landmark, Moment
from orroom.case.state import CaseState
from orroom.case.terms import Theme
from orroom.errors import OrroomError
from orroom.record.case_file import CaseFile
from orroom.screens.replay.key_line import LANDMARK_WORDS, VIEWS, View
from orroom.screens.replay.player import PlayingScreen
from orroom.screens.replay.times import time_meant
from orroom.screens.terminal.asking import Dialogue, Question, Words
from orroom.screens.terminal.board_app import BoardApp
from orroom.screens.terminal.buttons import Button
from orroom.screens.terminal.keys import shown_key
from orroom.words.entries import told

SPEEDS: Final = (1, 2, 5, 10, 20, 60, 120, 300, 600)
JUMPS: Final[dict[str, Landmark]] = {"p": "prompt", "m": "mismatch", "z": "zone", "v": "plan", "n": "note"}
LEAVE: Final = frozenset({"escape", "q", "f10", "ctrl+q"})


class ReplayScreen(PlayingScreen):
    """The replay of one case file, as its keys move it."""

    HOW_TO_LEAVE = "q leaves; F1 shows the keys"
    HELP_TITLE = "Replay: keys, numbers"

    def __init__(self, case_file: CaseFile, view: View) -> None:
        super().__init__(case_file, view)
        self._searched = ""
        self._hits: list[int] = []

    def record_went_on(self) -> None:
        """What was searched for is found in new entries too."""
        if self._searched:
            self._hits = self.replay.hits(self._searched, self._said)

    def again_at_once(self, button: Button | None) -> str | None:
        """A second click at once is meant: it can count nothing."""
        return button.key if button is not None else None

    def out_of_reach(self, button: Button) -> str | None:
        """Nothing is: also while a time is asked for, a click on the strip goes there."""
        return None

    def action_seek(self, column: int) -> None:
        """Go to a column of the strip."""
        at_ms = self.strip.time_at(column)
        self.jump_to(Moment(self.replay.seq_at(at_ms), at_ms))

    def action_go_to(self, seq: int, at_ms: int) -> None:
        """Go to what is marked on the strip."""
        self.jump_to(Moment(seq, at_ms))

    async def take(self, key: str, character: str | None) -> None:
        """What a key does now. ``key`` is a plain name; a capital letter goes backward."""
        if self.player.question is not None:
            self._answer(self.player.question, key, character)
        elif key in LEAVE:
            self.leave()
        elif self.ready:
            self._act(key, back=character is not None and character.isupper())

    def _act(self, key: str, *, back: bool) -> None:
        self.say("")
        if key in JUMPS:
            self._jump(JUMPS[key], back=back)
        elif key == "h":
            self._next_hit(back=back)
        elif key in self.ACTIONS:
            self.ACTIONS[key](self)
        else:
            self.say(f"{shown_key(key)} does nothing here: F1 shows the keys", wrong=True)

    def _jump(self, what: Landmark, *, back: bool) -> None:
        look = self.replay.before if back else self.replay.next
        found, name = look(what, self.player.at), LANDMARK_WORDS[what][1]
        if found is None:
            self.say(f"no {name} {'before' if back else 'after'} this", wrong=True)
        else:
            places = self.replay.landmarks[what]
            self.jump_to(found)
            self.say(f"{name}, {bisect_left(places, found) + 1} of {len(places)}")

    def _play(self) -> None:
        player = self.player
        player.playing, player.live = not player.playing, False
        if player.playing and player.now_ms is None and player.at.at_ms >= self.replay.end_ms:
            self.go(Moment(0, self.replay.start_ms))

    def _step(self, by: int) -> None:
        seq = max(0, min(len(self.replay.entries), self.player.at.seq + by))
        self.jump_to(Moment(seq, self.replay.time_of(seq)))
        self._tell_entry(seq)

    def _tell_entry(self, seq: int) -> None:
        if seq:
            entry = self.replay.entries[seq - 1]
            self.say(f"{entry.stamp.who}: {self._said(entry, self.replay.state_at(seq))}")

    def _said(self, entry: Entry, state: CaseState) -> str:
        return told(entry.event, state.plan)

    def _faster(self, by: int) -> None:
        place = SPEEDS.index(self.player.speed) + by
        self.player.speed = SPEEDS[max(0, min(len(SPEEDS) - 1, place))]
        self.say(f"{self.player.speed}×: {self.player.speed / 60:.3g} min a second")

    def _to_start(self) -> None:
        self.jump_to(Moment(0, self.replay.start_ms))

    def _to_end(self) -> None:
        """The end of the record; a running case is followed from there on."""
        self.keep_time()
        self.jump_to(self.live_end())
        self.player.playing = self.player.live = self.player.now_ms is not None

    def _next_view(self) -> None:
        self.player.view = VIEWS[(VIEWS.index(self.player.view) + 1) % len(VIEWS)]
        self.player.who = self.people()[0]
        self.player.turned = 0
        self.say("the final count; ↓ turns its pages" if self.player.view == "count" else self.player.view)

    def _next_person(self) -> None:
        people = self.people()
        if self.player.who in people and len(people) > 1:
            place = (people.index(self.player.who) + 1) % len(people)
            self.player.who = people[place]
            self.say(f"{self.player.who}, {place + 1} of {len(people)}")
        else:
            self.say(
                "this screen is one person's" if self.player.who else "this screen is nobody's own",
                wrong=True,
            )

    def _turn(self) -> None:
        if self.player.view == "cutting":
            self.say("this screen has one page", wrong=True)
        else:
            self.player.turned += 1

    def _skip_idle(self) -> None:
        self.player.skips_idle = not self.player.skips_idle
        self.say("idle time is skipped" if self.player.skips_idle else "idle time is shown")

    def _ring(self) -> None:
        self.player.rings = not self.player.rings
        self.say("it rings for prompts while it plays" if self.player.rings else "it does not ring")

    def _ask(self, dialogue: Dialogue) -> None:
        self.player.playing = self.player.live = False
        self.player.question = Question(dialogue)

    def _answer(self, question: Question, key: str, character: str | None) -> None:
        if key == "escape":
            self.player.question = None
            return
        question.press(key, character)
        if question.over:
            self.player.question = None
        elif question.remark:
            self.say(question.remark, wrong=True)

    def _time_wanted(self) -> Dialogue:
        text: str = yield Words(
            "Go to which time (10:42), or minute since the start (95)?",
            means="The time is the case's; what is shown is then as it was at that moment.",
        )
        at_ms = time_meant(text, self.replay)
        if isinstance(at_ms, str):
            self.say(at_ms, wrong=True)
        else:
            self.jump_to(Moment(self.replay.seq_at(at_ms), at_ms))
        return None

    def _words_wanted(self) -> Dialogue:
        text: str = yield Words(
            "Search the entries for:",
            means="Words of an entry's sentence, initials, a size or a number; then h and H go to the hits.",
        )
        self._searched, self._hits = text, self.replay.hits(text, self._said)
        self._next_hit(back=False)
        return None

    def _next_hit(self, *, back: bool) -> None:
        """The next entry found, after the last the first again; or the one before."""
        if not self._searched:
            self.say("search first: /", wrong=True)
        elif not self._hits:
            self.say(f"no entry says {self._searched[:20]}", wrong=True)
        else:
            here = self.player.at.seq
            place = bisect_left(self._hits, here) - 1 if back else bisect_right(self._hits, here)
            place %= len(self._hits)
            seq = self._hits[place]
            self.jump_to(Moment(seq, self.replay.time_of(seq)))
            self._tell_entry(seq)
            self.say(f"{place + 1} of {len(self._hits)}  {self.player.message}")

    ACTIONS: ClassVar[dict[str, Callable[[ReplayScreen], None]]] = {
        "space": _play,
        "left": lambda screen: screen._step(-1),
        "right": lambda screen: screen._step(1),
        "pageup": lambda screen: screen._step(-50),
        "pagedown": lambda screen: screen._step(50),
        "home": _to_start,
        "end": _to_end,
        "plus": lambda screen: screen._faster(1),
        "minus": lambda screen: screen._faster(-1),
        "tab": _next_view,
        "w": _next_person,
        "down": _turn,
        "i": _skip_idle,
        "b": _ring,
        "g": lambda screen: screen._ask(screen._time_wanted()),
        "slash": lambda screen: screen._ask(screen._words_wanted()),
    }


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
