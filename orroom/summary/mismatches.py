"""Where the record disagrees with the plan or with itself."""

from pydantic import Field

from orroom.case import mismatches as found
from orroom.case.state import CaseState
from orroom.summary.fields import Amount, Ours, Part


class MismatchSummary(Part):
    """A mismatch, how much it concerns in its unit, and its explanation, ``None`` while it is open."""

    mismatch: str = Field(description="key of the mismatch")
    amount: Amount = Field(description="how much, in the unit below")
    unit: Ours = Field(description="unit of the amount")
    sentence: str = Field(description="what disagrees")
    explanation: str | None = Field(description="the explanation; none while it is open")


def mismatches(state: CaseState) -> tuple[MismatchSummary, ...]:
    """Every mismatch, explained or open."""
    return tuple(MismatchSummary.read_off(each, mismatch=each.key) for each in found.mismatches(state))
