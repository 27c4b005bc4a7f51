"""How long grafts lay with the placers without being wetted: at least and at most.

Which batch of its size a graft was taken from, nobody enters. Taken in the order they came, the longest time
is the shortest that it may have been; taken the newest first, it is the longest. How many were over the limit
is least if whatever is not over it yet goes before it is, and most if whatever is over it goes first.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Literal

from msgspec import Struct

from orroom.case.events import CareGiven
from orroom.case.state import CaseState
from orroom.case.terms import PLACERS_CARE
from orroom.figures.survival import Between


class Drying(Struct, frozen=True):
    """All grafts that were with the placers: how many, the longest drying (ms), how many over the limit."""

    grafts: int
    longest_ms: Between[int]
    over_limit: Between[int]
    share_over_limit: Between[float]


class _Batch(Struct):
    grafts: int
    since_ms: int
    longest_ms: int = 0

    def dried_ms(self, at_ms: int) -> int:
        return max(self.longest_ms, at_ms - self.since_ms)


#: In whose hands: the lane, ``None`` without one; and the size.
_Hands = tuple[str | None, str]

#: Which batch a graft is taken from: the oldest, the newest, one over the limit, or one that soon will be.
Way = Literal["oldest", "newest", "over", "not over"]


def drying(state: CaseState, now_ms: int) -> Drying | None:
    """All drying times against the plan's limit in force; ``None`` if no graft was ever with the placers."""
    limit_ms = state.plan.limits.with_placers_seconds * 1000
    shortest, longest, fewest, most = (
        [*_dried(state, now_ms, limit_ms, way)] for way in ("oldest", "newest", "not over", "over")
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
    )


def _dried(state: CaseState, now_ms: int, limit_ms: int, way: Way) -> Iterator[tuple[int, int]]:
    """Longest times without wetting (ms) and how many grafts had each: as they left, then what lies there.

    Grafts that are said to have left before anybody said that they came are not there when they come.
    """
    with_placers: dict[_Hands, list[_Batch]] = {}
    owed: dict[_Hands, int] = {}
    for at_ms, where, grafts in _moves(state):
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


def _moves(state: CaseState) -> list[tuple[int, _Hands, int]]:
    """When (UTC ms) how many reached whose hands or left them; 0 where they were wetted."""
    moves = [
        (move.at_ms, move.seq, (move.lane, move.size), move.grafts) for move in state.tally.placers_moves
    ]
    moves += [
        (entry.stamp.at_ms, entry.seq, (entry.event.lane, ""), 0)
        for entry in state.standing()
        if isinstance(entry.event, CareGiven) and entry.event.care == PLACERS_CARE
    ]
    moves.sort(key=lambda each: (each[0], each[1], each[2][1], each[3]))
    return [(at_ms, where, grafts) for at_ms, _, where, grafts in moves]


def _in_turn(batches: Sequence[_Batch], at_ms: int, limit_ms: int, way: Way) -> Iterable[_Batch]:
    """The batches in the order in which they are taken from; they are in the order they came."""
    if way in {"oldest", "newest"}:
        return batches if way == "oldest" else batches[::-1]
    over = [batch for batch in batches if batch.dried_ms(at_ms) > limit_ms]
    not_over = [batch for batch in batches if batch.dried_ms(at_ms) <= limit_ms]
    return [*over, *not_over[::-1]] if way == "over" else [*not_over, *over]
