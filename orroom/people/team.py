"""A measure of the whole team, and of each person in it, in alphabetical order and no other."""

from collections.abc import Mapping, Sequence
from typing import Final

from msgspec import Struct

from orroom.figures.shares import exact_range
from orroom.people import funnel
from orroom.people.alike import Step, correlation, worth
from orroom.people.drawing import Drawn, drawn_to_team
from orroom.people.from_case import CHECKED, OF_CUTTING

#: A team of fewer is not compared with: who knows the own figures would know the other's. Common practice in
#: small-count reporting, no source.
FEWEST: Final = 3
#: The order of the measures.
ORDER: Final = (*OF_CUTTING, *CHECKED.values())

Steps = Mapping[tuple[str, str], Mapping[str, Sequence[Step]]]


class OfPerson(Struct, frozen=True):
    """One person: case after case; what the whole is worth in independent grafts; the share with its range.

    From ``FEWEST`` people on the share is drawn to the team, and ``inner`` and ``outer`` are the limits of
    the funnel: between which chance alone leaves nearly all who work like the team.
    """

    who: str
    steps: tuple[Step, ...]
    worth: float
    drawn: Drawn
    inner: tuple[float, float] | None
    outer: tuple[float, float] | None

    @property
    def count(self) -> int:
        """How many."""
        return sum(count for count, _ in self.steps)

    @property
    def of(self) -> int:
        """Of how many."""
        return sum(of for _, of in self.steps)

    @property
    def share(self) -> float:
        """Their share, as it was counted."""
        return self.count / self.of


class OfTeam(Struct, frozen=True):
    """A measure, or one kind of its faults: how alike grafts of one case are, and all people."""

    measure: str
    fault: str
    alike: float
    people: tuple[OfPerson, ...]

    @property
    def count(self) -> int:
        """How many, of all together."""
        return sum(each.count for each in self.people)

    @property
    def of(self) -> int:
        """Of how many, of all together."""
        return sum(each.of for each in self.people)

    @property
    def share(self) -> float:
        """The team's share: of all grafts together."""
        return self.count / self.of

    @property
    def comparable(self) -> bool:
        """Whether there are people enough to compare with."""
        return len(self.people) >= FEWEST

    def of_person(self, who: str) -> OfPerson | None:
        """One person's; ``None`` if they have none."""
        return next((each for each in self.people if each.who == who), None)


def of_team(steps: Steps) -> tuple[OfTeam, ...]:
    """Every measure, and after it each kind of its faults, in alphabetical order."""
    keys = sorted((key for key in steps if key[0] in ORDER), key=lambda key: (ORDER.index(key[0]), key[1]))
    return tuple(_measured(*key, steps[key]) for key in keys)


def _measured(measure: str, fault: str, steps: Mapping[str, Sequence[Step]]) -> OfTeam:
    people = sorted(steps)
    alike = correlation(steps.values())
    parts = [worth(steps[who], alike) for who in people]
    count, of = (sum(part[place] for who in people for part in steps[who]) for place in (0, 1))
    if len(people) < FEWEST:
        ranges = [exact_range(*part) for part in parts]
        shares = [
            Drawn(part[0] / part[1], each.low, each.high) for part, each in zip(parts, ranges, strict=True)
        ]
    else:
        shares = list(drawn_to_team(parts, count / of))
    found = []
    for who, (_, whole), drawn in zip(people, parts, shares, strict=True):
        inner, outer = (
            None if len(people) < FEWEST else funnel.limits(count / of, whole, level)
            for level in (funnel.INNER, funnel.OUTER)
        )
        found.append(OfPerson(who, tuple(steps[who]), whole, drawn, inner, outer))
    return OfTeam(measure, fault, alike, tuple(found))
