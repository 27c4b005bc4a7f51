"""When sizes run out, by hand and by brute force; what dividing would bring; when a harvest should start."""

from __future__ import annotations

from itertools import pairwise
from math import inf
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from cases import MINUTE_MS, Record, opened_case, small_plan
from flow_days import day_under_way, two_harvests
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from orroom.case import commands as c
from orroom.case.events import Entry
from orroom.case.evolve import evolve
from orroom.case.plan import Harvest, Zone
from orroom.case.state import CaseState
from orroom.figures.counts import by_size
from orroom.figures.flow.course import Ahead, Supply, course
from orroom.figures.flow.days import Day, WhatIf, the_day
from orroom.figures.flow.found import LASTING, Flow, SizeFlow
from orroom.figures.flow.outlook import flow
from orroom.figures.flow.to_come import grafts_to_come, minutes_to_the_cutters
from orroom.figures.pace.finish import Rate
from orroom.figures.pace.rest_of_day import foretold
from orroom.record.events_file import read_events

SAMPLE = Path(__file__).parents[2] / "sample_cases" / "frontal-midscalp" / "events.jsonl"


def days(
    waiting: list[float],
    owed: list[list[float]],
    *,
    placers: int = 1,
    placing: float = 120,
    cutting: float = 0,
    harvests: tuple[tuple[float, list[float]], ...] = (),
) -> Ahead:
    """One day: grafts by size and zone, paces an hour, harvests with their beginning in minutes."""
    return Ahead(
        waiting=np.array([waiting], float),
        owed=np.array([owed], float),
        supplies=[Supply(np.array([float(at)]), np.array([grafts], float)) for at, grafts in harvests],
        cutting=np.array([cutting / 60]),
        placing=np.array([placing / 60]),
        wishes=np.ones((1, len(waiting))),
        batch=np.zeros((1, len(waiting))),
        placers=placers,
    )


# By hand.


def test_a_size_runs_dry_when_placing_has_overtaken_cutting():
    """20 wait, 120 an hour placed, 30 cut: 20 / (2 − 0.5) = 13 min 20 s. Then a graft every two minutes."""
    found = course(days([20], [[100]], cutting=30, harvests=((0, [1000]),)), 240)
    assert found.dry_at[0] == pytest.approx([40 / 3])
    # (100 − 2 · 13.33) left at 0.5 a minute: 146.67 min, of which three quarters are idle.
    assert found.idle[0] == pytest.approx(110)


def test_a_zone_gets_its_sizes_in_proportion_and_the_next_zone_comes_after_it():
    """Zone 1 is owed 30 ones and 60 twos, 1 : 2, in 45 minutes; of 20 ones the last goes after 30.

    Its last 20 twos then take 10 minutes; at 40 the placer goes on to zone 2, which gets the last 20: at 50.
    """
    found = course(days([20, 80], [[30, 60], [0, 60]]), 240)
    assert found.dry_at[0] == pytest.approx([30, 50])
    assert [waiting for at, waiting in found.path if at == pytest.approx(40)] == [(0, pytest.approx(20))]


def test_a_size_has_run_out_when_no_more_than_a_batch_waits():
    """20 wait, 2 a minute are placed, 0.5 cut: 5 are left after 15 / 1.5 = 10 minutes, and none after 13:20.

    Of a size of which no more than 5 beside those are owed then, nothing is missing.
    """
    ahead = replace(days([20], [[100]], cutting=30, harvests=((0, [1000]),)), batch=np.array([[5.0]]))
    found = course(ahead, 240)
    assert found.dry_at[0] == pytest.approx([10])
    assert next(at for at, waiting in found.path if waiting == (0.0,)) == pytest.approx(40 / 3)
    assert course(replace(ahead, waiting=np.array([[5.0]])), 240).dry_at[0] == pytest.approx([0])
    assert course(replace(ahead, owed=np.array([[[25.0]]])), 240).dry_at[0] == pytest.approx([inf])


def test_placing_is_slower_while_a_placer_is_away():
    """1 a minute for 10 minutes, then 2: of 30 grafts 20 are left at 10, and the last goes at 20."""
    ahead = replace(days([30], [[100]]), meanwhile=1.0, all_place=10.0)
    assert course(ahead, 240).dry_at[0] == pytest.approx([20])


def test_two_placers_are_in_two_zones():
    """One zone of ones, one of twos, 60 an hour each: 15 ones last 15 minutes, 45 twos 45 minutes.

    After 15 minutes both are at the twos: 30 left, 2 a minute, another 15.
    """
    found = course(days([15, 45], [[50, 0], [0, 60]], placers=2), 240)
    assert found.dry_at[0] == pytest.approx([15, 30])


def test_a_size_that_no_zone_in_reach_needs_is_not_dry():
    """No threes wait, and only the second zone is owed them: dry from when the first is done, at 20."""
    found = course(days([40, 0], [[40, 0], [0, 10]]), 240)
    assert found.dry_at[0] == pytest.approx([inf, 20])


def test_what_is_cut_of_a_dry_size_is_placed_as_it_comes():
    """No ones wait; 30 an hour are cut. In an hour 30 are placed, the rest of the pace goes to the twos."""
    found = course(days([0, 500], [[200, 100], [0, 300]], cutting=30, harvests=((0, [500, 0]),)), 60)
    assert found.dry_at[0] == pytest.approx([0, inf])
    assert found.path[-1] == (pytest.approx(60), (0, pytest.approx(500 - 90)))


def test_no_more_is_placed_as_it_comes_than_the_placers_can():
    """No ones wait, 120 an hour are cut, 30 an hour placed: after half an hour 60 − 15 wait."""
    found = course(days([0], [[200]], placing=30, cutting=120, harvests=((0, [100]),)), 30)
    assert found.path[-1] == (pytest.approx(30), (pytest.approx(45),))


def test_a_harvest_that_begins_late_leaves_the_placers_idle():
    """100 wait, 120 an hour: used up at 50. The next harvest is cut from minute 80, 120 an hour."""
    owed, later = [[200.0]], ((80, [100.0]),)
    assert course(days([100], owed, cutting=120, harvests=later), 300).idle[0] == pytest.approx(30)
    in_time = ((50, [100.0]),)
    assert course(days([100], owed, cutting=120, harvests=in_time), 300).idle[0] == pytest.approx(0)


def test_harvests_are_cut_one_after_the_other():
    """60 an hour: 30 ones until minute 30, then twos, though both harvests were there from the beginning."""
    both = ((0, [30.0, 0.0]), (0, [0.0, 30.0]))
    found = course(days([0, 0], [[30, 0], [0, 15]], cutting=60, harvests=both), 100)
    assert [round(at) for at, _ in found.path] == [0, 30, 45]
    assert found.idle[0] == pytest.approx(45 / 2)  # 120 an hour could be placed
    without_ones = course(days([0, 0], [[0, 15]], cutting=60, harvests=both), 100)
    assert [round(at) for at, _ in without_ones.path][-1] == 45


# Against a day that goes graft by graft.


@settings(max_examples=40)
@given(st.lists(st.integers(6, 40), min_size=2, max_size=3), st.integers(60, 240), st.data())
def test_a_day_of_one_placer_agrees_with_small_steps(waiting: list[int], placing: int, data: st.DataObject):
    """Nothing is cut. Two seconds at a time, by loops: the same sizes run out, within 2.5 minutes."""
    sizes = range(len(waiting))
    zone = st.lists(st.integers(0, 60), min_size=len(waiting), max_size=len(waiting))
    owed = data.draw(st.lists(zone, min_size=1, max_size=3))
    found = course(
        days(list(map(float, waiting)), [list(map(float, each)) for each in owed], placing=placing), 120
    )
    left, stock = [list(map(float, zone)) for zone in owed], list(map(float, waiting))
    dry, at, step = [inf for _ in sizes], 0.0, 1 / 30
    while at < 120 and any(map(any, left)):
        room = step * placing / 60
        first = next((zone for zone in left if sum(zone) > 1e-9), left[0])
        for size in sizes:
            owed_now = first[size] if waiting[size] == 0 else sum(zone[size] for zone in left)
            if owed_now > 1e-9 and stock[size] <= 1e-9:
                dry[size] = min(dry[size], at)
        for zone in left:
            owes = sum(zone[size] for size in sizes if stock[size] > 1e-9)
            took = [min(zone[size], stock[size], room * zone[size] / owes if owes else 0) for size in sizes]
            for size in sizes:
                zone[size] -= took[size]
                stock[size] -= took[size]
            room -= sum(took)
        at += step
    for exact, stepwise in zip(found.dry_at[0].tolist(), dry, strict=True):
        if min(exact, stepwise) < 115:
            assert exact == pytest.approx(stepwise, abs=2.5)
    assert sum(found.path[-1][1]) == pytest.approx(sum(stock), abs=3)


@settings(max_examples=60)
@given(st.integers(0, 10_000))
def test_grafts_are_never_below_zero_nor_lost(seed: int):
    """What waits at each event is not negative, and no more is gone than was owed."""
    chance = np.random.default_rng(seed)
    owed = chance.integers(0, 80, (4, 3)) * 1.0
    ahead = days(
        (chance.integers(0, 50, 3) * 1.0).tolist(),
        owed.tolist(),
        placers=int(chance.integers(1, 5)),
        placing=float(chance.uniform(30, 400)),
        cutting=float(chance.uniform(0, 400)),
        harvests=((float(chance.uniform(0, 60)), (chance.integers(0, 90, 3) * 1.0).tolist()),),
    )
    found = course(ahead, 180)
    times = [at for at, _ in found.path]
    assert all(one < other for one, other in pairwise(times))
    assert times[-1] <= 180 + 1e-6
    waits = np.array([waiting for _, waiting in found.path])
    assert (waits >= 0).all()
    gone = ahead.waiting[0] + ahead.supplies[0].grafts[0] - waits[-1]
    if times[-1] > 150 and ahead.cutting[0] * 90 > ahead.supplies[0].grafts.sum():  # all is cut
        assert (gone <= owed.sum(axis=0) + 1e-6).all()
    assert 0 <= found.idle[0] <= 180 + 1e-6
    assert course(ahead, 180, while_cut=True).idle == pytest.approx(found.idle)


# Of a record.


def flow_of(record: Record, what_if: WhatIf | None = None) -> Flow:
    known = foretold(record.state, record.now_ms)
    return flow(record.state, known.to_come, known.outlook, record.now_ms, what_if)


def the_day_of(record: Record) -> Day:
    known = foretold(record.state, record.now_ms)
    rates = {each.work: each.rate for each in known.outlook.works if each.rate is not None}
    comes = grafts_to_come(record.state, known.to_come)
    assert comes is not None
    return the_day(record.state, comes, rates, 1, record.now_ms, WhatIf())


def test_the_batch_is_a_small_one_of_those_handed_over():
    """Of 4, 8, 12 and 16 handed over one in four is no larger than 7 (type 7 of Hyndman & Fan 1996)."""
    record = day_under_way(minutes=30)
    assert the_day_of(record).batch == 0
    for count in (4, 8, 12, 16):
        record.enter(c.IssueGrafts(size="2", count=count), who="GH", station="placing-1")
    assert the_day_of(record).batch == pytest.approx(7)
    batches = the_day_of(record).ahead(500).batch
    assert batches[0] == pytest.approx(7)
    assert batches[1:].mean() == pytest.approx(7, rel=0.1)


def test_the_days_begin_with_the_pace_of_the_placers_who_are_there():
    day = the_day_of(day_under_way(minutes=30))
    back = Rate(per_hour=60, spread=0.1, since_ms=day.now_ms + 10 * MINUTE_MS, meanwhile=30)
    ahead = replace(day, rates={**day.rates, "placing": back}).ahead(1)
    assert (ahead.meanwhile, ahead.all_place, ahead.placing) == (0.5, 10, pytest.approx(1))


def test_a_cutter_on_a_break_is_taken_to_come_back():
    """Two cut alike, one of them rests: half as much for half an hour, then as before."""
    record = day_under_way(minutes=0)
    for step in range(20):
        record.wait(1)
        for who, station in (("AB", "cutting-1"), ("CD", "cutting-2")):
            cut = c.CutGrafts(harvest="A", size="2", count=4)
            record.enter(cut, who=who, station=station)
        record.enter(c.PlaceGrafts(zone="MID", size="2", count=2), who="GH", station="placing-1")
        if step % 4 == 3:
            record.enter(c.FinishSegment(harvest="A"))
    rates = [rate_of_cutting(record)]
    record.enter(c.StartBreak(), who="CD", station="cutting-2")
    rates.append(rate_of_cutting(record))
    assert (rates[0].since_ms, rates[0].meanwhile) == (record.now_ms - 1000, 0)
    assert rates[1].per_hour == pytest.approx(rates[0].per_hour)
    assert rates[1].meanwhile == pytest.approx(rates[0].per_hour / 2, rel=0.02)
    assert rates[1].since_ms == record.now_ms + 30 * MINUTE_MS
    assert the_day_of(record).ahead(1).supplies[0].begins == pytest.approx(15, rel=0.02)


def rate_of_cutting(record: Record) -> Rate:
    known = foretold(record.state, record.now_ms).outlook
    return next(each.rate for each in known.works if each.work == "cutting" and each.rate is not None)


def test_too_little_is_said_and_nothing_else():
    for minutes in (0, 2, 8):
        found = flow_of(day_under_way(minutes=minutes))
        assert found == Flow(found.at_ms, found.unknown)
        assert found.unknown == "fewer than 3 segments are finished"


def test_a_division_is_the_smallest_that_does_by_brute_force():
    """Each number of threes is tried by itself: the one suggested lasts half an hour, one fewer does not."""
    found = flow_of(record := day_under_way(divided_into=("1+2",)))
    assert found.divide is not None
    wanted, way = found.divide.wanted, found.divide.way
    lasts = []
    for grafts in range(1, 40):
        after = flow_of(record, WhatIf(divided=((way, grafts),)))
        at = next(each.dry.middle_ms for each in after.sizes if each.size == wanted and each.dry)
        if at is None or at >= found.at_ms + LASTING * MINUTE_MS:
            lasts.append(grafts)
            break
    assert (wanted, way.size, way.into) == ("1", "3", ("1", "2"))
    assert lasts == [found.divide.grafts]


def test_nothing_is_divided_that_the_plan_does_not_allow_or_that_zones_will_need():
    assert flow_of(day_under_way()).divide is None
    needed = (
        Zone(key="LINE", label="hairline", area_cm2=10, targets={"1": 90, "2": 100}),
        Zone(key="MID", label="mid-scalp", area_cm2=30, targets={"2": 200, "3": 120}),
    )
    assert flow_of(day_under_way(divided_into=("1+2",), zones=needed)).divide is None


def test_the_latest_start_of_a_harvest_leaves_placing_idle_on_fewer_than_one_day_in_ten():
    """Sooner than the start it is all right, and ten minutes later it is not."""
    record = two_harvests()
    start = flow_of(record).start
    assert start is not None
    assert (start.harvest, start.late) == ("B", False)
    left = (start.at_ms - record.now_ms) / MINUTE_MS
    assert 0 <= left <= 40
    assert start.graft_hours == 6 * 27  # as many grafts a segment as the first harvest gives

    def idle(minutes: float) -> Any:
        day = the_day_of(record)
        late = course(day.ahead(31, [{"B": minutes}]), 480).idle
        return (late - course(day.ahead(31), 480).idle > 1).mean()

    assert idle(left) < 0.1 <= idle(left + 5)
    day = the_day_of(record)
    starts = [{"B": 0.0}, {"B": 60.0}]
    each = [course(day.ahead(31, [start]), 480).idle for start in starts]
    assert course(day.ahead(31, starts), 480).idle == pytest.approx(np.concatenate(each))


def test_a_harvest_is_late_once_nothing_waits_and_the_one_before_it_is_cut():
    record = two_harvests()
    for step in range(9):
        record.wait(2)
        for size, count in (("1", 2), ("2", 4), ("3", 3)):
            record.enter(c.CutGrafts(harvest="A", size=size, count=count))
            for _ in range(2 if step > 5 else 1):  # what waited from before, too
                place = c.PlaceGrafts(zone="MID", size=size, count=count)
                record.enter(place, who="GH", station="placing-1")
        if step % 3 == 2:
            record.enter(c.FinishSegment(harvest="A"))
    start = flow_of(record).start
    assert start is not None
    assert (start.harvest, start.late, start.at_ms) == ("B", True, record.now_ms)


def test_a_harvest_that_has_time_for_three_hours_has_no_start():
    """A hundred segments of 6 minutes are to be cut before it."""
    harvests = tuple(Harvest(key=key, label=key, segments=100) for key in "AB")
    zones = (Zone(key="LINE", label="all", area_cm2=300, targets={"1": 300, "2": 600, "3": 400}),)
    found = flow_of(day_under_way(harvests=harvests, zones=zones))
    assert (found.unknown, found.start) == (None, None)


def test_how_long_a_harvest_takes_to_the_cutters_is_the_median_so_far():
    """7 and 9 minutes: 8. A harvest that has not been cut from says nothing yet."""
    record = opened_case(small_plan())
    assert minutes_to_the_cutters(record.state) == 0
    for harvest, minutes in (("A", 7), ("B", 9)):
        record.enter(c.StartHarvest(harvest=harvest))
        began_ms = record.now_ms
        record.wait(minutes)
        record.enter(c.CutGrafts(harvest=harvest, size="1"))
        taken = (record.now_ms - began_ms) / MINUTE_MS
        assert taken == pytest.approx(minutes, abs=0.1)
    assert minutes_to_the_cutters(record.state) == pytest.approx(8, abs=0.1)


def test_once_a_harvest_has_begun_no_start_is_suggested():
    record = two_harvests()
    record.enter(c.StartHarvest(harvest="B"))
    assert flow_of(record).start is None


def test_ranges_contain_the_point_and_begin_no_sooner_than_now():
    for minutes in (20, 26, 34, 40):
        found = flow_of(day_under_way(minutes=minutes))
        dry = [each.dry for each in found.sizes if each.dry is not None]
        assert dry
        for each in dry:
            low, middle, high = (
                inf if at is None else at for at in (each.low_ms, each.middle_ms, each.high_ms)
            )
            assert found.at_ms <= low <= middle <= high


def test_more_hands_place_sooner_and_fewer_cut_later():
    record = day_under_way(minutes=30)
    now, more, fewer = (
        flow_of(record, WhatIf(hands=hands)).wanted() for hands in ({}, {"placing": 2}, {"cutting": 0.5})
    )
    twos = [next(each.dry.middle_ms for each in found if each.size == "2") for found in (now, more, fewer)]
    assert twos[1] < twos[0]
    assert twos[2] < twos[0]


# Little's law.


def waits_of(entries: list[Entry], size: str) -> tuple[list[int], list[int]]:
    """When each graft of a size came into a dish, and when each left for good (UTC ms), first come first."""
    came, left, state = [], [], CaseState()
    for entry in entries:
        before = waiting_of(state, size)
        state = evolve(state, entry)
        more = waiting_of(state, size) - before
        (came if more > 0 else left).extend([entry.stamp.at_ms] * abs(more))
    return came, left


def waiting_of(state: CaseState, size: str) -> int:
    return by_size(state)[size].waiting if state.tally.plan else 0


@pytest.mark.parametrize("size", ["1", "2", "3", "4", "M"])
def test_littles_law_on_the_recorded_day(size: str):
    """Mean number waiting = arrivals an hour × mean wait, where nothing waits at the beginning and the end.

    J. D. C. Little, A proof for the queuing formula L = λW, Oper Res 1961;9:383–387 (summary read).
    What the path of ``Course`` calls waiting is this number: dishes and placers together.
    """
    entries = read_events(SAMPLE)
    came, left = waits_of(entries, size)
    assert len(came) == len(left) > 50
    spent = sum(left) - sum(came)  # of all grafts, in whichever order they are taken
    in_order = [end - start for start, end in zip(came, left, strict=True)]
    assert min(in_order) >= 0 or size == "4"  # two fours were tapped after they were placed
    assert sum(in_order) == spent
    span = entries[-1].stamp.at_ms - entries[0].stamp.at_ms
    turns = sorted([(at, 1) for at in came] + [(at, -1) for at in left])
    area, number, since = 0, 0, entries[0].stamp.at_ms
    for at, step in turns:
        area += number * (at - since)
        number, since = number + step, at
    assert number == 0
    assert area / span == pytest.approx(len(came) / span * (spent / len(came)))


def test_littles_law_on_a_simulated_course():
    """All that waits or is cut is placed: the area under the path is the sum of the waits, by 1 / rates.

    30 wait, 60 an hour come for half an hour, 120 an hour go: empty after 30 minutes. 60 grafts; the path
    falls in a straight line from 30, so its area is 450 graft-minutes; the first graft waits 0, and
    graft n goes at n/2 and came at max(0, n − 30): the mean wait is 7.5.
    """
    found = course(days([30], [[60]], cutting=60, harvests=((0, [30.0]),)), 240)
    area = sum((one[0] + other[0]) / 2 * (later - at) for (at, one), (later, other) in pairwise(found.path))
    waits = [n / 2 - max(0.0, n - 30) for n in np.arange(0.005, 60, 0.01)]
    assert area == pytest.approx(450)
    assert area / 60 == pytest.approx(float(np.mean(waits)), abs=0.01)


def of_size(found: Flow, size: str) -> SizeFlow:
    return next(each for each in found.sizes if each.size == size)


def test_the_zone_of_a_lane_comes_before_those_in_placing_order():
    """Ones run out in the hairline; once the only lane is in the mid-scalp they last, and threes run out."""
    record = day_under_way(minutes=30)
    first = of_size(flow_of(record), "1").dry
    assert first is not None
    record.enter(c.OpenLane(lane="a", by="GH"), station="placing-1")
    record.enter(c.PlaceGrafts(zone="MID", size="3", count=1, lane="a"), station="placing-1")
    later = of_size(flow_of(record), "1").dry
    assert later is None or later.low_ms > first.low_ms + 20 * MINUTE_MS


def test_while_the_placers_rest_nothing_runs_dry():
    """Half an hour's break: more waits after it, so the first size runs out no sooner than its end."""
    record = day_under_way(minutes=30)
    before = of_size(flow_of(record), "1").dry
    assert before is not None
    record.enter(c.PlanBreak(in_minutes=0, minutes=30, work="placing"))
    after = of_size(flow_of(record), "1").dry
    assert before.low_ms < record.now_ms + 30 * MINUTE_MS
    assert after is None or after.low_ms >= record.now_ms + 30 * MINUTE_MS


def test_the_last_few_of_a_size_are_no_shortage():
    """Three ones wait and eight are owed: five of them are never cut, and that is not called dry; six are."""
    ahead = days([3, 50], [[8, 30]])
    assert course(replace(ahead, least_owed=5), 240).dry_at[0] == pytest.approx([inf, inf])
    assert course(replace(ahead, least_owed=4), 240).dry_at[0][0] < 30
    assert course(ahead, 240).dry_at[0][0] < 30


def test_a_harvest_just_begun_gives_as_much_a_segment_as_the_others():
    """Six segments of 6 ones, 12 twos and 9 threes; 4 ones are cut of it, no segment is finished."""
    record = two_harvests()
    record.enter(c.StartHarvest(harvest="B"))
    record.enter(c.CutGrafts(harvest="B", size="1", count=4))
    comes = grafts_to_come(record.state, foretold(record.state, record.now_ms).to_come)
    assert comes is not None
    assert comes[1].begun
    assert comes[1].grafts == {"1": 36 - 4, "2": 72, "3": 54}


def test_while_nobody_places_nothing_is_said_unless_the_end_of_the_break_is_known():
    record = day_under_way(minutes=30)
    record.wait(90)
    assert flow_of(record) == Flow(record.now_ms, "nobody is placing")
    record.enter(c.PlanBreak(in_minutes=0, minutes=30, work="placing"))
    assert flow_of(record).unknown is None
