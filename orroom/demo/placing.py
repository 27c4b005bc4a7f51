"""How sites are made and grafts placed on a simulated day; the placement lead enters all of it."""

from typing import Final

from orroom.case import commands as c
from orroom.case.care import since_by_lane_ms
from orroom.case.events import FaultFound
from orroom.case.terms import FAULTS, LANE_LETTERS, PLACERS_CARE, DiscardReason
from orroom.demo.needs import SLIP, Batch, Needs
from orroom.demo.room import MINUTE, Doing, Room

#: Grafts an hour of each of two placers, whose grafts are in no lane, and of a third once all is cut.
TWO_PLACERS: Final = (320, 380)
#: And of each of three with a lane.
THREE_PLACERS: Final = (240, 280)
RESEATED: Final = 0.01
LOST_FROM_PLACERS: Final = 0.004
SITES_AN_HOUR: Final = 1_150
LUNCH: Final = 252  #: minutes after the case was opened
#: A lunch that would leave less than this to place is not taken.
WORTH_A_LUNCH: Final = 150
#: Placing drops sharply near the end: the last quarter takes ever longer, at the very end twice as long.
#: (Tykocinski & Shapiro, in Hair Transplantation, 5th ed. 2010: about 400 grafts an hour and placer.)
SLOW_FROM: Final = 0.75
SLOWEST: Final = 0.5
LOOKED_AT: Final = 25


def placing(room: Room, needs: Needs, first_cut_minutes: float) -> None:
    """Let the surgeon begin with sites, the placers an hour and some minutes after the first cut."""
    table = _Table(room, needs)
    start = first_cut_minutes + room.between(60, 75)
    room.begin(table.sites(), start - 38)
    if room.crew.placers:
        for place, (lane, who) in enumerate(zip(LANE_LETTERS, room.crew.placers, strict=False)):
            room.begin(table.placer_in_lane(lane, who), start + place * 1.5)
        room.begin(table.relief(lane), start + 10)
    else:
        for place in range(2):
            room.begin(table.placer(room.between(*TWO_PLACERS)), start + place * 1.5)
        room.begin(table.third_placer(), start + 10)
    room.begin(table.with_placers(), start)
    room.begin(table.spot_checks(), start + 25)
    room.begin(table.lunch(), LUNCH)


class _Table:
    def __init__(self, room: Room, needs: Needs) -> None:
        self.room, self.needs = room, needs
        self.lead = room.crew.lead
        self.pausing = False
        #: The zone in which each lane placed last.
        self.zones: dict[str | None, str] = {}

    def _enter(self, command: c.Command) -> None:
        self.room.ask(self.lead, "placing", command)

    def sites(self) -> Doing:
        """Sites zone by zone in placing order, a few more than are planned."""
        for zone in self.room.plan.zones:
            left = sum(zone.planned.values())
            left += self.room.rng.randint(SLIP, SLIP + 2) if left else 0
            while left:
                count = min(left, self.room.rng.randint(25, 60))
                count = left if left - count < 10 else count
                yield count / SITES_AN_HOUR * 3600 * self.room.between(0.8, 1.25)
                while self.room.away(self.lead):
                    yield MINUTE
                self._enter(c.MakeSites(zone=zone.key, count=count))
                left -= count
            yield self.room.between(30, 90)

    def placer(self, grafts_an_hour: float, lane: str | None = None) -> Doing:
        """One batch after the other, until every zone has its grafts, or the other lanes have all of them."""
        while not (self.needs.all_placed or (lane and self.needs.all_in_hand and self._others_work(lane))):
            batch = None if self.pausing else self.needs.next_batch()
            if batch is None:
                yield self.room.between(20, 45)
            else:
                yield from self._place(batch, grafts_an_hour, lane)
                yield self.room.between(5, 20)

    def placer_in_lane(self, lane: str, who: str) -> Doing:
        """A placer whose lane is open as long as there is something to place."""
        self._enter(c.OpenLane(lane=lane, by=who))
        yield self.room.between(5, 15)
        yield from self.placer(self.room.between(*THREE_PLACERS), lane)
        self._enter(c.CloseLane(lane=lane))

    def _others_work(self, lane: str) -> bool:
        return bool(since_by_lane_ms(self.room.state.tally).keys() - {lane})

    def third_placer(self) -> Doing:
        """Somebody who helps when all is cut."""
        while not self.needs.all_cut:
            yield 5 * MINUTE
        yield from self.placer(self.room.between(*TWO_PLACERS))

    def relief(self, lane: str) -> Doing:
        """When all is cut, a cutter takes a lane over, with the grafts of the batch that is under way."""
        while not (self.needs.all_cut and lane in since_by_lane_ms(self.room.state.tally)):
            if self.needs.all_placed:
                return
            yield MINUTE
        self._enter(c.HandOverLane(lane=lane, by=self.room.crew.cutters[0]))

    def _place(self, batch: Batch, grafts_an_hour: float, lane: str | None) -> Doing:
        """A batch to the placers and into its zone, at once or in two parts."""
        size, left = batch.size, batch.grafts
        self.needs.in_hand[batch.zone, size] += left
        self._enter(c.IssueGrafts(size=size, count=left, lane=lane))
        yield self.room.between(8, 18)
        in_two = left >= 10 and (self.room.chance(0.15) or LUNCH - 6 <= self.room.minutes < LUNCH)
        part = left // 2 if in_two else left
        while left and not (self.pausing and left < batch.grafts):
            grafts = part if left >= 2 * part else left
            yield grafts * 3600 / grafts_an_hour * self.room.between(0.9, 1.15) / self._ease()
            yield from self._placed(batch.zone, size, grafts, lane)
            left -= grafts
        if left:
            self._enter(c.ReturnGrafts(size=size, count=left, lane=lane))
            self.needs.in_hand[batch.zone, size] -= left

    def _placed(self, zone: str, size: str, grafts: int, lane: str | None) -> Doing:
        """What the lead enters when a placer calls grafts placed."""
        placed = grafts - self._lost(size, grafts, lane)
        if placed:
            self._enter(c.PlaceGrafts(zone=zone, size=size, count=placed, lane=lane))
        self.needs.owed[zone, size] -= placed
        self.needs.in_hand[zone, size] -= grafts
        self.zones[lane] = zone
        popped = sum(self.room.chance(RESEATED) for _ in range(grafts))
        if popped:
            yield self.room.between(4, 10)
            self._enter(c.ReseatGraft(zone=zone, count=popped, lane=lane))

    def _ease(self) -> float:
        share = max(0.0, self.needs.placed_share - SLOW_FROM) / (1 - SLOW_FROM)
        return 1 - share * (1 - SLOWEST)

    def _lost(self, size: str, grafts: int, lane: str | None) -> int:
        """Grafts dried or dropped by the placers: only where one may be spared."""
        if not (self.room.chance(LOST_FROM_PLACERS * grafts) and self.needs.spare(size) > 0):
            return 0
        reason: DiscardReason = "dried" if self.room.chance(0.5) else "dropped"
        self._enter(c.DiscardGrafts(size=size, reason=reason, lane=lane))
        return 1

    def lunch(self) -> Doing:
        """The table's lunch, with nothing left in their hands."""
        if self.needs.owed.total() < WORTH_A_LUNCH:
            return
        self.pausing = True
        while self.needs.in_hand.total():
            yield 10
        yield self.room.between(10, 30)
        minutes = self.room.between(25, 30)
        if self.room.crew.placers:  # the lead's own break says nothing of them
            self._enter(c.PlanBreak(in_minutes=0, minutes=round(minutes), work="placing"))
            yield self.room.between(5, 10)
        self._enter(c.StartBreak())
        yield MINUTE * minutes
        self._enter(c.EndBreak())
        yield MINUTE
        self.pausing = False

    def with_placers(self) -> Doing:
        """The grafts of each lane, or of all, are wetted about when the plan's limit asks for it."""
        limit = max(self.room.plan.limits.with_placers_seconds, 120)
        patience: dict[str | None, float] = {}
        while not self.needs.all_placed:
            for lane, since in since_by_lane_ms(self.room.state.tally).items():
                if self.room.now_ms - since >= limit * 1000 * patience.get(lane, 0.9):
                    self._enter(c.GiveCare(care=PLACERS_CARE, lane=lane))
                    patience[lane] = self.room.rng.triangular(0.7, 1.1, 0.8)
            yield self.room.between(8, 14)

    def spot_checks(self) -> Doing:
        """Placed grafts looked at closely, now those of one lane, now those of another."""
        checks = 0
        while not self.needs.all_placed:
            lanes: list[str | None] = [each for each in self.room.state.tally.lanes if each in self.zones]
            lane = lanes[checks % len(lanes)] if lanes else None
            if not self.room.away(self.lead) and lane in self.zones:
                self._enter(self._check(lane))
                checks += 1
            yield MINUTE * self.room.between(38, 52) / max(1, len(lanes))

    def _check(self, lane: str | None) -> c.CheckSpot:
        """A look at what a lane placed last; with a fault of the list."""
        faulty = self.room.rng.choice((0, 0, 1, 1, 2))
        found = [FaultFound(fault=self.room.rng.choice(FAULTS["placing"]), count=faulty)] if faulty else []
        return c.CheckSpot(
            subject="placing",
            zone=self.zones[lane],
            looked_at=LOOKED_AT,
            faulty=faulty,
            whose=None if lane is None else self.room.state.tally.lanes[lane].by,
            faults=tuple(found) or None,
        )
