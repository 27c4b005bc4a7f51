"""What was done when, and how many hands did it: what pace and finish are worked out from.

A work is cutting, making sites or placing. A *hand* is one person at work. Who is there is taken from the
record: from whose entries come, from breaks, hand-overs and stations, and from what was said of a team.
"""

from collections.abc import Iterator, Sequence
from functools import cached_property, lru_cache
from operator import attrgetter
from typing import NamedTuple

from msgspec import Struct

from orroom.case import events as e
from orroom.case.harvests import out_since_ms
from orroom.case.state import CaseState, once
from orroom.case.terms import WORKS, Work
from orroom.case.traits import Trait, held
from orroom.figures.pace.away import MAKING, away_from, standing, usual_break_ms
from orroom.figures.pace.spans import longest_wait_ms, usual_wait_ms, without
from orroom.figures.pace.spans import spans as spans_of


class Mark(NamedTuple):
    """Something was done: when (case time, UTC ms), by whom, how many grafts or sites."""

    at_ms: int
    who: str
    number: int


class Stint(NamedTuple):
    """So many hands were at work from one moment to another (UTC ms); ``who`` is empty for a whole team."""

    who: str
    start_ms: int
    end_ms: int
    hands: float = 1.0


class Absence(NamedTuple):
    """Hands that are missing for a while (UTC ms); ``who`` is empty for everybody."""

    who: str
    start_ms: int
    end_ms: int


class WorkDone(Struct, frozen=True, dict=True):
    """One work so far: its marks in order of time, the stints worked, who goes on, what is known ahead.

    ``there`` is the hands that go on by person (one entry without a name for a whole team), those among them
    on a break included; ``ahead`` is when they are away after the last mark.
    """

    work: Work
    marks: tuple[Mark, ...]
    stints: tuple[Stint, ...]
    there: dict[str, float]
    ahead: tuple[Absence, ...]

    @cached_property
    def done(self) -> int:
        """Grafts or sites done."""
        return sum(mark.number for mark in self.marks)

    @cached_property
    def wait_ms(self) -> int:
        """The usual wait between two marks."""
        return usual_wait_ms([mark.at_ms for mark in self.marks])


def worked(state: CaseState) -> Sequence[e.Entry]:
    """The standing entries up to the end of the work; all of them while the work goes on.

    The work has ended once the case was signed off after the last entry that moved grafts or gave care, also
    if it was reopened since: what follows is paperwork until somebody works again.
    """
    entries, signed = state.standing(), False
    for place in range(len(entries) - 1, -1, -1):
        if e.hands_on(entries[place].event):
            return entries[: place + 1] if signed else entries
        signed = signed or isinstance(entries[place].event, e.CaseSignedOff)
    return entries[:1] if signed else entries


def work_goes_on(state: CaseState) -> bool:
    """Whether more work may come: the case was not signed off after the last of it."""
    return len(worked(state)) == len(state.standing())


def start_of_work_ms(state: CaseState) -> int | None:
    """When the first harvest began or the first site was made, or whatever else was the first work (UTC ms).

    ``None`` before any. Opening the case is none, nor is care: both may come long before it.
    """
    return min(
        (
            event.started_at_ms if isinstance(event := entry.event, e.HarvestStarted) else entry.stamp.at_ms
            for entry in state.standing()
            if e.hands_on(entry.event) and not isinstance(entry.event, e.CareGiven)
        ),
        default=None,
    )


@once
def end_of_work_ms(state: CaseState) -> int:
    """What "now" is for times out of the body, care, pace and progress (UTC ms), at any opened case.

    The latest time of all entries while the work goes on; once it has ended, of its own. Not that of the last
    entry: a rescued tap is taken late and keeps its time, and what waits would be out for less long than what
    was placed before it. Not the sign-off: grafts are not longer out of the body because two people sign an
    hour, or two days, later.
    """
    return max(entry.stamp.at_ms for entry in (state.log if work_goes_on(state) else worked(state)))


@once
def work_done(state: CaseState, work: Work, now_ms: int) -> WorkDone:
    """What the record has of a task up to ``now_ms``."""
    marks = _marks(state, work)
    if not marks:
        return WorkDone(work, (), (), {}, ())
    teams = [
        (entry.stamp.at_ms, float(entry.event.people))
        for entry in standing(state, e.TeamChanged)
        if isinstance(entry.event, e.TeamChanged) and entry.event.work == work
    ]
    people = {mark.who for mark in marks}
    placers = sum(person.role == "placing" for person in state.plan.staff)
    if work == "placing" and len(people) == 1 and placers > 1:
        # One lead enters what several place: the plan says how many, until somebody does.
        teams.insert(0, (marks[0].at_ms, float(placers)))
    elif teams:  # before anybody entered it, those who made entries were working
        before = {mark.who for mark in marks if mark.at_ms <= teams[0][0]}
        teams.insert(0, (marks[0].at_ms, float(len(before) or teams[0][1])))
    rests = _planned_rests(state, work, marks)
    begun_ms = _begun_ms(state, work)
    if teams:
        return _by_team(work, marks, teams, rests, begun_ms, now_ms)
    return _by_person(state, work, marks, rests, begun_ms, now_ms)


def _begun_ms(state: CaseState, work: Work) -> int:
    """Nobody was at a work before this (UTC ms): the opening; the harvest too, if the work needs grafts."""
    opened, harvests = state.log[0].stamp.at_ms, out_since_ms(state).values()
    return opened if work == "sites" else max(opened, min(harvests, default=opened))


@once
def _marks(state: CaseState, work: Work) -> tuple[Mark, ...]:
    """All marks of a work in order of time."""
    making = standing(state, *MAKING[work])
    marks = [Mark(each.stamp.at_ms, e.doer(each), _made_by(each.event)) for each in making]
    return tuple(sorted(marks, key=attrgetter("at_ms")))


@lru_cache(maxsize=5_000)
def _made_by(event: e.AnyEvent) -> int:
    """How many grafts or sites an entry makes; a day has few that differ."""
    return sum(held(event, Trait.COUNT))


def _planned_rests(state: CaseState, work: Work, marks: Sequence[Mark]) -> list[tuple[int, int]]:
    """When the work was or will be at rest by plan."""
    rests = []
    for entry in standing(state, e.BreakPlanned):
        if isinstance(entry.event, e.BreakPlanned) and entry.event.work in {None, work}:
            start = entry.event.starts_at_ms
            end = start + round(entry.event.minutes * 60_000)
            begun = max((mark.at_ms for mark in marks if start < mark.at_ms < end), default=start)
            rests.append((begun, end))  # from the last entry on: so long it was worked through
    return rests


def _by_team(
    work: Work,
    marks: Sequence[Mark],
    teams: Sequence[tuple[int, float]],
    rests: Sequence[tuple[int, int]],
    begun_ms: int,
    now_ms: int,
) -> WorkDone:
    """A team whose size was entered, no matter who makes its entries."""
    spans = _spans(marks, begun_ms, now_ms)
    for start, end in rests:
        spans = without(spans, start, end)
    stints = []
    for place, (since, hands) in enumerate(teams):
        until = teams[place + 1][0] if place + 1 < len(teams) else now_ms
        for start, end in spans:
            first = start if place == 0 else max(start, since)
            if hands and min(end, until) > first:
                stints.append(Stint("", first, min(end, until), hands))
    ahead = (*_resting(marks, rests), *_silence(marks, rests, now_ms))
    hands = teams[-1][1]
    return WorkDone(work, tuple(marks), tuple(stints), {"": hands} if hands else {}, ahead)


def _spans(marks: Sequence[Mark], begun_ms: int, now_ms: int) -> list[tuple[int, int]]:
    return spans_of([mark.at_ms for mark in marks], [mark.number for mark in marks], begun_ms, now_ms)


def _resting(marks: Sequence[Mark], rests: Sequence[tuple[int, int]]) -> Iterator[Absence]:
    """When everybody is away after the last mark, by plan."""
    return (Absence("", start, end) for start, end in rests if end > marks[-1].at_ms)


def _silence(marks: Sequence[Mark], rests: Sequence[tuple[int, int]], now_ms: int) -> Iterator[Absence]:
    """A silence too long to be work, breaks by plan left out, has nobody at work from then to ``now_ms``."""
    last = marks[-1].at_ms
    silent_from = last + longest_wait_ms(usual_wait_ms([mark.at_ms for mark in marks]))
    for start, end in sorted(rests):
        if last < end and start < silent_from:
            silent_from += end - max(last, start)
    if silent_from < now_ms:
        yield Absence("", silent_from, now_ms)


def _by_person(
    state: CaseState,
    work: Work,
    marks: Sequence[Mark],
    rests: Sequence[tuple[int, int]],
    begun_ms: int,
    now_ms: int,
) -> WorkDone:
    """Everybody who makes entries of the work, from their first on, away while on a break or gone."""
    stints: list[Stint] = []
    there: dict[str, float] = {}
    ahead = list(_resting(marks, rests))
    away = away_from(state, work)
    usual = usual_break_ms(away)
    for who in dict.fromkeys(mark.who for mark in marks):
        mine = [mark for mark in marks if mark.who == who]
        spans = _spans(mine, begun_ms, now_ms)
        gone = False
        for start, end in rests:
            spans = without(spans, start, end)
        for start, back, for_good in away.get(who, ()):
            spans = without(spans, start, now_ms if back is None else back)
            if back is None:
                gone = for_good
            if (back is None and not for_good) or (back or 0) > marks[-1].at_ms:
                ahead.append(Absence(who, start, max(now_ms, start + usual) if back is None else back))
        stints += [Stint(who, start, end) for start, end in spans if end > start]
        if not gone:
            there[who] = 1.0
    silent = {
        who
        for who in there
        if not any(stint.who == who and stint.end_ms >= now_ms for stint in stints)
        and not any(
            absence.who in {who, ""} and absence.start_ms <= now_ms <= absence.end_ms for absence in ahead
        )
    }
    if silent == set(there):  # where all are silent, all are taken to come back but those at another work
        elsewhere, last = _last_elsewhere(state, work), {mark.who: mark.at_ms for mark in marks}
        silent = {who for who in silent if elsewhere.get(who, 0) > last[who]}
    there = {who: hands for who, hands in there.items() if who not in silent}
    ahead += _silence(marks, rests, now_ms)
    return WorkDone(work, tuple(marks), tuple(sorted(stints, key=lambda s: s.start_ms)), there, tuple(ahead))


def _last_elsewhere(state: CaseState, work: Work) -> dict[str, int]:
    """By person, when they last made an entry of another work (UTC ms)."""
    found: dict[str, int] = {}
    for other in WORKS:
        for mark in _marks(state, other) if other != work else ():
            found[mark.who] = max(mark.at_ms, found.get(mark.who, 0))
    return found
