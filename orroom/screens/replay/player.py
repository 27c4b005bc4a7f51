"""Where a replay is in its record: how it plays, jumps, and follows a case that is still running."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

from orroom.case.events import Entry
from orroom.case.landmarks import Moment
from orroom.case.replay import Replay
from orroom.case.state import CaseState
from orroom.case.terms import WORKS
from orroom.clock import Clock
from orroom.figures.pace.rest_of_day import Foretold
from orroom.figures.prompts import Prompt, prompts
from orroom.screens.replay.keys import View
from orroom.screens.terminal.asking import Question
from orroom.screens.terminal.bells import PromptBell
from orroom.screens.terminal.keys import Keys
from orroom.screens.terminal.painting import Tone
from orroom.words.entries import entry_words

#: While idle time is skipped, so much of it is still shown before anything happens (case time, ms).
BEFORE_EVENTS_MS: Final = 20_000
#: A case runs while a station is open and something was entered within this time, longer than any break.
STILL_RUNNING_MS: Final = 4 * 3_600_000


@dataclass
class Player:
    """Where the replay is, how it runs, and what is typed or asked."""

    at: Moment
    view: View = "overview"
    who: str = ""
    playing: bool = False
    speed: int = 60
    #: What is shown is now, and new entries are followed.
    live: bool = False
    #: The time now, of a running case; ``None`` of one that is over.
    now_ms: int | None = None
    skips_idle: bool = False
    rings: bool = False
    question: Question | None = None
    #: How often pages were turned, or at placing the zone: what a smaller screen leaves out.
    turned: int = 0
    message: str = ""
    tone: Tone = "strong"
    foretold: Foretold | None = None
    keys: Keys = field(default_factory=Keys.standard)
    width: int = 80
    height: int = 24

    def say(self, message: str, *, wrong: bool = False) -> None:
        """A few words about the last key."""
        self.message, self.tone = message, "wrong" if wrong else "strong"


def sentence(entry: Entry, state: CaseState) -> str:
    """What an entry says."""
    return entry_words(entry.event, state.plan)


class Playback:
    """A record, and what moves its player."""

    def __init__(self, replay: Replay, clock: Clock, player: Player) -> None:
        self.replay, self.clock, self.player = replay, clock, player
        self._bell: PromptBell | None = None  # until it plays from where it went
        #: What was searched for last, and the numbers of the entries that say it.
        self.searched = ""
        self.hits: list[int] = []
        player.at = Moment(0, replay.start_ms)
        player.who = self.people()[0]
        self.keep_time()

    @property
    def state(self) -> CaseState:
        """The case as it was there."""
        return self.replay.state_at(self.player.at.seq)

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

    def keep_time(self) -> None:
        """Whether the case runs, and what time it is in it."""
        tally = self.replay.newest.tally
        now_ms = self.clock.now_ms() if tally.stations and not tally.signed_off else None
        runs = now_ms is not None and now_ms - self.replay.end_ms < STILL_RUNNING_MS
        self.player.now_ms = now_ms if runs else None

    @property
    def end_ms(self) -> int:
        """The time of the newest entry; of a running case, now."""
        return max(self.replay.end_ms, self.player.now_ms or 0)

    def look(self, fresh: Sequence[Entry]) -> bool:
        """Go on with the entries made since, if any; whether anything shown is other than before."""
        self.replay.go_on(fresh)
        if fresh:
            self.search(self.searched)
        running = self.player.now_ms is not None
        self.keep_time()
        if self.player.live:
            self.player.at = Moment(len(self.replay.entries), self.end_ms)
        return bool(fresh) or running

    def search(self, text: str) -> None:
        """Search the sentences of all entries."""
        self.searched, self.hits = text, self.replay.hits(text, sentence) if text else []

    def play(self) -> None:
        """Play, from the start again if this is the end; or pause."""
        player = self.player
        player.playing, player.live = not player.playing, False
        if player.playing and player.now_ms is None and player.at.at_ms >= self.replay.end_ms:
            player.at = Moment(0, self.replay.start_ms)

    def tick(self, passed: float) -> bool:
        """Play on after this many seconds; whether a prompt rings that has come up on the way."""
        player, left = self.player, self.player.at
        self.keep_time()
        at_ms = self._skipped(left.at_ms + round(passed * 1000 * player.speed))
        if player.live or at_ms >= self.end_ms:
            at_ms, player.live = self.end_ms, player.now_ms is not None
            if not player.live:
                player.playing = False
                player.say("the end of the record")
        player.at = Moment(max(left.seq, self.replay.seq_at(at_ms)), at_ms)
        return player.rings and self._rings(left, player.at)

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

    def jump_to(self, at: Moment) -> None:
        """Go to a place that was chosen, and stop there."""
        self.player.playing = self.player.live = False
        self._bell = None
        self.player.at = at

    def jump_to_time(self, at_ms: int) -> None:
        """Go to a time."""
        self.jump_to(Moment(self.replay.seq_at(at_ms), at_ms))

    def jump_to_entry(self, seq: int) -> None:
        """Go to where an entry has just been made; 0 is before the first."""
        self.jump_to(Moment(seq, self.replay.time_of(seq)))

    def jump_to_end(self) -> None:
        """The end of the record; a running case is followed from there on."""
        self.keep_time()
        self.jump_to(Moment(len(self.replay.entries), self.end_ms))
        self.player.playing = self.player.live = self.player.now_ms is not None
