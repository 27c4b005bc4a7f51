"""How fast a work goes: now, over the case, and by person. Breaks are left out.

A pace is given only of work whose entries were made as it went. Entries made afterwards in one go say what
was done, not how fast.
"""

from collections import Counter
from collections.abc import Sequence
from typing import Final

from msgspec import Struct

from orroom.figures.pace.spans import without
from orroom.figures.pace.work import Stint, WorkDone

#: "Now": this many of the last minutes of work.
NOW_MINUTES: Final = 20
#: A pace needs this many minutes of work: less is a few taps, or entries made in one go. And nobody cuts or
#: places a graft, or makes a site, every second. Common practice, no source.
LEAST_MINUTES: Final = 10
FASTEST_PER_HOUR: Final = 3_600
#: A person's own strength is seen in what they did; this many minutes' worth of belief that all are alike.
ALIKE_MINUTES: Final = 30.0


class PersonPace(Struct, frozen=True):
    """How many one person did, in how many hours, how many an hour; ``None`` unless entered as it went."""

    who: str
    done: int
    hours: float | None
    per_hour: float | None


class Pace(Struct, frozen=True):
    """A work's pace, grafts (or sites) an hour, and its hours; ``None`` unless entered as the work went.

    Hours end at the last entry. ``now`` is over the last ``NOW_MINUTES`` of work, ``over_case`` over all of
    it; ``per_hand`` is over all of it for one person. ``hands`` is how many work on it or will be back.
    """

    done: int
    hands: float
    working_hours: float | None
    hand_hours: float | None
    now: float | None
    over_case: float | None
    per_hand: float | None
    people: tuple[PersonPace, ...]


def pace(done: WorkDone) -> Pace:
    """The pace of a work."""
    stints = _to_the_last_entry(done)
    hours, hands = _hours(merged(stints)), sum(done.there.values())
    hand_hours = sum(stint.hands * (stint.end_ms - stint.start_ms) for stint in stints) / 3_600_000
    if not _as_it_went(done.done, hours, hand_hours):
        return Pace(done.done, hands, None, None, None, None, None, _people(done, stints))
    return Pace(
        done=done.done,
        hands=hands,
        working_hours=hours,
        hand_hours=hand_hours,
        now=_now(done),
        over_case=done.done / hours,
        per_hand=done.done / hand_hours,
        people=_people(done, stints),
    )


def _to_the_last_entry(done: WorkDone) -> list[Stint]:
    """The stints, ended by the last entry of each person, or of the team: after it no work was seen."""
    last = {mark.who: mark.at_ms for mark in done.marks} | {"": done.marks[-1].at_ms} if done.marks else {}
    ended = [stint._replace(end_ms=min(stint.end_ms, last[stint.who])) for stint in done.stints]
    return [stint for stint in ended if stint.end_ms > stint.start_ms]


def _as_it_went(done: int, hours: float, hand_hours: float) -> bool:
    """Whether this many can have been entered as they were done, in this many hours of work and of hands."""
    return hours * 60 >= LEAST_MINUTES and done <= FASTEST_PER_HOUR * hand_hours


def _now(done: WorkDone) -> float | None:
    """The pace over the ``NOW_MINUTES`` of work before the last entry, whole batches.

    A wait beyond the usual is added to them: while nothing is entered the pace only falls.
    """
    times = [mark.at_ms for mark in done.marks]
    working = merged(done.stints)
    idle = max(0, working[-1][1] - times[-1] - done.wait_ms)
    worked = without(working, times[-1], max(times[-1], working[-1][1]))
    left = NOW_MINUTES * 60_000
    for start, end in reversed(worked):
        since = max(start, end - left)
        left -= end - start
        if left <= 0:
            break
    since = max((at for at in times if at <= since), default=worked[0][0])
    hours = _hours(without(worked, 0, since)) + idle / 3_600_000
    lately = sum(mark.number for mark in done.marks if mark.at_ms > since)
    return lately / hours if hours else None


def _people(done: WorkDone, stints: Sequence[Stint]) -> tuple[PersonPace, ...]:
    """By person, in alphabetical order; nobody's own time is known where a whole team's size was entered."""
    counts: Counter[str] = Counter()
    for mark in done.marks:
        counts[mark.who] += mark.number
    if any(not stint.who for stint in done.stints):
        return ()
    found = []
    for who in sorted(counts):
        hours = _hours([(stint.start_ms, stint.end_ms) for stint in stints if stint.who == who])
        known = _as_it_went(counts[who], hours, hours)
        found.append(
            PersonPace(who, counts[who], hours if known else None, counts[who] / hours if known else None)
        )
    return tuple(found)


def strengths(done: WorkDone) -> dict[str, float]:
    """How much each person does, as a share of the mean hand; 1 if unknown; ``""`` is a team's hand."""
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


def merged(stints: Sequence[Stint]) -> list[tuple[int, int]]:
    """When anybody was at work."""
    spans: list[tuple[int, int]] = []
    for start, end in sorted((stint.start_ms, stint.end_ms) for stint in stints):
        if spans and start <= spans[-1][1]:
            spans[-1] = (spans[-1][0], max(spans[-1][1], end))
        else:
            spans.append((start, end))
    return spans


def _hours(spans: Sequence[tuple[int, int]]) -> float:
    return sum(end - start for start, end in spans) / 3_600_000
