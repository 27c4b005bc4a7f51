"""Times out of the body of each harvest and of all, between bounds where harvests mix."""

from typing import NamedTuple

from orroom.case.drawing import harvests_oldest_first
from orroom.case.harvests import out_since_ms
from orroom.case.state import CaseState
from orroom.figures.all_harvests import of_all_harvests
from orroom.figures.one_harvest import of_one_harvest
from orroom.figures.streams import streams
from orroom.figures.survival import HOURS, Times


class OutOfBody(NamedTuple):
    """The times of one harvest, or of all together (``harvest`` is ``None``).

    Quartiles are of the time out at placing, waiting grafts censored. Shares are of the grafts placed or
    waiting that were or already have been out for longer. Grafts discarded or not found are in none of these.
    """

    harvest: str | None
    times: Times


def out_of_body(state: CaseState, now_ms: int) -> tuple[OutOfBody, ...]:
    """Each harvest with a known time out that may have a graft placed or waiting, oldest first; then all.

    All together only where that is known of every harvest that may. The last share is that beyond the
    surgeon's limit, where the plan has one.
    """
    limit = state.plan.limits.out_of_body_hours
    hours_out = HOURS if limit is None else (*HOURS, limit)
    since = out_since_ms(state)
    harvests = sorted(
        harvests_oldest_first(state.tally),
        key=lambda harvest: (harvest not in since, since.get(harvest, 0), harvest),
    )
    found = streams(state.standing(), {harvest: number for number, harvest in enumerate(harvests)})
    known = [harvest for harvest in harvests if harvest in since]
    told = [
        OutOfBody(harvest, times)
        for number, harvest in enumerate(known)
        if (times := of_one_harvest(found, number, since[harvest], now_ms, hours_out)) is not None
    ]
    if told and all(number < len(known) for stream in found for number in stream.may_be):
        all_since = [since[harvest] for harvest in known]
        told.append(OutOfBody(None, of_all_harvests(found, all_since, now_ms, hours_out)))
    return tuple(told)
