"""Parts of a summary about single entries: care, discards, corrections, checks, notes, breaks."""

from __future__ import annotations

from typing import Annotated, Literal

from orroom.case.terms import CareKind, CheckSubject, DiscardReason
from orroom.summary.units import BySize, Celsius, Duration, Grafts, Moment, Part

Work = Literal["cutting", "making sites", "placing", "whole record"]


class Span(Part):
    """From the first to the last entry of one kind of work, by number."""

    work: Work
    first: Moment
    last: Moment
    duration_ms: Duration


class CareSummary(Part):
    """How one care round went: how many fell due, gaps and the time since the last, the band that is wanted.

    ``due`` = ``given`` + ``missed``.
    """

    care: str
    label: str
    kind: CareKind | None
    due: Annotated[int, "rounds"]
    given: Annotated[int, "rounds"]
    on_time: Annotated[int, "rounds"]
    missed: Annotated[int, "rounds"]
    missed_at_end: Annotated[int, "rounds"]
    latest_ms: Duration
    longest_gap_ms: Duration
    since_last_ms: Duration
    readings: Annotated[int, "readings"]
    low_c: Celsius
    high_c: Celsius
    lowest_c: Celsius
    highest_c: Celsius
    out_of_band: Annotated[int, "readings"]

    @property
    def wanted(self) -> str:
        """The band of a temperature in words."""
        if self.low_c is None:
            return f"wanted to {self.high_c:g} °C"
        if self.high_c is None:
            return f"wanted from {self.low_c:g} °C"
        return f"wanted {self.low_c:g} to {self.high_c:g} °C"


class CareTime(Part):
    """One round as it was given; ``due_at`` and ``late_ms`` are ``None`` if nothing was due then."""

    at: Moment
    care: str
    label: str
    who: str
    due_at: Moment | None
    late_ms: Duration
    on_time: bool
    temperature_c: Celsius
    band: Literal["below", "in", "above"] | None


class CarePause(Part):
    """A prompt that somebody let rest."""

    at: Moment
    care: str
    label: str
    who: str
    until: Moment


class DiscardSummary(Part):
    """Grafts given up for one reason: while cutting, before they were counted, or later."""

    reason: DiscardReason
    in_cutting: BySize
    later: BySize
    grafts: Grafts


class Revision(Part):
    """A changed plan, why, and how many grafts it plans in all."""

    seq: int
    at: Moment
    who: str
    reason: str
    planned: Grafts


class Correction(Part):
    """An entry that was cancelled: what it said and whose it was; who cancelled it, when and why.

    Or a placing that was moved: ``zone`` is then where its grafts went, ``None`` at all others.
    """

    seq: int
    at: Moment
    who: str
    reason: str
    entry: int
    said: str
    entered_at: Moment
    entered_by: str
    zone: str | None
    label: str | None


class SpotCheck(Part):
    """A close look at a few grafts."""

    at: Moment
    who: str
    subject: CheckSubject
    zone: str | None
    label: str | None
    looked_at: Grafts
    faulty: Grafts
    fault: str | None
    follicles: Annotated[int | None, "follicles"]
    transected: Annotated[int | None, "follicles"]


class SpotCheckTotal(Part):
    """All close looks at one subject together."""

    subject: CheckSubject
    checks: Annotated[int, "checks"]
    looked_at: Grafts
    faulty: Grafts


class Remark(Part):
    """A note, or the reason for which the case was reopened."""

    seq: int
    at: Moment
    who: str
    text: str


class Break(Part):
    """A break; ``until`` is ``None`` if its end was not entered."""

    who: str
    since: Moment
    until: Moment | None
