"""How often something went wrong, as shares of what was done, each with its 95 % range.

Both ranges are given: Wilson's, close to 95 % on average, and the exact one of Clopper and Pearson, never
below, if each graft is as likely to be spoilt as the next. Within a case it is not (``ALIKE``): of 8 segments
of 100 grafts with a correlation of 0.02 within a segment the exact range holds it less than 85 % of the time.
"""

from collections import Counter
from collections.abc import Iterator
from math import sqrt
from statistics import NormalDist
from typing import Final, final

from msgspec import Struct

from orroom.case import events as e
from orroom.case.state import CaseState, once
from orroom.case.terms import DISCARD_REASONS, SIZE_KEYS, CheckSubject

LEVEL = 0.95

#: What is said with ranges of shares within a case, wherever they are shown.
ALIKE: Final = (
    "Ranges as if grafts were independent. Grafts of one segment, person or hour are alike, so the"
    " true range is wider; and of many rows some differ by chance alone."
)


@final
class Range(Struct, frozen=True):
    """Lower and upper end of the range of a share, 0 to 1."""

    low: float
    high: float


@final
class Proportion(Struct, frozen=True):
    """``count`` out of ``of``. More than one for each is not a share of a whole and has no range."""

    count: int
    of: int
    share: float
    wilson: Range | None
    exact: Range | None


def proportion(count: int, of: int) -> Proportion | None:
    """A share with its two-sided range, or ``None`` below one observation."""
    if of < 1:
        return None
    if not 0 <= count <= of:
        return Proportion(count, of, count / of, None, None)
    return Proportion(count, of, count / of, wilson_range(count, of), exact_range(count, of))


def wilson_range(count: int, of: int, level: float = LEVEL) -> Range:
    """Wilson's score range: the shares p with (count/of − p)² = z² p (1 − p) / of.

    E. B. Wilson, J Am Stat Assoc 1927;22:209–212 (from memory).
    """
    z = NormalDist().inv_cdf((1 + level) / 2)
    share = count / of
    middle = share + z * z / (2 * of)
    half = z * sqrt(share * (1 - share) / of + z * z / (4 * of * of))
    whole = 1 + z * z / of
    low = 0.0 if count == 0 else (middle - half) / whole
    high = 1.0 if count == of else (middle + half) / whole
    return Range(low, high)


def exact_range(count: int, of: int, level: float = LEVEL) -> Range:
    """Clopper and Pearson's range: shares at which this many, or so few, have a chance of (1 − level)/2.

    They are quantiles of beta distributions. C. J. Clopper, E. S. Pearson, Biometrika 1934;26:404–413 (from
    memory).
    """
    from scipy.special import betaincinv

    tail = (1 - level) / 2
    low = 0.0 if count == 0 else float(betaincinv(count, of - count + 1, tail))
    high = 1.0 if count == of else float(betaincinv(count + 1, of - count, 1 - tail))
    return Range(low, high)


class Quality(Struct, frozen=True):
    """One measure, in all (``who`` is ``None``) or of one person."""

    measure: str
    who: str | None
    proportion: Proportion


#: Measures shown by person as well: by whose hands it was.
BY_PERSON: Final = (
    "transected in cutting",
    "spoilt in cutting",
    "reseated",
    "spot check, cutting",
    "spot check, placing",
)


def quality(state: CaseState) -> tuple[Quality, ...]:
    """Every measure that there is an observation for: first in all, then by person in alphabetical order.

    - in cutting, transected or spoilt for any reason: of the grafts cut, those spoilt among them
    - discarded (in all, then by reason) and divided: of all grafts there were, cut or pieces of divided ones
    - reseated: of the grafts placed; a graft that popped twice counts twice
    - spot check: faulty of those looked at
    """
    counts, whole = _observed(state)
    measures = dict.fromkeys([*whole, *counts])
    found = [_quality(measure, None, counts, whole) for measure, who in measures if who is None]
    people = sorted({who for _, who in measures if who is not None})
    found += [_quality(measure, who, counts, whole) for measure in BY_PERSON for who in people]
    return tuple(each for each in found if each is not None)


_Counts = Counter[tuple[str, str | None]]


def _quality(measure: str, who: str | None, counts: _Counts, whole: _Counts) -> Quality | None:
    share = proportion(counts[measure, who], whole[measure, who])
    return None if share is None else Quality(measure, who, share)


@once
def _observed(state: CaseState) -> tuple[_Counts, _Counts]:
    """What happened and out of how many, by measure and person; the person ``None`` is everybody."""
    counts: _Counts = Counter()
    whole: _Counts = Counter()
    there_were = state.tally.held("cut") + state.tally.held("divided_in")
    reasons = {each.event.reason for each in state.standing() if isinstance(each.event, e.GraftsDiscarded)}
    for measure in BY_PERSON[:2]:
        whole[measure, None] = 0
    for measure in (
        "discarded",
        *(f"discarded, {each}" for each in DISCARD_REASONS if each in reasons),
        "divided",
    ):
        whole[measure, None] = there_were
    for entry in state.standing():
        for measure, count, of in observations(entry):
            counts[measure, None] += count
            whole[measure, None] += of
            if measure in BY_PERSON and (who := _whose(entry)) is not None:
                counts[measure, who] += count
                whole[measure, who] += of
    return counts, whole


def _whose(entry: e.Entry) -> str | None:
    """Whose hands an entry is about; ``None`` for a spot check of nobody's work in particular."""
    return entry.event.whose if isinstance(entry.event, e.SpotChecked) else e.doer(entry)


def observations(entry: e.Entry) -> Iterator[tuple[str, int, int]]:
    """What an entry adds: to which measure, to its count, to what it is out of."""
    match entry.event:
        case e.GraftsCut(count=count):
            yield "transected in cutting", 0, count
            yield "spoilt in cutting", 0, count
        case e.GraftsDiscarded(reason=reason, count=count, harvest=harvest):
            yield "discarded", count, 0
            yield f"discarded, {reason}", count, 0
            if harvest is not None:
                yield "transected in cutting", count if reason == "transected" else 0, count
                yield "spoilt in cutting", count, count
        case e.GraftsDivided(count=count):
            yield "divided", count, 0
        case e.GraftsPlaced(count=count):
            yield "reseated", 0, count
        case e.GraftReseated(count=count):
            yield "reseated", count, 0
        case e.SpotChecked(subject=subject, looked_at=looked_at, faulty=faulty):
            yield f"spot check, {subject}", faulty, looked_at


class Fault(Struct, frozen=True):
    """How many of the grafts looked at in spot checks had a fault: in all, or (``who``) of one's work."""

    subject: CheckSubject
    fault: str
    who: str | None
    proportion: Proportion


def faults(state: CaseState) -> tuple[Fault, ...]:
    """Every fault that spot checks found: first in all, then by person in alphabetical order.

    Of all grafts of the subject that were looked at, or of the person's among them; the most frequent first.
    """
    found: Counter[tuple[CheckSubject, str | None, str]] = Counter()
    looked_at: Counter[tuple[CheckSubject, str | None]] = Counter()
    for entry in state.standing():
        if isinstance(check := entry.event, e.SpotChecked):
            for who in dict.fromkeys((None, check.whose)):
                looked_at[check.subject, who] += check.looked_at
                for each in check.by_fault:
                    found[check.subject, who, each.fault] += each.count
    return tuple(
        Fault(subject, fault, who, share)
        for (subject, who, fault), count in sorted(
            found.items(), key=lambda each: (each[0][1] or "", each[0][0], -each[1], each[0][2])
        )
        if (share := proportion(count, looked_at[subject, who])) is not None
    )


class Follicles(Struct, frozen=True):
    """Follicles in spot-checked grafts, the transected as if independent; those of one graft are not."""

    grafts: int
    transected: Proportion

    @property
    def possible_per_graft(self) -> float:
        """Hairs per graft if every follicle were whole."""
        return self.transected.of / self.grafts

    @property
    def intact_per_graft(self) -> float:
        """Hairs per graft from the follicles that are whole."""
        return (self.transected.of - self.transected.count) / self.grafts


def follicles(state: CaseState) -> Follicles | None:
    """All spot checks that counted follicles together; ``None`` if none did.

    (intact, transected) of (1, 1), (3, 0), (2, 2): 3 of 9 follicles transected, 2.0 of 3.0 hairs per graft
    (notation as published, second-hand).
    """
    grafts = seen = transected = 0
    for entry in state.standing():
        match entry.event:
            case e.SpotChecked(looked_at=looked_at, follicles=int(found), transected=int(cut)):
                grafts, seen, transected = grafts + looked_at, seen + found, transected + cut
    share = proportion(transected, seen)
    return None if share is None or grafts < 1 else Follicles(grafts, share)


class DivisionLoss(Struct, frozen=True):
    """Hairs of divided grafts of one size that are in none of the pieces; per graft divided."""

    size: str
    divided: int
    hairs_lost: float | None
    lost_per_graft: float | None


def division_losses(state: CaseState) -> tuple[DivisionLoss, ...]:
    """By size divided, smallest first; none known with multi-unit grafts: their hairs are only a mean."""
    divided: Counter[str] = Counter()
    lost: dict[str, float] = {}
    unknown = set()
    for entry in state.standing():
        match entry.event:
            case e.GraftsDivided(size=size, into=into, count=count, hairs_lost=hairs_lost):
                divided[size] += count
                lost[size] = lost.get(size, 0.0) + hairs_lost
                if "M" in {size, *into}:
                    unknown.add(size)
    return tuple(
        DivisionLoss(size, divided[size], None, None)
        if size in unknown or divided[size] < 1
        else DivisionLoss(size, divided[size], lost[size], lost[size] / divided[size])
        for size in SIZE_KEYS
        if size in divided
    )
