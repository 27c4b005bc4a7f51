"""How long a counted work still takes, as a distribution: a discounted gamma-Poisson forecast. Pure numbers.

Time is *working time*: hand-minutes, breaks left out. The pace has a gamma distribution that each block of
work sharpens. Before each block it is blurred by a discount, since a team's pace wanders (power steady model:
J. Q. Smith, J R Stat Soc B 1979;41:375-387; A. C. Harvey, C. Fernandes, J Bus Econ Stat 1989;7:407-417; both
from memory). Several discounts are tried side by side and weighed by how well each has forecast the blocks so
far. The time that the rest takes is then a ratio of two gamma variables, a beta-prime distribution, in closed
form.
"""

from collections.abc import Callable, Sequence
from functools import cached_property
from itertools import pairwise
from math import exp, lgamma, log
from typing import Final, NamedTuple

from msgspec import Struct

#: How much of the evidence of earlier blocks counts after each block. 1 is a pace that never changes.
DISCOUNTS: Final = (1.0, 0.95, 0.85, 0.7)
#: For this many blocks at most the pace is taken to wander on from where it is.
WANDERING_BLOCKS: Final = 3.0
#: What no record shows beforehand: with these chances the rest goes at this part of the pace, as when people
#: leave. Ours, tried against simulated cases (``python -m tests.bench.forecast``).
UNFORESEEN: Final = ((0.05, 0.9), (0.04, 0.75), (0.04, 0.6))
#: Teams slow down near the end (Tykocinski & Shapiro, in Hair Transplantation, 5th ed. 2010, name no figure):
#: with this chance this last share of the whole goes at this part of the pace. Ours, tried as above.
SLOW_END: Final = (0.08, 0.2, 0.55)
#: Coefficient of variation of the mean pace that stays however long the record is. Tried as above.
NEVER_SURER: Final = 0.06
#: Blocks' scatter relative to a Poisson one: this many blocks' worth of belief in this before any is seen.
SCATTER_BELIEF: Final = (5.0, 2.0)
FIRST_EVIDENCE: Final = 1.0


class Block(NamedTuple):
    """A stretch of work: how much was done in how many hand-minutes."""

    done: float
    minutes: float


class Gamma(Struct, frozen=True):
    """What is believed of a pace (a minute and hand): gamma with this shape and rate, this probable."""

    weight: float
    shape: float
    rate: float


class Rest(Struct, frozen=True, dict=True):
    """The working time that ``left`` more take.

    ``scatter`` is the blocks' variance relative to a Poisson count's, 1 or more. ``slowings`` are chances, 1
    in all, each with the part of the pace at which the rest then goes.
    """

    left: float
    scatter: float
    paces: tuple[Gamma, ...]
    slowings: tuple[tuple[float, float], ...] = ((1.0, 1.0),)

    def probability(self, minutes: float) -> float:
        """That the rest is done within this many hand-minutes."""
        from scipy.special import betainc

        if self.left <= 0:
            return 1.0
        if minutes <= 0:
            return 0.0
        scatter = min(self.scatter, self.left)  # the rest of a batch is no less than one thing to do
        work = self.left / scatter
        found = 0.0
        for chance, slower in self.slowings:
            given = minutes * slower / scatter
            for pace in self.paces:
                share = given / (given + pace.rate)
                found += chance * pace.weight * float(betainc(work, pace.shape, share))
        return found

    @cached_property
    def typical_minutes(self) -> float:
        """Hand-minutes at the mean pace, nothing unforeseen: the scale on which quantiles are sought."""
        return self.left / mean_pace(self.paces)


def quantile(probability: Callable[[float], float], level: float, start: float, step: float) -> float:
    """Where an increasing ``probability`` reaches ``level``, sought from ``start`` on, by halving."""
    low, high = start, start + max(step, 1e-9)
    while probability(high) < level:
        low, high = high, high + 2 * (high - start)
    for _ in range(40):
        middle = (low + high) / 2
        if probability(middle) < level:
            low = middle
        else:
            high = middle
    return high


def mean_pace(paces: Sequence[Gamma]) -> float:
    """The mean of what is believed, a minute and hand."""
    return sum(pace.weight * pace.shape / pace.rate for pace in paces)


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
    blocks: Sequence[Block], left: float, doubt: float = 0.0, *, end_known: bool = False
) -> Rest | None:
    """What the blocks so far, oldest first, say of the rest; ``None`` below two blocks of work.

    All blocks but the first should be equally long in time. ``doubt`` is the standard error of ``left`` over
    itself where that is an estimate. The time is a number over a pace, so it adds to the pace's own.
    """
    seen = [block for block in blocks if block.minutes > 0]
    done, minutes = sum(block.done for block in seen), sum(block.minutes for block in seen)
    if not done or len(seen) < 2:
        return None
    scatter = _scatter(seen, done / minutes)
    beliefs = [_believed(seen, discount, scatter) for discount in DISCOUNTS]
    best = max(likelihood for likelihood, _, _ in beliefs)
    weights = [exp(likelihood - best) for likelihood, _, _ in beliefs]
    pace = sum(weight * shape / rate for weight, (_, shape, rate) in zip(weights, beliefs, strict=True))
    ahead = left * sum(weights) / pace / (minutes / len(seen))
    paces = []
    for discount, weight, (_, shape, rate) in zip(DISCOUNTS, weights, beliefs, strict=True):
        blurred = shape * discount ** min(ahead / 2, WANDERING_BLOCKS)
        kept = 1 / (1 / blurred + NEVER_SURER**2 + doubt**2)
        paces.append(Gamma(weight / sum(weights), kept, rate * kept / shape))
    return Rest(left, scatter, tuple(paces), slowings(done, left, end_known=end_known))


def _believed(blocks: Sequence[Block], discount: float, scatter: float) -> tuple[float, float, float]:
    """With one discount: the log likelihood of the blocks, then shape and rate of the pace after them."""
    first = next(block for block in blocks if block.done)
    shape, rate = FIRST_EVIDENCE, FIRST_EVIDENCE * first.minutes / first.done
    likelihood = 0.0
    for place, block in enumerate(blocks):
        count, minutes = block.done / scatter, block.minutes / scatter
        if place:
            shape, rate = shape * discount, rate * discount
            likelihood += (
                lgamma(shape + count)
                - lgamma(shape)
                - lgamma(count + 1)
                + shape * log(rate / (rate + minutes))
                + (count * log(minutes / (rate + minutes)))
            )
        shape, rate = shape + count, rate + minutes
    return likelihood, shape, rate


def _scatter(blocks: Sequence[Block], pace: float) -> float:
    """The variance of blocks relative to a Poisson one, from the differences of neighbours; at least 1."""
    belief, expected = SCATTER_BELIEF
    squares = [
        (one.done / one.minutes - other.done / other.minutes) ** 2
        / (pace * (1 / one.minutes + 1 / other.minutes))
        for one, other in pairwise(blocks)
    ]
    return max(1.0, (belief * expected + sum(squares)) / (belief + len(squares)))
