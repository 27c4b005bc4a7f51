"""How long something typically takes, with its 95 % range."""

from collections.abc import Sequence
from math import exp, log, sqrt
from statistics import fmean, stdev
from typing import Final

from msgspec import Struct

from orroom.figures.clusters import t_quantile
from orroom.figures.shares import LEVEL, Range

#: No wait is shorter: two items of one entry have the same time.
SHORTEST_SECONDS: Final = 0.001
#: What the ranges of times assume, wherever they are shown.
ASSUMES: Final = (
    "Ranges are 95 %. Of shares they assume that each line is as likely to slip as the next; of times, that "
    "waits do not depend on each other and scatter by factors (log-normal)."
)


class Typical(Struct, frozen=True):
    """A typical time in seconds: the geometric mean of ``of`` of them; no range of one alone."""

    seconds: float
    of: int
    range: Range | None = None


def typical(seconds: Sequence[float]) -> Typical | None:
    """The typical one of several times; ``None`` without any.

    The range is Student's for the mean of the logarithms (Student, Biometrika 1908;6:1, from memory): right
    if the times are independent and log-normal.
    """
    logs = [log(max(each, SHORTEST_SECONDS)) for each in seconds]
    if not logs:
        return None
    middle = fmean(logs)
    if len(logs) == 1:
        return Typical(exp(middle), 1)
    half = t_quantile(100 * LEVEL, len(logs) - 1) * stdev(logs) / sqrt(len(logs))
    return Typical(exp(middle), len(logs), Range(exp(middle - half), exp(middle + half)))
