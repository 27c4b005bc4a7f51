"""How punctual care was: each round given with when it was due, and what fell due and was not given.

A round falls due an interval after it was last given, or after the first harvest; a pause moves that to the
pause's end. Left unanswered past its grace it is missed, and falls due again an interval later, and so on
until it is given or care ends. A round given past its grace answers the moment when it first fell due: it is
late by all that time, and each later moment that passed before it was given is missed. So every round due was
on time, late or missed. A round still within its grace when care ends is none of these.

A reminder may start elsewhere than at the first harvest (``care.starts_at_ms``). One that comes once falls
due once: missed if it was never answered, and a pause only moves it.
"""

from bisect import bisect_right
from collections.abc import Sequence
from itertools import pairwise
from typing import Literal

from msgspec import Struct

from orroom.case.care import against_band, first_harvest_ms, interval_ms, starts_at_ms
from orroom.case.events import CareGiven, CaseOpened, Entry, GraftsPlaced, PlanRevised, PromptPaused
from orroom.case.plan import CareRound
from orroom.case.state import CaseState, once
from orroom.case.terms import PLACERS_CARE
from orroom.figures.counts import by_size, total
from orroom.figures.pace.work import end_of_work_ms
from orroom.figures.prompts import SILENCE_MS


class CareGivenRound(Struct, frozen=True):
    """One round as it was given: when, by whom, when it was due, how late (ms), the reading.

    ``due_at_ms`` and ``late_ms`` are ``None`` if nothing was due yet, or no longer. ``on_time``: early, or
    late by no more than the grace.
    """

    care: str
    at_ms: int
    who: str
    due_at_ms: int | None
    late_ms: int | None
    on_time: bool
    temperature_c: float | None
    band: Literal["below", "in", "above"] | None


class CarePunctuality(Struct, frozen=True):
    """How one care round went. ``due`` = ``given`` + ``missed``; ``given`` = on time + late. Times in ms.

    ``missed_ms`` is when each missed round fell due (UTC ms), in order. ``missed_at_end`` of them were missed
    since it was last given. ``longest_gap_ms`` and ``since_last_ms`` count from its start if it was not given
    before, and to the end of care; ``None`` for one that comes once.
    """

    care: str
    label: str
    due: int
    given: int
    on_time: int
    missed_ms: tuple[int, ...]
    missed_at_end: int
    latest_ms: int | None
    longest_gap_ms: int | None
    since_last_ms: int | None
    readings_c: tuple[float, ...]
    out_of_band: int

    @property
    def missed(self) -> int:
        """Rounds that fell due and were not given."""
        return len(self.missed_ms)


def care_until_ms(state: CaseState) -> int:
    """Until when care falls due (UTC ms): the end of the work.

    Where no zone is owed a graft any more, the last graft placed, unless ``limits.care_until`` of the plan
    says otherwise: what is left in the dishes then is not placed.
    """
    end = end_of_work_ms(state)
    if state.plan.limits.care_until == "end of work" or total(by_size(state)).owed:
        return end
    placed = [each.stamp.at_ms for each in state.standing() if isinstance(each.event, GraftsPlaced)]
    return max(placed, default=end)


@once
def care_given(state: CaseState) -> tuple[CareGivenRound, ...]:
    """Every round given and not corrected, in the order of the entries, wetting what the placers have too."""
    found = {}
    for care in dict.fromkeys(e.event.care for e in _about_care(state) if isinstance(e.event, CareGiven)):
        found.update(_course(state, care).given)
    return tuple(found[seq] for seq in sorted(found))


def punctuality(state: CaseState) -> tuple[CarePunctuality, ...]:
    """Each round of the plan in force, in its order."""
    return tuple(_punctuality(state, round_) for round_ in state.plan.care)


def _punctuality(state: CaseState, round_: CareRound) -> CarePunctuality:
    course = _course(state, round_.key)
    given = [course.given[seq] for seq in sorted(course.given)]
    late = [each.late_ms for each in given if each.late_ms is not None]
    gap = since = None
    if (start := course.start_ms) is not None and not round_.once:
        until = max(start, course.until_ms)
        times = [start, *sorted(each.at_ms for each in given if start <= each.at_ms <= until), until]
        gap, since = max(later - earlier for earlier, later in pairwise(times)), until - times[-2]
    return CarePunctuality(
        care=round_.key,
        label=round_.label,
        due=len(given) + len(course.missed_ms),
        given=len(given),
        on_time=sum(each.on_time for each in given),
        missed_ms=tuple(course.missed_ms),
        missed_at_end=course.missed_at_end,
        latest_ms=max(late, default=None),
        longest_gap_ms=gap,
        since_last_ms=since,
        readings_c=tuple(each.temperature_c for each in given if each.temperature_c is not None),
        out_of_band=sum(each.band in {"below", "above"} for each in given),
    )


@once
def _about_care(state: CaseState) -> tuple[Entry, ...]:
    """The entries that give or pause a round or set its plan, in order of time: a rescued tap came late."""
    kinds = (CaseOpened, PlanRevised, CareGiven, PromptPaused)
    found = [entry for entry in state.standing() if isinstance(entry.event, kinds)]
    return tuple(sorted(found, key=lambda entry: entry.stamp.at_ms))


@once
def _times(state: CaseState) -> list[int]:
    return sorted(entry.stamp.at_ms for entry in state.log)


class _Course:
    """One round followed through the day: each time it was given (by number of its entry), what was missed.

    A later plan may have brought it: then it starts no earlier.
    """

    def __init__(self, state: CaseState, care: str) -> None:
        self.state, self.care = state, care
        self.until_ms = care_until_ms(state)
        self.given: dict[int, CareGivenRound] = {}
        self.missed_ms: list[int] = []
        self._round: CareRound | None = None
        self._brought_ms = self._last_ms = self._paused_until_ms = 0
        self._reading_c: float | None = None
        for entry in _about_care(state):
            self._take(entry)
        at_end = self._unanswered_ms(self._due_ms(), self.until_ms)
        self.missed_at_end = len(at_end)
        self.missed_ms += at_end

    def _take(self, entry: Entry) -> None:
        at_ms = entry.stamp.at_ms
        match entry.event:
            case CaseOpened(plan=plan) | PlanRevised(plan=plan) if at_ms <= self.until_ms:
                before, self._round = self._round, plan.care_by_key.get(self.care)
                if entry.event.kind == "plan_revised" and before is None:
                    self._brought_ms = max(self._brought_ms, at_ms)
            case CareGiven(care=care) if care == self.care:
                self._give(entry, entry.event)
            case PromptPaused(care=care, until_ms=until_ms) if care == self.care and at_ms <= self.until_ms:
                if self._round is None or not self._round.once:
                    self.missed_ms += self._unanswered_ms(self._due_ms(), at_ms)
                self._paused_until_ms = until_ms

    def _give(self, entry: Entry, event: CareGiven) -> None:
        at_ms, with_placers = entry.stamp.at_ms, self.care == PLACERS_CARE
        due_ms = event.due_at_ms if with_placers else self._due_ms()
        if (
            due_ms is not None
            and not with_placers
            and (due_ms > self.until_ms or at_ms < (self.start_ms or 0))
        ):
            due_ms = None
        late_ms = None if due_ms is None else max(0, at_ms - due_ms)
        known = self.state.plan.care_by_key.get(self.care)
        band = None
        if event.temperature_c is not None and known is not None:
            band = against_band(event.temperature_c, known.low_c, known.high_c)
        self.given[entry.seq] = CareGivenRound(
            care=self.care,
            at_ms=at_ms,
            who=entry.stamp.who,
            due_at_ms=due_ms,
            late_ms=late_ms,
            on_time=(late_ms or 0) <= self._grace_ms,
            temperature_c=event.temperature_c,
            band=band,
        )
        self.missed_ms += self._unanswered_ms(due_ms, at_ms)[1:]  # but for the one that was answered
        self._last_ms, self._paused_until_ms, self._reading_c = at_ms, 0, event.temperature_c

    @property
    def start_ms(self) -> int | None:
        """From when its interval counts, by the plan followed so far, or else by the last."""
        round_ = self._round or self.state.plan.care_by_key.get(self.care)
        if round_ is None:
            return first_harvest_ms(self.state.tally)
        start_ms = starts_at_ms(self.state.tally, round_)
        if start_ms is None or not self._brought_ms:
            return start_ms
        before_ms = 0 if round_.at is None else interval_ms(round_, None)
        return max(start_ms, self._brought_ms - before_ms)

    @property
    def _grace_ms(self) -> int:
        if self.care == PLACERS_CARE:
            return self.state.plan.limits.with_placers_grace_seconds * 1000
        return 0 if self._round is None else round(self._round.grace_minutes * 60_000)

    def _due_ms(self) -> int | None:
        if self._round is None or (start_ms := self.start_ms) is None:
            return None
        if self._round.once and self._last_ms:
            return None
        due_ms = max(start_ms, self._last_ms) + interval_ms(self._round, self._reading_c)
        return max(due_ms, self._paused_until_ms)

    def _unanswered_ms(self, due_ms: int | None, by_ms: int) -> Sequence[int]:
        """When it fell due by then if nobody answered since ``due_ms``; never within its grace."""
        by_ms = min(by_ms, self.until_ms)
        if self._round is None or due_ms is None or by_ms - due_ms <= self._grace_ms:
            return ()
        if self._round.once:
            return (due_ms,)
        every_ms = interval_ms(self._round, self._reading_c)
        return range(due_ms, self._watched_until_ms(due_ms, by_ms) + 1, every_ms)

    def _watched_until_ms(self, due_ms: int, by_ms: int) -> int:
        """When the silence began through which a round does not run (``SILENCE_MS``); else ``by_ms``."""
        times = _times(self.state)
        before_ms = due_ms
        for at_ms in (*times[bisect_right(times, due_ms) : bisect_right(times, by_ms)], by_ms):
            if at_ms - before_ms >= SILENCE_MS:
                return before_ms
            before_ms = at_ms
        return by_ms


@once
def _course(state: CaseState, care: str) -> _Course:
    return _Course(state, care)
