"""What is asked about sites: in which zone, how many, who made them; whether placing makes them."""

from orroom.case import commands as c
from orroom.case.state import CaseState
from orroom.screens.stations.correcting import ZONES_AT_ONCE, one_of
from orroom.screens.stations.initials import person
from orroom.screens.stations.questions import meant_for
from orroom.screens.terminal.asking import Choice, Dialogue, Number, Option


def sites(state: CaseState, zone: str | None) -> Dialogue:
    """Sites made in a zone, which is asked too if none is named."""
    if zone is None:
        zones = [(each.label, each.key) for each in state.plan.zones]
        zone = yield from one_of("Sites made in", zones, ZONES_AT_ONCE, "Sites by zone, with who made them.")
    if not (yield from meant_for(state, zone, "sites")):
        return None
    count = yield Number(f"Sites made in {state.plan.zone_by_key[zone].label}:")
    by = yield from person(state, "Who made them?")
    return c.MakeSites(zone=zone, count=count, by=by)


def stick_and_place(state: CaseState, zone: str) -> Dialogue:
    """Whether placing makes the sites of a zone from now on; where it does, whether that is over."""
    known = state.plan.zone_by_key[zone]
    on = not known.stick_and_place
    ask = "Stick and place from now on?" if on else "Stick and place is over?"
    options = (Option("y", "yes", True), Option("n", "no", False))
    means = "Placing makes the sites: none are entered here. Sites made ahead are filled first."
    return (
        c.SetStickAndPlace(zone=zone, on=on)
        if (yield Choice(f"{known.label}: {ask}", options, means=means))
        else None
    )
