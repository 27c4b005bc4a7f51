"""What stays in sight until somebody answers it: broken limits and mismatches."""

from rich.cells import cell_len

from orroom.case.limits import limits_in_sight
from orroom.case.mismatches import open_mismatches
from orroom.case.state import CaseState
from orroom.figures.case_times import case_times
from orroom.figures.holding import counted_to_ms
from orroom.figures.wording import BROKEN, clock_time
from orroom.screens.terminal.painting import Line, Span, clipped, first_that_fits, line, wrapped

#: A narrower screen says in few words how many more mismatches there are.
ROOM_FOR_WORDS = 60


def limit_lines(state: CaseState, now_ms: int, width: int, key: str) -> list[Line]:
    """The newest broken limit of which nobody has said what was done, and since when; how many more.

    ``key`` enters what was done, empty where none does.
    """
    found = limits_in_sight(state, counted_to_ms(state, now_ms))
    if not found:
        return []
    newest, more = found[-1], f" +{len(found) - 1}" if len(found) > 1 else ""
    by_key, asked = (f" · {key}", f" · {key}: say what was done") if key else ("", "")
    at = clock_time(newest.at_ms, case_times(state))
    texts = [
        f" {BROKEN} LIMIT BROKEN at {at}: {newest.sentence}{asked}",
        f" {BROKEN} LIMIT BROKEN at {at}: {newest.sentence}{by_key}",
        f" {BROKEN} LIMIT BROKEN {at}: {newest.sentence}{by_key}",
        f" {BROKEN} LIMIT {at}: {newest.sentence}{by_key}",
        f" {BROKEN} LIMIT {at}: {newest.brief}{by_key}",
        f" {BROKEN} LIMIT: {newest.brief}{by_key}",
    ]
    room = width - len(more)
    return [line(Span(f"{clipped(first_that_fits(texts, room), room)}{more}", "notice", "explain"))]


def mismatch_lines(state: CaseState, width: int, rows: int = 1) -> list[Line]:
    """Open mismatches, one a line; the last line says how many more there are."""
    found = open_mismatches(state)
    lines: list[Line] = [
        line(Span(clipped(f" ≠ {each.sentence}", width - 1), "wrong", "explain")) for each in found[:rows]
    ]
    if 0 < rows < len(found):
        more = len(found) - rows
        last = f" ≠ {found[rows - 1].sentence}"
        others = f"  (and {more} more)"
        if width < ROOM_FOR_WORDS and cell_len(last) + len(others) >= width:
            others = f"  +{more}"
        lines[-1] = line(Span(f"{clipped(last, width - len(others) - 1)}{others}", "wrong", "explain"))
    return lines


def lesson_lines(says: str, width: int) -> list[Line]:
    """While practising what to do next; at a drill, that it is one."""
    return [line(Span(f" {row}", "notice")) for row in wrapped(says, width - 2)]
