"""Larger grafts divided for a re-plan: best by brute force, by hand, never for nothing, and what it says."""

from __future__ import annotations

import re
from itertools import product
from pathlib import Path

import pytest
from cases import case_under_way, opened_case, small_plan
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace
from replans import HAIRS, Placed, plan_of, supply_of, zone
from stations import new_case, read_case

from orroom.case import commands as c
from orroom.case.events import PlanRevised, ToDivide
from orroom.case.plan import Harvest, Plan
from orroom.cli import main
from orroom.figures.replan.dividing import CUT, LOST, Divided, Way, after, ways_now, ways_of
from orroom.figures.replan.problem import CHANGES, MISSING, Aims, Problem, cost, fits, problem_of
from orroom.figures.replan.program import _least_dividing
from orroom.figures.replan.proposal import NoProposal, Proposal, aims_now, reason_of, replan, revision
from orroom.formats.summary_formats import to_markdown
from orroom.summary.summary import summarise
from orroom.words.replan import replan_text

LISTED = {"2": ("1+1", "1"), "3": ("1+2", "1+1+1", "1+1"), "4": ("2+2", "1+3", "1+1+2"), "M": ("2+2", "1+3")}


def dividing(plan: Plan, loss: float | None = None, **into: tuple[str, ...]) -> Plan:
    """The plan with ``s3=("1+2",)`` and the like."""
    sizes = (replace(size, divided_into=into.get(f"s{size.key}"), dividing_loss=loss) for size in plan.sizes)
    return replace(plan, sizes=tuple(sizes))


def proposed(plan: Plan, tolerance: float = 0, **there: int) -> Proposal:
    answer = replan(plan, {}, supply_of(plan, **there), seconds=30, tolerance=tolerance)
    assert isinstance(answer, Proposal), answer
    return answer


def asked(answer: Proposal) -> list[tuple[str, str, int]]:
    return [(each.size, "+".join(each.into), each.count) for each in answer.divide]


def hairline(**into: tuple[str, ...]) -> Plan:
    """Twenty ones where only ones may go; behind it 30 twos and 30 threes."""
    zones = zone("A", {"1": 20}, allowed=("1",)), zone("B", {"2": 30, "3": 30})
    return dividing(plan_of(*zones), **into)


# Best by brute force, and a cost by hand.


@st.composite
def tangles(draw: st.DrawFn) -> tuple[Plan, Placed, dict[str, int]]:
    """One or two small zones, some placed, any supply, some ways to divide, some loss."""
    keys = draw(st.sampled_from(("12", "13", "2M", "123", "124")))
    zone_keys = "AB"[: 1 if len(keys) > 2 else 2]
    few = st.integers(0, 3)
    zones = tuple(
        zone(
            key,
            {size: draw(few) for size in keys if draw(st.integers(0, 3))},
            area_cm2=draw(st.sampled_from((0.1, 0.2))),
            allowed=draw(st.sampled_from((None, keys[:1], tuple(keys)))),
            neighbours=("A",) if key == "B" and draw(st.booleans()) else (),
        )
        for key in zone_keys
    )
    zones = tuple(replace(z, targets={s: n for s, n in z.planned.items() if z.takes(s)}) for z in zones)
    into = {
        f"s{size}": tuple(
            draw(st.sets(st.sampled_from([w for w in LISTED[size] if set(w) <= {"+", *keys}] or ["-"])))
            - {"-"}
        )
        or None
        for size in keys
        if size in LISTED
    }
    plan = dividing(plan_of(*zones, sizes=keys), draw(st.sampled_from((None, 0.0, 0.25))), **into)
    placed = {(z.key, size): draw(st.integers(0, 1)) for z in zones for size in z.planned}
    there = {
        size: sum(n for (_, each), n in placed.items() if each == size) + draw(st.integers(0, 4))
        for size in keys
    }
    return plan, placed, there


def every_dividing(problem: Problem) -> list[dict[Way, int]]:
    ranges = [range(problem.supply[way.size] + 4) for way in problem.ways]
    return [dict(zip(problem.ways, counts, strict=True)) for counts in product(*ranges)]


def left_of(problem: Problem, divided: Divided) -> dict[str, float]:
    """Grafts there are by size, from the plan's words alone: pieces fall short by the share that is lost."""
    return {
        size: there
        + sum(n * (way.into.count(size) * way.kept - (way.size == size)) for way, n in divided.items())
        for size, there in problem.supply.items()
    }


@settings(max_examples=120, deadline=None)
@given(tangles())
def test_no_dividing_is_better_by_brute_force(case: tuple[Plan, Placed, dict[str, int]]):
    plan, placed, there = case
    problem = problem_of(plan, placed, there, Aims(ways=ways_of(plan)))
    plenty = replace(problem, supply=dict.fromkeys(there, 1000))
    cells = [(z.key, size) for z in problem.zones for size in problem.hairs]
    most = [
        range(int(z.most_hairs / HAIRS[size] + 1e-6) + 1) for z in problem.zones for size in problem.hairs
    ]
    divisions = [
        (divided, left) for divided in every_dividing(problem)
        if min((left := left_of(problem, divided)).values()) > -1e-9
    ]  # fmt: skip
    best = float("inf")
    for numbers in product(*most):
        counts = dict(zip(cells, numbers, strict=True))
        if not fits(plenty, counts):
            continue
        used = {size: sum(n for (_, each), n in counts.items() if each == size) for size in there}
        undivided = cost(problem, counts)
        prices = [
            sum(way.price(HAIRS) * n for way, n in divided.items())
            for divided, left in divisions
            if all(used[size] <= left[size] + 1e-9 for size in used)
        ]
        best = min([best, *(undivided + price for price in prices)])
    answer = replan(plan, placed, supply_of(plan, **{f"s{size}": n for size, n in there.items()}),
                    seconds=30, tolerance=0)  # fmt: skip
    if isinstance(answer, NoProposal):
        assert best == float("inf")
        return
    assert answer.cost == pytest.approx(best, abs=1e-5)
    assert answer.gap == pytest.approx(0, abs=1e-5)


def test_the_price_by_hand():
    """One cut 0.25, two cuts 0.5; a hair lost 0.5. A three of whose pieces 10 % are lost: 0.3 hairs."""
    assert (CUT, LOST) == (0.25, 0.5)
    assert CHANGES[-1].rate == CUT
    assert Way("3", ("1", "2")).price(HAIRS) == pytest.approx(0.25)
    assert Way("3", ("1", "1", "1")).price(HAIRS) == pytest.approx(0.5)
    assert Way("3", ("1", "1")).price(HAIRS) == pytest.approx(0.25 + 0.5)
    assert Way("3", ("1", "2"), kept=0.9).price(HAIRS) == pytest.approx(0.25 + 0.15)
    assert Way("M", ("2", "2")).price(HAIRS) == pytest.approx(0.25 + 0.5 * 0.4)  # a mean of 4.4
    assert 2 * CHANGES[0].rate < CUT < MISSING[0].rate


def test_a_case_worked_out_by_hand():
    """Eight ones are missing in front; behind it 4 threes are to spare and 2 twos missing.

    Eight threes give eight ones and eight twos: 36 twos and 26 threes have the 150 hairs planned behind.
    """
    answer = proposed(hairline(s3=("1+2",)), s1=12, s2=28, s3=34)
    assert asked(answer) == [("3", "1+2", 8)]
    assert [zone.after for zone in answer.zones] == [{"1": 20, "2": 0, "3": 0}, {"1": 0, "2": 36, "3": 26}]
    assert [(each.divided, each.pieces, each.left_over) for each in answer.sizes] == [
        (0, 8, 0), (0, 8, 0), (8, 0, 0),
    ]  # fmt: skip
    changes = 0.1 * 3 + 0.15 * 3 + 0.1 * 3 + 0.15 * 1  # 6 twos more and 4 threes fewer; 5 % of 60 are 3
    assert answer.cost == pytest.approx(8 * 0.25 + changes)
    assert proposed(hairline(), s1=12, s2=28, s3=34).divide == ()


# Never for nothing.


def test_nothing_is_divided_unless_the_plan_allows_it():
    assert ways_of(hairline()) == ()
    assert proposed(hairline(), s1=0, s3=90).divide == ()


def test_nothing_is_divided_that_another_size_can_replace():
    """Two twos missing, two threes and a one to spare: threes go where twos would, uncut."""
    plan = dividing(plan_of(zone("B", {"1": 30, "2": 30, "3": 30})), s3=("1+2",))
    answer = proposed(plan, s2=27, s3=32)
    assert answer.divide == ()
    assert answer.zones[0].after == {"1": 30, "2": 27, "3": 32}


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 24), st.integers(20, 34), st.integers(20, 40), st.sampled_from((0.0, 1.0)))
def test_each_division_pays(ones: int, twos: int, threes: int, tolerance: float):
    """Better than none at all; and for the same zones, one fewer would not do."""
    plan = hairline(s2=("1+1",), s3=("1+2", "1+1+1"))
    answer = proposed(plan, tolerance, s1=ones, s2=twos, s3=threes)
    if not answer.divide:
        return
    there = {"1": ones, "2": twos, "3": threes}
    problem = problem_of(plan, {}, there, Aims(ways=ways_of(plan)))
    divided = {way: n for way in problem.ways for size, into, n in asked(answer)
               if (way.size, "+".join(way.into)) == (size, into)}  # fmt: skip
    assert fits(problem, answer.counts, divided)
    for way, number in divided.items():
        fewer = divided | {way: number - 1}
        assert not fits(problem, answer.counts, fewer)
    none = replan(dividing(plan), {}, supply_of(plan, s1=ones, s2=twos, s3=threes), seconds=30, tolerance=0)
    assert isinstance(none, Proposal)
    assert answer.cost < none.cost


def test_a_division_has_to_save_more_than_the_tolerance():
    """A one of 20 is missing: half a hair at 1, half at 1.5, weight 1.5, a change: 1.975. Divided: 0.25."""
    plan, there = hairline(s3=("1+2",)), {"s1": 19, "s3": 31}
    assert proposed(plan, 1.72, **there).divide
    kept = proposed(plan, 1.73, **there)
    assert kept.divide == ()
    assert kept.cost == pytest.approx(1.975)
    assert kept.gap == pytest.approx(1.725)


def test_the_fewest_cuts_and_hairs_are_spent():
    """Of two ones missing: two cuts into 1 + 2 and no loss, rather than one cut that loses a hair."""
    spare = {"s1": 18, "s2": 30, "s3": 40}
    assert asked(proposed(hairline(s3=("1+1", "1+2")), **spare)) == [("3", "1+2", 2)]
    assert asked(proposed(hairline(s3=("1+1",)), **spare)) == [("3", "1+1", 1)]


def test_a_dividing_that_a_tolerance_leaves_room_for_is_taken_back():
    """Three ones short: one three does. None short: none, whatever the solver came upon."""
    plan = hairline(s3=("1+1+1", "1+2"))
    three, two = ways_of(plan)
    short = problem_of(plan, {}, {"1": 17, "2": 30, "3": 40}, Aims(ways=(three, two)))
    assert _least_dividing(short, short.unchanged(), 30, otherwise={three: 7, two: 1}) == {three: 1}
    enough = replace(short, supply=short.supply | {"1": 20})
    assert _least_dividing(enough, short.unchanged(), 30, otherwise={three: 7}) == {}


@pytest.mark.parametrize(
    ("named", "divided"), [(("1+1+1", "1+2"), ("3", "1+1+1", 1)), (("1+2", "1+1+1"), ("3", "1+2", 2))]
)
def test_of_ways_that_cost_the_same_the_one_named_first_is_taken(
    named: tuple[str, ...], divided: tuple[str, str, int]
):
    """Two ones are short: one three cut twice, or two cut once."""
    assert asked(proposed(hairline(s3=named), 1.0, s1=18, s2=30, s3=40)) == [divided]


def test_the_same_question_has_the_same_answer():
    plan = hairline(s2=("1+1",), s3=("1+2", "1+1+1"))
    first, *others = (proposed(plan, 1.0, s1=7, s2=33, s3=36) for _ in range(3))
    assert first.divide
    assert all(each == first for each in others)


# What is there adds up.


@settings(max_examples=80, deadline=None)
@given(tangles(), st.sampled_from((0.0, 1.0)))
def test_hairs_are_kept_but_for_the_losses_and_pieces_come_from_grafts(
    case: tuple[Plan, Placed, dict[str, int]], tolerance: float
):
    plan, placed, there = case
    supply = supply_of(plan, **{f"s{size}": n for size, n in there.items()})
    answer = replan(plan, placed, supply, seconds=30, tolerance=tolerance)
    if isinstance(answer, NoProposal):
        return
    lost = 0.0
    for each in answer.divide:
        (way,) = (w for w in ways_of(plan) if (w.size, w.into) == (each.size, each.into))
        lost += each.count * way.hairs_lost(HAIRS)
    before = sum(HAIRS[size] * n for size, n in there.items())
    shown = sum(HAIRS[each.size] * (each.used + each.left_over) for each in answer.sizes)
    assert before - lost - sum(HAIRS[each.size] for each in answer.sizes if each.pieces) < shown + 1e-6
    assert shown <= before - lost + 1e-6
    for use in answer.sizes:
        on_hand = use.supply.grafts + use.pieces - use.divided
        assert use.used <= on_hand
        assert use.left_over == on_hand - use.used >= 0
        placed_of = sum(n for (_, size), n in placed.items() if size == use.size)
        assert placed_of + use.divided <= use.supply.grafts + use.pieces


def test_only_whole_pieces_are_placed():
    """Of four threes, a quarter of the pieces lost: three ones and three twos; of three, two of each."""
    way = Way("3", ("1", "2"), kept=0.75)
    assert after({"1": 0, "2": 0, "3": 9}, {way: 4}) == {"1": 3, "2": 3, "3": 5}
    assert after({"1": 0, "2": 0, "3": 9}, {way: 3}) == {"1": 2, "2": 2, "3": 6}


# What is lost: the record, else the plan, else nothing.


def ways_after(*divisions: tuple[str, tuple[str, ...], int], loss: float | None = None) -> tuple[Way, ...]:
    record = case_under_way(plan=dividing(small_plan(), loss, s3=("1+2",), sM=("2+2",)))
    for size, into, count in divisions:
        record.enter(c.DivideGrafts(size=size, into=into, count=count))
    return ways_now(record.state)


def test_the_loss_is_the_records_else_the_plans_else_none():
    three, multi = ways_after()
    assert (three.kept, three.basis, multi.basis) == (1, "none", "none")
    three, multi = ways_after(loss=0.1)
    assert (three.kept, three.basis, multi.kept) == (0.9, "plan", 0.9)
    three, multi = ways_after(("3", ("1", "2"), 3), ("3", ("2",), 1), ("M", ("2",), 1), loss=0.1)
    assert three.kept == pytest.approx(1 - 1 / 12)  # one hair of the twelve of four threes
    assert three.basis == "record"
    assert (multi.kept, multi.basis) == (0.9, "plan")  # what a multi-unit graft loses is not known


def test_what_a_listed_way_loses_is_no_other_loss():
    record = case_under_way(plan=dividing(small_plan(), s3=("1+1", "1+2")))
    record.enter(c.DivideGrafts(size="3", into=("1", "1"), count=4))
    assert {way.kept for way in ways_now(record.state)} == {1}


def test_a_cancelled_division_counts_for_no_loss():
    record = case_under_way(plan=dividing(small_plan(), s3=("1+2",)))
    entry = record.enter(c.DivideGrafts(size="3", into=("2",), count=4))
    assert ways_now(record.state)[0].kept < 1
    record.enter(c.CorrectEntry(entry=entry.seq, reason="wrong"))
    assert ways_now(record.state)[0] == Way("3", ("1", "2"), 1.0, "none")


def test_ways_asked_for_beside_the_plans():
    record = case_under_way(plan=dividing(small_plan(), s3=("1+2",)))
    asked_for = aims_now(record.state, [("3", "1+2"), ("2", "1+1")]).ways
    assert [(way.size, way.into) for way in asked_for] == [("3", ("1", "2")), ("2", ("1", "1"))]


@pytest.mark.parametrize(
    ("way", "wrong"),
    [
        (Way("3", ("1", "3")), "a 3 divided into 1 + 3: is more than the 3 hairs"),
        (Way("3", ("3",)), "a 3 divided into 3: makes no smaller grafts"),
        (Way("4", ("2", "2")), "size 4 is not one of the plan's sizes"),
    ],
)
def test_ways_that_mean_nothing(way: Way, wrong: str):
    with pytest.raises(ValueError, match=wrong.replace("+", r"\+")):
        replan(hairline(), {}, supply_of(hairline()), Aims(ways=(way,)))


# What it says.


def test_the_proposal_says_what_to_divide_why_and_what_it_costs():
    first, why, *rest = proposed(hairline(s3=("1+2",)), s1=12, s2=28, s3=34).sentences
    assert first == (
        "Divide 8 threes into 1 + 2, counting on 8 ones and 8 twos; no hair lost, as neither this case nor"
        " the plan shows a loss in dividing."
    )
    assert why == "Without dividing, zones would lack 8 hairs of the plan; with it, none."
    assert rest[-1] == "Asked for: threes may be divided into 1 + 2."


@pytest.mark.parametrize(
    ("way", "says"),
    [
        (Way("3", ("1", "2"), 0.9, "plan"), "; 2.7 hairs lost, going by the plan."),
        (Way("3", ("1", "2"), 1.0, "plan"), "; no hair lost, going by the plan."),
        (Way("3", ("1", "2"), 0.9, "record"), "lost, going by the threes divided in this case so far."),
        (Way("3", ("1", "1"), 1.0, "none"), "hairs lost, as neither this case nor the plan shows"),
    ],
)
def test_where_the_loss_comes_from_is_said(way: Way, says: str):
    plan = hairline()
    answer = replan(
        plan, {}, supply_of(plan, s1=12, s2=28, s3=40), Aims(ways=(way,)), seconds=30, tolerance=0
    )
    assert isinstance(answer, Proposal)
    assert says in answer.sentences[0]


def test_a_mix_that_dividing_keeps_is_said_so():
    """24 ones are short that twos could replace. Six changes of 120 grafts cost 0.1 each, others more."""
    plan = plan_of(zone("A", {"1": 60, "2": 60}, allowed=("1", "2")), zone("B", {"3": 30}))
    answer = proposed(dividing(plan, s3=("1+1+1",)), s1=36, s2=80, s3=70)
    assert asked(answer) == [("3", "1+1+1", 6)]
    assert answer.zones[0].after == {"1": 54, "2": 63, "3": 0}
    assert answer.sentences[1] == (
        "Without dividing, 36 grafts would be more or fewer of a size than planned; with it, 9."
    )


def test_a_least_density_that_only_dividing_gives():
    plan = hairline(s3=("1+2",))
    front = replace(plan.zones[0], least_hairs_per_cm2=2)
    answer = proposed(replace(plan, zones=(front, plan.zones[1])), s1=12, s3=34)
    assert asked(answer) == [("3", "1+2", 8)]
    assert answer.sentences[1] == "Without dividing, what was asked for cannot be met."


def as_text(answer: Proposal) -> str:
    return replan_text(answer, opened_case(answer.plan).state)


def test_the_text_has_what_is_divided_by_size_and_only_then():
    divided = as_text(proposed(hairline(s3=("1+2",)), s1=12, s2=28, s3=34))
    rows = [line.split() for line in divided.splitlines()]
    assert ["3s", "as", "given", "30", "34", "8", "0", "26", "0"] in rows
    assert "pieces" not in as_text(proposed(hairline(), s1=12, s2=28, s3=34))


# Accepted.


def test_an_accepted_dividing_is_in_the_entry_and_asked_again_says_the_same():
    plan = hairline(s3=("1+2",))
    answer = proposed(plan, s1=12, s2=28, s3=34)
    accept = revision(answer)
    assert accept.divide == (ToDivide(size="3", into=("1", "2"), count=8),)
    assert reason_of(answer, 200).startswith("re-plan accepted: divide 8 × 3 into 1+2, zone b 2: 30→36")
    again = replan(accept.plan, {}, supply_of(plan, s1=12, s2=28, s3=34), seconds=30, tolerance=0)
    assert isinstance(again, Proposal)
    assert (again.divide, again.moves, again.asks_for_something) == (answer.divide, (), True)


def test_a_re_plan_of_a_record_allows_for_what_it_lost():
    record = case_under_way(plan=dividing(small_plan(), s3=("1+2",)))
    record.enter(c.DivideGrafts(size="3", into=("2",), count=2))
    supply = supply_of(record.state.plan, s1=0, s3=60)
    answer = replan(record.state.plan, {}, supply, aims_now(record.state), seconds=30, tolerance=0)
    assert isinstance(answer, Proposal)
    assert "going by the threes divided in this case so far" in answer.sentences[0]
    record.enter(revision(answer))
    revised = record.state.log[-1].event
    assert isinstance(revised, PlanRevised)
    assert revised.divide == answer.divide


def test_what_was_asked_against_what_was_divided():
    """Ten asked: 4 + 2 divided so, in either order of the pieces; then another re-plan asks for three."""
    record = case_under_way(plan=dividing(small_plan(), s3=("1+2",)))

    def accept(*asks: ToDivide) -> None:
        record.enter(c.RevisePlan(plan=record.state.plan, reason="re-plan accepted", divide=asks))

    record.enter(c.DivideGrafts(size="3", into=("1", "2")))
    accept(ToDivide(size="3", into=("1", "2"), count=10), ToDivide(size="2", into=("1", "1"), count=1))
    record.enter(c.DivideGrafts(size="3", into=("1", "2"), count=4))
    record.enter(c.DivideGrafts(size="3", into=("2", "1"), count=2))
    record.enter(c.DivideGrafts(size="3", into=("1", "1", "1")))
    wrong = record.enter(c.DivideGrafts(size="3", into=("1", "2")))
    record.enter(c.CorrectEntry(entry=wrong.seq, reason="wrong"))
    record.enter(c.RevisePlan(plan=record.state.plan, reason="another title"))
    record.enter(c.DivideGrafts(size="3", into=("1", "2")))
    accept(ToDivide(size="3", into=("1", "2"), count=3))
    record.enter(c.DivideGrafts(size="3", into=("1", "2"), count=2))
    summary = summarise(record.state)
    assert [(each.size, each.into, each.asked, each.divided) for each in summary.divisions_asked] == [
        ("3", "1+2", 10, 7),
        ("2", "1+1", 1, 0),
        ("3", "1+2", 3, 2),
    ]
    page = to_markdown(summary)
    assert "Dividing asked for by a re-plan" in page
    assert re.search(r"EF +3s? *\S* +1 \+ 2 +10 +7", page) or "1 + 2" in page
    assert summarise(case_under_way().state).divisions_asked == ()


def test_an_entry_asks_only_for_grafts_that_there_are():
    record = case_under_way()
    command = c.RevisePlan(
        plan=record.state.plan, reason="why", divide=(ToDivide(size="4", into=("1",), count=0),)
    )
    assert "Size '4' is not one of" in record.refusal(command).right


def test_the_verb_allows_one_more_way_and_records_it(tmp_path: Path):
    plan = small_plan(harvests=(Harvest(key="A", label="strip", segments=4),))
    path = new_case(tmp_path / "case.orroom", plan)
    asked_for = ["replan", str(path), "--supply", "1=20", "--supply", "3=60"]
    said = CliRunner().invoke(main, asked_for)
    assert said.exit_code == 0, said.output
    assert "Divide" not in said.output
    for way in ("3=", "1+2", "3=1-2", "5=1+1", "3=1+2+"):
        wrong = CliRunner().invoke(main, [*asked_for, "--divide", way])
        assert (wrong.exit_code, f"{way} is not like 3=1+2" in wrong.output) == (2, True)
    wrong = CliRunner().invoke(main, [*asked_for, "--divide", "3=1+3"])
    assert (wrong.exit_code, "a 3 divided into 1 + 3: is more than the 3 hairs" in wrong.output) == (2, True)
    said = CliRunner().invoke(main, [*asked_for, "--divide", "3=1+2", "--accept", "--who", "RS"])
    assert said.exit_code == 0, said.output
    assert re.search(r"Divide \d+ threes into 1 \+ 2, counting on \d+ ones and \d+ twos", said.output)
    revised = read_case(path).log[-1].event
    assert isinstance(revised, PlanRevised)
    (ask,) = revised.divide or ()
    assert (ask.size, ask.into) == ("3", ("1", "2"))
    assert ask.count > 10
