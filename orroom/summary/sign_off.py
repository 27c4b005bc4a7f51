"""Who closed the case, what was left open, and why it was opened again."""

from pydantic import Field

from orroom.case import events as e
from orroom.case.closing import open_at_sign_off
from orroom.case.state import CaseState
from orroom.case.terms import SIGN_OUT
from orroom.figures.wording import NO_DATA
from orroom.summary.fields import EnteredAt, EnteredBy, Moment, Part, Person
from orroom.summary.notes import Remark


class SignOff(Part):
    """Who closed the case, with whom, when.

    ``confirmed`` are the sign-out items said aloud (WHO Surgical Safety Checklist 2009), ``None`` if nobody
    was asked.
    """

    at: EnteredAt
    who: EnteredBy
    second: Person = Field(description="who signed off with them")
    confirmed: tuple[str, ...] | None = Field(description="sign-out items said aloud")


class StillOpen(Part):
    """Something that is open: a mismatch, or what the final count left (``orroom.case.closing``)."""

    mismatch: str = Field(description="key of the mismatch, or of what the final count left open")
    sentence: str = Field(description="what is open")


class LeftOpen(Part):
    """Something that was open when the case was signed off ``at`` a time, why, and who was informed.

    ``mismatch`` is the key of a mismatch or of what the final count left open (``orroom.case.closing``).
    """

    at: Moment = Field(description="when the case was signed off")
    mismatch: str = Field(description="key of the mismatch, or of what the final count left open")
    sentence: str = Field(description="what disagrees")
    open_because: str = Field(description="why it was left open")
    informed: Person = Field(description="who was informed")


def still_open(state: CaseState) -> tuple[StillOpen, ...]:
    """Everything that is open now, each thing once."""
    return tuple(StillOpen.read_off(each, mismatch=each.key) for each in open_at_sign_off(state))


def sign_off(state: CaseState) -> SignOff | None:
    """Who signed the case off last, ``None`` while it is open."""
    made = _sign_offs(state)
    return made[-1] if state.tally.signed_off and made else None


def earlier_sign_offs(state: CaseState) -> tuple[SignOff, ...]:
    """Every sign-off that a reopening ended, in order."""
    made = _sign_offs(state)
    return made[:-1] if state.tally.signed_off else made


def _sign_offs(state: CaseState) -> tuple[SignOff, ...]:
    return tuple(
        SignOff.read_off(
            entry.stamp,
            entry.event,
            confirmed=None
            if entry.event.confirmed is None
            else tuple(SIGN_OUT[item] for item in entry.event.confirmed),
        )
        for entry in state.log
        if isinstance(entry.event, e.CaseSignedOff)
    )


def left_open(state: CaseState) -> tuple[LeftOpen, ...]:
    """Everything that any sign-off left open, in order; an older record names only a difference."""
    return tuple(
        LeftOpen.read_off(each, entry.stamp, mismatch=each.key, open_because=each.because)
        for entry in state.log
        if isinstance(entry.event, e.CaseSignedOff)
        for each in _answered(entry.event)
    )


def _answered(event: e.CaseSignedOff) -> tuple[e.LeftOpen, ...]:
    if event.left_open is not None or event.open_because is None:
        return event.left_open or ()
    sentence = "a difference in the final count"
    old = e.LeftOpen(
        key="difference", sentence=sentence, because=event.open_because, informed=event.informed or NO_DATA
    )
    return (old,)


def reopenings(state: CaseState) -> tuple[Remark, ...]:
    """Every reopening with its reason."""
    return tuple(
        Remark.read_off(entry, entry.stamp, text=entry.event.reason)
        for entry in state.standing()
        if isinstance(entry.event, e.CaseReopened)
    )
