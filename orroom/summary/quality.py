"""Shares of what went wrong with their ranges: in all, by person, by hour; transected follicles."""

from typing import Annotated

from pydantic import Field

from orroom.case.state import CaseState
from orroom.figures import quality as figures
from orroom.figures import quality_time
from orroom.figures.shares import Proportion
from orroom.summary.fields import Grafts, HairsPerGraft, Ours, Part, Person, Share


class RangedShare(Part):
    """A share with its 95 % range by Wilson and by Clopper and Pearson (exact)."""

    share: Share = Field(description="count / of")
    wilson_low: Share = Field(
        description="low end of the 95 % range (Wilson), grafts of one segment, lane or check taken as alike"
    )
    wilson_high: Share = Field(
        description="high end of the 95 % range (Wilson), grafts of one segment, lane or check taken as alike"
    )
    exact_low: Share = Field(description="low end of the exact 95 % range (Clopper-Pearson), taken likewise")
    exact_high: Share = Field(
        description="high end of the exact 95 % range (Clopper-Pearson), taken likewise"
    )


class QualitySummary(RangedShare):
    """How many of how many."""

    measure: Ours = Field(description="what is measured")
    count: Grafts = Field(description="how many")
    of: Grafts = Field(description="of how many")


class QualityByPerson(QualitySummary):
    """The same of one person's work; spot checks only where it was entered whose work was looked at."""

    who: Person = Field(description="whose work")


class QualityByHour(QualitySummary):
    """The same of one hour, counted from the first harvest: 0 is the first hour after it."""

    hour: Annotated[int, "h"] = Field(description="hours since the first harvest")


class FaultSummary(QualitySummary):
    """A fault that spot checks found, of all grafts they looked at."""

    fault: str = Field(description="what was wrong")


class FaultByPerson(QualitySummary):
    """The same of one person's work, where it was entered whose was looked at."""

    who: Person = Field(description="whose work")
    fault: str = Field(description="what was wrong")


class FaultByHour(QualitySummary):
    """The same of one hour, counted from the first harvest: 0 is the first hour after it."""

    hour: Annotated[int, "h"] = Field(description="hours since the first harvest")
    fault: str = Field(description="what was wrong")


class FollicleSummary(RangedShare):
    """Follicles in spot-checked grafts, the transected among them, and what that leaves of their hairs."""

    looked_at: Grafts = Field(description="grafts looked at")
    follicles: Annotated[int, "follicles"] = Field(description="follicles seen in spot checks")
    transected: Annotated[int, "follicles"] = Field(description="follicles transected")
    hairs_per_graft_possible: HairsPerGraft = Field(description="hairs per graft if none were transected")
    hairs_per_graft_intact: HairsPerGraft = Field(description="hairs per graft that are whole")


def quality(state: CaseState) -> tuple[QualitySummary, ...]:
    """Every measure in all."""
    return tuple(
        QualitySummary.read_off(_ranged(each.proportion), each.proportion, each)
        for each in figures.quality(state)
        if each.who is None
    )


def quality_by_person(state: CaseState) -> tuple[QualityByPerson, ...]:
    """Every measure that is kept by person, person by person."""
    return tuple(
        QualityByPerson.read_off(_ranged(each.proportion), each.proportion, each)
        for each in figures.quality(state)
        if each.who is not None
    )


def quality_by_hour(state: CaseState) -> tuple[QualityByHour, ...]:
    """Every measure that is kept by person, hour by hour from the first harvest."""
    by_hour = quality_time.quality_by_hour(state)
    return tuple(QualityByHour.read_off(_ranged(each.share), each) for each in by_hour)


def faults(state: CaseState) -> tuple[FaultSummary, ...]:
    """Every fault that spot checks found, in all."""
    return tuple(
        FaultSummary.read_off(_ranged(each.proportion), each.proportion, each, measure=_checked(each))
        for each in figures.faults(state)
        if each.who is None
    )


def faults_by_person(state: CaseState) -> tuple[FaultByPerson, ...]:
    """Every fault that spot checks found in somebody's work, person by person."""
    return tuple(
        FaultByPerson.read_off(_ranged(each.proportion), each.proportion, each, measure=_checked(each))
        for each in figures.faults(state)
        if each.who is not None
    )


def faults_by_hour(state: CaseState) -> tuple[FaultByHour, ...]:
    """Every fault that spot checks found, hour by hour from the first harvest."""
    return tuple(
        FaultByHour.read_off(_ranged(each.proportion), each.proportion, each, measure=_checked(each))
        for each in quality_time.faults_by_hour(state)
    )


def _checked(fault: figures.Fault | quality_time.HourOfFaults) -> str:
    return f"spot check, {fault.subject}"


def follicles(state: CaseState) -> FollicleSummary | None:
    """Follicles in spot checks, ``None`` if no check counted them."""
    seen = figures.follicles(state)
    if seen is None:
        return None
    return FollicleSummary(
        looked_at=seen.grafts,
        follicles=seen.transected.of,
        transected=seen.transected.count,
        hairs_per_graft_possible=seen.possible_per_graft,
        hairs_per_graft_intact=seen.intact_per_graft,
        **dict(_ranged(seen.transected)),
    )


def _ranged(found: Proportion | None) -> RangedShare:
    """The share and its ranges; none below one observation."""
    wilson, exact = (found.wilson, found.exact) if found else (None, None)
    return RangedShare(
        share=found and found.share,
        wilson_low=wilson and wilson.low,
        wilson_high=wilson and wilson.high,
        exact_low=exact and exact.low,
        exact_high=exact and exact.high,
    )
