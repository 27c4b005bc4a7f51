"""The replay: a role's screen as it was, and below it where in the record that is."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Final

from orroom.case.replay import Moment, Replay
from orroom.case.state import CaseState
from orroom.case.terms import ROLES, Role
from orroom.figures.curves import Reached
from orroom.figures.foretold import Foretold
from orroom.figures.wording import clock_time_with_seconds, grafts
from orroom.screens.asking import Question
from orroom.screens.keys import Keys
from orroom.screens.views.asked import question_lines
from orroom.screens.views.cutting import cutting_lines
from orroom.screens.views.frame import Glance
from orroom.screens.views.overview import overview_lines
from orroom.screens.views.painting import Line, Span, Tone, line, rule, spread, wrapped_buttons
from orroom.screens.views.placing import placing_lines

PAINTERS: Final[dict[Role, Callable[[CaseState, int, Glance], list[Line]]]] = {
    "cutting": cutting_lines,
    "placing": placing_lines,
    "overview": overview_lines,
}
BLOCKS: Final = " ▁▂▃▄▅▆▇█"
#: Columns beside the strip: the name of a row before it, the number reached behind it.
NAME, NUMBER = 8, 8
#: What else is marked on the strip, by kind of entry.
MARKS: Final = {"note_added": "n", "plan_revised": "p", "case_signed_off": "s", "harvest_started": "h"}


@dataclass
class Player:
    """Where the replay is, how it runs, and what is typed or asked."""

    at: Moment
    role: Role = "overview"
    who: str = ""
    playing: bool = False
    speed: float = 60.0
    question: Question | None = None
    message: str = ""
    tone: Tone = "strong"
    foretold: Foretold | None = None
    keys: Keys = field(default_factory=Keys.standard)
    width: int = 80
    height: int = 24


def replay_lines(replay: Replay, reached: Sequence[Reached], player: Player) -> list[Line]:
    """All lines, exactly ``player.height`` of them."""
    below = [rule(player.width), *_strip(replay, reached, player), _where(replay, player)]
    below += _keys(player)
    below = below[-(player.height - 3) :]
    glance = Glance(
        role=player.role,
        who=player.who or "OR",
        keys=player.keys,
        foretold=player.foretold,
        replayed=True,
        width=player.width,
        height=player.height - len(below),
    )
    state = replay.state_at(player.at.seq)
    if state.tally.plan is None:
        above: list[Line] = [line(Span(" before the case was opened", "dim"))]
        above += [()] * (glance.height - 1)
    else:
        glance.lot = next(iter(state.plan.lot_by_key))
        above = PAINTERS[player.role](state, player.at.at_ms, glance)
    return [*above, *below]


def columns_of(width: int) -> int:
    """How many columns the strip has."""
    return max(10, width - NAME - NUMBER)


def time_at(replay: Replay, column: int, width: int) -> int:
    """The time that a column of the strip stands for."""
    span = replay.end_ms - replay.start_ms
    return replay.start_ms + span * column // max(1, columns_of(width) - 1)


def _strip(replay: Replay, reached: Sequence[Reached], player: Player) -> list[Line]:
    """Cut and placed over the whole record, and marks below: where we are, notes, plans, harvests."""
    width = columns_of(player.width)
    most = max((max(each.cut, each.placed) for each in reached), default=0) or 1
    rows = []
    for name, counts in (
        ("cut", [each.cut for each in reached]),
        ("placed", [each.placed for each in reached]),
    ):
        shown = [
            counts[column * (len(counts) - 1) // max(1, width - 1)] if counts else 0
            for column in range(width)
        ]
        state = replay.state_at(player.at.seq)
        now = sum(count for key, count in state.tally.stock.items() if key.account == name)
        here = _column(replay, player.at.at_ms, width)
        spans = [
            Span(
                BLOCKS[-(-count * (len(BLOCKS) - 1) // most)],
                "mine" if column <= here else "dim",
                f"seek({column})",
            )
            for column, count in enumerate(shown)
        ]
        rows.append(line(f" {name:<{NAME - 1}}", *spans, f"{grafts(now):>{NUMBER - 1}} "))
    return [*rows, _marks(replay, player, width)]


def _marks(replay: Replay, player: Player, width: int) -> Line:
    marks = [" "] * width
    for entry in replay.entries:
        if entry.event.kind in MARKS:
            marks[_column(replay, replay.time_of(entry.seq), width)] = MARKS[entry.event.kind]
    marks[_column(replay, player.at.at_ms, width)] = "▲"
    return line(" " * NAME, *(Span(mark, "strong", f"seek({column})") for column, mark in enumerate(marks)))


def _column(replay: Replay, at_ms: int, width: int) -> int:
    span = max(1, replay.end_ms - replay.start_ms)
    return max(0, min(width - 1, (at_ms - replay.start_ms) * (width - 1) // span))


def _where(replay: Replay, player: Player) -> Line:
    state = replay.state_at(player.at.seq)
    time = clock_time_with_seconds(player.at.at_ms, state.tally.utc_offset_minutes)
    run = f"▶ {player.speed:g}×" if player.playing else "‖ paused"
    where = f" REPLAY  {time}  entry {player.at.seq:,} of {len(replay.entries):,}  {run}"
    return spread(line(Span(where, "strong")), line(Span(f"{player.message} ", player.tone)), player.width)


def _keys(player: Player) -> list[Line]:
    if player.question is not None:
        return question_lines(player.question, player.width, 4)
    words = (
        ("space", "Space", "pause" if player.playing else "play"),
        ("left", "←", "entry back"),
        ("right", "→", "entry on"),
        ("plus", "+", "faster"),
        ("minus", "-", "slower"),
        ("g", "g", "go to time"),
        ("p", "p", "next prompt"),
        ("m", "m", "mismatch"),
        ("z", "z", "zone done"),
        ("v", "v", "plan"),
        ("n", "n", "note"),
        ("slash", "/", "search"),
        ("tab", "Tab", f"{ROLES[(ROLES.index(player.role) + 1) % len(ROLES)]}"),
        ("q", "q", "leave"),
    )
    buttons = [Span(f" {shown} {word} ", "button", f"press('{key}')") for key, shown, word in words]
    first = [buttons[0], buttons[-1], buttons[-2], *buttons[1:-2]]
    return wrapped_buttons(first, player.width, 2 if player.height >= 20 else 1)
