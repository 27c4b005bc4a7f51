"""Fates of grafts that are left: the entries that give a group its fate."""

from typing import Any

from orroom.case import commands as c
from orroom.case.care import in_lane
from orroom.case.final_count import Group
from orroom.case.state import Tally


def giving(tally: Tally, group: Group, count: int, **rest: Any) -> tuple[c.GiveFate, ...]:  # noqa: ANN401 - its fields
    """What gives ``count`` grafts of a group their fate: one entry, or one a lane if they are in several.

    ``rest`` are the other fields of ``GiveFate``. What no lane has is taken from what is in none, and is
    refused there if it is too much.
    """
    parts: list[tuple[str | None, int]] = []
    if group.place == "bench":
        for lane in tally.lanes:
            there = in_lane(tally, lane).get((group.size, group.harvest), 0)
            if (taken := min(count, there)) > 0:
                parts.append((lane, taken))
                count -= taken
    if count or not parts:
        parts.append((None, count))
    return tuple(
        c.GiveFate(
            size=group.size, harvest=group.harvest, place=group.place, count=each, **{"lane": lane, **rest}
        )
        for lane, each in parts
    )
