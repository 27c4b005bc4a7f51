"""Whether quality changed in the course of the case: each measure hour by hour, with its range."""

from collections import Counter

from msgspec import Struct

from orroom.case.care import first_harvest_ms
from orroom.case.harvests import out_since_ms
from orroom.case.state import CaseState
from orroom.figures.quality import BY_PERSON, Proportion, observations, proportion
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
    if start is None or start not in out_since_ms(state).values():
        return ()
    counts: Counter[tuple[str, int]] = Counter()
    whole: Counter[tuple[str, int]] = Counter()
    for entry in state.standing():
        hour = (entry.stamp.at_ms - start) // HOUR_MS
        for measure, count, of in observations(entry):
            counts[measure, hour] += count
            whole[measure, hour] += of
    return tuple(
        HourOfQuality(*key, counts[key], whole[key], proportion(counts[key], whole[key]))
        for measure in BY_PERSON
        for key in sorted(each for each in whole if each[0] == measure)
    )
