"""The re-plan over the overview: before and after by zone, what each zone gets and why, what is left."""

from textwrap import wrap
from typing import Final, NamedTuple

from orroom.case.state import CaseState
from orroom.figures.replan.proposal import NoProposal, Proposal, Source
from orroom.figures.wording import decimal, grafts
from orroom.screens.stations.views.frame import Glance, below_blocks, header_lines
from orroom.screens.terminal.layout import Block, Rank, stacked
from orroom.screens.terminal.pages import paged
from orroom.screens.terminal.painting import Line, Span, Tone, line, rule, shortened, wrapped_buttons
from orroom.words.columns import columns
from orroom.words.replan import PROPOSAL_ONLY, proof_sentence, size_counts, size_heads

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
    pages = paged(_body(answer, width), rows)
    shown = page % len(pages)
    last = shown == len(pages) - 1
    if glance.doubt is None and glance.question is None:
        below[-1] = Block([_keys(answer, shown, len(pages), width, accepts=read or last)], Rank.KEYS)
    return Shown(stacked(above, lambda _: pages[shown], below, glance.height), last)


def _keys(answer: Proposal | NoProposal | None, page: int, pages: int, width: int, *, accepts: bool) -> Line:
    where = f"{page + 1}/{pages}"
    rows: list[Line] = []
    shorter = (("Esc dismiss", f"Space {where}"), ("Esc", f"Space {where}"), ("Esc", "Space"))
    for escape, space in (("Esc dismiss", f"Space page {where}"), *shorter):
        buttons = [Span(f" {escape} ", "button", "press('escape')")]
        if accepts and isinstance(answer, Proposal) and answer.asks_for_something:
            buttons.insert(0, Span(" a accept ", "button", "press('a')"))
        if pages > 1:
            buttons.append(Span(f" {space} ", "button", "press('space')"))
        rows = wrapped_buttons(buttons, width, 2)
        if len(rows) == 1:
            break
    return rows[0]


def _body(answer: Proposal | NoProposal | None, width: int) -> list[list[Line]]:
    """Everything there is to say, in blocks that a page does not break where it need not."""
    if answer is None:
        return [[line(Span(" calculating …", "strong"))]]
    if isinstance(answer, NoProposal):
        return [[line(Span(" No proposal.", "strong"))], *_sentences(answer.sentences, width)]
    return [
        *([each] for each in _zones(answer, width)),
        [()],
        *_sentences(answer.sentences, width),
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
            zone.zone.label,
            *(
                _change(grafts(zone.before[each.size]), grafts(zone.after[each.size]))
                for each in proposal.sizes
            ),
            _change(*map(decimal, zone.hairs_per_cm2())),
        ]
        for zone in proposal.zones
    ]
    in_all = [
        [
            zone.zone.label,
            _change(grafts(zone.grafts_before), grafts(zone.grafts_after)),
            _change(*map(decimal, zone.hairs_per_cm2())),
        ]
        for zone in proposal.zones
    ]
    for head, rows in (
        (["zone", *(each.size for each in proposal.sizes), "hairs/cm²"], by_size),
        (["zone", "grafts", "hairs/cm²"], in_all),
    ):
        others = max(map(len, columns(head, [["", *row[1:]] for row in [head, *rows]], 1).split("\n"))) - 4
        room = max(8, width - others)
        text = columns(head, [[shortened(row[0], room), *row[1:]] for row in rows], words=1).split("\n")
        if others + min(16, max(len(row[0]) for row in rows)) <= width:
            break
    changed = {move.zone for move in proposal.moves}
    tones: list[Tone] = ["dim", *("strong" if z.zone.key in changed else "plain" for z in proposal.zones)]
    return [line(Span(row, tone)) for row, tone in zip(text, tones, strict=True)]


def _sizes(proposal: Proposal, width: int) -> list[Line]:
    """A row a size; where there is no room the words go, then the plan, which the zones above have too."""
    head = ["", "how known", *size_heads(proposal, "left")]
    rows = [
        [each.size, _SOURCE[each.supply.source], *map(grafts, size_counts(proposal, each))]
        for each in proposal.sizes
    ]
    text: list[str] = []
    for left_out in ((), (1,), (1, 2)):
        cells = [[each for place, each in enumerate(row) if place not in left_out] for row in (head, *rows)]
        text = columns(cells[0], cells[1:], words=1 if left_out else 2).split("\n")
        if max(map(len, text)) <= width:
            break
    return [line(Span(row, "plain" if place else "dim")) for place, row in enumerate(text)]


def _change(before: str, after: str) -> str:
    if before == after:
        return "·" if before == "0" else before
    return f"{before}→{after}"
