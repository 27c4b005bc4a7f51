"""A re-plan as plain text: before and after by zone and size, what each zone gets and why, what is left."""

from collections.abc import Iterator
from math import ceil
from typing import Final

from orroom.case.state import CaseState
from orroom.figures.counts import by_zone
from orroom.figures.replan.problem import ROUNDING
from orroom.figures.replan.proposal import NoProposal, Proposal, SizeUse, Source, ZoneChange
from orroom.figures.wording import decimal, grafts
from orroom.words.columns import columns

PROPOSAL_ONLY: Final = (
    "A proposal for the surgeon to decide on. It does not allow for grafts that may still be lost, or for"
    " other numbers than those expected now."
)

ALL: Final = "all"  #: in the row of totals

SOURCES: Final[dict[Source, str]] = {
    "given": "as given",
    "projected": "projected from finished segments",
    "planned": "there now, and what the plan still expects",
    "early": "as planned: too few segments finished",
}


def replan_text(answer: Proposal | NoProposal, state: CaseState) -> str:
    """The whole proposal for a case, or why there is none."""
    if isinstance(answer, NoProposal):
        return "\n".join(["No proposal.", *(f"  {each}" for each in answer.sentences)])
    return "\n\n".join(
        [
            f"{answer.plan.case}: re-plan, before → after",
            _zones(answer),
            _sizes(answer),
            "\n".join(f"  {each}" for each in (*answer.sentences, *sites_sentences(answer, state))),
            proof_sentence(answer),
            PROPOSAL_ONLY,
        ]
    )


def proof_sentence(proposal: Proposal) -> str:
    """How sure it is that no other division is better."""
    if proposal.gap is None:
        return "Time ran out: there may be a much better way to share out these numbers."
    best = "No other way to share out these numbers fits the plan better"
    if proposal.gap < ROUNDING:
        return f"{best}."
    stopped = "Time ran out. " if proposal.stopped else ""
    return f"{stopped}{best} by more than {decimal(ceil(proposal.gap * 10) / 10)} hairs."


def sites_sentences(proposal: Proposal, state: CaseState) -> Iterator[str]:
    """Whether sites are made for what the zones get that change, as far as sites are entered."""
    counts = {each.zone.key: each for each in by_zone(state)}
    changed = dict.fromkeys(move.zone for move in proposal.moves)
    needed, known = [], 0
    for change in proposal.zones:
        now = counts.get(change.zone.key)
        if now is None or now.sites_free is None or change.zone.key not in changed:
            continue
        known += 1
        if (more := change.grafts_after - now.placed_total - max(0, now.sites_free)) > 0:
            needed.append(f"{change.zone.label} needs {grafts(more)} more")
    if known:
        enough = "; ".join(needed) or "enough are made for what these zones get"
        yield f"Sites: {enough}. They are entered without a size: look whether they fit."


def _zones(proposal: Proposal) -> str:
    rows = [
        [
            zone.zone.label,
            *(_change(zone.before[each.size], zone.after[each.size]) for each in proposal.sizes),
            _change(zone.grafts_before, zone.grafts_after),
            *densities(zone),
        ]
        for zone in proposal.zones
    ]
    in_all = [
        ALL,
        *(_change(each.planned, each.used) for each in proposal.sizes),
        _change(*grafts_in_all(proposal)),
        "",
        "",
    ]
    head = ["zone", *(each.size for each in proposal.sizes), "grafts", "per cm²", "hairs/cm²"]
    return columns(head, [*rows, in_all], words=1)


def grafts_in_all(proposal: Proposal) -> tuple[int, int]:
    """Grafts of all zones, in the plan in force and proposed."""
    zones = proposal.zones
    return sum(zone.grafts_before for zone in zones), sum(zone.grafts_after for zone in zones)


def densities(zone: ZoneChange) -> tuple[str, str]:
    """Grafts and hairs per cm², before and after where they differ."""
    one, other = (
        decimal(before) if decimal(before) == decimal(after) else f"{decimal(before)} → {decimal(after)}"
        for before, after in (zone.grafts_per_cm2(), zone.hairs_per_cm2())
    )
    return one, other


def _sizes(proposal: Proposal) -> str:
    rows = [
        *(
            [each.label, SOURCES[each.supply.source], *map(grafts, size_counts(proposal, each))]
            for each in proposal.sizes
        ),
        [ALL, "", *counts_in_all(proposal)],
    ]
    return columns(["size", "how the number is known", *size_heads(proposal, "left over")], rows, words=2)


def size_heads(proposal: Proposal, left: str) -> list[str]:
    """The headings above ``size_counts``."""
    return ["plan", "expected", *(("divided", "pieces") if proposal.divide else ()), "used", left]


def size_counts(proposal: Proposal, each: SizeUse) -> list[int]:
    """Grafts of a size: planned, there, divided and pieces if anything is divided, used, left over."""
    divided = (each.divided, each.pieces) if proposal.divide else ()
    return [each.planned, each.supply.grafts, *divided, each.used, each.left_over]


def counts_in_all(proposal: Proposal) -> list[str]:
    """The same for all sizes together."""
    each_column = zip(*(size_counts(proposal, each) for each in proposal.sizes), strict=True)
    return [grafts(sum(column)) for column in each_column]


def _change(before: int, after: int) -> str:
    if before == after:
        return grafts(before) if before else "·"
    return f"{grafts(before)} → {grafts(after)}"
