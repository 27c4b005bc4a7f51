"""Times out of the body by size and zone, and times waiting: by hand, and every way of small days."""

from __future__ import annotations

import random

import pytest
from cases import MINUTE_MS, MORNING_MS, Record, opened_case, records, small_plan
from figures.test_mixing import day, ways
from hypothesis import given, settings
from hypothesis import strategies as st

from orroom.case import commands as c
from orroom.case.plan import Limits
from orroom.figures.all_harvests import of_all_harvests
from orroom.figures.counts import by_size
from orroom.figures.out_of_body import out_by_size, out_by_zone, out_of_body
from orroom.figures.survival import Between
from orroom.figures.waiting import waiting
from orroom.formats.first_page.page import first_page
from orroom.formats.summary_formats import to_html
from orroom.summary.summary import summarise
from orroom.words.explanation import Asked
from orroom.words.worked_out import worked_out


def mixed() -> Record:
    """Limit 90 min. Ten twos of A, out at 0 min, and ten of B, at 60; now 180.

    Five went into FRONT at 100, ten into MID at 120.
    """
    record = opened_case(small_plan(limits=Limits(with_placers_seconds=120, out_of_body_hours=1.5), care=()))

    def at(minute: float, command: c.Command) -> None:
        record.enter(command, at_ms=MORNING_MS + round(minute * MINUTE_MS))

    at(0, c.StartHarvest(harvest="A"))
    at(30, c.CutGrafts(harvest="A", size="2", count=10))
    at(60, c.StartHarvest(harvest="B"))
    at(90, c.CutGrafts(harvest="B", size="2", count=10))
    at(100, c.PlaceGrafts(zone="FRONT", size="2", count=5))
    at(120, c.PlaceGrafts(zone="MID", size="2", count=10))
    at(180, c.AddNote(text="now"))
    return record


def test_each_zone_and_size_of_two_harvests_that_mix_by_hand():
    """FRONT is all A (100 min) or all B (40); MID may be all A (120), or all B (60) if FRONT took A.

    Of the 15 placed at least five are of A, at most all ten; the five that wait have been out 120 or 180 min.
    """
    record = mixed()
    zones = out_by_zone(record.state, record.now_ms)
    assert [*zones] == ["FRONT", "MID"]
    for zone, soonest, latest in (("FRONT", 40, 100), ("MID", 60, 120)):
        ends = Between(soonest * MINUTE_MS, latest * MINUTE_MS)
        assert zones[zone].quartiles_ms[1] == zones[zone].longest_placed_ms == ends
        assert zones[zone].share_over[-1] == Between(0, 1)
        assert zones[zone].waiting == Between(0, 0)
    (twos,) = out_by_size(record.state, record.now_ms).values()
    assert (twos.placed, twos.waiting) == (Between(15, 15), Between(5, 5))
    assert twos.share_over[-1] == Between(0.5, 0.75)


def test_a_placing_that_was_moved_counts_in_its_new_zone():
    record = opened_case()
    record.enter(c.StartHarvest(harvest="A"))
    record.enter(c.CutGrafts(harvest="A", size="2", count=4))
    record.wait(30)
    placing = record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=3))
    record.enter(c.MovePlacing(entry=placing.seq, zone="MID"))
    assert [*out_by_zone(record.state, record.now_ms)] == ["MID"]


def test_what_came_of_a_harvest_without_a_start_is_left_out():
    record = opened_case()
    record.enter(c.StartHarvest(harvest="A"))
    record.enter(c.CutGrafts(harvest="A", size="2", count=4))
    record.enter(c.CutGrafts(harvest="B", size="3", count=4))
    record.enter(c.PlaceGrafts(zone="FRONT", size="2", count=2))
    record.enter(c.PlaceGrafts(zone="MID", size="3", count=2))
    assert [*out_by_zone(record.state, record.now_ms)] == ["FRONT"]
    assert [*out_by_size(record.state, record.now_ms)] == ["2"]


LIMIT_HOURS = 1.1


@pytest.mark.parametrize("losses", [False, True])
def test_the_bounds_of_a_zone_are_reached_by_some_way_to_give_each_graft_a_harvest(losses: bool):
    """Every way of small days of one size, up to three harvests: median, longest, share beyond a limit."""
    tight = 0
    for seed in range(100):
        rng = random.Random(f"zones {losses} {seed}")
        made = day(rng, rng.choice((2, 3)), sizes=1, steps=10, losses=losses)
        for stream in made.streams:
            stream.zones = [rng.choice(("X", "Y")) if left.placed else "" for left in stream.left]
            into = [
                zone for left, zone in zip(stream.left, stream.zones, strict=True) for _ in range(left.grafts)
            ]
            for zone in {*into} - {""}:
                reached = []
                for way in ways(stream):
                    out = sorted(
                        at - made.since_ms[harvest]
                        for (harvest, at), where in zip(way, into, strict=False)
                        if where == zone and at is not None
                    )
                    over = sum(each > LIMIT_HOURS * 3_600_000 for each in out) / len(out)
                    reached.append((out[(len(out) + 1) // 2 - 1], out[-1], over))
                found = of_all_harvests(
                    [stream.into_zone(zone, made.now_ms)], made.since_ms, made.now_ms, (LIMIT_HOURS,)
                )
                bounds = (found.quartiles_ms[1], found.longest_placed_ms, found.share_over[0])
                for figure, ends in zip(zip(*reached, strict=True), bounds, strict=True):
                    assert (ends.low, ends.high) == pytest.approx((min(figure), max(figure))), (seed, zone)
                    tight += min(figure) < max(figure)
    assert tight > 100


@settings(max_examples=60)
@given(records())
def test_zones_and_sizes_have_what_was_placed_and_are_within_the_bounds_of_all(record: Record):
    """All in all, weighted by its grafts, each share lies within that of all harvests."""
    whole = dict(out_of_body(record.state, record.now_ms)).get(None)
    zones, sizes = (out(record.state, record.now_ms) for out in (out_by_zone, out_by_size))
    counted = by_size(record.state)
    for size, times in sizes.items():
        assert times.placed == Between(counted[size].placed, counted[size].placed)
    for times in (*zones.values(), *sizes.values()):
        for ends in (*times.quartiles_ms, times.longest_placed_ms, *times.share_over):
            assert ends.low is None or ends.high is None or 0 <= ends.low <= ends.high
    if whole is not None:
        assert sum(each.placed.low for each in zones.values()) == whole.placed.low
        assert sum(each.placed.low for each in sizes.values()) == whole.placed.low
        for place, over in enumerate(whole.share_over):
            grafts = whole.placed.low + whole.waiting.low
            ends = [
                sum(
                    getattr(each.share_over[place], end) * (each.placed.low + each.waiting.low)
                    for each in sizes.values()
                )
                / grafts
                for end in ("low", "high")
            ]
            assert ends == pytest.approx([over.low, over.high])


STEPS = st.lists(
    st.tuples(st.sampled_from(("cut", "issue", "place", "place", "discard", "divide")), st.integers(0, 20)),
    max_size=25,
)


@settings(max_examples=80)
@given(STEPS, st.randoms(use_true_random=False))
def test_the_sum_of_all_waits_is_that_of_grafts_followed_one_by_one(
    steps: list[tuple[str, int]], rng: random.Random
):
    """Whichever graft is taken each time: Little's law (Oper Res 1961;9:383-387, summary read)."""
    record = opened_case()
    since: dict[str, list[int]] = {"1": [], "2": []}
    waits: dict[str, list[int]] = {"1": [], "2": []}

    def taken(size: str) -> None:
        start = since[size].pop(rng.randrange(len(since[size])))
        waits[size].append(record.now_ms - start)

    for what, minutes in steps:
        record.wait(minutes)
        size = rng.choice([each for each in since if since[each]] or ["2"])
        if what == "cut":
            record.enter(c.CutGrafts(harvest="A", size=size, count=2))
            since[size] += [record.now_ms] * 2
        elif not since[size]:
            continue
        elif what == "issue" and record.held("dish", size):
            record.enter(c.IssueGrafts(size=size, count=1))
        elif what == "place":
            record.enter(c.PlaceGrafts(zone="FRONT", size=size, count=1))
            taken(size)
        elif what == "discard":
            record.enter(c.DiscardGrafts(size=size, reason="dried", count=1))
            taken(size)
        elif what == "divide" and record.held("dish", "2"):
            record.enter(c.DivideGrafts(size="2", into=("1", "1"), count=1))
            taken("2")
            since["1"] += [record.now_ms] * 2
    record.wait(7)
    found = waiting(record.state, record.now_ms)
    for size, starts in since.items():
        every = [*waits[size], *(record.now_ms - start for start in starts)]
        assert (size in found) == bool(every)
        if every:
            assert (found[size].came, found[size].graft_ms) == (len(every), sum(every))


def test_the_first_page_says_the_share_beyond_the_limit_by_zone_and_size():
    """Limit 1:30: ten of A into MID at 120 min are beyond it, five into FRONT at 60 are not."""
    record = opened_case(small_plan(limits=Limits(with_placers_seconds=120, out_of_body_hours=1.5)))
    record.enter(c.StartHarvest(harvest="A"))
    record.enter(c.CutGrafts(harvest="A", size="1", count=5))
    record.enter(c.CutGrafts(harvest="A", size="2", count=10))
    record.wait(60)
    record.enter(c.PlaceGrafts(zone="FRONT", size="1", count=5))
    record.wait(60)
    record.enter(c.PlaceGrafts(zone="MID", size="2", count=10))
    summary = summarise(record.state)
    page = first_page(summary)
    assert page.out_by_size == "Beyond the limit, by size: 2 100 %."
    drawn = [each.words for each in page.zones[0].words]
    assert [each for each in drawn if "beyond" in each] == ["100 % out beyond 1:30"]
    browser = to_html(summary)
    assert "100 % out beyond 1:30" in browser
    assert page.out_by_size in browser


def test_each_figure_is_explained_with_its_numbers():
    """Shares as above; limit with the placers 2 min, five twos there for 2:59."""
    record = mixed()
    found = worked_out("overview", Asked(record.state, record.now_ms, "AB", "A", "FRONT", None))
    said = {each.name: (each.value, each.numbers) for each in found}
    zones = {zone.key: zone.label for zone in record.state.plan.zones}
    assert said["out beyond 1.5 h"] == (
        "50 %–75 %",
        f"by size: 2 50 %–75 %; by zone: {zones['FRONT']} 0 %–100 %, {zones['MID']} 0 %–100 %",
    )
    # 10 from 30, 20 from 90 to 100, 15 to 120, 5 to 180: 10·60 + 20·10 + 15·20 + 5·60 = 1400 min
    assert said["mean wait"] == ("1 h 10", "2 1 h 10 (20 waited)")
    assert "not wetted" not in said
    record.enter(c.IssueGrafts(size="2", count=5))
    record.wait(3)
    found = worked_out("overview", Asked(record.state, record.now_ms, "AB", "A", "FRONT", None))
    dried = next(each for each in found if each.name == "not wetted")
    assert (dried.value, dried.numbers[:21]) == (
        "4.9 graft-min",
        "with the placers 4.9",
    )  # 59 s, to the minute
