"""Simulated work of a team, seven kinds of it, as real entries, to try the forecast of the finish on.

An eighth kind cuts a strip of which nobody knows what it will give: ``SEGMENTS``.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator
from dataclasses import dataclass

from cases import MINUTE_MS, MORNING_MS, small_plan

from orroom.case import events as e
from orroom.case.plan import Harvest, Plan, Size, Zone

KINDS = (
    "steady",
    "slowing at the end",
    "lunch",
    "a person leaves",
    "batches",
    "wandering pace",
    "slow start",
)
SEGMENTS = "cutting by segments"
PEOPLE = ("AB", "CD", "EF")
STEP = 0.25  #: minutes
GRAFTS_A_MINUTE = 3.5  #: of one person; some 200 an hour


@dataclass(frozen=True)
class Day:
    """A whole day of work: its entries in order, how many grafts there are, when the last was done.

    ``changed_ms`` is when its pace had changed, ``None`` if it never does before its end.
    """

    kind: str
    plan: Plan
    entries: tuple[e.Entry, ...]
    total: int
    begun_ms: int
    finished_ms: int
    changed_ms: int | None


def day(kind: str, seed: int) -> Day:
    """A day of this kind: three people of unlike pace, each day and minute other than the next."""
    chance = random.Random(f"{kind} {seed}")
    total = chance.randint(1200, 3000)
    strip = _strip(total, chance) if kind == SEGMENTS else []
    total = sum(strip) or total
    paces = {who: GRAFTS_A_MINUTE * math.exp(chance.gauss(0, 0.15)) for who in PEOPLE}
    expected = total / sum(paces.values())
    twist = _twist(kind, expected, chance)
    marks = sorted(_marks(total, paces, twist, chance))
    told: list[tuple[float, str, e.AnyEvent]] = []
    if kind == "batches":
        told.append((-0.2, "CD", e.TeamChanged(work="placing", people=3)))
        drawn = (e.Drawn(harvest="A", place="dish", count=total),)
        told.append((-1.0, "AB", e.GraftsCut(harvest="A", size="2", count=total)))
        waiting, batch = 0, chance.randint(20, 50)
        for at, _ in marks:
            waiting += 1
            if waiting == batch or at == marks[-1][0]:
                placed = e.GraftsPlaced(zone="MID", size="2", count=waiting, drawn=drawn)
                told.append((at, "CD", placed))
                waiting, batch = 0, chance.randint(20, 50)
    else:
        told += [(at, who, e.GraftsCut(harvest="A", size="2", count=1)) for at, who in marks]
    if strip:
        told += _segments(strip, marks)
    told += twist.told
    told.sort(key=lambda each: each[0])
    plan = small_plan(
        sizes=(Size(key="2", label="twos", hairs=2),),
        zones=(Zone(key="MID", label="mid-scalp", area_cm2=80, targets={"2": total}),),
        harvests=(Harvest(key="A", label="strip", segments=len(strip) or None),),
        donor=None,
    )
    entries = [(-2.0, "EF", e.CaseOpened(plan=plan, utc_offset_minutes=0)), *told]
    stamped = tuple(
        e.Entry(seq, e.Stamp(MORNING_MS + round(at * MINUTE_MS), "cutting-1", seq, who), event)
        for seq, (at, who, event) in enumerate(entries, 1)
    )
    changed = None if twist.changed is None else MORNING_MS + round(twist.changed * MINUTE_MS)
    finished = MORNING_MS + round(marks[-1][0] * MINUTE_MS)
    return Day(kind, plan, stamped, total, MORNING_MS, finished, changed)


def _strip(total: int, chance: random.Random) -> list[int]:
    """What each of 12 segments gives: unlike by 18 %."""
    return [round(total / 12 * math.exp(chance.gauss(-0.0159, 0.178))) for _ in range(12)]


def _segments(strip: list[int], marks: list[tuple[float, str]]) -> Iterator[tuple[float, str, e.AnyEvent]]:
    """When each segment is finished. Who has none left to take helps with those in hand."""
    left = list(strip[::-1])
    in_hand: dict[str, int] = {}
    finished = 0
    for at, who in marks:
        if who not in in_hand and left:
            in_hand[who] = left.pop()
        owner = who if who in in_hand else max(in_hand, key=lambda each: in_hand[each])
        in_hand[owner] -= 1
        if not in_hand[owner]:
            del in_hand[owner]
            finished += 1
            yield at, owner, e.SegmentCut(harvest="A", segment=finished)


@dataclass(frozen=True)
class _Twist:
    """What is particular of a day. Times are minutes from its beginning."""

    wander: float = 0.10
    memory: float = 20.0
    rest: tuple[float, float] = (math.inf, 0.0)
    gone: tuple[float, str] = (math.inf, "")
    tail: tuple[float, float] = (0.0, 1.0)
    ramp: tuple[float, float] = (0.0, 1.0)
    told: tuple[tuple[float, str, e.AnyEvent], ...] = ()
    changed: float | None = None


def _twist(kind: str, expected: float, chance: random.Random) -> _Twist:
    match kind:
        case "slowing at the end":
            return _Twist(tail=(chance.uniform(0.15, 0.25), chance.uniform(0.5, 0.7)))
        case "lunch":
            start, long = expected * chance.uniform(0.15, 0.6), chance.choice((20.0, 30.0, 30.0, 45.0))
            told: list[tuple[float, str, e.AnyEvent]] = []
            if chance.random() < 0.5:  # half of the teams say beforehand when they will rest
                at = MORNING_MS + round(start * MINUTE_MS)
                told.append((-1.0, "EF", e.BreakPlanned(starts_at_ms=at, minutes=long)))
            told += [(start, who, e.BreakStarted()) for who in PEOPLE]
            told += [(start + long, who, e.BreakEnded()) for who in PEOPLE]
            return _Twist(rest=(start, start + long), told=tuple(told), changed=start + long)
        case "a person leaves":
            at, who = expected * chance.uniform(0.1, 0.6), chance.choice(PEOPLE)
            return _Twist(gone=(at, who), told=((at + 0.1, who, e.StationLeft()),), changed=at + 0.1)
        case "wandering pace":
            return _Twist(wander=0.30, memory=60.0)
        case "slow start":
            ramp = chance.uniform(20, 40)
            return _Twist(ramp=(ramp, chance.uniform(0.4, 0.6)), changed=ramp / 2)
    return _Twist()


def _marks(
    total: int, paces: dict[str, float], twist: _Twist, chance: random.Random
) -> Iterator[tuple[float, str]]:
    """When each graft was done and by whom. Half of what a pace wanders by is the whole team's."""
    kept = math.exp(-STEP / twist.memory)
    fresh = math.sqrt(1 - kept * kept) * twist.wander
    own = {who: chance.gauss(0, twist.wander) for who in paces}
    shared = chance.gauss(0, twist.wander)
    begun = dict.fromkeys(paces, 0.0)
    done, at = 0, 0.0
    while done < total:
        shared = kept * shared + chance.gauss(0, fresh)
        for who, pace in paces.items():
            own[who] = kept * own[who] + chance.gauss(0, fresh)
            if twist.rest[0] <= at < twist.rest[1] or (who == twist.gone[1] and at >= twist.gone[0]):
                continue
            factor = math.exp((shared + own[who]) / math.sqrt(2) - twist.wander**2 / 2)
            if done >= total * (1 - twist.tail[0]):
                factor *= twist.tail[1]
            if at < twist.ramp[0]:
                factor *= twist.ramp[1] + (1 - twist.ramp[1]) * at / twist.ramp[0]
            begun[who] += pace * factor * STEP * chance.gammavariate(4, 1 / 4)
            whole = int(begun[who])
            begun[who] -= whole
            for place in sorted(chance.random() for _ in range(min(whole, total - done))):
                yield at + STEP * place, who
            done += min(whole, total - done)
        at += STEP
