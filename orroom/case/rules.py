"""What is refused: only what cannot mean anything. One function a rule, listed in ``RULES``.

A rule looks at an event that is about to be recorded and answers with what would be right, or ``None``.
The first line of its docstring is the sentence that a user reads. The same rules guard imported files.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from orroom.case.events import (
    CareGiven,
    CaseOpened,
    CaseReopened,
    CaseSignedOff,
    DishCounted,
    Drawn,
    EntryCorrected,
    Event,
    GraftsDiscarded,
    GraftsDivided,
    HarvestEnded,
    HarvestStarted,
    PlanRevised,
    PromptPaused,
    SegmentCut,
    SpotChecked,
    Stamp,
    StationJoined,
    StationLeft,
)
from orroom.case.state import CaseState, LotClock
from orroom.case.terms import BENCH_CARE, DISCARD_REASONS, INITIALS, MAX_COUNT, MAX_TEXT, hidden_character

MAX_PAUSE_MINUTES = 240
MAX_HARVEST_AGE_HOURS = 24
TEMPERATURE_C = (-20.0, 60.0)

#: What a correction cannot undo, and what to do instead.
UNCORRECTABLE = {
    "case_opened": "open a new case instead",
    "plan_revised": "revise the plan again instead",
    "station_joined": "it changes no count",
    "station_left": "it changes no count",
    "entry_corrected": "enter what happened again instead",
    "case_signed_off": "reopen the case instead",
    "case_reopened": "sign the case off again instead",
}


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why an entry was not made: the rule's name and sentence, and what would be right."""

    rule: str
    sentence: str
    right: str

    def __str__(self) -> str:
        return f"{self.sentence} {self.right}".strip()


Rule = Callable[[CaseState, Event, Stamp], str | None]


def refuse_before_opening(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """The case has not been opened yet."""
    if state.tally.plan is None and not isinstance(event, CaseOpened):
        return "The first entry must open the case with its plan."
    return None


def refuse_second_opening(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """The case is open already."""
    if state.tally.plan is not None and isinstance(event, CaseOpened):
        return "Revise its plan, or make a new case file."
    return None


def refuse_after_sign_off(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """The case is signed off and takes no more entries."""
    if state.tally.signed_off and not isinstance(event, CaseReopened | StationJoined | StationLeft):
        return "Reopen it with a reason first: orroom reopen CASE --who … --reason …"
    return None


def refuse_reopening_an_open_case(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """The case is not signed off, so it cannot be reopened."""
    if isinstance(event, CaseReopened) and not state.tally.signed_off:
        return "Go on entering."
    return None


def refuse_nobody(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """An entry needs the initials of the person who makes it."""
    people = [stamp.who]
    people += [value for name in ("left", "second") if isinstance(value := getattr(event, name, None), str)]
    for person in people:
        if not re.fullmatch(INITIALS, person) or person.endswith("\n"):
            return f"Give a capital letter, then up to three capitals or digits, not {person!r}."
    return None


def refuse_same_person_twice(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """Two different people sign a case off."""
    if isinstance(event, CaseSignedOff) and event.second == stamp.who:
        return f"{stamp.who} signs already; give a second person's initials."
    return None


def refuse_unknown_zone(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """The plan has no such zone."""
    zone = getattr(event, "zone", None)
    if zone is None or zone in state.plan.zone_by_key:
        return None
    return f"Zone {zone!r} is not one of {', '.join(state.plan.zone_by_key)}."


def refuse_unknown_size(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """The plan has no such size."""
    sizes = [size] if (size := getattr(event, "size", None)) is not None else []
    if isinstance(event, GraftsDivided):
        sizes += event.into
    for each in sizes:
        if each not in state.plan.size_by_key:
            return f"Size {each!r} is not one of {', '.join(state.plan.size_by_key)}."
    return None


def refuse_unknown_lot(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """The plan has no such lot."""
    lots = [lot] if (lot := getattr(event, "lot", None)) is not None else []
    drawn: tuple[Drawn, ...] = getattr(event, "drawn", ())
    for each in (*lots, *(part.lot for part in drawn)):
        if each not in state.plan.lot_by_key:
            known = ", ".join(state.plan.lot_by_key)
            return f"Lot {each!r} is not one of {known}; revise the plan to add a lot."
    return None


def refuse_plan_that_forgets(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """A revised plan keeps every zone, size and lot that the record has used."""
    if not isinstance(event, PlanRevised):
        return None
    tally, plan = state.tally, event.plan
    lots = {stock.lot for stock in tally.stock} | set(tally.lots)
    zones = {zone for zone, _ in tally.placed} | set(tally.sites) | set(tally.reseated)
    for what, used, kept in (
        ("zone", zones, set(plan.zone_by_key)),
        ("size", {stock.size for stock in tally.stock}, set(plan.size_by_key)),
        ("lot", lots, set(plan.lot_by_key)),
    ):
        if forgotten := sorted(used - kept):
            return f"Keep {what} {', '.join(forgotten)} in it, even with nothing planned for it."
    return None


def refuse_count_out_of_range(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """A count is a whole number from 1 to 10,000."""
    count = getattr(event, "count", None)
    if count is not None and not 1 <= count <= MAX_COUNT:
        return f"{count:,} is not; enter how many there really were."
    if isinstance(event, DishCounted) and not 0 <= event.found <= MAX_COUNT:
        return f"{event.found:,} is not; a counted dish may also hold 0."
    return None


def refuse_drawn_unlike_count(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """The grafts drawn must add up to the count."""
    drawn: tuple[Drawn, ...] | None = getattr(event, "drawn", None)
    if drawn is None:
        return None
    total = sum(part.count for part in drawn)
    while_cutting = isinstance(event, GraftsDiscarded) and event.lot is not None  # these were in no dish
    count = 0 if while_cutting else getattr(event, "count", total)
    if total != count or any(part.count < 1 for part in drawn):
        return f"{total:,} drawn for a count of {count:,}."
    return None


def refuse_hairs_from_nowhere(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """Divided grafts cannot hold more hairs than the graft they came from."""
    if not isinstance(event, GraftsDivided):
        return None
    if not event.into:
        return "Name the sizes it was divided into, for example 1 and 2."
    if event.into == (event.size,):
        return f"One {event.size} from one {event.size} is no division."
    if event.size == "M":  # its hairs are only known as a mean
        return None
    hairs = state.plan.size_by_key[event.size].hairs
    pieces = sum(state.plan.size_by_key[size].hairs for size in event.into)
    if pieces > hairs:
        return f"{' + '.join(event.into)} is more than the {hairs:g} hairs of a {event.size}."
    return None


def refuse_unknown_reason(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """A discard needs one of the known reasons."""
    if isinstance(event, GraftsDiscarded) and event.reason not in DISCARD_REASONS:
        return f"{event.reason!r} is not one of {', '.join(DISCARD_REASONS)}."
    return None


def refuse_unknown_care(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """The plan has no such care round."""
    if isinstance(event, CareGiven | PromptPaused) and event.care not in (
        *state.plan.care_by_key,
        BENCH_CARE,
    ):
        known = ", ".join((*state.plan.care_by_key, BENCH_CARE))
        return f"{event.care!r} is not one of {known}."
    if isinstance(event, PromptPaused) and event.care == BENCH_CARE:
        return "The bench limit cannot be paused; place the grafts, wet them or return them to their dish."
    return None


def refuse_temperature_without_sense(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """A temperature round takes a reading in °C, and no other round does."""
    if not isinstance(event, CareGiven):
        return None
    round_ = state.plan.care_by_key.get(event.care)
    wants = round_ is not None and round_.kind == "temperature"
    reading = event.temperature_c
    if wants and (reading is None or not TEMPERATURE_C[0] <= reading <= TEMPERATURE_C[1]):
        return f"Enter the reading between {TEMPERATURE_C[0]:g} and {TEMPERATURE_C[1]:g} °C."
    if not wants and reading is not None:
        return f"{event.care!r} takes no reading; leave it out."
    return None


def refuse_endless_pause(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """A prompt rests for at least a minute and at most four hours."""
    if isinstance(event, PromptPaused):
        minutes = (event.until_ms - stamp.at_ms) / 60_000
        if not 1 <= minutes <= MAX_PAUSE_MINUTES:
            return f"{minutes:g} minutes is not; enter 1 to {MAX_PAUSE_MINUTES}."
    return None


def refuse_harvest_in_future(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """A harvest starts now or within the last 24 hours."""
    if isinstance(event, HarvestStarted):
        hours = (stamp.at_ms - event.started_at_ms) / 3_600_000
        if not 0 <= hours <= MAX_HARVEST_AGE_HOURS:
            return "Enter how many minutes ago the first tissue left the body, from 0 to 1440."
    return None


def refuse_second_harvest(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """The harvest of this lot has been entered already."""
    if not isinstance(event, HarvestStarted | HarvestEnded):
        return None
    clock = state.tally.lots.get(event.lot, LotClock())
    if isinstance(event, HarvestStarted) and clock.started_at_ms is not None:
        return f"Correct that entry, or use another lot than {event.lot}."
    if isinstance(event, HarvestEnded) and clock.ended_at_ms is not None:
        return f"Correct the entry that ended lot {event.lot} first."
    return None


def refuse_unknown_segment(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """A strip has no more segments than the plan says, and each is finished once."""
    if not isinstance(event, SegmentCut):
        return None
    most = state.plan.lot_by_key[event.lot].segments
    if event.segment < 1:
        return f"Segments are numbered from 1; {event.segment} is none of lot {event.lot}."
    if most is not None and event.segment > most:
        return f"All {most} segments of lot {event.lot} are finished; revise the plan if there are more."
    if event.segment in state.tally.lots.get(event.lot, LotClock()).segments:
        return f"Segment {event.segment} of lot {event.lot} is finished already."
    return None


def refuse_more_faults_than_looked_at(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """A spot check finds no more faulty grafts than it looked at."""
    if isinstance(event, SpotChecked) and not 0 <= event.faulty <= event.looked_at <= MAX_COUNT:
        return f"{event.faulty} faulty of {event.looked_at} looked at cannot be."
    if isinstance(event, SpotChecked) and event.looked_at < 1:
        return "Look at one graft at least."
    return None


def refuse_impossible_correction(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """That entry cannot be corrected."""
    if not isinstance(event, EntryCorrected):
        return None
    entry = state.entry(event.entry)
    if entry is None:
        return f"There is no entry {event.entry}; entries run from 1 to {state.seq}."
    if entry.seq in state.corrected_by:
        return f"Entry {entry.seq} was corrected already, by entry {state.corrected_by[entry.seq]}."
    if entry.event.kind in UNCORRECTABLE:
        return (
            f"Entry {entry.seq} is {entry.event.kind.replace('_', ' ')}: {UNCORRECTABLE[entry.event.kind]}."
        )
    return None


def refuse_unreadable_text(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """A text is 1 to 200 visible characters."""
    for name in ("text", "reason", "fault"):
        text = getattr(event, name, None)
        if text is None:
            continue
        if hidden := hidden_character(text):
            return f"This one holds the invisible character {hidden}; retype it without that."
        if not 1 <= len(text.strip()) <= MAX_TEXT or len(text) > MAX_TEXT:
            return f"This one has {len(text.strip()) or 'no'} characters."
    return None


RULES: tuple[Rule, ...] = (
    refuse_nobody,
    refuse_before_opening,
    refuse_second_opening,
    refuse_after_sign_off,
    refuse_reopening_an_open_case,
    refuse_same_person_twice,
    refuse_unknown_zone,
    refuse_unknown_size,
    refuse_unknown_lot,
    refuse_plan_that_forgets,
    refuse_count_out_of_range,
    refuse_drawn_unlike_count,
    refuse_hairs_from_nowhere,
    refuse_unknown_reason,
    refuse_unknown_care,
    refuse_temperature_without_sense,
    refuse_endless_pause,
    refuse_harvest_in_future,
    refuse_second_harvest,
    refuse_unknown_segment,
    refuse_more_faults_than_looked_at,
    refuse_impossible_correction,
    refuse_unreadable_text,
)


def refusal_of(state: CaseState, event: Event, stamp: Stamp) -> Refusal | None:
    """The first rule that refuses ``event`` in ``state``, or ``None``."""
    for rule in RULES:
        right = rule(state, event, stamp)
        if right is not None:
            return Refusal(rule.__name__, (rule.__doc__ or "").splitlines()[0], right)
    return None
