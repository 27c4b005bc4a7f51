"""How times out of the body, times waiting and times without wetting are worked out, by size and zone."""

from orroom.case.state import CaseState, at_a_time
from orroom.figures.drying import beyond_interval_ms, drying
from orroom.figures.holding import counted_to_ms
from orroom.figures.out_of_body import out_by_size, out_by_zone, out_of_body
from orroom.figures.survival import HOURS, Times
from orroom.figures.waiting import waiting
from orroom.figures.wording import between, decimal, grafts, how_long, percent
from orroom.words.explanation import Asked, Explanation


def _to_the_minute_ms(asked: Asked) -> int:
    """Until when, in whole minutes but for the last entry: these figures take longer than a paint may."""
    now_ms = counted_to_ms(asked.state, asked.now_ms)
    return max(now_ms - now_ms % 60_000, min(now_ms, asked.state.log[-1].stamp.at_ms))


def beyond_limit(asked: Asked) -> Explanation | None:
    """Which share of the grafts is out of the body beyond the surgeon's limit."""
    return _beyond_limit(asked.state, _to_the_minute_ms(asked))


def waits(asked: Asked) -> Explanation | None:
    """How long grafts wait between dish and zone, by size."""
    return _waits(asked.state, _to_the_minute_ms(asked))


def not_wetted(asked: Asked) -> Explanation | None:
    """Graft-minutes beyond the limit with the placers, and in the dishes beyond each wetting interval."""
    return _not_wetted(asked.state, _to_the_minute_ms(asked))


@at_a_time
def _beyond_limit(state: CaseState, now_ms: int) -> Explanation | None:
    plan, hours = state.plan, state.plan.limits.out_of_body_hours
    whole = [each.times for each in out_of_body(state, now_ms) if each.harvest is None]
    if hours is None or not whole:
        return None

    def share(times: Times) -> str:
        return between(percent, *times.share_over[len(HOURS)])

    sizes = [f"{size} {share(times)}" for size, times in out_by_size(state, now_ms).items()]
    zones = [
        f"{plan.zone_by_key[zone].label} {share(times)}" for zone, times in out_by_zone(state, now_ms).items()
    ]
    return Explanation(
        f"out beyond {decimal(hours)} h",
        share(whole[0]),
        "The share of grafts, placed or waiting, that were out of the body longer than the surgeon's limit, "
        "or are already; of a zone, of those placed there. A harvest's grafts are as old as its start. "
        "Where harvests mix, the least and the most that is possible, whichever harvest each graft was of.",
        f"by size: {', '.join(sizes)}; by zone: {', '.join(zones) or 'none placed'}",
        "limit: the plan; the record",
    )


@at_a_time
def _waits(state: CaseState, now_ms: int) -> Explanation | None:
    found = waiting(state, now_ms)
    came = sum(each.came for each in found.values())
    if not came:
        return None
    together = sum(each.graft_ms for each in found.values())
    sizes = [
        f"{size.key} {how_long(found[size.key].mean_ms)} ({grafts(found[size.key].came)} waited)"
        for size in state.plan.sizes
        if size.key in found
    ]
    return Explanation(
        "mean wait",
        how_long(round(together / came)),
        "How long a graft is in dishes and with the placers on average: the area under how many wait, "
        "divided by all that came. One that was lost or still waits counts until then.",
        "; ".join(sizes),
        "Little's law: Oper Res 1961;9:383–387 (not verified)",
    )


@at_a_time
def _not_wetted(state: CaseState, now_ms: int) -> Explanation | None:
    plan, dried = state.plan, drying(state, now_ms)

    def minutes(ends: tuple[int, int]) -> str:
        return between(decimal, *(each / 60_000 for each in ends))

    found = [] if dried is None else [("with the placers", dried.beyond_limit_ms)]
    found += [
        (each.label, beyond_interval_ms(state, each, now_ms)) for each in plan.care if each.kind == "wet"
    ]
    if not any(ends.high for _, ends in found):
        return None
    return Explanation(
        "not wetted",
        f"{minutes(found[0][1])} graft-min",
        "Minutes beyond the limit with the placers and, in dishes, beyond the interval of a wetting round, "
        "of all grafts together: each from when it came there or was last wetted. Which batch a graft was "
        "taken from is not entered: the least is with the oldest taken first, the most with the newest.",
        "; ".join(f"{name} {minutes(ends)}" for name, ends in found),
        "limit and intervals: the plan. 3 minutes of drying on a glove did major damage (Dermatol Surg "
        "2000;26(1):25–31)",
    )
