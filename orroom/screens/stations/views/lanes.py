"""The lanes of a placing screen: whose, where, how many grafts for how long; which to wet first."""

from collections.abc import Sequence
from typing import Final

from orroom.case.state import CaseState
from orroom.case.terms import PLACERS_CARE, lane_name
from orroom.figures.counts import by_zone
from orroom.figures.lanes import LaneNow, lanes_now, most_pressing
from orroom.figures.next_zone import NextZone, next_zone
from orroom.figures.prompts import prompts
from orroom.figures.wording import grafts, how_long, minutes_seconds, several
from orroom.screens.stations.views.frame import NO_LANE, ROOM_FOR_LARGE, Glance
from orroom.screens.stations.views.prompting import MARK, TONE, mark_of
from orroom.screens.terminal.painting import (
    Line,
    Span,
    beside,
    first_that_fits,
    fitted,
    line,
    padded,
    shortened,
    width_of,
)

#: A lane beside others takes at least so many columns.
LEAST_TILE: Final = 25
#: From this height and width on each lane has a line of its own.
ROOM_FOR_ROWS: Final = (30, 70)
#: Of a zone's name so many columns are shown at least.
LEAST_ZONE: Final = 8
_NOBODY: Final = "no lane"


def letter_of(lane: LaneNow) -> str:
    """What a lane is chosen by."""
    return lane.lane or NO_LANE


def spot_of(state: CaseState, glance: Glance, letter: str) -> tuple[str, str] | None:
    """The keys of a lane's zone and size: where the cursor was put here, or else by the last entry for it.

    Before a size is placed, the first zone that is owed some of it.
    """
    plan = state.plan
    for lane in lanes_now(state):
        if letter_of(lane) == letter:
            size = lane.size or ""
            owed = (each.zone.key for each in by_zone(state) if each.owed.get(size))
            zone, size = glance.spots.get(letter, (lane.zone or next(owed, ""), size))
            if zone in plan.zone_by_key and size in plan.size_by_key:
                return zone, size
    return None


def suggested(state: CaseState, glance: Glance) -> NextZone | None:
    """Which zone the chosen lane could place next; zones of other lanes are left to them."""
    if glance.lane in {"", NO_LANE}:
        return next_zone(state)
    spots = (spot_of(state, glance, letter) for letter in sorted(state.tally.lanes) if letter != glance.lane)
    return next_zone(state, glance.lane, frozenset(spot[0] for spot in spots if spot is not None))


def lane_words(state: CaseState, glance: Glance) -> str:
    """The chosen lane with whose it is: ``lane a (GH)``; empty while none is open."""
    if glance.lane == NO_LANE:
        return _NOBODY
    lane = state.tally.lanes.get(glance.lane)
    return "" if lane is None else f"{lane_name(glance.lane)} ({lane.by})"


def lane_lines(state: CaseState, now_ms: int, glance: Glance) -> list[Line]:
    """All lanes where there are two or more; on a small screen the chosen and the most pressing one.

    A line each where there is room for that, beside each other in two lines where not.
    """
    lanes = lanes_now(state)
    if len(lanes) < 2:
        return []
    paint = _Painter(state, now_ms, glance, lanes)
    if glance.height < ROOM_FOR_LARGE:
        return [paint.row(each, glance.width) for each in _most_wanted(lanes, glance)]
    if glance.height >= ROOM_FOR_ROWS[0] and glance.width >= ROOM_FOR_ROWS[1]:
        return [paint.row(each, glance.width) for each in lanes]
    across = max(1, glance.width // LEAST_TILE)
    if len(lanes) <= across:
        tiles = [paint.tile(each, glance.width // len(lanes)) for each in lanes]
        return beside(*((tile, glance.width // len(lanes)) for tile in tiles))
    lines: list[Line] = []
    across = min(across, (len(lanes) + 1) // 2)
    for first in range(0, len(lanes), across):
        wide = glance.width // across
        band = [([paint.row(each, wide)], wide) for each in lanes[first : first + across]]
        lines += beside(*band)
    return lines


def lane_rows(state: CaseState, now_ms: int, glance: Glance, width: int) -> list[Line]:
    """Every lane in a line that no click chooses: for the overview."""
    lanes = lanes_now(state)
    paint = _Painter(state, now_ms, glance, lanes) if lanes else None
    rows = [paint.row(each, width) for each in lanes] if paint else []
    return [
        tuple(Span(span.text, "plain" if span.tone == "button" else span.tone) for span in row)
        for row in rows
    ]


def lanes_hidden(state: CaseState, glance: Glance) -> list[str]:
    """The lanes that a small screen has no line for."""
    lanes = lanes_now(state)
    if len(lanes) < 2 or glance.height >= ROOM_FOR_LARGE:
        return []
    shown = _most_wanted(lanes, glance)
    letters = [lane_name(letter_of(each)).removeprefix("lane ") for each in lanes if each not in shown]
    return [f"lane{'s' * (len(letters) > 1)} {' '.join(letters)}"] if letters else []


def _most_wanted(lanes: Sequence[LaneNow], glance: Glance) -> list[LaneNow]:
    """The chosen lane, then the most pressing one if that is another."""
    chosen = [each for each in lanes if letter_of(each) == glance.lane]
    first = most_pressing(tuple(lanes))
    return [*chosen, *([first] if first is not None and first not in chosen else [])]


class _Painter:
    """How each of some lanes is painted at a moment."""

    def __init__(self, state: CaseState, now_ms: int, glance: Glance, lanes: Sequence[LaneNow]) -> None:
        self._state, self._now_ms, self._glance = state, now_ms, glance
        self._lanes, self._first = lanes, most_pressing(tuple(lanes))
        self._names = max(len(each.by or _NOBODY) for each in lanes)
        self._places = max(len(self._where(each, 10_000)) for each in lanes)
        self._labels = max(len(self._label(each)) for each in lanes)
        self._prompts = {each.lane: each for each in prompts(state, now_ms) if each.care == PLACERS_CARE}

    def row(self, lane: LaneNow, width: int) -> Line:
        """A lane in one line; its zone gives way first."""
        wide, width = width >= ROOM_FOR_ROWS[1], width - 1  # nothing touches the edge, nor the next lane
        head = self._name(lane, self._labels if wide else 0)
        tail = self._with_them(lane, width - width_of(head), wide=wide, first=lane == self._first)
        tails = [tail]
        if self._glance.role == "overview":  # below each other, and so are their figures
            tails += [self._with_them(each, width, wide=wide, first=True) for each in self._lanes]
        room = width - width_of(head) - max(map(width_of, tails)) - 2
        where = padded(self._where(lane, room), min(room, self._places)) + "  " if room >= LEAST_ZONE else ""
        return fitted((*head, self._there(lane, where), *tail), width)

    def tile(self, lane: LaneNow, width: int) -> list[Line]:
        """A lane in two lines: whose it is and what is in it; where."""
        first = "wet first · " if lane == self._first else ""
        where = self._there(lane, f"     {first}{self._where(lane, width - 6 - len(first))}")
        return [line(*self._name(lane), *self._with_them(lane, width, wide=False, first=False)), line(where)]

    def _there(self, lane: LaneNow, where: str) -> Span:
        chosen = letter_of(lane) == self._glance.lane
        return Span(where, "strong" if chosen else "plain", self._does(lane))

    def _does(self, lane: LaneNow) -> str:
        return "no_lane" if lane.lane is None else f"lane('{lane.lane}')"

    def _label(self, lane: LaneNow) -> str:
        """Its letter; before it the key that chooses it, if that is another. Its name where no key does."""
        if self._glance.role != "placing":
            return "" if lane.lane is None else lane_name(lane.lane)
        letter = lane_name(letter_of(lane)).removeprefix("lane ")
        key = self._glance.keys.shown("placing", self._does(lane))
        return letter if key == letter else f"{key} {letter}"

    def _name(self, lane: LaneNow, wide: int = 0) -> Line:
        """Its letter, in brackets if it is chosen, and whose it is."""
        label, does = self._label(lane), self._does(lane)
        chosen = letter_of(lane) == self._glance.lane
        mark = Span(f"[{label}]" if chosen else f" {label} ", "cursor" if chosen else "button", does)
        name = Span(f" {lane.by or _NOBODY:<{self._names}}", "cursor" if chosen else "strong", does)
        return (Span(" " * max(1, 1 + wide - len(label))), mark, name, Span(" "))

    def _with_them(self, lane: LaneNow, room: int, *, wide: bool, first: bool) -> Line:
        """How many grafts for how long; where they are ``first``, none have been there for longer."""
        does = self._does(lane)
        if lane.since_ms is None:
            return (Span("empty", "dim", does),)
        prompt = self._prompts.get(lane.lane)
        mark, tone = (MARK["waiting"], TONE["waiting"]) if prompt is None else mark_of(prompt)
        out_ms = max(0, self._now_ms - lane.since_ms)
        out = minutes_seconds(out_ms) if wide or out_ms < 60_000 else how_long(out_ms)
        held = f"{several(lane.grafts, 'graft')} with them for" if wide else f"{grafts(lane.grafts)} for"
        wet = (", wet first" if wide else ", first") if first else ""
        brief = f"{mark} {grafts(lane.grafts)} first, {out}" if first else f"{mark} {grafts(lane.grafts)}"
        end = " " * (tone == "pressing")
        text = first_that_fits((f"{mark} {held} {out}{wet}{end}", f"{brief}{end}"), room)
        return (Span(text, "plain" if tone == "dim" else tone, does),)

    def _where(self, lane: LaneNow, room: int) -> str:
        """Zone and size, in as many columns as there are; the size alone where the zone is not known yet."""
        letter = letter_of(lane)
        spot = spot_of(self._state, self._glance, letter)
        if spot is None or room < LEAST_ZONE:
            return ""
        zone = self._state.plan.zone_by_key[spot[0]].label
        size = self._state.plan.size_by_key[spot[1]].label
        if lane.zone is None and letter not in self._glance.spots:
            return shortened(size, room)
        whole = f"{zone} · {size}"
        if len(whole) <= room:
            return whole
        if room - len(size) - 3 >= LEAST_ZONE:
            return f"{shortened(zone, room - len(size) - 3)} · {size}"
        return shortened(zone, room)
