"""The re-plan: the division that costs least, as a proposal, with larger grafts divided where that pays."""

from collections.abc import Iterable, Mapping
from typing import Final, Literal, NamedTuple

from msgspec import Struct
from msgspec.structs import replace

from orroom.case.commands import RevisePlan
from orroom.case.events import ToDivide
from orroom.case.plan import Plan, Zone
from orroom.case.state import CaseState
from orroom.case.terms import MAX_TEXT
from orroom.figures.counts import by_size
from orroom.figures.replan.dividing import NOTHING, ways_now, whole_pieces
from orroom.figures.replan.problem import (
    ROUNDING,
    Aims,
    Counts,
    Problem,
    ZoneTask,
    aims_of,
    cost,
    hairs_in,
    plan_is_best,
    problem_of,
    used_of,
)
from orroom.figures.replan.program import Found, Solution, clash, solve
from orroom.figures.replan.words import (
    aims_sentences,
    clash_sentences,
    dividing_sentences,
    proposal_sentences,
)
from orroom.figures.yields import FEWEST_TO_ACT, yields

#: How long the solver may look. Common practice, no source: somebody waits for the answer.
SECONDS: Final = 2.0

#: How much cheaper another division may be without the search going on for it: a hair. To prove a quarter of
#: one takes the hardest problems twice as long, and what the harvest will give is not known to a graft.
#: Grafts are divided only to save more than that.
TOLERANCE: Final = 1.0


#: The source of a supply: asked for, projected from finished segments, the plan, or the plan because too
#: few segments are finished.
Source = Literal["given", "projected", "planned", "early"]


#: Why a projection is not used.
NOT_YET: Final = (
    f"What the segments will give is not projected yet: that takes {FEWEST_TO_ACT} finished segments of each"
    " harvest, or all if it has fewer."
)


class Supply(NamedTuple):
    """Usable grafts of a size in the end, those placed included, and where that number comes from."""

    grafts: int
    source: Source


class ZoneChange(Struct, frozen=True):
    """A zone in the plan in force and in the proposal: grafts by size, hairs in all, its area."""

    zone: Zone
    before: Mapping[str, int]
    after: Mapping[str, int]
    hairs_before: float
    hairs_after: float

    @property
    def grafts_before(self) -> int:
        """Grafts in the plan in force."""
        return sum(self.before.values())

    @property
    def grafts_after(self) -> int:
        """Grafts proposed."""
        return sum(self.after.values())

    def grafts_per_cm2(self) -> tuple[float, float]:
        """Grafts per cm² before and after."""
        area = self.zone.measured_cm2
        return self.grafts_before / area, self.grafts_after / area

    def hairs_per_cm2(self) -> tuple[float, float]:
        """Hairs per cm² before and after."""
        area = self.zone.measured_cm2
        return self.hairs_before / area, self.hairs_after / area


class SizeUse(Struct, frozen=True):
    """One size: what there will be, what dividing takes and gives, and what of it the proposal uses."""

    size: str
    label: str
    supply: Supply
    planned: int
    divided: int
    pieces: int
    used: int

    @property
    def left_over(self) -> int:
        """Grafts that the proposal has no place for."""
        return self.supply.grafts - self.divided + self.pieces - self.used


class Move(NamedTuple):
    """Grafts of one size in one zone: this many before, this many after."""

    zone: str
    size: str
    before: int
    after: int


class Proposal(Struct, frozen=True):
    """A division of the grafts there will be, for the surgeon to accept or dismiss.

    ``cost`` is in hairs (``problem.cost``). Another division costs less by ``gap`` hairs at most, as
    far as the solver has proven; ``None`` if it has proven nothing. ``stopped``: its time ran out.
    """

    plan: Plan
    zones: tuple[ZoneChange, ...]
    sizes: tuple[SizeUse, ...]
    moves: tuple[Move, ...]
    divide: tuple[ToDivide, ...]
    sentences: tuple[str, ...]
    cost: float
    gap: float | None
    stopped: bool

    @property
    def counts(self) -> dict[tuple[str, str], int]:
        """Grafts by zone and size."""
        return {(each.zone.key, size): count for each in self.zones for size, count in each.after.items()}

    @property
    def asks_for_something(self) -> bool:
        """Whether there is anything to accept."""
        return bool(self.moves or self.divide)


class NoProposal(Struct, frozen=True):
    """Why there is no division: what clashes, or that none was found in time."""

    sentences: tuple[str, ...]


def expected_supply(state: CaseState, given: Mapping[str, int] | None = None) -> dict[str, Supply]:
    """Usable grafts in the end by size: as given, else projected, else the plan's number or what is there.

    A projection is rounded to whole grafts. Where too few segments are finished (``Yield.enough``), what is
    usable now counts, and what the plan still expects on top of it. What is placed exists, whatever the
    record says of the cutting.
    """
    to_come = yields(state, 80)
    early = not to_come.enough and all(harvest.segments is not None for harvest in to_come.harvests)
    supply: dict[str, Supply] = {}
    for size, count in by_size(state).items():
        guess = to_come.projected_by_size.get(size) if to_come.enough else None
        if given is not None and size in given:
            supply[size] = Supply(given[size], "given")
        elif guess is not None:
            supply[size] = Supply(max(round(guess.grafts), count.placed), "projected")
        else:
            expected = max(count.planned, count.usable, count.placed)
            supply[size] = Supply(expected, "early" if early else "planned")
    return supply


def replan(
    plan: Plan,
    placed: Counts,
    supply: Mapping[str, Supply],
    aims: Aims | None = None,
    seconds: float = SECONDS,
    tolerance: float = TOLERANCE,
) -> Proposal | NoProposal:
    """The cheapest division of ``supply`` over the zones of ``plan``, or why there is none.

    Never less than what is ``placed`` (by zone and size), never more of a size than there will be, only sizes
    allowed in a zone, whole grafts, and what ``aims`` ask, else the plan's own.
    Raises ``ValueError`` for aims that mean nothing.
    """
    aims = aims or aims_of(plan)
    problem = problem_of(plan, placed, {size: each.grafts for size, each in supply.items()}, aims)
    before = problem.unchanged()
    each_seconds = seconds / 2 if problem.ways else seconds
    whole = _whole(problem, each_seconds, tolerance)
    best = _divided(problem, whole, each_seconds, tolerance)
    if best == "infeasible":
        return NoProposal(clash_sentences(plan, problem, clash(problem, seconds)))
    if best == "no time":
        return NoProposal((f"No division was found within {seconds:g} s.",))
    counts, divided, solution = best
    return Proposal(
        plan=plan,
        zones=tuple(_change(plan, problem, zone, counts) for zone in problem.zones),
        sizes=tuple(_use(plan, problem, size, supply[size], best) for size in problem.hairs),
        moves=tuple(Move(*key, before[key], counts[key]) for key in before if counts[key] != before[key]),
        divide=tuple(ToDivide(size=way.size, into=way.into, count=n) for way, n in divided.items()),
        sentences=(
            *dividing_sentences(problem, best, None if isinstance(whole, str) else whole),
            *proposal_sentences(plan, problem, best),
            *(aims_sentences(plan, aims) if aims_of(plan) != Aims() else ()),
            *([NOT_YET] if any(each.source == "early" for each in supply.values()) else []),
        ),
        cost=cost(problem, counts, divided),
        gap=solution.gap,
        stopped=solution.stopped,
    )


Answer = Found | Literal["infeasible", "no time"]


def _whole(problem: Problem, seconds: float, tolerance: float) -> Answer:
    """The best with no graft divided."""
    if plan_is_best(problem):
        return Found(problem.unchanged(), NOTHING, Solution((), 0.0, stopped=False))
    return solve(replace(problem, ways=()), seconds, tolerance)


def _divided(problem: Problem, whole: Answer, seconds: float, tolerance: float) -> Answer:
    """The best with grafts divided, if that is cheaper by more than ``tolerance``, else ``whole``."""
    if not problem.ways or whole == "no time" or plan_is_best(problem):
        return whole
    found = solve(problem, seconds, tolerance)
    if isinstance(whole, str):
        return found
    if isinstance(found, str):
        return whole._replace(solution=replace(whole.solution, gap=None, stopped=True))
    spared = cost(problem, whole.counts) - cost(problem, found.counts, found.divided)
    if spared > max(tolerance, ROUNDING):
        return found
    gap = None if found.solution.gap is None else max(0.0, found.solution.gap + spared)
    return whole._replace(solution=replace(found.solution, gap=gap))


def _change(plan: Plan, problem: Problem, task: ZoneTask, counts: Counts) -> ZoneChange:
    return ZoneChange(
        zone=plan.zone_by_key[task.key],
        before=task.before,
        after={size: counts[task.key, size] for size in problem.hairs},
        hairs_before=hairs_in(problem, task, problem.unchanged()),
        hairs_after=hairs_in(problem, task, counts),
    )


def _use(plan: Plan, problem: Problem, size: str, supply: Supply, best: Found) -> SizeUse:
    return SizeUse(
        size=size,
        label=plan.size_by_key[size].label,
        supply=supply,
        planned=sum(zone.before[size] for zone in problem.zones),
        divided=sum(count for way, count in best.divided.items() if way.size == size),
        pieces=whole_pieces(best.divided.items(), size),
        used=used_of(problem, best.counts, size),
    )


def aims_now(state: CaseState, also: Iterable[tuple[str, str]] = ()) -> Aims:
    """What the plan asks of a re-plan; dividing, ``also`` in these ways, with the losses of this record."""
    return replace(aims_of(state.plan), ways=ways_now(state, also))


def still_holds(proposal: Proposal, state: CaseState) -> bool:
    """Whether the plan is still the one the proposal is about, and no more is placed than it gives."""
    counts = proposal.counts
    return state.plan == proposal.plan and all(
        placed <= counts.get(key, 0) for key, placed in state.tally.placed.items()
    )


def revised_plan(plan: Plan, counts: Counts) -> Plan:
    """``plan`` with the grafts of ``counts`` (by zone and size) as targets, all else as it was.

    A zone that gets other numbers has targets from then on, also where it had a density. A size that it had a
    target for keeps one, were it 0. What was placed of a size that may not go there becomes no target, nor
    what was placed in a zone that is not treated.
    """
    return replace(plan, zones=tuple(replace(zone, **_targets(zone, counts)) for zone in plan.zones))


def _targets(zone: Zone, counts: Counts) -> dict[str, object]:
    may_go = {size: count for (key, size), count in counts.items() if key == zone.key and zone.takes(size)}
    planned = {str(size): count for size, count in zone.planned.items()}
    targets = {size: count for size, count in may_go.items() if count or size in planned}
    return {} if targets == planned else {"targets": targets, "density": None}


def revision(proposal: Proposal) -> RevisePlan:
    """The command that accepts a proposal."""
    return RevisePlan(
        plan=revised_plan(proposal.plan, proposal.counts),
        reason=reason_of(proposal, MAX_TEXT),
        divide=proposal.divide,
    )


def reason_of(proposal: Proposal, longest: int) -> str:
    """What the proposal changes, as the reason for revising the plan, in ``longest`` characters at most."""
    found = [
        *(f"divide {each.count} × {each.size} into {'+'.join(each.into)}" for each in proposal.divide),
        *(
            f"{proposal.plan.zone_by_key[move.zone].label} {move.size}: {move.before}→{move.after}"
            for move in proposal.moves
        ),
    ]
    for shown in range(len(found), -1, -1):
        more = f" and {len(found) - shown} more" if shown < len(found) else ""
        reason = f"re-plan accepted: {', '.join(found[:shown])}{more}"
        if len(reason) <= longest:
            break
    return reason
