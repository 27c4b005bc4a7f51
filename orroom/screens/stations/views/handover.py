"""The hand-over on a screen: the lines for the person who comes, above the question who that is."""

from collections.abc import Sequence
from itertools import accumulate
from operator import lt
from typing import Final, NamedTuple

from rich.cells import cell_len

from orroom.case.state import CaseState
from orroom.figures.pace.finish import Outlook
from orroom.figures.wording import BROKEN, several
from orroom.screens.stations.views.frame import ROOM_FOR_WORDS, Glance, header_lines, message_lines
from orroom.screens.terminal.layout import Block, Rank, stacked
from orroom.screens.terminal.painting import Line, Span, Tone, line, rule, text_of, wrapped
from orroom.screens.terminal.question_lines import QUESTION_ROWS, question_lines
from orroom.words.handover import APART, Part, handover

#: What is called by its name also where room is short: a bare number would be taken for grafts.
TAKEN_FOR_GRAFTS: Final = frozenset({"lane", "zone"})
#: So many rows, and more where more than half of the screen is left.
MOST_ROWS: Final = 10
#: A mark and a space before the words.
BEFORE: Final = 2
TONES: Final[dict[str, Tone]] = {
    "!": "pressing",
    "◉": "notice",
    "≠": "wrong",
    BROKEN: "notice",
    "?": "notice",
    "‖": "notice",
    "◷": "dim",
}
#: Rows that the question keeps: what is asked, what is typed, its keys.
LEAST_QUESTION: Final = 3


class Row(NamedTuple):
    """One row: the mark of its line, and words; ``first`` where the line begins."""

    mark: str
    words: str
    first: bool = True


def handover_lines(
    state: CaseState, now_ms: int, glance: Glance, left: str, ahead: Outlook | None = None
) -> list[Line]:
    """All lines of the screen, exactly ``glance.height`` of them; ``left`` is who leaves."""
    width, height = glance.width, glance.height
    above = [
        Block(header_lines(state, now_ms, glance, f"HAND-OVER FROM {left}", "HAND-OVER"), Rank.HEADER),
        Block([rule(width)], Rank.RULE),
    ]
    message = [each for each in message_lines(glance, state) if text_of(each).strip()]
    room = height - len(above[0].lines) - len(message)
    least = _question(glance, LEAST_QUESTION)
    parts = handover(state, now_ms, left, ahead=ahead, brief=width < ROOM_FOR_WORDS)
    rows = in_rows(parts, width - 2, min(max(MOST_ROWS, room * 2 // 3), room - len(least)))
    full = _question(glance, min(QUESTION_ROWS, room - len(rows)))
    below = [Block(message, Rank.MESSAGE), Block(full, Rank.KEYS)]
    return stacked(above, lambda _: [_painted(each) for each in rows], below, height, least=len(rows))


def _question(glance: Glance, rows: int) -> list[Line]:
    """Who comes, or whether keys that were set aside count."""
    asked = glance.doubt or glance.question
    return [] if asked is None else question_lines(asked, glance.width, rows, helps=glance.doubt is None)


def _painted(row: Row) -> Line:
    mark = row.mark if row.first else ""
    return line(Span(f" {mark:1} {row.words} ", TONES.get(row.mark, "plain")))


def in_rows(parts: Sequence[Part], width: int, most: int = MOST_ROWS) -> list[Row]:
    """The lines in at most so many rows of so many columns, their marks included.

    Each has a row, and one more by turns, the most pressing first, while there are any. Of more lines than
    rows, the last row names those that are left out.
    """
    room = width - BEFORE
    shown = parts if len(parts) <= most else parts[: most - 1]
    spare = most - len(shown) - (len(shown) < len(parts))
    given = [1] * len(shown)
    wanted = [
        most if cell_len(part.words) > room * most else len(wrapped(part.words, room)) for part in shown
    ]
    while spare and any(map(lt, given, wanted)):
        for number, rows in enumerate(wanted):
            more = min(spare, int(given[number] < rows))
            given[number] += more
            spare -= more
    found = [
        Row(part.mark, each, first=not number)
        for part, rows in zip(shown, given, strict=True)
        for number, each in enumerate(_fitted(part, room, rows))
    ]
    if left_out := [part.name for part in parts[len(shown) :]]:
        named = f"hidden: {', '.join(left_out)}"
        texts = (f"{named} (make the window larger)", named, f"hidden: {several(len(left_out), 'line')}")
        found.append(Row("", next((each for each in texts if cell_len(each) <= room), texts[-1])))
    return found


def _fitted(part: Part, room: int, rows: int) -> list[str]:
    """A line in at most so many rows: all of it, or its first items, and how many more are seen where."""
    lengths = accumulate(cell_len(each) + len(APART) for each in part.items)
    could = sum(length - len(APART) <= room * rows for length in lengths)  # more do not fit, however broken
    for kept in range(could, 0, -1):
        more = len(part.items) - kept
        text = part.begins + APART.join(part.items[:kept])
        for end in _ends(part, more):
            if len(found := wrapped(text + end, room)) <= rows:
                return found
    return _cut(part, room, rows)


def _ends(part: Part, more: int) -> tuple[str, ...]:
    """How many items are left out, in words and in fewer of them."""
    if not more:
        return ("",)
    others = several(more, f"more {part.of}") if part.of else f"{more} more"
    short = others if part.of in TAKEN_FOR_GRAFTS else f"{more} more"
    return f"{APART}{part.left_out(more)}", f"{APART}and {others}", f" +{short}"


def _cut(part: Part, room: int, rows: int) -> list[str]:
    """The first item as far as it fits, cut between words: no number loses a digit."""
    more = _ends(part, len(part.items) - 1)[-1]
    words = (part.begins + part.items[0]).split()
    for kept in range(len(words) - 1, 0, -1):
        if len(found := wrapped(f"{' '.join(words[:kept]).rstrip(',;:')} …{more}", room)) <= rows:
            return found
    return [f"…{more}"]
