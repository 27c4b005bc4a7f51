"""Two people's final counts next to the tally: what agrees, what is left, what is open, what to do next."""

from collections import Counter
from collections.abc import Sequence
from typing import Final

from rich.cells import cell_len

from orroom.case.closing import NO_FATE, open_at_sign_off
from orroom.case.final_count import PersonCount, person_counts, replaced_counts, waiting_by_group
from orroom.case.limits import LIMIT_KINDS
from orroom.case.plan import Plan
from orroom.case.state import CaseState
from orroom.case.terms import size_named
from orroom.figures.case_times import case_times
from orroom.figures.differences import GroupCount
from orroom.figures.prompts import prompts
from orroom.figures.recount import Recount
from orroom.figures.wording import clock_time, grafts, several
from orroom.screens.stations.views.final_count import LEAST_WIDTH, group_words
from orroom.screens.stations.views.frame import ROOM_FOR_WORDS, Glance, below_blocks, header_lines
from orroom.screens.terminal.layout import Block, Rank, rows_of, stacked
from orroom.screens.terminal.painting import (
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
from orroom.words.columns import columns

#: Of a group's name so many columns are shown at least.
LEAST_GROUP: Final = 12
#: From this height on there is room for a rule, for what is open, and for a mismatch.
FULL_HEIGHT: Final = 20
#: The place of the chosen group while none is.
NONE: Final = -1


def compared_lines(
    state: CaseState,
    now_ms: int,
    glance: Glance,
    recount: Recount,
    at: int,
    turned: int = 0,
) -> list[Line]:
    """Both valid counts next to the tally, in the order in which they were counted.

    What may explain the group ``at``, and which keys it wants, is under it. Where not all fits it is on
    pages: this many are ``turned`` from the one with that group.
    """
    width, full = glance.width, glance.height >= FULL_HEIGHT
    count, left = len(recount.differences), grafts(_left(recount))
    verdict = (
        "all agree"
        if recount.agrees
        else f"{several(count, 'group')} {'differs' if count == 1 else 'differ'}"
    )
    brief = "all agree" if recount.agrees else f"{count} differ"
    least = f"agree, {left} left" if recount.agrees else f"{count} differ"
    shorter = (
        f"COUNT: {brief}, {left} left",
        f"{brief}, {left} left",
        least,
        "●" if recount.agrees else f"≠ {count}",
    )
    title = f"FINAL COUNT: {verdict}, {left} left"
    facts = _facts(state, now_ms, recount) if full else []
    above = [
        Block(header_lines(state, now_ms, glance, title, *shorter), Rank.HEADER),
        Block([rule(width)] if full else [], Rank.RULE),
        Block(
            [line(Span(f" {row}", tone)) for text, tone in facts for row in wrapped(text, width - 2)],
            Rank.DETAIL,
        ),
    ]
    below = below_blocks(state, now_ms, glance, 1, mismatches=1 if full else 0)
    asked = glance.asked
    pages: list[list[Line]] = [[]]
    for keys in ("", "9/9"):  # a button that turns pages takes room of its own
        if not asked:
            below[-1] = Block(_compared_keys(state, recount, at, width, keys), Rank.KEYS)
        pages = compared_pages(state, glance, recount, at, glance.height - rows_of([*above, *below]) - full)
        if len(pages) == 1:
            break
    shown = (_page_of(pages, at) + turned) % len(pages)
    if len(pages) > 1 and not asked:
        below[-1] = Block(_compared_keys(state, recount, at, width, f"{shown + 1}/{len(pages)}"), Rank.KEYS)
    return stacked(above, lambda _: pages[shown], below, glance.height, least=2)


def _left(recount: Recount) -> int:
    return sum(each.expected for each in recount.groups)


def _facts(state: CaseState, now_ms: int, recount: Recount) -> list[tuple[str, Tone]]:
    """That the counts agree is not that all is well: what is left where, what is late, what is open."""
    left, waiting = _left(recount), waiting_by_group(state.tally)
    held = sum(count for group, count in waiting.items() if group.place == "bench")
    lines: list[tuple[str, Tone]] = []
    if recount.agrees:
        lines.append(("Both counts and the tally agree.", "strong"))
    if left:
        where = f": {grafts(sum(waiting.values()) - held)} in dishes, {grafts(held)} with the placers"
        lines.append((f"{several(left, 'graft')} left, not placed{where if waiting else ''}.", "notice"))
    due = Counter(each.status for each in prompts(state, now_ms))
    if late := due["overdue"] + due["due"]:
        lines.append((f"{several(late, 'prompt')} due or late.", "notice"))
    if found := open_words(state):
        lines.append((f"Open before the sign-off: {', '.join(found)}.", "notice"))
    return lines


def open_words(state: CaseState) -> list[str]:
    """What a sign-off would leave open, counted by kind, with the key that settles it here."""
    kinds: Counter[str] = Counter()
    for each in open_at_sign_off(state):
        kind = each.key.partition(":")[0]
        known = kind in {NO_FATE, "difference"}
        kinds[kind if known else "limit" if kind in LIMIT_KINDS else "mismatch"] += 1
    words = (
        ("difference", several(kinds["difference"], "difference")),
        (NO_FATE, "what becomes of the grafts that are left (g)"),
        ("limit", f"{several(kinds['limit'], 'broken limit')} (e)"),
        ("mismatch", f"{several(kinds['mismatch'], 'mismatch', 'mismatches')} (e)"),
    )
    return [said for kind, said in words if kinds[kind]]


def _page_of(pages: Sequence[Sequence[Line]], at: int) -> int:
    """The first page with a row of the group ``at``."""
    go = f"go_to_group({at})"
    return next(
        (n for n, page in enumerate(pages) if any(span.action == go for each in page for span in each)), 0
    )


def compared_pages(
    state: CaseState, glance: Glance, recount: Recount, at: int, room: int
) -> list[list[Line]]:
    """The comparison on pages of ``room`` rows: a table under its head, then what is to be said of it.

    What may explain the chosen group is right under its row.
    """
    counts, rows = person_counts(state), ordered(recount, state)
    head, *table = _table(state.plan, counts, rows, at, glance.width)
    under = max(1, room - 1)
    pages: list[list[Line]] = [[]]
    remarks = _count_remarks(state, counts, glance.width)
    for number, row in enumerate([*table, *remarks]):
        chosen = number == at < len(rows) and not rows[at].agrees
        block = [row, *(_explained(rows[at], counts, glance.width) if chosen else [])][:under]
        if len(pages[-1]) + len(block) > under:
            pages.append([])
        pages[-1] += block
    return [[head, *page] for page in pages]


def _count_remarks(state: CaseState, counts: Sequence[PersonCount], width: int) -> list[Line]:
    """Which of the two counts is not a blind one, and which counts nobody compares any more."""
    times = case_times(state)
    found = [
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
        found.append(f"superseded, still in the record: {named}")
    return [line(Span(f" ‖ {text}" if not row else f"   {text}", "notice"))
            for each in found for row, text in enumerate(wrapped(each, width - 4))]  # fmt: skip


def ordered(recount: Recount, state: CaseState) -> list[GroupCount]:
    """The groups in the order in which the first of the two counted them."""
    order = {group: place for place, group in enumerate(person_counts(state)[0].found)}
    return sorted(recount.groups, key=lambda each: order.get(each.group, len(order)))


def first_that_differs(rows: Sequence[GroupCount]) -> int:
    """The place of the first group that differs, ``NONE`` if none does."""
    return next((place for place, each in enumerate(rows) if not each.agrees), NONE)


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
            *([_who_differs(each, counts)] if wide else []),
        ]
        for each in rows
    ]
    found = [[getattr(each, name) for each in rows] for name in ("expected", "first", "second")]
    totals = [grafts(None if None in column else sum(column)) for column in found]
    cells.append(["", "all", *totals, *([""] if wide else [])])
    bare = columns(head, [[row[0], "", *row[2:]] for row in cells], words=2).split("\n")
    if wide and max(map(cell_len, bare)) + max(cell_len(row[1]) for row in cells) >= width:
        cells = [[*row[:-1], "differ" if row[-1] else ""] for row in cells]
        bare = columns(head, [[row[0], "", *row[2:]] for row in cells], words=2).split("\n")
    room = max(LEAST_GROUP, width - 1 - max(map(cell_len, bare)) + len(head[1]))
    if wide:  # words are to the left
        widest = max(cell_len(row[-1]) for row in cells)
        cells = [[*row[:-1], padded(row[-1], widest)] for row in cells]
    text = columns(head, [[row[0], shortened(row[1], room), *row[2:]] for row in cells], words=2).split("\n")
    lines = [line(Span(text[0], "dim"))]
    for number, (row, each) in enumerate(zip(text[1:], rows, strict=False)):
        here = number == at
        tone: Tone = "cursor" if here else "plain" if each.agrees else "wrong"
        shown = padded(f"▸{row[1:]}", min(width, cell_len(row) + 1)) if here else row
        lines.append(line(Span(shown, tone, f"go_to_group({number})")))
    return [*lines, line(Span(text[-1], "strong"))]


def _who_differs(row: GroupCount, counts: Sequence[PersonCount]) -> str:
    if row.agrees:
        return ""
    if row.counters_agree:
        return "both differ from the tally"
    return " and ".join(each.who for each in counts[:2]) + " differ"


def _explained(row: GroupCount, counts: Sequence[PersonCount], width: int) -> list[Line]:
    """What to do about a group that differs, and what may explain it."""
    short = width < ROOM_FOR_WORDS
    if not row.counters_agree:
        who = " and ".join(each.who for each in counts[:2])
        found = [f"r: count again ({who} differ)" if short else f"{who} differ: r counts this group again"]
    else:
        why = [f"{each.cause}? {each.sentence}" for each in row.explanations]
        found = [taking_words(row, short=short), *(why or ["nothing in the record explains it"])]
    return [line(Span(f"   {text}", "dim")) for each in found for text in wrapped(each, width - 4)]


def taking_words(row: GroupCount, *, short: bool = False) -> str:
    """What the key does that takes what both counted: what becomes of the grafts that make the difference."""
    found, off = row.first or 0, (row.first or 0) - row.expected
    size = size_named(row.group.size, abs(off))
    is_ = "is" if abs(off) == 1 else "are"
    if short:
        return f"a: {grafts(abs(off))} {'not found' if off < 0 else 'more'}; r: again"
    becomes = (
        f"{grafts(abs(off))} {size} {is_} {'recorded as not found' if off < 0 else 'added to the tally'}"
    )
    return f"a accepts {grafts(found)}: {becomes}, and a cause is asked; or r counts again"


def _compared_keys(state: CaseState, recount: Recount, at: int, width: int, page: str) -> list[Line]:
    """What can be done next comes first; the sign-off leads only where nothing is open.

    ``page`` is which of how many is shown, if there are several.
    """
    rows, wide = ordered(recount, state), width >= ROOM_FOR_WORDS
    open_ = len(open_at_sign_off(state))
    again = Span(" r count again " if wide else " r again ", "button", "press('r')")
    still = f", {open_} open" if open_ and wide else ""
    sign = Span(f" o sign off{still} ", "button", "press('o')")
    fates = [Span(" g what is left ", "button", "press('g')")] if wide else []
    close = Span(" Esc close ", "button", "press('escape')")
    buttons = [again, *fates, close, sign] if open_ else [sign, *fates, close, again]
    if recount.agrees and open_:
        buttons = [*fates, close, again, sign]
    if 0 <= at < len(rows) and not rows[at].agrees and rows[at].counters_agree:
        buttons.insert(0, Span(f" a accept {grafts(rows[at].first or 0)} ", "button", "press('a')"))
    if page:
        buttons.append(Span(f" → page {page} " if wide else f" → {page} ", "button", "press('right')"))
    return wrapped_buttons(buttons, width, len(buttons))
