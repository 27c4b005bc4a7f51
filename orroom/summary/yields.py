"""What the donor area was expected to give, and what the finished segments forecast."""

from collections.abc import Sequence
from typing import Annotated, Final

from pydantic import Field

from orroom.case.state import CaseState
from orroom.figures import donor as figures
from orroom.figures.counts import USABLE
from orroom.figures.earlier import still_expected, still_expected_by_size, taken_off
from orroom.figures.yields import Projection, yields
from orroom.summary.fields import BySize, Expected, ExpectedBySize, Grafts, Part, Share, Text
from orroom.summary.grafts import SizeCounts
from orroom.summary.harvests import HarvestSummary
from orroom.words.entries import harvest_label, size_label

IN_ALL: Final = "in all"
Projected = Annotated[Expected | None, "grafts"]


class DonorSummary(Part):
    """What the plan expected of the donor area and what is usable so far; the difference once all is cut."""

    expected: Expected = Field(description="grafts expected, less what earlier cases took")
    taken_before: Grafts = Field(description="grafts that earlier cases took of the estimate")
    usable: Grafts = Field(description="usable grafts, without those kept from an earlier case")
    difference: Annotated[Expected | None, "grafts"] = Field(
        description="usable minus expected, once every segment is finished or the case is signed off"
    )
    difference_share: Share = Field(description="the same as a share of the expected")
    expected_by_size: ExpectedBySize = Field(description="grafts expected, less what earlier cases took")
    usable_by_size: BySize = Field(description="usable grafts")
    unassigned_share: Share = Field(description="share of the expected mix without a size")


class ProjectedYield(Part):
    """Usable grafts at the end of cutting, from the segments finished, with 80 % and 95 % ranges.

    ``size`` or ``harvest`` is the key of what it is about, both ``None`` for all.
    ``planned`` is ``None`` for a harvest, ``projected`` is ``None`` while it is unknown.
    """

    what: Annotated[str, Text.LABEL] = Field(description="in all, a size or a harvest")
    size: Annotated[str | None, Text.OURS] = Field(description="key of the size; none for other rows")
    harvest: Annotated[str | None, Text.KEY] = Field(description="key of the harvest; none for other rows")
    planned: Annotated[int | None, "grafts"] = Field(description="grafts by the plan in force")
    usable: Grafts = Field(description="grafts in dishes, with the placers or placed")
    projected: Projected = Field(description="grafts forecast")
    low_80: Projected = Field(description="low end of the 80 % range")
    high_80: Projected = Field(description="high end of the 80 % range")
    low_95: Projected = Field(description="low end of the 95 % range")
    high_95: Projected = Field(description="high end of the 95 % range")


def donor(
    state: CaseState, sizes: Sequence[SizeCounts], harvests: Sequence[HarvestSummary]
) -> DonorSummary | None:
    """What was expected and what there is, ``None`` where the plan expects nothing.

    Their difference once no more is to come: every segment is finished, or the case is signed off.
    """
    expected = state.plan.donor
    if expected is None:
        return None
    done = {each.harvest: each.segments_done for each in harvests}
    all_cut = all(each.segments and done.get(each.key, 0) >= each.segments for each in state.plan.harvests)
    in_all = still_expected(state.plan)
    usable = {
        size.size: sum(
            count
            for stock, count in state.tally.stock.items()
            if stock.size == size.size and stock.account in USABLE and stock.harvest not in state.plan.kept
        )
        for size in sizes
    }
    over = figures.compared(in_all, sum(usable.values())) if all_cut or state.tally.signed_off else None
    return DonorSummary(
        expected=in_all,
        usable=sum(usable.values()),
        difference=over and over.difference,
        difference_share=over and over.share,
        taken_before=sum(taken_off(state.plan).values()),
        expected_by_size=still_expected_by_size(state.plan),
        usable_by_size=usable,
        unassigned_share=figures.unassigned_share(expected),
    )


def projected(state: CaseState) -> tuple[ProjectedYield, ...]:
    """In all, by size, and by harvest if there are several; empty while nothing can be projected."""
    narrow, wide = yields(state, 80), yields(state, 95)
    what: tuple[str, str | None, str | None] = (IN_ALL, None, None)
    rows = [_projected(what, state.plan.planned(), narrow.usable, narrow.projected, wide.projected)]
    for size, usable in narrow.usable_by_size.items():
        what, planned = (size_label(state.plan, size), size, None), state.plan.planned(size)
        rows.append(
            _projected(what, planned, usable, narrow.projected_by_size[size], wide.projected_by_size[size])
        )
    if len(narrow.harvests) > 1:
        for mine, wider in zip(narrow.harvests, wide.harvests, strict=True):
            what = (harvest_label(state.plan, mine.harvest), None, mine.harvest)
            rows.append(_projected(what, None, mine.usable, mine.projected, wider.projected))
    return tuple(rows) if any(row.projected is not None for row in rows) else ()


def _projected(
    what: tuple[str, str | None, str | None],
    planned: int | None,
    usable: int,
    narrow: Projection | None,
    wide: Projection | None,
) -> ProjectedYield:
    """``what``: its label, and the key of its size or harvest."""
    label, size, harvest = what
    return ProjectedYield(
        what=label,
        size=size,
        harvest=harvest,
        planned=planned,
        usable=usable,
        projected=narrow and narrow.grafts,
        low_80=narrow and narrow.low,
        high_80=narrow and narrow.high,
        low_95=wide and wide.low,
        high_95=wide and wide.high,
    )
