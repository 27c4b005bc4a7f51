"""How fast a work goes: now, over the case, and by person. Breaks are left out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from orroom.figures.forecast import Block
from orroom.figures.work import Stint, WorkDone

#: "Now" is the last so many minutes of work.
NOW_MINUTES: Final = 20
#: The forecast looks at the work in blocks of so many minutes.
BLOCK_MS: Final = 5 * 60_000
#: A person's own strength is told from what they did; so many minutes' worth of belief that all are alike.
ALIKE_MINUTES: Final = 30.0


@dataclass(frozen=True, slots=True)
class PersonPace:
    """What one person did at a work: how many, in how many hours at it, how many an hour."""

    who: str
    done: int
    hours: float
    per_hour: float | None


@dataclass(frozen=True, slots=True)
class Pace:
    """A work's pace, grafts (or sites) an hour. ``None`` where no working time was seen.

    ``now`` is over the last ``NOW_MINUTES`` of work, ``over_case`` over all of it; ``per_hand`` is over all
    of it for one person. ``hands`` is how many are at it or will be back.
    """

    done: int
    hands: float
    working_hours: float
    hand_hours: float
    now: float | None
    over_case: float | None
    per_hand: float | None
    people: tuple[PersonPace, ...]


def pace(done: WorkDone) -> Pace:
    """The pace of a work."""
    working = _merged(done.stints)
    hours = _hours(working)
    hand_hours = sum(stint.hands * (stint.end_ms - stint.start_ms) for stint in done.stints) / 3_600_000
    recent = _last(working, NOW_MINUTES * 60_000)
    lately = sum(mark.number for mark in done.marks if recent and mark.at_ms > recent[0][0])
    return Pace(
        done=done.done,
        hands=sum(done.there.values()),
        working_hours=hours,
        hand_hours=hand_hours,
        now=lately / _hours(recent) if recent else None,
        over_case=done.done / hours if hours else None,
        per_hand=done.done / hand_hours if hand_hours else None,
        people=_people(done),
    )


def _people(done: WorkDone) -> tuple[PersonPace, ...]:
    """By person, in alphabetical order; nobody's own time is known where a whole team was told of."""
    counts: Counter[str] = Counter()
    for mark in done.marks:
        counts[mark.who] += mark.number
    if any(not stint.who for stint in done.stints):
        return ()
    found = []
    for who in sorted(counts):
        hours = _hours([(stint.start_ms, stint.end_ms) for stint in done.stints if stint.who == who])
        found.append(PersonPace(who, counts[who], hours, counts[who] / hours if hours else None))
    return tuple(found)


def strengths(done: WorkDone) -> dict[str, float]:
    """How much each person does beside the mean hand, 1 where nothing is known; ``""`` is a team's hand."""
    minutes: dict[str, float] = {}
    for stint in done.stints:
        spent = stint.hands * (stint.end_ms - stint.start_ms) / 60_000
        minutes[stint.who] = minutes.get(stint.who, 0.0) + spent
    counts: Counter[str] = Counter()
    for mark in done.marks:
        counts[mark.who if "" not in minutes else ""] += mark.number
    if not sum(minutes.values()):
        return dict.fromkeys(minutes, 1.0)
    mean = done.done / sum(minutes.values())
    return {
        who: (counts[who] + ALIKE_MINUTES * mean) / ((spent + ALIKE_MINUTES) * mean)
        for who, spent in minutes.items()
    }


def blocks(done: WorkDone, worth: Sequence[float], now_ms: int) -> list[Block]:
    """The work so far in blocks that end at ``now_ms``, oldest first; one of too little time joins the next.

    ``worth`` is how much each mark counts. Minutes are hand-minutes of mean strength.
    """
    if not done.stints:
        return []
    first = min(stint.start_ms for stint in done.stints)
    number = max(1, -(-(now_ms - first) // BLOCK_MS))
    counts, minutes = [0.0] * number, [0.0] * number
    start = now_ms - number * BLOCK_MS

    def place(at_ms: int) -> int:
        return min(number - 1, max(0, (at_ms - start) // BLOCK_MS))

    for mark, count in zip(done.marks, worth, strict=True):
        counts[place(mark.at_ms)] += count
    strength = strengths(done)
    for stint in done.stints:
        for block in range(place(stint.start_ms), place(stint.end_ms) + 1):
            begins = start + block * BLOCK_MS
            overlap = min(stint.end_ms, begins + BLOCK_MS) - max(stint.start_ms, begins)
            minutes[block] += max(0, overlap) * stint.hands * strength[stint.who] / 60_000
    return _joined(counts, minutes)


def _joined(counts: Sequence[float], minutes: Sequence[float]) -> list[Block]:
    enough = max(minutes) / 5
    found: list[Block] = []
    count = spent = 0.0
    for more, longer in zip(counts, minutes, strict=True):
        count, spent = count + more, spent + longer
        if spent >= enough:
            found.append(Block(count, spent))
            count = spent = 0.0
    if (count or spent) and found:
        found[-1] = Block(found[-1].done + count, found[-1].minutes + spent)
    return found


def _merged(stints: Sequence[Stint]) -> list[tuple[int, int]]:
    """When anybody was at work."""
    spans: list[tuple[int, int]] = []
    for start, end in sorted((stint.start_ms, stint.end_ms) for stint in stints):
        if spans and start <= spans[-1][1]:
            spans[-1] = (spans[-1][0], max(spans[-1][1], end))
        else:
            spans.append((start, end))
    return spans


def _last(spans: Sequence[tuple[int, int]], length_ms: int) -> list[tuple[int, int]]:
    """The last ``length_ms`` of the spans."""
    left: list[tuple[int, int]] = []
    for start, end in reversed(spans):
        if length_ms <= 0:
            break
        left.append((max(start, end - length_ms), end))
        length_ms -= end - start
    return left[::-1]


def _hours(spans: Sequence[tuple[int, int]]) -> float:
    return sum(end - start for start, end in spans) / 3_600_000
