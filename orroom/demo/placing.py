"""How sites are made and grafts placed on a simulated day; the placement lead enters all of it."""

from typing import Final

from orroom.case import commands as c
from orroom.case.care import with_placers_since_ms
from orroom.case.terms import PLACERS_CARE, DiscardReason
from orroom.demo.needs import SLIP, Batch, Needs
from orroom.demo.room import MINUTE, Doing, Room

PLACERS: Final = 2  #: and a third once all is cut
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


def placing(room: Room, needs: Needs, first_cut_minutes: float) -> None:
    """Let the surgeon begin with sites, the placers an hour and some minutes after the first cut."""
    table = _Table(room, needs)
    start = first_cut_minutes + room.between(60, 75)
    room.begin(table.sites(), start - 38)
    for place in range(PLACERS):
        room.begin(table.placer(), start + place * 1.5)
    room.begin(table.third_placer(), start + 10)
    room.begin(table.with_placers(), start)
    room.begin(table.spot_checks(), start + 25)
    room.begin(table.lunch(), LUNCH)


class _Table:
    def __init__(self, room: Room, needs: Needs) -> None:
        self.room, self.needs = room, needs
        self.lead = room.crew.lead
        self.pausing = False
        self.zone = room.plan.zones[0].key

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
                self.room.ask(self.lead, "placing", c.MakeSites(zone=zone.key, count=count))
                left -= count
            yield self.room.between(30, 90)

    def placer(self) -> Doing:
        """One batch after the other, until every zone has its grafts."""
        grafts_an_hour = self.room.between(320, 380)
        while not self.needs.all_placed:
            batch = None if self.pausing else self.needs.next_batch()
            if batch is None:
                yield self.room.between(20, 45)
            else:
                yield from self._place(batch, grafts_an_hour)
                yield self.room.between(5, 20)

    def third_placer(self) -> Doing:
        """Somebody who helps when all is cut."""
        while not self.needs.all_cut:
            yield 5 * MINUTE
        yield from self.placer()

    def _place(self, batch: Batch, grafts_an_hour: float) -> Doing:
        """A batch to the placers and into its zone, at once or in two parts."""
        size, left = batch.size, batch.grafts
        self.needs.in_hand[batch.zone, size] += left
        self.room.ask(self.lead, "placing", c.IssueGrafts(size=size, count=left))
        yield self.room.between(8, 18)
        in_two = left >= 10 and (self.room.chance(0.15) or LUNCH - 4 <= self.room.minutes < LUNCH)
        part = left // 2 if in_two else left
        while left and not (self.pausing and left < batch.grafts):
            grafts = part if left >= 2 * part else left
            yield grafts * 3600 / grafts_an_hour * self.room.between(0.9, 1.15) / self._ease()
            yield from self._placed(batch.zone, size, grafts)
            left -= grafts
        if left:
            self.room.ask(self.lead, "placing", c.ReturnGrafts(size=size, count=left))
            self.needs.in_hand[batch.zone, size] -= left

    def _placed(self, zone: str, size: str, grafts: int) -> Doing:
        """What the lead enters when a placer calls grafts placed."""
        placed = grafts - self._lost(size, grafts)
        if placed:
            self.room.ask(self.lead, "placing", c.PlaceGrafts(zone=zone, size=size, count=placed))
        self.needs.owed[zone, size] -= placed
        self.needs.in_hand[zone, size] -= grafts
        self.zone = zone
        popped = sum(self.room.chance(RESEATED) for _ in range(grafts))
        if popped:
            yield self.room.between(4, 10)
            self.room.ask(self.lead, "placing", c.ReseatGraft(zone=zone, count=popped))

    def _ease(self) -> float:
        share = max(0.0, self.needs.placed_share - SLOW_FROM) / (1 - SLOW_FROM)
        return 1 - share * (1 - SLOWEST)

    def _lost(self, size: str, grafts: int) -> int:
        """Grafts dried or dropped by the placers: only where one may be spared."""
        if not (self.room.chance(LOST_FROM_PLACERS * grafts) and self.needs.spare(size) > 0):
            return 0
        reason: DiscardReason = "dried" if self.room.chance(0.5) else "dropped"
        self.room.ask(self.lead, "placing", c.DiscardGrafts(size=size, reason=reason))
        return 1

    def lunch(self) -> Doing:
        """The table's lunch, with nothing left in their hands."""
        if self.needs.owed.total() < WORTH_A_LUNCH:
            return
        self.pausing = True
        while self.needs.in_hand.total():
            yield 10
        yield self.room.between(10, 30)
        self.room.ask(self.lead, "placing", c.StartBreak())
        yield MINUTE * self.room.between(25, 30)
        self.room.ask(self.lead, "placing", c.EndBreak())
        yield MINUTE
        self.pausing = False

    def with_placers(self) -> Doing:
        """The grafts with the placers are wetted about when the plan's limit asks for it."""
        limit = max(self.room.plan.limits.with_placers_seconds, 120)
        patience = 0.9
        while not self.needs.all_placed:
            since = with_placers_since_ms(self.room.state.tally)
            if since is not None and self.room.now_ms - since >= limit * 1000 * patience:
                self.room.ask(self.lead, "placing", c.GiveCare(care=PLACERS_CARE))
                patience = self.room.rng.triangular(0.75, 1.3, 0.9)
            yield self.room.between(8, 14)

    def spot_checks(self) -> Doing:
        """Placed grafts looked at closely, about every three quarters of an hour."""
        while not self.needs.all_placed:
            if not self.room.away(self.lead) and self.room.state.tally.placed:
                faulty = self.room.rng.choice((0, 0, 1, 1, 2))
                fault = "sits too deep" if faulty else None
                check = c.CheckSpot(
                    subject="placing", zone=self.zone, looked_at=25, faulty=faulty, fault=fault
                )
                self.room.ask(self.lead, "placing", check)
            yield MINUTE * self.room.between(38, 52)
