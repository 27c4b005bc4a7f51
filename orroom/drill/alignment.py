"""What was asked next to what was entered: the best alignment of two sequences, by edit distance."""

from collections.abc import Callable, Hashable, Sequence
from typing import NamedTuple, TypeVar

T = TypeVar("T", bound=Hashable)

#: From the beginnings on: how many edits, how unlike the pairs are that disagree.
_Cost = tuple[int, int]


class Pair(NamedTuple):
    """Two places that belong together, from 0: asked and entered; ``None`` where one has no counterpart."""

    asked: int | None
    entered: int | None


def aligned(
    asked: Sequence[T], entered: Sequence[T], unlike: Callable[[T, T], int] = lambda *_: 1
) -> tuple[Pair, ...]:
    """Which of what was entered answers which of what was asked, in order.

    As few things as possible are missing, added or another than was asked: their number is the edit distance
    (V. I. Levenshtein, Soviet Physics Doklady 1966;10:707; found as in R. A. Wagner, M. J. Fischer, J ACM
    1974;21:168; both from memory). Of alignments with equally few, the one whose disagreeing pairs are least
    ``unlike`` in all; then the one that adds and leaves out as late as it can.
    """
    costs = _costs(asked, entered, unlike)
    pairs: list[Pair] = []
    row, column = len(asked), len(entered)
    while row or column:
        if column and costs[row][column] == _more(costs[row][column - 1]):
            column -= 1
            pairs.append(Pair(None, column))
        elif row and costs[row][column] == _more(costs[row - 1][column]):
            row -= 1
            pairs.append(Pair(row, None))
        else:
            row, column = row - 1, column - 1
            pairs.append(Pair(row, column))
    return tuple(reversed(pairs))


def reached(asked: Sequence[T], entered: Sequence[T]) -> int:
    """How much of what was asked was gone through: beyond that, all is missing. Fewest edits, then most."""
    ends = [costs[-1] for costs in _costs(asked, entered, lambda *_: 0)]
    return min(range(len(ends)), key=lambda row: (ends[row][0], -row))


def _costs(asked: Sequence[T], entered: Sequence[T], unlike: Callable[[T, T], int]) -> list[list[_Cost]]:
    """What the beginnings of both cost at least, by their lengths."""
    costs: list[list[_Cost]] = [[(column, 0) for column in range(len(entered) + 1)]]
    for row, one in enumerate(asked, 1):
        above = costs[-1]
        line: list[_Cost] = [(row, 0)]
        for column, other in enumerate(entered, 1):
            edits, apart = above[column - 1]
            both = (edits, apart) if one == other else (edits + 1, apart + unlike(one, other))
            line.append(min(both, _more(above[column]), _more(line[-1])))
        costs.append(line)
    return costs


def _more(cost: _Cost) -> _Cost:
    return cost[0] + 1, cost[1]
