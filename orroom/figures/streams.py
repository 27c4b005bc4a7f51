"""The grafts of each size as they came into the dishes and left them, and of which harvests they may be.

The harvest of a graft that was cut is known; which harvest one that left was of, the record does not say.
Pieces of
divided grafts, and grafts that only a count found, may be of any harvest that their size had by then.
"""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from typing import NamedTuple

from msgspec import Struct, field

from orroom.case import events as e
from orroom.case.earlier import KeptBefore


class Came(NamedTuple):
    """Grafts that came, and the oldest and the newest harvest that they may be of; 0 is the oldest of all."""

    oldest: int
    newest: int
    grafts: int


class Left(NamedTuple):
    """Grafts that left (UTC ms): placed, or else lost to this size: discarded, divided, not found."""

    at_ms: int
    grafts: int
    placed: bool


class Stream(Struct):
    """The grafts of one size: what left, in order of time; what came ``before`` each, and after the last.

    ``zones``: into which zone each that left was placed; empty for those that were not placed.
    """

    left: list[Left] = field(default_factory=list)
    zones: list[str] = field(default_factory=list)
    before: list[list[Came]] = field(default_factory=lambda: [[]])
    may_be: set[int] = field(default_factory=set)

    def come(self, harvests: Collection[int], grafts: int) -> None:
        """Grafts come that are of one of these harvests."""
        if grafts > 0:
            now, oldest, newest = self.before[-1], min(harvests), max(harvests)
            if now and now[-1][:2] == (oldest, newest):
                grafts += now.pop().grafts
            now.append(Came(oldest, newest, grafts))
            self.may_be.update(harvests)

    def leave(self, at_ms: int, grafts: int, *, placed: bool, zone: str = "") -> None:
        """Grafts leave."""
        if grafts > 0:
            self.left.append(Left(at_ms, grafts, placed))
            self.zones.append(zone)
            self.before.append([])

    def into_zone(self, zone: str, now_ms: int) -> "Stream":
        """The same with what went into this zone as all that is placed; all else, what waits too, is lost."""
        found = Stream(zones=[*self.zones], before=[*self.before], may_be=self.may_be)
        found.left = [
            left._replace(placed=left.placed and into == zone)
            for left, into in zip(self.left, self.zones, strict=True)
        ]
        came = sum(each.grafts for before in self.before for each in before)
        found.leave(now_ms, came - sum(left.grafts for left in self.left), placed=False)
        return found

    def fill_up(self, harvests: Collection[int]) -> None:
        """Where more left than had come, what came later was there before; the rest was of ``harvests``."""
        there, short = 0, False
        for left, came in zip(self.left, self.before, strict=False):
            there += sum(each.grafts for each in came) - left.grafts
            short = short or there < 0
        if short:
            every = [each for came in self.before for each in came]
            self.before = [every, *([] for _ in self.left)]
            missing = sum(left.grafts for left in self.left) - sum(came.grafts for came in every)
            if missing > 0:
                every.append(Came(min(harvests), max(harvests), missing))
                self.may_be |= {*harvests}


def streams(entries: Sequence[e.Entry], numbers: Mapping[str, int]) -> dict[str, Stream]:
    """A stream for each size, by its key; ``numbers`` are those of the harvests."""
    found: defaultdict[str, Stream] = defaultdict(Stream)
    entered: defaultdict[str, set[int]] = defaultdict(set)
    moved = {each.event.entry: each.event.zone for each in entries if isinstance(each.event, e.PlacingMoved)}

    def leave(size: str, at_ms: int, drawn: Sequence[e.Drawn], zone: str = "") -> None:
        count = sum([part.count for part in drawn])
        found[size].leave(at_ms, count, placed=bool(zone), zone=zone)
        for part in drawn:
            entered[size].add(numbers[part.harvest])

    kept: Mapping[str, KeptBefore] = {}
    for entry in sorted(entries, key=lambda each: each.stamp.at_ms):
        at_ms = entry.stamp.at_ms
        match entry.event:
            case e.CaseOpened(plan=plan) | e.PlanRevised(plan=plan) if plan.kept and not kept:
                kept = plan.kept
                for each in kept.values():
                    for kept_size, count in each.grafts.items():
                        found[kept_size].come({numbers[each.key]}, count)
            case e.GraftsCut(harvest=harvest, size=size, count=count):
                found[size].come({numbers[harvest]}, count)
            case e.DishCounted(harvest=harvest, size=size, tallied=tallied, found=counted):
                entered[size].add(numbers[harvest])
                found[size].leave(at_ms, tallied - counted, placed=False)
                found[size].come({numbers[harvest], *found[size].may_be}, counted - tallied)
            case e.GraftsDiscarded(size=size, harvest=None, drawn=drawn):
                leave(size, at_ms, drawn)
            case e.GraftsDivided(size=size, into=into, drawn=drawn):
                leave(size, at_ms, drawn)
                harvests = found[size].may_be or _cut(found) or entered[size]
                for piece in into:
                    found[piece].come(set(harvests), sum(part.count for part in drawn))
            case e.GraftsPlaced(zone=zone, size=size, drawn=drawn):
                leave(size, at_ms, drawn, moved.get(entry.seq, zone))
            case e.FateGiven(size=size, drawn=drawn, into_zone=str(zone)):
                leave(size, at_ms, drawn, zone)
    for size, stream in found.items():
        stream.fill_up(_cut(found) or entered[size])
    return {size: stream for size, stream in found.items() if stream.may_be}


def _cut(found: Mapping[str, Stream]) -> set[int]:
    """The harvests of which any size has come so far."""
    return {harvest for stream in found.values() for harvest in stream.may_be}
