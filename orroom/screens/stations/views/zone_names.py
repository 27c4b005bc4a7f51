"""What a zone is called on a screen: its name with its side, in as many columns as there are."""

from collections.abc import Mapping

from orroom.case.plan import Plan, Zone
from orroom.screens.terminal.short_names import SIDES, short_names


def sided(zone: Zone) -> str:
    """A zone's name, and left or right where the plan says so and the name does not."""
    if zone.side not in SIDES or zone.side in zone.label.casefold():
        return zone.label
    return f"{zone.label}, {zone.side}"


def zone_names(plan: Plan, width: int) -> Mapping[str, str]:
    """By key the names of all zones in at most ``width`` columns, no two of them the same."""
    names = {zone.key: sided(zone) for zone in plan.zones}
    short = short_names(tuple(names.values()), width)
    return {key: short[name] for key, name in names.items()}
