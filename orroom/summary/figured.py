"""What is told of a case as an estimate: time out of the body, drying, quality, yield. Pure.

"Now" is the end of the work.
"""

from __future__ import annotations

from orroom.case.state import CaseState
from orroom.figures import curves
from orroom.figures import drying as bench
from orroom.figures import quality as measures
from orroom.figures.out_of_body import out_of_body as times_out
from orroom.figures.pace.work import end_of_work_ms, start_of_work_ms
from orroom.figures.quality import Proportion
from orroom.figures.quality_time import quality_by_hour as by_hour
from orroom.figures.survival import HOURS, Between
from orroom.figures.yields import Projection, yields
from orroom.summary import figure_parts as part
from orroom.words.entries import lot_label, size_label

#: Steps of the day, and points of a curve, that are told.
PROGRESS_STEPS, CURVE_POINTS = 48, 60
ALL_LOTS, IN_ALL = "all lots", "in all"


def out_of_body(state: CaseState) -> tuple[part.OutOfBodySummary, ...]:
    """Each lot whose time out is known; all lots together only if there are several."""
    found = times_out(state, end_of_work_ms(state))
    summaries = []
    for lot, times in found[:1] if len(found) == 2 and found[1].lot is None else found:
        lower, median, upper = times.quartiles_ms
        told: dict[str, object] = {
            **_ends("placed", "", times.placed),
            **_ends("waiting", "", times.waiting),
            **_ends("lower_quartile", "_ms", lower),
            **_ends("median", "_ms", median),
            **_ends("upper_quartile", "_ms", upper),
            **_ends("longest_placed", "_ms", times.longest_placed_ms),
            **_ends("graft_hours", "", times.graft_hours),
        }
        for hours, share in zip(HOURS, times.share_over, strict=True):
            told |= _ends(f"over_{hours}_h", "", share)
        label = ALL_LOTS if lot is None else lot_label(state.plan, lot)
        told |= {"lot": lot or ALL_LOTS, "label": label}
        summaries.append(part.OutOfBodySummary.model_validate(told))
    return tuple(summaries)


def _ends(name: str, unit: str, figure: Between) -> dict[str, float | None]:
    return {f"{name}_low{unit}": figure.low, f"{name}_high{unit}": figure.high}


def progress(state: CaseState) -> tuple[part.Progress, ...]:
    """Grafts cut and placed over the day, in even steps from the first work on."""
    return tuple(
        part.Progress(at=each.at_ms, cut=each.cut, placed=each.placed)
        for each in curves.progress(state, PROGRESS_STEPS, start_ms=start_of_work_ms(state))
    )


def waiting(state: CaseState) -> tuple[part.WaitingPoint, ...]:
    """The curve of each lot, of its many steps as many as a chart can show."""
    found = []
    for lot, points in curves.waiting_curve(state, end_of_work_ms(state)).items():
        every = -(-len(points) // CURVE_POINTS)
        shown = [*points[:-1:every], points[-1]]
        found += [part.WaitingPoint(lot=lot, out_ms=each.out_ms, share=each.share) for each in shown]
    return tuple(found)


def drying(state: CaseState) -> part.DryingSummary | None:
    """Drying times on the bench, ``None`` if nothing ever lay there."""
    told = bench.drying(state, end_of_work_ms(state))
    if told is None:
        return None
    return part.DryingSummary.model_validate(
        {
            "grafts": told.grafts,
            "limit_ms": state.plan.limits.bench_seconds * 1000,
            **_ends("longest", "_ms", told.longest_ms),
            **_ends("over_limit", "", told.over_limit),
            **_ends("over_limit_share", "", told.share_over_limit),
        }
    )


def quality(state: CaseState) -> tuple[part.QualitySummary, ...]:
    """Every measure in all."""
    return tuple(
        part.QualitySummary.model_validate({"measure": each.measure, **_told(each.proportion)})
        for each in measures.quality(state)
        if each.who is None
    )


def quality_by_person(state: CaseState) -> tuple[part.QualityByPerson, ...]:
    """Every measure that is told by person, person by person."""
    return tuple(
        part.QualityByPerson.model_validate(
            {"measure": each.measure, "who": each.who, **_told(each.proportion)}
        )
        for each in measures.quality(state)
        if each.who is not None
    )


def quality_by_hour(state: CaseState) -> tuple[part.QualityByHour, ...]:
    """Every measure that is told by person, hour by hour from the first harvest."""
    return tuple(
        part.QualityByHour.model_validate(
            {
                "measure": each.measure,
                "hour": each.hour,
                "count": each.count,
                "of": each.of,
                **(_LIMITLESS if each.share is None else _told(each.share)),
            }
        )
        for each in by_hour(state)
    )


def follicles(state: CaseState) -> part.FollicleSummary | None:
    """Follicles in spot checks, ``None`` if no check counted them."""
    told = measures.follicles(state)
    if told is None:
        return None
    limits = _told(told.transected)
    return part.FollicleSummary.model_validate(
        {
            "looked_at": told.grafts,
            "follicles": limits.pop("of"),
            "transected": limits.pop("count"),
            **limits,
            "hairs_per_graft_possible": told.possible_per_graft,
            "hairs_per_graft_intact": told.intact_per_graft,
        }
    )


def division_losses(state: CaseState) -> tuple[part.DivisionLossSummary, ...]:
    """Hairs lost by dividing, by the size that was divided."""
    return tuple(
        part.DivisionLossSummary(
            size=each.size,
            label=size_label(state.plan, each.size),
            divided=each.divided,
            hairs_lost=each.hairs_lost,
            hairs_lost_per_graft=each.lost_per_graft,
        )
        for each in measures.division_losses(state)
    )


_LIMITLESS = dict.fromkeys(("share", "wilson_low", "wilson_high", "exact_low", "exact_high"))


def _told(told: Proportion) -> dict[str, object]:
    return {
        "count": told.count,
        "of": told.of,
        "share": told.share,
        "wilson_low": told.wilson and told.wilson.low,
        "wilson_high": told.wilson and told.wilson.high,
        "exact_low": told.exact and told.exact.low,
        "exact_high": told.exact and told.exact.high,
    }


def projected(state: CaseState) -> tuple[part.ProjectedYield, ...]:
    """In all, by size, and by lot if there are several; empty while nothing can be projected."""
    narrow, wide = yields(state, 80), yields(state, 95)
    what: tuple[str, str | None, str | None] = (IN_ALL, None, None)
    rows = [_projected(what, state.plan.planned(), narrow.usable, narrow.projected, wide.projected)]
    for size, usable in narrow.usable_by_size.items():
        what, planned = (size_label(state.plan, size), size, None), state.plan.planned(size)
        rows.append(
            _projected(what, planned, usable, narrow.projected_by_size[size], wide.projected_by_size[size])
        )
    if len(narrow.lots) > 1:
        for mine, wider in zip(narrow.lots, wide.lots, strict=True):
            what = (lot_label(state.plan, mine.lot), None, mine.lot)
            rows.append(_projected(what, None, mine.usable, mine.projected, wider.projected))
    return tuple(rows) if any(row.projected is not None for row in rows) else ()


def _projected(
    what: tuple[str, str | None, str | None],
    planned: int | None,
    usable: int,
    narrow: Projection | None,
    wide: Projection | None,
) -> part.ProjectedYield:
    """``what``: its label, and the key of its size or lot."""
    label, size, lot = what
    return part.ProjectedYield(
        what=label,
        size=size,
        lot=lot,
        planned=planned,
        usable=usable,
        projected=narrow and narrow.grafts,
        low_80=narrow and narrow.low,
        high_80=narrow and narrow.high,
        low_95=wide and wide.low,
        high_95=wide and wide.high,
    )
