"""The replay's strip: cut and placed over the whole record, and a mark for what happened when."""

from typing import Final, NamedTuple

from orroom.case.landmarks import Landmark, Moment
from orroom.case.replay import Replay
from orroom.figures.curves import progress
from orroom.figures.wording import Times, clock_time, grafts
from orroom.screens.replay.keys import LANDMARK_WORDS, MARKED_FIRST
from orroom.screens.terminal.painting import Line, Span, Tone, line

BLOCKS: Final = " ▁▂▃▄▅▆▇█"
#: Columns before the strip, for the name of a row and the number at the time shown, and behind it.
NAME, BEHIND = 15, 1
HOUR_MS: Final = 3_600_000
#: Marks the time shown.
HERE: Final = "┃"
#: Below this width only one column stands before and behind the strip.
ROOM_FOR_NAMES: Final = 60


class Mark(NamedTuple):
    """What a column of the strip is marked with, and the first place there of that kind."""

    what: Landmark
    at: Moment


class Strip(NamedTuple):
    """What the strip shows of a record, by column: grafts cut and placed, marks, prompts due."""

    start_ms: int
    end_ms: int
    usable: tuple[int, ...]
    placed: tuple[int, ...]
    marks: tuple[Mark | None, ...]
    prompts: tuple[Mark | None, ...]

    @property
    def columns(self) -> int:
        """How many columns it has."""
        return len(self.usable)

    def column(self, at_ms: int) -> int:
        """The column of a time; what lies outside the record is at its ends."""
        span = max(1, self.end_ms - self.start_ms)
        return max(0, min(self.columns - 1, (at_ms - self.start_ms) * (self.columns - 1) // span))

    def time_at(self, column: int) -> int:
        """The time of a column."""
        return self.start_ms + (self.end_ms - self.start_ms) * column // max(1, self.columns - 1)


def columns_of(width: int) -> int:
    """How many columns the strip has on a screen so wide."""
    return max(10, width - (NAME + BEHIND if width >= ROOM_FOR_NAMES else 2))


def strip_of(replay: Replay, width: int) -> Strip:
    """The strip of a whole record on a screen so wide."""
    columns = columns_of(width)
    reached = progress(replay.newest, columns - 1, replay.end_ms)
    bare = Strip(
        replay.start_ms,
        replay.end_ms,
        tuple(each.cut for each in reached) or (0,) * columns,
        tuple(each.placed for each in reached) or (0,) * columns,
        (),
        (),
    )
    marks = _marks(replay, bare, [what for what in MARKED_FIRST if what != "prompt"])
    return bare._replace(marks=marks, prompts=_marks(replay, bare, ["prompt"]))


def _marks(replay: Replay, strip: Strip, kinds: list[Landmark]) -> tuple[Mark | None, ...]:
    marks: list[Mark | None] = [None] * strip.columns
    for what in reversed(kinds):
        for at in reversed(replay.landmarks[what]):
            marks[strip.column(at.at_ms)] = Mark(what, at)
    return tuple(marks)


def strip_lines(
    strip: Strip, at: Moment, usable: int, placed: int, width: int, rows: int, times: Times
) -> list[Line]:
    """The strip in five rows, four or one; with less than five, marks of a kind hide those of prompts.

    One row has the marks over the curve of what was placed. ``usable`` and ``placed`` are as of ``at``.
    """
    here, most = strip.column(at.at_ms), max((*strip.usable, *strip.placed, 1))
    both = tuple(mark or prompt for mark, prompt in zip(strip.marks, strip.prompts, strict=True))
    if rows == 1:
        return [_framed("", _over(_curve(strip.placed, most, here), _marked(both, here)), width)]
    lines = [
        _framed(f"usable {grafts(usable)}", _curve(strip.usable, most, here), width),
        _framed(f"placed {grafts(placed)}", _curve(strip.placed, most, here), width),
    ]
    if rows >= 5:
        lines.append(_framed("prompts", _marked(strip.prompts, None), width))
    lines.append(_framed("marks", _marked(strip.marks if rows >= 5 else both, here), width))
    lines.append(_framed("time", [Span(_hours(strip, times), "dim")], width))
    return lines


def _hours(strip: Strip, times: Times) -> str:
    """The full hours under the strip, each where it begins, as many as do not touch."""
    first = strip.start_ms - (strip.start_ms + times.offset_minutes * 60_000) % HOUR_MS
    row = ""
    for at_ms in range(first, strip.end_ms + 1, HOUR_MS):
        if at_ms < strip.start_ms:
            continue
        column, written = strip.column(at_ms), clock_time(at_ms, times)
        if column >= len(row) + bool(row) and column + len(written) <= strip.columns:
            row = f"{row:<{column}}{written}"
    return row


def _framed(name: str, spans: list[Span], width: int) -> Line:
    if width < ROOM_FOR_NAMES:
        return line(" ", *spans)
    return line(Span(f" {name:<{NAME - 1}}", "dim"), *spans, " " * BEHIND)


def _curve(counts: tuple[int, ...], most: int, here: int) -> list[Span]:
    return [
        Span(
            BLOCKS[-(-count * (len(BLOCKS) - 1) // most)],
            "mine" if column <= here else "dim",
            f"seek({column})",
        )
        for column, count in enumerate(counts)
    ]


def _marked(marks: tuple[Mark | None, ...], here: int | None) -> list[Span]:
    spans = []
    for column, mark in enumerate(marks):
        sign = LANDMARK_WORDS[mark.what][2] if mark else HERE if column == here else " "
        tone: Tone = (
            "cursor" if column == here else "notice" if mark and mark.what == "mismatch" else "strong"
        )
        action = f"go_to({mark.at.seq},{mark.at.at_ms})" if mark else f"seek({column})"
        spans.append(Span(sign, tone, action))
    return spans


def _over(under: list[Span], marks: list[Span]) -> list[Span]:
    return [mark if mark.text != " " else below for below, mark in zip(under, marks, strict=True)]
