"""What each zone got against what the plan promised it."""

from typing import Annotated

from pydantic import Field

from orroom.case.state import CaseState
from orroom.case.terms import Side, ZoneKind
from orroom.figures.counts import by_zone
from orroom.figures.density import density_of
from orroom.figures.earlier import before_in
from orroom.summary.fields import (
    Area,
    BySize,
    Grafts,
    GraftsPerCm2,
    Hairs,
    HairsPerCm2,
    Key,
    Label,
    Part,
    SomeHairsPerCm2,
)


class ZoneSummary(Part):
    """What one zone got against what the plan promised it."""

    zone: Key = Field(description="recipient zone")
    label: Label
    kind: ZoneKind | None = Field(description="kind of zone")
    side: Side | None = Field(description="side of the midline, as the patient has it; none if not said")
    area_cm2: Area = Field(description="area")
    existing_hairs_per_cm2: SomeHairsPerCm2 = Field(
        description="hairs that grew there before; none if not said"
    )
    planned: BySize = Field(description="grafts by the plan in force")
    placed: BySize = Field(description="grafts placed")
    owed: BySize = Field(description="grafts still to be placed by the plan")
    over: BySize = Field(description="grafts placed beyond the plan")
    grafts_planned: Grafts = Field(description="grafts by the plan")
    grafts_placed: Grafts = Field(description="grafts placed")
    grafts_owed: Grafts = Field(description="grafts still to be placed")
    grafts_over: Grafts = Field(description="grafts placed beyond the plan")
    grafts_extra: Grafts = Field(
        description="of those placed, the ones left at the end and placed beyond the plan"
    )
    hairs_planned: Hairs = Field(description="hairs by the plan")
    hairs_placed: Hairs = Field(description="hairs placed")
    planned_grafts_per_cm2: GraftsPerCm2 = Field(description="density by the plan")
    placed_grafts_per_cm2: GraftsPerCm2 = Field(description="density placed")
    planned_hairs_per_cm2: HairsPerCm2 = Field(description="hair density by the plan")
    placed_hairs_per_cm2: HairsPerCm2 = Field(description="hair density placed")
    sites_made: Annotated[int | None, "sites"] = Field(description="sites made")
    sites_free: Annotated[int | None, "sites"] = Field(description="sites made minus grafts placed")
    grafts_before: Grafts = Field(description="grafts that earlier cases placed")
    hairs_before: Hairs = Field(description="hairs that earlier cases placed")
    before_grafts_per_cm2: GraftsPerCm2 = Field(description="density that earlier cases placed")
    before_hairs_per_cm2: HairsPerCm2 = Field(description="hair density that earlier cases placed")
    together_grafts_per_cm2: GraftsPerCm2 = Field(description="density placed in all cases together")
    together_hairs_per_cm2: HairsPerCm2 = Field(description="hair density placed in all cases together")
    reseated: Grafts = Field(description="grafts that came out and were put back")


def zones(state: CaseState) -> tuple[ZoneSummary, ...]:
    """Each zone of the plan, in placing order."""
    found = []
    for count in by_zone(state):
        before, density = before_in(state.plan, count.zone), density_of(count)
        area = density.area_cm2
        over = {size: max(0, count.placed[size] - count.planned[size]) for size in count.planned}
        found.append(
            ZoneSummary.read_off(
                count,
                density,
                count.zone,
                zone=count.zone.key,
                over=over,
                grafts_planned=count.planned_total,
                grafts_placed=count.placed_total,
                grafts_owed=count.owed_total,
                grafts_over=count.over_total,
                grafts_extra=count.extra,
                grafts_before=before.grafts,
                hairs_before=before.hairs,
                before_grafts_per_cm2=before.grafts / area,
                before_hairs_per_cm2=before.hairs / area,
                together_grafts_per_cm2=(before.grafts + count.placed_total) / area,
                together_hairs_per_cm2=(before.hairs + count.hairs_placed) / area,
            )
        )
    return tuple(found)
