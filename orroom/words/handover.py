"""What the person who comes has to know: where everything is, what is due, what is open, what changed."""

from collections import Counter, defaultdict
from collections.abc import Iterator
from math import inf
from typing import Final

from msgspec import Struct

from orroom.case import events as e
from orroom.case.care import with_placers_since_ms
from orroom.case.closing import NO_COUNT, NO_FATE, open_at_sign_off
from orroom.case.final_count import count_running, person_counts
from orroom.case.limits import limits_in_sight, unanswered_limits
from orroom.case.mismatches import open_mismatches
from orroom.case.state import CaseState, once
from orroom.case.terms import lane_name
from orroom.figures.case_times import case_times
from orroom.figures.counts import by_size, by_zone, total
from orroom.figures.course import course_by_size
from orroom.figures.holding import HarvestAge, counted_to_ms, harvest_ages, oldest_out
from orroom.figures.lanes import lanes_now
from orroom.figures.pace.finish import Outlook
from orroom.figures.prompts import Prompt, prompts, stopped_ms, urgent_first
from orroom.figures.wording import (
    BROKEN,
    clock_time,
    clock_time_with_seconds,
    day,
    grafts,
    how_long,
    marked,
    segments_done,
    several,
    when_due,
)
from orroom.figures.yields import yields
from orroom.words.entries import TAKEN_BACK, care_label, entry_words, size_label
from orroom.words.final_count import hidden_words, running_words
from orroom.words.lanes import lane_said
from orroom.words.status import signed_off_by

#: Between two things in a line: each may have commas of its own.
APART: Final = "; "
#: The changes that are said in a sentence each; all others are added up.
IN_WORDS: Final = (
    e.PlanRevised,
    e.NoteAdded,
    e.EntryCorrected,
    e.PlacingMoved,
    e.DishCounted,
    e.FateGiven,
    e.MismatchExplained,
    e.LimitAnswered,
    e.KeysSetAside,
    e.HarvestStarted,
    e.HarvestEnded,
    e.LaneOpened,
    e.LaneHandedOver,
    e.LaneClosed,
    e.TeamChanged,
)
#: What is added up, in the order in which it is said, and its words for one and for more.
ADDED_UP: Final[dict[type[e.Event], tuple[str, str]]] = {
    e.GraftsPlaced: ("placed", "placed"),
    e.GraftsCut: ("cut", "cut"),
    e.SitesMade: ("site made", "sites made"),
    e.GraftsDiscarded: ("discarded", "discarded"),
    e.GraftsDivided: ("divided", "divided"),
    e.GraftReseated: ("reseated", "reseated"),
    e.SegmentCut: ("segment finished", "segments finished"),
}


class Part(Struct, frozen=True):
    """One line: its mark as on the screens, how it begins, what it is about.

    ``items`` are the most pressing first; those that find no room on a screen are seen ``where``. ``of`` is
    what one is called where a bare number would be taken for grafts.
    """

    name: str
    mark: str
    items: tuple[str, ...]
    begins: str = ""
    where: str = "at the overview"
    of: str = ""

    def left_out(self, count: int) -> str:
        """How many items find no room, and where they are seen."""
        return f"{several(count, f'more {self.of}') if self.of else f'{count} more'} {self.where}"

    @property
    def words(self) -> str:
        """All of it."""
        return self.begins + APART.join(self.items)


def handover(
    state: CaseState, now_ms: int, left: str | None, *, ahead: Outlook | None = None, brief: bool = False
) -> tuple[Part, ...]:
    """What to know of an opened case at ``now_ms``, the most pressing first: never more than ten parts.

    ``left`` is who leaves: without it nothing is said of what changed since their last entry. ``ahead`` has
    when all will be done, if that was worked out. ``brief`` is for narrow screens. While a final count is
    made no part depends on how many grafts are anywhere.
    """
    counting = count_running(state) is not None
    found = [_closed(state), _due(state, now_ms), _limits(state, now_ms, brief=brief)]
    if not counting:
        found += [_mismatches(state), _open(state), _harvests(state, now_ms, brief=brief)]
        found += [_lanes(state, left, brief=brief), _short(state), _zones(state, ahead, brief=brief)]
    found.append(_next(state, now_ms))
    if left is not None:
        found.append(_changes(state, left, blind=counting, brief=brief))
    return tuple(each for each in found if each is not None)


def _closed(state: CaseState) -> Part | None:
    """That a final count hides all counts, or that the case is signed off."""
    if counting := running_words(state, "at the overview"):
        return Part("final count", "‖", (hidden_words(", ".join(counting)),))
    by = signed_off_by(state)
    return None if by is None else Part("sign-off", "‖", (f"signed off by {by}",))


def _due(state: CaseState, now_ms: int) -> Part | None:
    """What is late and what is due."""
    found = [each for each in urgent_first(prompts(state, now_ms)) if each.pressing]
    if not found:
        return None
    mark = "!" if found[0].step == "late" else "◉"
    return Part("due", mark, tuple(map(_due_words, found)), where="due", of="prompt")


def _due_words(prompt: Prompt) -> str:
    late = "due now" if prompt.step == "due" else when_due(prompt.late_ms)
    said = f"{late}: {prompt.label}"
    return said if prompt.reading_remark is None else f"{said} ({prompt.reading_remark})"


def _next(state: CaseState, now_ms: int) -> Part | None:
    """What will be due when, and what is paused until when; of an old record, that no prompt runs."""
    times, found = case_times(state), urgent_first(prompts(state, now_ms))
    if stopped_ms(state, now_ms) is not None:
        date = day(found[0].silent_from_ms, times.offset_minutes)
        return Part("next care", "‖", (f"old record ({date}): prompts are off",))
    items = [
        f"{each.label} at {clock_time(each.due_at_ms, times)}"
        if each.status == "waiting"
        else f"{each.label} paused until {clock_time(each.paused_until_ms, times)}"
        for each in found
        if each.status in {"waiting", "paused"}
    ]
    return Part("next care", "◷", tuple(items), "next: ", "among the prompts") if items else None


def _mismatches(state: CaseState) -> Part | None:
    found = tuple(each.sentence for each in open_mismatches(state))
    return Part("mismatches", "≠", found) if found else None


def _limits(state: CaseState, now_ms: int, *, brief: bool) -> Part | None:
    """The broken limits of which nobody has said what was done, the newest first."""
    found = limits_in_sight(state, counted_to_ms(state, now_ms))
    items = tuple(each.brief if brief else each.sentence for each in reversed(found))
    return Part("limits", BROKEN, items, "limit broken: ") if items else None


def _open(state: CaseState) -> Part | None:
    """What the final count leaves open; that it is missing once nothing is owed any more."""
    if state.tally.signed_off:
        return None
    said = {each.key for each in open_mismatches(state)} | {each.key for each in unanswered_limits(state)}
    if len(person_counts(state)) < 2:
        said.add(NO_FATE)  # everything that waits has none before the final count
    if total(by_size(state)).owed:
        said.add(NO_COUNT)
    found = tuple(each.sentence for each in open_at_sign_off(state) if each.key not in said)
    return Part("open", "?", found, "open: ", "at the final count") if found else None


def _lanes(state: CaseState, left: str | None, *, brief: bool) -> Part | None:
    """Each lane, that of who leaves first, then the longest dry; without lanes, what is with the placers."""
    lanes = sorted(lanes_now(state), key=lambda each: (each.by != left, each.since_ms or inf))
    items = [lane_said(state, each, still=each.by == left, brief=brief) for each in lanes]
    held, since = state.tally.held("bench"), with_placers_since_ms(state.tally)
    if not lanes and held > 0 and since is not None:
        began = (clock_time if brief else clock_time_with_seconds)(since, case_times(state))
        many = f"with placers: {grafts(held)}" if brief else f"with the placers: {several(held, 'graft')}"
        items.append(f"{many} since {began}")
    return Part("lanes", "", tuple(items), where="at placing", of="lane") if items else None


@once
def _short(state: CaseState) -> Part | None:
    """The sizes of which there will be too few, as far as the segments that are finished can say."""
    found = course_by_size(state.plan, yields(state, 80))
    items = tuple(
        f"{size_label(state.plan, size)} {each.words}" for size, each in found.items() if (each.off or 0) < 0
    )
    return Part("too few", "○", items, "cutting: ") if items else None


def _zones(state: CaseState, ahead: Outlook | None, *, brief: bool) -> Part:
    """How much is placed, when all will be; how many zones are done, how far those half done are."""
    zones = by_zone(state)
    done = sum(not each.owed_total for each in zones)
    items = [
        f"{each.zone.label} {grafts(each.placed_total)}/{grafts(each.planned_total)}"
        for each in zones
        if each.owed_total and each.placed_total > 0
    ]
    head = f"zones {done}/{len(zones)}" if brief else f"{done} of {several(len(zones), 'zone')} done"
    whole = total(by_size(state))
    placed, planned = grafts(whole.placed), grafts(whole.planned)
    begins = (
        f"{placed}/{planned} placed; " if brief else f"{placed} of {planned} placed{_finish(state, ahead)}; "
    )
    return Part("zones", "○", (head, *items), begins, where="at placing", of="zone")


def _finish(state: CaseState, ahead: Outlook | None) -> str:
    """When all will be done, or that somebody has to go on with it first."""
    if ahead is None or ahead.finish is None:
        return ""
    stopped = [each.work for each in ahead.works if each.left and each.none_for_ms is not None]
    only = f" if {' and '.join(stopped)} go{'es' if len(stopped) == 1 else ''} on now" if stopped else ""
    return f", expected to finish at {clock_time(ahead.finish.middle_ms, case_times(state))}{only}"


def _harvests(state: CaseState, now_ms: int, *, brief: bool) -> Part:
    """Each harvest of which anything waits, the oldest first: how far it is cut, its dishes, how long out."""
    ages = harvest_ages(state, now_ms)
    oldest, when = oldest_out(ages), " at the last entry" if counted_to_ms(state, now_ms) < now_ms else ""
    items = [
        _harvest(state, each, "oldest out" if each == oldest else "out", when, brief=brief)
        for each in ages
        if each.waiting or each.out_ms is not None or each.segments_done < (each.segments or 0)
    ]
    whole = total(by_size(state))
    waiting, held = marked(whole.waiting, whole.short), marked(whole.with_placers, whole.with_placers_short)
    begins = (
        f"{marked(whole.usable, whole.short)} usable, {waiting} waiting, {held} of them with the placers; "
    )
    if brief:
        begins = f"{waiting} waiting, {held} with placers; "
    nothing = ("no graft or tissue of any harvest waits",)
    return Part("harvests", "", tuple(items) or nothing, begins if items else "", of="harvest")


def _harvest(state: CaseState, age: HarvestAge, out: str, when: str, *, brief: bool) -> str:
    known = f"time out not known: {age.why_unknown}" if age.why_unknown else ""
    done = segments_done(age.segments_done, age.segments) if age.segments or age.segments_done else ""
    parts = (
        known if age.out_ms is None else f"{out} {how_long(age.out_ms)}{when}",
        f"{marked(state.tally.held('dish', harvest=age.harvest), age.short)} in dishes",
        done.removesuffix(" segments done") if brief else done,
    )
    name = age.harvest if brief else f"harvest {age.harvest}"
    return f"{name}: {', '.join(each for each in parts if each)}"


def _changes(state: CaseState, left: str, *, blind: bool, brief: bool) -> Part | None:
    """What others entered since the last entry of who leaves; with a ``blind`` count, nothing of grafts."""
    last = next((each for each in reversed(state.log) if each.stamp.who == left), None)
    if last is None:
        return None
    at = clock_time(last.stamp.at_ms, case_times(state))
    begins = f"since {at}: " if brief else f"since {left}'s last entry at {at}: "
    later = [each for each in state.log[last.seq :] if state.stands(each)]
    items = (
        *_in_words(state, later, blind=blind),
        *([] if blind else _added_up(later)),
        *_care(state, later),
    )
    if not items and blind:
        return None  # whether anything was cut or placed is not said either
    return Part("changes", "", items or ("nothing",), begins, "among the last entries")


def _in_words(state: CaseState, later: list[e.Entry], *, blind: bool) -> Iterator[str]:
    """Each change that has a sentence of its own, in the order of ``IN_WORDS``, with who entered it."""
    for kind in IN_WORDS:
        for entry in later:
            match entry.event:
                case e.EntryCorrected(reason=reason) if reason == TAKEN_BACK:
                    continue
                case e.KeysSetAside(counted=True):
                    continue
                case event if isinstance(event, kind) and not (blind and event.does.moves):
                    yield f"{entry_words(event, state.plan)} ({entry.stamp.who})"


def _added_up(later: list[e.Entry]) -> Iterator[str]:
    """How many were placed, cut and so on, and by whom; how many segments were finished."""
    done: defaultdict[type[e.Event], Counter[str]] = defaultdict(Counter)
    for entry in later:
        match entry.event:
            case (
                e.GraftsPlaced(count=count)
                | e.GraftsCut(count=count)
                | e.SitesMade(count=count)
                | e.GraftsDiscarded(count=count)
                | e.GraftsDivided(count=count)
                | e.GraftReseated(count=count)
            ):
                done[type(entry.event)][e.doer(entry)] += count
            case e.SegmentCut():
                done[e.SegmentCut][e.doer(entry)] += 1
    for kind, words in ADDED_UP.items():
        if by := done.get(kind):
            yield f"{several(by.total(), *words)} by {', '.join(sorted(by))}"


def _care(state: CaseState, later: list[e.Entry]) -> Iterator[str]:
    """Each care round that was given, how often if more than once."""
    given: Counter[str] = Counter()
    for entry in later:
        match entry.event:
            case e.CareGiven(lane=str(lane)):
                given[f"wet {lane_name(lane)}'s grafts"] += 1
            case e.CareGiven(care=care):
                given[care_label(state.plan, care)] += 1
    yield from (label if times == 1 else f"{label} {times}×" for label, times in given.items())
