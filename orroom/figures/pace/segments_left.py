"""What cutting still takes where segments give what nobody knows yet, and hands help each other or do not.

Drawn many times: what each segment in hand and each that waits will give, and how long the hands take with
them. In three of five draws all work to the end. In the others each finishes their own segment and takes
the next that waits, so that the last hand sets the end. Draws are the same each time: nothing flickers.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Final

from orroom.case.state import CaseState
from orroom.figures.distributions import normal_below, normal_quantiles
from orroom.figures.yields import Yield, segment_grafts

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

#: So many draws; of each five so many in which people help each other. Tried on simulated harvests
#: (``python -m tests.bench.harsh``).
DRAWS: Final = 64
HELPING: Final = 3
#: However alike segments were, they differ by so much of their mean. Common practice, no source.
LEAST_SPREAD: Final = 0.05


def ways_to_finish(state: CaseState, projected: Yield, hands: int) -> tuple[float, ...]:
    """How long the rest of cutting takes, as a multiple of what is expected to be left at the team's pace.

    Equally likely; none where the yield is not projected or all is cut.
    """
    import numpy as np

    if projected.projected is None or hands < 1:
        return ()
    finished, in_hand = segment_grafts(state)
    opened: list[Array] = []
    waiting: list[Array] = []
    for place, harvest in enumerate(projected.harvests):
        mine = finished.get(harvest.harvest, ())
        open_ones = [grafts.total() for where, grafts in in_hand if where == harvest.harvest]
        if harvest.projected is None or harvest.segments is None or len(mine) >= harvest.segments:
            continue
        cut = sum(each.total() for each in mine) + sum(open_ones)
        mean = max(1.0, (cut + harvest.projected.grafts - harvest.usable) / harvest.segments)
        known = max(1, len(mine))
        unknown = harvest.segments - len(mine)
        spread = harvest.projected.error * (known / harvest.segments / unknown) ** 0.5
        by_mean, by_segment = _even(place, harvest.segments)
        means = mean + spread / known**0.5 * _normal(by_mean)
        ratio = max(spread / mean, LEAST_SPREAD)
        deviation = np.sqrt(np.log1p(ratio**2))
        scale = np.log(np.maximum(means, mean / 4)) - deviation**2 / 2
        for number in range(unknown):
            at_least = open_ones[number] if number < len(open_ones) else 0
            below = normal_below((np.log(max(at_least, 1e-9)) - scale) / deviation)
            gives = np.exp(scale + deviation * _normal(below + (1 - below) * by_segment[number]))
            (opened if at_least else waiting).append(np.maximum(gives - at_least, 0.0))
    if not opened and not waiting:
        return ()
    busy = np.zeros((DRAWS, hands))
    each_draw = np.arange(DRAWS)
    for segment in (*opened, *waiting):
        free = busy.argmin(axis=1)
        busy[each_draw, free] += segment
    together, alone = busy.sum(axis=1), busy.max(axis=1) * hands
    expected = projected.projected.grafts - projected.usable
    taken = np.where(each_draw % 5 >= HELPING, alone, together) / max(expected, 1.0)
    return tuple(np.maximum(taken, 1e-3).tolist())


@lru_cache(maxsize=32)
def _even(place: int, segments: int) -> tuple[Array, Array]:
    """Chances between 0 and 1: for the mean of a harvest's segments, evenly, and for each segment, drawn."""
    import numpy as np

    chance = np.random.default_rng(place)
    even = chance.permutation((np.arange(DRAWS) + 0.5) / DRAWS)
    return even, chance.uniform(0.001, 0.999, (segments, DRAWS))


def _normal(chances: Array) -> Array:
    return normal_quantiles(chances.clip(1e-9, 1 - 1e-9))
