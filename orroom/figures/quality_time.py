"""Whether quality changed in the course of the case: each measure hour by hour, with its range."""

from collections.abc import Hashable

from msgspec import Struct

from orroom.case.care import first_harvest_ms
from orroom.case.harvests import out_since_ms
from orroom.case.state import CaseState
from orroom.figures.quality import BY_PERSON, add, in_clusters, not_entered, observations
from orroom.figures.shares import Proportion, clustered
from orroom.figures.survival import HOUR_MS


class HourOfQuality(Struct, frozen=True):
    """One measure in one hour from the first harvest, 0 the first: ``count`` of ``of``, and the share."""

    measure: str
    hour: int
    count: int
    of: int
    share: Proportion | None


def quality_by_hour(state: CaseState) -> tuple[HourOfQuality, ...]:
    """Each measure of ``BY_PERSON`` by the hour of its entries; nothing before the first harvest is known."""
    start = first_harvest_ms(state.tally)
    known = {*out_since_ms(state).values()} | ({state.tally.opened_at_ms} if state.plan.kept else set())
    if start is None or start not in known:
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
