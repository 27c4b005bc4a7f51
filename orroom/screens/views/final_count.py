"""The final count: one person's count, blind to the tally and to the other's; then both beside the tally."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

from orroom.case.final_count import PersonCount, Pile
from orroom.case.plan import Plan
from orroom.case.state import CaseState
from orroom.case.terms import MAX_COUNT
from orroom.figures.recount import PileCount, Recount
from orroom.figures.wording import NO_DATA, grafts, several
from orroom.reports.columns import columns
from orroom.reports.sentences import lot_label, size_label
from orroom.screens.views.frame import Glance, below_blocks, header
from orroom.screens.views.layout import Block, Rank, stacked
from orroom.screens.views.painting import (
    Line,
    Span,
    Tone,
    line,
    padded,
    rule,
    shortened,
    wrapped,
    wrapped_buttons,
)

MOST_DIGITS: Final = 5


@dataclass
class CountUnderWay:
    """What one person has counted so far, and what is typed. It knows no tally and no other count."""

    who: str
    piles: tuple[Pile, ...]
    since_seq: int
    found: dict[Pile, int] = field(default_factory=dict)
    at: int = 0
    typed: str = ""

    @property
    def complete(self) -> bool:
        """Whether every pile has been counted."""
        return len(self.found) == len(self.piles)

    def press(self, key: str) -> bool:
        """A digit, backspace, Enter to take what is typed, up or down to another pile; whether it was one."""
        if key in "0123456789" and len(key) == 1:
            self.typed = (self.typed + key)[:MOST_DIGITS]
        elif key == "backspace":
            self.typed = self.typed[:-1]
        elif key == "enter" and int(self.typed or -1) > MAX_COUNT:
            self.typed = ""
        elif key == "enter" and self.typed:
            self.found[self.piles[self.at]] = int(self.typed)
            self.go_to(self._next())
        elif key in {"up", "down"}:
            self.go_to(self.at + (1 if key == "down" else -1))
        else:
            return key == "enter"
        return True

    def go_to(self, pile: int) -> None:
        """Another pile; what was typed for this one and not taken goes."""
        self.at, self.typed = max(0, min(pile, len(self.piles) - 1)), ""

    def _next(self) -> int:
        """The next pile that was not counted yet, else the one after this."""
        order = [*range(self.at + 1, len(self.piles)), *range(self.at)]
        return next((place for place in order if self.piles[place] not in self.found), self.at)


def pile_words(plan: Plan, pile: Pile) -> str:
    """A pile in words: ``dish: 2 hairs``, with its lot where there are several."""
    lot = f", {lot_label(plan, pile.lot)}" if len(plan.lots) > 1 else ""
    return f"{pile.place}: {size_label(plan, pile.size)}{lot}"


def counting_lines(state: CaseState, now_ms: int, glance: Glance, count: CountUnderWay) -> list[Line]:
    """One person's count. The tally stands nowhere on it."""
    width = glance.width
    title = f"FINAL COUNT by {count.who}: {len(count.found)} of {several(len(count.piles), 'pile')}"
    above = [
        Block([line(Span(f" {shortened(title, width - 1)}", "strong"))], Rank.HEADER),
        Block([rule(width)], Rank.RULE),
    ]
    below = below_blocks(state, now_ms, glance, 1, mismatches=0)[1:]
    if glance.doubt is None and glance.question is None:
        below[-1] = Block(_counting_keys(count, width), Rank.KEYS)

    def piles(rows: int) -> list[Line]:
        first = min(max(0, count.at - rows // 2), max(0, len(count.piles) - rows))
        return [_pile_line(state.plan, count, each, width) for each in range(first, len(count.piles))][:rows]

    return stacked(above, piles, below, glance.height, least=3)


def _pile_line(plan: Plan, count: CountUnderWay, number: int, width: int) -> Line:
    pile, here = count.piles[number], number == count.at
    found = f"{count.typed}▌" if here else grafts(count.found[pile]) if pile in count.found else NO_DATA
    mark = "●" if pile in count.found else "○"
    go = f"go_to_pile({number})"
    words = padded(shortened(pile_words(plan, pile), width - 14), width - 14)
    return line(
        Span(f" {mark} {words}", "strong" if here else "plain", go),
        Span(f"{found:>8} ", "cursor" if here else "plain", go),
    )


def _counting_keys(count: CountUnderWay, width: int) -> list[Line]:
    enter = " Enter all counted " if count.complete else " Enter "
    digits = [Span(f" {digit} ", "button", f"type('{digit}')") for digit in "0123456789"]
    back = Span(" ⌫ ", "button", "press('backspace')")
    off = Span(" Esc break off ", "button", "press('escape')")
    return wrapped_buttons([Span(enter, "button", "press('enter')"), *digits, back, off], width, 3)


def compared_lines(
    state: CaseState, now_ms: int, glance: Glance, counts: Sequence[PersonCount], told: Recount, at: int
) -> list[Line]:
    """Both counts beside the tally: the piles that differ first, and what may explain the one chosen."""
    width = glance.width
    open_ones = len(told.differences)
    title = "FINAL COUNT: all agree" if told.agrees else f"FINAL COUNT: {several(open_ones, 'difference')}"
    above = [
        Block([header(state, now_ms, glance, title)], Rank.HEADER),
        Block([rule(width)], Rank.RULE),
    ]
    below = below_blocks(state, now_ms, glance, 1)
    if glance.doubt is None and glance.question is None:
        below[-1] = Block(_compared_keys(told, at, width), Rank.KEYS)
    rows = ordered(told)

    def body(room: int) -> list[Line]:
        told_lines = _explained(rows[at], width) if rows and not rows[at].agrees else []
        table = _table(state.plan, counts, rows, at, width)
        left = max(2, room - len(told_lines))
        first = min(max(0, at - (left - 1) // 2), max(0, len(rows) - (left - 1)))
        return [table[0], *table[1 + first : first + left], *told_lines]

    return stacked(above, body, below, glance.height, least=3)


def ordered(told: Recount) -> list[PileCount]:
    """The piles, those that differ first."""
    return sorted(told.piles, key=lambda each: each.agrees)


def _table(
    plan: Plan, counts: Sequence[PersonCount], rows: Sequence[PileCount], at: int, width: int
) -> list[Line]:
    head = ["pile", "tally", counts[0].who, counts[1].who, ""]
    cells = [
        [
            shortened(pile_words(plan, each.pile), max(12, width - 32)),
            grafts(each.expected),
            grafts(each.first),
            grafts(each.second),
            "" if each.agrees else "≠ differ",
        ]
        for each in rows
    ]
    text = columns(head, cells, words=1).split("\n")
    lines = [line(Span(f" {text[0]}", "dim"))]
    for number, (row, each) in enumerate(zip(text[1:], rows, strict=True)):
        tone: Tone = "cursor" if number == at else "plain" if each.agrees else "wrong"
        lines.append(line(Span(f" {row}", tone, f"go_to_pile({number})")))
    return lines


def _explained(row: PileCount, width: int) -> list[Line]:
    if not row.counters_agree:
        told = ["the two counts differ: count again"]
    else:
        told = [f"{each.cause}? {each.sentence}" for each in row.explanations] or [
            "nothing in the record explains it"
        ]
    return [line(Span(f"   {text}", "dim")) for each in told for text in wrapped(each, width - 4)]


def _compared_keys(told: Recount, at: int, width: int) -> list[Line]:
    rows = ordered(told)
    buttons = [
        Span(" Esc close ", "button", "press('escape')"),
        Span(" r count again ", "button", "press('r')"),
    ]
    if rows and not rows[at].agrees and rows[at].counters_agree:
        buttons.insert(0, Span(" t take the count ", "button", "press('t')"))
    buttons.insert(0, Span(" s sign off ", "button", "press('s')"))
    return wrapped_buttons(buttons, width, 2)
