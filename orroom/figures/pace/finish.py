"""When the works will be finished, which of them sets the time, and what one more hand would change."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from itertools import pairwise
from math import erfc, exp, log, pi, prod, sqrt
from typing import Final, NamedTuple

from msgspec import Struct

from orroom.case.habits import NO_HABITS, Habits
from orroom.case.state import CaseState
from orroom.case.terms import WORKS, Work
from orroom.figures.counts import by_size, total
from orroom.figures.holding import harvest_ages
from orroom.figures.pace.blocks import blocks
from orroom.figures.pace.forecast import NORMAL_90, Rest, forecast, quantile
from orroom.figures.pace.rates import Pace, pace, strengths
from orroom.figures.pace.segments_left import ways_to_finish
from orroom.figures.pace.standstill import asks_who_left, breaks_ahead_ms, none_for_ms_of
from orroom.figures.pace.work import WorkDone, work_done
from orroom.figures.yields import Yield

#: A finish whose range ends farther off than this says nothing.
FARTHEST_MS: Final = 24 * 3_600_000
#: The range of a finish leaves one in ten outside on each side.
LOW: Final = 0.1
HIGH: Final = 0.9


class Finish(NamedTuple):
    """A time (UTC ms) as likely as not, and the range that has it 8 times in 10 at this pace.

    ``later_ms`` is the end of the range if it may not: somebody leaves, or the end slows.
    """

    low_ms: int
    middle_ms: int
    high_ms: int
    later_ms: int


class Rate(NamedTuple):
    """How fast the rest of a work goes: so many an hour from ``since_ms`` (UTC) on, when all are at work.

    Until then, while some are on a break, it is ``meanwhile`` an hour. ``spread`` is the standard deviation
    of the logarithm of ``per_hour``.
    """

    per_hour: float
    spread: float
    since_ms: int
    meanwhile: float = 0.0


class WorkOutlook(Struct, frozen=True):
    """One work: its pace, what is left of it, and when it will be finished.

    ``finish`` is ``None`` once nothing is left, and while it is unknown: nobody seen working on it for long
    enough, nobody there, or more than a day to go. ``none_for_ms`` is how long nothing has been entered, once
    that is too long for anybody to be at work, or all are away. ``fewer_since_ms``: since then one hand less
    than was entered is more likely at work than not. ``cases``: how many closed cases correct the finish.
    ``rate`` is known where the finish is, unless nobody is known to be back from a break. ``breaks_ms``: how
    much of a break by plan is still ahead, and in the finish.
    """

    work: Work
    pace: Pace
    left: int
    finish: Finish | None
    none_for_ms: int | None
    fewer_since_ms: int | None = None
    cases: int = 0
    rate: Rate | None = None
    breaks_ms: int = 0


class OneMore(NamedTuple):
    """One more hand at a work, from now on: by how many minutes that brings the end of all forward."""

    work: Work
    minutes: float


class Outlook(Struct, frozen=True):
    """All works. ``finish`` is ``None`` while a work that is left cannot be forecast.

    ``slowest`` is the work that ends last. ``oldest_out_ms`` is how long the oldest harvest of which anything
    still waits will then have been out of the body, if some of it waits until the end.
    """

    works: tuple[WorkOutlook, ...]
    finish: Finish | None
    slowest: Work | None
    oldest_out_ms: int | None
    one_more: tuple[OneMore, ...]

    def nobody_placing_ms(self, now_ms: int) -> int | None:
        """For how long nobody has placed; ``None`` while somebody does, or will be back from a break."""
        for each in self.works:
            back_ms = now_ms if each.rate is None else each.rate.since_ms
            if each.work == "placing" and each.left and back_ms <= now_ms:
                return each.none_for_ms
        return None


class _Ahead(Struct, frozen=True):
    """The rest of a work and the hands at it from its last entry on."""

    rest: Rest
    steps: tuple[tuple[int, float], ...]

    def probability(self, at_ms: float, *, later: bool = False) -> float:
        """That the work is finished by ``at_ms`` at this pace; if it may not (``later``)."""
        minutes = 0.0
        for (start, hands), (end, _) in pairwise((*self.steps, (max(at_ms, self.steps[-1][0]), 0.0))):
            minutes += hands * max(0.0, min(end, at_ms) - start) / 60_000
        return self.rest.later(minutes) if later else self.rest.probability(minutes)

    def with_one_more(self, hand: float, now_ms: int) -> _Ahead:
        """The same with one more hand from now on whenever anybody is at work."""
        return _Ahead(
            self.rest,
            tuple((at, hands + hand if hands and at >= now_ms else hands) for at, hands in self.steps),
        )

    def rate(self, left: int, now_ms: int) -> Rate | None:
        """How fast what is left goes once all who are away are back, and until then."""
        at = max(now_ms, self.steps[-1][0])
        spans = [
            (max(start, now_ms), end, hands)
            for (start, hands), (end, _) in pairwise((*self.steps, (at + 1, 0.0)))
            if end > now_ms
        ]
        whole = max(hands for _, _, hands in spans)
        if not whole:
            return None
        back = next(start for start, _, hands in spans if hands == whole)
        until = sum(hands * (end - start) for start, end, hands in spans if end <= back)
        step = self.rest.typical_minutes
        low, middle, high = (quantile(self.rest.probability, level, 0.0, step) for level in (LOW, 0.5, HIGH))
        of_a_hand = left / middle * 60
        spread = log(high / low) / (2 * NORMAL_90)
        return Rate(of_a_hand * whole, spread, back, of_a_hand * until / max(1, back - now_ms))

    def step_ms(self) -> float:
        """The scale on which quantiles are sought."""
        hands = max(hands for _, hands in self.steps)
        return self.rest.typical_minutes / hands * 60_000


def outlook(state: CaseState, projected: Yield, now_ms: int, habits: Habits = NO_HABITS) -> Outlook:
    """The outlook of the case at ``now_ms``. ``projected`` is the projected yield."""
    found: list[WorkOutlook] = []
    ahead: dict[Work, _Ahead] = {}
    open_works: list[Work] = []
    for work in WORKS:
        one = _one_work(state, work, projected, now_ms, habits)
        if one is None:
            continue
        mine, rest, is_open = one
        if is_open:
            open_works.append(work)
        if rest is not None and mine.left:
            ahead[work] = rest
        found.append(mine)
    all_known = ahead and set(ahead) == set(open_works)
    whole = _finish(list(ahead.values()), now_ms) if all_known else None
    if whole is None:
        return Outlook(tuple(found), None, None, None, ())
    ends = [(each.finish.middle_ms, each.work) for each in found if each.finish is not None]
    return Outlook(
        tuple(found),
        whole,
        max(ends)[1],
        _oldest_out_ms(state, whole.middle_ms, now_ms),
        tuple(OneMore(work, _gain(ahead, work, whole, now_ms)) for work in ahead),
    )


def finish_of(state: CaseState, work: Work, projected: Yield, now_ms: int) -> Finish | None:
    """When one work will be finished, as in its ``WorkOutlook``, without looking at the others."""
    one = _one_work(state, work, projected, now_ms, NO_HABITS)
    return one and one[0].finish


def _one_work(
    state: CaseState, work: Work, projected: Yield, now_ms: int, habits: Habits
) -> tuple[WorkOutlook, _Ahead | None, bool] | None:
    """One work, the rest of it, and whether it is still to be done; ``None`` for sites that nobody enters."""
    known = grafts_left(state, work, projected)
    if known is None:
        return None
    left = known.grafts
    done = work_done(state, work, now_ms)
    mine = pace(done)
    seen = mine.over_case is not None and not state.tally.signed_off  # then nothing goes on
    ways = ways_to_finish(state, projected, round(sum(done.there.values()))) if work == "cutting" else ()
    share = done.done / (done.done + left) if left > 0 else 1.0
    rest = _ahead(state, done, known, now_ms, ways, habits.at(work, share)) if seen else None
    finish = _finish([rest], now_ms) if rest is not None and left else None
    none_for_ms = none_for_ms_of(done, now_ms) if seen else None
    fewer_since_ms = rest.rest.fewer_since_ms if finish and rest and asks_who_left(done, rest.rest) else None
    cases = rest.rest.cases if finish and rest else 0
    rate = rest.rate(left, now_ms) if finish and rest else None
    # sites entered in one go set no time
    is_open = bool(left and not (work == "sites" and done.marks and not seen))
    breaks_ms = 0 if finish is None else breaks_ahead_ms(done, now_ms, finish.middle_ms)
    whole = WorkOutlook(work, mine, left, finish, none_for_ms, fewer_since_ms, cases, rate, breaks_ms)
    return whole, rest, is_open


class Left(NamedTuple):
    """What is left of a work, grafts or sites, and its standard error where it is an estimate."""

    grafts: int
    error: float = 0.0


def grafts_left(state: CaseState, work: Work, projected: Yield) -> Left | None:
    """What is left of a work; ``None`` for sites that nobody enters.

    Cutting goes on to the projected yield of the segments, or to the plan while there is none; it is over
    when all segments of all harvests are finished. Placing goes on to what the plan is owed, as far as
    there will be grafts for it.
    """
    tally, plan, expected = state.tally, state.plan, projected.projected
    counts = total(by_size(state))
    match work:
        case "cutting":
            if expected is None:
                return Left(max(0, plan.planned() - counts.usable))
            return Left(round(expected.grafts) - counts.usable, expected.error)
        case "sites":
            if not tally.sites:
                return None
            ahead = (zone.key for zone in plan.zones if not zone.stick_and_place)
            owed = (plan.planned(zone=key) - tally.sites.get(key, 0) for key in ahead)
            return Left(sum(max(0, each) for each in owed))
        case "placing":
            if expected is None:
                return Left(counts.owed)
            there_will_be = counts.waiting + round(expected.grafts) - counts.usable
            left = max(0, min(counts.owed, there_will_be))
            return Left(left, _error_of_less(there_will_be, expected.error, counts.owed))


def _error_of_less(mean: float, error: float, limit: float) -> float:
    """The standard error of an estimate that a limit cuts off, as if the estimate were normal.

    N. L. Johnson et al., Continuous Univariate Distributions 1, 2nd ed. 1994, section 13.10 (from memory).
    """
    if not error:
        return 0.0
    at = (limit - mean) / error
    below, density = erfc(-at / sqrt(2)) / 2, exp(-at * at / 2) / sqrt(2 * pi)
    first = at - at * below - density  # of the standard variable cut off at ``at``
    second = below - at * density + at * at * (1 - below)
    return error * sqrt(max(0.0, second - first * first))


def _ahead(
    state: CaseState,
    done: WorkDone,
    known: Left,
    now_ms: int,
    ways: Sequence[float],
    wrong: Sequence[float],
) -> _Ahead | None:
    """The rest of a work from ``now_ms`` on, or ``None`` where it is unknown."""
    left, error = known
    tail = state.plan.limits.slow_tail if done.work == "placing" else None
    share, slowed = (tail.share, tail.pace) if tail is not None else (0.0, 1.0)
    even = (done.done + left) * (1 - share)

    def worth(before: float, after: float) -> float:
        """Grafts between two counts, those of a slow tail as many as could have been done meanwhile."""
        early = min(after, even) - min(before, even)
        return early + (after - before - early) / slowed

    so_far, worths = 0, []
    for mark in done.marks:
        worths.append(worth(so_far, so_far + mark.number))
        so_far += mark.number
    strength = strengths(done)
    hands = {who: number * strength.get(who, 1.0) for who, number in done.there.items()}
    rest = forecast(
        blocks(done, worths),
        worth(done.done, done.done + left),
        sum(hands.values()),
        error / left if left and not ways else 0.0,
        ways=ways,
        wrong=wrong,
        end_known=tail is not None,
    )
    if rest is None:
        return None
    since = done.marks[-1].at_ms
    times = {since, max(since, now_ms)}
    for absence in done.ahead:
        times |= {max(since, absence.start_ms), max(since, absence.end_ms)}
    steps = []
    for at in sorted(times):
        away = {each.who for each in done.ahead if each.start_ms <= at < each.end_ms}
        there = 0.0 if "" in away else sum(each for who, each in hands.items() if who not in away)
        steps.append((at, there))
    return _Ahead(rest, tuple(steps))


def _finish(works: Sequence[_Ahead], now_ms: int) -> Finish | None:
    """When all of the works are finished, ``None`` if that is a day off; they are taken to be independent.

    Each is counted from its last entry, so that a finish does not move while the next one is awaited; but
    nothing ends before now.
    """
    if _chance(works, now_ms + FARTHEST_MS, later=True) < HIGH:
        return None
    low, middle, high = (_when(works, level, now_ms) for level in (LOW, 0.5, HIGH))
    return Finish(low, middle, high, max(high, _when(works, HIGH, now_ms, later=True)))


def _chance(works: Sequence[_Ahead], at_ms: float, *, later: bool = False) -> float:
    """That all of the works are finished by then."""
    return prod(each.probability(at_ms, later=later) for each in works)


def _when(works: Sequence[_Ahead], level: float, now_ms: int, *, later: bool = False) -> int:
    """From when on this is the chance that all of the works are finished; not before now."""
    since, step = min(each.steps[0][0] for each in works), max(each.step_ms() for each in works)
    return max(now_ms, round(quantile(partial(_chance, works, later=later), level, since, step)))


def _gain(ahead: dict[Work, _Ahead], work: Work, whole: Finish, now_ms: int) -> float:
    """Minutes by which the end of all comes forward with one more hand of mean strength at a work."""
    others = [each for other, each in ahead.items() if other != work]
    sooner_ms = _when([*others, ahead[work].with_one_more(1.0, now_ms)], 0.5, now_ms)
    return max(0.0, (whole.middle_ms - sooner_ms) / 60_000)


def _oldest_out_ms(state: CaseState, at_ms: int, now_ms: int) -> int | None:
    """How long the oldest harvest still waiting, as grafts or as tissue, will have been out at ``at_ms``."""
    starts = [
        age.since_ms
        for age in harvest_ages(state, now_ms)
        if age.out_ms is not None and age.since_ms is not None
    ]
    return at_ms - min(starts) if starts else None
