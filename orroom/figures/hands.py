"""Whose hands: by zone, who made the sites and who placed."""

from collections import Counter
from typing import Final

from msgspec import Struct

from orroom.case import events as e
from orroom.case.placings import zone_of
from orroom.case.state import CaseState

WHAT: Final = ("sites_made", "placed", "reseated")


class Hands(Struct, frozen=True):
    """What one person did in one zone: sites made, grafts placed, grafts reseated."""

    zone: str
    who: str
    sites_made: int
    placed: int
    reseated: int


def hands_by_zone(state: CaseState) -> tuple[Hands, ...]:
    """Everybody who worked in a zone, zones in placing order, people in alphabetical order.

    A placing counts in the zone that it was moved to. The figures of all people are those of the zone. Where
    placing makes the sites, those made ahead are filled first; the last placings made their own.
    """
    done: Counter[tuple[str, str, str]] = Counter()
    at_once = {zone.key: list[tuple[str, int]]() for zone in state.plan.zones if zone.stick_and_place}
    for entry in state.standing():
        match entry.event:
            case e.SitesMade(zone=zone, count=count):
                done[zone, e.doer(entry), "sites_made"] += count
            case e.GraftsPlaced(count=count):
                zone = zone_of(state, entry)
                done[zone, e.doer(entry), "placed"] += count
                at_once.get(zone, []).append((e.doer(entry), count))
            case e.FateGiven(into_zone=str(zone), count=count):
                done[zone, e.doer(entry), "placed"] += count
                at_once.get(zone, []).append((e.doer(entry), count))
            case e.GraftReseated(zone=zone, count=count):
                done[zone, e.doer(entry), "reseated"] += count
    for zone, placings in at_once.items():
        left = sum(count for _, count in placings) - state.tally.sites.get(zone, 0)
        for who, count in reversed(placings):
            done[zone, who, "sites_made"] += max(0, min(left, count))
            left -= count
    order = {zone.key: place for place, zone in enumerate(state.plan.zones)}
    worked = sorted({(order[zone], zone, who) for zone, who, _ in done if zone in order})
    return tuple(Hands(zone, who, *(done[zone, who, what] for what in WHAT)) for _, zone, who in worked)
