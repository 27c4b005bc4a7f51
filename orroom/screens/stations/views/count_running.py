"""What every screen shows while a final count is made: that it is, and no count of anything."""

from collections.abc import Sequence
from typing import Final

from orroom.case.mismatches import open_mismatches
from orroom.case.state import CaseState
from orroom.figures.wording import several
from orroom.screens.stations.views.frame import Glance, below_blocks, header_lines
from orroom.screens.stations.views.prompting import WALL
from orroom.screens.terminal.digits import block_digits, largest_scale
from orroom.screens.terminal.layout import Block, Rank, stacked
from orroom.screens.terminal.painting import Line, Span, Tone, line, rule, wrapped
from orroom.words.final_count import left_words, running_words

TITLES: Final = ("A COUNT IS BEING MADE", "COUNT UNDER WAY", "COUNT")
#: From this height on there is room for a rule and for lines apart.
FULL_HEIGHT: Final = 20


def _large(glance: Glance) -> list[Line]:
    """The one word for a wall, where there is room for it."""
    if glance.width < WALL[0] or glance.height < WALL[1]:
        return []
    scale = largest_scale([TITLES[-1]], glance.width - 4, glance.height // 3)
    return [(), *(line(Span(f"  {row}", "notice")) for row in block_digits(TITLES[-1], scale))]


def count_running_lines(
    state: CaseState, now_ms: int, glance: Glance, typed: Sequence[Line] = ()
) -> list[Line]:
    """A screen without a single count: who counts, prompts, keys, and what is being ``typed``."""
    full, width = glance.height >= FULL_HEIGHT, glance.width
    key = glance.keys.shown("overview", "final_count")
    there = glance.keys.shown(glance.role, "role('overview')")
    where = key if glance.role == "overview" else f"{key} at the overview ({there})"
    said = running_words(state, where) or ("Somebody is about to count.",)
    words = [TITLES[0], *said, *left_words(state, now_ms, where)]
    if hidden := len(open_mismatches(state)):
        words.append(f"≠ {several(hidden, 'mismatch', 'mismatches')}, shown after the count.")
    words.append("What is in dishes and with the placers, cut and placed is shown after the second count.")
    body = _large(glance)
    for number, each in enumerate(words):
        tone: Tone = "strong" if number == 0 else "notice" if number < len(words) - 1 else "dim"
        mark = "‖ " if number == 0 else "  "
        if full:
            body.append(())
        body += [line(Span(f" {mark if not row else '  '}{text}", tone))
                 for row, text in enumerate(wrapped(each, width - 5))]  # fmt: skip
    above = [
        Block(header_lines(state, now_ms, glance, *TITLES), Rank.HEADER),
        Block([rule(width)] if full else [], Rank.RULE),
    ]
    below = [
        Block(list(typed), Rank.TYPED),
        *below_blocks(state, now_ms, glance, 2 if full else 1, mismatches=0),
    ]
    return stacked(above, lambda _: body, below, glance.height, least=2)
