"""How well the finish of harsh days is foretold, next to two plain ways of doing it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from statistics import mean
from typing import NamedTuple

from cases import MINUTE_MS
from harsh_days import KINDS, HarshDay, harsh_day
from strip_days import ALONE, HELPING, strip_day

from orroom.archive.wrong_finish import wrong_finish
from orroom.case import events as e
from orroom.case.evolve import evolve, fold
from orroom.case.habits import NO_HABITS, Habits
from orroom.case.state import CaseState
from orroom.figures.pace.finish import outlook
from orroom.figures.yields import yields

POINTS = (0.25, 0.5, 0.75)
STRIPS = (HELPING, ALONE)


class Harsh(NamedTuple):
    """One forecast next to what came; times in minutes, widths of ranges over what was left.

    ``to_come``: the pace still changes for good. ``since``: how long ago it last did. ``error`` is that of
    the middle, ``mean_error`` of the mean since the beginning, ``lately_error`` of the last 30 minutes.
    ``asked``: whether somebody has left was asked.
    """

    kind: str
    point: float
    to_come: bool
    since: float | None
    held: bool
    held_later: bool
    width: float
    width_later: float
    error: float
    mean_error: float
    lately_error: float
    asked: bool


def harsh(kind: str, seed: int, habits: Habits = NO_HABITS) -> list[Harsh]:
    """The forecasts of a day, each right after the entry with which such a part of the grafts is placed.

    Those that the program does not make, with less than 10 minutes of work, are left out.
    """
    day = strip_day(kind, seed) if kind in STRIPS else harsh_day(kind, seed)
    found: list[Harsh | None] = []
    points, done = list(POINTS), 0
    state = CaseState()
    for entry in day.entries:
        state = evolve(state, entry)
        if isinstance(entry.event, _counted(kind)):
            done += entry.event.count
            while points and done >= points[0] * day.total:
                point = points.pop(0)
                if entry.stamp.at_ms < day.finished_ms:
                    found.append(_harsh(day, state, done, point, habits))
    return [each for each in found if each is not None]


def clinic(kinds: Sequence[str], first: int, cases: int) -> Habits:
    """The habits of a clinic whose closed cases were days of these kinds in turn."""
    days = (harsh_day(kinds[place % len(kinds)], first + place) for place in range(cases))
    return Habits(placing=tuple(tuple(wrong_finish(fold(day.entries))["placing"].wrong) for day in days))


def _counted(kind: str) -> type[e.GraftsCut] | type[e.GraftsPlaced]:
    return e.GraftsCut if kind in STRIPS else e.GraftsPlaced


def _harsh(day: HarshDay, state: CaseState, done: int, point: float, habits: Habits) -> Harsh | None:
    now = state.log[-1].stamp.at_ms
    works = outlook(state, yields(state, 80), now, habits).works
    work = "cutting" if day.kind in STRIPS else "placing"
    found = next(each for each in works if each.work == work)
    finish = found.finish
    if finish is None:
        return None
    finished = day.working_finish_ms(now)
    before = [each for each in day.changes if each <= now]
    return Harsh(
        kind=day.kind,
        point=point,
        to_come=len(before) < len(day.changes),
        since=(now - before[-1]) / MINUTE_MS if before else None,
        held=finish.low_ms <= finished <= finish.high_ms,
        held_later=finish.low_ms <= finished <= finish.later_ms,
        width=(finish.high_ms - finish.low_ms) / (finished - now),
        width_later=(finish.later_ms - finish.low_ms) / (finished - now),
        error=abs(finish.middle_ms - finished) / MINUTE_MS,
        mean_error=abs(_at_pace(day, state, done, day.begun_ms) - finished) / MINUTE_MS,
        lately_error=abs(_at_pace(day, state, done, _half_an_hour_before(day, now)) - finished) / MINUTE_MS,
        asked=found.fewer_since_ms is not None,
    )


def _at_pace(day: HarshDay, state: CaseState, done: int, since: int) -> float:
    """The finish at the pace of whole entries since then, past breaks left out."""
    now = state.log[-1].stamp.at_ms
    placed = [each for each in state.log if isinstance(each.event, _counted(day.kind))]
    first = max((each.stamp.at_ms for each in placed if each.stamp.at_ms <= since), default=day.begun_ms)
    number = sum(each.event.count for each in placed if each.stamp.at_ms > first)  # type: ignore[union-attr]
    return now + (day.total - done) / number * (now - first - day.rested_ms(first, now))


def _half_an_hour_before(day: HarshDay, now: int) -> int:
    since = now - 30 * MINUTE_MS
    return since - day.rested_ms(since, now)


Rows = list[tuple[str, list[Harsh]]]


def rows(found: Sequence[Harsh]) -> Rows:
    """What each line of the table is about, and its forecasts."""

    def of(belongs: Callable[[Harsh], bool]) -> list[Harsh]:
        return [each for each in found if belongs(each)]

    def gone(each: Harsh, kind: str, least: float, most: float) -> bool:
        return each.kind == kind and each.since is not None and least <= each.since < most

    parts: Rows = [
        ("all", of(lambda each: each.kind in KINDS)),
        ("no change to come", of(lambda each: each.kind in KINDS and not each.to_come)),
        ("a change to come", of(lambda each: each.to_come)),
    ]
    parts += [(kind, [each for each in found if each.kind == kind]) for kind in (*KINDS, *STRIPS)]
    for kind in ("somebody leaves", "somebody leaves, entered"):
        for least, most in ((0, 10), (10, 20), (20, 600)):
            name = f"{kind}: {least} to {most} min ago" if most < 600 else f"{kind}: longer ago"
            parts.append((name, [each for each in found if gone(each, kind, least, most)]))
    return parts


def asked(found: Sequence[Harsh]) -> str:
    """How often it was asked whether somebody had left, where somebody had, and where nobody had."""
    gone = [each for each in found if each.kind == "somebody leaves" and (each.since or 0) >= 20]
    leaving = {"somebody leaves", "somebody leaves, entered", "two changes"}
    nobody = [each for each in found if each.kind not in leaving]
    right, wrong = sum(each.asked for each in gone), sum(each.asked for each in nobody)
    return f"asked if somebody left: {right} of {len(gone)} (20 min and more after), {wrong} of {len(nobody)}"


def cell(here: Sequence[Harsh]) -> str:
    """One moment of one line: n; held and width at this pace; held and width if it slows; errors."""
    if not here:
        return ""
    held, later = mean(each.held for each in here), mean(each.held_later for each in here)
    width, width_later = mean(each.width for each in here), mean(each.width_later for each in here)
    own, whole, lately = (
        mean(getattr(each, name) for each in here) for name in ("error", "mean_error", "lately_error")
    )
    return (
        f"{len(here)}; {held:.0%} {width:.2f}; {later:.0%} {width_later:.2f}; "
        f"{own:.1f} ({whole:.1f}, {lately:.1f})"
    )
