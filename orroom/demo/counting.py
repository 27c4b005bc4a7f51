"""How a simulated day deals with its mismatches, and how it ends: by a count of what is left."""

from orroom.case.commands import CountDish, DiscardGrafts, ExplainMismatch
from orroom.case.mismatches import TAKEN_UNCOUNTED, Mismatch, mismatches, open_mismatches
from orroom.demo.needs import Needs, in_dish
from orroom.demo.room import MINUTE, Doing, Room

OVER_PLAN = "two gaps at the edge closed, as the surgeon asked"
NOT_TAPPED = "two grafts cut before the break were not tapped"


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
    """When all is placed and explained, the zones are looked over and what is left in dishes is counted."""
    while not (needs.all_cut and needs.all_placed) or _being_explained(room):
        yield MINUTE / 2
    yield MINUTE * room.between(8, 12)
    for size in room.plan.size_by_key:
        if needs.spare(size) > 2 and room.chance(0.5):
            room.ask(room.crew.lead, "placing", DiscardGrafts(size=size, reason="dried"))
            yield room.between(20, 40)
    for harvest in room.plan.harvest_by_key:
        for size in room.plan.size_by_key:
            if room.state.tally.held("cut", size, harvest):
                count = CountDish(size=size, harvest=harvest, found=in_dish(room, size, harvest))
                room.ask(room.crew.recorder, "overview", count)
                yield room.between(25, 50)
    room.over = True
