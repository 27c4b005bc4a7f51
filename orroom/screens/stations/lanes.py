"""Which lane the entries of a placing station are for, and where the cursor is in each of them."""

from collections.abc import Callable

from orroom.case.state import CaseState
from orroom.case.terms import lane_name
from orroom.figures.lanes import held_in
from orroom.screens.stations.views.frame import NO_LANE, Glance
from orroom.screens.stations.views.lanes import spot_of


class LaneChoice:
    """The lane chosen last, until it is closed; before that the lane of the person here, or the first.

    Each lane keeps its zone and size. ``go`` puts the cursor on them.
    """

    def __init__(self, glance: Glance, go: Callable[[str, str], None]) -> None:
        self._glance, self._go = glance, go
        #: The lane of the person here; a new one becomes the chosen one.
        self._own = ""
        #: The lane where the cursor is now.
        self._at = ""

    @property
    def lane(self) -> str | None:
        """The lane that an entry names."""
        return None if self._glance.lane in {"", NO_LANE} else self._glance.lane

    def follow(self, state: CaseState) -> str:
        """Keep to the lanes that are open; why what was typed is dropped, or nothing."""
        glance, lanes = self._glance, state.tally.lanes
        own = next((letter for letter, lane in lanes.items() if lane.by == glance.who), "")
        came, self._own = own not in {"", self._own}, own
        lane = glance.lane
        loose = lane == NO_LANE and lanes and held_in(state, None)
        if came or not (lane in lanes or loose):
            lane = own or next(iter(lanes), "")
        dropped = ""
        if glance.typed and glance.lane and lane != glance.lane:
            named = lane_name(glance.lane)
            dropped = f"{glance.typed} was typed for {named}: not entered. Choose a lane again."
            glance.typed = ""
        self.choose(state, lane)
        return dropped

    def choose(self, state: CaseState, lane: str) -> None:
        """Entries are for this lane from now on."""
        self._glance.lane = lane
        if lane == self._at:
            return
        self._at = lane
        if (spot := spot_of(state, self._glance, lane)) is not None:
            self._go(*spot)
            self.moved(*spot)  # its line says where the cursor is, whatever others enter for it

    def moved(self, zone: str, size: str) -> None:
        """The cursor is there now."""
        if self._glance.lane:
            self._glance.spots[self._glance.lane] = zone, size
