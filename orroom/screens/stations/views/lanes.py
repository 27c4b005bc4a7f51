"""The lanes of a placing screen: whose, where, how many grafts for how long; which to wet first."""

from collections.abc import Sequence
from typing import Final

from orroom.case.state import CaseState
from orroom.case.terms import PLACERS_CARE, lane_name
from orroom.figures.counts import by_zone
from orroom.figures.lanes import LaneNow, lanes_now, most_pressing, not_needed
from orroom.figures.next_zone import NextZone, next_zone
from orroom.figures.prompts import prompts
from orroom.figures.wording import ago, grafts, minutes_seconds
from orroom.screens.stations.views.frame import NO_LANE, ROOM_FOR_LARGE, Glance
from orroom.screens.stations.views.prompting import MARK, TONE, mark_of
from orroom.screens.stations.views.zone_names import zone_names
from orroom.screens.terminal.painting import (
    Line,
    Span,
    beside,
    first_that_fits,
    fitted,
    line,
    width_of,
)
from orroom.words.lanes import WRONG_ZONE, held_words, where_words

#: A lane beside others takes at least so many columns.
LEAST_TILE: Final = 25
#: From this height and width on each lane has a line of its own.
ROOM_FOR_ROWS: Final = (30, 70)
#: Of a zone's name so many columns are shown at least.
LEAST_ZONE: Final = 9
_NOBODY: Final = "no lane"
#: What is before the second line of a lane.
INDENT: Final = line("     ")


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
        self._first = most_pressing(tuple(lanes))
        self._names = max(len(each.by or _NOBODY) for each in lanes)
        self._labels = max(len(self._label(each)) for each in lanes)
        self._prompts = {each.lane: each for each in prompts(state, now_ms) if each.care == PLACERS_CARE}
        self._held = max(width_of(self._with_them(each, 10_000, wide=True)) for each in lanes)

    def row(self, lane: LaneNow, width: int) -> Line:
        """A lane in one line: what is in the hands, then where it goes, which gives way first.

        That it is not needed there does not give way.
        """
        wide, width = width >= ROOM_FOR_ROWS[1], width - 1  # nothing touches the edge, nor the next lane
        head = self._name(lane, self._labels if wide else 0)
        room = width - width_of(head)
        held = self._with_them(lane, room - self._least_where(lane), wide=wide)
        if wide:  # below each other, and so is where they go
            held = line(*held, " " * (self._held - width_of(held)))
        where = self._where(lane, room - width_of(held) - 2)
        return fitted((*head, *held, *([Span("  "), where] if where is not None else [])), width)

    def tile(self, lane: LaneNow, width: int) -> list[Line]:
        """A lane in two lines: whose it is and what is in the hands; since when, and where it goes."""
        head, room = self._name(lane), width - width_of(INDENT) - 1
        held, since = self._held_words(lane, width - width_of(head) - 1), self._since(lane)
        kept = self._least_where(lane) or LEAST_ZONE * (lane.zone is not None)
        first = next((each for each in since if len(each) + 3 + kept <= room), "")
        where = self._where(lane, room - len(first) - 3 * bool(first))
        apart = [" · "] if first and where is not None else []
        return [line(*head, held), line(*INDENT, first, *apart, *([where] if where is not None else []))]

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

    def _since(self, lane: LaneNow) -> list[str]:
        """How long ago what is in the hands was last wet, in words and in fewer of them."""
        if lane.since_ms is None:
            return []
        out_ms = max(0, self._now_ms - lane.since_ms)
        return [f"{minutes_seconds(out_ms)} since wet", f"{ago(out_ms)} since wet", ago(out_ms)]

    def _held_words(self, lane: LaneNow, room: int, since: Sequence[str] = ("",)) -> Span:
        """What is in the hands, whether it is to be wetted first, and ``since`` when."""
        does, held = self._does(lane), held_words(lane)
        if lane.since_ms is None:
            return Span(held[0], "dim", does)
        prompt = self._prompts.get(lane.lane)
        mark, tone = (MARK["waiting"], TONE["waiting"]) if prompt is None else mark_of(prompt)
        first = ", wet first" * (lane == self._first)
        end = " " * (tone == "pressing")
        forms = [
            f"{mark} {each}{order}{', ' * bool(when)}{when}{end}"
            for orders in ((first, first.replace(", wet", "")), ("",))
            for when in since
            for each in held
            for order in dict.fromkeys(orders)
        ]
        text = first_that_fits((*forms, f"{mark} {grafts(lane.grafts)}{end}"), room)
        return Span(text, "plain" if tone == "dim" else tone, does)

    def _with_them(self, lane: LaneNow, room: int, *, wide: bool) -> Line:
        """What is in the hands since when, as much of it as there is room for."""
        since = self._since(lane)
        return (self._held_words(lane, room, (*since[not wide :], "")),)

    def _least_where(self, lane: LaneNow) -> int:
        """The columns that are kept for where a lane's grafts go: only that they are not needed there is."""
        return len(WRONG_ZONE) + 2 if not_needed(self._state, lane) else 0

    def _where(self, lane: LaneNow, room: int) -> Span | None:
        """Its zone, or that what it holds is not needed there, in as many columns as there are."""
        if room < LEAST_ZONE:
            return None
        plan = self._state.plan
        names = [""]
        if lane.zone and lane.zone in plan.zone_by_key:
            names = [zone_names(plan, wide)[lane.zone] for wide in range(room, LEAST_ZONE - 1, -1)]
        said = [where_words(self._state, lane, each) for each in names]
        forms = [each for kind in zip(*said, strict=True) for each in kind]
        if not forms:
            return None
        text = first_that_fits(forms, room)
        unneeded = bool(not_needed(self._state, lane))
        chosen = letter_of(lane) == self._glance.lane
        return Span(text, "notice" if unneeded else "strong" if chosen else "plain", self._does(lane))
