"""How often something went wrong, as shares of what was done, each with its 95 % ranges (``shares.py``).

Grafts of one segment, of one lane in one zone, or of one spot check are alike: each of these is a cluster.
"""

from collections import Counter
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping
from typing import Final, TypeVar

from msgspec import Struct

from orroom.case import events as e
from orroom.case.state import SOURCES, CaseState, once
from orroom.case.terms import DISCARD_REASONS, SIZE_KEYS, CheckSubject
from orroom.figures.shares import CORRELATION, Proportion, clustered, design_effect, proportion
from orroom.figures.survival import HOUR_MS

#: What checks are added up by.
Group = TypeVar("Group")

#: What is said with ranges of shares within a case, wherever they are shown.
ALIKE: Final = (
    "Grafts of one segment, lane or check tend to be alike, so ranges are wider than for single"
    f" grafts: by how alike these were, or by a usual value ({CORRELATION:g}) where they are too few to show"
    " it. Among many rows, some are far off by chance alone."
)


class Quality(Struct, frozen=True):
    """One measure, in all (``who`` is ``None``) or of one person."""

    measure: str
    who: str | None
    proportion: Proportion


TRANSECTED: Final = "transected in cutting"
SPOILT: Final = "spoilt in cutting"
RESEATED: Final = "reseated"
#: Measures shown by person as well: by whose hands it was.
BY_PERSON: Final = (
    TRANSECTED,
    SPOILT,
    RESEATED,
    "spot check, cutting",
    "spot check, placing",
)


@once
def quality(state: CaseState) -> tuple[Quality, ...]:
    """Every measure that somebody looked at: first in all, then by person in alphabetical order.

    - in cutting, transected or spoilt for any reason: of the grafts cut, those spoilt among them
    - discarded (in all, then by reason) and divided: of all grafts there were, cut or pieces of divided ones
    - reseated: of the grafts placed; a graft that popped twice counts twice
    - spot check: faulty of those looked at
    """
    found, unseen = _observed(state), not_entered(state)
    looked_at = [measure for measure in BY_PERSON if measure not in unseen]
    people = sorted({who for _, who in found if who is not None})
    shares = [
        Quality(measure, who, share)
        for who in (None, *people)
        for measure in looked_at
        if (share := clustered(found.get((measure, who), {}).values())) is not None
    ]
    in_cutting = [each for each in shares if each.who is None and each.measure in (TRANSECTED, SPOILT)]
    others = [each for each in shares if each.who is None and each.measure not in (TRANSECTED, SPOILT)]
    by_person = [each for measure in looked_at for each in shares if each.who and each.measure == measure]
    return (*in_cutting, *_of_all(state), *others, *by_person)


def not_entered(state: CaseState) -> tuple[str, ...]:
    """Measures of which nothing was entered in this case: that does not mean that there was none.

    Grafts spoilt in cutting change no count of what waits, and reseated ones none of what is placed: a case
    in which nobody enters them reads like one without any.
    """
    events = [entry.event for entry in state.standing()]
    cut, placed, reseated = (
        any(isinstance(each, kind) for each in events)
        for kind in (e.GraftsCut, e.GraftsPlaced, e.GraftReseated)
    )
    spoilt = any(isinstance(each, e.GraftsDiscarded) and each.harvest is not None for each in events)
    return (
        *((TRANSECTED, SPOILT) if cut and not spoilt else ()),
        *((RESEATED,) if placed and not reseated else ()),
    )


#: By cluster, how many of how many.
Clusters = Mapping[Hashable, tuple[int, int]]


@once
def _observed(state: CaseState) -> Mapping[tuple[str, str | None], Clusters]:
    """How many of how many, by measure and person, and of these by cluster; ``None`` is everybody."""
    found: dict[tuple[str, str | None], dict[Hashable, tuple[int, int]]] = {}
    for entry, cluster in in_clusters(state):
        for measure, count, of in observations(entry):
            if measure in BY_PERSON:
                for who in dict.fromkeys((None, _whose(entry))):
                    add(found.setdefault((measure, who), {}), cluster, count, of)
    return found


def add(parts: dict[Hashable, tuple[int, int]], cluster: Hashable, count: int, of: int) -> None:
    """Add to the counts of a cluster."""
    before = parts.get(cluster, (0, 0))
    parts[cluster] = before[0] + count, before[1] + of


@once
def in_clusters(state: CaseState) -> tuple[tuple[e.Entry, Hashable], ...]:
    """Every standing entry with its cluster.

    Cutting: the segment that its person is cutting of the harvest; the hour, where the plan counts none.
    Placing: the lane, else the person, in one zone. A spot check is a cluster of its own.
    """
    segments: Counter[tuple[str, str]] = Counter()
    found: list[tuple[e.Entry, Hashable]] = []
    for entry in state.standing():
        cluster: Hashable = entry.seq
        match entry.event:
            case e.GraftsCut(harvest=str(harvest)) | e.GraftsDiscarded(harvest=str(harvest)):
                mine = (harvest, entry.stamp.who)
                strip = state.plan.harvest_by_key.get(harvest)
                by_segment = strip is not None and strip.segments is not None
                cluster = (*mine, segments[mine] if by_segment else entry.stamp.at_ms // HOUR_MS)
            case e.SegmentCut(harvest=harvest):
                segments[harvest, entry.stamp.who] += 1
            case e.GraftsPlaced(zone=zone, lane=lane) | e.GraftReseated(zone=zone, lane=lane):
                cluster = (zone, lane, e.doer(entry))
        found.append((entry, cluster))
    return tuple(found)


def _of_all(state: CaseState) -> Iterator[Quality]:
    """What was discarded, by reason too, and divided, of all grafts there were.

    In which cluster such a graft was is not known: ranges are those of clusters as large as what was cut.
    """
    there_were = sum(map(state.tally.held, SOURCES))
    counts: Counter[str] = Counter()
    for entry in state.standing():
        for measure, count, _ in observations(entry):
            counts[measure] += count
    cut = _observed(state).get((SPOILT, None), {})
    effective = there_were / design_effect([of for _, of in cut.values()])
    reasons = [f"discarded, {each}" for each in DISCARD_REASONS]
    for measure in ("discarded", *(each for each in reasons if each in counts), "divided"):
        if (share := proportion(counts[measure], there_were, effective)) is not None:
            yield Quality(measure, None, share)


def _whose(entry: e.Entry) -> str | None:
    """Whose hands an entry is about; ``None`` for a spot check of nobody's work in particular."""
    return entry.event.whose if isinstance(entry.event, e.SpotChecked) else e.doer(entry)


def observations(entry: e.Entry) -> Iterator[tuple[str, int, int]]:
    """What an entry adds: to which measure, to its count, to what it is out of."""
    match entry.event:
        case e.GraftsCut(count=count):
            yield TRANSECTED, 0, count
            yield SPOILT, 0, count
        case e.GraftsDiscarded(reason=reason, count=count, harvest=harvest):
            yield "discarded", count, 0
            yield f"discarded, {reason}", count, 0
            if harvest is not None:
                yield TRANSECTED, count if reason == "transected" else 0, count
                yield SPOILT, count, count
        case e.GraftsDivided(count=count):
            yield "divided", count, 0
        case e.GraftsPlaced(count=count):
            yield RESEATED, 0, count
        case e.GraftReseated(count=count):
            yield RESEATED, count, 0
        case e.SpotChecked(subject=subject, looked_at=looked_at, faulty=faulty):
            yield f"spot check, {subject}", faulty, looked_at


def counted(state: CaseState, measure: str) -> tuple[int, int]:
    """How many of how many a measure of ``observations`` is in all; 0 of 0 if nothing of it was entered."""
    if measure in not_entered(state):
        return 0, 0
    found = [
        (count, of)
        for entry in state.standing()
        for name, count, of in observations(entry)
        if name == measure
    ]
    return sum(count for count, _ in found), sum(of for _, of in found)


class Fault(Struct, frozen=True):
    """How many of the grafts looked at in spot checks had a fault: in all, or (``who``) of one's work."""

    subject: CheckSubject
    fault: str
    who: str | None
    proportion: Proportion


@once
def faults(state: CaseState) -> tuple[Fault, ...]:
    """Every fault that spot checks found: first in all, then by person in alphabetical order.

    Of all grafts of the subject that were looked at, or of the person's among them; the most frequent first.
    """
    found = faults_in(state, lambda _, check: dict.fromkeys((None, check.whose)))
    return tuple(
        Fault(subject, fault, who, share)
        for who, subject, fault, share in sorted(
            found, key=lambda each: (each[0] or "", each[1], -each[3].count, each[2])
        )
    )


def faults_in(
    state: CaseState, groups: Callable[[e.Entry, e.SpotChecked], Iterable[Group]]
) -> Iterator[tuple[Group, CheckSubject, str, Proportion]]:
    """In each of the groups that a check is of: the faults found, of all grafts of the subject looked at."""
    checks: dict[tuple[Group, CheckSubject], list[e.SpotChecked]] = {}
    for entry in state.standing():
        if isinstance(check := entry.event, e.SpotChecked):
            for group in groups(entry, check):
                checks.setdefault((group, check.subject), []).append(check)
    for (group, subject), theirs in checks.items():
        for fault in dict.fromkeys(each.fault for check in theirs for each in check.by_fault):
            share = clustered(
                (sum(each.count for each in check.by_fault if each.fault == fault), check.looked_at)
                for check in theirs
            )
            if share is not None:
                yield group, subject, fault, share


class Follicles(Struct, frozen=True):
    """Follicles in spot-checked grafts and the transected among them; those of one check are alike."""

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
    grafts = 0
    checks = []
    for entry in state.standing():
        match entry.event:
            case e.SpotChecked(looked_at=looked_at, follicles=int(found), transected=int(cut)):
                grafts += looked_at
                checks.append((cut, found))
    share = clustered(checks)
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
