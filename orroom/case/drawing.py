"""Where the tally takes grafts from when somebody places, issues, returns, divides or discards them.

What the placers have before the dishes, where both may serve, the oldest harvest first. What the tally does
not hold is drawn all the same, since it did happen: the last place in question goes below zero, and the case
has a mismatch.
"""

from collections.abc import Iterable, Sequence

from orroom.case.care import in_lane
from orroom.case.events import Drawn, GraftsCut, HarvestStarted
from orroom.case.state import CaseState, HarvestClock, Stock, Tally
from orroom.case.terms import Place


def harvests_oldest_first(tally: Tally) -> tuple[str, ...]:
    """All harvests of plan and record: those with a known harvest by its time, then the others by key."""
    keys = set(tally.harvests) | {key.harvest for key in tally.stock}
    if tally.plan is not None:
        keys |= set(tally.plan.harvest_by_key)

    def age(harvest: str) -> tuple[bool, int, str]:
        started = tally.harvests.get(harvest, HarvestClock()).started_at_ms
        return (started is None, started or 0, harvest)

    return tuple(sorted(keys, key=age))


def harvest_in_hand(tally: Tally) -> str:
    """The harvest that is being cut, by the record: the latest one harvested, else the plan's first."""
    kept = tally.plan.kept if tally.plan else {}
    started = [
        harvest
        for harvest in harvests_oldest_first(tally)
        if harvest not in kept and tally.harvests.get(harvest, HarvestClock()).started_at_ms
    ]
    if started:
        return started[-1]
    return tally.plan.harvests[0].key if tally.plan else "A"


def harvest_cut_by(state: CaseState, who: str) -> str:
    """The harvest that somebody goes on cutting: their last one, unless a harvest was entered since."""
    for entry in reversed(state.standing()):
        match entry.event:
            case GraftsCut(harvest=harvest) if entry.stamp.who == who:
                return harvest
            case HarvestStarted():
                break
    return harvest_in_hand(state.tally)


def draw(
    tally: Tally,
    size: str,
    count: int,
    harvest: str | None,
    places: Sequence[Place],
    lane: str | None = None,
) -> tuple[Drawn, ...]:
    """``count`` grafts of ``size`` from ``places`` in turn, of ``harvest`` or of any, the oldest first.

    Of what the placers have, only what is in this ``lane``; without one, what is in none.
    """
    mine = in_lane(tally, lane) if tally.lanes or lane is not None else None
    harvests = (harvest,) if harvest is not None else harvests_oldest_first(tally)
    parts: list[Drawn] = []
    left = count
    for place in places:
        for each in harvests:
            there = tally.stock.get(Stock(size, each, place), 0)
            if place == "bench" and mine is not None:
                there = min(there, mine.get((size, each), 0))
            taken = min(left, max(0, there))
            if taken > 0:
                parts.append(Drawn(harvest=each, place=place, count=taken))
                left -= taken
    if left > 0:
        short = Drawn(harvest=harvest or _likeliest_harvest(tally, size), place=places[-1], count=left)
        parts.append(short)
    return _merged(parts)


def _likeliest_harvest(tally: Tally, size: str) -> str:
    """The harvest an uncounted graft most likely came from: the latest one that has this size."""
    having = {
        key.harvest for key in tally.stock if key.size == size and key.account in {"cut", "kept_before"}
    }
    for harvest in reversed(harvests_oldest_first(tally)):
        if harvest in having:
            return harvest
    return harvest_in_hand(tally)


def _merged(parts: Iterable[Drawn]) -> tuple[Drawn, ...]:
    counts: dict[tuple[str, Place], int] = {}
    for part in parts:
        counts[part.harvest, part.place] = counts.get((part.harvest, part.place), 0) + part.count
    return tuple(
        Drawn(harvest=harvest, place=place, count=count) for (harvest, place), count in counts.items()
    )
