"""What is told of the end of a case: the final count, and who closed it."""

from __future__ import annotations

from orroom.case import events as e
from orroom.case.final_count import all_counts, found_in, person_counts
from orroom.case.state import CaseState
from orroom.case.terms import SIGN_OUT
from orroom.figures.recount import recount
from orroom.figures.wording import NO_DATA
from orroom.summary import closing_parts as part
from orroom.words.entries import size_label


def sign_off(state: CaseState) -> part.SignOff | None:
    """Who signed the case off last, ``None`` while it is open."""
    made = _sign_offs(state)
    return made[-1] if state.tally.signed_off and made else None


def earlier_sign_offs(state: CaseState) -> tuple[part.SignOff, ...]:
    """Every sign-off that a reopening ended, in order."""
    made = _sign_offs(state)
    return made[:-1] if state.tally.signed_off else made


def _sign_offs(state: CaseState) -> tuple[part.SignOff, ...]:
    return tuple(
        part.SignOff(
            at=entry.stamp.at_ms,
            who=entry.stamp.who,
            second=entry.event.second,
            confirmed=None
            if entry.event.confirmed is None
            else tuple(SIGN_OUT[item] for item in entry.event.confirmed),
        )
        for entry in state.log
        if isinstance(entry.event, e.CaseSignedOff)
    )


def left_open(state: CaseState) -> tuple[part.LeftOpen, ...]:
    """Everything that any sign-off left open, in order; an older record names only a difference."""
    return tuple(
        part.LeftOpen(
            at=entry.stamp.at_ms,
            mismatch=each.key,
            sentence=each.sentence,
            open_because=each.because,
            told=each.told,
        )
        for entry in state.log
        if isinstance(entry.event, e.CaseSignedOff)
        for each in _answered(entry.event)
    )


def _answered(event: e.CaseSignedOff) -> tuple[e.LeftOpen, ...]:
    if event.left_open is not None or event.open_because is None:
        return event.left_open or ()
    sentence = "a difference of the final count"
    old = e.LeftOpen(
        key="difference", sentence=sentence, because=event.open_because, told=event.told or NO_DATA
    )
    return (old,)


def final_count(state: CaseState) -> part.FinalCount | None:
    """The two counts that hold, ``None`` while there are not two."""
    counts = person_counts(state)
    if len(counts) < 2:
        return None
    first, second = counts
    return part.FinalCount(
        first_by=first.who,
        first_at=first.at_ms,
        second_by=second.who,
        second_at=second.at_ms,
        differences=len(recount(state, first.found, second.found).differences),
    )


def counts_made(state: CaseState) -> tuple[part.CountMade, ...]:
    """Every count, also those that another replaced or that grafts moved after."""
    holding = {each.seq for each in person_counts(state)}
    return tuple(
        part.CountMade(
            seq=entry.seq,
            at=entry.stamp.at_ms,
            who=entry.stamp.who,
            grafts=sum(found_in(state, entry.event).values()),
            holds=entry.seq in holding,
        )
        for entry in all_counts(state)
        if isinstance(entry.event, e.FinalCounted)
    )


def counted(state: CaseState) -> tuple[part.CountedPile, ...]:
    """Every pile of the two counts that hold, beside the tally."""
    counts = person_counts(state)
    if len(counts) < 2:
        return ()
    return tuple(
        part.CountedPile(
            size=each.pile.size,
            label=size_label(state.plan, each.pile.size),
            lot=each.pile.lot,
            place=each.pile.place,
            tally=each.expected,
            first=each.first,
            second=each.second,
            agrees=each.agrees,
            explanation="; ".join(f"{why.cause}: {why.sentence}" for why in each.explanations) or None,
        )
        for each in recount(state, counts[0].found, counts[1].found).piles
    )
