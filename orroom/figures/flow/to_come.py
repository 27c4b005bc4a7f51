"""What is still to be cut of each harvest, by size."""

from collections.abc import Mapping
from statistics import median

from msgspec import Struct

from orroom.case.events import GraftsCut
from orroom.case.state import CaseState
from orroom.figures.counts import by_size
from orroom.figures.yields import FEWEST_TO_ACT, HarvestYield, Yield, segment_grafts


class ToCome(Struct, frozen=True):
    """Grafts still to be cut of a harvest by size, and the standard error of all of them together."""

    harvest: str
    begun: bool
    grafts: Mapping[str, float]
    error: float = 0.0


def grafts_to_come(state: CaseState, projected: Yield) -> tuple[ToCome, ...] | None:
    """Of each harvest of the plan, in its order; ``None`` before enough segments are finished.

    A harvest with too few finished segments is taken to give as much a segment as all that are finished. One
    whose segments the plan does not name goes on to its part of the plan, in the mix cut so far.
    """
    sizes = tuple(state.plan.size_by_key)
    finished = [each for mine in segment_grafts(state)[0].values() for each in mine]
    found: list[ToCome] = []
    for each in projected.harvests:
        if each.harvest in state.plan.kept:
            continue
        expected = each.projected
        if each.segments is None:
            found.append(_to_the_plan(state, each))
        elif each.finished >= min(FEWEST_TO_ACT, each.segments) and expected is not None:
            ends = {size: (each.projected_by_size[size], each.usable_by_size[size]) for size in sizes}
            grafts = {size: max(0.0, end.grafts - now) if end else 0.0 for size, (end, now) in ends.items()}
            found.append(ToCome(each.harvest, begun=True, grafts=grafts, error=expected.error))
        elif len(finished) < FEWEST_TO_ACT:
            return None
        else:
            share = each.segments / len(finished)
            whole = {size: share * sum(segment[size] for segment in finished) for size in sizes}
            grafts = {size: max(0.0, whole[size] - each.usable_by_size[size]) for size in sizes}
            found.append(ToCome(each.harvest, has_begun(state, each.harvest), grafts))
    return tuple(found)


def _to_the_plan(state: CaseState, harvest: HarvestYield) -> ToCome:
    """A harvest without segments gives as much of the plan as the others, in the mix cut so far."""
    cut = {size: count.cut_in_all for size, count in by_size(state).items()}
    part = state.plan.planned() / len(state.plan.harvests)
    left = max(0.0, part - harvest.usable) / max(1, sum(cut.values()))
    grafts = {size: left * count for size, count in cut.items()}
    return ToCome(harvest.harvest, has_begun(state, harvest.harvest), grafts)


def has_begun(state: CaseState, harvest: str) -> bool:
    """Whether a harvest left the body, or was cut from."""
    clock = state.tally.harvests.get(harvest)
    return bool(clock and clock.started_at_ms is not None) or state.tally.held("cut", harvest=harvest) > 0


def minutes_to_the_cutters(state: CaseState) -> float:
    """How long after its start a harvest is first cut from: the median of those so far, 0 without any."""
    began = {
        harvest: clock.started_at_ms
        for harvest, clock in state.tally.harvests.items()
        if clock.started_at_ms is not None
    }
    waits: list[int] = []
    for entry in state.standing():
        if not began:
            break
        if isinstance(entry.event, GraftsCut) and entry.event.harvest in began:
            waits.append(max(0, entry.stamp.at_ms - began.pop(entry.event.harvest)))
    return median(waits) / 60_000 if waits else 0.0
