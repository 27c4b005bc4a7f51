"""The re-plan: best by brute force on small cases, within every limit on any, and what it says of itself."""

from __future__ import annotations

import random
import re
import subprocess
import sys
from itertools import product
from pathlib import Path
from typing import NamedTuple

import pytest
from cases import case_under_way, opened_case, small_plan
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec import structs
from msgspec.structs import replace
from replans import HAIRS, ONE_HARVEST, Placed, a_full_plan, cut_segments, plan_of, supply_of, zone
from stations import entered, new_case, read_case, station

from orroom.case import commands as c
from orroom.case.events import PlanRevised
from orroom.case.plan import DensityTarget, Harvest, Limits, Plan, Zone
from orroom.case.state import CaseState
from orroom.case.terms import MAX_TEXT
from orroom.cli import main
from orroom.figures.replan.dividing import Way
from orroom.figures.replan.problem import (
    CHANGES,
    MISSING,
    RAISING,
    Aims,
    Problem,
    aims_of,
    cost,
    fits,
    problem_of,
)
from orroom.figures.replan.program import Program
from orroom.figures.replan.proposal import (
    NOT_YET,
    TOLERANCE,
    NoProposal,
    Proposal,
    Supply,
    expected_supply,
    reason_of,
    replan,
    revised_plan,
    still_holds,
)
from orroom.files.plan_file import load_plan
from orroom.words.replan import PROPOSAL_ONLY, proof_sentence, replan_text, sites_sentences

#: Fields of a zone that ask something of a re-plan.
ASKED = ("most_grafts_per_cm2", "least_hairs_per_cm2", "upper_arc")
SAMPLES = Path(__file__).parents[2] / "sample_cases"


def proposed(plan: Plan, placed: Placed | None = None, aims: Aims | None = None, **other: int) -> Proposal:
    answer = replan(plan, placed or {}, supply_of(plan, **other), aims, seconds=30, tolerance=0)
    assert isinstance(answer, Proposal), answer
    return answer


def refused(plan: Plan, placed: Placed | None = None, aims: Aims | None = None, **other: int) -> str:
    answer = replan(plan, placed or {}, supply_of(plan, **other), aims)
    assert isinstance(answer, NoProposal)
    return " ".join(answer.sentences)


def got(answer: Proposal, zone_key: str) -> dict[str, int]:
    return {size: count for (key, size), count in answer.counts.items() if key == zone_key and count}


# The cost: a plain function, checked by hand.


def test_the_plan_costs_nothing():
    plan = small_plan()
    problem = problem_of(plan, {}, dict.fromkeys(plan.size_by_key, 0), Aims())
    assert cost(problem, problem.unchanged()) == 0


def test_cost_by_hand():
    """Zones of 10 cm²: A has 20 ones and 40 twos (100 hairs, weight 1.5), B 50 twos (100 hairs, weight 1).

    Taken from A: 4 twos, 8 hairs of 100. From B: 1 two.
    """
    plan = plan_of(zone("A", {"1": 20, "2": 40}, neighbours=("B",)), zone("B", {"2": 50}), sizes="12")
    problem = problem_of(plan, {}, {"1": 20, "2": 85}, Aims())
    counts = problem.unchanged() | {("A", "2"): 36, ("B", "2"): 49}
    missing = 1.5 * (2.5 * 1 + 2.5 * 1.5 + 2.5 * 2 + 0.5 * 2.5) + 1 * 2 * 1
    changes = (3 * 0.1 + 1 * 0.15) + 1 * 0.1  # 5 % of 60 grafts are 3
    step = 0.5 * 10 * 1 * (9.8 - 9.2)  # the plan had none; 10 cm², lower weight 1, one neighbour each
    assert cost(problem, counts) == pytest.approx(missing + changes + step)


def test_rates_rise_and_lie_between_each_other():
    """What the cost promises in words: convex parts; changes below raising, raising below missing hairs."""
    for pieces in (MISSING, CHANGES, RAISING):
        assert sorted(pieces) == list(pieces)
        assert sorted(piece.rate for piece in pieces) == [piece.rate for piece in pieces]
    assert CHANGES[-1].rate < RAISING[0].rate
    assert RAISING[-1].rate + 2 * CHANGES[-1].rate > MISSING[0].rate > RAISING[-1].rate
    assert MISSING[-1].up_to == RAISING[-1].up_to == 1


# The solver: best by brute force, and on a textbook problem.


class Case(NamedTuple):
    plan: Plan
    placed: Placed
    supply: dict[str, int]
    aims: Aims

    def problem(self) -> Problem:
        return problem_of(self.plan, self.placed, self.supply, self.aims)

    def answer(self, **supply: int) -> Proposal | NoProposal:
        there = {size: Supply(count, "given") for size, count in (self.supply | supply).items()}
        return replan(self.plan, self.placed, there, self.aims, seconds=30, tolerance=0)


@st.composite
def tangles(draw: st.DrawFn, cells: int = 4, most: int = 4, *, sound: bool = False) -> Case:
    """Small plans with anything placed and any supply; if ``sound``, no more is placed than there will be."""
    keys = draw(st.sampled_from(("1", "12", "13", "2M", "123") if cells > 4 else ("1", "12", "13", "2M")))
    zone_keys = "ABCD"[: max(1, cells // len(keys))]
    count = st.integers(0, most)
    zones = tuple(
        zone(
            key,
            {size: draw(count) for size in keys if draw(st.integers(0, 3))},
            area_cm2=draw(st.sampled_from((0.1, 0.2, 0.5))),
            allowed=draw(st.sampled_from((None, tuple(keys)))),
            neighbours=(zone_keys[place - 1],) if place and draw(st.booleans()) else (),
            side=draw(st.sampled_from(("left", "right", None))),
            existing_hairs_per_cm2=draw(st.sampled_from((None, 0.0, 25.0))),
            order=place + 1,
        )
        for place, key in enumerate(zone_keys)
    )
    plan = plan_of(*zones, sizes=keys)
    placed = {(z.key, size): draw(count) for z in zones for size in z.planned if draw(st.booleans())}
    there = {size: draw(st.integers(0, most * len(zones))) for size in keys}
    if sound:
        there = {
            size: max(count, sum(n for (_, each), n in placed.items() if each == size))
            for size, count in there.items()
        }
    some = st.sampled_from(zone_keys)
    aims = Aims(
        zone_weights=draw(st.dictionaries(some, st.sampled_from((0.5, 2.0)), max_size=1)),
        combing_side=draw(st.sampled_from((None, "left"))),
        upper_arc=draw(st.sampled_from(((), (zone_keys[-1],)))),
        raise_share=draw(st.sampled_from((0.0, 0.0, 0.5))),
        least_hairs_per_cm2={} if sound else draw(st.dictionaries(some, st.just(12.0), max_size=1)),
        most_grafts_per_cm2={} if sound else draw(st.dictionaries(some, st.just(15.0), max_size=1)),
    )
    return Case(plan, placed, there, aims)


@settings(max_examples=150, deadline=None)
@given(tangles())
def test_no_division_is_better_by_brute_force(case: Case):
    problem = case.problem()
    cells = [(zone.key, size) for zone in problem.zones for size in problem.hairs]
    ranges = [range(case.supply[size] + 1) for _, size in cells]
    every = (dict(zip(cells, counts, strict=True)) for counts in product(*ranges))
    costs = [cost(problem, counts) for counts in every if within_limits(case, counts)]
    answer = case.answer()
    if not costs:
        assert isinstance(answer, NoProposal)
        return
    assert isinstance(answer, Proposal)
    assert answer.cost == pytest.approx(min(costs), abs=1e-5)
    assert cost(problem, answer.counts) == pytest.approx(answer.cost)
    assert answer.gap == pytest.approx(0, abs=1e-5)
    assert not answer.stopped


def within_limits(case: Case, counts: Placed) -> bool:
    """The limits anew, from the plan alone: what the program and ``fits`` must agree with."""
    for each in case.plan.zones:
        may_go = each.planned if each.allowed is None else each.allowed
        hairs = grafts = promised = stands = grafts_standing = 0.0
        for size, there in case.supply.items():
            count, placed = counts[each.key, size], case.placed.get((each.key, size), 0)
            if count < placed or (size not in may_go and count != placed) or count > there:
                return False
            stay = max(each.planned.get(size, 0), placed)
            grafts, hairs = grafts + count, hairs + count * HAIRS[size]
            grafts_standing, stands = grafts_standing + stay, stands + stay * HAIRS[size]
            promised += each.planned.get(size, 0) * HAIRS[size]
        share, most = case.aims.raise_share, case.aims.most_grafts_per_cm2.get(each.key)
        if most is None:
            most_grafts = max(int(grafts_standing * (1 + share)), round(30 * each.measured_cm2))
        else:
            most_grafts = int(most * each.measured_cm2 + 1e-6)
        least = case.aims.least_hairs_per_cm2.get(each.key, 0) * each.measured_cm2
        if grafts > most_grafts or hairs > stands + share * promised + 1e-6 or hairs < least - 1e-6:
            return False
    return all(
        sum(counts[each.key, size] for each in case.plan.zones) <= there
        for size, there in case.supply.items()
    )


def test_a_transport_problem_of_a_textbook():
    """Cases of a product from two plants to three markets, 90 dollars per case and thousand miles: 153,675.

    G. B. Dantzig, Linear Programming and Extensions, 1963, chapter 3.3 (from memory; the optimum too).
    """
    plants = {"Seattle": 350, "San Diego": 600}
    markets = {"New York": 325, "Chicago": 300, "Topeka": 275}
    miles = {"Seattle": (2.5, 1.7, 1.8), "San Diego": (2.5, 1.8, 1.4)}
    program = Program()
    sent = {
        (plant, market): program.variable(cost=90 * each, whole=True)
        for plant in plants
        for market, each in zip(markets, miles[plant], strict=True)
    }
    for plant, most in plants.items():
        program.row([(sent[plant, market], 1) for market in markets], high=most)
    for market, least in markets.items():
        program.row([(sent[plant, market], 1) for plant in plants], low=least)
    found = program.solve(2)
    assert not isinstance(found, str)
    total = sum(
        90 * each * found.values[sent[p, m]]
        for p in plants
        for m, each in zip(markets, miles[p], strict=True)
    )
    assert total == pytest.approx(153_675)
    assert found.gap == pytest.approx(0, abs=1e-6)


def test_twelve_zones_and_five_sizes_are_solved_to_proof():
    for seed in range(8):
        plan, placed, there = a_full_plan(random.Random(seed))
        answer = replan(plan, placed, there, seconds=30)
        assert isinstance(answer, Proposal)
        assert not answer.stopped
        assert answer.gap is not None
        assert answer.gap <= max(TOLERANCE, 0.001 * answer.cost)


# What holds of every proposal.


@settings(max_examples=60, deadline=None)
@given(tangles(cells=9, most=12, sound=True))
def test_every_proposal_keeps_every_limit(case: Case):
    answer = case.answer()
    assert isinstance(answer, Proposal)
    assert all(isinstance(count, int) for count in answer.counts.values())
    assert within_limits(case, answer.counts)
    assert fits(case.problem(), answer.counts)
    for move in answer.moves:
        may_go = case.plan.zone_by_key[move.zone].allowed
        assert move.size in (case.plan.zone_by_key[move.zone].planned if may_go is None else may_go)
    for each in answer.sizes:
        assert each.used + each.left_over == case.supply[each.size]
        assert each.left_over >= 0


@settings(max_examples=60, deadline=None)
@given(tangles(cells=9, most=12, sound=True))
def test_no_change_when_supply_equals_plan(case: Case):
    kept = {
        (z.key, size): min(n, z.planned[size])
        for z in case.plan.zones
        for (key, size), n in case.placed.items()
        if key == z.key
    }
    promised = {size: case.plan.planned(size) for size in case.supply}
    answer = Case(case.plan, kept, promised, case.aims).answer()
    assert isinstance(answer, Proposal)
    assert answer.moves == ()
    assert answer.sentences == ("Nothing changes: the plan stays as it is.",)
    assert revised_plan(case.plan, answer.counts) == case.plan


@settings(max_examples=40, deadline=None)
@given(tangles(cells=6, most=8, sound=True), st.integers(1, 5), st.data())
def test_more_supply_never_costs_more(case: Case, more: int, data: st.DataObject):
    size = data.draw(st.sampled_from(sorted(case.supply)))
    less, plenty = case.answer(), case.answer(**{size: case.supply[size] + more})
    assert isinstance(less, Proposal)
    assert isinstance(plenty, Proposal)
    assert plenty.cost <= less.cost + 1e-5


@settings(max_examples=40, deadline=None)
@given(tangles(cells=9, most=8, sound=True), st.randoms())
def test_the_order_in_which_zones_are_listed_changes_no_cost(case: Case, rng: random.Random):
    listed = list(case.plan.zones)
    rng.shuffle(listed)
    one = case.answer()
    other = case._replace(plan=plan_of(*listed, sizes="".join(case.plan.size_by_key))).answer()
    assert isinstance(one, Proposal)
    assert isinstance(other, Proposal)
    assert one.cost == pytest.approx(other.cost, abs=1e-5)


# How it shares out.


def test_the_back_gives_before_the_front_but_not_all():
    plan = plan_of(*(zone(key, {"2": 100}) for key in "ABC"), sizes="2")
    few, many = proposed(plan, s2=298), proposed(plan, s2=240)
    assert [got(few, key)["2"] for key in "ABC"] == [100, 100, 98]
    front, middle, back = (got(many, key)["2"] for key in "ABC")
    assert 100 > front > middle > back > 60


def test_zones_of_one_kind_share_evenly():
    """Left and right of the same kind have the same weight, though one is placed first."""
    left, right = (
        zone(key, {"2": 100}, kind="mid-scalp", side=side) for key, side in (("L", "left"), ("R", "right"))
    )
    answer = proposed(plan_of(left, right, sizes="2"), s2=160)
    assert (got(answer, "L"), got(answer, "R")) == ({"2": 80}, {"2": 80})


def test_a_zone_weight_can_be_given():
    plan = plan_of(*(zone(key, {"2": 100}) for key in "AB"), sizes="2")
    answer = proposed(plan, aims=Aims(zone_weights={"A": 1, "B": 9}), s2=180)
    assert (got(answer, "A"), got(answer, "B")) == ({"2": 80}, {"2": 100})
    assert "zone a gets 20 fewer (given the least weight)" in " ".join(answer.sentences)


def test_only_the_ratio_of_zone_weights_counts():
    plan = plan_of(*(zone(key, {"2": 100}) for key in "AB"), sizes="2")
    few, many = (Aims(zone_weights={"A": 2 * by, "B": 3 * by}, raise_share=0.1) for by in (0.01, 1))
    for there in (180, 210):
        assert proposed(plan, aims=few, s2=there).cost == proposed(plan, aims=many, s2=there).cost


def cascade(aims: Aims) -> tuple[int, ...]:
    """Four alike zones, 40 of 400 missing: what left, right, upper and lower vertex get."""
    kind = {"kind": "vertex", "neighbours": ()}
    zones = (zone("L", {"2": 100}, side="left", **kind), zone("R", {"2": 100}, side="right", **kind),
             zone("UP", {"2": 100}, **kind), zone("LOW", {"2": 100}, **kind))  # fmt: skip
    answer = proposed(plan_of(*zones, sizes="2"), aims=aims, s2=360)
    return tuple(got(answer, each.key)["2"] for each in zones)


def test_combing_side_and_upper_arc_have_no_effect_unless_given():
    plan = plan_of(zone("L", {"2": 100}, side="left"), zone("R", {"2": 100}, side="right"), sizes="2")
    alike = [replace(z, key="", before={}) for z in problem_of(plan, {}, {"2": 0}, Aims()).zones]
    sideless = plan_of(zone("L", {"2": 100}), zone("R", {"2": 100}), sizes="2")
    assert alike == [replace(z, key="", before={}) for z in problem_of(sideless, {}, {"2": 0}, Aims()).zones]
    assert cascade(Aims()) == (90, 90, 90, 90)


def test_combing_side_and_upper_arc_get_more_where_given():
    left, right, upper, lower = cascade(Aims(combing_side="left"))
    assert left > max(right, upper, lower)
    left, right, upper, lower = cascade(Aims(combing_side="right", upper_arc=("UP",)))
    assert min(right, upper) > max(left, lower)


def test_what_the_plan_asks_is_asked_of_every_re_plan():
    """As much as the same aims given by hand; those given by hand come first."""
    kind = {"kind": "vertex", "neighbours": ()}
    zones = (
        zone("L", {"2": 100}, side="left", most_grafts_per_cm2=9, **kind),
        zone("R", {"2": 100}, side="right", **kind),
        zone("UP", {"2": 100}, upper_arc=True, **kind),
        zone("LOW", {"2": 100}, least_hairs_per_cm2=17, **kind),
    )
    plan = replace(plan_of(*zones, sizes="2"), combing_side="right", raise_share=0.1)
    asked = Aims({"LOW": 17.0}, {"L": 9.0}, {}, "right", ("UP",), 0.1)
    assert aims_of(plan) == asked
    bare = plan_of(*(replace(z, **dict.fromkeys(ASKED)) for z in zones), sizes="2")
    answer = proposed(plan, s2=340)
    assert answer.counts == proposed(bare, aims=asked, s2=340).counts != proposed(bare, s2=340).counts
    assert got(answer, "LOW")["2"] >= 85
    assert answer.sentences[-1] == (
        "Asked for: the right side, which hair is combed from, weighs more; zone up weighs more as upper arc;"
        " zone low at least 17 hairs/cm²; zone l at most 9 grafts/cm²; zones are raised by up to 10 %."
    )
    assert proposed(plan, aims=Aims(), s2=340).counts == proposed(bare, s2=340).counts


def test_existing_hair_counts_in_the_steps_between_neighbours():
    """By hand: 10 and 20 hairs/cm² planned; with 30 and 20 there already both have 40: no step.

    Five twos fewer in A make one of 1 hair/cm²: 0.5 × 10 cm² × 1.
    """
    plan = plan_of(
        zone("A", {"2": 50}, existing_hairs_per_cm2=30, kind="vertex"),
        zone("B", {"2": 100}, existing_hairs_per_cm2=20, kind="vertex", neighbours=("A",)),
        sizes="2",
    )
    problem = problem_of(plan, {}, {"2": 145}, Aims())
    assert [(each.step, each.ahead, each.rate) for each in problem.borders] == [(0, 10, 5)]
    fewer = problem.unchanged() | {("A", "2"): 45}
    apart = replace(problem, borders=())
    assert cost(problem, fewer) - cost(apart, fewer) == pytest.approx(5)
    one_known = plan_of(*(replace(plan.zones[0], existing_hairs_per_cm2=None), plan.zones[1]), sizes="2")
    assert [each.ahead for each in problem_of(one_known, {}, {"2": 145}, Aims()).borders] == [0]


@pytest.mark.parametrize("old", [(60, 0), (0, 60)])
def test_a_step_made_by_existing_hair_is_not_widened_by_brute_force(old: tuple[int, int]):
    """Seven twos for eight planned in two zones: the one with hair gives, though it weighs a little more."""
    zones = (
        zone(key, {"2": 4}, area_cm2=0.5, existing_hairs_per_cm2=hairs, kind="vertex", neighbours=beside)
        for key, hairs, beside in (("A", old[0], ()), ("B", old[1], ("A",)))
    )
    plan = plan_of(*zones, sizes="2")
    aims = Aims(zone_weights={"A": 1.05, "B": 1} if old[0] else {"A": 1, "B": 1.05})
    problem = problem_of(plan, {}, {"2": 7}, aims)
    every = [{("A", "2"): one, ("B", "2"): min(4, 7 - one)} for one in range(5)]
    answer = proposed(plan, aims=aims, s2=7)
    assert answer.cost == pytest.approx(min(cost(problem, each) for each in every))
    assert got(answer, "A" if old[0] else "B")["2"] == 3


def test_a_zone_that_is_not_treated_gets_nothing_and_keeps_what_was_placed():
    bare = zone("BARE", None, not_treated=True)
    plan = plan_of(zone("A", {"2": 20}), bare, sizes="2")
    answer = proposed(plan, {("BARE", "2"): 3}, s2=40)
    assert got(answer, "BARE") == {"2": 3}
    assert revised_plan(plan, answer.counts | {("A", "2"): 15}).zone_by_key["BARE"] == bare


def test_neighbours_come_to_differ_no_more_than_planned_unless_it_costs_more():
    """One three is missing. C's weight is the higher, but B and its neighbour A were to be alike."""
    zones = zone("A", {"2": 30}, neighbours=("B",)), zone("B", {"3": 20}), zone("C", {"3": 20})
    plan = plan_of(*zones, sizes="23")
    for weight, given_up in ((1.05, "C"), (2.0, "B")):
        answer = proposed(plan, aims=Aims(zone_weights={"A": 1, "B": 1, "C": weight}), s3=39)
        assert [move.zone for move in answer.moves] == [given_up]


def test_levelling_down_with_grafts_that_exist_never_pays():
    around = tuple(zone(key, {"1": 100}, neighbours=("M",)) for key in "ABCDE")
    plan = plan_of(*around, zone("M", {"2": 50}), sizes="12")
    assert got(proposed(plan, s1=250), "M") == {"2": 50}


def test_another_size_stands_in_only_where_allowed():
    zones = (
        zone("A", {"2": 50}, allowed=("1", "2")),
        zone("B", {"2": 50}, allowed=("2",)),
        zone("C", {"1": 50}),
    )
    answer = proposed(plan_of(*zones, sizes="12"), s2=90, s1=70)
    assert got(answer, "A") == {"1": 20, "2": 40}
    assert got(answer, "B") == {"2": 50}
    assert got(answer, "C") == {"1": 50}


def test_where_allowed_is_absent_the_sizes_with_a_target_may_go():
    """Twos are left over, and zone A, which lacks ones, was never meant to hold any."""
    answer = proposed(plan_of(zone("A", {"1": 50}), zone("B", {"2": 50}), sizes="12"), s1=40, s2=70)
    assert (got(answer, "A"), got(answer, "B")) == ({"1": 40}, {"2": 50})
    assert (
        "20 more twos than planned are expected: 20 are left over (ones are short, but the plan names no"
        " way to divide twos)."
    ) in answer.sentences


def test_a_zone_becomes_no_denser_than_the_plan_or_the_mark():
    """Ones could stand in for twos one hair at a time; the surgeon's mark of dense packing ends that."""
    thin = zone("A", {"2": 200}, allowed=("1", "2"))
    answer = proposed(plan_of(thin, sizes="12"), s1=500, s2=100)
    assert got(answer, "A") == {"1": 200, "2": 100}  # 30 a cm², the mark
    dense = plan_of(zone("A", {"2": 320}, allowed=("1", "2")), sizes="12")
    assert sum(got(proposed(dense, s1=500, s2=300), "A").values()) == 320
    marked = structs.replace(dense, limits=Limits(dense_grafts_per_cm2=33))
    assert sum(got(proposed(marked, s1=500, s2=300), "A").values()) == 330


def test_surplus_is_left_over_unless_zones_may_be_raised():
    plan = plan_of(zone("A", {"2": 100}), zone("B", {"2": 50}), sizes="2")
    assert got(proposed(plan, s2=180), "A") == {"2": 100}
    assert proposed(plan, s2=180).sentences[-1] == (
        "30 more twos than planned are expected: 30 are left over."
    )
    raised = proposed(plan, aims=Aims(raise_share=0.1), s2=180)
    assert (got(raised, "A"), got(raised, "B")) == ({"2": 110}, {"2": 55})
    assert (
        "30 more twos than planned are expected: zone a gets 10 more, zone b gets 5 more and 15 are left"
        " over."
    ) in raised.sentences
    short = proposed(plan, aims=Aims(raise_share=0.5), s2=165)  # not all can rise to the limit: in proportion
    assert abs(got(short, "A")["2"] / 100 - got(short, "B")["2"] / 50) < 0.15
    assert short.sentences[1].startswith("15 more twos than planned are expected: zone a gets 1")


def test_what_is_placed_beyond_the_plan_stays_and_others_give_it():
    plan = plan_of(zone("A", {"2": 20}), zone("B", {"2": 20}), sizes="2")
    answer = proposed(plan, {("A", "2"): 23})
    assert (got(answer, "A"), got(answer, "B")) == ({"2": 23}, {"2": 17})
    assert answer.sentences == (
        "In all 40 grafts (40 planned) and 80 hairs (80 planned).",
        "Twos: zone a gets 3 more (already placed), so zone b gets 3 fewer.",
        "Hairs: zone a 6 more than planned (15.0 % of its plan); zone b 6 fewer than planned (15.0 % of its"
        " plan).",
    )


def test_a_size_placed_where_it_may_not_go_counts_but_is_no_move_and_no_target():
    plan = plan_of(zone("A", {"1": 20}, allowed=("1",)), zone("B", {"1": 10, "3": 100}), sizes="13")
    answer = proposed(plan, {("A", "3"): 2})
    assert got(answer, "A") == {"1": 20, "3": 2}
    assert [move.zone for move in answer.moves] == ["B"]
    assert got(answer, "B") == {"1": 10, "3": 98}
    assert revised_plan(plan, answer.counts).zone_by_key["A"] == plan.zone_by_key["A"]


# What it says.


def test_sentences_say_the_numbers_and_why():
    plan = plan_of(zone("A", {"2": 100}), zone("B", {"2": 100}), zone("C", {"2": 100, "3": 20}))
    answer = proposed(plan, s2=288, s3=23)
    assert answer.sentences == (
        "In all 311 grafts (320 planned) and 645 hairs (660 planned).",
        "12 fewer twos than planned are expected: zone a and zone b each get 2 fewer and zone c gets 8 fewer"
        " (last in the plan's order).",
        "3 more threes than planned are expected: zone c gets 3 more (in place of twos).",
        "Hairs: zone a and zone b 4 fewer than planned (2.0 % of its plan); zone c 7 fewer than planned"
        " (2.7 % of its plan).",
    )
    assert [tuple(move) for move in answer.moves] == [
        ("A", "2", 100, 98),
        ("B", "2", 100, 98),
        ("C", "2", 100, 92),
        ("C", "3", 20, 23),
    ]
    only = proposed(plan_of(zone("A", {"1": 40, "2": 20}), sizes="12"), s1=39)
    assert only.sentences == (
        "In all 59 grafts (60 planned) and 79 hairs (80 planned).",
        "1 fewer one than planned is expected: zone a gets 1 fewer (no other zone has any planned).",
        "Hairs: zone a 1 fewer than planned (1.2 % of its plan).",
    )


NUMBER = re.compile(r"(?:((?:zone \w+(?:, | and )?)+) each get )?(\d+) (?:more|fewer|are left|is left)")


def added_up(part: str) -> int:
    """The numbers of one side of a sentence: what several zones each get counts for each of them."""
    return sum(int(count) * max(1, zones.count("zone")) for zones, count in NUMBER.findall(part))


@pytest.mark.parametrize("seed", range(6))
def test_the_reasons_of_a_size_add_up_to_its_changes(seed: int):
    """In each sentence the left side adds up to the right one; all that moves is in one of them."""
    answer = replan(*a_full_plan(random.Random(seed)), tolerance=5)
    assert isinstance(answer, Proposal)
    sums = [
        re.split(r": |, so ", sentence, maxsplit=1)
        for sentence in answer.sentences
        if "expected" in sentence or ", so " in sentence
    ]
    found = 0
    for why, gets in sums:
        assert added_up(re.sub(r", \d+ in all", "", why)) == added_up(gets), (why, gets)
        if total := re.search(r", (\d+) in all", why):
            assert int(total[1]) == added_up(gets)
        found += added_up(re.sub(r"\d+ (?:more|fewer) [^,]*? expected|, \d+ in all", "", why)) + added_up(
            gets
        )
    moved = sum(abs(move.after - move.before) for move in answer.moves)
    assert sums
    assert found == moved + sum(each.left_over for each in answer.sizes)


def test_what_is_left_over_says_whether_it_could_be_divided():
    zones = zone("A", {"1": 20}, allowed=("1",)), zone("B", {"3": 30})
    plan = plan_of(*zones, sizes="13")
    assert "(ones are short, but the plan names no way to divide threes)" in " ".join(
        proposed(plan, s1=12, s3=34).sentences
    )
    with_a_way = " ".join(proposed(plan, aims=Aims(ways=(Way("3", ("1",), 0.3),)), s1=19, s3=34).sentences)
    assert "(dividing more of them would not come closer to the plan)" in with_a_way


def test_left_and_right_that_become_unequal_are_named():
    left, right = (
        zone(key, {"1": 20, "2": 50}, label=f"temple {side}", kind="temporal", side=side)
        for key, side in (("L", "left"), ("R", "right"))
    )
    uneven = proposed(plan_of(left, right, sizes="12"), {("L", "2"): 50}, s2=90)
    assert "Left and right become unequal: temple 11.1 and 10.9 hairs/cm²." in uneven.sentences
    even = proposed(plan_of(left, right, sizes="12"), s2=90)
    assert "unequal" not in " ".join(even.sentences)


def test_sites_are_compared_with_what_moves():
    plan = plan_of(zone("A", {"1": 20}), zone("B", {"1": 20}), sizes="1")
    record = opened_case(plan)
    record.enter(c.MakeSites(zone="A", count=21))
    record.enter(c.PlaceGrafts(zone="A", size="1", count=23))
    answer = proposed(plan, {("A", "1"): 25, ("B", "1"): 0})
    assert [*sites_sentences(answer, record.state)] == [
        "Sites: zone a needs 2 more. They are entered without a size: look whether they fit."
    ]
    record.enter(c.MakeSites(zone="A", count=9))
    assert "enough are made" in replan_text(answer, record.state)
    assert "Sites:" not in replan_text(answer, opened_case(plan).state)


def test_a_graft_left_over_of_a_size_that_runs_short_says_why():
    """40 hairs are planned: eleven threes are 33 of them and seven ones the rest, so two of nine are left."""
    plan = plan_of(zone("A", {"1": 10, "3": 10}))
    answer = proposed(plan, s1=9, s3=11)
    assert got(answer, "A") == {"1": 7, "3": 11}
    assert answer.sentences[1] == (
        "1 fewer one than planned is expected and 2 are left over (with one more, any zone that takes ones"
        " would get more hairs than it is meant to have): zone a gets 3 fewer (no other zone has any"
        " planned)."
    )
    packed = proposed(plan, aims=Aims(most_grafts_per_cm2={"A": 1}), s1=9, s3=10)
    assert "would get more grafts than it is meant to have" in " ".join(packed.sentences)


def test_zones_that_fare_alike_are_told_in_one_sentence():
    left, right = (zone(key, {"2": 100}, kind="mid-scalp") for key in "LR")
    assert proposed(plan_of(left, right, sizes="2"), s2=160).sentences == (
        "In all 160 grafts (200 planned) and 320 hairs (400 planned).",
        "40 fewer twos than planned are expected: zone l and zone r each get 20 fewer (among the last in the"
        " plan's order).",
        "Hairs: zone l and zone r 40 fewer than planned (20.0 % of its plan).",
    )


def test_before_and_after_with_densities():
    answer = proposed(plan_of(zone("A", {"1": 50, "2": 100}), sizes="12"), s2=90)
    (change,) = answer.zones
    assert (change.grafts_before, change.grafts_after) == (150, 140)
    assert change.grafts_per_cm2() == (15, 14)
    assert change.hairs_per_cm2() == (25, 23)
    assert [(each.size, each.planned, each.used, each.left_over) for each in answer.sizes] == [
        ("1", 50, 50, 0), ("2", 100, 90, 0)]  # fmt: skip


# What clashes.


def test_more_placed_than_will_exist():
    plan = plan_of(zone("HL", {"1": 80}, label="hairline"), zone("B", {"2": 50}), sizes="12")
    assert refused(plan, {("HL", "1"): 60}, s1=50) == (
        "Already placed are 60 ones (60 in hairline), but only 50 are expected."
    )
    both = refused(plan, {("HL", "1"): 60, ("B", "2"): 9, ("B", "1"): 1}, s1=50, s2=8)
    assert "61 ones (60 in hairline and 1 in zone b), but only 50 are expected." in both
    assert "9 twos (9 in zone b), but only 8 are expected." in both


def test_a_least_density_that_the_supply_does_not_give():
    plan = plan_of(zone("A", {"2": 100}), zone("B", {"2": 100}), zone("C", {"1": 10}), sizes="12")
    found = refused(plan, aims=Aims(least_hairs_per_cm2={"A": 19.0, "B": 18.0, "C": 0.5}), s2=150)
    assert found == (
        "These do not fit together: only 10 ones are expected; only 150 twos are expected;"
        " zone a must have at least 19.0 hairs/cm², that is 190 hairs;"
        " zone b must have at least 18.0 hairs/cm², that is 180 hairs."
    )
    assert "zone c" not in found


def test_a_least_density_that_the_allowed_sizes_or_the_plan_do_not_give():
    hairline = plan_of(zone("A", {"1": 80}, allowed=("1",)), sizes="12")
    found = refused(hairline, aims=Aims(least_hairs_per_cm2={"A": 9.0}), s1=300, s2=300)
    assert found == (
        "These do not fit together: zone a is not raised above 80 hairs;"
        " zone a must have at least 9.0 hairs/cm², that is 90 hairs."
    )
    aims = Aims(least_hairs_per_cm2={"A": 8.0}, most_grafts_per_cm2={"A": 5.0})
    assert refused(hairline, aims=aims, s1=300, s2=300) == (
        "These do not fit together: zone a takes only ones; zone a must have at most 50 grafts;"
        " zone a must have at least 8.0 hairs/cm², that is 80 hairs."
    )


def test_a_least_density_that_the_mark_of_dense_packing_does_not_give():
    plan = plan_of(zone("A", {"2": 300}, allowed=("1", "2")), sizes="12")
    assert refused(plan, aims=Aims(least_hairs_per_cm2={"A": 55.0}), s1=500, s2=200) == (
        "These do not fit together: only 200 twos are expected;"
        " zone a is not packed denser than the plan or the mark, with 300 grafts;"
        " zone a must have at least 55.0 hairs/cm², that is 550 hairs."
    )


def test_more_placed_than_the_most_asked_for():
    plan = plan_of(zone("A", {"1": 80}), zone("B", {"1": 80}), sizes="1")
    found = refused(plan, {("A", "1"): 60, ("B", "1"): 70}, aims=Aims(most_grafts_per_cm2={"A": 5.0}))
    assert (
        found
        == "These do not fit together: 60 ones are placed in zone a; zone a must have at most 50 grafts."
    )


@pytest.mark.parametrize(
    ("aims", "wrong"),
    [
        (Aims(upper_arc=("X",)), "no zone X"),
        (Aims(zone_weights={"X": 1}), "no zone X"),
        (Aims(zone_weights={"LINE": 0}), "0 is not a density or weight"),
        (Aims(least_hairs_per_cm2={"LINE": float("nan")}), "nan is not a density or weight"),
        (Aims(raise_share=-0.1), "is not a share"),
    ],
)
def test_aims_that_mean_nothing(aims: Aims, wrong: str):
    plan = small_plan()
    with pytest.raises(ValueError, match=wrong):
        replan(plan, {}, supply_of(plan), aims)


def test_a_supply_names_each_size_once():
    plan = small_plan()
    with pytest.raises(ValueError, match="supply"):
        replan(plan, {}, {"1": Supply(5, "given")})
    with pytest.raises(ValueError, match="supply"):
        replan(plan, {}, supply_of(plan, s1=-1))


def test_time_that_runs_out_is_told():
    plan, placed, there = a_full_plan(random.Random(1))
    answer = replan(plan, placed, there, seconds=1e-9)
    assert isinstance(answer, NoProposal) or answer.stopped
    found = proposed(plan_of(zone("A", {"2": 9}), sizes="2"), s2=5)
    known = [
        proof_sentence(each)
        for each in (
            found,
            replace(found, gap=0.4),
            replace(found, gap=12.0, stopped=True),
            replace(found, gap=None, stopped=True),
        )
    ]
    assert known == [
        "No other way to share out these numbers fits the plan better.",
        "No other way to share out these numbers fits the plan better by more than 0.4 hairs.",
        "Time ran out. No other way to share out these numbers fits the plan better by more than 12.0 hairs.",
        "Time ran out: there may be a much better way to share out these numbers.",
    ]
    for word in ("solver", "weights", "division", "proof", "certain"):
        assert word not in " ".join(known)


def test_the_solver_is_loaded_only_when_something_is_solved():
    """Not on starting a station, and not where what there will be is what was promised."""
    code = """
import sys, orroom.cli, orroom.screens.stations.app
from pathlib import Path
from orroom.figures.replan.proposal import Supply, replan
from orroom.figures.replan.problem import Aims
from orroom.files.plan_file import load_plan
plan = load_plan(Path(sys.argv[1]))
supply = {size: Supply(plan.planned(size), "given") for size in plan.size_by_key}
assert not replan(plan, {}, supply, Aims(raise_share=0.1)).moves
sys.exit("highspy" in sys.modules)
"""
    plan = SAMPLES / "vertex" / "plan.toml"
    assert subprocess.run([sys.executable, "-c", code, plan], check=False).returncode == 0


def test_the_solver_says_nothing_where_a_station_paints():
    code = """
import random, sys
sys.path[:0] = ["tests"]
from replans import a_full_plan
from orroom.figures.replan.proposal import Proposal, replan
assert isinstance(replan(*a_full_plan(random.Random(1))), Proposal)
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, cwd=SAMPLES.parent)
    assert done.stdout + done.stderr == b""


# What there will be, and what comes of an accepted proposal.


def test_expected_supply_is_as_given_else_projected_else_the_plans():
    record = opened_case(ONE_HARVEST)
    record.enter(c.StartHarvest(harvest="A"))
    cut_segments(record, 2)
    before = expected_supply(record.state)
    assert before == {"1": (50, "early"), "2": (80, "early"), "3": (40, "early"), "M": (10, "early")}
    cut_segments(record, 1)
    after = expected_supply(record.state, {"3": 44})
    assert after == {
        "1": (40, "projected"),
        "2": (72, "projected"),
        "3": (44, "given"),
        "M": (8, "projected"),
    }
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=45))
    assert expected_supply(record.state)["1"] == (45, "projected")  # they exist, whatever was entered as cut


def test_more_usable_than_planned_counts_without_a_projection():
    record = case_under_way()
    record.enter(c.CutGrafts(harvest="A", size="M", count=7))
    assert expected_supply(record.state)["M"] == (12, "early")
    uncounted = opened_case(small_plan(harvests=(Harvest(key="A", label="strip"),)))
    assert expected_supply(uncounted.state)["M"] == (10, "planned")  # no number of segments to project from


def test_two_segments_that_agree_by_chance_take_nothing_off_the_plan():
    """1 multi-unit graft in each of 2 of 12 segments where 24 are planned: that may be chance."""
    zones = (Zone(key="MID", label="mid-scalp", area_cm2=12, targets={"2": 120, "M": 24}),)
    plan = small_plan(zones=zones, harvests=(Harvest(key="A", label="strip", segments=12),))
    record = opened_case(plan)
    for finished in (1, 2, 3):
        for size, count in (("2", 10), ("M", 1)):
            record.enter(c.CutGrafts(harvest="A", size=size, count=count))
        record.enter(c.FinishSegment(harvest="A"))
        answer = replan(plan, {}, expected_supply(record.state))
        assert isinstance(answer, Proposal)
        assert ({each.size for each in answer.moves} == {"M"}) == (finished == 3)
        assert (NOT_YET in answer.sentences) == (finished < 3)
        assert ("as planned: too few segments finished" in replan_text(answer, record.state)) == (
            finished < 3
        )


def test_a_revised_plan_has_the_new_counts_and_nothing_else_new():
    dense = zone("B", None, density=DensityTarget(grafts_per_cm2=10, mix={"2": 0.7, "3": 0.3}))
    plan = plan_of(zone("A", {"1": 20, "2": 10}), dense)
    same = {(each.key, size): each.planned.get(size, 0) for each in plan.zones for size in "123"}
    assert revised_plan(plan, same) == plan
    revised = revised_plan(plan, same | {("A", "2"): 0, ("B", "3"): 25})
    assert revised.zone_by_key["A"].planned == {"1": 20, "2": 0}
    assert revised.zone_by_key["B"].planned == {"2": 70, "3": 25}
    assert revised.zone_by_key["B"].density is None
    assert revised.planned("3") == 25
    again = proposed(revised, s2=75)  # a size that went down to 0 may still come back
    assert got(again, "A") == {"1": 20}
    assert structs.replace(revised, zones=plan.zones) == plan


def test_an_accepted_proposal_is_the_plan_and_then_changes_nothing():
    record = opened_case(ONE_HARVEST)
    record.enter(c.StartHarvest(harvest="A"))
    cut_segments(record, 3)
    answer = replan(ONE_HARVEST, {}, expected_supply(record.state))
    assert isinstance(answer, Proposal)
    assert answer.moves
    plan = revised_plan(ONE_HARVEST, answer.counts)
    record.enter(c.RevisePlan(plan=plan, reason=reason_of(answer, MAX_TEXT)))
    again = replan(record.state.plan, record.tally.placed, expected_supply(record.state))
    assert isinstance(again, Proposal)
    assert again.moves == ()


def test_a_proposal_holds_until_the_plan_or_the_placed_goes_beyond_it():
    record = case_under_way()
    answer = replan(record.state.plan, {}, expected_supply(record.state, {"1": 40}))
    assert isinstance(answer, Proposal)
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=answer.counts["LINE", "1"]))
    assert still_holds(answer, record.state)
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=1))
    assert not still_holds(answer, record.state)
    record.enter(c.TakeBack(role="placing"))
    assert still_holds(answer, record.state)
    record.enter(c.RevisePlan(plan=small_plan(title="another"), reason="title"))
    assert not still_holds(answer, record.state)


def test_the_reason_fits_an_entry_however_many_moves_there_are():
    plan = load_plan(SAMPLES / "frontal-midscalp" / "plan.toml")
    answer = proposed(plan, s1=400, s2=1000, s3=600)
    reason = reason_of(answer, MAX_TEXT)
    assert reason.startswith("re-plan accepted: hairline left 1: 120→")
    assert len(reason) <= MAX_TEXT
    assert reason.endswith(" more")
    assert reason_of(proposed(plan, sM=99), MAX_TEXT).count("M: 50→49") == 1


# As text, and from the command line.


def test_the_text_has_every_number():
    plan = plan_of(zone("A", {"2": 100}), zone("B", {"1": 20}), sizes="12")
    text = replan_text(proposed(plan, s2=90, s1=25), opened_case(plan).state)
    for row in (
        ["zone a", "·", "100 → 90", "100 → 90", "10.0 → 9.0", "20.0 → 18.0"],
        ["zone b", "20", "·", "20", "2.0", "2.0"],
        ["all", "20", "100 → 90", "120 → 110"],
        ["1s", "as given", "20", "25", "20", "5"],
        ["all", "120", "115", "110", "5"],
    ):
        assert "  ".join(row) in [spaced(line) for line in text.split("\n")]
    assert "10 fewer twos than planned are expected: zone a gets 10 fewer (no other zone" in text
    assert "5 more ones than planned are expected: 5 are left over." in text
    assert text.endswith(PROPOSAL_ONLY)
    assert replan_text(NoProposal(("It clashes.",)), opened_case(plan).state) == "No proposal.\n  It clashes."


def spaced(line: str) -> str:
    """A table's row with two spaces between its cells."""
    return "  ".join(cell.strip() for cell in line.split("  ") if cell.strip())


@pytest.fixture
def case(tmp_path: Path) -> Path:
    path = new_case(tmp_path / "case.orroom", ONE_HARVEST)
    with station(path, who="EF") as desk:
        entered(desk, c.StartHarvest(harvest="A", minutes_ago=30))
        entered(desk, c.CutGrafts(harvest="A", size="2", count=60))
        entered(desk, c.PlaceGrafts(zone="FRONT", size="2", count=50))
    return path


def ran(*words: object, code: int = 0) -> str:
    result = CliRunner().invoke(main, ["replan", *map(str, words)])
    assert result.exit_code == code, result.output
    return result.output


def test_the_verb_proposes_and_enters_nothing(case: Path):
    before = read_case(case).seq
    assert "Nothing changes" in ran(case)
    found = ran(case, "--supply", "2=70", "--supply", "m=10")
    assert "10 fewer twos than planned are expected: mid-scalp gets 10 fewer" in found
    assert "5 are left over." in ran(case, "--supply", "1=55")
    assert read_case(case).seq == before


def test_the_verb_accepts_for_somebody(case: Path):
    found = ran(case, "--supply", "2=70", "--accept", "--who", "RS")
    assert "plan revised by RS, 170 grafts planned" in found
    state = read_case(case)
    entry = state.log[-1]
    assert entry.stamp.who == "RS"
    assert isinstance(entry.event, PlanRevised)
    assert "mid-scalp 2: 30→20" in entry.event.reason
    assert state.plan.zone_by_key["MID"].planned["2"] == 20
    assert "Nothing changes" in ran(case, "--supply", "2=70")


def test_the_verb_accepts_nothing_that_the_record_has_gone_beyond(
    case: Path, monkeypatch: pytest.MonkeyPatch
):
    def placed_meanwhile(answer: Proposal, state: CaseState) -> str:
        with station(case, who="CD") as desk:
            entered(desk, c.PlaceGrafts(zone="MID", size="2", count=30))
        return replan_text(answer, state)

    monkeypatch.setattr("orroom.words.replan.replan_text", placed_meanwhile)
    assert "New entries were made" in ran(case, "--supply", "2=70", "--accept", "--who", "RS", code=1)
    assert read_case(case).plan == ONE_HARVEST


def test_the_verb_takes_what_the_surgeon_asks(case: Path):
    short = "--supply", "2=70"
    assert "hairline is not raised above 40 hairs" in ran(case, "--least-hairs", "line=10.5")
    assert "12.8" in ran(case, *short)
    assert "12.8" not in ran(case, *short, "--least-hairs", "MID=13.5")
    assert "50 twos are placed in frontal" in ran(case, *short, "--most-grafts", "FRONT=4")
    assert "hairline gets 2 more" in ran(case, "--supply", "1=60", "--raise-by", "10")


def test_the_verb_takes_combing_side_and_upper_arc(tmp_path: Path):
    zones = (zone(key, {"2": 100}, kind="vertex", side=side) for key, side in (("L", "left"), ("R", "right")))
    path = new_case(tmp_path / "case.orroom", plan_of(*zones, sizes="2"))
    short = path, "--supply", "2=160"
    assert "zone l and zone r each get 20 fewer" in ran(*short)
    fewer_right = ran(*short, "--combing-side", "left")
    assert "zone r gets 2" in fewer_right
    assert "zone l gets 1" in fewer_right
    assert ran(*short, "--upper-arc", "l") == fewer_right


def test_the_verb_asks_what_the_plan_asks_unless_an_option_does(tmp_path: Path):
    zones = (zone(key, {"2": 100}, kind="vertex", side=side) for key, side in (("L", "left"), ("R", "right")))
    plan = replace(plan_of(*zones, sizes="2"), combing_side="left", raise_share=0.1)
    short = new_case(tmp_path / "case.orroom", plan), "--supply", "2=160"
    assert "zone r gets 2" in ran(*short)
    assert "zone l gets 2" in ran(*short, "--combing-side", "right")
    assert "raised by up to 10 %" in ran(*short)
    assert "raised" not in ran(*short, "--raise-by", "0")


@pytest.mark.parametrize(
    ("words", "wrong"),
    [
        (("--supply", "2"), "is not like 1=400"),
        (("--supply", "4=7"), "the plan has no size 4"),
        (("--supply", "2=many"), "not a valid float"),
        (("--supply", "2=10001"), "is not in the range"),
        (("--upper-arc", "VX"), "the plan has no zone VX"),
        (("--accept",), "--accept needs --who"),
    ],
)
def test_what_the_verb_cannot_take_is_a_usage_error(case: Path, words: tuple[str, ...], wrong: str):
    assert wrong in ran(case, *words, code=2)


def test_the_verb_accepts_nothing_where_there_is_nothing(case: Path):
    before = read_case(case).seq
    assert "Nothing to accept" in ran(case, "--accept", "--who", "RS", code=1)
    assert "Nothing to accept" in ran(case, "--supply", "2=40", "--accept", "--who", "RS", code=1)
    assert read_case(case).seq == before
