"""Who was away from a work, on a break or gone: from breaks, hand-overs and stations of the record."""

from bisect import bisect_right
from collections import defaultdict
from math import inf
from operator import attrgetter
from statistics import median
from typing import Final, get_args

from orroom.case import events as e
from orroom.case.state import CaseState, once
from orroom.case.terms import WORKS, Work

#: How long a break without a known end is taken to last where the case has none to go by.
#: Common practice, no source.
USUAL_BREAK_MS = 30 * 60_000

#: How the stations of each work are named.
_STATIONS: Final[dict[Work, str]] = {"cutting": "cutting-", "sites": "placing-", "placing": "placing-"}

#: The kinds of entries that make something of each work.
MAKING: Final[dict[Work, tuple[type[e.Event], ...]]] = {
    work: tuple(kind for kind in get_args(e.AnyEvent) if kind.does.output_of == work) for work in WORKS
}
_MAKES: Final = frozenset(kind for kinds in MAKING.values() for kind in kinds)
#: Those by which somebody comes or goes, whatever else they do.
_COMING_AND_GOING: Final = (e.BreakStarted, e.BreakEnded, e.HandedOver, e.StationLeft, e.StationJoined)


@once
def _by_kind(state: CaseState) -> dict[type[e.Event], list[e.Entry]]:
    found: defaultdict[type[e.Event], list[e.Entry]] = defaultdict(list)
    for entry in state.standing():
        found[type(entry.event)].append(entry)
    return found


@once
def _making(state: CaseState) -> dict[str, list[e.Entry]]:
    """The standing entries that make something, by who made them."""
    found: defaultdict[str, list[e.Entry]] = defaultdict(list)
    for entry in state.standing():
        if type(entry.event) in _MAKES:
            found[entry.stamp.who].append(entry)
    return found


def standing(state: CaseState, *kinds: type[e.Event]) -> list[e.Entry]:
    """The standing entries of these kinds; those of each kind in their order."""
    return [entry for kind in kinds for entry in _by_kind(state).get(kind, ())]


def away_from(state: CaseState, work: Work) -> dict[str, list[tuple[int, int | None, bool]]]:
    """By person, when they were away: from, until (``None``: still), and whether for good."""
    away: dict[str, list[tuple[int, int | None, bool]]] = {}

    def goes(who: str, at_ms: int, *, for_good: bool) -> None:
        comes(who, at_ms)
        away.setdefault(who, []).append((at_ms, None, for_good))

    def comes(who: str, at_ms: int) -> None:
        if away.get(who) and away[who][-1][1] is None:
            start, _, for_good = away[who][-1]
            away[who][-1] = (start, max(start, at_ms), for_good)

    making, began = _making(state), dict[str, int]()

    def seen_again(who: str, before: float) -> None:
        """Who makes something is back, however that was entered."""
        mine = making.get(who, ())
        place = bisect_right(mine, began.get(who, len(state.log)), key=attrgetter("seq"))
        if place < len(mine) and mine[place].seq < before:
            comes(who, mine[place].stamp.at_ms)

    for entry in sorted(standing(state, *_COMING_AND_GOING), key=attrgetter("seq")):
        who, at_ms = entry.stamp.who, entry.stamp.at_ms
        at_work = entry.stamp.station.startswith(_STATIONS[work])
        seen_again(who, entry.seq)
        match entry.event:
            case e.BreakStarted():
                goes(who, at_ms, for_good=False)
                began[who] = entry.seq
            case e.HandedOver(left=left):
                seen_again(left, entry.seq)
                goes(left, at_ms, for_good=True)
                comes(who, at_ms)
                began[left] = entry.seq
            case e.StationLeft() if at_work:
                goes(who, at_ms, for_good=True)
                began[who] = entry.seq
            case e.StationJoined() if at_work:
                comes(who, at_ms)
            case e.BreakEnded():
                comes(who, at_ms)
    for who in [*began]:
        seen_again(who, inf)
    return away


def usual_break_ms(away: dict[str, list[tuple[int, int | None, bool]]]) -> int:
    """How long a break lasts in this case (ms): the median of those that ended, else half an hour."""
    ended = [
        end - start for spells in away.values() for start, end, for_good in spells if end and not for_good
    ]
    return round(median(ended)) if ended else USUAL_BREAK_MS
