"""What a re-plan has to decide, as numbers, and what a division of grafts costs; no solver is in it.

The cost of a division is counted in hairs. The plan itself costs nothing, unless zones are to be raised
above it.

- **Missing hairs.** What a zone lacks of the hairs its plan promised, times the zone's weight, times a rate
  that rises from 1 to 6 with the share that it lacks (``MISSING``): so no zone pays for all.
- **Steps.** Where two neighbours would differ by more hairs per cm² than the plan had them differ, the
  excess on the smaller of them, at a low rate: levelling down with grafts that exist never pays.
- **Changes.** Each graft more or fewer than the plan, by size and zone, at a low rate that rises with the
  share of the zone's grafts (``CHANGES``): so no zone's mix of sizes changes for all.
- **Raising**, only where asked for: hairs that a zone still lacks of plan plus the share asked for, without
  zone weights, so that zones rise together.
- **Dividing**, only where allowed: each cut, and each hair that it loses (``Way.price``).
"""

from collections.abc import Iterator, Mapping
from itertools import pairwise
from math import floor, inf, isfinite
from typing import Final, NamedTuple

from msgspec import Struct, field

from orroom.case.plan import Plan, Zone, wrong_with_pieces
from orroom.case.terms import Side
from orroom.figures.replan.dividing import NOTHING, Divided, Way, after, ways_of

Counts = Mapping[tuple[str, str], int]  #: grafts by (zone, size)

#: A density that is met but for rounding counts as met.
ROUNDING: Final = 1e-6


class Piece(NamedTuple):
    """What is amiss costs ``rate`` each, up to this share of the whole."""

    up_to: float
    rate: float


#: Rates must rise. Common practice, no source: that all zones give a little before one gives much. The pieces
#: are short where a re-plan mostly falls, so that zones of equal weight come out about equal.
MISSING: Final = (
    *(Piece(0.025 * piece, 0.5 + 0.5 * piece) for piece in (1, 2, 3, 4)),
    *(Piece(0.1 + 0.05 * piece, 2.5 + 0.5 * piece) for piece in (1, 2)),
    Piece(0.3, 4),
    Piece(0.4, 4.5),
    Piece(0.6, 5),
    Piece(1, 6),
)

#: A graft of one size more or fewer, by share of the zone's planned grafts. Below any missing hair's rate: a
#: change never pays unless a zone gains by it. Common practice, no source.
CHANGES: Final = (Piece(0.05, 0.1), Piece(0.15, 0.15), Piece(inf, 0.25))

#: A hair that a zone lacks of the raised plan, by share of the raise. Between the rates of ``CHANGES`` and of
#: ``MISSING``, so that raising never takes from another zone's plan. Common practice, no source.
RAISING: Final = (Piece(0.25, 0.3), Piece(0.5, 0.4), Piece(0.75, 0.5), Piece(1, 0.6))


class Weights(Struct, frozen=True):
    """How much each part of the cost weighs. Every default is common practice, no source."""

    #: The zone placed first; the last has 1, those between lie evenly. Zones of one kind placed one after the
    #: other have the same, so that left and right do. Mild: the back gives before the front, but not all.
    front: float = 1.5
    #: A hair of a step beyond the plan's, shared among a zone's neighbours. Must stay below 1.
    step: float = 0.5
    #: Factor of zones on the side the hair is combed from: they are looked at.
    combing_side: float = 1.25
    #: Factor of the vertex's upper arc: hair from there falls over what lies below.
    upper_arc: float = 1.25


class Aims(Struct, frozen=True):
    """What the surgeon asks of a re-plan beyond the plan. Nothing is asked by default."""

    least_hairs_per_cm2: Mapping[str, float] = field(default_factory=dict)  #: by zone
    most_grafts_per_cm2: Mapping[str, float] = field(default_factory=dict)  #: by zone
    zone_weights: Mapping[str, float] = field(default_factory=dict)  #: by zone, instead of by placing order
    combing_side: Side | None = None
    upper_arc: tuple[str, ...] = ()  #: zones
    raise_share: float = 0.0  #: up to this share above the plan's hairs, where grafts are left over
    ways: tuple[Way, ...] = ()  #: how larger grafts may be divided
    weights: Weights = Weights()


class ZoneTask(Struct, frozen=True):
    """One zone as the re-plan sees it. Grafts by size; hairs and grafts are counts, not densities.

    ``before`` is the plan; for a size that may not go there it is what is placed there all the same, so that
    it replaces no size that was promised. ``hairs`` are those of ``before``.
    """

    key: str
    area_cm2: float
    weight: float
    hairs: float
    raised_hairs: float
    before: Mapping[str, int]
    grafts: int
    placed: Mapping[str, int]
    allowed: tuple[str, ...]
    most_hairs: float
    most_grafts: int
    most_asked: bool  #: ``most_grafts`` is the surgeon's own, not the plan's or the mark of dense packing
    least_hairs: float | None


class Border(NamedTuple):
    """Two neighbours by their place in the list, the plan's step in hairs/cm², and what a hair/cm² costs.

    ``ahead`` is how many more hairs/cm² the first has already, where the plan gives that of both.
    """

    one: int
    other: int
    step: float
    rate: float
    ahead: float = 0.0


class Problem(Struct, frozen=True):
    """All that a division is found from."""

    hairs: Mapping[str, float]  #: per graft, by size
    supply: Mapping[str, int]  #: by size, what is placed included
    zones: tuple[ZoneTask, ...]
    borders: tuple[Border, ...]
    ways: tuple[Way, ...] = ()

    def unchanged(self) -> dict[tuple[str, str], int]:
        """The plan as a division."""
        return {(zone.key, size): zone.before[size] for zone in self.zones for size in self.hairs}


def problem_of(plan: Plan, placed: Counts, supply: Mapping[str, int], aims: Aims) -> Problem:
    """The problem of a plan in force, with what is placed in it and the grafts there will be by size.

    A zone takes the sizes of its ``allowed``; where the plan leaves that open, those it has a target for.
    What else was placed there stays. Raises ``ValueError`` for aims or a supply that mean nothing.
    """
    _check(plan, supply, aims)
    hairs = {str(size.key): size.hairs for size in plan.sizes}
    weights = _weights(plan, aims)
    zones = tuple(
        _task(plan, zone, {size: placed.get((zone.key, size), 0) for size in hairs}, weights[zone.key], aims)
        for zone in plan.zones
    )
    beside = [
        (one, other)
        for one, first in enumerate(plan.zones)
        for other, second in enumerate(plan.zones[one + 1 :], one + 1)
        if (second.key in first.neighbours or first.key in second.neighbours)
        and zones[one].hairs
        and zones[other].hairs  # what grows where nothing is planned is not known
    ]
    touching = [sum(place in pair for pair in beside) for place in range(len(zones))]
    ahead = {pair: _ahead(*(plan.zones[place] for place in pair)) for pair in beside}
    borders = tuple(
        Border(
            one,
            other,
            abs(
                zones[one].hairs / zones[one].area_cm2
                - zones[other].hairs / zones[other].area_cm2
                + ahead[one, other]
            ),
            aims.weights.step
            * min(zones[one].area_cm2, zones[other].area_cm2)
            * min(zones[one].weight, zones[other].weight)
            / max(touching[one], touching[other]),
            ahead[one, other],
        )
        for one, other in beside
    )
    return Problem(hairs, dict(supply), zones, borders, aims.ways)


def _ahead(one: Zone, other: Zone) -> float:
    first, second = one.existing_hairs_per_cm2, other.existing_hairs_per_cm2
    return 0.0 if first is None or second is None else first - second


def aims_of(plan: Plan) -> Aims:
    """What the plan itself asks of a re-plan."""
    return Aims(
        least_hairs_per_cm2=_by_zone(plan, "least_hairs_per_cm2"),
        most_grafts_per_cm2=_by_zone(plan, "most_grafts_per_cm2"),
        combing_side=plan.combing_side,
        upper_arc=tuple(zone.key for zone in plan.zones if zone.upper_arc),
        raise_share=plan.raise_share or 0.0,
        ways=ways_of(plan),
    )


def _by_zone(plan: Plan, name: str) -> dict[str, float]:
    return {zone.key: value for zone in plan.zones if (value := getattr(zone, name)) is not None}


def _check(plan: Plan, supply: Mapping[str, int], aims: Aims) -> None:
    by_zone = (aims.least_hairs_per_cm2, aims.most_grafts_per_cm2, aims.zone_weights)
    for zone in [*aims.upper_arc, *(key for each in by_zone for key in each)]:
        if zone not in plan.zone_by_key:
            raise ValueError(f"the plan has no zone {zone}")
    for value in (value for each in by_zone for value in each.values()):
        if not (isfinite(value) and value > 0):
            raise ValueError(f"{value} is not a density or weight; use one above 0")
    if not 0 <= aims.raise_share <= 1:
        raise ValueError(f"{aims.raise_share} is not a share; use 0 to 1")
    for way in aims.ways:
        if wrong := wrong_with_pieces(way.size, way.into, {str(size.key): size.hairs for size in plan.sizes}):
            raise ValueError(f"a {way.size} divided into {' + '.join(way.into)}: {wrong}")
    if set(supply) != set(plan.size_by_key) or any(count < 0 for count in supply.values()):
        raise ValueError("set a supply of 0 or more for each size of the plan and no other")


def _task(plan: Plan, zone: Zone, placed: Mapping[str, int], weight: float, aims: Aims) -> ZoneTask:
    hairs = {str(size.key): size.hairs for size in plan.sizes}
    planned, area = zone.planned, zone.measured_cm2
    allowed = tuple(size for size in hairs if size in (planned if zone.allowed is None else zone.allowed))
    before = {size: planned.get(size, 0) if size in allowed else placed[size] for size in hairs}
    promised = sum(hairs[size] * count for size, count in before.items())
    stands = {size: max(before[size], placed[size]) for size in hairs}
    grafts = sum(stands.values())
    mark = floor(plan.limits.dense_grafts_per_cm2 * area + ROUNDING)
    most, least = aims.most_grafts_per_cm2.get(zone.key), aims.least_hairs_per_cm2.get(zone.key)
    return ZoneTask(
        key=zone.key,
        area_cm2=area,
        weight=weight,
        hairs=promised,
        raised_hairs=promised * aims.raise_share,
        before=before,
        grafts=sum(before.values()),
        placed=placed,
        allowed=allowed,
        most_hairs=sum(hairs[size] * count for size, count in stands.items()) + promised * aims.raise_share,
        # by default no denser than the plan, or than the surgeon's own mark of dense packing
        most_grafts=max(floor(grafts * (1 + aims.raise_share)), mark)
        if most is None
        else floor(most * area + ROUNDING),
        most_asked=most is not None,
        least_hairs=None if least is None else least * area,
    )


def _weights(plan: Plan, aims: Aims) -> dict[str, float]:
    """From placing order or as given, times the factors of combing side and upper arc; the lowest is 1."""
    ranks = [0]
    for before, zone in pairwise(plan.zones):
        ranks.append(ranks[-1] + (zone.kind is None or zone.kind != before.kind))
    weights = {}
    for rank, zone in zip(ranks, plan.zones, strict=True):
        behind = 1 - rank / max(1, ranks[-1])
        weight = aims.zone_weights.get(zone.key, 1 + (aims.weights.front - 1) * behind)
        if aims.combing_side is not None and zone.side == aims.combing_side:
            weight *= aims.weights.combing_side
        if zone.key in aims.upper_arc:
            weight *= aims.weights.upper_arc
        weights[zone.key] = weight
    lowest = min(weights.values())
    return {zone: weight / lowest for zone, weight in weights.items()}


def hairs_in(problem: Problem, zone: ZoneTask, counts: Counts) -> float:
    """Hairs a division gives to a zone."""
    return sum(hairs * counts[zone.key, size] for size, hairs in problem.hairs.items())


def used_of(problem: Problem, counts: Counts, size: str) -> int:
    """Grafts of a size that a division places."""
    return sum(counts[zone.key, size] for zone in problem.zones)


def fits(problem: Problem, counts: Counts, divided: Divided = NOTHING) -> bool:
    """Whether a division keeps every limit, with these larger grafts divided."""
    for zone in problem.zones:
        here = {size: counts[zone.key, size] for size in problem.hairs}
        hairs = hairs_in(problem, zone, counts)
        if (
            any(count < zone.placed[size] for size, count in here.items())
            or any(count > zone.placed[size] for size, count in here.items() if size not in zone.allowed)
            or sum(here.values()) > zone.most_grafts
            or hairs > zone.most_hairs + ROUNDING
            or (zone.least_hairs is not None and hairs < zone.least_hairs - ROUNDING)
        ):
            return False
    there = after(problem.supply, divided)
    return all(used_of(problem, counts, size) <= count for size, count in there.items())


def plan_is_best(problem: Problem) -> bool:
    """Whether the plan itself is surely the cheapest: it costs nothing, or promises just what there is.

    In the second case one zone could only rise by what another then lacks, which always costs more.
    """
    plan = problem.unchanged()
    promised = {size: sum(zone.before[size] for zone in problem.zones) for size in problem.hairs}
    return fits(problem, plan) and (cost(problem, plan) == 0 or promised == problem.supply)


def cost(problem: Problem, counts: Counts, divided: Divided = NOTHING) -> float:
    """What a division costs, in hairs; the parts are explained at the top of this module. Lower is better."""
    whole = sum(way.price(problem.hairs) * count for way, count in divided.items())
    for zone in problem.zones:
        got = hairs_in(problem, zone, counts)
        whole += zone.weight * _stepwise(max(0.0, zone.hairs - got), zone.hairs, MISSING)
        above = min(zone.raised_hairs, max(0.0, got - zone.hairs))
        whole += _stepwise(zone.raised_hairs - above, zone.raised_hairs, RAISING)
        whole += sum(
            _stepwise(abs(counts[zone.key, size] - before), zone.grafts, CHANGES)
            for size, before in zone.before.items()
        )
    densities = [hairs_in(problem, zone, counts) / zone.area_cm2 for zone in problem.zones]
    for border in problem.borders:
        step = abs(densities[border.one] - densities[border.other] + border.ahead)
        whole += border.rate * max(0.0, step - border.step)
    return whole


def _stepwise(lacking: float, whole: float, pieces: tuple[Piece, ...]) -> float:
    """What lacking hairs cost, each at the rate of the piece it falls in."""
    return sum(
        piece.rate * min(max(0.0, lacking - low), high - low) for piece, low, high in spans(whole, pieces)
    )


def spans(whole: float, pieces: tuple[Piece, ...]) -> Iterator[tuple[Piece, float, float]]:
    """Each piece with the hairs it reaches from and to."""
    low = 0.0
    for piece in pieces:
        high = piece.up_to * whole if isfinite(piece.up_to) else inf
        yield piece, low, high
        low = high
