"""What following the line of the flow would change: ``python -m tests.bench.following [--days 12]``.

Days of the demo's team are simulated as they are, with the wanted size cut first of the segment in hand, and
with the suggested divisions made too (threes into 1+2, fours into 2+2, of which 5 % more are cut on all
days). The head technician looks at the line every five minutes. Per day: minutes
at which a size was owed to a zone in reach and fewer than 15 waited, mean waiting by size, the finish.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from pathlib import Path
from statistics import mean
from typing import Any

sys.path.insert(0, str(Path(__file__).parent.parent))

from msgspec.structs import replace

from orroom.case import commands as c
from orroom.demo import cutting, workday
from orroom.demo.needs import Needs
from orroom.demo.room import MINUTE, Doing, Room
from orroom.demo.start import demo_plan
from orroom.figures.counts import by_size, by_zone
from orroom.figures.flow.found import SOON
from orroom.figures.pace.rest_of_day import foretold

#: Fewer than the smallest batch that the simulated lead hands out.
BATCH = 15
LOOKS_MINUTES = 5
WAYS = ("as it is", "wanted size first", "divided too")


class _Head:
    """The head technician of a simulated day: the size wanted now, and what was seen each minute."""

    def __init__(self, room: Room, needs: Needs, way: str) -> None:
        self.room, self.needs, self.way = room, needs, way
        self.wanted: str | None = None
        self.short: Counter[str] = Counter()
        self.waits: Counter[str] = Counter()
        self.divided: Counter[str] = Counter()

    def looks(self) -> Doing:
        """Looks at the line, and has divided what it suggests."""
        while not self.needs.all_placed:
            yield MINUTE * LOOKS_MINUTES
            if self.way == WAYS[0] or self.needs.all_cut:
                continue
            known = foretold(self.room.state, self.room.now_ms).flow
            found = known.wanted(SOON)
            self.wanted = found[0].size if found else None
            if self.way == WAYS[2] and (divide := known.divide) is not None:
                size = divide.way.size
                count = min(divide.grafts, self.needs.on_hand(size), self.needs.spare(size))
                if count > 0:
                    into = divide.way.into
                    command = c.DivideGrafts(size=size, into=into, count=count)
                    self.room.ask(self.room.crew.cutters[0], "cutting", command)
                    self.divided[size] += count

    def watches(self) -> Doing:
        """Counts the minutes."""
        while not self.needs.all_placed:
            yield MINUTE
            if not any(what == "placed" for _, what, _ in self.room.state.tally.done):
                continue
            counts = by_size(self.room.state)
            reach = [zone for zone in by_zone(self.room.state) if zone.owed_total][:3]
            for size, count in counts.items():
                self.waits[size] += count.waiting
                owed = sum(zone.owed[size] for zone in reach)
                self.short[size] += owed >= BATCH and count.waiting < BATCH
            self.short["minutes"] += 1


def day(seed: int, way: str) -> dict[str, Any]:
    """One day, as it is or with the line followed."""
    plan = demo_plan()
    into = {"3": ("1+2",), "4": ("2+2",)}
    plan = replace(plan, sizes=tuple(replace(each, divided_into=into.get(each.key)) for each in plan.sizes))
    heads: list[_Head] = []

    def cut(room: Room, needs: Needs) -> None:
        heads.append(_Head(room, needs, way))
        room.begin(heads[0].looks(), 60)
        room.begin(heads[0].watches(), 60)
        plain(room, needs)

    def segment(self: Any, piece: Any) -> Doing:
        """Of the grafts of a segment those of the wanted size first, asked again at each graft."""
        left = list(piece.sizes)
        cutter_piece = piece._replace(sizes=_Turns(left, heads))
        yield from whole(self, cutter_piece)

    plain, whole = cutting.cutting, cutting._Cutter._segment
    workday.cutting, cutting._Cutter._segment = cut, segment  # type: ignore[assignment,method-assign]
    try:
        turns = workday.workday(plan, seed)
    finally:
        workday.cutting, cutting._Cutter._segment = plain, whole  # type: ignore[method-assign]
    head = heads[0]
    placed = [turn.after_ms for turn in turns if isinstance(turn.command, c.PlaceGrafts)]
    minutes = head.short.pop("minutes")
    return {
        "finish": placed[-1] / 60_000,
        "short": {size: head.short[size] for size in plan.size_by_key},
        "waits": {size: head.waits[size] / max(1, plan.planned(size)) for size in plan.size_by_key},
        "divided": head.divided.total(),
        "minutes": minutes,
    }


class _Turns:
    """The grafts of a segment in the order in which they are cut."""

    def __init__(self, left: list[str], heads: list[_Head]) -> None:
        self._left, self._heads = left, heads

    def __iter__(self) -> Any:
        while self._left:
            wanted = self._heads[0].wanted
            yield self._left.pop(self._left.index(wanted) if wanted in self._left else 0)


def main() -> None:
    """Simulate and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=int, default=12)
    parser.add_argument("--first", type=int, default=100)
    chosen = parser.parse_args()
    seeds = range(chosen.first, chosen.first + chosen.days)
    print(
        "| day | minutes short: ones, twos, threes, fours, multi | mean wait, min | finish, min | divided |"
    )
    print("|---|---|---|---|---|")
    for way in WAYS:
        found = [day(seed, way) for seed in seeds]
        short = ", ".join(f"{mean(each['short'][size] for each in found):.0f}" for size in found[0]["short"])
        waits = ", ".join(f"{mean(each['waits'][size] for each in found):.0f}" for size in found[0]["waits"])
        finish = mean(each["finish"] for each in found)
        print(f"| {way} | {short} | {waits} | {finish:.0f} | {mean(each['divided'] for each in found):.0f} |")


if __name__ == "__main__":
    main()
