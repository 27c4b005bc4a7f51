"""Rules about counts of grafts: what cannot have happened to any graft."""

from orroom.case import events as e
from orroom.case.plan import MAX_STRIP_MM
from orroom.case.state import CaseState, HarvestClock, Stock
from orroom.case.terms import DISCARD_REASONS, MAX_COUNT, PLACES
from orroom.case.traits import Trait, fields_with, held

MAX_HARVEST_AGE_HOURS = 24


def refuse_count_out_of_range(state: CaseState, event: e.Event, stamp: e.Stamp) -> str | None:
    """Enter a whole number from 1 to 10,000.

    Keys that nobody pressed may be more.
    """
    for count in held(event, Trait.COUNT):
        if not 1 <= count <= MAX_COUNT:
            return f"{count:,} is out of range."
    if isinstance(event, e.DishCounted) and not 0 <= event.found <= MAX_COUNT:
        return f"A hand count may also be 0, but not {event.found:,}."
    return None


def refuse_drawn_unlike_count(state: CaseState, event: e.Event, stamp: e.Stamp) -> str | None:
    """The grafts taken must add up to the count."""
    if not fields_with(type(event), Trait.DRAWN):
        return None
    drawn = [part.count for part in held(event, Trait.DRAWN)]
    while_cutting = (
        isinstance(event, e.GraftsDiscarded) and event.harvest is not None
    )  # these were in no dish
    count = 0 if while_cutting else sum(held(event, Trait.COUNT))
    if sum(drawn) != count or any(each < 1 for each in drawn):
        return f"{sum(drawn):,} were taken for a count of {count:,}."
    return None


def refuse_drawn_from_elsewhere(state: CaseState, event: e.Event, stamp: e.Stamp) -> str | None:
    """Grafts go from a dish to the placers, or back; only grafts in a dish are divided."""
    for part in held(event, Trait.DRAWN):
        if part.place not in event.does.takes_from:
            return f"These are {PLACES[part.place]}."
    return None


def refuse_hairs_from_nowhere(state: CaseState, event: e.GraftsDivided, stamp: e.Stamp) -> str | None:
    """The pieces cannot have more hairs than the graft they came from."""
    if not event.into:
        return "Enter the sizes of the pieces, for example 1 and 2."
    if event.into == (event.size,):
        return f"Dividing size {event.size} must make smaller grafts."
    if not 0 <= event.hairs_lost <= MAX_COUNT:
        return f"Enter 0 to {MAX_COUNT:,} hairs lost, not {event.hairs_lost:g}."
    if event.size == "M":  # its hairs are only known as a mean
        return None
    hairs = state.plan.size_by_key[event.size].hairs
    pieces = sum(state.plan.size_by_key[size].hairs for size in event.into)
    if pieces > hairs:
        return f"{' + '.join(event.into)} is more than the {hairs:g} hairs of a {event.size}."
    return None


def refuse_unknown_reason(state: CaseState, event: e.GraftsDiscarded, stamp: e.Stamp) -> str | None:
    """A discard needs a reason from the list."""
    if event.reason not in DISCARD_REASONS:
        return f"{event.reason!r} is not one of {', '.join(DISCARD_REASONS)}."
    return None


def refuse_sites_where_placing_makes_them(state: CaseState, event: e.SitesMade, stamp: e.Stamp) -> str | None:
    """In a stick-and-place zone, placing makes the sites."""
    zone = state.plan.zone_by_key[event.zone]
    return f"Enter what is placed in {zone.label}: its sites count with it." if zone.stick_and_place else None


def refuse_tallied_unlike_record(state: CaseState, event: e.DishCounted, stamp: e.Stamp) -> str | None:
    """A hand count is compared with the tally."""
    held = state.tally.stock.get(Stock(event.size, event.harvest, event.place), 0)
    if event.tallied != held:
        return f"The tally has {held:,}, not {event.tallied:,}; count again."
    return None


def refuse_more_faults_than_looked_at(state: CaseState, event: e.SpotChecked, stamp: e.Stamp) -> str | None:
    """Faulty grafts cannot outnumber those inspected."""
    if not 0 <= event.faulty <= event.looked_at <= MAX_COUNT:
        return f"{event.faulty} faulty of {event.looked_at} inspected is impossible; check both numbers."
    if event.looked_at < 1:
        return "Inspect at least one graft."
    return None


def refuse_faults_unlike_faulty(state: CaseState, event: e.SpotChecked, stamp: e.Stamp) -> str | None:
    """Each faulty graft of a check is entered under one fault."""
    if event.faults is None:
        return None
    count = sum(each.count for each in event.faults)
    if count != event.faulty:
        return f"{event.faulty:,} are faulty, but {count:,} have a fault."
    names = [each.fault for each in event.faults]
    if len({*names}) < len(names):
        return "Enter each fault once, with its number of grafts."
    return None


def refuse_follicles_without_sense(state: CaseState, event: e.SpotChecked, stamp: e.Stamp) -> str | None:
    """A check of cutting counts all follicles of the grafts inspected, and how many are transected."""
    if event.follicles is None and event.transected is None:
        return None
    if event.subject != "cutting":
        return f"This is a check of {event.subject}; leave the follicles out."
    if event.follicles is None or event.transected is None:
        return "Enter both numbers, or neither."
    if not event.looked_at <= event.follicles <= MAX_COUNT:
        return f"Enter {event.looked_at:,} to {MAX_COUNT:,} follicles, not {event.follicles:,}."
    if not 0 <= event.transected <= event.follicles:
        return f"Enter 0 to {event.follicles:,} transected, not {event.transected:,}."
    return None


def refuse_second_harvest(
    state: CaseState, event: e.HarvestStarted | e.HarvestEnded, stamp: e.Stamp
) -> str | None:
    """The harvest of this harvest has been entered already."""
    clock = state.tally.harvests.get(event.harvest, HarvestClock())
    if isinstance(event, e.HarvestStarted) and clock.started_at_ms is not None:
        return f"Cancel that entry, or choose another harvest than {event.harvest}."
    if isinstance(event, e.HarvestEnded) and clock.ended_at_ms is not None:
        return f"Cancel the entry that ended harvest {event.harvest} first."
    return None


def refuse_cutting_what_was_kept(
    state: CaseState, event: e.GraftsCut | e.GraftsDiscarded | e.SegmentCut | e.HarvestEnded, stamp: e.Stamp
) -> str | None:
    """Grafts kept from an earlier case are cut already."""
    if event.harvest not in state.plan.kept:
        return None
    ours = ", ".join(harvest.key for harvest in state.plan.harvests)
    return f"Enter the harvest they were cut from ({ours}), not {event.harvest}."


def refuse_harvest_in_future(state: CaseState, event: e.HarvestStarted, stamp: e.Stamp) -> str | None:
    """A harvest starts now, or started within the last 24 hours."""
    hours = (stamp.at_ms - event.started_at_ms) / 3_600_000
    if not 0 <= hours <= MAX_HARVEST_AGE_HOURS:
        return "Enter how many minutes ago the first tissue left the body, from 0 to 1440."
    return None


def refuse_unknown_segment(state: CaseState, event: e.SegmentCut, stamp: e.Stamp) -> str | None:
    """Each segment is finished once, and the plan says how many there are."""
    most = state.plan.harvest_by_key[event.harvest].segments
    if event.segment < 1:
        return f"Harvest {event.harvest} has no segment {event.segment}; the first is 1."
    if most is not None and event.segment > most:
        return (
            f"All {most} segments of harvest {event.harvest} are finished; revise the plan if there are more."
        )
    if event.segment in state.tally.harvests.get(event.harvest, HarvestClock()).segments:
        return f"Segment {event.segment} of harvest {event.harvest} is already finished."
    return None


def refuse_length_without_sense(state: CaseState, event: e.SegmentCut, stamp: e.Stamp) -> str | None:
    """A segment is more than 0 and at most 400 mm long."""
    if event.length_mm is None:
        return None
    if not 0 < event.length_mm <= MAX_STRIP_MM:  # also what is not a number
        return f"{event.length_mm:g} mm is impossible; measure it along the strip again."
    return None
