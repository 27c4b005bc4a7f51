"""Whether quality changed in the course of the case: each measure and fault by the hour, with its range."""

from collections.abc import Hashable

from msgspec import Struct

from orroom.case.care import first_harvest_ms
from orroom.case.harvests import out_since_ms
from orroom.case.state import CaseState
from orroom.case.terms import CheckSubject
from orroom.figures.quality import BY_PERSON, add, faults_in, in_clusters, not_entered, observations
from orroom.figures.shares import Proportion, clustered
from orroom.figures.survival import HOUR_MS


class HourOfFaults(Struct, frozen=True):
    """How many of the grafts that were looked at in an hour from the first harvest had a fault."""

    subject: CheckSubject
    fault: str
    hour: int
    proportion: Proportion


class HourOfQuality(Struct, frozen=True):
    """One measure in one hour from the first harvest, 0 the first: ``count`` of ``of``, and the share."""

    measure: str
    hour: int
    count: int
    of: int
    share: Proportion | None


def quality_by_hour(state: CaseState) -> tuple[HourOfQuality, ...]:
    """Each measure of ``BY_PERSON`` by the hour of its entries; nothing before the first harvest is known."""
    if (start := _start_ms(state)) is None:
        return ()
    found: dict[tuple[str, int], dict[Hashable, tuple[int, int]]] = {}
    for entry, cluster in in_clusters(state):
        hour = (entry.stamp.at_ms - start) // HOUR_MS
        for measure, count, of in observations(entry):
            add(found.setdefault((measure, hour), {}), cluster, count, of)
    unseen = not_entered(state)
    return tuple(
        HourOfQuality(
            *key,
            sum(count for count, _ in found[key].values()),
            sum(of for _, of in found[key].values()),
            clustered(found[key].values()),
        )
        for measure in BY_PERSON
        if measure not in unseen
        for key in sorted(each for each in found if each[0] == measure)
    )


def faults_by_hour(state: CaseState) -> tuple[HourOfFaults, ...]:
    """Every fault that spot checks found, hour by hour; nothing before the first harvest is known."""
    if (start := _start_ms(state)) is None:
        return ()
    found = faults_in(state, lambda entry, _: ((entry.stamp.at_ms - start) // HOUR_MS,))
    return tuple(
        HourOfFaults(subject, fault, hour, share)
        for hour, subject, fault, share in sorted(
            found, key=lambda each: (each[1], each[0], -each[3].count, each[2])
        )
    )


def _start_ms(state: CaseState) -> int | None:
    """When the first harvest began (UTC ms); ``None`` if that is not known."""
    start = first_harvest_ms(state.tally)
    known = {*out_since_ms(state).values()} | ({state.tally.opened_at_ms} if state.plan.kept else set())
    return start if start in known else None
