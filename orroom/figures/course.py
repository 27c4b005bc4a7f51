"""Whether cutting is heading for the plan, size by size: short of it, over it, or enough.

Several sizes are looked at, and by chance one in five would be outside its own 80 % range. So the ranges are
widened until the chance that any size is wrongly called short or over is one in five: S. Holm, Scand J Stat
1979;6:65–70 (from memory).
"""

from collections.abc import Mapping
from typing import Final

from msgspec import Struct

from orroom.case.plan import Plan
from orroom.figures.distributions import t_below
from orroom.figures.wording import grafts
from orroom.figures.yields import Projection, Yield

#: The chance, at most, that any size of which there will be enough is called short or over.
WRONG_CALL: Final = 0.2


class Course(Struct, frozen=True):
    """One size: the plan, and what its usable grafts are projected to be in the end.

    ``off`` is how many more than planned are projected, negative where they fall short; 0 while chance may
    explain the difference, ``None`` before enough segments are finished.
    """

    planned: int
    projected: Projection | None
    off: int | None

    @property
    def words(self) -> str | None:
        """``short by 7 to 20``, ``7 to 20 spare``, ``enough``; ``None`` before enough segments are finished.

        The numbers are the ends of the range of the size alone, a graft at least.
        """
        if not self.off or self.projected is None:
            return None if self.off is None else "enough"
        way = 1 if self.off > 0 else -1
        sides = (self.projected.low, self.projected.high)
        ends = sorted(max(1, way * round(end - self.planned)) for end in sides)
        by = " to ".join(dict.fromkeys(grafts(each) for each in ends))
        return f"short by {by}" if self.off < 0 else f"{by} spare"


def course_by_size(plan: Plan, yielded: Yield) -> dict[str, Course]:
    """Every size of the plan in force, in its order, by what the harvest is projected to give."""
    chances = {
        size: chance_of(plan.planned(size), yielded.usable_by_size[size], projected)
        for size, projected in yielded.projected_by_size.items()
        if projected is not None and (plan.planned(size) or yielded.usable_by_size[size])
    }
    off = _off(chances) if yielded.enough else set()
    return {
        size: _course(plan.planned(size), projected if yielded.enough else None, off=size in off)
        for size, projected in yielded.projected_by_size.items()
    }


def chance_of(planned: int, usable: int, projected: Projection) -> float:
    """The chance of a projection at least so far from a plan that will be met, by Student's t."""
    if not projected.error or usable > planned:
        return float(planned == projected.grafts)
    return 2 * t_below(projected.degrees, -abs(projected.grafts - planned) / projected.error)


def _off(chances: Mapping[str, float]) -> set[str]:
    """The sizes that are off by more than chance explains: Holm's steps, the smallest chance first."""
    off = set()
    for place, size in enumerate(sorted(chances, key=lambda each: chances[each])):
        if chances[size] > WRONG_CALL / (len(chances) - place):
            break
        off.add(size)
    return off


def _course(planned: int, projected: Projection | None, *, off: bool) -> Course:
    """What is off by a part of a graft is shown as one graft."""
    if projected is None or not off:
        return Course(planned, projected, None if projected is None else 0)
    grafts_off = round(projected.grafts - planned)
    return Course(planned, projected, grafts_off or (1 if projected.grafts > planned else -1))
