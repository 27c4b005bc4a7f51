"""Whose hands made sites and placed grafts, zone by zone."""

from typing import Annotated

from pydantic import Field

from orroom.case.state import CaseState
from orroom.figures.hands import hands_by_zone
from orroom.summary.fields import Grafts, Key, Label, Part, Person
from orroom.words.entries import zone_label


class ZoneHands(Part):
    """What one person did in one zone; all people together are the zone's figures."""

    zone: Key = Field(description="recipient zone")
    label: Label
    who: Person = Field(description="whose work")
    sites_made: Annotated[int, "sites"] = Field(description="sites made")
    placed: Grafts = Field(description="grafts placed")
    reseated: Grafts = Field(description="grafts that came out and were put back")


def zone_hands(state: CaseState) -> tuple[ZoneHands, ...]:
    """Everybody who worked in a zone, in placing order."""
    return tuple(
        ZoneHands.read_off(each, label=zone_label(state.plan, each.zone)) for each in hands_by_zone(state)
    )
