"""The last entries of a record, newest first, and what became of each."""

from orroom.case.events import Event, PlacingMoved
from orroom.case.state import CaseState
from orroom.figures.case_times import case_times
from orroom.figures.wording import clock_time, clock_time_with_seconds
from orroom.screens.stations.views.frame import ROOM_FOR_WORDS
from orroom.screens.terminal.painting import Line, Span, clipped, line
from orroom.words.entries import entry_words


def entry_lines(
    state: CaseState,
    rows: int,
    width: int,
    who: str | None = None,
    kinds: frozenset[type[Event]] | None = None,
) -> list[Line]:
    """The last entries, newest first, and what became of each; those of one person have no initials."""
    lines: list[Line] = []
    times, written = case_times(state), clock_time_with_seconds if width >= ROOM_FOR_WORDS else clock_time
    column = 0  # as wide as the widest time so far: none is cut off, and all of one day are below each other
    moved: dict[int, int] = {}  # each placing by its newest move, which comes after it
    for entry in reversed(state.log):
        if len(lines) == rows:
            break
        if isinstance(entry.event, PlacingMoved) and state.stands(entry):
            moved.setdefault(entry.event.entry, entry.seq)
        if (who is not None and entry.stamp.who != who) or (
            kinds is not None and type(entry.event) not in kinds
        ):
            continue
        time = written(entry.stamp.at_ms, times)
        column = max(column, len(time))
        corrector, mover = state.corrected_by.get(entry.seq), moved.get(entry.seq)
        text, room = entry_words(entry.event, state.plan), width - (17 if who is None else 12) - column
        if corrector or mover:
            end = f" — cancelled by no. {corrector}" if corrector else f" — moved by no. {mover}"
            text = f"↺ {clipped(text, room - 2 - len(end))}{end}"
        lines.append(
            line(
                Span(f" {f'no. {entry.seq}':>8} ", "dim"),
                Span(f"{time:>{column}} ", "dim"),
                Span(f"{entry.stamp.who:<4} " if who is None else "", "dim" if corrector else "plain"),
                Span(clipped(text, room), "dim" if corrector else "plain"),
            )
        )
    return lines + [()] * (rows - len(lines))
