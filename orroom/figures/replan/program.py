"""A mixed integer programme, put together row by row and solved by HiGHS, loaded then; the re-plan as one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import accumulate
from math import inf, isfinite
from typing import TYPE_CHECKING, Final, Literal, NamedTuple

from msgspec import Struct

from orroom.figures.replan.dividing import Divided, Way
from orroom.figures.replan.problem import (
    CHANGES,
    MISSING,
    RAISING,
    ROUNDING,
    Counts,
    Problem,
    ZoneTask,
    spans,
    used_of,
)

if TYPE_CHECKING:
    from highspy import HighsLp

#: A part of the cost that the solver need not prove, where it is given an amount that it need not.
_RELATIVE: Final = 0.001


#: What makes the way that is named first the cheaper of two that cost the same, and changes nothing else.
_FIRST: Final = 1e-5


class Solution(Struct, frozen=True):
    """The values of all variables, and by how much another cost may still be lower, as far as was proven.

    ``gap`` is 0 if none can, ``None`` if nothing was proven. ``stopped`` says that time ran out.
    """

    values: tuple[float, ...]
    gap: float | None
    stopped: bool


class Program:
    """Variables with a cost and bounds, and rows that bind sums of them. The cost is to be least."""

    def __init__(self) -> None:
        self._cost: list[float] = []
        self._bounds: list[tuple[float, float]] = []
        self._whole: list[bool] = []
        self._rows: list[tuple[tuple[tuple[int, float], ...], float, float]] = []

    def variable(self, cost: float = 0.0, low: float = 0.0, high: float = inf, *, whole: bool = False) -> int:
        """A new variable's number."""
        self._cost.append(cost)
        self._bounds.append((low, high))
        self._whole.append(whole)
        return len(self._cost) - 1

    def row(self, terms: Iterable[tuple[int, float]], low: float = -inf, high: float = inf) -> None:
        """Hold the sum of variables times factors between two limits."""
        self._rows.append((tuple(terms), low, high))

    def solve(self, seconds: float, tolerance: float = 0.0) -> Solution | Literal["infeasible", "no time"]:
        """The best values, or the best found within this many seconds, or why there are none.

        A cost within ``tolerance`` (or 0.1 %) of the least is good enough; with 0, only the least.
        """
        import highspy

        solver = highspy.Highs()
        for name, value in {
            "output_flag": False,
            "threads": 1,  # the other processors are the taps'
            "time_limit": seconds,
            "mip_abs_gap": tolerance,
            "mip_rel_gap": _RELATIVE if tolerance else 0.0,
        }.items():
            solver.setOptionValue(name, value)
        solver.passModel(self._model())
        solver.run()
        status, found = solver.getModelStatus(), solver.getInfo()
        if found.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
            proven = (highspy.HighsModelStatus.kInfeasible, highspy.HighsModelStatus.kUnboundedOrInfeasible)
            return "infeasible" if status in proven else "no time"
        gap = max(0.0, found.objective_function_value - found.mip_dual_bound)
        return Solution(
            tuple(solver.getSolution().col_value),
            gap if isfinite(gap) else None,
            stopped=status != highspy.HighsModelStatus.kOptimal,
        )

    def _model(self) -> HighsLp:
        import highspy

        model = highspy.HighsLp()
        model.num_col_, model.num_row_ = len(self._cost), len(self._rows)
        model.col_cost_ = self._cost
        model.col_lower_ = [low for low, _ in self._bounds]
        model.col_upper_ = [high for _, high in self._bounds]
        kinds = highspy.HighsVarType
        model.integrality_ = [kinds.kInteger if whole else kinds.kContinuous for whole in self._whole]
        model.row_lower_ = [low for _, low, _ in self._rows]
        model.row_upper_ = [high for _, _, high in self._rows]
        matrix = model.a_matrix_
        matrix.format_ = highspy.MatrixFormat.kRowwise
        matrix.start_ = [0, *accumulate(len(terms) for terms, _, _ in self._rows)]
        matrix.index_ = [variable for terms, _, _ in self._rows for variable, _ in terms]
        matrix.value_ = [factor for terms, _, _ in self._rows for _, factor in terms]
        return model


class Group(NamedTuple):
    """Rows that stand or fall together: what they hold, and the zone or size they are about."""

    kind: Literal["plan", "allowed", "placed", "supply", "most", "least"]
    key: str


def groups(problem: Problem) -> tuple[Group, ...]:
    """All groups of a problem; those that explain least come first."""
    zones = [zone.key for zone in problem.zones]
    return (
        *(Group("plan", key) for key in zones),
        *(Group("allowed", key) for key in zones),
        *(Group("placed", key) for key in zones),
        *(Group("supply", key) for key in problem.hairs),
        *(Group("most", key) for key in zones),
        *(Group("least", zone.key) for zone in problem.zones if zone.least_hairs is not None),
    )


class Found(NamedTuple):
    """The cheapest grafts by zone and size, what is divided for them, and what the solver says of it."""

    counts: Counts
    divided: Divided
    solution: Solution


def solve(problem: Problem, seconds: float, tolerance: float) -> Found | Literal["infeasible", "no time"]:
    """The cheapest division, or why there is none. For its counts, dividing costs the least there is."""
    program = Program()
    ways = _ways(program, problem)
    amounts = _bound(program, problem, ways, frozenset(groups(problem)))
    _priced(program, problem, amounts)
    found = program.solve(seconds, tolerance)
    if isinstance(found, str):
        return found
    counts = {key: round(found.values[amount]) for key, amount in amounts.items()}
    divided = _numbers(ways, found)
    if tolerance and divided:
        divided = _least_dividing(problem, counts, seconds, otherwise=divided)
    return Found(counts, divided, found)


def _numbers(ways: Ways, found: Solution) -> Divided:
    return {way: number for way, each in ways.items() if (number := round(found.values[each]))}


def _least_dividing(problem: Problem, counts: Counts, seconds: float, otherwise: Divided) -> Divided:
    """The cheapest dividing that these counts need: a tolerance leaves room for one that is not needed.

    Of ways as cheap as each other, the one that the plan names first.
    """
    program = Program()
    ways = _ways(program, problem, later=_FIRST)
    for size, supply in problem.supply.items():
        program.row(_taken(ways, size), high=supply - used_of(problem, counts, size))
    found = program.solve(seconds)
    return otherwise if isinstance(found, str) else _numbers(ways, found)


def clash(problem: Problem, seconds: float) -> tuple[Group, ...]:
    """Groups of an infeasible problem that cannot hold together, of which none can be spared.

    One group after the other is left out, and stays out if what is left still clashes (the deletion filter of
    Chinneck & Dravnieks, ORSA J Comput 1991;3(2):157-168, from memory).
    """
    kept = groups(problem)
    for group in kept:
        fewer = tuple(each for each in kept if each is not group)
        program = Program()
        _bound(program, problem, _ways(program, problem), frozenset(fewer))
        if program.solve(seconds) == "infeasible":
            kept = fewer
    return kept


Amounts = Mapping[tuple[str, str], int]  #: the variable of each zone and size
Ways = Mapping[Way, int]  #: the variable of each way to divide a graft


def _ways(program: Program, problem: Problem, later: float = 0.0) -> Ways:
    """The grafts divided each way as variables; each costs ``later`` more than the one named before it."""
    return {
        way: program.variable(cost=way.price(problem.hairs) + later * place, whole=True)
        for place, way in enumerate(problem.ways)
    }


def _taken(ways: Ways, size: str) -> list[tuple[int, float]]:
    """Grafts of a size that dividing takes, less the pieces that it gives."""
    terms = [(each, (way.size == size) - way.pieces(size)) for way, each in ways.items()]
    return [(each, factor) for each, factor in terms if factor]


def _bound(program: Program, problem: Problem, ways: Ways, held: frozenset[Group]) -> Amounts:
    """The grafts of each zone and size as variables, and the limits that these groups set."""
    amounts = {}
    for zone in problem.zones:
        for size in problem.hairs:
            low = zone.placed[size] if Group("placed", zone.key) in held else 0
            shut = size not in zone.allowed and Group("allowed", zone.key) in held
            amounts[zone.key, size] = program.variable(low=low, high=low if shut else inf, whole=True)
        here = [amounts[zone.key, size] for size in problem.hairs]
        hairs = list(zip(here, problem.hairs.values(), strict=True))
        if Group("plan", zone.key) in held:
            program.row(hairs, high=zone.most_hairs + ROUNDING)
        if Group("most", zone.key) in held:
            program.row([(amount, 1) for amount in here], high=zone.most_grafts)
        if zone.least_hairs is not None and Group("least", zone.key) in held:
            program.row(hairs, low=zone.least_hairs - ROUNDING)
    for size, supply in problem.supply.items():
        if Group("supply", size) in held:
            used = [(amounts[zone.key, size], 1) for zone in problem.zones]
            program.row([*used, *_taken(ways, size)], high=supply)
    return amounts


def _priced(program: Program, problem: Problem, amounts: Amounts) -> None:
    """The parts of ``problem.cost`` as variables. Rates rise, so cheaper pieces fill first."""
    for zone in problem.zones:
        hairs = _hairs(problem, zone, amounts)
        pieces = [
            program.variable(cost=piece.rate * weight, high=high - low)
            for weight, whole, scale in ((zone.weight, zone.hairs, MISSING), (1, zone.raised_hairs, RAISING))
            for piece, low, high in spans(whole, scale)
        ]
        program.row([*hairs, *((piece, 1) for piece in pieces)], low=zone.hairs + zone.raised_hairs)
        for size, before in zone.before.items():
            more, fewer = (
                [
                    (program.variable(cost=piece.rate, high=high - low), sign)
                    for piece, low, high in spans(zone.grafts, CHANGES)
                ]
                for sign in (-1, 1)
            )
            program.row([(amounts[zone.key, size], 1), *more, *fewer], low=before, high=before)
    for border in problem.borders:
        one, other = (problem.zones[place] for place in (border.one, border.other))
        excess = program.variable(cost=border.rate)
        step = [(amount, hairs / one.area_cm2) for amount, hairs in _hairs(problem, one, amounts)]
        step += [(amount, -hairs / other.area_cm2) for amount, hairs in _hairs(problem, other, amounts)]
        program.row([*step, (excess, -1)], high=border.step - border.ahead)
        program.row([*step, (excess, 1)], low=-border.step - border.ahead)


def _hairs(problem: Problem, zone: ZoneTask, amounts: Amounts) -> list[tuple[int, float]]:
    return [(amounts[zone.key, size], hairs) for size, hairs in problem.hairs.items()]
