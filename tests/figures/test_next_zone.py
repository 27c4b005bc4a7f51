"""The zone that is suggested next, and why; on the placing screen and in its explanations."""

from __future__ import annotations

from pathlib import Path

import pytest
from cases import Record, opened_case, records, small_plan
from hypothesis import given, settings
from msgspec.structs import replace
from seats import seated
from stations import entered, new_case, station

from orroom.case import commands as c
from orroom.case.plan import Plan, Zone
from orroom.figures.counts import by_size, by_zone, zone_count
from orroom.figures.next_zone import NextZone, Wanted, next_zone, wanted_next
from orroom.screens.stations.views.cutting import cutting_lines
from orroom.screens.stations.views.frame import Glance
from orroom.screens.stations.views.placing import placing_lines
from orroom.screens.terminal.painting import text_of
from orroom.words.explanation import Asked
from orroom.words.worked_out import worked_out


def suggested(record: Record) -> NextZone:
    found = next_zone(record.state)
    assert found is not None
    return found


def two_sides(**right: object) -> Plan:
    """A line in two halves of 40 ones and 10 twos each, then a middle."""
    half = {"kind": "frontal", "area_cm2": 4, "targets": {"1": 40, "2": 10}}
    return small_plan(
        zones=(
            Zone(key="L", label="line left", side="left", **half),
            Zone(key="R", label="line right", **{**half, "side": "right", **right}),
            Zone(key="MID", label="middle", area_cm2=9, side="centre", targets={"2": 30}),
        )
    )


def with_cut(plan: Plan, **cut: int) -> Record:
    """Harvest A is out and so many grafts of each size wait; ``s1`` are ones."""
    record = opened_case(plan)
    record.enter(c.StartHarvest(harvest="A"))
    for size, count in cut.items():
        record.enter(c.CutGrafts(harvest="A", size=size[1:], count=count))
    return record


def test_the_first_zone_that_is_owed_and_for_which_something_waits(under_way: Record):
    assert suggested(under_way) == NextZone(0, "LINE", "1", "hairline, 40 ones owed and 30 wait")


def test_a_zone_for_which_nothing_waits_is_passed_over():
    record = with_cut(small_plan(), s3=1)
    assert suggested(record) == NextZone(1, "FRONT", "3", "frontal, 20 threes owed and 1 waits")


def test_the_bench_waits_too():
    record = with_cut(small_plan(), sM=4)
    record.enter(c.IssueGrafts(size="M", count=4))
    assert suggested(record).reason == "mid-scalp, 10 multi-units owed and 4 wait"


def test_the_size_is_the_one_of_which_most_can_go_in():
    # Owed 10 × 1, 50 × 2, 20 × 3; of 30, 15 and 20 that wait 10, 15 and 20 can go in.
    record = with_cut(small_plan(), s1=30, s2=15, s3=20)
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=40))
    record.enter(c.CutGrafts(harvest="A", size="1", count=40))
    assert suggested(record) == NextZone(1, "FRONT", "3", "frontal, 20 threes owed and 20 wait")


def test_a_zone_without_a_free_site_is_passed_over_where_its_sites_are_entered(under_way: Record):
    under_way.enter(c.MakeSites(zone="LINE", count=10))
    assert suggested(under_way).reason == "hairline, 40 ones owed and 30 wait, 10 sites free"
    under_way.enter(c.PlaceGrafts(zone="LINE", size="1", count=10))
    assert suggested(under_way) == NextZone(1, "FRONT", "2", "frontal, 50 twos owed and 40 wait")
    under_way.enter(c.MakeSites(zone="LINE", count=1))
    assert suggested(under_way).reason == "hairline, 30 ones owed and 20 wait, 1 site free"


def test_both_sides_of_a_pair_are_kept_level():
    record = with_cut(two_sides(), s1=80)
    turns = []
    for _ in range(4):
        found = suggested(record)
        turns.append(found.zone)
        record.enter(c.PlaceGrafts(zone=found.zone, size="1", count=10))
    assert turns == ["L", "R", "L", "R"]
    record.enter(c.PlaceGrafts(zone="L", size="1", count=10))
    assert suggested(record).reason == "line right, 20 ones owed and 30 wait, behind line left"


def test_a_side_that_cannot_be_placed_does_not_hold_the_other_up():
    record = with_cut(two_sides(), s1=80)
    record.enter(c.PlaceGrafts(zone="L", size="1", count=10))
    record.enter(c.MakeSites(zone="R", count=0 + 1))
    record.enter(c.PlaceGrafts(zone="R", size="1", count=1))  # its only site
    assert suggested(record).zone == "L"


@pytest.mark.parametrize("right", [{"kind": "temporal"}, {"side": "centre"}])
def test_zones_that_are_no_pair_keep_their_order(right: dict[str, str]):
    record = with_cut(two_sides(**right), s1=80)
    record.enter(c.PlaceGrafts(zone="L", size="1", count=10))
    assert suggested(record).zone == "L"


def test_four_halves_are_two_pairs():
    plan = two_sides()
    left, right, _ = plan.zones
    more = [replace(each, key=f"{each.key}2") for each in (left, right)]
    record = with_cut(replace(plan, zones=(left, right, *more)), s1=160)
    record.enter(c.PlaceGrafts(zone="L", size="1", count=40))
    record.enter(c.PlaceGrafts(zone="R", size="1", count=40))
    record.enter(c.PlaceGrafts(zone="L2", size="1", count=10))
    assert suggested(record).zone == "R2"


def test_nothing_is_suggested_where_nothing_that_is_owed_waits(record: Record):
    assert next_zone(record.state) is None
    record.enter(c.StartHarvest(harvest="A"))
    record.enter(c.CutGrafts(harvest="A", size="1", count=60))
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=40))
    record.enter(c.PlaceGrafts(zone="FRONT", size="1", count=10))
    assert next_zone(record.state) is None  # 10 ones wait, and no zone is owed any


@settings(max_examples=100)
@given(records())
def test_what_is_suggested_is_owed_waits_and_has_a_site(record: Record):
    found = next_zone(record.state)
    waiting = {size: count.waiting for size, count in by_size(record.state).items()}
    counts = [zone_count(record.state, zone) for zone in record.state.plan.zones]
    could = [
        zone.zone.key
        for zone in counts
        if (zone.sites_free is None or zone.sites_free > 0)
        and any(owed > 0 and waiting[size] > 0 for size, owed in zone.owed.items())
    ]
    assert (found is None) is (not could)
    if found is not None:
        zone = counts[found.number]
        assert zone.zone.key == found.zone == could[0]  # the small plan has no pairs
        assert zone.owed[found.size] > 0
        assert waiting[found.size] > 0


# On the placing screen.


def said(record: Record, width: int = 80, height: int = 24) -> str:
    glance = Glance(role="placing", who="CD", width=width, height=height)
    return "\n".join(text_of(each) for each in placing_lines(record.state, record.now_ms, glance))


def test_the_placing_screen_says_it_and_why(under_way: Record):
    assert " z  next: hairline, 40 ones owed and 30 wait" in said(under_way)


def test_the_placing_screen_says_when_there_is_nothing_to_place_next(record: Record):
    assert "next: nothing that is owed is waiting" in said(record)


def test_the_explanations_tell_how_it_is_chosen(under_way: Record):
    asked = Asked(under_way.state, under_way.now_ms, "CD", "A", "MID", None)
    found = {each.name: each for each in worked_out("placing", asked)}["next"]
    assert found.value == "hairline"
    assert found.numbers == "hairline, 40 ones owed and 30 wait"
    assert "kept level" in found.how


def test_no_explanation_where_nothing_is_suggested(record: Record):
    asked = Asked(record.state, record.now_ms, "CD", "A", "MID", None)
    assert "next" not in {each.name for each in worked_out("placing", asked)}


async def test_a_key_and_a_click_put_the_cursor_there(tmp_path: Path):
    case = new_case(tmp_path / "case.orroom")
    with station(case) as desk:
        entered(desk, c.StartHarvest(harvest="A"))
        entered(desk, c.CutGrafts(harvest="A", size="3", count=5))
    async with seated(case, "placing", "CD") as seat:
        await seat.press("z")
        assert (seat.screen.glance.zone, seat.screen.glance.size) == (1, 2)
        assert "[0/20]" in seat.text
        await seat.press("down", "right", "7")
        await seat.click("next: frontal, 20 threes owed and 5 wait")
        assert (seat.screen.glance.zone, seat.screen.glance.size) == (1, 2)
        assert seat.screen.glance.typed == "7"
        await seat.press("enter")
        await seat.rest()
        await seat.press("z")
        assert "nothing that is owed is waiting" in seat.text


# What to cut next.


def test_what_the_first_zone_in_placing_order_lacks_most_is_wanted_next():
    """Hairline 40 ones; frontal 10 ones, 50 twos, 20 threes; mid-scalp 30 twos, 20 threes, 10 multi-unit."""
    record = with_cut(small_plan(), s1=30, s2=45)
    assert wanted_next(record.state) == Wanted("LINE", "1", owed=40, lack=10)
    record.enter(c.CutGrafts(harvest="A", size="1", count=15))  # 45: 40 for the hairline, 5 for the frontal
    assert wanted_next(record.state) == Wanted("FRONT", "3", owed=20, lack=20)  # 5 ones and 5 twos lack too
    record.enter(c.CutGrafts(harvest="A", size="3", count=18))
    assert wanted_next(record.state) == Wanted("FRONT", "1", owed=10, lack=5)
    for size, count in (("1", 5), ("2", 5), ("3", 2), ("2", 25)):
        record.enter(c.CutGrafts(harvest="A", size=size, count=count))
    assert wanted_next(record.state) == Wanted("MID", "3", owed=20, lack=20)
    for size, count in (("2", 5), ("3", 20), ("M", 10)):
        record.enter(c.CutGrafts(harvest="A", size=size, count=count))
    assert wanted_next(record.state) is None


@settings(max_examples=40)
@given(records())
def test_what_is_wanted_next_agrees_with_the_zone_suggested_at_placing(record: Record):
    """Nothing waits of what is owed to a zone that a later suggestion passed over, or it has no free site.

    And once what is lacking is cut, something else is wanted.
    """
    wanted, zone = wanted_next(record.state), next_zone(record.state)
    if wanted is None:
        return
    keys = list(record.state.plan.zone_by_key)
    counts = {each.zone.key: each for each in by_zone(record.state)}
    here = counts[wanted.zone]
    if zone is not None and zone.number > keys.index(wanted.zone) and "behind" not in zone.reason:
        free = here.sites_free is None or here.sites_free > 0
        waits = {size: count.waiting for size, count in by_size(record.state).items()}
        assert not free or all(waits[size] <= 0 for size, owed in here.owed.items() if owed)
    if record.tally.signed_off:
        return
    short = -min(0, by_size(record.state)[wanted.size].waiting)
    record.enter(c.CutGrafts(harvest="A", size=wanted.size, count=wanted.lack + short))
    after = wanted_next(record.state)
    assert after is None or (after.zone, after.size) != (wanted.zone, wanted.size)


@pytest.mark.parametrize(
    ("size", "said"),
    [
        ((80, 24), " cut next: 10 more ones for hairline (40 owed, 30 wait)"),
        ((40, 12), " cut next: 10 more ones for hairline"),
        ((30, 10), " cut next: ones"),
    ],
)
def test_the_cutting_screen_says_what_is_wanted_next(size: tuple[int, int], said: str):
    record = with_cut(small_plan(), s1=30)
    glance = Glance(role="cutting", who="AB", width=size[0], height=size[1])
    rows = [text_of(each).rstrip() for each in cutting_lines(record.state, record.now_ms, glance)]
    assert said in rows
    record.enter(c.CutGrafts(harvest="A", size="1", count=10))
    rows = [text_of(each).rstrip() for each in cutting_lines(record.state, record.now_ms, glance)]
    assert said not in rows
