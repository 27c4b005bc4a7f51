"""How a simulated day deals with its mismatches, and how it ends: by a count of what is left."""

from itertools import cycle
from typing import Final

from orroom.case.commands import BeginCount, CountAll, CountDish, ExplainMismatch, GiveFate
from orroom.case.events import CountedGroup
from orroom.case.final_count import groups_to_count, waiting_by_group
from orroom.case.mismatches import TAKEN_UNCOUNTED, Mismatch, mismatches, open_mismatches
from orroom.case.terms import Fate
from orroom.demo.needs import Needs, in_dish
from orroom.demo.room import MINUTE, Doing, Room

OVER_PLAN = "two gaps at the edge closed, as the surgeon asked"
NOT_TAPPED = "two grafts cut before the break were not tapped"
#: What becomes of the groups that are left, in turn, and why.
WHAT_BECOMES: Final[tuple[tuple[Fate, str | None], ...]] = (
    ("kept", None),
    ("returned to donor", None),
    ("discarded", "no zone needs them"),
)


def mismatches_explained(room: Room, needs: Needs) -> Doing:
    """Each mismatch is looked into, some ten minutes after it came up."""
    while not room.over:
        for mismatch in open_mismatches(room.state):
            yield MINUTE * room.between(9, 12)
            yield from _explained(room, needs, mismatch)
        yield MINUTE / 2


def _explained(room: Room, needs: Needs, mismatch: Mismatch) -> Doing:
    """Over plan was meant; what is short in a dish is counted by hand first."""
    *_, size, harvest = mismatch.key.split(":")
    if mismatch.key.startswith("over"):
        room.ask(room.crew.lead, "placing", ExplainMismatch(mismatch=mismatch.key, text=OVER_PLAN))
        return
    count = CountDish(
        size=size, harvest=harvest, found=in_dish(room, size, harvest) + needs.untapped.pop(size, 0)
    )
    room.ask(room.crew.recorder, "overview", count)
    yield room.between(50, 100)
    explain = ExplainMismatch(mismatch=f"counted:{size}:{harvest}", text=NOT_TAPPED)
    room.ask(room.crew.recorder, "overview", explain)


def _being_explained(room: Room) -> bool:
    """Whether a mismatch is open, or settled by a count whose cause nobody has written down yet."""
    return any(each.explanation in {None, TAKEN_UNCOUNTED} for each in mismatches(room.state))


def final_count(room: Room, needs: Needs) -> Doing:
    """When all is placed and explained, two people count what is left, and each group of it gets its fate."""
    while not (needs.all_cut and needs.all_placed) or _being_explained(room):
        yield MINUTE / 2
    yield MINUTE * room.between(8, 12)
    for who in (room.crew.recorder, room.crew.lead):
        room.ask(who, "overview", BeginCount())
        yield MINUTE * room.between(2, 4)
        room.ask(who, "overview", CountAll(groups=_found(room)))
        yield room.between(20, 40)
    left = waiting_by_group(room.state.tally)
    for (group, count), (fate, reason) in zip(left.items(), cycle(WHAT_BECOMES), strict=False):
        size, harvest, place = group
        command = GiveFate(size=size, harvest=harvest, place=place, count=count, fate=fate, reason=reason)
        room.ask(room.crew.recorder, "overview", command)
        yield room.between(10, 20)
    room.over = True


def _found(room: Room) -> tuple[CountedGroup, ...]:
    """Every group as it is: nothing that was taken untapped is left to be found."""
    left = waiting_by_group(room.state.tally)
    return tuple(
        CountedGroup(size=each.size, harvest=each.harvest, place=each.place, found=left.get(each, 0))
        for each in groups_to_count(room.state)
    )
