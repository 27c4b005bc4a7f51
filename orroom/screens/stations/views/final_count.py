"""The final count by one person, blind to the tally and to the other's."""

from dataclasses import dataclass, field
from typing import Final

from orroom.case.final_count import Group
from orroom.case.plan import Plan
from orroom.case.state import CaseState
from orroom.case.terms import MAX_COUNT, PLACES_IN_A_WORD, SIZE_NAMES
from orroom.figures.case_times import case_times
from orroom.figures.wording import NO_DATA, clock_time, grafts, several
from orroom.screens.stations.views.frame import (
    ROOM_FOR_WORDS,
    Glance,
    below_blocks,
    hidden_lines,
)
from orroom.screens.stations.views.in_sight import lesson_lines
from orroom.screens.terminal.layout import Block, Rank, stacked
from orroom.screens.terminal.painting import (
    Line,
    Span,
    first_that_fits,
    line,
    padded,
    rule,
    spread,
    wrapped_buttons,
)
from orroom.words.entries import harvest_label, size_label

MOST_DIGITS: Final = 5
#: A narrower screen has the shortest words.
LEAST_WIDTH: Final = 40
#: So far from its group a number may be: the eye must not lose the row.
WIDEST_ROW: Final = 48


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
        elif key == "z" and not self.rest:
            return "z is for groups that never had a graft: none is left"
        elif key == "z":
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
    time = f"{state.plan.case}   {clock_time(now_ms, case_times(state))} " if width >= ROOM_FOR_WORDS else ""
    titles = [
        f" FINAL COUNT by {count.who}{blind}: {done} of {several(all_groups, 'group')}",
        f" {'COUNT' if count.blind else 'RECOUNT, not blind,'} {count.who}: {done} of {all_groups}",
        f" {'COUNT' if count.blind else 'NOT BLIND'} {count.who}: {done} of {all_groups}",
    ]
    title = line(Span(first_that_fits(titles, width - len(time)), "strong"))
    above = [
        Block([spread(title, line(time), width), *lesson_lines(glance.lesson, width)], Rank.HEADER),
        Block([rule(width)], Rank.RULE),
    ]
    below = below_blocks(state, now_ms, glance, 1, mismatches=0)[1:]
    if glance.doubt is None and glance.question is None:
        below[-1] = Block(_counting_keys(count, width), Rank.KEYS)

    def groups(rows: int) -> list[Line]:
        """The groups around the one that is counted, and how many more there are."""
        more = len(count.groups) - rows
        found = hidden_lines(glance, [f"{several(more + 1, 'group')} (↑ ↓)"]) if more > 0 and rows > 1 else []
        rows -= len(found)
        first = min(max(0, count.at - rows // 2), max(0, len(count.groups) - rows))
        shown = range(first, min(first + rows, len(count.groups)))
        return [*(_group_line(state.plan, count, each, width) for each in shown), *found]

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
    enter = " Enter all counted " if count.complete else " Enter next group " if wide else " Enter "
    rest = " z 0 where no graft ever was " if wide else " z never any: 0 " if width >= LEAST_WIDTH else " z "
    digits = [Span(f" {digit} ", "button", f"type('{digit}')") for digit in "0123456789"]
    buttons = [
        Span(enter, "button", "press('enter')"),
        *digits,
        Span(" ⌫ ", "button", "press('backspace')"),
        Span(" Esc stop count " if wide else " Esc ", "button", "press('escape')"),
        Span(" F1 ", "button", "press('f1')"),
        *([Span(rest, "button", "press('z')")] if count.rest else []),
    ]
    return wrapped_buttons(buttons, width, 3)
