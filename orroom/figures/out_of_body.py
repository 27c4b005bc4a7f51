"""Times out of the body of each harvest, size and zone and of all, between bounds where harvests mix."""

from typing import NamedTuple

from orroom.case.drawing import harvests_oldest_first
from orroom.case.harvests import out_since_ms
from orroom.case.state import CaseState, once
from orroom.case.terms import SIZE_KEYS
from orroom.figures.all_harvests import of_all_harvests
from orroom.figures.one_harvest import of_one_harvest
from orroom.figures.streams import Stream, streams
from orroom.figures.survival import HOURS, Times


class OutOfBody(NamedTuple):
    """The times of one harvest, or of all together (``harvest`` is ``None``).

    Quartiles are of the time out at placing, waiting grafts censored. Shares are of the grafts placed or
    waiting that were or already have been out for longer. Grafts discarded or not found are in none of these.
    """

    harvest: str | None
    times: Times


class _Mixed(NamedTuple):
    """The grafts of each size; since when each harvest is out (UTC ms), oldest first; hours to compare with.

    Harvests are named by numbers in the streams; those beyond the end of ``since_ms`` have no known start.
    """

    sizes: dict[str, Stream]
    harvests: list[str]
    since_ms: list[int]
    hours_out: tuple[float, ...]

    def known(self, *found: Stream) -> bool:
        """Whether there are grafts here, and all of a harvest whose start is known."""
        return bool(found) and all(each < len(self.since_ms) for stream in found for each in stream.may_be)


def out_of_body(state: CaseState, now_ms: int) -> tuple[OutOfBody, ...]:
    """Each harvest with a known time out that may have a graft placed or waiting, oldest first; then all.

    All together only where that is known of every harvest that may. The last share is that beyond the
    surgeon's limit, where the plan has one.
    """
    mixed = _mixed(state)
    found = tuple(mixed.sizes.values())
    known = [
        OutOfBody(harvest, times)
        for number, (harvest, since_ms) in enumerate(zip(mixed.harvests, mixed.since_ms, strict=False))
        if (times := of_one_harvest(found, number, since_ms, now_ms, mixed.hours_out)) is not None
    ]
    if known and mixed.known(*found):
        known.append(OutOfBody(None, of_all_harvests(found, mixed.since_ms, now_ms, mixed.hours_out)))
    return tuple(known)


def out_by_size(state: CaseState, now_ms: int) -> dict[str, Times]:
    """The same of each size that has a graft placed or waiting, where the start of its harvests is known."""
    mixed = _mixed(state)
    return {
        size: of_all_harvests([stream], mixed.since_ms, now_ms, mixed.hours_out)
        for size in SIZE_KEYS
        if (stream := mixed.sizes.get(size)) and mixed.known(stream) and _placed_or_waiting(stream)
    }


def out_by_zone(state: CaseState, now_ms: int) -> dict[str, Times]:
    """The same of the grafts placed in each zone; none of them waits, so all bounds are reached."""
    mixed = _mixed(state)
    found = {}
    for zone in state.plan.zones:
        mine = [each for each in mixed.sizes.values() if zone.key in each.zones]
        if mixed.known(*mine):
            placed = [each.into_zone(zone.key, now_ms) for each in mine]
            found[zone.key] = of_all_harvests(placed, mixed.since_ms, now_ms, mixed.hours_out)
    return found


def _placed_or_waiting(stream: Stream) -> bool:
    came = sum(each.grafts for before in stream.before for each in before)
    return came > sum(left.grafts for left in stream.left if not left.placed)


@once
def _mixed(state: CaseState) -> _Mixed:
    limit = state.plan.limits.out_of_body_hours
    since = out_since_ms(state)
    harvests = sorted(
        harvests_oldest_first(state.tally),
        key=lambda harvest: (harvest not in since, since.get(harvest, 0), harvest),
    )
    found = streams(state.standing(), {harvest: number for number, harvest in enumerate(harvests)})
    return _Mixed(
        found,
        harvests,
        [since[harvest] for harvest in harvests if harvest in since],
        HOURS if limit is None else (*HOURS, limit),
    )
