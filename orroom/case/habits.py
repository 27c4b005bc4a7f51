"""What a clinic's closed cases had wrong about their finish, and how that corrects the next forecast.

A team that is slow at the end of every case shows it in none before its end: only the cases before can say
so. Of each closed case is kept, at nine shares of a work, the logarithm of the time the rest took over the
time that was forecast, nothing unforeseen allowed for. Numbers only: nothing of a person, a plan or a day.
"""

from itertools import pairwise
from typing import Annotated, Final

from msgspec import Meta, Struct

from orroom.case.terms import Work

#: The shares of a work at which a case is looked at.
SHARES: Final = tuple(place / 10 for place in range(1, 10))
#: Fewer cases say nothing, and of more the last so many count: clinics change.
FEWEST_CASES: Final = 10
MOST_CASES: Final = 50
#: A forecast that was wrong by more than this (a logarithm) is of entries made afterwards.
MOST_WRONG: Final = 2.0

Wrong = Annotated[float, Meta(ge=-MOST_WRONG, le=MOST_WRONG)]
#: One case: at each of ``SHARES``, ``None`` where there was no forecast.
WrongOf = Annotated[tuple[Wrong | None, ...], Meta(min_length=len(SHARES), max_length=len(SHARES))]
Cases = Annotated[tuple[WrongOf, ...], Meta(max_length=MOST_CASES)]


class Habits(Struct, frozen=True, forbid_unknown_fields=True):
    """By work, what each of a clinic's last closed cases had wrong; in no order."""

    cutting: Cases = ()
    placing: Cases = ()

    def at(self, work: Work, share: float) -> tuple[float, ...]:
        """What the cases had wrong at a share of a work, between the nearest two of ``SHARES``.

        Nothing of fewer than ``FEWEST_CASES``.
        """
        cases = {"cutting": self.cutting, "placing": self.placing}.get(work, ())
        share = min(SHARES[-1], max(SHARES[0], share))
        low, high = next(each for each in pairwise(SHARES) if each[0] <= share <= each[1])
        part, place = (share - low) / (high - low), SHARES.index(low)
        ends = (case[place : place + 2] for case in cases)
        found = tuple(
            before + (after - before) * part
            for before, after in ends
            if before is not None and after is not None
        )
        return found if len(found) >= FEWEST_CASES else ()


NO_HABITS: Final = Habits()
