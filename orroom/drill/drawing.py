"""Draws by a seed, of which only such are used as are the same in every version of Python."""

from collections.abc import Mapping, Sequence
from random import Random
from typing import TypeVar

T = TypeVar("T")


class Draw:
    """Draws one after the other. ``Random.random`` of a text's seed is promised to stay; the rest is not."""

    def __init__(self, seed: str) -> None:
        self._random = Random(seed)  # noqa: S311 - a sheet to practise on, no secret

    def number(self, low: int, high: int) -> int:
        """A whole number from ``low`` to ``high``, both included."""
        return low + int(self._random.random() * (high - low + 1))

    def one(self, of: Sequence[T]) -> T:
        """One of several, each as likely."""
        return of[self.number(0, len(of) - 1)]

    def weighted(self, weights: Mapping[str, int]) -> str:
        """One of several, each as likely as its weight says."""
        left = self.number(1, sum(weights.values()))
        for each, weight in weights.items():
            left -= weight
            if left <= 0:
                return each
        raise ValueError("no weights")

    def shuffled(self, of: Sequence[T]) -> list[T]:
        """All of them in another order."""
        left, found = list(of), list[T]()
        while left:
            found.append(left.pop(self.number(0, len(left) - 1)))
        return found

    def places(self, number: int, of: int, first: int) -> list[int]:
        """So many of ``of`` places, none before ``first``, spread over all and at least three apart."""
        part = (of - first) / number
        return [first + int(part * each) + self.number(0, max(0, int(part) - 3)) for each in range(number)]
