"""Simulated cutting of a strip of which nobody knows what it will give, as real entries.

There are 6 to 40 segments, more or less alike, and one to four people cut. In the end they help each other
with the segments in hand, or each finishes their own.
"""

from __future__ import annotations

import math
import random
from typing import Final

from cases import MINUTE_MS, MORNING_MS, small_plan
from harsh_days import STEP, HarshDay

from orroom.case import events as e
from orroom.case.plan import Harvest, Size, Zone

HELPING: Final = "cutting, helping each other"
ALONE: Final = "cutting, each their own"


def strip_day(kind: str, seed: int) -> HarshDay:
    """A day of cutting, steady but for a little wandering; entered graft by graft, or by a few."""
    chance = random.Random(f"strip {kind} {seed}")
    segments, spread = chance.randint(6, 40), chance.uniform(0.05, 0.25)
    mean = chance.randint(900, 2600) / segments
    strip = [
        max(5, round(mean * math.exp(chance.gauss(-spread * spread / 2, spread)))) for _ in range(segments)
    ]
    people = [f"P{place}" for place in range(chance.randint(1, 4))]
    paces = {who: chance.uniform(2.5, 5.0) for who in people}
    wander = dict.fromkeys(people, 0.0)
    waiting, in_hand = list(strip[::-1]), dict[str, int]()
    begun, unsaid = dict.fromkeys(people, 0.0), dict.fromkeys(people, 0)
    few = chance.choice((1, 3, 6))
    events: list[tuple[float, str, e.AnyEvent]] = []
    at, finished = 0.0, 0
    while waiting or in_hand:
        for who in people:
            wander[who] = 0.99 * wander[who] + chance.gauss(0, 0.014)
            if who not in in_hand and waiting:
                in_hand[who] = waiting.pop()
            whose = who
            if who not in in_hand:
                if kind == ALONE or not in_hand:
                    continue
                whose = max(in_hand, key=lambda each: in_hand[each])
            begun[who] += paces[who] * math.exp(wander[who]) * STEP * chance.gammavariate(4, 1 / 4)
            done = min(int(begun[who]), in_hand[whose])
            begun[who] -= int(begun[who])
            unsaid[whose] += done
            in_hand[whose] -= done
            if unsaid[whose] and (unsaid[whose] >= few or not in_hand[whose]):
                events.append((at, whose, e.GraftsCut(harvest="A", size="2", count=unsaid[whose])))
                unsaid[whose] = 0
            if not in_hand[whose]:
                del in_hand[whose]
                finished += 1
                events.append((at, whose, e.SegmentCut(harvest="A", segment=finished)))
        at += STEP
    total = sum(strip)
    plan = small_plan(
        sizes=(Size(key="2", label="twos", hairs=2),),
        zones=(
            Zone(
                key="MID",
                label="mid-scalp",
                area_cm2=80,
                targets={"2": round(total * chance.uniform(0.85, 1.15))},
            ),
        ),
        harvests=(Harvest(key="A", label="strip", segments=segments),),
        donor=None,
    )
    opened = (-2.0, "EF", e.CaseOpened(plan=plan, utc_offset_minutes=0))
    entries = tuple(
        e.Entry(seq, e.Stamp(MORNING_MS + round(when * MINUTE_MS), "cutting-1", seq, who), event)
        for seq, (when, who, event) in enumerate([opened, *events], 1)
    )
    return HarshDay(kind, plan, entries, total, MORNING_MS, entries[-1].stamp.at_ms, (), ())
