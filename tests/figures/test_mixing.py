"""Times out of the body where harvests mix: the truth is never outside, and the bounds are reached."""

from __future__ import annotations

import random
from collections.abc import Iterator
from typing import NamedTuple

import pytest
from cases import opened_case, small_plan
from hypothesis import given, settings
from hypothesis import strategies as st

from orroom.case import commands as c
from orroom.case.plan import Limits
from orroom.figures.all_harvests import of_all_harvests
from orroom.figures.one_harvest import of_one_harvest
from orroom.figures.out_of_body import out_of_body
from orroom.figures.streams import Stream
from orroom.figures.survival import HOURS, QUARTILES, Between, Observation, Times, kaplan_meier, quantile_ms

HOUR_MS = 3_600_000
QUARTER_MS = HOUR_MS // 4


class Day(NamedTuple):
    """A simulated day: since when its harvests are out, its sizes, the time now, and what became of each
    graft.

    ``true`` is by harvest; a graft that was lost is not in it.
    """

    since_ms: tuple[int, ...]
    streams: tuple[Stream, ...]
    now_ms: int
    true: tuple[tuple[Observation, ...], ...]


def day(rng: random.Random, harvests: int, *, sizes: int, steps: int, losses: bool) -> Day:
    """Grafts cut in harvests of random sizes, placed and lost in random order, each of a random harvest."""
    since = tuple(sorted(rng.randrange(0, 12) * QUARTER_MS for _ in range(harvests)))
    streams, true = [], [list[Observation]() for _ in range(harvests)]
    now = 40 * QUARTER_MS
    for _ in range(sizes):
        stream, dish = Stream(), list[int]()
        for at in sorted(rng.randrange(9 * HOUR_MS) for _ in range(steps)):
            harvested = [harvest for harvest in range(harvests) if since[harvest] <= at]
            what = rng.random()
            if harvested and what < 0.45:
                harvest, count = rng.choice(harvested), rng.randint(1, 3)
                stream.come({harvest}, count)
                dish += [harvest] * count
            elif dish:
                placed = not losses or what < 0.9
                count = rng.randint(1, min(2, len(dish)))
                stream.leave(at, count, placed=placed)
                for _ in range(count):
                    harvest = dish.pop(rng.randrange(len(dish)))
                    if placed:
                        true[harvest].append(Observation(at - since[harvest], 1, placed=True))
        done = rng.random() < 0.5
        if done and dish:
            stream.leave(now - 1, len(dish), placed=True)
        for harvest in dish:
            true[harvest].append(Observation(now - done - since[harvest], 1, placed=done))
        if stream.may_be:
            streams.append(stream)
    return Day(since, tuple(streams), now, tuple(map(tuple, true)))


def figures(true: tuple[Observation, ...]) -> list[float | None]:
    """The figures of which bounds are told, worked out from the truth."""
    curve, whole = kaplan_meier(true), sum(each.grafts for each in true)
    placed = sum(each.grafts for each in true if each.placed)
    return [
        placed,
        whole - placed,
        *(quantile_ms(curve, share) for share in QUARTILES),
        max((each.out_ms for each in true if each.placed), default=None),
        sum(each.out_ms * each.grafts for each in true) / HOUR_MS,
        *(
            sum(each.grafts for each in true if each.out_ms > hours * HOUR_MS) / whole if whole else None
            for hours in HOURS_OUT
        ),
    ]


#: Those of every page, and a surgeon's limit.
LIMIT_HOURS = 1.1
HOURS_OUT = (*HOURS, LIMIT_HOURS)
TIMES = ("quarter", "half", "3 quarters", "longest")
NAMES = ("placed", "waiting", *TIMES, "hours", "over 2", "over 4", "over 6", "over the limit")
#: Those that there are of a harvest that gave no graft.
COUNTED = {"placed", "waiting", "hours"}
#: Those that are not reached, or later than anything, where they are ``None``.
LATER = {"quarter", "half", "3 quarters"}


def bounds(times: Times) -> list[Between]:
    return [
        times.placed,
        times.waiting,
        *times.quartiles_ms,
        times.longest_placed_ms,
        times.graft_hours,
        *times.share_over,
    ]


def outside(times: Times, true: tuple[Observation, ...]) -> list[tuple[str, Between, float | None]]:
    """The figures whose truth is outside of their bounds."""
    found = []
    for name, between, figure in zip(NAMES, bounds(times), figures(true), strict=True):
        low, high, true_one = between.low, between.high, figure
        if name in LATER:
            low, high, true_one = (float("inf") if each is None else each for each in (low, high, figure))
        elif figure is None:
            continue
        if not (low or 0) - 1e-9 <= (true_one or 0) <= (-1 if high is None else high) + 1e-9:
            found.append((name, between, figure))
    return found


@pytest.mark.parametrize("losses", [False, True])
@pytest.mark.parametrize("harvests", [2, 3])
def test_the_truth_is_never_outside(harvests: int, losses: bool):
    for seed in range(75):
        made = day(random.Random(f"{harvests} {losses} {seed}"), harvests, sizes=3, steps=60, losses=losses)
        for harvest, since in enumerate(made.since_ms):
            found = of_one_harvest(made.streams, harvest, since, made.now_ms, HOURS_OUT)
            if found is None:
                assert made.true[harvest] == ()
            else:
                assert outside(found, made.true[harvest]) == [], (seed, harvest)
        everything = tuple(each for mine in made.true for each in mine)
        assert everything
        assert (
            outside(of_all_harvests(made.streams, made.since_ms, made.now_ms, HOURS_OUT), everything) == []
        ), seed


def ways(stream: Stream) -> Iterator[list[tuple[int, int | None]]]:
    """Every way to give each graft that left a harvest that was there: its harvest, and when it was placed.

    That is ``None`` for those lost, and -1 for those that wait.
    """

    def going_on(
        place: int, stocks: tuple[int, ...], taken: int, last: int
    ) -> Iterator[list[tuple[int, int | None]]]:
        if taken == 0:
            new = list(stocks)
            for came in stream.before[place]:
                new[came.oldest] += came.grafts
            stocks = tuple(new)
        if place == len(stream.left):
            yield [(harvest, -1) for harvest, count in enumerate(stocks) for _ in range(count)]
            return
        at, grafts, placed = stream.left[place]
        if taken == grafts:
            yield from going_on(place + 1, stocks, 0, 0)
            return
        for harvest in range(last, len(stocks)):
            if stocks[harvest]:
                rest = (*stocks[:harvest], stocks[harvest] - 1, *stocks[harvest + 1 :])
                for way in going_on(place, rest, taken + 1, harvest):
                    yield [(harvest, at if placed else None), *way]

    yield from going_on(0, (0, 0, 0), 0, 0)


@pytest.mark.parametrize("losses", [False, True])
def test_the_bounds_are_reached_by_some_way_to_give_each_graft_a_harvest(losses: bool):
    """Every way of small days of one size, up to three harvests, is tried."""
    tight = 0
    for seed in range(120):
        rng = random.Random(f"ways {losses} {seed}")
        made = day(rng, rng.choice((2, 3)), sizes=1, steps=11, losses=losses)
        if not any(made.true):
            continue
        (stream,) = made.streams
        reached: list[list[list[float | None]]] = [[] for _ in range(len(made.since_ms) + 1)]
        for way in ways(stream):
            seen: list[list[Observation]] = [[] for _ in made.since_ms]
            for harvest, at in way:
                if at is not None:
                    out = (made.now_ms if at < 0 else at) - made.since_ms[harvest]
                    seen[harvest].append(Observation(out, 1, placed=at >= 0))
            for harvest, mine in enumerate(seen):
                reached[harvest].append(figures(tuple(mine)))
            reached[-1].append(figures(tuple(each for mine in seen for each in mine)))
        found = [
            of_one_harvest(made.streams, harvest, since, made.now_ms, HOURS_OUT)
            for harvest, since in enumerate(made.since_ms)
        ]
        found.append(of_all_harvests(made.streams, made.since_ms, made.now_ms, HOURS_OUT))
        newer_waits = any(each.before for each in [stream]) and found[-1].waiting.high
        for number, each in enumerate(found):
            if each is None:
                continue
            alone = number < len(made.since_ms)
            for place, (name, between) in enumerate(zip(NAMES, bounds(each), strict=True)):
                every = [row[place] for row in reached[number]]
                if name not in COUNTED and not all(row[6] for row in reached[number]):
                    continue  # a harvest that may have given no graft at all
                if name in LATER:
                    every = [float("inf") if value is None else value for value in every]
                every = [value for value in every if value is not None]
                low, high = between
                if name in LATER:
                    low, high = (float("inf") if end is None else end for end in between)
                if not every:
                    continue
                least, most = min(every), max(every)
                assert low is not None
                assert high is not None
                assert low <= least + 1e-9, (seed, number, name)
                assert high >= most - 1e-9, (seed, number, name)
                if not alone and name in LATER and newer_waits:
                    continue
                if alone and name == "longest" and (losses or not each.placed.low):
                    continue
                tight += 1
                assert (low, high) == pytest.approx((least, most)), (seed, number, name)
    assert tight > 500


STEPS = ("cut A", "cut B", "place", "place", "discard", "divide", "count")


@settings(max_examples=150)
@given(st.lists(st.sampled_from(STEPS), max_size=30), st.randoms(use_true_random=False))
def test_the_truth_of_a_record_is_never_outside(steps: list[str], rng: random.Random):
    """Each graft cut, divided, placed or given up is of a true harvest; a count finds what there is."""
    record = opened_case(small_plan(limits=Limits(with_placers_seconds=120, out_of_body_hours=LIMIT_HOURS)))
    record.enter(c.StartHarvest(harvest="A", minutes_ago=60))
    record.enter(c.StartHarvest(harvest="B"))
    since = {harvest: clock.started_at_ms or 0 for harvest, clock in record.tally.harvests.items()}
    there: dict[str, list[str]] = {"1": [], "2": []}
    true: dict[str, list[Observation]] = {"A": [], "B": []}

    def taken(size: str) -> str:
        return there[size].pop(rng.randrange(len(there[size])))

    for step in steps:
        record.wait(5)
        what, _, harvest = step.partition(" ")
        size = rng.choice([each for each in there if there[each]] or ["2"])
        if what == "cut":
            record.enter(c.CutGrafts(harvest=harvest, size="2", count=2))
            there["2"] += [harvest] * 2
        elif what == "count":
            for harvest in "AB":
                found = there[size].count(harvest)
                record.enter(c.CountDish(size=size, harvest=harvest, place="dish", found=found))
        elif what == "divide" and there["2"]:
            record.enter(c.DivideGrafts(size="2", into=("1", "1"), count=1))
            there["1"] += [taken("2")] * 2
        elif what == "discard" and there[size]:
            record.enter(c.DiscardGrafts(size=size, reason="dried", count=1))
            taken(size)
        elif what == "place" and there[size]:
            at_ms = record.enter(c.PlaceGrafts(zone="FRONT", size=size, count=1)).stamp.at_ms
            harvest = taken(size)
            true[harvest].append(Observation(at_ms - since[harvest], 1, placed=True))
    for harvest in (*there["1"], *there["2"]):
        true[harvest].append(Observation(record.now_ms - since[harvest], 1, placed=False))
    for harvest, each_found in out_of_body(record.state, record.now_ms):
        assert outside(each_found, tuple(true[harvest] if harvest else [*true["A"], *true["B"]])) == [], (
            harvest
        )


def test_what_was_placed_before_it_was_entered_may_be_of_any_harvest_then():
    """Two placed at minute 10, one of A entered by then; four of B entered at minute 20."""
    record = opened_case()
    record.enter(c.StartHarvest(harvest="A", minutes_ago=60))
    record.enter(c.StartHarvest(harvest="B", minutes_ago=30))
    record.enter(c.CutGrafts(harvest="A", size="2", count=1))
    record.wait(10)
    placed_ms = record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=2)).stamp.at_ms
    record.wait(10)
    record.enter(c.CutGrafts(harvest="B", size="2", count=4))
    since = {harvest: clock.started_at_ms or 0 for harvest, clock in record.tally.harvests.items()}
    (_, a), (_, b), (_, whole) = out_of_body(record.state, record.now_ms)
    assert (a.placed, b.placed, whole.placed) == (Between(0, 1), Between(1, 2), Between(2, 2))
    assert (a.waiting, b.waiting, whole.waiting) == (Between(0, 1), Between(2, 3), Between(3, 3))
    assert whole.longest_placed_ms == Between(placed_ms - since["B"], placed_ms - since["A"])


def test_what_never_came_may_be_of_any_harvest_that_was_cut():
    record = opened_case()
    record.enter(c.StartHarvest(harvest="A", minutes_ago=60))
    record.enter(c.StartHarvest(harvest="B", minutes_ago=30))
    record.enter(c.CutGrafts(harvest="A", size="1", count=1))
    record.enter(c.CutGrafts(harvest="B", size="2", count=1))
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=3))
    found = {harvest: times.placed for harvest, times in out_of_body(record.state, record.now_ms)}
    assert found == {"A": Between(0, 2), "B": Between(1, 3), None: Between(3, 3)}
