"""Whether cutting is heading for the plan, size by size: short of it, over it, or on course."""

from __future__ import annotations

from dataclasses import dataclass

from orroom.case.plan import Plan
from orroom.figures.wording import grafts
from orroom.figures.yields import Projection, Yield


@dataclass(frozen=True, slots=True)
class Course:
    """One size: the plan, and what its usable grafts are projected to be in the end.

    ``off`` is how many more than planned are projected, negative where they fall short; 0 while the 80 %
    limits hold the plan, ``None`` while nothing can be projected.
    """

    planned: int
    projected: Projection | None
    off: int | None

    @property
    def words(self) -> str | None:
        """``short by 40``, ``40 over``, ``on course``; ``None`` while nothing can be projected."""
        if not self.off:
            return None if self.off is None else "on course"
        return f"short by {grafts(-self.off)}" if self.off < 0 else f"{grafts(self.off)} over"


def course_by_size(plan: Plan, harvest: Yield) -> dict[str, Course]:
    """Every size of the plan in force, in its order, by what the harvest is projected to give at 80 %."""
    return {
        size: _course(plan.planned(size), projected) for size, projected in harvest.projected_by_size.items()
    }


def _course(planned: int, projected: Projection | None) -> Course:
    """Limits that exclude the plan by a part of a graft are told as one graft."""
    if projected is None:
        return Course(planned, None, None)
    if projected.low <= planned <= projected.high:
        return Course(planned, projected, 0)
    off = round(projected.grafts - planned)
    return Course(planned, projected, off or (1 if projected.grafts > planned else -1))
