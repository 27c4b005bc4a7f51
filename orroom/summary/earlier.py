"""What the case took over from earlier ones: what they placed, what the donor gave, what was kept."""

from collections import Counter
from typing import Annotated

from pydantic import Field

from orroom.case.state import CaseState
from orroom.summary.fields import BySize, Grafts, Hairs, Harvest, Label, Moment, Part, Size, Text
from orroom.words.entries import harvest_label


class EarlierCase(Part):
    """An earlier case of the same patient, by its own signed record."""

    earlier_case: Annotated[str, Text.KEY] = Field(description="code of the earlier case")
    opened: Moment = Field(description="when it was opened")
    entries: Annotated[int, "entries"] = Field(description="entries of its record")
    seal: Annotated[str | None, Text.TYPED] = Field(description="hash of the last of them")
    placed: BySize = Field(description="grafts it placed")
    grafts_placed: Grafts = Field(description="grafts it placed, in all")
    grafts_elsewhere: Grafts = Field(description="of those, grafts in zones that this plan does not have")
    hairs_placed: Hairs = Field(description="hairs it placed")
    taken: BySize = Field(description="grafts that the donor gave, the spoilt left out")
    grafts_taken: Grafts = Field(description="grafts that the donor gave, in all")


class KeptGrafts(Part):
    """Grafts of one size and harvest that the case before kept for this one."""

    harvest: Harvest
    label: Label
    size: Size
    grafts: Grafts = Field(description="grafts kept")
    out_since: Moment | None = Field(description="when they left the body; none if it was not known")
    counted_again: bool = Field(description="whether they were counted in this case")
    not_found: Grafts = Field(description="grafts not found by hand count; negative: more found")


def earlier_cases(state: CaseState) -> tuple[EarlierCase, ...]:
    """Every earlier case, oldest first."""
    found = []
    for each in state.plan.sessions or ():
        placed: Counter[str] = Counter()
        for zone in each.zones:
            placed.update(zone.placed)
        elsewhere = sum(zone.grafts for zone in each.zones if zone.key not in state.plan.zone_by_key)
        found.append(
            EarlierCase(
                earlier_case=each.case,
                opened=each.opened_at_ms,
                entries=each.entries,
                seal=each.seal,
                placed=dict(placed),
                grafts_placed=sum(placed.values()),
                grafts_elsewhere=elsewhere,
                hairs_placed=sum(zone.hairs for zone in each.zones),
                taken=each.taken,
                grafts_taken=sum(each.taken.values()),
            )
        )
    return tuple(found)


def kept_grafts(state: CaseState) -> tuple[KeptGrafts, ...]:
    """What was kept for this case, by harvest and size, the oldest harvest first."""
    return tuple(
        KeptGrafts(
            harvest=key,
            label=harvest_label(state.plan, key),
            size=size,
            grafts=count,
            out_since=kept.started_at_ms,
            counted_again=(size, key, "dish") in state.tally.hand_counts,
            not_found=state.tally.held("missing", size, key),
        )
        for key, kept in state.plan.kept.items()
        for size, count in kept.grafts.items()
    )
