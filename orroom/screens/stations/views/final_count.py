"""The final count: one person's count, blind to the tally and to the other's; then both next to the tally."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

from rich.cells import cell_len

from orroom.case.final_count import Group, PersonCount, person_counts, replaced_counts
from orroom.case.plan import Plan
from orroom.case.state import CaseState
from orroom.case.terms import MAX_COUNT, PLACES_IN_A_WORD, SIZE_NAMES
from orroom.figures.case_times import case_times
from orroom.figures.differences import GroupCount
from orroom.figures.recount import Recount
from orroom.figures.wording import NO_DATA, clock_time, grafts, several
from orroom.screens.stations.views.frame import (
    ROOM_FOR_WORDS,
    Glance,
    below_blocks,
    header_lines,
    hidden_lines,
)
from orroom.screens.stations.views.in_sight import lesson_lines
from orroom.screens.terminal.layout import Block, Rank, rows_of, stacked
from orroom.screens.terminal.painting import (
    Line,
    Span,
    Tone,
    first_that_fits,
    line,
    padded,
    rule,
    shortened,
    wrapped,
    wrapped_buttons,
)
from orroom.words.columns import columns
from orroom.words.entries import harvest_label, size_label

MOST_DIGITS: Final = 5
#: A narrower screen has the shortest words.
LEAST_WIDTH: Final = 40
#: So far from its group a number may be: the eye must not lose the row.
WIDEST_ROW: Final = 80
#: Of a group's name so many columns are shown at least.
LEAST_GROUP: Final = 12
#: From this height on there is room for a rule and a mismatch.
FULL_HEIGHT: Final = 20


@dataclass
class CountUnderWay:
    """What one person has counted so far, and what is typed. It knows no tally and no other count."""

    who: str
    groups: tuple[Group, ...]
    since_seq: int
    #: Whether no comparison of earlier counts has been shown; else the entry of the count that it replaces.
    blind: bool = True
    recount_of: int | None = None
    #: Groups that never held a graft by the record.
    unused: frozenset[Group] = frozenset()
    #: Whether the record has it as under way here.
    begun: bool = False
    found: dict[Group, int] = field(default_factory=dict)
    at: int = 0
    typed: str = ""

    @property
    def complete(self) -> bool:
        """Whether every group has been counted."""
        return len(self.found) == len(self.groups)

    @property
    def rest(self) -> list[Group]:
        """The groups that never held a graft and were not counted yet."""
        return [group for group in self.groups if group in self.unused and group not in self.found]

    def press(self, key: str) -> str:
        """Take a digit, backspace, Enter, up or down; answers what is wrong with the key, or nothing."""
        if key in "0123456789" and len(key) == 1:
            self.typed = (self.typed + key)[:MOST_DIGITS]
        elif key == "backspace":
            self.typed = self.typed[:-1]
        elif key == "enter" and int(self.typed or -1) > MAX_COUNT:
            wrong = f"{self.typed} is not a count of a group; enter 0 to {grafts(MAX_COUNT)}"
            self.typed = ""
            return wrong
        elif key == "enter" and self.typed:
            self.found[self.groups[self.at]] = int(self.typed)
            self.go_to(self._next())
        elif key == "enter" and self.groups[self.at] not in self.found:
            return "type the number first; 0 if there are none"
        elif key == "enter":
            self.go_to(self._next())
        elif key == "a" and not self.rest:
            return "a is for groups that never had a graft: none is left"
        elif key == "a":
            self.found |= dict.fromkeys(self.rest, 0)
            self.go_to(self._next() if self.groups[self.at] in self.found else self.at)
        elif key in {"up", "down"}:
            self.go_to(self.at + (1 if key == "down" else -1))
        else:
            return "use digits, Enter and arrows; Esc stops the count"
        return ""

    def go_to(self, group: int) -> None:
        """Another group; what was typed for this one and not taken goes."""
        self.at, self.typed = max(0, min(group, len(self.groups) - 1)), ""

    def _next(self) -> int:
        """The next group that was not counted yet, else the one after this."""
        order = [*range(self.at + 1, len(self.groups)), *range(self.at)]
        return next((place for place in order if self.groups[place] not in self.found), self.at)


def group_words(plan: Plan, group: Group) -> tuple[str, ...]:
    """A group in words: ``dish: 2 hairs``, with its harvest if there are several; then in fewer of them."""
    place = PLACES_IN_A_WORD[group.place]
    whole = f"{place}: {size_label(plan, group.size)}"
    brief = f"{place}: {'multi' if group.size == 'M' else f'{SIZE_NAMES[group.size]}s'}"
    briefest = f"{place:.6} {group.size}"  # no room for the s of placers
    if len(plan.harvest_by_key) == 1:
        return whole, brief, briefest
    key = group.harvest
    return (
        f"{whole}, {harvest_label(plan, key)}",
        *(f"{brief}{harvest}" for harvest in (f", harvest {key}", f" {key}")),
        f"{briefest} {key}",
    )


def counting_lines(state: CaseState, now_ms: int, glance: Glance, count: CountUnderWay) -> list[Line]:
    """One person's count. The tally stands nowhere on it."""
    width = glance.width
    done, all_groups = len(count.found), len(count.groups)
    blind = "" if count.blind else " (a recount, not blind)"
    titles = [
        f" FINAL COUNT by {count.who}{blind}: {done} of {several(all_groups, 'group')}",
        f" {'COUNT' if count.blind else 'RECOUNT, not blind,'} {count.who}: {done} of {all_groups}",
        f" {'COUNT' if count.blind else 'NOT BLIND'} {count.who}: {done} of {all_groups}",
    ]
    title = line(Span(first_that_fits(titles, width), "strong"))
    above = [
        Block([title, *lesson_lines(glance.lesson, width)], Rank.HEADER),
        Block([rule(width)], Rank.RULE),
    ]
    below = below_blocks(state, now_ms, glance, 1, mismatches=0)[1:]
    if glance.doubt is None and glance.question is None:
        below[-1] = Block(_counting_keys(count, width), Rank.KEYS)

    def groups(rows: int) -> list[Line]:
        """The groups around the one that is counted, and how many more there are."""
        more = len(count.groups) - rows
        told = hidden_lines(glance, [f"{several(more + 1, 'group')} (↑ ↓)"]) if more > 0 and rows > 1 else []
        rows -= len(told)
        first = min(max(0, count.at - rows // 2), max(0, len(count.groups) - rows))
        shown = range(first, min(first + rows, len(count.groups)))
        return [*(_group_line(state.plan, count, each, width) for each in shown), *told]

    return stacked(above, groups, below, glance.height, least=3)


def _group_line(plan: Plan, count: CountUnderWay, number: int, width: int) -> Line:
    group, here = count.groups[number], number == count.at
    found = grafts(count.found[group]) if group in count.found else NO_DATA
    if here and (count.typed or group not in count.found):
        found = f"{count.typed}▌"
    elif here:  # what was counted stays in view until another number is typed
        found = f"{found} ▌"
    mark = "●" if group in count.found else "○"
    go = f"go_to_group({number})"
    forms = group_words(plan, group)[width < ROOM_FOR_WORDS :]
    room = min(width, WIDEST_ROW) - 14
    words = padded(first_that_fits(forms, room), room)
    return line(
        Span(f" {mark} {words}", "strong" if here else "plain", go),
        Span(f"{found:>8} ", "cursor" if here else "plain", go),
    )


def _counting_keys(count: CountUnderWay, width: int) -> list[Line]:
    wide = width >= ROOM_FOR_WORDS
    enter = " Enter all counted " if count.complete else " Enter "
    rest = " a rest 0 " if width < LEAST_WIDTH else " a unused: 0 "
    if wide:
        rest = f" a enter 0 in {several(len(count.rest), 'group')} never used "
    digits = [Span(f" {digit} ", "button", f"type('{digit}')") for digit in "0123456789"]
    buttons = [
        Span(enter, "button", "press('enter')"),
        *([Span(rest, "button", "press('a')")] if count.rest else []),
        *digits,
        Span(" ⌫ ", "button", "press('backspace')"),
        Span(" Esc stop count " if wide else " Esc ", "button", "press('escape')"),
        Span(" F1 ", "button", "press('f1')"),
    ]
    return wrapped_buttons(buttons, width, 3)


def compared_lines(
    state: CaseState,
    now_ms: int,
    glance: Glance,
    told: Recount,
    at: int,
    turned: int = 0,
) -> list[Line]:
    """Both valid counts next to the tally: the groups that differ first, what may explain the one ``at``.

    Where not all fits it is on pages: this many are ``turned`` from the one with the group ``at``.
    """
    width, full = glance.width, glance.height >= FULL_HEIGHT
    title = f"FINAL COUNT: {'all agree' if told.agrees else several(len(told.differences), 'difference')}"
    count = len(told.differences)
    shorter = ("all agree", "●") if told.agrees else (f"{count} differ", f"≠ {count}")
    above = [
        Block(
            header_lines(state, now_ms, glance, title, title.removeprefix("FINAL "), *shorter), Rank.HEADER
        ),
        Block([rule(width)] if full else [], Rank.RULE),
    ]
    below = below_blocks(state, now_ms, glance, 1, mismatches=1 if full else 0)
    asked = glance.asked
    pages: list[list[Line]] = [[]]
    for keys in ("", "9/9"):  # a button that turns pages takes room of its own
        if not asked:
            below[-1] = Block(_compared_keys(told, at, width, keys), Rank.KEYS)
        pages = compared_pages(state, glance, told, at, glance.height - rows_of([*above, *below]) - full)
        if len(pages) == 1:
            break
    shown = (_page_of(pages, at) + turned) % len(pages)
    if len(pages) > 1 and not asked:
        below[-1] = Block(_compared_keys(told, at, width, f"{shown + 1}/{len(pages)}"), Rank.KEYS)
    return stacked(above, lambda _: pages[shown], below, glance.height, least=2)


def _page_of(pages: Sequence[Sequence[Line]], at: int) -> int:
    """The first page with a row of the group ``at``."""
    go = f"go_to_group({at})"
    return next(
        (n for n, page in enumerate(pages) if any(span.action == go for each in page for span in each)), 0
    )


def compared_pages(state: CaseState, glance: Glance, told: Recount, at: int, room: int) -> list[list[Line]]:
    """The comparison on pages of ``room`` rows: a table under its head, then what is to be said of it.

    What may explain the chosen group is right under its row.
    """
    counts, rows = person_counts(state), ordered(told)
    head, *table = _table(state.plan, counts, rows, at, glance.width)
    under = max(1, room - 1)
    pages: list[list[Line]] = [[]]
    remarks = _count_remarks(state, counts, glance.width)
    for number, row in enumerate([*table, *remarks]):
        chosen = number == at < len(rows) and not rows[at].agrees
        block = [row, *(_explained(rows[at], glance.width) if chosen else [])][:under]
        if len(pages[-1]) + len(block) > under:
            pages.append([])
        pages[-1] += block
    return [[head, *page] for page in pages]


def _count_remarks(state: CaseState, counts: Sequence[PersonCount], width: int) -> list[Line]:
    """Which of the two counts is not a blind one, and which counts nobody compares any more."""
    times = case_times(state)
    told = [
        f"{each.who}'s count at {clock_time(each.at_ms, times)} is a recount, not blind: earlier counts "
        "were visible"
        for each in counts
        if not each.blind
    ]
    if before := replaced_counts(state):
        named = ", ".join(
            f"{each.who} {clock_time(each.at_ms, times)} ({grafts(sum(each.found.values()))} in all)"
            for each in before
        )
        told.append(f"superseded, still in the record: {named}")
    return [line(Span(f" ‖ {text}" if not row else f"   {text}", "notice"))
            for each in told for row, text in enumerate(wrapped(each, width - 4))]  # fmt: skip


def ordered(told: Recount) -> list[GroupCount]:
    """The groups, those that differ first."""
    return sorted(told.groups, key=lambda each: each.agrees)


def _table(
    plan: Plan, counts: Sequence[PersonCount], rows: Sequence[GroupCount], at: int, width: int
) -> list[Line]:
    """A row a group, with the mark of those that differ, and the head above."""
    wide = width >= ROOM_FOR_WORDS
    form = 0 if wide else -2 if width >= LEAST_WIDTH else -1
    head = [
        "",
        "group",
        "tally",
        *(f"by {each.who}" if wide else each.who for each in counts[:2]),
        *([""] if wide else []),
    ]
    cells = [
        [
            "●" if each.agrees else "≠",
            group_words(plan, each.group)[form],
            grafts(each.expected),
            grafts(each.first),
            grafts(each.second),
            *(["" if each.agrees else "differ"] if wide else []),
        ]
        for each in rows
    ]
    bare = columns(head, [[row[0], "", *row[2:]] for row in cells], words=2).split("\n")
    room = max(LEAST_GROUP, width - 1 - max(map(cell_len, bare)) + len(head[1]))
    text = columns(head, [[row[0], shortened(row[1], room), *row[2:]] for row in cells], words=2).split("\n")
    lines = [line(Span(text[0], "dim"))]
    for number, (row, each) in enumerate(zip(text[1:], rows, strict=True)):
        here = number == at
        tone: Tone = "cursor" if here else "plain" if each.agrees else "wrong"
        shown = padded(f"▸{row[1:]}", min(width, cell_len(row) + 1)) if here else row
        lines.append(line(Span(shown, tone, f"go_to_group({number})")))
    return lines


def _explained(row: GroupCount, width: int) -> list[Line]:
    if not row.counters_agree:
        told = ["the two counts differ: count again"]
    else:
        told = [f"{each.cause}? {each.sentence}" for each in row.explanations] or [
            "nothing in the record explains it"
        ]
    return [line(Span(f"   {text}", "dim")) for each in told for text in wrapped(each, width - 4)]


def _compared_keys(told: Recount, at: int, width: int, page: str) -> list[Line]:
    """What can be done with the comparison; ``page`` is which of how many is shown, if there are several."""
    rows, wide = ordered(told), width >= ROOM_FOR_WORDS
    buttons = [
        Span(" Esc close ", "button", "press('escape')"),
        Span(" r count again " if wide else " r again ", "button", "press('r')"),
    ]
    if rows and not rows[at].agrees and rows[at].counters_agree:
        buttons.insert(0, Span(f" t accept {grafts(rows[at].first or 0)} ", "button", "press('t')"))
    buttons.insert(0, Span(" s sign off ", "button", "press('s')"))
    if wide:  # a small screen has room for what closes the case
        buttons.insert(1, Span(" g what is left ", "button", "press('g')"))
    if page:
        buttons.append(Span(f" → page {page} " if wide else f" → {page} ", "button", "press('right')"))
    return wrapped_buttons(buttons, width, len(buttons))
