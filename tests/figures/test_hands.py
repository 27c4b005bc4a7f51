"""Who made sites and who placed, by zone: a morning worked by hand, and people against zones."""

from cases import Record, opened_case, records, small_plan
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from orroom.case import commands as c
from orroom.case.mismatches import open_mismatches
from orroom.case.plan import Person
from orroom.figures.hands import Hands, hands_by_zone
from orroom.figures.next_zone import next_zone
from orroom.figures.pace.finish import grafts_left
from orroom.figures.yields import yields
from orroom.formats.summary_formats import to_markdown
from orroom.summary.sharing import shared
from orroom.summary.summary import summarise
from orroom.summary.zones import zones

TEAM = (
    Person(initials="GH", role="placing"),
    Person(initials="JK", role="placing"),
    Person(initials="RS", role="surgeon"),
)


def morning() -> Record:
    """GH enters for RS, who makes 60 sites, makes 5 alone, and for two lanes; a placing of JK's is moved."""
    record = opened_case(small_plan(staff=TEAM))
    record.enter(c.StartHarvest(harvest="A"))
    record.enter(c.CutGrafts(harvest="A", size="1", count=60))

    def enter(command: c.Command) -> int:
        return record.enter(command, "GH", station="placing-1").seq

    enter(c.MakeSites(zone="LINE", count=60))
    enter(c.MakeSites(zone="LINE", count=5, by="GH"))
    enter(c.OpenLane(lane="a", by="GH"))
    enter(c.OpenLane(lane="b", by="JK"))
    enter(c.IssueGrafts(size="1", count=20, lane="a"))
    enter(c.IssueGrafts(size="1", count=20, lane="b"))
    enter(c.PlaceGrafts(zone="LINE", size="1", count=12, lane="a"))
    enter(c.PlaceGrafts(zone="LINE", size="1", count=9, lane="b"))
    moved = enter(c.PlaceGrafts(zone="LINE", size="1", count=4, lane="b"))
    enter(c.MovePlacing(entry=moved, zone="FRONT"))
    enter(c.ReseatGraft(zone="LINE", count=2, lane="b"))
    enter(c.ReseatGraft(zone="LINE", count=7, lane="a"))
    enter(c.TakeBack(role="placing"))
    return record


def test_who_made_sites_and_who_placed_worked_by_hand():
    assert hands_by_zone(morning().state) == (
        Hands("LINE", "GH", sites_made=5, placed=12, reseated=0),
        Hands("LINE", "JK", sites_made=0, placed=9, reseated=2),
        Hands("LINE", "RS", sites_made=60, placed=0, reseated=0),
        Hands("FRONT", "JK", sites_made=0, placed=4, reseated=0),
    )


def test_the_page_says_who_and_a_shared_one_in_which_role():
    summary = summarise(morning().state)
    rows = [" ".join(line.replace("|", " ").split()) for line in to_markdown(summary).splitlines()]
    assert "hairline GH 5, RS 60 GH 12, JK 9 JK 2" in rows
    roles = shared(summary, "roles")
    assert [
        (each.zone, each.who, each.sites_made, each.placed, each.reseated) for each in roles.zone_hands
    ] == [
        ("LINE", "placing", 5, 21, 2),
        ("LINE", "surgeon", 60, 0, 0),
        ("FRONT", "placing", 0, 4, 0),
    ]
    assert "RS" not in to_markdown(roles)


def test_a_plan_without_a_surgeon_leaves_sites_to_whoever_enters_them():
    record = opened_case(small_plan(staff=TEAM[:2]))
    assert record.enter(c.MakeSites(zone="LINE", count=3), "JK").event.by is None
    assert hands_by_zone(record.state) == (Hands("LINE", "JK", 3, 0, 0),)


def at_once(record: Record) -> Record:
    """The same case, with the hairline revised to stick and place."""
    plan = record.state.plan
    zones_ = tuple(replace(zone, stick_and_place=True) if zone.key == "LINE" else zone for zone in plan.zones)
    record.enter(c.RevisePlan(plan=replace(plan, zones=zones_), reason="as we go"))
    return record


def test_where_sites_are_made_by_placing_whoever_places_makes_them():
    """More were placed than sites entered: a mismatch, and none in a stick-and-place zone.

    The ten sites that the surgeon made ahead stay hers.
    """
    record = opened_case(small_plan(staff=TEAM))
    record.enter(c.StartHarvest(harvest="A"))
    record.enter(c.CutGrafts(harvest="A", size="1", count=60))
    record.enter(c.MakeSites(zone="LINE", count=10))
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=15), "JK", station="placing-1")
    assert [each.key for each in open_mismatches(record.state)] == ["sites:LINE"]
    at_once(record)
    assert open_mismatches(record.state) == ()
    assert hands_by_zone(record.state) == (Hands("LINE", "JK", 5, 15, 0), Hands("LINE", "RS", 10, 0, 0))
    line = next(each for each in zones(record.state) if each.zone == "LINE")
    assert (line.sites_made, line.sites_free) == (15, None)


def test_a_zone_becomes_stick_and_place_by_a_tap_with_40_sites_made_ahead():
    """40 ahead, 15 + 15 placed in them; then by placing: 15 fill the ten that are free and make five."""
    record = opened_case(small_plan(staff=TEAM))
    record.enter(c.StartHarvest(harvest="A"))
    record.enter(c.CutGrafts(harvest="A", size="2", count=90))
    record.enter(c.MakeSites(zone="FRONT", count=40))
    place = c.PlaceGrafts(zone="FRONT", size="2", count=15)
    record.enter(place, "JK", station="placing-1")
    record.enter(place, "JK", station="placing-1")
    tap = record.enter(c.SetStickAndPlace(zone="FRONT"), "JK", station="placing-1")

    def made() -> tuple[int | None, int | None]:
        front = next(each for each in zones(record.state) if each.zone == "FRONT")
        return front.sites_made, front.sites_free

    assert made() == (40, None)
    record.enter(place, "GH", station="placing-1")
    assert made() == (45, None)
    record.enter(place, "GH", station="placing-1")
    assert made() == (60, None)
    assert "sites:FRONT" not in record.open_mismatches()
    assert hands_by_zone(record.state) == (
        Hands("FRONT", "GH", 20, 30, 0),
        Hands("FRONT", "JK", 0, 30, 0),
        Hands("FRONT", "RS", 40, 0, 0),
    )
    refusal = record.refusal(c.MakeSites(zone="FRONT", count=5))
    assert refusal.rule == "refuse_sites_where_placing_makes_them"
    record.enter(c.CorrectEntry(entry=tap.seq, reason="other zone"))
    assert record.open_mismatches()["sites:FRONT"] == 20
    assert made() == (40, -20)
    record.enter(c.SetStickAndPlace(zone="FRONT"))
    record.enter(c.SetStickAndPlace(zone="FRONT", on=False))
    assert made() == (40, -20)


def sites_left(record: Record) -> int:
    found = grafts_left(record.state, "sites", yields(record.state, 80))
    assert found is not None
    return found.grafts


def test_such_a_zone_is_still_suggested_and_no_sites_are_left_to_make_there():
    """180 are planned, 40 of them in the hairline, where 10 sites were made ahead."""
    record = opened_case(small_plan(staff=TEAM))
    record.enter(c.StartHarvest(harvest="A"))
    record.enter(c.CutGrafts(harvest="A", size="1", count=60))
    record.enter(c.MakeSites(zone="LINE", count=10))
    record.enter(c.PlaceGrafts(zone="LINE", size="1", count=10), station="placing-1")
    assert sites_left(record) == 170
    at_once(record)
    assert sites_left(record) == 140
    found = next_zone(record.state)
    assert found is not None
    assert found.zone == "LINE"


@settings(max_examples=50)
@given(records(), st.booleans())
def test_people_add_up_to_the_zone(record: Record, sticking: bool):
    if sticking and "LINE" in record.state.plan.zone_by_key and not record.tally.signed_off:
        at_once(record)
    found = hands_by_zone(record.state)
    for zone in zones(record.state):
        mine = [each for each in found if each.zone == zone.zone]
        assert sum(each.sites_made for each in mine) == (zone.sites_made or 0)
        assert sum(each.placed for each in mine) == zone.grafts_placed
        assert sum(each.reseated for each in mine) == zone.reseated
