"""Which size runs out when, what dividing would bring, when a harvest that has not begun should start.

All of it is worked out from the record and the forecast of the finish; nothing is said before both works have
a pace.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import floor, isfinite
from typing import TYPE_CHECKING, Final

import numpy as np

from orroom.case.state import CaseState
from orroom.figures.counts import by_size, by_zone
from orroom.figures.flow.course import Ahead, Course, course
from orroom.figures.flow.days import Day, WhatIf, the_day
from orroom.figures.flow.found import (
    HORIZON,
    LASTING,
    MINUTE_MS,
    Divide,
    Dry,
    Flow,
    SizeFlow,
    Start,
)
from orroom.figures.flow.to_come import grafts_to_come
from orroom.figures.pace.finish import Outlook
from orroom.figures.replan.dividing import Way, ways_now
from orroom.figures.yields import FEWEST_TO_ACT, Yield

if TYPE_CHECKING:
    from orroom.figures.flow.course import Numbers

#: No more grafts than this are suggested to be divided.
MOST_DIVIDED: Final = 60
#: A range leaves this part of the days outside on each side.
OUTSIDE: Final = 0.1
#: On fewer than this part of the days may placing idle for longer than this (minutes) because a harvest
#: starts late. The start is sought in steps of 5 minutes, first in
#: so many at a time.
IDLE_DAYS: Final = 0.1
IDLE: Final = 1.0
STEP: Final = 5
COARSE: Final = 6
#: Idle time is looked for until so long from now (minutes), and fewer days are enough.
LONG: Final = 480
START_DAYS: Final = 31


def flow(
    state: CaseState, projected: Yield, outlook: Outlook, now_ms: int, what_if: WhatIf | None = None
) -> Flow:
    """The flow at ``now_ms``, from the projected yield and the outlook of that time."""
    what_if = what_if or WhatIf()
    if not any(each.owed_total for each in by_zone(state)):
        return Flow(now_ms, "nothing is owed")
    comes = grafts_to_come(state, projected)
    rates = {each.work: each.rate for each in outlook.works if each.rate is not None}
    if comes is None:
        return Flow(now_ms, f"fewer than {FEWEST_TO_ACT} segments are finished")
    if "placing" not in rates:
        return Flow(now_ms, "the pace of placing is not known")
    if rates["placing"].since_ms <= now_ms and any(
        each.work == "placing" and each.none_for_ms is not None for each in outlook.works
    ):
        return Flow(now_ms, "nobody is placing")
    if "cutting" not in rates and any(sum(each.grafts.values()) >= 1 for each in comes):
        return Flow(now_ms, "the pace of cutting is not known")
    hands = {each.work: each.pace.hands for each in outlook.works}
    for work, wished in what_if.hands.items():
        if work in rates:
            rate = rates[work]
            more = wished / max(1.0, hands[work])
            rates[work] = rate._replace(per_hour=rate.per_hour * more, meanwhile=rate.meanwhile * more)
    placers = what_if.hands.get("placing", len(state.tally.lanes) or hands["placing"])
    day = the_day(state, comes, rates, max(1, round(placers)), now_ms, what_if)
    found = course(day.ahead(), HORIZON)
    sizes = _sizes(day, found)
    return Flow(
        at_ms=now_ms,
        sizes=sizes,
        divide=_divide(day, ways_now(state), sizes, found),
        start=_start(day, what_if),
        path=tuple((now_ms + round(at * MINUTE_MS), waiting) for at, waiting in found.path),
    )


def _sizes(day: Day, found: Course) -> tuple[SizeFlow, ...]:
    owed = {size: count.owed for size, count in by_size(day.state).items()}
    to_come = {size: sum(each.grafts[size] for each in day.comes) for size in day.sizes}
    cut_now = next((each.grafts for each in day.comes if sum(each.grafts.values()) >= 1), None)
    an_hour = day.rates["cutting"].per_hour if cut_now and "cutting" in day.rates else 0.0
    return tuple(
        SizeFlow(
            size=size,
            waiting=round(day.waiting[size]),
            to_come=round(to_come[size]),
            owed=owed[size],
            per_hour=round(an_hour * cut_now[size] / sum(cut_now.values())) if cut_now else 0,
            dry=_dry(found.dry_at[:, place], day.now_ms),
        )
        for place, size in enumerate(day.sizes)
    )


def _dry(at: Numbers, now_ms: int) -> Dry | None:
    """The range and the middle of when a size runs out, on the first day as expected."""
    middle, in_order = float(at[0]), np.sort(at)
    low = min(middle, float(in_order[floor(OUTSIDE * len(at))]))
    high = max(middle, float(in_order[-1 - floor(OUTSIDE * len(at))]))
    if not isfinite(low):
        return None
    return Dry(round(now_ms + low * MINUTE_MS), _at(middle, now_ms), _at(high, now_ms))


def _at(minutes: float, now_ms: int) -> int | None:
    return round(now_ms + minutes * MINUTE_MS) if isfinite(minutes) else None


def _divide(day: Day, ways: Sequence[Way], sizes: Sequence[SizeFlow], found: Course) -> Divide | None:
    """The cheapest division that would do for the size that runs out first, if it does soon.

    Only grafts are divided that wait and that no zone will need. It does if the size lasts for ``LASTING``
    minutes then and no other size runs out in them that would not have.
    """
    dry = dict(zip(day.sizes, found.dry_at[0].tolist(), strict=True))
    wanted = min(dry, key=lambda size: dry[size])
    if dry[wanted] >= LASTING:
        return None
    spare = {each.size: min(each.waiting, each.waiting + each.to_come - each.owed) for each in sizes}
    tries = [
        (way, grafts)
        for way in ways
        if wanted in way.into
        for grafts in range(1, min(MOST_DIVIDED, spare[way.size]) + 1)
    ]
    if not tries:
        return None
    after = course(divided(day, tries), LASTING).dry_at
    limits = [LASTING if size == wanted else min(dry[size], LASTING) for size in day.sizes]
    hairs: dict[str, float] = {size.key: size.hairs for size in day.state.plan.sizes}
    lasting = [
        (way.price(hairs) * grafts, grafts, way)
        for (way, grafts), at in zip(tries, after.tolist(), strict=True)
        if all(each >= limit - 1e-6 for each, limit in zip(at, limits, strict=True))
    ]
    if not lasting:
        return None
    _, grafts, way = min(lasting, key=lambda each: each[:2])
    then = course(divided(day, [(way, grafts)]), HORIZON).dry_at[0][day.sizes.index(wanted)]
    return Divide(way, grafts, wanted, spare[way.size], _at(float(then), day.now_ms))


def divided(day: Day, tries: Sequence[tuple[Way, int]]) -> Ahead:
    """A day as expected for each try, with so many grafts divided at once in that way."""
    ahead = day.ahead(1, [day.starts] * len(tries))
    for number, (way, grafts) in enumerate(tries):
        ahead.waiting[number, day.sizes.index(way.size)] -= grafts
        for piece in way.into:
            ahead.waiting[number, day.sizes.index(piece)] += grafts * way.kept
    return ahead


def _start(day: Day, what_if: WhatIf) -> Start | None:
    """The latest start of the next harvest that has not begun; ``None`` where it has time past ``HORIZON``.

    Placing that idles anyway, because cutting is slower, is not put down to a start.
    """
    waits = [each for each in day.comes if not each.begun and each.harvest not in what_if.starts]
    if not waits:
        return None
    harvest = waits[0]

    def idle(starts: Sequence[Mapping[str, float]]) -> Numbers:
        """Minutes of idle placing by start and day."""
        found = course(day.ahead(START_DAYS, starts), LONG, while_cut=True).idle
        return found.reshape(len(starts), START_DAYS)

    def in_time(found: Sequence[Numbers]) -> list[bool]:
        return [float(np.mean(each - at_best > IDLE)) < IDLE_DAYS for each in found]

    last = HORIZON // STEP
    coarse = (*range(0, last, COARSE), last)
    starts = [{**day.starts, harvest.harvest: float(step * STEP)} for step in range(last + 1)]
    at_best, *found = idle([day.starts, *(starts[step] for step in coarse)])
    *good, lasts = in_time(found)
    if lasts:
        return None
    late = not good[0]
    low = max((step for step, each in zip(coarse, good, strict=False) if each), default=0)
    if not late:
        fine = range(low + 1, low + COARSE)
        good = in_time([*idle([starts[step] for step in fine])])
        low = max((step for step, each in zip(fine, good, strict=True) if each), default=low)
    at_ms = day.now_ms + low * STEP * MINUTE_MS
    return Start(harvest.harvest, at_ms, round(sum(harvest.grafts.values())), late)
