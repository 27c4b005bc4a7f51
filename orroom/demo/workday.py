"""An invented day of work for any plan: who asks what, and when. Pure; the same seed gives the same day."""

from typing import Final

from orroom.case.commands import AddNote, EndHarvest, StartHarvest
from orroom.case.plan import Plan
from orroom.demo.care import care
from orroom.demo.counting import final_count, mismatches_explained
from orroom.demo.cutting import HANDED_OVER_MS, cutting
from orroom.demo.needs import Needs
from orroom.demo.placing import placing
from orroom.demo.room import MINUTE, Doing, Room, Turn

#: Minutes after the case was opened, and from one harvest to the next.
FIRST_HARVEST: Final = 25.0
NEXT_HARVEST: Final = 90.0
ALL_HARVESTS: Final = 270.0
A_REST: Final = 140.0


def workday(plan: Plan, seed: int) -> tuple[Turn, ...]:
    """All turns of a day in order of time, without the opening of the case and its sign-off."""
    room = Room(plan, seed)
    needs = Needs(room)
    between_harvests = min(NEXT_HARVEST, ALL_HARVESTS / len(plan.harvests))
    for number, harvest in enumerate(plan.harvests):
        room.begin(
            _harvest(room, harvest.key), FIRST_HARVEST + number * between_harvests + room.between(0, 3)
        )
    cutting(room, needs)
    placing(room, needs, FIRST_HARVEST + HANDED_OVER_MS / 60_000)
    care(room, needs)
    room.begin(_rest(room))
    room.begin(mismatches_explained(room, needs), FIRST_HARVEST)
    room.begin(final_count(room, needs), FIRST_HARVEST)
    room.run()
    return tuple(room.turns)


def _harvest(room: Room, harvest: str) -> Doing:
    minutes_ago = room.rng.choice((0, 1, 2))
    room.ask(room.crew.recorder, "overview", StartHarvest(harvest=harvest, minutes_ago=minutes_ago))
    yield MINUTE * room.between(18, 26)
    room.ask(room.crew.recorder, "overview", EndHarvest(harvest=harvest))


def _rest(room: Room) -> Doing:
    yield MINUTE * A_REST
    if not room.over:
        note = AddNote(text="head rest raised, a short stretch for all")
        room.ask(room.crew.recorder, "overview", note)
