"""Rules about the final count and closing the case on it."""

from orroom.case.care import in_lane
from orroom.case.closing import open_at_sign_off
from orroom.case.events import CaseSignedOff, FateGiven, FinalCounted, FinalCountGivenUp, Stamp
from orroom.case.final_count import Group, count_running, groups_to_count, moved_since, person_counts
from orroom.case.state import CaseState, Stock
from orroom.case.terms import MAX_COUNT, PLACES, SIGN_OUT, lane_name


def refuse_count_without_sense(state: CaseState, event: FinalCounted, stamp: Stamp) -> str | None:
    """A final count has every group once: each size of each harvest, in dishes and with the placers."""
    groups = [Group(each.size, each.harvest, each.place) for each in event.groups]
    for group in groups:
        if group.size not in state.plan.size_by_key or group.harvest not in state.plan.harvest_by_key:
            return f"The plan has no size {group.size!r} of harvest {group.harvest!r}."
        if groups.count(group) > 1:
            return f"Size {group.size} of harvest {group.harvest}, {PLACES[group.place]}, appears twice."
    for each in event.groups:
        if not 0 <= each.found <= MAX_COUNT:
            return f"Enter 0 to {MAX_COUNT:,} for each group, not {each.found:,}."
    if (moved := moved_since(state, event.since)) is not None:
        return f"Grafts moved during the count (entry {moved.seq}): count again."
    if event.recount_of is not None:
        if event.recount_of not in {each.seq for each in person_counts(state)}:
            return f"Entry {event.recount_of} is not one of the two counts being compared: count every group."
        return None
    if missing := [group for group in groups_to_count(state) if group not in groups]:
        group = missing[0]
        which = f"size {group.size} of harvest {group.harvest}, {PLACES[group.place]}"
        return f"Count {which}, too; an empty group is 0."
    return None


def refuse_giving_up_no_count(state: CaseState, event: FinalCountGivenUp, stamp: Stamp) -> str | None:
    """That count is not under way."""
    running = count_running(state)
    known = () if running is None else running.entries
    if event.begun not in known:
        return f"Counts under way: {', '.join(f'entry {each}' for each in known) or 'none'}."
    return None


def refuse_unknown_sign_out_item(state: CaseState, event: CaseSignedOff, stamp: Stamp) -> str | None:
    """The sign-out has no such item."""
    if unknown := set(event.confirmed or ()) - set(SIGN_OUT):
        return f"{min(unknown)!r} is not one of {', '.join(SIGN_OUT)}."
    return None


def refuse_closing_on_what_is_open(state: CaseState, event: CaseSignedOff, stamp: Stamp) -> str | None:
    """Before sign-off, everything still open needs a reason, and who was informed."""
    answered = {each.key for each in event.left_open or () if each.because and each.informed}
    still = [each.sentence for each in open_at_sign_off(state) if each.key not in answered]
    return (
        f"Open: {'; '.join(still)}. Settle it, or enter why it stays open and who was informed."
        if still
        else None
    )


def refuse_reason_for_nothing_open(state: CaseState, event: CaseSignedOff, stamp: Stamp) -> str | None:
    """Give reasons only for what is open."""
    now = [each.key for each in open_at_sign_off(state)]
    wrong = [each.key for each in event.left_open or () if each.key not in now]
    if wrong:
        return f"{wrong[0]} is not open. Open: {', '.join(now) or 'nothing'}."
    if event.open_because or event.informed:
        return "Sign off without a reason and who was informed; write anything else as a note first."
    return None


def refuse_zone_unlike_fate(state: CaseState, event: FateGiven, stamp: Stamp) -> str | None:
    """Grafts placed beyond the plan are in a zone; grafts with another fate are in none."""
    extra = event.fate == "placed extra"
    if extra and event.into_zone is None:
        return f"Say which: {', '.join(state.plan.zone_by_key)}."
    if not extra and (event.into_zone or event.by):
        return f"Leave out the zone and who placed, or enter the fate {'placed extra'!r}."
    return None


def refuse_fate_of_more_than_is_left(state: CaseState, event: FateGiven, stamp: Stamp) -> str | None:
    """Only grafts that are left can be given a fate."""
    for part in event.drawn:
        left = state.tally.stock.get(Stock(event.size, part.harvest, part.place), 0)
        where = f"of size {event.size}, harvest {part.harvest}, {PLACES[part.place]}"
        if part.place == "bench" and (state.tally.lanes or event.lane is not None):
            left = min(left, in_lane(state.tally, event.lane).get((event.size, part.harvest), 0))
            where += f", in {'no lane' if event.lane is None else lane_name(event.lane)}"
        if part.count > left:
            return f"{max(0, left):,} {where}; enter no more than that."
    return None
