"""The rest of the day as many simulated days: what is known, and what may be otherwise on each of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np
from msgspec import Struct

from orroom.case.events import GraftsIssued
from orroom.case.state import CaseState
from orroom.case.terms import Work
from orroom.figures.counts import by_size, by_zone
from orroom.figures.flow.course import Ahead, Supply
from orroom.figures.flow.found import MINUTE_MS
from orroom.figures.flow.to_come import ToCome, minutes_to_the_cutters
from orroom.figures.lanes import lanes_now
from orroom.figures.pace.finish import Rate
from orroom.figures.replan.dividing import Way

if TYPE_CHECKING:
    from orroom.figures.flow.course import Numbers

#: A size of which zones are owed so few grafts or fewer is at its end, and does not run out.
#: Common practice, no source.
LEAST_OWED: Final = 5
#: How many days are simulated after the first one, on which all is as expected.
DAYS: Final = 48
#: So many minutes' cutting scatters by chance from day to day. Tried on simulated days, as what follows
#: (``python -m tests.bench.run_outs``).
SCATTER_MINUTES: Final = 15
#: How far placers are from taking the sizes of a zone in proportion: the deviation of a logarithm.
TASTE: Final = 1.5
#: How far the pace of the next half hour is from that of the whole rest: the deviation of a logarithm.
FOR_NOW: Final = 0.2
#: A low quantile of how many grafts are handed over at once is the batch below which a size has run out.
FEW: Final = 0.25


class WhatIf(Struct, frozen=True):
    """What is asked to be otherwise: hands at a work, grafts divided now, harvests that start in minutes."""

    hands: Mapping[Work, float] = {}
    divided: Sequence[tuple[Way, int]] = ()
    starts: Mapping[str, float] = {}


class Drawn(NamedTuple):
    """Standard normal numbers by day, 0 on the first: paces, amount, the taste for each size.

    ``batches`` are between 0 and 2, 1 on the first day: what placers have placed is entered afterwards, and
    what they hold in their hands is up to a batch.
    """

    cutting: Numbers
    placing: Numbers
    amount: Numbers
    tastes: Numbers
    batches: Numbers


@lru_cache(maxsize=8)
def _drawn(days: int, sizes: int) -> Drawn:
    chance = np.random.default_rng(days)
    draws, batches = chance.standard_normal((days, 3 + sizes)), chance.uniform(0, 2, (days, sizes))
    draws[0], batches[0] = 0.0, 1.0
    return Drawn(draws[:, 0], draws[:, 1], draws[:, 2], draws[:, 3:], batches)


class Day(Struct, frozen=True):
    """What the simulated days begin with. ``rates`` has placing, and cutting if there is any."""

    state: CaseState
    now_ms: int
    sizes: tuple[str, ...]
    waiting: Mapping[str, float]
    owed: tuple[Mapping[str, int], ...]
    comes: tuple[ToCome, ...]
    rates: Mapping[Work, Rate]
    placers: int
    lead_minutes: float
    starts: Mapping[str, float]
    batch: float = 0.0

    def ahead(self, days: int = 1 + DAYS, starts: Sequence[Mapping[str, float]] = ()) -> Ahead:
        """So many days from now on; with several ``starts`` the same days for each of them in turn.

        ``starts`` are those of harvests that have not begun, in minutes. Without one, cutters go on with the
        next harvest as soon as they are done with those before it.
        """
        starts = starts or (self.starts,)
        times = len(starts)
        drawn = _drawn(days, len(self.sizes))
        placing, cutting = self.rates["placing"], self.rates.get("cutting")
        cuts_from = self._lost(cutting) if cutting else 0.0
        a_minute = _pace(cutting, drawn.cutting) if cutting else np.zeros(days)
        supplies = [
            Supply(
                np.repeat([self._begins(each, mine, cuts_from) for mine in starts], days),
                np.tile(self._scattered(each, a_minute, drawn), (times, 1)),
            )
            for each in self.comes
        ]
        waiting = [self.waiting[size] for size in self.sizes]
        owed = [[float(zone[size]) for size in self.sizes] for zone in self.owed]
        return Ahead(
            waiting=np.tile(waiting, (days * times, 1)),
            owed=np.tile(owed, (days * times, 1, 1)),
            supplies=supplies,
            cutting=np.tile(a_minute, times),
            placing=np.tile(_pace(placing, drawn.placing), times),
            wishes=np.tile(np.exp(TASTE * drawn.tastes), (times, 1)),
            placers=self.placers,
            batch=np.tile(self.batch * drawn.batches, (times, 1)),
            meanwhile=placing.meanwhile / 60,
            all_place=self._minutes_to(placing.since_ms),
            least_owed=LEAST_OWED,
        )

    def _minutes_to(self, at_ms: int) -> float:
        return max(0.0, (at_ms - self.now_ms) / MINUTE_MS)

    def _lost(self, rate: Rate) -> float:
        """The minutes' work that is lost while some are on a break."""
        return self._minutes_to(rate.since_ms) * (1 - rate.meanwhile / rate.per_hour)

    def _begins(self, harvest: ToCome, starts: Mapping[str, float], cuts_from: float) -> float:
        if harvest.begun or harvest.harvest not in starts:
            return cuts_from
        return max(cuts_from, starts[harvest.harvest] + self.lead_minutes)

    def _scattered(self, harvest: ToCome, a_minute: Numbers, drawn: Drawn) -> Numbers:
        """Grafts to come by day and size: as expected on the first, on others scattered by chance."""
        expected = np.array([harvest.grafts[size] for size in self.sizes])
        total = expected.sum()
        if not total:
            return np.tile(expected, (len(a_minute), 1))
        counted = np.maximum(1.0, SCATTER_MINUTES * a_minute[0] * expected / total)
        chance = np.random.default_rng(len(a_minute))
        mix = expected * chance.gamma(counted, 1 / counted, (len(a_minute), len(expected)))
        amount = np.maximum(0.1, 1 + drawn.amount * harvest.error / total) * total
        days: Numbers = mix * (amount / np.maximum(mix.sum(axis=1), 1e-9))[:, None]
        days[0] = expected
        return days


def the_day(
    state: CaseState,
    comes: tuple[ToCome, ...],
    rates: Mapping[Work, Rate],
    placers: int,
    now_ms: int,
    what_if: WhatIf,
) -> Day:
    """What is known now. Zones in which lanes are open come first, then the others in placing order."""
    counts = by_size(state)
    waiting = {size: float(max(0, count.waiting)) for size, count in counts.items()}
    for way, grafts in what_if.divided:
        waiting[way.size] = max(0.0, waiting[way.size] - grafts)
        for piece in way.into:
            waiting[piece] += grafts * way.kept
    at_work = [lane.zone for lane in lanes_now(state) if lane.zone is not None]
    zones = sorted(by_zone(state), key=lambda zone: zone.zone.key not in at_work)
    return Day(
        state=state,
        now_ms=now_ms,
        sizes=tuple(counts),
        waiting=waiting,
        owed=tuple(zone.owed for zone in zones if zone.owed_total),
        comes=comes,
        rates=rates,
        placers=placers,
        lead_minutes=minutes_to_the_cutters(state),
        starts=what_if.starts,
        batch=_batch(state),
    )


def _pace(rate: Rate, drawn: Numbers) -> Numbers:
    """Grafts a minute by day."""
    a_minute: Numbers = rate.per_hour / 60 * np.exp(np.hypot(rate.spread, FOR_NOW) * drawn)
    return a_minute


def _batch(state: CaseState) -> float:
    """How few grafts are handed over to the placers at once; 0 where no hand-overs are entered."""
    counts = [entry.event.count for entry in state.standing() if isinstance(entry.event, GraftsIssued)]
    return float(np.quantile(counts, FEW)) if counts else 0.0
