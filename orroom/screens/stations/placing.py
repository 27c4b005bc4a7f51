"""The placing station: a number, then what became of that many grafts."""

from typing import ClassVar

from orroom.case import commands as c
from orroom.case.state import CaseState
from orroom.case.terms import Role, lane_name
from orroom.figures.lanes import held_in
from orroom.screens.stations import correcting, questions, site_making
from orroom.screens.stations.lanes import LaneChoice
from orroom.screens.stations.shared import Shared
from orroom.screens.stations.station import StationScreen
from orroom.screens.stations.views.frame import NO_LANE
from orroom.screens.stations.views.lanes import lane_words, suggested
from orroom.screens.stations.views.placing import placing_lines
from orroom.screens.stations.views.placing_zone import NOTHING_NEXT
from orroom.screens.stations.views.typed_number import LONGEST_NUMBER
from orroom.screens.terminal.painting import Line


class PlacingScreen(StationScreen):
    """What a placement lead types and sees."""

    ROLE: ClassVar[Role] = "placing"

    def __init__(self, shared: Shared) -> None:
        super().__init__(shared)
        self.glance.zone = _first_owed(self.desk.state)
        self._plan = (
            self.desk.state.plan
        )  #: whose zones and sizes the cursor numbers; a newer one may be in force
        self._lanes = LaneChoice(self.glance, self._go_to)

    def follows_plan(self, state: CaseState) -> bool:
        """Keep to the plan and to the lanes that are open; where one is gone, so is what was typed."""
        if not self._follows_new_plan(state):
            return False
        if dropped := self._lanes.follow(state):
            self.say(dropped, wrong=True)
        return not dropped

    def _follows_new_plan(self, state: CaseState) -> bool:
        """Keep the cursor on its zone and size in a revised plan."""
        old, new = self._plan, state.plan
        if new is old:
            return True
        self._plan = new
        glance = self.glance
        zones, sizes = list(new.zone_by_key), list(new.size_by_key)
        zone, size = old.zones[glance.zone].key, old.sizes[glance.size].key
        gone = zone not in zones or size not in sizes
        if gone:
            glance.typed, glance.reading = "", None
            self.say("the plan was revised: choose the zone and size again", wrong=True)
        glance.zone = zones.index(zone) if zone in zones else _first_owed(state)
        glance.size = sizes.index(size) if size in sizes else 0
        return not gone

    def paint(self, state: CaseState, now_ms: int) -> list[Line]:
        """The screen's own lines."""
        return placing_lines(state, now_ms, self.glance)

    async def take(self, key: str, character: str | None) -> None:
        """Digits are typed into the number; every other key as on all screens."""
        glance = self.glance
        if key in "0123456789":
            if len(glance.typed) < LONGEST_NUMBER:
                glance.typed = (glance.typed + key).lstrip("0")
            else:
                self.say(f"a number has at most {LONGEST_NUMBER} digits; Esc clears it", wrong=True)
        elif key == "backspace":
            glance.typed = glance.typed[:-1]
        elif key == "escape" and glance.typed:
            glance.typed = ""
        else:
            await super().take(key, character)

    @property
    def _zone_key(self) -> str:
        return self._plan.zones[self.glance.zone].key

    @property
    def _size_key(self) -> str:
        return self._plan.sizes[self.glance.size].key

    def _typed(self) -> int:
        """The number typed, which is used up by that; 0 if none is."""
        number = int(self.glance.typed or 0)
        self.glance.typed = ""
        return number

    def action_go(self, zone: str, size: str) -> None:
        """A click on a cell, by keys that a revised plan may no longer have; size ``""`` keeps the column."""
        zones, sizes = list(self._plan.zone_by_key), list(self._plan.size_by_key)
        if zone not in zones or (size and size not in sizes):
            self.say("the plan has that zone or size no more: click ignored", wrong=True)
        else:
            self._go(zones.index(zone), sizes.index(size) if size else -1)

    def _go(self, zone: int, size: int) -> None:
        """Put the cursor on a cell; ``size`` -1 keeps the column."""
        self.glance.zone = zone
        if size >= 0:
            self.glance.size = size
        self._lanes.moved(self._zone_key, self._size_key)
        self.repaint()

    def _go_to(self, zone: str, size: str) -> None:
        """The cursor is on the cell of these keys, which the plan has."""
        self.glance.zone = list(self._plan.zone_by_key).index(zone)
        self.glance.size = list(self._plan.size_by_key).index(size)

    def action_lane(self, letter: str) -> None:
        """Enter for this lane from now on."""
        if letter not in self.desk.state.tally.lanes:
            key = self.glance.keys.shown(self.ROLE, "team")
            self.say(f"{lane_name(letter)} is not open ({key} opens a lane)", wrong=True)
        else:
            self._choose_lane(letter)

    def action_no_lane(self) -> None:
        """Enter for the grafts that are with placers in no lane."""
        state = self.desk.state
        if state.tally.lanes and held_in(state, None):
            self._choose_lane(NO_LANE)
        else:
            self.say("no grafts are with placers outside a lane", wrong=True)

    def _choose_lane(self, letter: str) -> None:
        typed, glance = self.glance.typed, self.glance
        if typed and letter != glance.lane:
            glance.typed = ""
            self.say(f"{typed} was typed for {lane_name(glance.lane)}: not entered", wrong=True)
        self._lanes.choose(self.desk.state, letter)
        self.repaint()

    def _of_lane(self, before: str) -> str:
        """Words with the chosen lane behind them, where one is open."""
        words = lane_words(self.desk.state, self.glance)
        return f"{before} {words}" if words else ""

    def action_up(self) -> None:
        """The zone before."""
        self._go(max(0, self.glance.zone - 1), -1)

    def action_down(self) -> None:
        """The zone after."""
        self._go(min(len(self._plan.zones) - 1, self.glance.zone + 1), -1)

    def action_left(self) -> None:
        """The size before."""
        self._go(self.glance.zone, max(0, self.glance.size - 1))

    def action_right(self) -> None:
        """The size after."""
        self._go(self.glance.zone, min(len(self._plan.sizes) - 1, self.glance.size + 1))

    def action_zone(self) -> None:
        """To a zone by its number."""
        self.open_question(
            questions.go_to_zone(self.desk.state), lambda command: self.action_go(command.zone, "")
        )

    def action_next_zone(self) -> None:
        """To the zone and size that are suggested next."""
        if self.shows_no_counts():
            return
        if (found := suggested(self.desk.state, self.glance)) is None:
            self.say(NOTHING_NEXT, wrong=True)
        else:
            self._go(found.number, list(self._plan.size_by_key).index(found.size))

    def action_place(self) -> None:
        """Place the typed number at the cursor."""
        if count := self._typed():
            command = c.PlaceGrafts(
                zone=self._zone_key, size=self._size_key, count=count, lane=self._lanes.lane
            )
            self._ask_there(command)
        else:
            self.say("type how many first", wrong=True)

    def _ask_there(self, command: c.PlaceGrafts | c.MakeSites) -> None:
        """Enter grafts or sites; the first of a zone that is not treated once somebody is sure."""
        if questions.asks_before(self.desk.state, command.zone):
            self.open_question(questions.there(self.desk.state, command))
        else:
            self.ask(command)

    def action_pick_size(self) -> None:
        """Place the typed number of a size that is asked for."""
        if count := self._typed():
            self.open_question(
                questions.place_of_size(
                    self.desk.state, self._zone_key, count, self.glance.keys, self._lanes.lane
                )
            )
        else:
            self.say("type how many first", wrong=True)

    def action_issue(self) -> None:
        """Hand the typed number of the cursor's size to the placers."""
        label = self._plan.size_by_key[self._size_key].label
        whose = self._of_lane("To") or "To the placers"
        self._enter(f"{whose}, {label}:", c.IssueGrafts, size=self._size_key, lane=self._lanes.lane)

    def action_return_to_dish(self) -> None:
        """Put the typed number of the cursor's size back into its dish."""
        label = self._plan.size_by_key[self._size_key].label
        ask = f"Back to the dish{self._of_lane(' from')}, {label}:"
        self._enter(ask, c.ReturnGrafts, size=self._size_key, lane=self._lanes.lane)

    def action_sites(self) -> None:
        """Enter the typed number of sites made in the zone, by the plan's surgeon; else ask also by whom."""
        if count := self._typed():
            self._ask_there(c.MakeSites(zone=self._zone_key, count=count))
        else:
            self.open_question(site_making.sites(self.desk.state, self._zone_key))

    def action_stick_and_place(self) -> None:
        """Say that placing makes the zone's sites from now on, or not any more."""
        self.open_question(site_making.stick_and_place(self.desk.state, self._zone_key))

    def _enter(self, ask: str, make: questions.Numbered, **of: str | None) -> None:
        """Enter the typed number, or ask for one."""
        if count := self._typed():
            self.ask(make(count=count, **of))
        else:
            self.open_question(questions.how_many(ask, make, **of))

    def action_reseat(self) -> None:
        """Enter the typed number of grafts (or one) that popped and were put back."""
        self.ask(c.ReseatGraft(zone=self._zone_key, count=self._typed() or 1, lane=self._lanes.lane))

    def action_discard(self) -> None:
        """The typed number (or one) of the cursor's size is discarded."""
        count = self._typed() or 1
        self.open_question(
            questions.discard_waiting(self.desk.state, self._size_key, count, self._lanes.lane)
        )

    def action_move(self) -> None:
        """The grafts of a placing are in another zone than it says."""
        if len(self._plan.zones) > 1:
            self.open_question(correcting.move(lambda: self.desk.state, self.desk.who))
        else:
            self.say("the plan has no other zone", wrong=True)

    def action_spot_check(self, zone: str | None = None) -> None:
        """Enter a close look at a few grafts in the zone."""
        super().action_spot_check(zone or self._zone_key)


def _first_owed(state: CaseState) -> int:
    """The first zone in placing order that is still owed grafts."""
    for number, zone in enumerate(state.plan.zones):
        if any(
            state.tally.placed.get((zone.key, size), 0) < planned for size, planned in zone.planned.items()
        ):
            return number
    return 0
