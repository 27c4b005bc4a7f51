"""What may be going on with a pace: many models, each weighed by how well it predicted the day so far.

The logarithm of the time a graft takes is a level that wanders (a local level model: A. C. Harvey,
Forecasting, Structural Time Series Models and the Kalman Filter, 1989, section 2.3), seen through the scatter
of a block's mean. Each model has its own wandering and scatter, and one of these stories: the level goes on;
the team learns, so that the first grafts take longer; the level jumped once; somebody went or came, of whom
the record does not know. A model's weight is its prior times the likelihood of all blocks (both from memory).
Pure numbers, all models in one array.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from math import log
from typing import TYPE_CHECKING, Final, NamedTuple

from orroom.figures.pace.blocks import Block

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    Indices = NDArray[np.int64]

# All of these are ours, tried on simulated days (``python -m tests.bench.harsh``).
#: A level wanders by so much (standard deviation of its logarithm after an hour), with these priors.
WANDERS: Final = ((0.0, 0.4), (0.06, 0.2), (0.12, 0.2), (0.25, 0.15), (0.5, 0.05))
#: The same where a change or learning explains most of it.
WANDERS_LITTLE: Final = ((0.0, 0.6), (0.08, 0.4))
#: Blocks scatter as if so many grafts were one, with these priors.
SCATTERS: Final = ((1.0, 0.4), (3.0, 0.35), (8.0, 0.25))
#: Priors of the stories: learning, a jump of any size, one hand more or less.
LEARNING: Final = 0.3
JUMP: Final = 0.1
HAND: Final = 0.2
#: Learning: the pace lacks a part at first, less and less with the share of the work done; or in a straight
#: line up to a share.
CURVES: Final = tuple((part, over) for part in (0.35, 0.5) for over in (0.08, 0.2))
STRAIGHT: Final = tuple((part, over) for part in (0.4, 0.6) for over in (0.3, 0.4, 0.5))
#: Standard deviation of a jump, and at how many moments of the day a change is tried.
JUMP_DEVIATION: Final = 0.2
MOMENTS: Final = 16
#: Standard deviations: of a block however many its grafts, and of the level before anything is seen.
FLOOR: Final = 0.04
FIRST: Final = 1.0
#: A pace that wandered comes back: over the rest its mean varies by this part of what a random walk's does.
COMES_BACK: Final = 0.5
#: Standard deviation of the rest, however well its pace is known.
REST: Final = 0.05
#: A model this much less likely than the best says nothing of the rest.
NEGLIGIBLE: Final = 1e-3
#: The rest is looked at in so many steps, where a team still learns.
STEPS: Final = 12


class Models(NamedTuple):
    """What is believed of ln(hand-minutes that the rest takes): a mixture of normals.

    ``fewer`` is how likely it is that somebody has gone whom the record still has; ``fewer_since_ms`` since
    when, if so.
    """

    weights: Array
    means: Array
    deviations: Array
    fewer: float
    fewer_since_ms: int


class _Grid(NamedTuple):
    """What of all models does not depend on the day.

    ``shape`` is how the team learns, 0 for not at all. ``change`` is at which moment the level changes,
    by ``step`` and with variance ``jump``; -1 for never.
    """

    prior: Array
    wander: Array
    scatter: Array
    shape: Indices
    change: Indices
    step: Array
    jump: Array


@lru_cache(maxsize=32)
def _grid(moments: int, hands: int) -> _Grid:
    """The models for so many moments at which something may have changed."""
    import numpy as np

    rows: list[tuple[float, float, float, int, int, float, float]] = []
    hand = HAND if hands > 1 else 0.0

    def add(
        prior: float,
        wanders: Sequence[tuple[float, float]],
        shape: int = 0,
        change: int = -1,
        step: float = 0.0,
        jump: float = 0.0,
    ) -> None:
        rows.extend(
            (prior * likely * often, wander, scatter, shape, change, step, jump)
            for wander, likely in wanders
            for scatter, often in SCATTERS
        )

    add(1 - LEARNING - JUMP - hand, WANDERS)
    shapes = len(CURVES) + len(STRAIGHT)
    for shape in range(shapes):
        add(LEARNING / shapes, WANDERS_LITTLE, shape + 1)
    for moment in range(moments):
        add(JUMP / moments, WANDERS_LITTLE, 0, moment, 0.0, JUMP_DEVIATION**2)
        if hand:
            add(hand / 2 / moments, WANDERS_LITTLE, 0, moment, log(hands / (hands - 1)))
            add(hand / 2 / moments, WANDERS_LITTLE, 0, moment, log(hands / (hands + 1)))
    columns = [np.array(column) for column in zip(*rows, strict=True)]
    return _Grid(*columns)


def _longer(shares: Array) -> Array:
    """How much longer a graft takes at shares of the work done: no learning and each shape of it × shares."""
    import numpy as np

    flat = np.ones_like(shares)
    curved = [1 / (1 - part * np.exp(-shares / over)) for part, over in CURVES]
    straight = [1 / np.minimum(1.0, 1 - part * (1 - shares / over)) for part, over in STRAIGHT]
    return np.array([flat, *curved, *straight])


def models(seen: Sequence[Block], left: float, hands: float) -> Models:
    """What blocks of work, oldest first, say of ``left`` more grafts, done by ``hands`` of mean strength."""
    import numpy as np

    done = np.array([block.done for block in seen])
    minutes = np.array([block.minutes for block in seen])
    hours = np.array([0.0, *(block.hours for block in seen)])
    ends = np.cumsum(done) / (done.sum() + left)
    changes = np.unique(np.linspace(1, len(seen) - 1, min(MOMENTS, len(seen) - 1)).round().astype(int))
    grid = _grid(len(changes), max(1, round(hands)))

    number = done[:, None] / grid.scatter
    noise = 1 / number + 1 / (2 * number**2) + FLOOR**2
    longer = np.log(_longer(ends - done / done.sum() * ends[-1] / 2))[grid.shape].T
    time_taken = np.log(minutes / done)[:, None] + 1 / (2 * number) - longer
    wandered = np.diff(hours)[:, None] * grid.wander**2
    errors, totals = np.empty_like(noise), np.empty_like(noise)
    level = np.full(len(grid.prior), log(minutes.sum() / done.sum()))
    doubt = np.full(len(grid.prior), FIRST**2)
    after = {int(block): np.flatnonzero(grid.change == moment) for moment, block in enumerate(changes)}
    for block in range(len(seen)):
        doubt += wandered[block]
        if block in after:
            level[after[block]] += grid.step[after[block]]
            doubt[after[block]] += grid.jump[after[block]]
        errors[block] = error = time_taken[block] - level
        totals[block] = total = doubt + noise[block]
        gain = doubt / total
        level += gain * error
        doubt = gain * noise[block]
    likely = np.log(grid.prior) - (np.log(totals) + errors**2 / totals).sum(axis=0) / 2
    weights = np.exp(likely - likely.max())
    weights /= weights.sum()

    fewer = [float(weights[where][grid.step[where] > 0].sum()) for where in after.values()]
    chosen = weights > NEGLIGIBLE * weights.max()
    ahead = ends[-1] + (np.arange(STEPS) + 0.5) / STEPS * (1 - ends[-1])
    rest = np.log(_longer(ahead).mean(axis=1))[grid.shape[chosen]]
    means = level[chosen] + log(left) + rest
    wander = COMES_BACK * grid.wander[chosen] ** 2 * np.exp(means) / hands / 60 / 3
    variance = doubt[chosen] + wander + grid.scatter[chosen] / left + REST**2
    return Models(
        weights[chosen] / weights[chosen].sum(),
        means,
        np.sqrt(variance),
        sum(fewer),
        seen[int(changes[fewer.index(max(fewer))]) - 1].ended_ms if fewer else 0,
    )
