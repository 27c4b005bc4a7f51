"""Which of the plan's limits were broken, and what was done about each, as somebody said it.

A broken limit changes no count and stops nothing. It is in sight until somebody says what was done; that
answers all that had broken this limit by then, and what breaks it later is asked about again.
"""

from collections import deque
from collections.abc import Iterator
from typing import Final, Literal

from msgspec import Struct

from orroom.case.care import against_band
from orroom.case.final_count import count_running
from orroom.case.harvests import out_since_ms
from orroom.case.plan import CareRound, Limits
from orroom.case.state import CareDone, CaseState, LimitAnswer, PlacersMove, Tally, while_same
from orroom.case.terms import PLACERS_CARE
from orroom.case.traits import Trait, held

LimitKind = Literal["temperature", "with-placers", "out-of-body"]
#: What each limit is, without the words of a plan.
LIMIT_KINDS: Final[dict[str, str]] = {
    "temperature": "temperature outside its band",
    "with-placers": "grafts with the placers for too long",
    "out-of-body": "grafts out of the body for too long",
}


class BrokenLimit(Struct, frozen=True):
    """A limit that was broken, first ``at_ms`` (UTC ms), and what was done, ``None`` if nobody said so.

    ``key`` is its kind, and behind a colon the care round or the harvest. ``brief`` is the sentence for a
    narrow screen.
    """

    key: str
    kind: LimitKind
    at_ms: int
    sentence: str
    brief: str
    answer: LimitAnswer | None


class _Break(Struct, frozen=True):
    """One time that a limit was broken: when (UTC ms), and how far: each reading in °C, or a time in s."""

    at_ms: int
    values: tuple[float, ...] = ()


def broken_limits(state: CaseState, now_ms: int | None = None) -> tuple[BrokenLimit, ...]:
    """Every limit broken by ``now_ms`` (UTC ms, else when hands did something last), in order of time."""
    if now_ms is None:
        hands_on = (each.stamp.at_ms for each in reversed(state.log) if each.event.does.hands_on)
        now_ms = next(hands_on, 0)
    found = [*_of_entries(state.tally), *_out_of_body(state, now_ms)]
    return tuple(sorted(found, key=lambda each: (each.at_ms, each.key)))


def unanswered_limits(state: CaseState, now_ms: int | None = None) -> tuple[BrokenLimit, ...]:
    """The broken limits of which nobody has said what was done."""
    return tuple(each for each in broken_limits(state, now_ms) if each.answer is None)


def limits_in_sight(state: CaseState, now_ms: int) -> tuple[BrokenLimit, ...]:
    """Those to show at ``now_ms``: while a final count is made none that depends on what there is."""
    found = unanswered_limits(state, now_ms)
    blind = count_running(state) is not None
    return tuple(each for each in found if each.kind == "temperature") if blind else found


@while_same("plan", "placers_moves", "care_done", "limit_answers")
def _of_entries(tally: Tally) -> tuple[BrokenLimit, ...]:
    """Temperatures outside their band, and grafts that left the placers too late without being wetted."""
    found: list[BrokenLimit] = []
    if (plan := tally.plan) is None:
        return ()
    read = sum(round_.kind == "temperature" for round_ in plan.care)
    for round_ in plan.care:
        what = "holding solution" if read == 1 else f"{round_.label}:"  # a label may be an order to read it
        for breaks, answer in _answered(tally, key := f"temperature:{round_.key}", _outside(tally, round_)):
            readings = [each for one in breaks for each in one.values]
            low, high = min(readings), max(readings)
            said = (
                f"{low:g} °C" if len(readings) == 1 else f"{low:g} to {high:g} °C in {len(readings)} readings"
            )
            sides = {
                "too warm": against_band(high, round_.low_c, round_.high_c) == "above",
                "too cold": against_band(low, round_.low_c, round_.high_c) == "below",
            }
            how = " and ".join(words for words, outside in sides.items() if outside)
            found.append(
                BrokenLimit(
                    key,
                    "temperature",
                    breaks[0].at_ms,
                    f"{what} {said}, {how} (limit {round_.low_c:g} to {round_.high_c:g} °C)",
                    f"{high if sides['too warm'] else low:g} °C, {how}",
                    answer,
                )
            )
    limits = plan.limits
    for breaks, answer in _answered(tally, "with-placers", _not_wetted(tally, limits)):
        longest = max(each.values[0] for each in breaks)
        allowed = (
            f"{_clock(limits.with_placers_seconds)} and {_clock(limits.with_placers_grace_seconds)} grace"
        )
        times = "" if len(breaks) == 1 else f", {len(breaks)} times"
        found.append(
            BrokenLimit(
                "with-placers",
                "with-placers",
                breaks[0].at_ms,
                f"with the placers {_clock(longest)} without wetting{times}, limit {allowed}",
                f"with placers {_clock(longest)}, not wetted",
                answer,
            )
        )
    return tuple(found)


def _out_of_body(state: CaseState, now_ms: int) -> Iterator[BrokenLimit]:
    """Harvests of which grafts waited, or were handled, after the limit of time out of the body."""
    if (hours := state.plan.limits.out_of_body_hours) is None:
        return
    for harvest, since_ms in out_since_ms(state).items():
        from_ms = since_ms + round(hours * 3_600_000)
        if now_ms > from_ms and (_waits(state.tally, harvest) or _handled_after(state, harvest, from_ms)):
            [(_, answer)] = _answered(state.tally, key := f"out-of-body:{harvest}", [_Break(from_ms)])
            sentence = f"harvest {harvest}: grafts out of the body for more than {hours:g} h"
            yield BrokenLimit(
                key, "out-of-body", from_ms, sentence, f"{harvest} out over {hours:g} h", answer
            )


def _answered(
    tally: Tally, key: str, breaks: list[_Break]
) -> Iterator[tuple[list[_Break], LimitAnswer | None]]:
    """The breaks of one limit in turn, those together that one answer is about; last those without one."""
    left = sorted(breaks, key=lambda each: each.at_ms)
    for answer in (each for each in tally.limit_answers if each.limit == key):
        if about := [each for each in left if each.at_ms <= answer.at_ms]:
            yield about, answer
            left = left[len(about) :]
    if left:
        yield left, None


def _outside(tally: Tally, round_: CareRound) -> list[_Break]:
    """Each run of readings outside the band is one break: its readings, from when the first was taken."""
    found: list[_Break] = []
    before = False
    for each in tally.care_done:
        if each.care != round_.key or each.reading_c is None:
            continue
        outside = against_band(each.reading_c, round_.low_c, round_.high_c) != "in"
        if outside and before:
            found[-1] = _Break(found[-1].at_ms, (*found[-1].values, each.reading_c))
        elif outside:
            found.append(_Break(each.at_ms, (each.reading_c,)))
        before = outside
    return found


class _Batch(Struct):
    since_ms: int
    grafts: int


def _not_wetted(tally: Tally, limits: Limits) -> list[_Break]:
    """Batches that left the placers past the limit and its grace: the seconds since they came or were wetted.

    The oldest graft of a size is taken to leave first, so that each was certainly there for that long. A late
    wetting does not break it: it says itself what was done.
    """
    allowed_ms = (limits.with_placers_seconds + limits.with_placers_grace_seconds) * 1000
    batches: dict[tuple[str | None, str], deque[_Batch]] = {}
    found: list[_Break] = []
    wetted = [each for each in tally.care_done if each.care == PLACERS_CARE]
    moves: list[PlacersMove | CareDone] = [*tally.placers_moves, *wetted]
    for what in sorted(moves, key=lambda each: (each.at_ms, each.seq)):
        if isinstance(what, CareDone):
            for (lane, _), theirs in batches.items():
                for batch in theirs if what.lane in {None, lane} else ():
                    batch.since_ms = what.at_ms
            continue
        there = batches.setdefault((what.lane, what.size), deque())
        if what.grafts > 0:
            there.append(_Batch(what.at_ms, what.grafts))
        left, longest_ms = -what.grafts, 0
        while left > 0 and there:
            longest_ms = max(longest_ms, what.at_ms - there[0].since_ms)
            taken = min(left, there[0].grafts)
            there[0].grafts -= taken
            left -= taken
            if not there[0].grafts:
                there.popleft()
        if longest_ms > allowed_ms:
            found.append(_Break(what.at_ms, (longest_ms / 1000,)))
    return found


def _waits(tally: Tally, harvest: str) -> bool:
    return tally.held("dish", harvest=harvest) + tally.held("bench", harvest=harvest) > 0


def _handled_after(state: CaseState, harvest: str, from_ms: int) -> bool:
    """Whether grafts of a harvest were in hands after ``from_ms``."""
    return any(
        each.stamp.at_ms > from_ms
        and each.event.does.hands_on
        and any(part.harvest == harvest for part in held(each.event, Trait.DRAWN))
        for each in state.standing()
    )


def _clock(seconds: float) -> str:
    """``3:40``, in minutes and whole seconds; from an hour on ``20 h 01``."""
    if seconds >= 3600:
        return f"{int(seconds) // 3600} h {int(seconds) // 60 % 60:02}"
    return f"{int(seconds) // 60}:{int(seconds) % 60:02}"
