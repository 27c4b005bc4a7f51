"""The state of a case and what has changed since, in lines of words: for screen readers and scripts."""

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from msgspec import Struct

from orroom.case.events import CaseSignedOff
from orroom.case.final_count import count_running
from orroom.case.limits import limits_in_sight
from orroom.case.mismatches import open_mismatches
from orroom.case.state import CaseState
from orroom.case.terms import lane_name
from orroom.figures.case_times import case_times
from orroom.figures.counts import by_size, by_zone, total
from orroom.figures.holding import Unknown, counted_to_ms, harvest_ages, harvests_unknown, oldest_out
from orroom.figures.lanes import lanes_now
from orroom.figures.prompts import STEPS, Prompt, prompts, stopped_ms
from orroom.figures.wording import (
    BROKEN,
    Times,
    clock_time,
    clock_time_with_seconds,
    day,
    grafts,
    harvests_listed,
    how_long,
    over_plan,
    segments_done,
    when_due,
)
from orroom.words.final_count import hidden_words, running_words
from orroom.words.lanes import lane_said


class Said(NamedTuple):
    """One line: its mark, as on the screens (``""`` for counts), and its words, which say all of it."""

    mark: str
    words: str


class CountsNow(Struct, frozen=True):
    """Grafts as the screens count them; which harvest has been out longest, where that is not known.

    ``short`` is by how many grafts counts are below zero that ``usable`` and ``waiting`` are sums of.
    """

    usable: int
    planned: int
    placed: int
    left: int
    waiting: int
    short: int
    oldest: str | None
    unknown: Unknown | None


class Status(Struct, frozen=True):
    """The state of a case at a moment (UTC ms): all whose changes are reported. Mappings are by key.

    ``oldest_out_ms`` is ``None`` when nothing waits that has a harvest; it is that of the last entry where
    the record ``stopped``, so that no prompt runs. ``segments`` says how far each harvest is cut; ``done``
    says of each zone whether nothing is owed; ``limits`` are broken ones of which nobody has said what was
    done; ``signed_off`` names who did. While a final count is made,
    ``counting`` says by whom, and neither counts nor mismatches are shown.
    """

    at_ms: int
    stopped: bool
    counts: CountsNow
    oldest_out_ms: int | None
    segments: Mapping[str, str]
    prompts: Mapping[str, Prompt]
    mismatches: Mapping[str, str]
    limits: Mapping[str, str]
    zones: Mapping[str, str]
    done: Mapping[str, bool]
    lanes: Mapping[str, str]
    signed_off: str | None
    counting: str
    times: Times


def status_at(state: CaseState, now_ms: int) -> Status:
    """The state of an opened case at ``now_ms``."""
    count = total(by_size(state))
    care = prompts(state, now_ms)
    ages = harvest_ages(state, now_ms)
    oldest = oldest_out(ages)
    zones = by_zone(state)
    return Status(
        at_ms=now_ms,
        stopped=stopped_ms(state, now_ms) is not None,
        counts=CountsNow(
            usable=count.usable,
            planned=count.planned,
            placed=count.placed,
            left=count.owed,
            waiting=count.waiting,
            short=count.short,
            oldest=None if oldest is None else oldest.harvest,
            unknown=harvests_unknown(ages),
        ),
        oldest_out_ms=None if oldest is None else oldest.out_ms,
        segments={
            age.harvest: f"harvest {age.harvest}: {segments_done(age.segments_done, age.segments)}"
            for age in ages
            if age.segments or age.segments_done
        },
        prompts={each.key: each for each in care},
        mismatches={each.key: each.sentence for each in open_mismatches(state)},
        limits={each.key: each.sentence for each in limits_in_sight(state, counted_to_ms(state, now_ms))},
        zones={each.zone.key: each.zone.label for each in zones},
        done={each.zone.key: not each.owed_total for each in zones},
        lanes={}
        if count_running(state)
        else {each.lane or "": lane_said(state, each) for each in lanes_now(state)},
        signed_off=signed_off_by(state),
        counting=", ".join(running_words(state, "at the overview")),
        times=case_times(state),
    )


def signed_off_by(state: CaseState) -> str | None:
    """By whom the case is signed off, or ``None``."""
    if not state.tally.signed_off:
        return None
    for entry in reversed(state.log):
        if isinstance(entry.event, CaseSignedOff):
            return f"{entry.stamp.who} and {entry.event.second}"
    return None


def present(now: Status) -> tuple[Said, ...]:
    """The state of the case, in a few lines: counts, zones, prompts, mismatches, sign-off."""
    done = sum(now.done.values())
    lines = [_counts(now), *(Said("", words) for words in now.segments.values())]
    lines.append(Said("", f"zones finished: {done} of {len(now.done)}"))
    lines += [Said("", words) for words in now.lanes.values()]
    lines += _prompts_now(now)
    lines += _open_mismatches(now)
    lines += [_broken(sentence) for sentence in now.limits.values()]
    if now.signed_off is not None:
        lines.append(Said("‖", f"signed off by {now.signed_off}"))
    return tuple(lines)


def finish_expected(state: CaseState, now_ms: int) -> tuple[Said, ...]:
    """When all will be done, in one line; nothing while that is not forecast, or a count is made."""
    from orroom.figures.pace.rest_of_day import foretold  # takes as long as all else together

    if count_running(state) or stopped_ms(state, now_ms) is not None:
        return ()
    known = foretold(state, now_ms).outlook
    if known.finish is None:
        return ()
    low, middle, high, later = (clock_time(each, case_times(state)) for each in known.finish)
    if (none_for_ms := known.nobody_placing_ms(now_ms)) is not None:
        stopped = f"nobody placing for {how_long(none_for_ms)}"
        return (Said("", f"{stopped}; finish expected {middle} if it goes on now"),)
    return (Said("", f"finish expected {middle}: {low} to {high} at this pace, to {later} if it slows"),)


def _counts(now: Status) -> Said:
    """Counts, or that a final count is being made."""
    if now.counting:
        return Said("‖", hidden_words(now.counting))
    counts = now.counts
    unknown, over = counts.unknown, counts.placed + counts.left - counts.planned
    if now.oldest_out_ms is None:
        out = f"time out not known: {unknown.why}" if unknown else "nothing is out"
    else:
        not_known = f", {harvests_listed(unknown.harvests)} not known: {unknown.why}" if unknown else ""
        when = " at the last entry" if now.stopped else ""
        out = f"oldest out {how_long(now.oldest_out_ms)}{when}{not_known}"
    below_zero = " (in both sums is a count below zero)" if counts.short else ""
    return Said(
        "",
        f"usable {grafts(counts.usable)} of {grafts(counts.planned)}, "
        f"placed {grafts(counts.placed)} of {grafts(counts.planned)}{over_plan(over)}, "
        f"left {grafts(counts.left)}, waiting {grafts(counts.waiting)}{below_zero}, {out}",
    )


def _open_mismatches(now: Status) -> list[Said]:
    """The mismatches, which say how many grafts they are about."""
    if now.counting:
        return []
    return [Said("≠", f"mismatch: {sentence}") for sentence in now.mismatches.values()]


def _broken(sentence: str) -> Said:
    return Said(BROKEN, f"limit broken, nobody said what was done: {sentence}")


def _prompts_now(now: Status) -> Iterator[Said]:
    """Every prompt; of an old record, that none runs."""
    if now.stopped:
        date = day(next(iter(now.prompts.values())).silent_from_ms, now.times.offset_minutes)
        yield Said("‖", f"old record ({date}): prompts are off")
    else:
        yield from (_prompted(each, now.times) for each in now.prompts.values())


def changes(before: Status, after: Status) -> tuple[Said, ...]:
    """What to report between ``before`` and ``after``, each change once."""
    same = (before.counting, before.counts) == (after.counting, after.counts)
    lines = [] if same or (after.counting and before.counting == after.counting) else [_counts(after)]
    lines += [
        Said("", words) for harvest, words in after.segments.items() if words != before.segments.get(harvest)
    ]
    lines += [Said("", words) for lane, words in after.lanes.items() if words != before.lanes.get(lane)]
    lines += [
        Said("", f"{lane_name(lane)} closed")
        for lane in before.lanes
        if lane and lane not in after.lanes and not after.counting
    ]
    lines += _zones(before, after)
    lines += _prompts(before, after)
    if before.counting:
        lines += _open_mismatches(after) if not after.counting else []
    elif not after.counting:
        lines += _mismatches(before, after)
    lines += [
        _broken(sentence) for sentence in after.limits.values() if sentence not in before.limits.values()
    ]
    lines += [
        Said("", f"limit answered: {said}")
        for key, said in before.limits.items()
        if key not in after.limits and not after.counting
    ]
    if before.signed_off != after.signed_off:
        closed = after.signed_off is not None
        lines.append(Said("‖", f"signed off by {after.signed_off}") if closed else Said("", "reopened"))
    return tuple(lines)


def text(said: Said, now: Status, *, plain: bool) -> str:
    """A line with its time; ``plain`` leaves the mark out, which a screen reader would spell."""
    mark = f"{said.mark} " if said.mark and not plain else ""
    return f"{clock_time_with_seconds(now.at_ms, now.times)} {mark}{said.words}"


def _zones(before: Status, after: Status) -> Iterator[Said]:
    """Zones that were finished, and those that are owed something again."""
    for key, done in after.done.items():
        if done != before.done.get(key, done):
            mark, what = ("●", "finished") if done else ("○", "incomplete again")
            yield Said(mark, f"zone {what}: {after.zones[key]}")


def _prompted(prompt: Prompt, times: Times) -> Said:
    """One prompt in words."""
    label = prompt.label
    since = f"{label}: due since {clock_time(prompt.due_at_ms, times)}"
    remark = f", {prompt.reading_remark}" if prompt.reading_remark else ""
    match prompt.step:
        case "resting":
            return Said("‖", f"{label}: off, record of {day(prompt.silent_from_ms, times.offset_minutes)}")
        case "paused":
            return Said("‖", f"{label}: paused until {clock_time(prompt.paused_until_ms, times)}{remark}")
        case "waiting":
            return Said("◷", f"{label}: next due at {clock_time(prompt.due_at_ms, times)}{remark}")
        case "due":
            return Said("◉", f"{since}{remark}")
        case _:
            return Said("!", f"{since}, {when_due(prompt.late_ms)}{remark}")


def _prompts(before: Status, after: Status) -> Iterator[Said]:
    """Prompts that became due or late, and due ones that are not any more."""
    for care in dict.fromkeys((*before.prompts, *after.prompts)):
        was, now = before.prompts.get(care), after.prompts.get(care)
        if now is not None and _is_due(now):
            if was is None or (was.step, was.due_at_ms) != (now.step, now.due_at_ms):
                yield _prompted(now, after.times)
        elif now is not None and was is not None and _is_due(was):
            yield _prompted(now, after.times)
        elif was is not None and _is_due(was):
            yield Said("", f"done: {was.label}")


def _is_due(now: Prompt) -> bool:
    return STEPS.index(now.step) >= STEPS.index("due")


def _mismatches(before: Status, after: Status) -> Iterator[Said]:
    """Mismatches that came or changed, and those that are open no more."""
    for key, sentence in after.mismatches.items():
        if before.mismatches.get(key) != sentence:
            yield Said("≠", f"mismatch: {sentence}")
    for key, sentence in before.mismatches.items():
        if key not in after.mismatches:
            yield Said("", f"no longer open: {sentence}")
