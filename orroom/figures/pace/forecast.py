"""How long a counted work still takes, as a distribution of hand-minutes. Pure numbers.

Time is *working time*: hand-minutes, breaks left out. Two questions are answered: how long it takes if the
pace goes on as it is (``filters.py``), and how long if something slows it down that no record shows.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import exp, log
from typing import Final

from msgspec import Struct

from orroom.figures.distributions import normal_below
from orroom.figures.pace.blocks import Block

#: What no record shows beforehand: with these chances the rest goes at this part of the pace, as when people
#: leave. Ours, tried against simulated cases (``python -m tests.bench.harsh``).
UNFORESEEN: Final = ((0.05, 0.9), (0.04, 0.75), (0.04, 0.6))
#: Teams slow down near the end (Tykocinski & Shapiro, in Hair Transplantation, 5th ed. 2010, name no figure):
#: with this chance this last share of the whole goes at this part of the pace. Ours, tried as above.
SLOW_END: Final = (0.08, 0.2, 0.55)
#: Next to closed cases the models weigh as much as so many of them; each case is spread by this part of the
#: models' own deviation, and by no less than this. Tried as above.
AS_CASES: Final = 5.0
SPREAD_PART: Final = 0.25
LEAST_SPREAD: Final = 0.02
#: The 90 % point of the standard normal distribution.
NORMAL_90: Final = 1.2816
#: The distribution is kept at so many points of the logarithm of time, so far apart.
POINTS: Final = 400
#: So many deviations from its mean nothing is left of a normal distribution.
CERTAIN: Final = 6
APART: Final = 0.01


class Rest(Struct, frozen=True):
    """The working time that the rest takes.

    ``chances`` are those that it is done within ``typical_minutes`` · e^x, for x on an even grid around 0.
    ``later_chances`` are the same if something may slow it down. ``cases`` closed cases correct them.
    """

    typical_minutes: float
    chances: tuple[float, ...]
    later_chances: tuple[float, ...]
    cases: int = 0
    fewer: float = 0.0
    fewer_since_ms: int = 0

    def probability(self, minutes: float) -> float:
        """That the rest is done within this many hand-minutes at this pace."""
        return self._chance(self.chances, minutes)

    def later(self, minutes: float) -> float:
        """The same if it may be slowed down."""
        return self._chance(self.later_chances, minutes)

    def _chance(self, chances: tuple[float, ...], minutes: float) -> float:
        if not self.typical_minutes:
            return 1.0
        if minutes <= 0:
            return 0.0
        place = log(minutes / self.typical_minutes) / APART + POINTS / 2
        below = int(place) if place > 0 else -1
        if below < 0:
            return 0.0
        if below >= POINTS:
            return 1.0
        low, high = chances[below], chances[below + 1]
        return low + (place - below) * (high - low)


def quantile(probability: Callable[[float], float], level: float, start: float, step: float) -> float:
    """Where an increasing ``probability`` reaches ``level``, sought from ``start`` on, by halving."""
    low, high = start, start + max(step, 1e-9)
    while probability(high) < level:
        low, high = high, high + 2 * (high - start)
    for _ in range(24):
        middle = (low + high) / 2
        if probability(middle) < level:
            low = middle
        else:
            high = middle
    return high


def slowings(done: float, left: float, *, end_known: bool = False) -> tuple[tuple[float, float], ...]:
    """What may slow down the rest unforeseen: chances, 1 in all, and the part of the pace it then goes at.

    The nearer the end, the larger the part of the rest that a slow end is. ``end_known``: the clinic has set
    its own (``SlowTail``), which ``left`` has in it.
    """
    chance, share, pace = SLOW_END
    slow = min(left, share * (done + left))
    at_end = () if end_known or not left else ((chance, left / (left - slow + slow / pace)),)
    some = (*UNFORESEEN, *at_end)
    return ((1 - sum(each for each, _ in some), 1.0), *some)


def forecast(
    seen: Sequence[Block],
    left: float,
    hands: float,
    doubt: float = 0.0,
    *,
    ways: Sequence[float] = (),
    wrong: Sequence[float] = (),
    end_known: bool = False,
) -> Rest | None:
    """What the blocks so far, oldest first, say of the rest; ``None`` before any, and where nobody goes on.

    ``hands`` of mean strength go on. ``doubt`` is the standard error of ``left`` over itself where that is an
    estimate: time is a number times a time, so their logarithms add up. ``ways``, instead, are equally likely
    multiples of the time that ``left`` takes. ``wrong`` is what closed cases had wrong at this share of the
    work (``case/habits.py``): people who left and slow ends among them, so they correct the later end too.
    """
    import numpy as np

    from orroom.figures.pace.filters import models

    if not seen or hands <= 0:
        return None
    done = sum(block.done for block in seen)
    slower = slowings(done, left, end_known=end_known)
    if left <= 0:
        return Rest(0.0, (), ())
    found = models(seen, left, hands)
    middle = float(found.weights @ found.means)
    deviations = np.sqrt(found.deviations**2 + doubt**2)
    at = middle + APART * (np.arange(POINTS + 1) - POINTS / 2)
    low, high = ((found.means + side * CERTAIN * deviations) for side in (-1, 1))
    inside = (at > low.min()) & (at < high.max())
    chances = np.where(at < high.max(), 0.0, 1.0)
    chances[inside] = normal_below((at[inside, None] - found.means) / deviations) @ found.weights
    if ways:
        chances = np.mean([np.interp(at - log(way), at, chances, 0.0, 1.0) for way in ways], axis=0)
    later = sum(chance * np.interp(at + log(pace), at, chances, 0.0, 1.0) for chance, pace in slower)
    if wrong:
        low, median, high = (float(np.interp(level, chances, at)) for level in (0.1, 0.5, 0.9))
        spread = max(SPREAD_PART * (high - low) / (2 * NORMAL_90), LEAST_SPREAD)
        cases = normal_below((at[:, None] - median - np.array(wrong)) / spread).sum(axis=1)
        chances, later = ((AS_CASES * each + cases) / (AS_CASES + len(wrong)) for each in (chances, later))
    return Rest(
        exp(middle),
        tuple(chances.tolist()),
        tuple(later.tolist()),
        len(wrong),
        found.fewer,
        found.fewer_since_ms,
    )
