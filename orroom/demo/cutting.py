"""How the cutters of a simulated day work: segment by segment, one tap a graft, with slips and breaks."""

from typing import Final

from orroom.case import commands as c
from orroom.case.events import FaultFound
from orroom.case.state import HarvestClock
from orroom.case.terms import FAULTS, DiscardReason
from orroom.demo.needs import Needs, Segment
from orroom.demo.room import MINUTE, Doing, Room

DISCARDED: Final = 0.012
TAKEN_BACK: Final = 0.004
#: The first piece reaches the cutters this long after its harvest left the body.
HANDED_OVER_MS: Final = 8 * 60_000
#: From here on it is time for lunch, in minutes after the case was opened.
NOON: Final = 235
LOOKED_AT: Final = 20
REASONS: Final[tuple[DiscardReason, ...]] = ("transected", "transected", "crushed", "empty", "dropped")


def cutting(room: Room, needs: Needs) -> None:
    """Let all cutters begin, a little after one another."""
    for place in range(len(room.crew.cutters)):
        room.begin(_Cutter(room, needs, place).day(), 20 + place * 0.7)


class _Cutter:
    def __init__(self, room: Room, needs: Needs, place: int) -> None:
        self.room, self.needs, self.place = room, needs, place
        self.who = room.crew.cutters[place]
        self.last = place == len(room.crew.cutters) - 1
        self.grafts_an_hour = room.between(225, 275)
        self.fresh_at = self.break_at = 0.0
        self.had_lunch = False

    def day(self) -> Doing:
        """Cuts until no segment is left, then divides what is still to be divided."""
        while self.needs.segments:
            if not self._arrived(self.needs.segments[0].harvest):
                yield MINUTE / 2
                continue
            yield from self._segment(self.needs.segments.popleft())
            yield self.room.between(30, 75)
            yield from self._between_segments()
        while self.needs.divisions:
            yield self.room.between(20, 60)
            self._divide()

    def _arrived(self, harvest: str) -> bool:
        started = self.room.state.tally.harvests.get(harvest, HarvestClock()).started_at_ms
        return started is not None and self.room.now_ms >= started + HANDED_OVER_MS

    def _segment(self, segment: Segment) -> Doing:
        if not self.break_at:
            self._rested()
        for size in segment.sizes:
            yield self._seconds()
            if self.room.chance(DISCARDED):
                reason = self.room.rng.choice(REASONS)
                discard = c.DiscardGrafts(size=size, reason=reason, harvest=segment.harvest)
                self.room.ask(self.who, "cutting", discard)
                yield self._seconds()
            if self.room.chance(TAKEN_BACK):
                yield from self._mistaken(segment.harvest, size)
            self.room.ask(self.who, "cutting", c.CutGrafts(harvest=segment.harvest, size=size))
            self.needs.uncut[size] -= 1
            if self.room.minutes >= self.break_at and not self.needs.all_cut:
                yield from self._break()
        yield self.room.between(5, 15)
        if segment.entered:
            self.room.ask(self.who, "cutting", c.FinishSegment(harvest=segment.harvest))

    def _seconds(self) -> float:
        """Until the next graft: quicker or slower, slow at first, now and then a pause for blade or back."""
        pace = 3600 / self.grafts_an_hour * self.room.rng.triangular(0.4, 1.8, 0.8)
        if self.room.minutes < self.fresh_at + 10:
            pace *= 1.25
        return pace + (self.room.between(15, 50) if self.room.chance(1 / 40) else 0)

    def _mistaken(self, harvest: str, size: str) -> Doing:
        """A neighbouring size tapped, and undone at once."""
        sizes = list(self.room.plan.size_by_key)
        place = sizes.index(size)
        neighbour = sizes[place - 1] if place else sizes[min(1, len(sizes) - 1)]
        self.room.ask(self.who, "cutting", c.CutGrafts(harvest=harvest, size=neighbour))
        yield self.room.between(1.5, 5)
        self.room.ask(self.who, "cutting", c.TakeBack(role="cutting"))
        yield self.room.between(1, 3)

    def _break(self) -> Doing:
        lunch = self.room.minutes >= NOON and not self.had_lunch
        self.had_lunch = self.had_lunch or lunch
        yield self.room.between(5, 20)
        self.room.ask(self.who, "cutting", c.StartBreak())
        yield MINUTE * (self.room.between(26, 33) if lunch else self.room.between(9, 13))
        self.room.ask(self.who, "cutting", c.EndBreak())
        self._rested()

    def _rested(self) -> None:
        """Slow for some minutes from now; the next break in an hour and a half, but lunch comes first."""
        self.fresh_at = self.room.minutes
        self.break_at = self.fresh_at + self.room.between(85, 105) + 12 * self.place
        lunch_at = NOON + 20 * self.place
        if not self.had_lunch and self.break_at > lunch_at - 40:
            self.break_at = lunch_at

    def _between_segments(self) -> Doing:
        taken = self.needs.segments_in_all - len(self.needs.segments)
        half = taken * 2 >= self.needs.segments_in_all
        if half and self.needs.segments and self.last and self.who != self.room.crew.relief:
            self.room.ask(self.room.crew.relief, "cutting", c.HandOver(left=self.who))
            self.who = self.room.crew.relief
            yield self.room.between(60, 120)
        if half and self._divide():
            yield self.room.between(20, 40)
        if taken % 3 == 0 and taken < self.needs.segments_in_all:
            self.room.ask(self.who, "cutting", self._check())
            yield self.room.between(20, 40)

    def _check(self) -> c.CheckSpot:
        """A look at what another cutter cut; with a fault of the list."""
        cut = {who for who, what, _ in self.room.state.tally.done if what == "cut"}
        others = sorted(cut - {self.who})
        faulty = self.room.rng.choice((0, 0, 1, 2))
        fault = self.room.rng.choice(FAULTS["cutting"])
        return c.CheckSpot(
            subject="cutting",
            looked_at=LOOKED_AT,
            faulty=faulty,
            whose=self.room.rng.choice(others) if others else None,
            faults=(FaultFound(fault=fault, count=faulty),) if faulty else None,
        )

    def _divide(self) -> bool:
        """Make one of the divisions still to be made, if a dish allows it."""
        for division in self.needs.divisions:
            size, into, grafts = division
            if self.needs.on_hand(size) >= grafts:
                self.room.ask(self.who, "cutting", c.DivideGrafts(size=size, into=into, count=grafts))
                self.needs.divisions.remove(division)
                return True
        return False
