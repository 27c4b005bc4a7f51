"""Rules about who, when and where an entry was made, what it names, and its words."""

import re

from orroom.case.events import CaseOpened, ClockStepped, Event, Stamp, StationJoined
from orroom.case.state import CaseState
from orroom.case.terms import MAX_TEXT, STATION, VERSION, hidden_character, is_initials
from orroom.case.traits import Trait, held

YEAR_2000_MS = 946_684_800_000
YEAR_2100_MS = 4_102_444_800_000
MAX_OFFSET_MINUTES = 14 * 60
#: Two stations that see the same change of the clock see it within this time, and as large within this.
SAME_STEP_MS = 10_000


def refuse_nobody(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """An entry needs the initials of the person who makes it."""
    for person in (stamp.who, *held(event, Trait.PERSON)):
        if not is_initials(person):
            return f"Enter a capital letter, then up to three capitals or digits, not {person!r}."
    return None


def refuse_nameless_station(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """An entry needs the name of its station, and its number there."""
    if not re.fullmatch(STATION, stamp.station) or stamp.tap < 1:
        return f"Use a name like cutting-1 and number its taps from 1, not {stamp.station!r} and {stamp.tap}."
    return None


def refuse_impossible_time(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """The time must be between 2000 and 2100, and at most 14 hours from UTC."""
    if not YEAR_2000_MS <= stamp.at_ms < YEAR_2100_MS:
        return f"Set this machine's clock: {stamp.at_ms} ms since 1970 is out of range."
    if isinstance(event, CaseOpened) and abs(event.utc_offset_minutes) > MAX_OFFSET_MINUTES:
        return f"Set this machine's time zone: {event.utc_offset_minutes} minutes from UTC is too far."
    return None


def refuse_step_known_already(state: CaseState, event: ClockStepped, stamp: Stamp) -> str | None:
    """Another station has already recorded this change of the clock."""
    for step in state.tally.clock_steps[-1:]:
        if stamp.at_ms - step.at_ms < SAME_STEP_MS and abs(step.by_ms - event.by_ms) < SAME_STEP_MS:
            return f"It is entry {step.seq}."
    return None


def refuse_unknown_zone(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """The plan has no such zone."""
    for zone in held(event, Trait.ZONE):
        if zone not in state.plan.zone_by_key:
            return f"Zone {zone!r} is not one of {', '.join(state.plan.zone_by_key)}."
    return None


def refuse_unknown_size(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """The plan has no such size."""
    for size in held(event, Trait.SIZE):
        if size not in state.plan.size_by_key:
            return f"Size {size!r} is not one of {', '.join(state.plan.size_by_key)}."
    return None


def refuse_unknown_harvest(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """The plan has no such harvest."""
    for harvest in held(event, Trait.HARVEST):
        if harvest not in state.plan.harvest_by_key:
            known = ", ".join(state.plan.harvest_by_key)
            return f"Harvest {harvest!r} is not one of {known}; revise the plan to add a harvest."
    return None


def refuse_unreadable_text(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """Text must have 1 to 200 visible characters."""
    for text in held(event, Trait.TEXT):
        if hidden := hidden_character(text):
            return f"This contains the invisible character {hidden}; type it again without it."
        if not text.strip():
            return "This is empty."
        if len(text) > MAX_TEXT:
            return f"This has {len(text)}; shorten it."
    return None


def refuse_version_without_number(state: CaseState, event: StationJoined, stamp: Stamp) -> str | None:
    """A version is numbers with points between them, and may end in a few letters and digits."""
    if event.version is not None and not re.fullmatch(VERSION, event.version):
        return f"Give it as 0.1.0 or 0.2.0rc1, not {event.version!r}."
    return None
