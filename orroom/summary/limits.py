"""Limits of the plan that were broken, and what was done about each."""

from typing import Annotated

from pydantic import Field

from orroom.case.limits import broken_limits
from orroom.case.state import CaseState
from orroom.figures.pace.work import end_of_work_ms
from orroom.summary.fields import Moment, Part, Text


class BrokenLimit(Part):
    """A broken limit; ``done``, ``who`` and ``done_at`` are ``None`` if nobody said what was done."""

    limit: str = Field(description="key of the limit")
    at: Moment = Field(description="when it was first broken, or when that was entered")
    sentence: str = Field(description="what broke it")
    done: str | None = Field(description="what was done about it; none if nobody said")
    who: Annotated[str | None, Text.PERSON] = Field(description="who said so")
    done_at: Moment | None = Field(description="when they said so")


def limits(state: CaseState) -> tuple[BrokenLimit, ...]:
    """Every limit that was broken, in order of time; broken again after an answer it is listed again."""
    return tuple(
        BrokenLimit.read_off(
            each,
            limit=each.key,
            done=each.answer and each.answer.done,
            who=each.answer and each.answer.who,
            done_at=each.answer and each.answer.at_ms,
        )
        for each in broken_limits(state, end_of_work_ms(state))
    )
