"""The re-plan over the overview: before and after by zone, what each zone gets and why, what is left."""

import re
from textwrap import wrap
from typing import Final, NamedTuple

from rich.cells import cell_len, set_cell_size

from orroom.case.state import CaseState
from orroom.figures.replan.proposal import NoProposal, Proposal, Source
from orroom.figures.wording import decimal, grafts
from orroom.screens.stations.views.frame import Glance, below_blocks, header_lines
from orroom.screens.stations.views.zone_names import sided
from orroom.screens.terminal.layout import Block, Rank, stacked
from orroom.screens.terminal.pages import paged
from orroom.screens.terminal.painting import (
    Line,
    Span,
    Tone,
    first_that_fits,
    line,
    rule,
    width_of,
    wrapped_buttons,
)
from orroom.screens.terminal.short_names import short_names
from orroom.words.columns import columns
from orroom.words.replan import (
    ALL,
    PROPOSAL_ONLY,
    SOURCES,
    counts_in_all,
    proof_sentence,
    sites_sentences,
    size_counts,
    size_heads,
)

ARROW: Final = "→"
#: How to get to the key that accepts, before the last page was seen.
_LATER: Final = ("  to accept, read to the last page", "  accept: on the last page", "  accept: at the end")

#: Where a supply comes from, in a word.
_SOURCE: Final[dict[Source, str]] = {
    "given": "given",
    "projected": "projected",
    "planned": "by plan",
    "early": "by plan",
}


class Shown(NamedTuple):
    """The lines of a page, and whether it is the last one."""

    lines: list[Line]
    last: bool


def replan_page(
    state: CaseState,
    now_ms: int,
    glance: Glance,
    answer: Proposal | NoProposal | None,
    page: int,
    *,
    read: bool = False,
) -> Shown:
    """All lines of the screen; ``None`` while it is being worked out. After the last page comes the first.

    The key that accepts is offered on the last page, and once all has been ``read`` on every page.
    """
    width = glance.width
    below = below_blocks(state, now_ms, glance, 1, mismatches=0)
    above = [
        Block(header_lines(state, now_ms, glance, "RE-PLAN: a proposal", "RE-PLAN"), Rank.HEADER),
        Block([rule(width)], Rank.RULE),
    ]
    rows = max(1, glance.height - sum(len(each.lines) for each in [*above, *below]))
    pages = paged(_body(answer, state, width), rows)
    shown = page % len(pages)
    last = shown == len(pages) - 1
    if glance.doubt is None and glance.question is None:
        below[-1] = Block([_keys(answer, shown, len(pages), width, accepts=read or last)], Rank.KEYS)
    return Shown(stacked(above, lambda _: pages[shown], below, glance.height), last)


def _keys(answer: Proposal | NoProposal | None, page: int, pages: int, width: int, *, accepts: bool) -> Line:
    where = f"{page + 1}/{pages}"
    asks = isinstance(answer, Proposal) and answer.asks_for_something
    shorter = (("Esc dismiss", f"→ {where}"), ("Esc", f"→ {where}"), ("Esc", "→"))
    for escape, turn in (("Esc dismiss", f"→ page {where}"), *shorter):
        buttons = [Span(f" {escape} ", "button", "press('escape')")]
        if accepts and asks:
            buttons.insert(0, Span(" a accept ", "button", "press('a')"))
        if pages > 1:
            buttons.append(Span(f" {turn} ", "button", "press('right')"))
        rows = wrapped_buttons(buttons, width, 2)
        later = _LATER if asks and not accepts else ("",)
        room = width - width_of(rows[0]) - 1
        if len(rows) == 1 and len(later[-1]) <= room:
            return line(*rows[0], Span(first_that_fits(later, room), "dim"))
    return rows[0]


def _body(answer: Proposal | NoProposal | None, state: CaseState, width: int) -> list[list[Line]]:
    """Everything there is to say, in blocks that a page does not break where it need not."""
    if answer is None:
        return [[line(Span(" calculating …", "strong"))]]
    if isinstance(answer, NoProposal):
        return [[line(Span(" No proposal.", "strong"))], *_sentences(answer.sentences, width)]
    return [
        *([each] for each in _zones(answer, width)),
        [()],
        *_sentences([*answer.sentences, *sites_sentences(answer, state)], width),
        [()],
        _sizes(answer, width),
        [()],
        *_sentences([proof_sentence(answer), PROPOSAL_ONLY], width, "dim"),
    ]


def _sentences(sentences: tuple[str, ...] | list[str], width: int, tone: Tone = "plain") -> list[list[Line]]:
    """Sentences, each from a line of its own on."""
    return [
        [
            line(Span(f" {'·' if first == 0 else ' '} {row}", tone))
            for first, row in enumerate(wrap(sentence, width - 5))
        ]
        for sentence in sentences
    ]


def _zones(proposal: Proposal, width: int) -> list[Line]:
    """A row a zone: its grafts by size if there is room, else in all, and its hairs per cm²."""
    by_size = [
        [
            sided(zone.zone),
            *(
                _change(grafts(zone.before[each.size]), grafts(zone.after[each.size]))
                for each in proposal.sizes
            ),
            _change(*map(decimal, zone.hairs_per_cm2())),
        ]
        for zone in proposal.zones
    ]
    totals = [ALL, *(_change(grafts(each.planned), grafts(each.used)) for each in proposal.sizes), ""]
    in_all = [
        [
            sided(zone.zone),
            _change(grafts(zone.grafts_before), grafts(zone.grafts_after)),
            _change(*map(decimal, zone.hairs_per_cm2())),
        ]
        for zone in proposal.zones
    ]
    for head, rows in (
        (["zone", *(each.size for each in proposal.sizes), "hairs/cm²"], [*by_size, totals]),
        (["zone", "grafts", "hairs/cm²"], in_all),
    ):
        others = max(map(len, columns(head, [["", *row[1:]] for row in [head, *rows]], 1).split("\n"))) - 4
        room = max(8, width - others)
        names = short_names(tuple(row[0] for row in rows), room)
        text = columns(head, [[names[row[0]], *row[1:]] for row in rows], words=1).split("\n")
        if others + min(16, max(len(row[0]) for row in rows)) <= width:
            break
    labelled = len(text[0]) - len(text[0].lstrip()) + max(map(cell_len, names.values()))
    changed = [*(zone.before != zone.after for zone in proposal.zones), False]
    return [
        line(Span(text[0], "dim")),
        *(_row(row, labelled, changes=zone) for row, zone in zip(text[1:], changed, strict=False)),
    ]


def _row(text: str, labelled: int, *, changes: bool) -> Line:
    """A row of the table: in bold the label of a zone that changes, and what changes in it."""
    label = set_cell_size(text, min(labelled, cell_len(text)))
    cells = re.split(rf"(\S+{ARROW}\S+)", text[len(label) :])
    return line(
        Span(label, "strong" if changes else "plain"),
        *(Span(cell, "strong" if place % 2 else "plain") for place, cell in enumerate(cells) if cell),
    )


def _sizes(proposal: Proposal, width: int) -> list[Line]:
    """A row a size; where there is no room the words go, then the plan, which the zones above have too."""
    sources = {each.supply.source for each in proposal.sizes}
    head = ["", "how known", *size_heads(proposal, "left")]
    rows = [
        *(
            [each.size, _SOURCE[each.supply.source], *map(grafts, size_counts(proposal, each))]
            for each in proposal.sizes
        ),
        [ALL, "", *counts_in_all(proposal)],
    ]
    text: list[str] = []
    for left_out in ((), (1,), (1, 2)):
        if not left_out and len(sources) == 1:
            continue  # said once, above
        cells = [[each for place, each in enumerate(row) if place not in left_out] for row in (head, *rows)]
        text = columns(cells[0], cells[1:], words=1 if left_out else 2).split("\n")
        if max(map(len, text)) <= width:
            break
    known = f": {SOURCES[sources.pop()]}" if len(sources) == 1 else ""
    title = [line(Span(f" {row}", "strong")) for row in wrap(f"Sizes expected{known}", width - 2)]
    return [*title, *(line(Span(row, "plain" if place else "dim")) for place, row in enumerate(text))]


def _change(before: str, after: str) -> str:
    if before == after:
        return "·" if before == "0" else before
    return f"{before}{ARROW}{after}"
