"""A re-plan as plain text: before and after by zone and size, what each zone gets and why, what is left."""

from math import ceil
from typing import Final

from orroom.figures.replan.problem import ROUNDING
from orroom.figures.replan.proposal import NoProposal, Proposal, SizeUse, Source, ZoneChange
from orroom.figures.wording import decimal, grafts
from orroom.words.columns import columns

PROPOSAL_ONLY: Final = (
    "A proposal for the surgeon to decide on. It does not allow for grafts that may still be lost."
)

SOURCES: Final[dict[Source, str]] = {
    "given": "as given",
    "projected": "projected from finished segments",
    "planned": "there now, and what the plan still expects",
    "early": "as planned: too few segments finished",
}


def replan_text(answer: Proposal | NoProposal) -> str:
    """The whole proposal, or why there is none."""
    if isinstance(answer, NoProposal):
        return "\n".join(["No proposal.", *(f"  {each}" for each in answer.sentences)])
    return "\n\n".join(
        [
            f"{answer.plan.case}: re-plan, before → after",
            _zones(answer),
            _sizes(answer),
            "\n".join(f"  {each}" for each in answer.sentences),
            proof_sentence(answer),
            PROPOSAL_ONLY,
        ]
    )


def proof_sentence(proposal: Proposal) -> str:
    """How sure it is that no other division is better."""
    if proposal.gap is None:
        return "Time ran out: there may be a much better way to divide these grafts."
    if proposal.gap < ROUNDING:
        return "No other way to divide these grafts fits the plan better: that is certain."
    stopped = "Time ran out. " if proposal.stopped else ""
    saving = f"{decimal(ceil(proposal.gap * 10) / 10)} hairs"
    return f"{stopped}No other way to divide these grafts fits the plan better by more than {saving}."


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
    head = ["zone", *(each.size for each in proposal.sizes), "grafts", "per cm²", "hairs/cm²"]
    return columns(head, rows, words=1)


def densities(zone: ZoneChange) -> tuple[str, str]:
    """Grafts and hairs per cm², before and after where they differ."""
    one, other = (
        decimal(before) if decimal(before) == decimal(after) else f"{decimal(before)} → {decimal(after)}"
        for before, after in (zone.grafts_per_cm2(), zone.hairs_per_cm2())
    )
    return one, other


def _sizes(proposal: Proposal) -> str:
    rows = [
        [each.label, SOURCES[each.supply.source], *map(grafts, size_counts(proposal, each))]
        for each in proposal.sizes
    ]
    return columns(["size", "how the number is known", *size_heads(proposal, "left over")], rows, words=2)


def size_heads(proposal: Proposal, left: str) -> list[str]:
    """The headings above ``size_counts``."""
    return ["plan", "in all", *(("divided", "pieces") if proposal.divide else ()), "used", left]


def size_counts(proposal: Proposal, each: SizeUse) -> list[int]:
    """Grafts of a size: planned, there, divided and pieces if anything is divided, used, left over."""
    divided = (each.divided, each.pieces) if proposal.divide else ()
    return [each.planned, each.supply.grafts, *divided, each.used, each.left_over]


def _change(before: int, after: int) -> str:
    if before == after:
        return grafts(before) if before else "·"
    return f"{grafts(before)} → {grafts(after)}"
