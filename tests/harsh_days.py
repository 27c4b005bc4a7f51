"""Simulated days on which much goes otherwise than planned, as real entries, to try the forecast on.

Each day is entered in one of three ways, drawn: everybody their own grafts one by one, a lead a few grafts
for the whole team, or a lead whole batches. Nothing is recorded of what changes, unless the kind says so.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from cases import MINUTE_MS, MORNING_MS, small_plan

from orroom.case import events as e
from orroom.case.plan import Harvest, Person, Plan, Size, Zone

KINDS = (
    "steady",
    "batches",
    "batches, entered late",
    "hours caught up on",
    "learning over a third",
    "learning fast",
    "wandering",
    "shared hands",
    "lunch, not entered",
    "somebody leaves",
    "somebody leaves, entered",
    "somebody joins",
    "two changes",
    "slow end",
)
STEP = 0.25  #: minutes


@dataclass(frozen=True)
class HarshDay:
    """A whole day of placing: its entries in order, how many grafts there are, when the last was entered.

    ``changes`` are the times at which its pace changed for good, ``rests`` breaks that nobody entered, from
    and to. All in UTC ms.
    """

    kind: str
    plan: Plan
    entries: tuple[e.Entry, ...]
    total: int
    begun_ms: int
    finished_ms: int
    changes: tuple[int, ...]
    rests: tuple[tuple[int, int], ...]

    def working_finish_ms(self, now_ms: int) -> int:
        """When the last graft would have been entered without the breaks that were still to come."""
        return self.finished_ms - sum(end - start for start, end in self.rests if start > now_ms)

    def rested_ms(self, start_ms: int, end_ms: int) -> int:
        """How much of a time was a break that nobody entered."""
        return sum(max(0, min(end_ms, last) - max(start_ms, first)) for first, last in self.rests)


@dataclass
class _Twist:
    """What is particular of a day. Changes come at shares of the work; other times are in minutes."""

    wander: float = 0.10
    memory: float = 20.0
    ramp: tuple[str, float, float] = ("", 0.0, 1.0)
    hands: list[tuple[float, int]] = field(default_factory=list)  #: from this share on so many more or fewer
    tail: tuple[float, float] = (1.0, 1.0)
    rest: tuple[float, float] = (math.inf, 0.0)  #: everybody, from when, minutes
    away: list[tuple[float, float]] = field(default_factory=list)  #: one hand
    late: float = 0.0  #: a batch is entered up to so many minutes late
    quiet: list[tuple[float, float]] = field(default_factory=list)  #: nothing is entered, and then all of it
    entered: bool = False


def harsh_day(kind: str, seed: int) -> HarshDay:
    """A day of this kind: two to five hands of unlike pace."""
    chance = random.Random(f"harsh {kind} {seed}")
    total, hands = chance.randint(1000, 2800), chance.randint(2, 5)
    paces = [chance.uniform(2.2, 5.0) * math.exp(chance.gauss(0, 0.15)) for _ in range(hands)]
    expected = total / sum(paces)
    twist = _twist(kind, expected, hands, chance)
    changed: dict[str, float] = {}
    marks = sorted(_marks(total, paces, twist, chance, changed))
    alone = ("somebody leaves", "somebody leaves, entered", "somebody joins", "two changes", "shared hands")
    way = "batches" if kind.startswith("batches") else chance.choice(("own", "few", "batches"))
    way = chance.choice(("few", "batches")) if way == "own" and kind in alone else way
    entered = list(_entered(marks, way, twist, chance))
    if twist.entered:
        number = hands
        for share, more in twist.hands:
            number += more
            at = changed[f"hands {share}"] + 0.1
            entered.append((at, "CD", e.TeamChanged(work="placing", people=number)))
    entered.sort(key=lambda each: each[0])
    staff = tuple(Person(initials=f"P{place}", role="placing") for place in range(hands))
    plan = small_plan(
        sizes=(Size(key="2", label="twos", hairs=2),),
        zones=(Zone(key="MID", label="mid-scalp", area_cm2=80, targets={"2": total}),),
        harvests=(Harvest(key="A", label="strip"),),
        staff=staff,
        donor=None,
    )
    before: list[tuple[float, str, e.AnyEvent]] = [
        (-2.0, "EF", e.CaseOpened(plan=plan, utc_offset_minutes=0)),
        (-1.0, "AB", e.GraftsCut(harvest="A", size="2", count=total)),
    ]
    stamped = tuple(
        e.Entry(seq, e.Stamp(MORNING_MS + round(at * MINUTE_MS), "placing-1", seq, who), event)
        for seq, (at, who, event) in enumerate([*before, *entered], 1)
    )
    start, long = twist.rest
    rests = [] if start == math.inf or twist.entered else [(start, start + long)]
    return HarshDay(
        kind=kind,
        plan=plan,
        entries=stamped,
        total=total,
        begun_ms=MORNING_MS,
        finished_ms=stamped[-1].stamp.at_ms,
        changes=tuple(sorted(MORNING_MS + round(at * MINUTE_MS) for at in changed.values())),
        rests=tuple((_ms(first), _ms(last)) for first, last in rests),
    )


def _ms(minutes: float) -> int:
    return MORNING_MS + round(minutes * MINUTE_MS)


def _twist(kind: str, expected: float, hands: int, chance: random.Random) -> _Twist:
    match kind:
        case "batches, entered late":
            return _Twist(late=4.0)
        case "hours caught up on":
            starts = sorted(chance.uniform(0.1, 0.8) * expected for _ in range(chance.randint(1, 2)))
            return _Twist(quiet=[(start, chance.uniform(20, 45)) for start in starts])
        case "learning over a third":
            return _Twist(ramp=("straight", chance.uniform(0.3, 0.45), chance.uniform(0.4, 0.65)))
        case "learning fast":
            return _Twist(ramp=("curved", chance.uniform(0.06, 0.2), chance.uniform(0.4, 0.7)))
        case "wandering":
            return _Twist(wander=0.30, memory=60.0)
        case "shared hands":
            spells, at = [], chance.uniform(10, 40)
            while at < 2 * expected:
                spells.append((at, chance.uniform(10, 25)))
                at += spells[-1][1] + chance.uniform(25, 70)
            return _Twist(away=spells)
        case "lunch, not entered":
            return _Twist(rest=(expected * chance.uniform(0.15, 0.7), chance.uniform(20, 45)))
        case "somebody leaves":
            return _Twist(hands=[(chance.uniform(0.1, 0.7), -1)])
        case "somebody leaves, entered":
            return _Twist(hands=[(chance.uniform(0.1, 0.7), -1)], entered=True)
        case "somebody joins":
            return _Twist(hands=[(chance.uniform(0.1, 0.6), 1)])
        case "two changes":
            first, second = chance.uniform(0.1, 0.4), chance.uniform(0.5, 0.8)
            return _Twist(hands=chance.choice(([(first, -1), (second, 1)], [(first, 1), (second, -1)])))
        case "slow end":
            return _Twist(tail=(chance.uniform(0.75, 0.85), chance.uniform(0.5, 0.7)))
    return _Twist()


def _marks(
    total: int, paces: Sequence[float], twist: _Twist, chance: random.Random, changed: dict[str, float]
) -> Iterator[tuple[float, int]]:
    """When each graft was placed and by whom; ``changed`` learns when the pace changed for good."""
    kept = math.exp(-STEP / twist.memory)
    fresh = math.sqrt(1 - kept * kept) * twist.wander
    own = [chance.gauss(0, twist.wander) for _ in range(len(paces) + 1)]
    shared = chance.gauss(0, twist.wander)
    all_paces = [*paces, sum(paces) / len(paces)]  # who joins is as fast as the mean
    begun = [0.0] * len(all_paces)
    how, over, first = twist.ramp
    done, at = 0, 0.0
    while done < total:
        share = done / total
        shared = kept * shared + chance.gauss(0, fresh)
        number = len(paces)
        for since, more in twist.hands:
            if share >= since:
                number += more
                changed.setdefault(f"hands {since}", at)
        if share >= twist.tail[0]:
            changed.setdefault("tail", at)
        team = twist.tail[1] if share >= twist.tail[0] else 1.0
        if how == "straight":
            team *= min(1.0, first + (1 - first) * share / over)
        elif how == "curved":
            team *= 1 - (1 - first) * math.exp(-share / over)
        resting = twist.rest[0] <= at < sum(twist.rest)
        away = any(start <= at < start + long for start, long in twist.away)
        for who, pace in enumerate(all_paces):
            own[who] = kept * own[who] + chance.gauss(0, fresh)
            if resting or who >= number or (away and who == 0):
                continue
            factor = math.exp((shared + own[who]) / math.sqrt(2) - twist.wander**2 / 2)
            begun[who] += pace * team * factor * STEP * chance.gammavariate(4, 1 / 4)
            whole = min(int(begun[who]), total - done)
            begun[who] -= int(begun[who])
            for place in sorted(chance.random() for _ in range(whole)):
                yield at + STEP * place, who
            done += whole
        at += STEP


def _entered(
    marks: Sequence[tuple[float, int]], way: str, twist: _Twist, chance: random.Random
) -> Iterator[tuple[float, str, e.AnyEvent]]:
    def batch() -> int:
        return {"own": 1, "few": chance.randint(1, 6), "batches": chance.randint(15, 40)}[way]

    waiting, full, entered_at = 0, batch(), 0.0
    for place, (at, who) in enumerate(marks):
        waiting += 1
        last = place == len(marks) - 1
        quiet = any(start <= at < start + long for start, long in twist.quiet)
        if (waiting >= full and not quiet) or last:
            entered_at = max(entered_at, at + chance.uniform(0.25, 1) * twist.late)
            drawn = (e.Drawn(harvest="A", place="dish", count=waiting),)
            by = f"P{who}" if way == "own" else "CD"
            yield entered_at, by, e.GraftsPlaced(zone="MID", size="2", count=waiting, drawn=drawn)
            waiting, full = 0, batch()
