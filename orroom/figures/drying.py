"""How long grafts lay without being wetted, with the placers or in the dishes: at least and at most.

Which batch of its size a graft was taken from, nobody enters. Taken in the order they came, the longest time
is the shortest that it may have been; taken the newest first, it is the longest. The same goes for the time
beyond the limit of all grafts together, which is convex in each time. How many were over the limit is least
if whatever is not over it yet goes before it is, and most if whatever is over it goes first.
"""

from collections import defaultdict, deque
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Literal

from msgspec import Struct

from orroom.case.care import interval_ms
from orroom.case.events import CareGiven
from orroom.case.plan import CareRound
from orroom.case.state import CaseState
from orroom.case.terms import PLACERS_CARE
from orroom.figures.survival import Between
from orroom.figures.waiting import moves


class Drying(Struct, frozen=True):
    """All grafts that were with the placers: how many, the longest drying (ms), how many over the limit.

    ``beyond_limit_ms``: the time beyond the limit of all of them together (graft-ms).
    """

    grafts: int
    longest_ms: Between[int]
    over_limit: Between[int]
    share_over_limit: Between[float]
    beyond_limit_ms: Between[int]


class _Batch(Struct):
    grafts: int
    since_ms: int
    longest_ms: int = 0

    def dried_ms(self, at_ms: int) -> int:
        return max(self.longest_ms, at_ms - self.since_ms)


#: In whose hands: the lane, ``None`` without one; and the size.
_Hands = tuple[str | None, str]

#: When (UTC ms) how many somebody got or gave away; 0 where a lane was wetted, or all without one.
_Move = tuple[int, _Hands, int]

#: Which batch a graft is taken from: the oldest, the newest, one over the limit, or one that soon will be.
Way = Literal["oldest", "newest", "over", "not over"]


def drying(state: CaseState, now_ms: int) -> Drying | None:
    """All drying times against the plan's limit in force; ``None`` if no graft was ever with the placers."""
    limit_ms = state.plan.limits.with_placers_seconds * 1000
    moved = _placers_moves(state)
    shortest, longest, fewest, most = (
        [*_dried(moved, now_ms, limit_ms, way)] for way in ("oldest", "newest", "not over", "over")
    )
    grafts = sum(count for _, count in shortest)
    if not grafts:
        return None
    over = [sum(count for dried, count in each if dried > limit_ms) for each in (fewest, most)]
    return Drying(
        grafts=grafts,
        longest_ms=Between(max(dried for dried, _ in shortest), max(dried for dried, _ in longest)),
        over_limit=Between(*over),
        share_over_limit=Between(*(each / grafts for each in over)),
        beyond_limit_ms=_beyond_ms(moved, now_ms, limit_ms),
    )


def beyond_interval_ms(state: CaseState, round_: CareRound, until_ms: int) -> Between[int]:
    """How long grafts lay in the dishes beyond the interval of a wetting round, all together (graft-ms).

    A graft counts from when it came into its dish or, later, from when the round was last given.
    """
    moved: list[_Move] = [(each.at_ms, (None, each.size), each.grafts) for each in moves(state, "dish")]
    moved += [
        (entry.stamp.at_ms, (None, ""), 0)
        for entry in state.standing()
        if isinstance(entry.event, CareGiven) and entry.event.care == round_.key
    ]
    moved.sort(key=lambda each: each[0])
    return _beyond_ms([each for each in moved if each[0] <= until_ms], until_ms, interval_ms(round_, None))


def _beyond_ms(moved: Iterable[_Move], now_ms: int, limit_ms: int) -> Between[int]:
    """The time beyond the limit since the last wetting, all grafts together (graft-ms)."""
    return Between(*(_beyond_one_way_ms(moved, now_ms, limit_ms, newest=newest) for newest in (False, True)))


def _beyond_one_way_ms(moved: Iterable[_Move], now_ms: int, limit_ms: int, *, newest: bool) -> int:
    there: defaultdict[_Hands, deque[_Batch]] = defaultdict(deque)
    owed: defaultdict[_Hands, int] = defaultdict(int)
    beyond = 0
    for at_ms, where, grafts in moved:
        batches = there[where]
        if grafts > 0:
            gone = min(grafts, owed[where])
            owed[where] -= gone
            batches.append(_Batch(grafts - gone, at_ms))
        left = -grafts
        while left > 0 and batches:
            batch = batches[-1 if newest else 0]
            taken = min(left, batch.grafts)
            beyond += taken * max(0, at_ms - batch.since_ms - limit_ms)
            batch.grafts -= taken
            left -= taken
            if not batch.grafts:
                batches.pop() if newest else batches.popleft()
        owed[where] += max(0, left)
        if not grafts:
            for hands in [each for each in there if where[0] in {None, each[0]}]:
                beyond += sum(each.grafts * max(0, at_ms - each.since_ms - limit_ms) for each in there[hands])
                there[hands] = deque([_Batch(sum(each.grafts for each in there[hands]), at_ms)])
    return beyond + sum(
        each.grafts * max(0, now_ms - each.since_ms - limit_ms)
        for batches in there.values()
        for each in batches
    )


def _dried(moved: Iterable[_Move], now_ms: int, limit_ms: int, way: Way) -> Iterator[tuple[int, int]]:
    """Longest times without wetting (ms) and how many grafts had each: as they left, then what lies there.

    Grafts that are said to have left before anybody said that they came are not there when they come.
    """
    with_placers: dict[_Hands, list[_Batch]] = {}
    owed: dict[_Hands, int] = {}
    for at_ms, where, grafts in moved:
        batches = with_placers.setdefault(where, [])
        if grafts > 0:
            gone = min(grafts, owed.get(where, 0))
            owed[where] = owed.get(where, 0) - gone
            if grafts > gone:
                batches.append(_Batch(grafts - gone, at_ms))
        elif grafts < 0:
            left = -grafts
            for batch in _in_turn(batches, at_ms, limit_ms, way):
                taken = min(left, batch.grafts)
                batch.grafts -= taken
                left -= taken
                yield batch.dried_ms(at_ms), taken
            owed[where] = owed.get(where, 0) + left
            with_placers[where] = [batch for batch in batches if batch.grafts]
        else:
            for batch in _wetted(with_placers, where[0]):
                batch.longest_ms, batch.since_ms = batch.dried_ms(at_ms), at_ms
    for batches in with_placers.values():
        yield from ((batch.dried_ms(now_ms), batch.grafts) for batch in batches)


def _wetted(with_placers: Mapping[_Hands, list[_Batch]], lane: str | None) -> Iterator[_Batch]:
    """The batches of a lane; without one all that are with the placers."""
    for (theirs, _), batches in with_placers.items():
        if lane in {None, theirs}:
            yield from batches


def _placers_moves(state: CaseState) -> list[_Move]:
    """Whatever reached the placers or left them, in order of time."""
    moved = [
        (move.at_ms, move.seq, (move.lane, move.size), move.grafts) for move in state.tally.placers_moves
    ]
    moved += [
        (entry.stamp.at_ms, entry.seq, (entry.event.lane, ""), 0)
        for entry in state.standing()
        if isinstance(entry.event, CareGiven) and entry.event.care == PLACERS_CARE
    ]
    moved.sort(key=lambda each: (each[0], each[1], each[2][1], each[3]))
    return [(at_ms, where, grafts) for at_ms, _, where, grafts in moved]


def _in_turn(batches: Sequence[_Batch], at_ms: int, limit_ms: int, way: Way) -> Iterable[_Batch]:
    """The batches in the order in which they are taken from; they are in the order they came."""
    if way in {"oldest", "newest"}:
        return batches if way == "oldest" else batches[::-1]
    over = [batch for batch in batches if batch.dried_ms(at_ms) > limit_ms]
    not_over = [batch for batch in batches if batch.dried_ms(at_ms) <= limit_ms]
    return [*over, *not_over[::-1]] if way == "over" else [*not_over, *over]
