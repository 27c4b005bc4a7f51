"""How long grafts have been out of the body, by harvest."""

from collections import Counter
from collections.abc import Sequence
from typing import Literal

from msgspec import Struct

from orroom.case.drawing import harvests_oldest_first
from orroom.case.events import FateGiven, GraftsPlaced, hands_on
from orroom.case.harvests import out_since_ms
from orroom.case.state import CaseState, HarvestClock, at_a_time, once
from orroom.case.terms import Account
from orroom.figures.prompts import stopped_ms

#: Why the time out of the body of a harvest is not known.
WhyUnknown = Literal["no start entered", "starts after its grafts"]


class HarvestAge(Struct, frozen=True):
    """One harvest: when its harvest began, what of it waits, and how long that has been out of the body (ms).

    ``since_ms`` is when the harvest left the body (UTC ms), ``None`` where that is not known, and
    ``why_unknown`` says why. ``out_ms`` is ``None`` then too, and once nothing of the harvest waits any more.
    ``short`` is by how many grafts counts are below zero that ``waiting`` is the sum of.
    """

    harvest: str
    started_at_ms: int | None
    since_ms: int | None
    ended_at_ms: int | None
    cut: int
    waiting: int
    segments_done: int
    segments: int | None
    out_ms: int | None
    short: int = 0

    @property
    def why_unknown(self) -> WhyUnknown | None:
        """Why nobody knows how long this harvest has been out of the body; ``None`` where it is known."""
        if self.since_ms is not None:
            return None
        return "no start entered" if self.started_at_ms is None else "starts after its grafts"


@at_a_time
def harvest_ages(state: CaseState, now_ms: int) -> tuple[HarvestAge, ...]:
    """All harvests that left the body or were cut from, oldest first.

    Every graft of a harvest left the body with it, so the oldest waiting graft of a harvest is as old as
    the harvest.
    A harvest that is not fully cut waits too: as tissue. In a closed case nothing waits after the work ended.
    """
    now_ms = counted_to_ms(state, now_ms)
    ages, held, since = [], _by_harvest(state), out_since_ms(state)
    for harvest in harvests_oldest_first(state.tally):
        clock = state.tally.harvests.get(harvest, HarvestClock())
        cut = held[harvest, "cut"]
        came = cut + held[harvest, "kept_before"]
        if clock.started_at_ms is None and not came:
            continue
        planned = state.plan.harvest_by_key.get(harvest)
        segments = planned.segments if planned else None
        waiting = held[harvest, "dish"] + held[harvest, "bench"]
        uncut = not came or (segments is not None and len(clock.segments) < segments)
        out = None
        if harvest in since and (waiting > 0 or uncut):
            out = max(0, now_ms - since[harvest])
        ages.append(
            HarvestAge(
                harvest=harvest,
                started_at_ms=clock.started_at_ms,
                since_ms=since.get(harvest),
                ended_at_ms=clock.ended_at_ms,
                cut=cut,
                waiting=waiting,
                segments_done=len(clock.segments),
                segments=segments,
                out_ms=out,
                short=sum(
                    max(0, -count)
                    for stock, count in state.tally.stock.items()
                    if stock.harvest == harvest and stock.account in {"dish", "bench"}
                ),
            )
        )
    return tuple(ages)


def counted_to_ms(state: CaseState, now_ms: int) -> int:
    """Until when time out of the body is counted (ms): now; once the case is closed, the end of the work.

    Of an old record, whose prompts do not run, its last entry, unless somebody has worked on since.
    """
    if state.tally.signed_off:
        from orroom.figures.pace.work import end_of_work_ms  # no station needs it before

        return min(now_ms, end_of_work_ms(state))
    stopped = stopped_ms(state, now_ms)
    if stopped is None or any(
        hands_on(entry.event) and entry.stamp.at_ms > stopped for entry in state.standing()
    ):
        return now_ms
    return stopped


@once
def _by_harvest(state: CaseState) -> Counter[tuple[str, Account]]:
    held: Counter[tuple[str, Account]] = Counter()
    for stock, count in state.tally.stock.items():
        held[stock.harvest, stock.account] += count
    return held


def oldest_out(ages: Sequence[HarvestAge]) -> HarvestAge | None:
    """The harvest whose waiting grafts have been out longest, or ``None`` when nothing waits."""
    return max((age for age in ages if age.out_ms is not None), key=lambda age: age.out_ms or 0, default=None)


class Unknown(Struct, frozen=True):
    """Harvests of which something waits, nobody knows how long; why, of the first of them."""

    harvests: tuple[str, ...]
    why: WhyUnknown

    @property
    def brief(self) -> str:
        """Why, in two words."""
        return "no start" if self.why == "no start entered" else "start wrong"


def harvests_unknown(ages: Sequence[HarvestAge]) -> Unknown | None:
    """The harvests of which grafts or tissue wait, but since when is not known; ``None`` without any."""
    found = [
        (age.harvest, age.why_unknown)
        for age in ages
        if age.why_unknown is not None and (age.waiting or age.segments_done < (age.segments or 0))
    ]
    return Unknown(tuple(harvest for harvest, _ in found), found[0][1]) if found else None


def placings_out(state: CaseState) -> dict[str, list[tuple[int, int]]]:
    """By harvest whose time out is known: the time out of the body (ms) and the grafts of each placing."""
    found: dict[str, list[tuple[int, int]]] = {}
    since = out_since_ms(state)
    for entry in state.standing():
        if isinstance(event := entry.event, GraftsPlaced) or (
            isinstance(event, FateGiven) and event.into_zone
        ):
            for part in event.drawn:
                if part.harvest in since:
                    out = max(0, entry.stamp.at_ms - since[part.harvest])
                    found.setdefault(part.harvest, []).append((out, part.count))
    return found


class TimeOut(Struct, frozen=True):
    """How long the placed grafts of a harvest had been out of the body when they were placed (ms)."""

    harvest: str
    grafts: int
    mean_ms: float
    longest_ms: int


def times_out_at_placing(state: CaseState) -> tuple[TimeOut, ...]:
    """By harvest whose time out is known, oldest first, as the tally's own drawing has it."""
    placed = placings_out(state)
    result = []
    for harvest in harvests_oldest_first(state.tally):
        if times := placed.get(harvest):
            count = sum(each for _, each in times)
            mean = sum(out * each for out, each in times) / count
            result.append(TimeOut(harvest, count, mean, max(out for out, _ in times)))
    return tuple(result)
