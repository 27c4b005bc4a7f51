"""Rules about counts of grafts: what cannot have happened to any graft."""

from __future__ import annotations

from orroom.case.events import (
    DishCounted,
    Event,
    GraftsDiscarded,
    GraftsDivided,
    HarvestEnded,
    HarvestStarted,
    SegmentCut,
    SpotChecked,
    Stamp,
)
from orroom.case.plan import MAX_STRIP_MM
from orroom.case.state import CaseState, LotClock, Stock
from orroom.case.terms import DISCARD_REASONS, MAX_COUNT
from orroom.case.traits import Trait, fields_with, held

MAX_HARVEST_AGE_HOURS = 24


def refuse_count_out_of_range(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """A count is a whole number from 1 to 10,000; keys that nobody pressed may be more."""
    for count in held(event, Trait.COUNT):
        if not 1 <= count <= MAX_COUNT:
            return f"{count:,} is not; enter how many there really were."
    if isinstance(event, DishCounted) and not 0 <= event.found <= MAX_COUNT:
        return f"{event.found:,} is not; a counted dish may also hold 0."
    return None


def refuse_drawn_unlike_count(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """The grafts drawn must add up to the count."""
    if not fields_with(type(event), Trait.DRAWN):
        return None
    drawn = [part.count for part in held(event, Trait.DRAWN)]
    while_cutting = isinstance(event, GraftsDiscarded) and event.lot is not None  # these were in no dish
    count = 0 if while_cutting else sum(held(event, Trait.COUNT))
    if sum(drawn) != count or any(each < 1 for each in drawn):
        return f"{sum(drawn):,} drawn for a count of {count:,}."
    return None


def refuse_drawn_from_elsewhere(state: CaseState, event: Event, stamp: Stamp) -> str | None:
    """Grafts go to the bench out of dishes, back into dishes off the bench, and are divided out of dishes."""
    for part in held(event, Trait.DRAWN):
        if part.place not in event.does.takes_from:
            return f"These come from the {part.place}."
    return None


def refuse_hairs_from_nowhere(state: CaseState, event: GraftsDivided, stamp: Stamp) -> str | None:
    """Divided grafts cannot hold more hairs than the graft they came from."""
    if not event.into:
        return "Name the sizes it was divided into, for example 1 and 2."
    if event.into == (event.size,):
        return f"One {event.size} from one {event.size} is no division."
    if not 0 <= event.hairs_lost <= MAX_COUNT:
        return f"{event.hairs_lost:g} hairs lost cannot be."
    if event.size == "M":  # its hairs are only known as a mean
        return None
    hairs = state.plan.size_by_key[event.size].hairs
    pieces = sum(state.plan.size_by_key[size].hairs for size in event.into)
    if pieces > hairs:
        return f"{' + '.join(event.into)} is more than the {hairs:g} hairs of a {event.size}."
    return None


def refuse_unknown_reason(state: CaseState, event: GraftsDiscarded, stamp: Stamp) -> str | None:
    """A discard needs one of the known reasons."""
    if event.reason not in DISCARD_REASONS:
        return f"{event.reason!r} is not one of {', '.join(DISCARD_REASONS)}."
    return None


def refuse_tallied_unlike_record(state: CaseState, event: DishCounted, stamp: Stamp) -> str | None:
    """A hand count is set against what the record holds."""
    held = state.tally.stock.get(Stock(event.size, event.lot, event.place), 0)
    if event.tallied != held:
        return f"It holds {held:,}, not {event.tallied:,}."
    return None


def refuse_more_faults_than_looked_at(state: CaseState, event: SpotChecked, stamp: Stamp) -> str | None:
    """A spot check finds no more faulty grafts than it looked at."""
    if not 0 <= event.faulty <= event.looked_at <= MAX_COUNT:
        return f"{event.faulty} faulty of {event.looked_at} looked at cannot be."
    if event.looked_at < 1:
        return "Look at one graft at least."
    return None


def refuse_follicles_without_sense(state: CaseState, event: SpotChecked, stamp: Stamp) -> str | None:
    """A check of cutting counts every follicle of each graft looked at, and the transected among them."""
    if event.follicles is None and event.transected is None:
        return None
    if event.subject != "cutting":
        return f"This is a check of {event.subject}; leave the follicles out."
    if event.follicles is None or event.transected is None:
        return "Enter both numbers, or neither."
    if not event.looked_at <= event.follicles <= MAX_COUNT:
        return f"{event.follicles:,} follicles in {event.looked_at:,} grafts cannot be; each has at least 1."
    if not 0 <= event.transected <= event.follicles:
        return f"{event.transected:,} transected of {event.follicles:,} cannot be."
    return None


def refuse_second_harvest(state: CaseState, event: HarvestStarted | HarvestEnded, stamp: Stamp) -> str | None:
    """The harvest of this lot has been entered already."""
    clock = state.tally.lots.get(event.lot, LotClock())
    if isinstance(event, HarvestStarted) and clock.started_at_ms is not None:
        return f"Correct that entry, or use another lot than {event.lot}."
    if isinstance(event, HarvestEnded) and clock.ended_at_ms is not None:
        return f"Correct the entry that ended lot {event.lot} first."
    return None


def refuse_harvest_in_future(state: CaseState, event: HarvestStarted, stamp: Stamp) -> str | None:
    """A harvest starts now or within the last 24 hours."""
    hours = (stamp.at_ms - event.started_at_ms) / 3_600_000
    if not 0 <= hours <= MAX_HARVEST_AGE_HOURS:
        return "Enter how many minutes ago the first tissue left the body, from 0 to 1440."
    return None


def refuse_unknown_segment(state: CaseState, event: SegmentCut, stamp: Stamp) -> str | None:
    """A strip has no more segments than the plan says, and each is finished once."""
    most = state.plan.lot_by_key[event.lot].segments
    if event.segment < 1:
        return f"Segments are numbered from 1; {event.segment} is none of lot {event.lot}."
    if most is not None and event.segment > most:
        return f"All {most} segments of lot {event.lot} are finished; revise the plan if there are more."
    if event.segment in state.tally.lots.get(event.lot, LotClock()).segments:
        return f"Segment {event.segment} of lot {event.lot} is finished already."
    return None


def refuse_length_without_sense(state: CaseState, event: SegmentCut, stamp: Stamp) -> str | None:
    """A segment is longer than 0 and no longer than a strip, 400 mm at most."""
    if event.length_mm is None:
        return None
    if not 0 < event.length_mm <= MAX_STRIP_MM:  # also what is no number
        return f"{event.length_mm:g} mm cannot be; measure this one along the strip."
    return None
