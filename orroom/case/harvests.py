"""Since when the grafts of a harvest are out of the body, as far as the record can say.

A harvest that begins after grafts of its own harvest were entered has a wrong start: no time is worked out
from it.
"""

from collections.abc import Iterator, Mapping
from typing import Final

from msgspec import Struct

from orroom.case.events import (
    DishCounted,
    Event,
    GraftsCut,
    GraftsDiscarded,
)
from orroom.case.state import CaseState, once
from orroom.case.traits import Trait, held

#: A start is entered as whole minutes ago: grafts entered less than a minute before it do not contradict it,
#: and count as out of the body for no time then.
WHOLE_MINUTE_MS: Final = 60_000


class Before(Struct, frozen=True):
    """Grafts of a harvest that were entered before it began: cut (spoilt ones too), moved or found."""

    cut: int
    handled: int


def out_since_ms(state: CaseState) -> Mapping[str, int]:
    """When each harvest left the body (UTC ms), without the harvests of which that is not known.

    It is not known of a harvest without a harvest, and of one whose harvest began after its own grafts.
    """
    wrong = before_harvest(state)
    return {
        harvest: clock.started_at_ms
        for harvest, clock in state.tally.harvests.items()
        if clock.started_at_ms is not None and harvest not in wrong
    }


@once
def before_harvest(state: CaseState) -> Mapping[str, Before]:
    """By harvest that began more than a minute after grafts of it were entered: the grafts before it."""
    starts = {
        harvest: clock.started_at_ms
        for harvest, clock in state.tally.harvests.items()
        if clock.started_at_ms is not None
    }
    latest = max(starts.values(), default=0)
    found: dict[str, Before] = {}
    wrong: set[str] = set()
    for entry in state.log.made_before(latest):
        if not state.stands(entry):
            continue
        at_ms = entry.stamp.at_ms
        for harvest, grafts, new in _grafts_of_harvests(entry.event):
            if at_ms < (start := starts.get(harvest, at_ms)):
                was = found.get(harvest, Before(0, 0))
                if new:
                    found[harvest] = Before(was.cut + grafts, was.handled)
                else:
                    found[harvest] = Before(was.cut, was.handled + grafts)
                if at_ms <= start - WHOLE_MINUTE_MS:
                    wrong.add(harvest)
    return {harvest: found[harvest] for harvest in sorted(wrong)}


def _grafts_of_harvests(event: Event) -> Iterator[tuple[str, int, bool]]:
    """The harvests whose grafts an entry has to do with, how many, and whether they came up with it."""
    match event:
        case GraftsCut(harvest=harvest, count=count) | GraftsDiscarded(harvest=str(harvest), count=count):
            yield harvest, count, True
        case DishCounted(harvest=harvest, tallied=tallied, found=found) if found > tallied:
            yield harvest, found - tallied, True
        case _:
            for part in held(event, Trait.DRAWN):
                yield part.harvest, part.count, False
